//! What is known of one figure, and how it is read and written.

/// What is known of a figure, whatever it is a figure of.
#[derive(Debug, Clone, Copy)]
pub struct About {
    /// Its JSON path without indices; of a rung's or band's figure with theirs before it.
    pub path: &'static str,
    /// What a maker calls it; of a rung's figure, behind the name of the octave.
    pub name: &'static str,
    /// The unit it is shown in; empty where it has none.
    pub unit: &'static str,
    /// What a value is multiplied by for that unit.
    pub scale: f64,
    /// The most decimals it is shown with in that unit.
    pub decimals: usize,
    /// What it holds, for whoever reads a table.
    pub says: &'static str,
    /// What it tells the ear; empty where another figure's sentence holds for it.
    pub ear: &'static str,
    /// Whether it hangs on the recorder: another microphone or distance makes it another.
    pub of_recorder: bool,
    /// What a recorder may have done that leaves it unknown.
    pub lost_to: &'static [Spoiler],
    /// Whether and how it is compared.
    pub compared: Compared,
    /// Over which crows a take's median goes.
    pub over: Over,
    /// Whether it came after tables had been written: its column stands at their end.
    pub later: bool,
}

/// What a recorder does that leaves figures unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spoiler {
    /// A gain that it turns, or a gate: they make the beginning of a sound and its breath.
    Gain,
    /// Missing moments: they are a rattle.
    Gaps,
    /// A ceiling that cuts or bends what is loud: it holds the level and adds overtones.
    Ceiling,
}

/// Whether and how a figure is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Compared {
    /// It is not a change that a maker asks about.
    No,
    /// As measured.
    Plain,
    /// At one level, since it moves with blowing strength.
    Pitch,
}

/// Over which crows a take's median goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Over {
    /// Over all that sound.
    All,
    /// Over those in the octave in which most of them sound: between two octaves lies a pitch at
    /// which nothing sounded.
    Octave,
    /// It is a figure of the take, made from all crows together.
    Take,
}

/// A figure of `Of`: a whole crow ([`Figures`]), one of its [`Rung`]s or one octave [`Band`].
#[derive(Debug)]
pub struct Figure<Of> {
    /// What is known of it.
    pub about: About,
    /// How it is read and written.
    pub value: Value<Of>,
    /// Half width of its own 95 % interval, in its unit.
    own_ci95: fn(&Of) -> Option<f64>,
}

/// How a figure is read and written.
#[derive(Debug)]
pub enum Value<Of> {
    /// A number.
    Number {
        /// Reads it.
        get: fn(&Of) -> Option<f64>,
        /// Writes it.
        set: fn(&mut Of, Option<f64>),
    },
    /// Yes or no.
    Flag {
        /// Reads it.
        get: fn(&Of) -> Option<bool>,
        /// Writes it.
        set: fn(&mut Of, Option<bool>),
    },
    /// A word.
    Word {
        /// Reads it.
        get: fn(&Of) -> Option<String>,
        /// Writes it; a word that the figure cannot have is absent.
        set: fn(&mut Of, Option<&str>),
    },
}

impl<Of> Figure<Of> {
    pub(super) const fn new(path: &'static str, name: &'static str, value: Value<Of>) -> Self {
        let about = About {
            path,
            name,
            unit: "",
            scale: 1.0,
            decimals: 3,
            says: "",
            ear: "",
            of_recorder: false,
            lost_to: &[],
            compared: Compared::No,
            over: Over::All,
            later: false,
        };
        Self { about, value, own_ci95: |_| None }
    }

    pub(super) const fn about(self, about: About) -> Self {
        let Self { value, own_ci95, .. } = self;
        Self { about, value, own_ci95 }
    }

    /// Shown in `unit` with at most so many decimals.
    pub(super) const fn unit(self, unit: &'static str, decimals: usize) -> Self {
        let about = About { unit, decimals, ..self.about };
        self.about(about)
    }

    /// Shown in per cent.
    pub(super) const fn percent(self) -> Self {
        let about = About { unit: "%", scale: 100.0, decimals: 1, ..self.about };
        self.about(about)
    }

    /// What it holds.
    pub(super) const fn says(self, says: &'static str) -> Self {
        let about = About { says, ..self.about };
        self.about(about)
    }

    /// What it tells the ear.
    pub(super) const fn ear(self, ear: &'static str) -> Self {
        let about = About { ear, ..self.about };
        self.about(about)
    }

    pub(super) const fn of_recorder(self) -> Self {
        let about = About { of_recorder: true, ..self.about };
        self.about(about)
    }

    /// Left out where a recorder did one of these.
    pub(super) const fn lost_to(self, lost_to: &'static [Spoiler]) -> Self {
        let about = About { lost_to, ..self.about };
        self.about(about)
    }

    pub(super) const fn compared(self, compared: Compared) -> Self {
        let about = About { compared, ..self.about };
        self.about(about)
    }

    pub(super) const fn over(self, over: Over) -> Self {
        let about = About { over, ..self.about };
        self.about(about)
    }

    /// A figure whose column stands at the end of tables.
    pub(super) const fn later(self) -> Self {
        let about = About { later: true, ..self.about };
        self.about(about)
    }

    /// The figure's own 95 % interval.
    pub(super) const fn own(self, own_ci95: fn(&Of) -> Option<f64>) -> Self {
        let Self { about, value, .. } = self;
        Self { about, value, own_ci95 }
    }

    /// Its value, where it is a number and known.
    pub fn number(&self, of: &Of) -> Option<f64> {
        match &self.value {
            Value::Number { get, .. } => get(of),
            Value::Flag { .. } | Value::Word { .. } => None,
        }
    }

    /// Leaves it out.
    pub(super) fn leave_out(&self, of: &mut Of) {
        match &self.value {
            Value::Number { set, .. } => set(of, None),
            Value::Flag { set, .. } => set(of, None),
            Value::Word { set, .. } => set(of, None),
        }
    }

    /// Half width of its own 95 % interval, in its unit.
    pub fn own_ci95(&self, of: &Of) -> Option<f64> {
        (self.own_ci95)(of)
    }
}
