//! What was typed wrong, in one line.

use clap::error::ErrorKind;

use crate::words::usage as words;

/// What is wrong and what to do, in one line; `None` where nothing is wrong and help or a version
/// was asked for.
///
/// * `typed`: the words of the command line after the program's name.
/// * `whole`: all that can be typed.
pub(super) fn line(
    error: &clap::Error,
    typed: impl Iterator<Item = String>,
    whole: clap::Command,
) -> Option<String> {
    let typed: Vec<String> = typed.collect();
    let command = command_of(whole, typed.iter().cloned());
    let below_zero = typed.iter().find(|word| is_below_zero(word));
    let what = match (error.kind(), below_zero) {
        (ErrorKind::DisplayHelp | ErrorKind::DisplayVersion, _) => return None,
        (ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand, _) => words::does_nothing(&command),
        // Else it would be told how to write an argument that begins with a dash.
        (ErrorKind::UnknownArgument, Some(word)) => words::too_small(word),
        _ => condensed(&error.render().to_string()),
    };
    Some(words::with_help(&what, &command))
}

/// Whether a word is a number under 0, with or without a unit.
fn is_below_zero(word: &str) -> bool {
    let number = word.strip_prefix('-').unwrap_or_default();
    number.starts_with(|first: char| first.is_ascii_digit() || matches!(first, '.' | ','))
}

/// The message of a rendered error: its paragraphs before the usage, the lines of each joined.
fn condensed(rendered: &str) -> String {
    let paragraphs = rendered.split("\n\n").map(|paragraph| {
        paragraph.split_whitespace().collect::<Vec<_>>().join(" ").replace("error: ", "")
    });
    let told = paragraphs.take_while(|text| {
        !text.starts_with("Usage:") && !text.starts_with("For more information")
    });
    let told: Vec<String> = told.filter(|text| !text.is_empty()).collect();
    let told = told.join("; ");
    // What the libraries that read numbers say.
    let told =
        words::PLAINER.iter().fold(told, |told, (says, plainly)| told.replace(says, plainly));
    told.trim_end_matches('.').to_owned()
}

/// The command that was meant, with the program's name before it: as far as its words are known.
fn command_of(mut known: clap::Command, typed: impl Iterator<Item = String>) -> String {
    let mut words = known.get_name().to_owned();
    for word in typed {
        let Some(next) = known.find_subcommand(&word) else { break };
        words = format!("{words} {}", next.get_name());
        known = next.clone();
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::args::Cli;
    use clap::{CommandFactory, Parser};

    fn said(typed: &str) -> Option<String> {
        let words = || typed.split(' ').map(str::to_owned);
        let error = Cli::try_parse_from(words()).unwrap_err();
        line(&error, words().skip(1), Cli::command())
    }

    #[test]
    fn a_wrong_word_is_one_line_that_names_it_and_the_help_of_its_command() {
        assert_eq!(
            said("reedcrow analyse x.wav --jsn").unwrap(),
            "unexpected argument '--jsn' found; tip: a similar argument exists: '--json'; \
             'reedcrow analyse --help' shows what can be typed"
        );
        assert_eq!(
            said("reedcrow analyze").unwrap(),
            "the following required arguments were not provided: <FILE>; \
             'reedcrow analyse --help' shows what can be typed"
        );
        assert_eq!(
            said("reedcrow reed").unwrap(),
            "'reedcrow reed' does nothing alone; say what it is to do; \
             'reedcrow reed --help' shows what can be typed"
        );
        for typed in ["analyse x.wav --length-mm -70.2", "analyse x.wav --length-mm -70.2mm"] {
            let told = said(&format!("reedcrow {typed}")).unwrap();
            let length = typed.split(' ').next_back().unwrap();
            assert!(told.starts_with(&format!("'{length}'")), "{told}");
        }
        assert_eq!(said("reedcrow batch --help"), None);
        assert_eq!(said("reedcrow --version"), None);
    }
}
