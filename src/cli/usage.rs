//! What was typed wrong, in one line.

use std::error::Error;

use clap::error::{ContextKind, ContextValue, ErrorKind};

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
        _ => plainly(error).unwrap_or_else(|| condensed(&error.render().to_string())),
    };
    Some(words::with_help(&what, &command))
}

/// The commonest slips as we say them; `None` of others.
fn plainly(error: &clap::Error) -> Option<String> {
    let context = |kind| strings(error.get(kind));
    let one = |kind| context(kind).into_iter().next();
    let argument = one(ContextKind::InvalidArg);
    match error.kind() {
        ErrorKind::UnknownArgument => {
            let argument = argument?;
            let beside = nearest(&argument, context(ContextKind::SuggestedArg));
            match argument.starts_with('-') {
                true => Some(words::no_option(&argument, &beside)),
                false => Some(words::one_too_many(&argument)),
            }
        }
        ErrorKind::InvalidSubcommand => {
            let word = one(ContextKind::InvalidSubcommand)?;
            let beside = nearest(&word, context(ContextKind::SuggestedSubcommand));
            Some(words::no_command(&word, &beside))
        }
        ErrorKind::MissingRequiredArgument => {
            Some(words::missing(&context(ContextKind::InvalidArg)))
        }
        ErrorKind::ArgumentConflict => {
            let other = one(ContextKind::PriorArg)?;
            Some(match argument? {
                argument if argument == other => words::twice(&argument),
                argument => words::not_both(&argument, &other),
            })
        }
        ErrorKind::InvalidValue => {
            let (argument, choices) = (argument?, context(ContextKind::ValidValue));
            match one(ContextKind::InvalidValue).filter(|value| !value.is_empty()) {
                Some(value) => {
                    let beside = context(ContextKind::SuggestedValue);
                    Some(words::no_choice(&value, &argument, &choices, &beside))
                }
                None => Some(words::wants_value(&argument, &choices)),
            }
        }
        ErrorKind::ValueValidation => {
            let why = plainer(&error.source()?.to_string());
            Some(words::no_value(&one(ContextKind::InvalidValue)?, &argument?, &why))
        }
        _ => None,
    }
}

/// Those of `beside` that are fewest slips away from what was typed, and not too many.
fn nearest(typed: &str, beside: Vec<String>) -> Vec<String> {
    let slips = |word: &String| strsim::damerau_levenshtein(typed, word);
    let most = 2.max(typed.chars().count() / 3);
    let least = beside.iter().map(slips).min().unwrap_or(0).min(most);
    beside.into_iter().filter(|word| slips(word) <= least).collect()
}

fn strings(value: Option<&ContextValue>) -> Vec<String> {
    match value {
        Some(ContextValue::String(text)) => vec![text.clone()],
        Some(ContextValue::Strings(texts)) => texts.clone(),
        _ => Vec::new(),
    }
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
    plainer(&told.join("; ")).trim_end_matches('.').to_owned()
}

/// What the libraries that read numbers say, in plain words.
fn plainer(told: &str) -> String {
    let plain = |told: String, (says, plainly): &(&str, &str)| told.replace(says, plainly);
    words::PLAINER.iter().fold(told.to_owned(), plain)
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
        let mut told = String::new();
        for typed in [
            "reedcrow analyse x.wav --jsn",
            "reedcrow analyse x.wav --qwertz",
            "reedcrow analyze",
            "reedcrow anlyse x.wav",
            "reedcrow qwertz",
            "reedcrow reed",
            "reedcrow reed measure a --state wte",
            "reedcrow reed measure a --state",
            "reedcrow reed conditions a --soaked x",
            "reedcrow reed conditions a --soaked 3 --soaked 4",
            "reedcrow reed account a --draft x --from y",
            "reedcrow reed undo a b",
            "reedcrow batch x -j 600",
            "reedcrow batch x -j y",
            "reedcrow analyse x.wav --length-mm 7cm",
            "reedcrow log groups --by",
            "reedcrow listen --channel zero",
        ] {
            told += &format!("$ {typed}\n{}\n", said(typed).unwrap());
        }
        insta::assert_snapshot!(told, @r"
        $ reedcrow analyse x.wav --jsn
        there is no option '--jsn' here (did you mean --json?); 'reedcrow analyse --help' shows what can be typed
        $ reedcrow analyse x.wav --qwertz
        there is no option '--qwertz' here; 'reedcrow analyse --help' shows what can be typed
        $ reedcrow analyze
        something is missing: <FILE>...; 'reedcrow analyse --help' shows what can be typed
        $ reedcrow anlyse x.wav
        there is no command 'anlyse' here (did you mean analyse?); 'reedcrow --help' shows what can be typed
        $ reedcrow qwertz
        there is no command 'qwertz' here; 'reedcrow --help' shows what can be typed
        $ reedcrow reed
        'reedcrow reed' does nothing alone; say what it is to do; 'reedcrow reed --help' shows what can be typed
        $ reedcrow reed measure a --state wte
        --state <STATE> does not take 'wte': it is wet or dry; 'reedcrow reed measure --help' shows what can be typed
        $ reedcrow reed measure a --state
        something is missing behind --state <STATE>: it is wet or dry; 'reedcrow reed measure --help' shows what can be typed
        $ reedcrow reed conditions a --soaked x
        --soaked <MIN> does not take 'x': that is not a number; write one such as 3.5; 'reedcrow reed conditions --help' shows what can be typed
        $ reedcrow reed conditions a --soaked 3 --soaked 4
        --soaked <MIN> is there twice; give it once; 'reedcrow reed conditions --help' shows what can be typed
        $ reedcrow reed account a --draft x --from y
        --draft <FILE> and --from <FILE> do not go together; give one of them; 'reedcrow reed account --help' shows what can be typed
        $ reedcrow reed undo a b
        'b' is one word too many; 'reedcrow reed undo --help' shows what can be typed
        $ reedcrow batch x -j 600
        --jobs <N>: 600 is outside 1 to 512; 'reedcrow batch --help' shows what can be typed
        $ reedcrow batch x -j y
        --jobs <N> does not take 'y': that is not a whole number; 'reedcrow batch --help' shows what can be typed
        $ reedcrow analyse x.wav --length-mm 7cm
        --length-mm <MM>: lengths are written in millimetres (70.2) or inches (2.76in): for 7cm write 70; 'reedcrow analyse --help' shows what can be typed
        $ reedcrow log groups --by
        something is missing behind --by <FIELD>: it is maker, owner, cane, gouge, shape, staple, profile or thread; 'reedcrow log groups --help' shows what can be typed
        $ reedcrow listen --channel zero
        --channel <N> does not take 'zero': channels are counted from 1; 'reedcrow listen --help' shows what can be typed
        ");
        for typed in ["analyse x.wav --length-mm -70.2", "analyse x.wav --length-mm -70.2mm"] {
            let told = said(&format!("reedcrow {typed}")).unwrap();
            let length = typed.split(' ').next_back().unwrap();
            assert!(told.starts_with(&format!("'{length}'")), "{told}");
        }
        assert_eq!(said("reedcrow batch --help"), None);
        assert_eq!(said("reedcrow --version"), None);
    }
}
