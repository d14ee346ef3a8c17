//! One reed from its first crow to the last word, by the program's advice followed to the letter.

use crate::maker::{look, measure, reading};
use crate::reed::{Complaint, Draws, Hidden, Sound, World};
use crate::sounded;
use reedcrow::advice::{Advice, Move, Stage, Story, Wanted, Where, advise_on};
use reedcrow::comparison::{Effects, PastCut, Whose};
use reedcrow::profile::Profile;
use reedcrow::reed::{Cut, Measurements, Sizes};

/// After so many rounds a play counts as endless.
pub const MOST_ROUNDS: usize = 40;

/// How a reed fared.
#[derive(Debug, Clone)]
pub struct Played {
    pub complaint: Complaint,
    pub ended: Option<Move>,
    /// Times it was crowed.
    pub rounds: usize,
    /// Looks and measurements that were asked for, each of one thing or of several.
    pub questions: usize,
    pub is_good: bool,
    /// It could be helped, and no longer can.
    pub is_ruined: bool,
    /// It was good, and is no longer.
    pub is_made_worse: bool,
    pub was_past_help: bool,
    pub clips: Vec<Clipped>,
    /// The pitch it came with and the one it left with, in cents.
    pub cents: (f64, f64),
    /// What was said, in order, in the program's words.
    pub way: Vec<String>,
    /// Of each cut: the chance said that it helps, and whether less is wrong after it.
    pub told: Vec<(Cut, f64, bool)>,
    /// Of each reed given up or left: how sure that was, and whether it was right.
    pub closed: Option<(f64, bool)>,
}

/// One clip.
#[derive(Debug, Clone, Copy)]
pub struct Clipped {
    /// What was proposed as a share of what would have brought the pitch to the target.
    ///
    /// `None` where the crow had no pitch to tell it by, as of a clip that is to bring a lost crow back.
    pub of_need: Option<f64>,
    /// Whether the reed ended sharp of what counts as in tune by it.
    pub is_too_much: bool,
    /// Whether the reed was flat at all.
    pub was_flat: bool,
    /// Where three crows were heard after it: whether their pitch lay where it was foretold, and how
    /// far off the middle of what was foretold.
    pub foretold: Option<(bool, f64)>,
}

/// What is heard of three crows: what they are, and their pitch where they have one.
pub struct Heard {
    pub crows: Vec<(Sound, f64)>,
    /// Whether each was slow to speak.
    pub stuffy: Vec<bool>,
    /// Median over the tones, and how many those are.
    pub pitch: Option<f64>,
    pub tones: usize,
}

pub fn blow(hidden: &Hidden, draws: &mut Draws, world: &World) -> Heard {
    let crows: Vec<(Sound, f64)> = (0..3).map(|_| hidden.crow(draws, world)).collect();
    let stuffy = (0..3).map(|_| hidden.is_stuffy(draws)).collect();
    let tones = crows.iter().filter(|crow| !matches!(crow.0, Sound::Air | Sound::Wild));
    let mut cents: Vec<f64> = tones.map(|crow| crow.1).collect();
    cents.sort_by(f64::total_cmp);
    Heard { pitch: cents.get(cents.len() / 2).copied(), tones: cents.len(), crows, stuffy }
}

/// A clip that waits for its crows.
struct Waiting {
    mm: f64,
    before: f64,
    advice: Advice,
}

/// The bench with a reed on it.
pub struct Bench<'a> {
    pub world: &'a World,
    pub profile: Profile,
    /// What was learned of reeds before this one.
    pub effects: Effects,
    /// The clips that were heard after.
    pub clips: Vec<Came>,
    /// Whether crows are sounded and read by the whole program.
    pub is_sounded: bool,
}

/// A clip, and the pitch that came of it.
#[derive(Debug, Clone, Copy)]
pub struct Came {
    pub mm: f64,
    /// The interval told before, in cents from the target.
    pub foretold: (f64, f64),
    pub came: f64,
}

impl<'a> Bench<'a> {
    pub fn new(world: &'a World) -> Self {
        Self {
            world,
            profile: Profile::default(),
            effects: Effects::default(),
            clips: Vec::new(),
            is_sounded: false,
        }
    }

