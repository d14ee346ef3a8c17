//! The account for the owner.

use std::collections::BTreeSet;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::bail;
use jiff::tz::TimeZone;

use crate::cli::log_file::LogFile;
use crate::cli::measured::Unit;
use crate::cli::{expectations, output};
use crate::clock;
use crate::files;
use crate::log::{History, Log, LogError, Refused};
use crate::report::account::{
    Letter, Manner, Paper, SENDER, Sender, Told, html, letter, pdf, text,
};
use crate::words::account::Words;
use crate::words::commands as words_of;
use crate::words::files::not_written;
use crate::words::system::refusal;

/// `reed account`.
#[derive(Debug, clap::Args)]
pub struct Account {
    /// The reed; several of one owner make one account
    #[arg(required = true, value_name = "LABEL")]
    labels: Vec<String>,
    /// Write it as a page that opens in any browser
    #[arg(long, value_name = "FILE.html", value_parser = page_path)]
    html: Option<PathBuf>,
    /// Write it as PDF
    #[arg(long, value_name = "FILE.pdf", value_parser = pdf_path)]
    pdf: Option<PathBuf>,
    /// Write it as text
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// On what it is printed
    #[arg(long, value_enum, default_value = "a4")]
    paper: Paper,
    /// Write its sentences to a file, to be changed before it goes out
    #[arg(long, value_name = "FILE", conflicts_with = "from")]
    draft: Option<PathBuf>,
    /// Take the sentences from a draft that was changed
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// In another language: a translation of the program's file src/words/account.en.toml
    #[arg(long, value_name = "FILE")]
    language: Option<PathBuf>,
    /// With your notes on the work, which are left out otherwise
    #[arg(long)]
    with_notes: bool,
    #[command(flatten)]
    unit: Unit,
}

fn page_path(text: &str) -> Result<PathBuf, String> {
    ending_in(text, &["html", "htm"])
}

fn pdf_path(text: &str) -> Result<PathBuf, String> {
    ending_in(text, &["pdf"])
}

/// A path whose name ends in one of `endings`, so that whoever gets the file can open it.
fn ending_in(text: &str, endings: &[&str]) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    match ending.is_some_and(|ending| endings.contains(&ending.as_str())) {
        true => Ok(path),
        false => {
            let better = path.with_extension(endings.first().unwrap_or(&""));
            Err(words_of::other_ending(&better))
        }
    }
}

impl Account {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        for path in [&self.html, &self.pdf, &self.out, &self.draft].into_iter().flatten() {
            output::may_be_named(path)?;
            if path.symlink_metadata().is_ok() {
                return Err(LogError::from(Refused::FileExists(path)).into());
            }
        }
        let words = self.words()?;
        let log = log.open_existing()?;
        let told =
            self.labels.iter().map(|label| told(&log, label)).collect::<Result<Vec<_>, _>>()?;
        let owners: BTreeSet<&str> =
            told.iter().filter_map(|told| told.history.reed.card.owner.as_deref()).collect();
        if owners.len() > 1 {
            bail!(words_of::several_owners(&owners.into_iter().collect::<Vec<_>>()));
        }
        let sender: Option<Sender> = log.setting(SENDER)?;
        let zone = TimeZone::system();
        let today = clock::today()?;
        let mut letter = letter(
            &told,
            Manner {
                words: &words,
                sender: sender.as_ref(),
                today: &today,
                unit: self.unit.unit(),
                zone: &zone,
                with_notes: self.with_notes,
            },
        );
        if let Some(path) = &self.from {
            let draft = read(path)?;
            letter
                .edited(&draft)
                .map_err(|wrong| anyhow::anyhow!("{}: {wrong}", path.display()))?;
        }
        self.written(&letter)?;
        if sender.is_none() && (self.html.is_some() || self.pdf.is_some()) {
            output::tell(words_of::NO_SENDER);
        }
        Ok(ExitCode::SUCCESS)
    }

    fn words(&self) -> anyhow::Result<Words> {
        match &self.language {
            None => Ok(Words::english()),
            Some(path) => Words::from_toml(&read(path)?)
                .map_err(|wrong| anyhow::anyhow!("{}: {wrong}", path.display())),
        }
    }

    fn written(&self, letter: &Letter) -> anyhow::Result<()> {
        let mut any = false;
        let mut put = |path: &Option<PathBuf>, bytes: &dyn Fn() -> anyhow::Result<Vec<u8>>| {
            let Some(path) = path else { return anyhow::Ok(()) };
            any = true;
            output::save_new(path, &bytes()?)
                .map_err(|error| anyhow::anyhow!("{}: {}", path.display(), not_written(&error)))?;
            output::print(&(words_of::account_written(path) + "\n"))?;
            Ok(())
        };
        put(&self.html, &|| Ok(html(letter, self.paper).into_bytes()))?;
        put(&self.pdf, &|| {
            let made = pdf(letter, self.paper)?;
            if !made.missing.is_empty() {
                output::tell(&words_of::letters_missing(&made.missing));
            }
            Ok(made.bytes)
        })?;
        put(&self.draft, &|| Ok(letter.draft().into_bytes()))?;
        put(&self.out, &|| Ok(text(letter, None).into_bytes()))?;
        if !any {
            // What goes on to a file or a mail is broken there.
            let style = output::style();
            let style = std::io::stdout().is_terminal().then_some(&style);
            output::print(&output::style().letters(text(letter, style)))?;
        }
        Ok(())
    }
}

/// The longest draft or language that is read.
const LONGEST_TEXT: u64 = 1 << 24;

fn read(path: &Path) -> anyhow::Result<String> {
    files::read_text(path, LONGEST_TEXT)
        .map_err(|error| anyhow::anyhow!("{}: {}", path.display(), refusal(&error)))
}

fn told(log: &Log, label: &str) -> anyhow::Result<Told> {
    let history: History = log.history(label)?;
    let (profile, _) = expectations::of_card(&history.reed.card)?;
    Ok(Told::of(history, profile))
}
