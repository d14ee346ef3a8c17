//! Cards: entered, changed, closed.

use std::process::ExitCode;

use anyhow::Context;

use super::words;
use crate::cli::log_file::LogFile;
use crate::cli::{expectations, output};
use crate::clock;
use crate::log::{Card, Ending, History, Wetness};
use crate::pitch::A4;
use crate::profile;
use crate::units::Millimetres;
use crate::words::bench::rate_it;
use crate::words::commands as words_of;

/// What may stand on a card.
#[derive(Debug, clap::Args)]
struct Fields {
    /// Whose it is
    #[arg(long, value_name = "NAME", allow_hyphen_values = true, value_parser = words)]
    owner: Option<String>,
    /// Who made it
    #[arg(long, value_name = "NAME", allow_hyphen_values = true, value_parser = words)]
    maker: Option<String>,
    /// Kind of reed: a built-in profile, or a profile file of your own
    #[arg(long, value_name = "NAME|FILE")]
    profile: Option<String>,
    /// Pitch of A4 it is made for, in hertz
    #[arg(long, value_name = "HZ")]
    a4: Option<A4>,
    /// Cane: source, batch
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true, value_parser = words)]
    cane: Option<String>,
    /// Gouge: thickness of the cane at its middle, in mm, or inches: 0.023in
    #[arg(long, value_name = "MM")]
    gouge: Option<Millimetres>,
    /// Whether the gouge was measured wet or dry
    #[arg(long, value_enum, value_name = "STATE")]
    gouge_state: Option<Wetness>,
    /// Shape, or shaper tip
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true, value_parser = words)]
    shape: Option<String>,
    /// Staple: make and model
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true, value_parser = words)]
    staple: Option<String>,
    /// Thread
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true, value_parser = words)]
    thread: Option<String>,
    /// Day it was tied
    #[arg(long, value_name = "YYYY-MM-DD")]
    made_on: Option<String>,
    /// What the player complains of
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true, value_parser = words)]
    complaint: Option<String>,
    /// Day by which it is wanted
    #[arg(long, value_name = "YYYY-MM-DD")]
    due: Option<String>,
}

impl Fields {
    /// Writes what was given over what stands there; an empty text clears a field.
    fn onto(self, card: &mut Card) -> anyhow::Result<()> {
        if let Some(name) = self.profile.as_deref().filter(|name| !name.is_empty()) {
            profile::load(name)?;
        }
        for (given, field) in [
            (self.owner, &mut card.owner),
            (self.maker, &mut card.maker),
            (self.profile, &mut card.profile),
            (self.cane, &mut card.cane),
            (self.shape, &mut card.shape),
            (self.staple, &mut card.staple),
            (self.thread, &mut card.thread),
            (self.made_on, &mut card.made_on),
            (self.complaint, &mut card.complaint),
            (self.due, &mut card.due_on),
        ] {
            if let Some(text) = given {
                let text = text.trim().to_owned();
                *field = (!text.is_empty()).then_some(text);
            }
        }
        card.a4_hz = self.a4.map(A4::hz).or(card.a4_hz);
        card.gouge_mm = self.gouge.map(|gouge| gouge.0).or(card.gouge_mm);
        card.gouge_state = self.gouge_state.or(card.gouge_state);
        Ok(())
    }
}

/// `reed new`.
#[derive(Debug, clap::Args)]
pub struct New {
    /// What you call it: a number, the colour of its thread
    label: String,
    /// Begin with what the card of that reed says of owner, maker, profile, A4, cane, gouge, shape,
    /// staple and thread; without a name, of the reed entered last
    #[arg(long, value_name = "LABEL", num_args = 0..=1, default_missing_value = "")]
    like: Option<String>,
    #[command(flatten)]
    fields: Fields,
}

impl New {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let mut log = log.open()?;
        let mut card = match self.like.as_deref() {
            None => Card::new(self.label),
            Some("") => {
                let last = log.reeds()?.pop().context(words_of::NOTHING_TO_BE_LIKE)?;
                last.card.like(self.label)
            }
            Some(other) => log.reed(other)?.card.like(self.label),
        };
        self.fields.onto(&mut card)?;
        log.add(&card)?;
        output::print_done(&(words_of::entered(&card.label) + "\n"))?;
        query_due(&card);
        Ok(ExitCode::SUCCESS)
    }
}

/// Tells of a day that is over: it was written down all the same.
fn query_due(card: &Card) {
    if let Some(day) = card.due_on.as_deref().filter(|day| clock::is_past(day)) {
        output::tell(&words_of::due_is_past(day));
    }
}

/// `reed edit`.
#[derive(Debug, clap::Args)]
pub struct Edit {
    /// The reed
    label: String,
    /// Another label
    #[arg(long, value_name = "LABEL")]
    rename: Option<String>,
    #[command(flatten)]
    fields: Fields,
}

impl Edit {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let mut log = log.open_existing()?;
        let earlier = log.reed(&self.label)?.card;
        let mut fields = Ok(());
        let reed = log.edit(&self.label, |card| {
            fields = self.fields.onto(card);
            if let Some(label) = self.rename {
                card.label = label;
            }
        });
        fields?;
        let card = reed?.card;
        anyhow::ensure!(card != earlier, words_of::card_says_so(&card.label));
        let otherwise = read_otherwise(&log.history(&card.label)?);
        output::print_done(&words_of::card_changed(&card.label, otherwise))?;
        if card.due_on != earlier.due_on {
            query_due(&card);
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// How many takes of a reed were read as its card no longer asks.
fn read_otherwise(history: &History) -> usize {
    let Ok((profile, a4)) = expectations::of_card(&history.reed.card) else { return 0 };
    let readings = history.takes.iter().filter_map(|take| take.reading.as_ref());
    readings
        .filter(|read| read.reading.a4_hz != a4.hz() || read.reading.profile != profile.name)
        .count()
}

/// `reed close`.
#[derive(Debug, clap::Args)]
pub struct Close {
    /// The reed
    label: String,
    /// How it ended
    #[arg(value_enum, required_unless_present = "reopen")]
    ending: Option<Ending>,
    /// Why
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true, value_parser = words)]
    why: Option<String>,
    /// Open it again
    #[arg(long, conflicts_with_all = ["ending", "why"])]
    reopen: bool,
}

impl Close {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let reed = log.open_existing()?.close(&self.label, self.ending, self.why)?;
        let said = words_of::stands(reed.card.ending);
        let style = output::style();
        let lines = [
            style.wrapped(&format!("{}: ", reed.card.label), &said),
            style.wrapped("  ", &rate_it(&reed.card.label, reed.card.ending)),
        ];
        output::print_done(&style.letters(lines.concat().join("\n") + "\n"))?;
        Ok(ExitCode::SUCCESS)
    }
}
