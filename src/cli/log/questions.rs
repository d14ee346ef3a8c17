//! What a maker asks of the log.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};
use jiff::tz::TimeZone;

use crate::bench::grammar::kind_of_work;
use crate::cli::files::{Files, Kind};
use crate::cli::measured::Unit;
use crate::cli::question::{Form, Which, facts};
use crate::cli::{expectations, output};
use crate::clock;
use crate::log::questions::{
    Condition, Field, Liked, conditions as ask_conditions, cuts as ask_cuts, groups as ask_groups,
    likes as ask_likes, trust as ask_trust, waiting as ask_waiting,
};
use crate::log::{Card, Log, State};
use crate::report::answers;
use crate::report::plots::{
    PictureFormat, PlotError, condition_picture, cuts_picture, groups_picture, kinds_picture,
    trust_picture,
};
use crate::words::commands::NOTHING_TO_DRAW;
use crate::words::format::LengthUnit;

/// `log waiting`.
#[derive(Debug, clap::Args)]
pub struct Waiting {
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    unit: Unit,
    #[command(flatten)]
    form: Form,
}

impl Waiting {
    /// Runs it.
    pub fn run(self, log: &Log) -> anyhow::Result<ExitCode> {
        let mut query = self.which.query();
        query.state = Some(State::Open);
        let (open, all_read) = facts(log, &query)?;
        let held_to = |card: &Card| expectations::of_card(card).ok().map(|(profile, _)| profile);
        let found = ask_waiting(&open, log.next_moves(held_to), &clock::now()?);
        let unit = self.unit.unit();
        self.form.print(&found, || output::answer(unit, |show| answers::bench(&found, show)))?;
        Ok(all_read)
    }
}

/// `log groups`.
#[derive(Debug, clap::Args)]
pub struct Groups {
    /// By what
    #[arg(long, value_enum, value_name = "FIELD", default_value = "cane")]
    by: Field,
    /// Write a picture of what was given up and how they ended, each with its interval
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Option<PathBuf>,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    form: Form,
}

impl Groups {
    /// Runs it.
    pub fn run(self, log: &Log) -> anyhow::Result<ExitCode> {
        let picture = Picture::at(self.plot.as_deref())?;
        let (facts, all_read) = facts(log, &self.which.query())?;
        let answer = ask_groups(&facts, self.by);
        self.form.print(&answer.groups, || shown(|_| answers::groups(&answer)))?;
        picture.map_or(Ok(()), |to| to.save(|format| groups_picture(&answer, format)))?;
        Ok(all_read)
    }
}

/// `log effects`.
#[derive(Debug, clap::Args)]
pub struct Effects {
    /// Only this kind of work, in the words of the bench, with the single cuts behind it: tip corners
    #[arg(value_name = "WORK")]
    said: Vec<String>,
    /// Parted by a field of the cards
    #[arg(long, value_enum, value_name = "FIELD")]
    by: Option<Field>,
    /// Write a picture: of the cut that is named, the change of pitch against the amount; else what each
    /// kind of cut does
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Option<PathBuf>,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    form: Form,
    /// The single cuts instead of their sums, also as JSON or CSV
    #[arg(long)]
    single: bool,
}

impl Effects {
    /// Runs it.
    pub fn run(self, log: &Log) -> anyhow::Result<ExitCode> {
        let asked = match self.said.as_slice() {
            [] => None,
            words => Some(kind_of_work(words)?),
        };
        let picture = Picture::at(self.plot.as_deref())?;
        let (facts, all_read) = facts(log, &self.which.query())?;
        let answer = ask_cuts(&facts, asked, self.by);
        let listed = self.single || asked.is_some();
        let text = || shown(|show| answers::cuts(&answer, listed, show));
        match self.single {
            true => self.form.print(&answer.cuts, text)?,
            false => self.form.print(&answer.summaries, text)?,
        }
        let zone = TimeZone::system();
        picture.map_or(Ok(()), |to| {
            to.save(|format| match asked {
                Some(cut) => cuts_picture(&answer, cut, &zone, format),
                None => kinds_picture(&answer, format),
            })
        })?;
        Ok(all_read)
    }
}