    /// Plays one reed; what its clips did is learned.
    pub fn play(&mut self, complaint: Complaint, name: &str, draws: &mut Draws) -> Played {
        let world = self.world;
        let mut hidden = Hidden::with(complaint, draws, world);
        let was = hidden.clone();
        let whose = Whose { maker: "one".into(), cane: "one".into(), reed: name.into() };
        let mut story = Story { stages: vec![Stage::default()], whose, ..Story::default() };
        // Makers measure a reed's length as it comes.
        let mut sizes = Sizes::default();
        measure(&mut sizes, &[Wanted::Length], &hidden, world.ruler_mm * draws.normal());
        let mut played = Played::new(complaint);
        let mut waiting: Option<Waiting> = None;
        while played.rounds < MOST_ROUNDS && played.ended.is_none() {
            played.rounds += 1;
            let heard = blow(&hidden, draws, world);
            if let Some(waiting) = waiting.take() {
                self.learns(&waiting, &heard, name, &mut played);
            }
            let now = story.stages.len() - 1;
            story.stages[now].takes.push(match self.is_sounded {
                true => sounded::reading(&heard.crows, &heard.stuffy, draws),
                false => reading(&heard.crows, &heard.stuffy),
            });
            let advice = loop {
                story.measured = Measurements::new(sizes).unwrap_or_default();
                let advice = advise_on(&story, &self.profile, &self.effects);
                story.stages[now].told.push((advice.next, advice.r#where.clone()));
                played.way.push(in_words(&advice));
                if std::env::var_os("ADVISER_TRACE").is_some() {
                    println!("{name} {:?}\n  {hidden:.2?}\n  {}", heard.crows, one_line(&advice));
                }
                // What is looked at or measured is written down, and the next move told, without
                // another crow.
                match (advice.next, &advice.r#where) {
                    (Move::Look, Where::Wanted(wanted)) => {
                        let seen = look(wanted, &hidden, draws, world);
                        story.stages[now].looks.push(seen);
                    }
                    (Move::Measure, Where::Wanted(wanted)) => {
                        let error_mm = world.ruler_mm * draws.normal();
                        measure(&mut sizes, wanted, &hidden, error_mm);
                    }
                    _ => break advice,
                }
                played.questions += 1;
                if played.questions > MOST_ROUNDS {
                    break advice;
                }
            };
            match (advice.next, &advice.r#where) {
                (Move::Leave | Move::Stop, _) => {
                    played.closes(&advice, &hidden);
                }
                (next, at) => {
                    let Some(cut) = Cut::at(next, at.place()) else { continue };
                    let before = hidden.clone();
                    hidden.cut(cut, advice.amount_mm, draws, world);
                    played.tells(cut, &advice, &before, (&hidden, heard.pitch.is_some()));
                    story.stages[now].work = Some((cut, advice.amount_mm));
                    story.stages.push(Stage::default());
                    if cut == Cut::Retie {
                        sizes.wound_to_mm = None;
                    }
                    if let (Cut::Clip, Some(mm)) = (cut, advice.amount_mm) {
                        sizes.length_mm = sizes.length_mm.map(|length| length - mm);
                        waiting = heard.pitch.map(|before| Waiting { mm, before, advice });
                    }
                }
            }
        }
        played.ends(&was, &hidden);
        played
    }

    fn learns(&mut self, of: &Waiting, heard: &Heard, name: &str, played: &mut Played) {
        let Some(after) = heard.pitch else { return };
        let past = PastCut {
            maker: "one".into(),
            cane: "one".into(),
            reed: name.into(),
            amount: of.mm,
            cents: after - of.before,
            cents_sd: 6.5,
        };
        self.effects.past.push((Cut::Clip, past));
        let foretold =
            of.advice.expected.iter().find(|one| one.figure == "fundamental.target_cents");
        if let (3, Some(foretold), Some(clip)) = (heard.tones, foretold, played.clips.last_mut()) {
            let (mm, foretold_in) = (of.mm, (foretold.low, foretold.high));
            self.clips.push(Came { mm, foretold: foretold_in, came: after });
            let held = (foretold.low..=foretold.high).contains(&after);
            clip.foretold = Some((held, (after - foretold.value).abs()));
        }
    }
}

/// An advice in the program's words for a cell of a table.
fn in_words(advice: &Advice) -> String {
    let cut = Cut::at(advice.next, advice.r#where.place());
    match (cut, advice.amount_mm) {
        (Some(Cut::Clip), Some(mm)) => format!("clip {mm:.2} mm"),
        (Some(cut), _) => cut.words().to_owned(),
        (None, _) => advice.next.code().to_owned(),
    }
}

/// An advice for following a play with `ADVISER_TRACE=1`.
fn one_line(advice: &Advice) -> String {
    let because: Vec<&str> = advice.because.iter().map(|one| one.says.as_str()).collect();
    format!(
        "{:?} {:?} {:?} helps {:.2} harms {:.2}; {}",
        advice.next,
        advice.r#where,
        advice.amount_mm,
        advice.chance.helps,
        advice.chance.harms,
        because.join("; ")
    )
}

impl Played {
    pub fn new(complaint: Complaint) -> Self {
        Self {
            complaint,
            ended: None,
            rounds: 0,
            questions: 0,
            is_good: false,
            is_ruined: false,
            is_made_worse: false,
            was_past_help: false,
            clips: Vec::new(),
            cents: (0.0, 0.0),
            way: Vec::new(),
            told: Vec::new(),
            closed: None,
        }
    }

    fn tells(
        &mut self,
        cut: Cut,
        advice: &Advice,
        before: &Hidden,
        (after, is_heard): (&Hidden, bool),
    ) {
        // A clip of a flat crow is for its pitch.
        let is_for_pitch = cut == Cut::Clip && before.cents < -10.0;
        let helped = match is_for_pitch {
            true => after.cents.abs() < before.cents.abs(),
            false => after.wrong() < before.wrong() - 0.02,
        };
        self.told.push((cut, advice.chance.helps, helped));
        if let (Cut::Clip, Some(mm)) = (cut, advice.amount_mm) {
            self.clips.push(Clipped {
                of_need: is_heard.then(|| mm * before.cents_per_mm / -before.cents.min(-1.0)),
                is_too_much: after.cents > 15.0,
                was_flat: before.cents < -15.0,
                foretold: None,
            });
        }
    }

    /// It is given up, or left as it is.
    fn closes(&mut self, advice: &Advice, hidden: &Hidden) {
        self.ended = Some(advice.next);
        let is_right = match advice.next {
            Move::Stop => hidden.is_past_help() || !self.complaint.can_be_saved(),
            _ => hidden.is_good(),
        };
        self.closed = Some((advice.chance.helps, is_right));
    }

    pub fn ends(&mut self, was: &Hidden, hidden: &Hidden) {
        self.cents = (was.cents, hidden.cents);
        self.was_past_help = was.is_past_help();
        self.is_good = hidden.is_good();
        self.is_ruined = !self.is_good && hidden.is_past_help() && !self.was_past_help;
        self.is_made_worse = was.is_good() && !self.is_good;
    }
}
