//! What may have been meant by a line that is none of the grammar: the same line with its words put
//! right and its numbers kept, else the phrases nearest to it.

use super::tables::phrases;
use super::{kind_of_work, parse};
use crate::reed::WORK;
use crate::words::prompt::help as words;

/// That a line is none of the grammar, with the right forms nearest to it.
pub fn not_understood(said: &str) -> String {
    not_understood_in(said, "", words::SHOWN_BY)
}

/// The same where something else shows what may be said, and `before` stands before every line.
pub fn not_understood_in(said: &str, before: &str, shown_by: &str) -> String {
    let typed = said.strip_prefix(before).unwrap_or(said).trim_start();
    let meant = match mended(typed, &phrases(), |line| matches!(parse(line), Ok(Some(_)))) {
        forms if forms.is_empty() => match &nearest(&phrase(typed), &phrases())[..] {
            // Its number is an example: whoever typed it as it stands would write down what nobody measured.
            [form, ..] if form.contains(|c: char| c.is_ascii_digit()) => words::such_as(form),
            forms => words::meant(forms, shown_by),
        },
        forms => words::meant(&forms, shown_by),
    };
    words::not_understood(typed, &meant)
}

/// That a phrase is not a kind of work, with those nearest to it.
pub fn no_such_work(said: &str) -> String {
    let all: Vec<String> = WORK.iter().map(|row| row.words.to_owned()).collect();
    let is_work = |line: &str| {
        let words: Vec<String> = line.split(' ').map(str::to_owned).collect();
        kind_of_work(&words).is_ok()
    };
    let forms = match mended(said, &all, is_work) {
        forms if forms.is_empty() => nearest(&phrase(said), &all),
        forms => forms,
    };
    words::no_such_work(said, &words::meant(&forms, words::WORK_SHOWN_BY))
}

/// How many forms are offered at most.
const MOST: usize = 4;

fn phrase(said: &str) -> String {
    let head = said.split(':').next().unwrap_or_default();
    head.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>().join(" ")
}

/// The line with each of its words put right by the words of `phrases`, its numbers as they were
/// typed, where that `is_said`: the forms with the fewest slips.
fn mended(said: &str, phrases: &[String], is_said: impl Fn(&str) -> bool) -> Vec<String> {
    /// Longer lines, and more ways to read one, are not tried: nobody is helped by a far guess.
    const MOST_WORDS: usize = 16;
    const MOST_WAYS: usize = 256;
    let (head, words) = match said.split_once(':') {
        // `length: 70` has a number where a maker's own words would stand.
        Some((head, rest)) if rest.trim().starts_with(|c: char| c.is_ascii_digit()) => {
            (format!("{head} {rest}"), None)
        }
        Some((head, rest)) => (head.to_owned(), Some(rest.trim())),
        None => (said.to_owned(), None),
    };
    let tokens = tokens(&head);
    if tokens.is_empty() || tokens.len() > MOST_WORDS {
        return Vec::new();
    }
    let mut known: Vec<&str> = phrases.iter().flat_map(|phrase| phrase.split(' ')).collect();
    known.retain(|word| word.starts_with(|c: char| c.is_alphabetic()));
    known.sort_unstable();
    known.dedup();
    let mut ways: Vec<(usize, Vec<String>)> = vec![(0, Vec::new())];
    for token in &tokens {
        let meant = alike(token, &known);
        ways = ways
            .iter()
            .flat_map(|(slips, line)| {
                meant.iter().map(move |(more, word)| {
                    (slips + more, line.iter().cloned().chain([word.clone()]).collect())
                })
            })
            .collect();
        ways.sort();
        ways.truncate(MOST_WAYS);
    }
    let tail = words.map(|words| format!(": {words}")).unwrap_or_default();
    let lines = ways.into_iter().map(|(slips, line)| (slips, said_again(line, &tail)));
    let said: Vec<(usize, String)> = lines.filter(|(_, line)| is_said(line)).collect();
    let least = said.first().map_or(0, |(slips, _)| *slips);
    let fewest = said.into_iter().filter(|(slips, _)| *slips == least).take(MOST);
    fewest.map(|(_, line)| line).collect()
}

fn said_again(words: Vec<String>, tail: &str) -> String {
    let words: Vec<String> = words.into_iter().filter(|word| !word.is_empty()).collect();
    words.join(" ") + tail
}

/// The words and numbers of a line, also where nothing stands between a word and its number:
/// `clip0.3`, `length=70`.
fn tokens(head: &str) -> Vec<String> {
    let lower = head.to_lowercase().replace('=', " ");
    let mut spaced = String::new();
    let mut before = ' ';
    for letter in lower.chars() {
        if letter.is_ascii_digit() && before.is_alphabetic() {
            spaced.push(' ');
        }
        spaced.push(letter);
        before = letter;
    }
    spaced.split_whitespace().map(str::to_owned).collect()
}

/// What a word may stand for, each with how many slips lie between: itself where it is known or no
/// word; words that it begins; words a slip or two away; nothing, as a word too many.
fn alike(token: &str, known: &[&str]) -> Vec<(usize, String)> {
    if known.contains(&token) || !token.starts_with(char::is_alphabetic) {
        return vec![(0, token.to_owned())];
    }
    let most = match token.chars().count() {
        0..=2 => 0,
        3..=4 => 1,
        _ => 2,
    };
    let slips = |word: &str| match word.starts_with(token) {
        true => Some(1),
        false => Some(strsim::damerau_levenshtein(token, word)).filter(|slips| *slips <= most),
    };
    let near = known.iter().filter_map(|word| Some((slips(word)?, (*word).to_owned())));
    near.chain([(TOO_MANY, String::new())]).collect()
}

/// A word too many is worse than any slip within one.
const TOO_MANY: usize = 3;

/// The phrases nearest to what was said: those it begins, else those a slip or two away, else those that
/// begin with its first word.
fn nearest(said: &str, phrases: &[String]) -> Vec<String> {
    let begun: Vec<String> =
        phrases.iter().filter(|phrase| phrase.starts_with(said)).take(MOST).cloned().collect();
    if !begun.is_empty() {
        return begun;
    }
    let mut near: Vec<(usize, &String)> = phrases
        .iter()
        .map(|phrase| (strsim::damerau_levenshtein(said, phrase), phrase))
        .filter(|(slips, phrase)| *slips <= 2.max(phrase.len() / 4))
        .collect();
    if near.is_empty() {
        let first = said.split(' ').next().unwrap_or_default();
        let begin = phrases.iter().filter(|phrase| phrase.split(' ').next() == Some(first));
        return begin.take(MOST).cloned().collect();
    }
    near.sort();
    let least = near.first().map_or(0, |(slips, _)| *slips);
    let nearest = near.into_iter().filter(|(slips, _)| *slips == least).take(MOST);
    nearest.map(|(_, phrase)| phrase.clone()).collect()
}