/// `log trust`.
#[derive(Debug, clap::Args)]
pub struct Trust {
    /// A row for each move: what was said, what came
    #[arg(long)]
    single: bool,
    /// Write a picture of what was said to help beside how often it did
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Option<PathBuf>,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    form: Form,
}

impl Trust {
    /// Runs it.
    pub fn run(self, log: &Log) -> anyhow::Result<ExitCode> {
        let picture = Picture::at(self.plot.as_deref())?;
        let (facts, all_read) = facts(log, &self.which.query())?;
        let mut known: HashMap<Option<String>, f64> = HashMap::new();
        let tolerance = |card: &Card| {
            let of =
                || expectations::of_card(card).map_or(0.0, |(held, _)| held.tolerance.target_cents);
            *known.entry(card.profile.clone()).or_insert_with(of)
        };
        let answer = ask_trust(&facts, tolerance);
        let text = || shown(|_| answers::trust(&answer, self.single));
        match self.single {
            true => self.form.print(&answer.all, text)?,
            false => self.form.print(&answer.moves, text)?,
        }
        picture.map_or(Ok(()), |to| to.save(|format| trust_picture(&answer, format)))?;
        Ok(all_read)
    }
}

/// `log likes`.
#[derive(Debug, clap::Args)]
pub struct Likes {
    /// What counts as good: all grades together, one side of it, or how long the reeds lived
    #[arg(value_enum, default_value = "all", value_name = "SIDE")]
    of: Liked,
    /// Only what this person said of them; everybody's words otherwise
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    form: Form,
}

impl Likes {
    /// Runs it.
    pub fn run(self, log: &Log) -> anyhow::Result<ExitCode> {
        let query = self.which.query();
        let (rated, all_read) = output::whole(log.rated(|reed| query.matches(reed))?);
        let answer = ask_likes(&rated, self.of, self.by.as_deref());
        self.form.print(&answer.figures, || shown(|_| answers::likes(&answer)))?;
        Ok(all_read)
    }
}

/// `log conditions`.
#[derive(Debug, clap::Args)]
pub struct Conditions {
    /// Only this condition
    #[arg(value_enum)]
    condition: Option<Condition>,
    /// Write a picture of pitch against the condition that was named
    #[arg(long, value_name = "OUT.svg|OUT.png", requires = "condition")]
    plot: Option<PathBuf>,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    form: Form,
}

impl Conditions {
    /// Runs it.
    pub fn run(self, log: &Log) -> anyhow::Result<ExitCode> {
        let picture = Picture::at(self.plot.as_deref())?;
        let (facts, all_read) = facts(log, &self.which.query())?;
        let asked = self.condition.map_or(Condition::ALL.to_vec(), |condition| vec![condition]);
        let answer = ask_conditions(&facts, &asked);
        let text = || shown(|_| answers::conditions(&answer));
        self.form.print(&answer.influences, text)?;
        if let Some(to) = picture {
            let Some(found) = answer.influences.first() else {
                bail!(NOTHING_TO_DRAW);
            };
            to.save(|format| condition_picture(found, &TimeZone::system(), format))?;
        }
        Ok(all_read)
    }
}

fn shown(answer: impl FnOnce(answers::Show<'_>) -> answers::Answer) -> String {
    output::answer(LengthUnit::Millimetres, answer)
}

/// A picture to be written.
struct Picture {
    path: PathBuf,
    format: PictureFormat,
}

impl Picture {
    /// Errors: a name or place that cannot be, told before anything is asked.
    fn at(path: Option<&Path>) -> anyhow::Result<Option<Self>> {
        let Some(path) = path else { return Ok(None) };
        let format = PictureFormat::from_path(path)?;
        let path = Files::default().writes(path, Kind::Picture(format))?;
        Ok(Some(Self { path, format }))
    }

    fn save(
        self,
        draw: impl FnOnce(PictureFormat) -> Result<Vec<u8>, PlotError>,
    ) -> anyhow::Result<()> {
        let bytes = draw(self.format).with_context(|| self.path.display().to_string())?;
        output::save(&self.path, &bytes)
    }
}
