//! What makers hear, and how the ear that they teach agrees with them.

use crate::log::heard::{EarTest, FEWEST_ANSWERS};
use crate::log::{HeardAs, HeardCrow, Named};
use crate::reading::Kind;
use crate::words::format::{counted, decibels, percent};
use crate::words::voices::{kind_word, means};

/// What was heard, in a few words.
pub fn heard(heard: HeardAs) -> &'static str {
    match heard {
        HeardAs::Octaves => kind_word(Kind::Octaves, false),
        // A maker says which of the two it is.
        HeardAs::Low => "the low tone alone",
        HeardAs::High => means(Kind::Single, true),
        HeardAs::Split => means(Kind::Split, false),
        HeardAs::Wild => kind_word(Kind::Unsettled, false),
        HeardAs::Air => kind_word(Kind::Breath, false),
    }
}

/// That it was written down.
pub fn written(label: &str, named: &Named, as_heard: HeardAs) -> String {
    let told = match (named.kind, as_heard.agrees_with(named.kind)) {
        (Kind::Blended, _) => "the program had left it open and learns from it",
        (_, true) => "the program agrees",
        (_, false) => "the program had said otherwise and learns from it",
    };
    let numbers: Vec<String> = named.crows.iter().map(u32::to_string).collect();
    let crows = if numbers.len() == 1 { "crow" } else { "crows" };
    format!(
        "{label}: take {}, {crows} {}: you hear {} (read as {}); {told}.",
        named.take,
        numbers.join(", "),
        heard(as_heard),
        kind_word(named.kind, false)
    )
}

/// The test of an ear, a paragraph each.
///
/// * `crows`: those that the test was made of, in its order.
pub fn test(test: &EarTest, crows: &[HeardCrow]) -> Vec<String> {
    if test.words == 0 {
        return vec![format!(
            "{}: no crow named yet; say what you hear with 'reedcrow reed heard LABEL octaves' (or \
             low, high, split, wild, air)",
            test.profile
        )];
    }
    let mut told = vec![
        format!("{}: {} named by you.", test.profile, counted(test.words, "crow")),
        String::new(),
    ];
    told.extend(test.table.iter().map(|cell| {
        format!(
            "  {} heard as {}, read as {}",
            counted(cell.count, "crow"),
            heard(cell.heard),
            kind_word(cell.said, false)
        )
    }));
    if test.judged == 0 {
        return told;
    }
    if test.judged < FEWEST_ANSWERS {
        told.push(String::new());
        told.push(format!(
            "One tone or octaves: {} of yours so far to hold the ear to. How often it agrees with you is told \
             from {FEWEST_ANSWERS} on.",
            counted(test.judged, "answer")
        ));
        return told;
    }
    let share = |count: usize| percent(count as f64 / test.judged as f64);
    told.push(String::new());
    told.push(format!(
        "One tone or octaves: taught by your other crows, the ear agrees with you on {} of {} ({}); as it \
         began, on {} ({}). Its limit lies where the upper octave stands out by {}; before you said anything, it lay \
         at {}.",
        test.agree,
        test.judged,
        share(test.agree),
        test.agree_first,
        share(test.agree_first),
        decibels(test.limit_now_db),
        decibels(test.limit_first_db),
    ));
    if !test.disagree.is_empty() {
        told.push("To be heard again, those it contradicts most first:".to_owned());
    }
    let again = test.disagree.iter().take(10);
    told.extend(again.filter_map(|found| {
        let crow = crows.get(found.word)?;
        Some(format!(
            "  {} take {} crow {}: you said {}; the chance of octaves would be {}",
            crow.label,
            crow.take,
            crow.said.crow,
            heard(crow.said.heard),
            percent(found.octaves)
        ))
    }));
    told
}

/// What a file of named crows holds, said when it is written.
pub fn exported(count: usize, file: &str) -> String {
    format!(
        "{file}: {}, a line of JSON each: what you heard, what was read and measured. It holds no \
         sound, no reed's label and no name; pass it on only if you wish to.",
        counted(count, "named crow")
    )
}
