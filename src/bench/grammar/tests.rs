use super::*;
use crate::reed::{Bark, Corners, Leak, TipSides};
use proptest::prelude::*;

fn parsed(line: &str) -> Entry {
    parse(line).unwrap().unwrap()
}

#[test]
fn a_rating_is_grades_behind_their_sides_a_life_and_who_says_so() {
    let Ok(Some(Entry::Rate(rating, by))) =
        parse("Rate pitch Good low 2 lived 12,5 h by Mirek of Linden Lane")
    else {
        panic!("no rating")
    };
    let (good, weak) = (Some(Grade::Good), Some(Grade::Weak));
    let told = Rating { pitch: good, low: weak, lived_hours: Some(12.5), ..Rating::default() };
    assert_eq!(rating, told);
    assert_eq!(by.as_deref(), Some("Mirek of Linden Lane"));
    for bad in
        ["rate", "rate pitch", "rate pitch 6", "rate good", "rate by Mirek", "rate tone good by"]
    {
        assert!(matches!(parse(bad), Err(Refusal::Incomplete(_))), "{bad}");
    }
}

/// What lies before the last cut is not put right at the bench.
#[test]
fn where_something_is_to_be_corrected_the_command_for_it_is_named() {
    let refused = parse("Correct after step 0 length 70.6").unwrap_err().to_string();
    insta::assert_snapshot!(refused, @"what was wrong before the last cut is put right with the command 'reedcrow reed correct', whose --help shows how; nothing was written down");
}

#[test]
fn every_phrase_typed_as_it_is_printed_gives_just_itself() {
    for row in cuts() {
        let (said, amount) = match row.cut {
            Cut::Clip => ("clip 0.3".to_owned(), Some(0.3)),
            _ => (row.words.to_owned(), None),
        };
        let step = Step::new(row.cut, amount);
        assert_eq!(parsed(&said), Entry::Step(step.clone()), "{said}");
        assert!(step.to_string().starts_with(row.words), "printed as it is typed");
    }
    for look in &LOOKS {
        assert_eq!(parsed(&look.words()), Entry::Look(look.seen));
    }
    for size in &SIZES {
        let mut sizes = Sizes::default();
        *(size.field)(&mut sizes) = Some(66.0);
        assert_eq!(parsed(&format!("{} 66", size.word())), Entry::Measure(sizes));
    }
    for (whole, short, entry) in &ALONE {
        assert_eq!(parsed(whole), *entry);
        if !short.is_empty() {
            assert_eq!(parsed(short), *entry);
        }
    }
    for phrase in phrases() {
        assert!(parse(&phrase).is_ok(), "{phrase}");
    }
}

/// Everything that may follow from a phrase but for its numbers.
fn without_numbers(entry: &Entry) -> String {
    match entry {
        Entry::Measure(sizes) => {
            let named = SIZES.iter().filter(|size| (size.field)(&mut sizes.clone()).is_some());
            named.map(|size| size.word()).collect()
        }
        Entry::Step(step) if step.cut == Some(Cut::Clip) => "clip".into(),
        other => format!("{other:?}"),
    }
}

/// Every line in which one letter of `phrase` is wrong: another, missing, one too many, or two that
/// have changed places. Numbers stay: another number is another amount.
fn slips(phrase: &str) -> Vec<String> {
    let letters: Vec<char> = phrase.chars().collect();
    let words = phrase.find(|c: char| c.is_ascii_digit()).unwrap_or(letters.len());
    let with = |change: &dyn Fn(&mut Vec<char>)| {
        let mut wrong = letters.clone();
        change(&mut wrong);
        wrong.into_iter().collect::<String>()
    };
    let mut found = Vec::new();
    for at in 0..words {
        found.push(with(&|wrong| {
            wrong.remove(at);
        }));
        if at + 1 < words {
            found.push(with(&|wrong| wrong.swap(at, at + 1)));
        }
        for letter in 'a'..='z' {
            found.push(with(&|wrong| wrong[at] = letter));
            found.push(with(&|wrong| wrong.insert(at, letter)));
        }
    }
    found
}

/// Whether a line says what it is taken for in so many words: a phrase or short form of the tables,
/// looks or lengths one after the other, or free words behind the word that wants them.
fn is_said_in_full(line: &str) -> bool {
    let said = line.split_whitespace().collect::<Vec<_>>().join(" ");
    let first = said.split(' ').next().unwrap_or_default();
    let is_cut = || cuts().any(|row| [row.words, row.code, row.letters].contains(&&*said));
    let is_alone = || ALONE.iter().any(|(_, short, _)| *short == said && !short.is_empty());
    let is_field = CardField::ALL.into_iter().any(|field| field.code() == first);
    let is_free =
        is_field || ["n", "note", "reed", "new", "like", "practice", "listen"].contains(&first);
    let are_looks = || {
        let mut rest = said.clone();
        while let Some(look) = LOOKS.iter().find(|look| rest.starts_with(&look.words())) {
            rest = rest[look.words().len()..].trim_start().to_owned();
        }
        rest.is_empty()
    };
    let has_number = said.contains(|c: char| c.is_ascii_digit());
    phrases().contains(&said) || is_cut() || is_alone() || is_free || are_looks() || has_number
}

#[test]
fn one_letter_wrong_gives_the_phrase_itself_or_is_refused() {
    for phrase in phrases() {
        let meant = without_numbers(&parsed(&phrase));
        for wrong in slips(&phrase) {
            match parse(&wrong) {
                Ok(Some(entry)) => {
                    assert_eq!(without_numbers(&entry), meant, "{wrong} for {phrase}")
                }
                Ok(None) => assert!(wrong.trim().is_empty()),
                Err(_) => {}
            }
        }
    }
}

#[test]
fn what_begins_a_phrase_is_a_phrase_or_short_form_itself_or_a_question() {
    for phrase in phrases() {
        for length in 1..phrase.len() {
            let begun = &phrase[..length];
            if let Ok(Some(entry)) = parse(begun) {
                assert!(is_said_in_full(begun), "{begun} gave {entry:?}");
            }
        }
    }
}

/// Every word that stands anywhere in the grammar.
fn words() -> Vec<String> {
    let mut words: Vec<String> =
        phrases().iter().flat_map(|phrase| phrase.split(' ')).map(str::to_owned).collect();
    words.extend(cuts().flat_map(|row| [row.code, row.letters]).map(str::to_owned));
    words.extend(ALONE.iter().map(|(_, short, _)| (*short).to_owned()));
    words.retain(|word| !word.is_empty() && !word.starts_with(|c: char| c.is_ascii_digit()));
    words.sort();
    words.dedup();
    words
}

#[test]
fn every_pair_of_words_gives_what_it_says_or_is_refused() {
    let words = words();
    for first in &words {
        for second in &words {
            let line = format!("{first} {second}");
            if let Ok(entry) = parse(&line) {
                assert!(is_said_in_full(&line), "{line} gave {entry:?}");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2048))]

    #[test]
    fn a_pair_of_words_with_one_letter_wrong_gives_what_it_says_or_is_refused(
        first in 0_usize..1000,
        second in 0_usize..1000,
        slip in 0_usize..10_000,
    ) {
        let words = words();
        let line = format!("{} {}", words[first % words.len()], words[second % words.len()]);
        let slips = slips(&line);
        let wrong = &slips[slip % slips.len()];
        if let Ok(Some(entry)) = parse(wrong) {
            prop_assert!(is_said_in_full(wrong), "{} gave {:?}", wrong, entry);
        }
    }

    #[test]
    fn no_line_panics(line in "\\PC{0,40}") {
        let _ = parse(&line);
    }
}

#[test]
fn a_cut_of_two_words_is_read_whole_and_a_look_is_no_cut() {
    assert_eq!(parsed("tip corners"), Entry::Step(Step::new(Cut::TipCorners, None)));
    assert_eq!(parsed("TIP  Step"), Entry::Step(Step::new(Cut::TipStep, None)));
    let Entry::Look(seen) = parsed("corners chipped") else { panic!() };
    assert_eq!(seen.corners, Some(Corners::Chipped));
    for refused in [
        "tip cornes",
        "corners",
        "tip",
        "heart thinner",
        "clip",
        "clip 0.3 0.4",
        "t left",
        "length",
        "m",
    ] {
        assert!(parse(refused).is_err(), "{refused}");
    }
}

#[test]
fn words_of_the_makers_own_follow_a_colon() {
    let Entry::Step(step) = parsed("tip sides: Left more") else { panic!() };
    assert_eq!((step.cut, step.note.as_deref()), (Some(Cut::TipSides), Some("Left more")));
    let Entry::Step(step) = parsed("c 0,3: end was torn") else { panic!() };
    assert_eq!((step.amount_mm, step.note.as_deref()), (Some(0.3), Some("end was torn")));
    assert_eq!(parsed("note Dull, below"), Entry::Step(Step::note("Dull, below")));
    assert!(parse("leak low: by the winding").is_err());
}

#[test]
fn a_card_takes_the_makers_words_as_they_are() {
    for (line, field, words) in [
        ("owner Mirek of Linden Lane", CardField::Owner, "Mirek of Linden Lane"),
        ("Cane batch B", CardField::Cane, "batch B"),
        ("complaint flat: low comes late", CardField::Complaint, "flat: low comes late"),
        ("due 2026-03-17", CardField::Due, "2026-03-17"),
    ] {
        assert_eq!(parsed(line), Entry::Card(field, words.to_owned()));
    }
    assert!(matches!(parse("owner"), Err(Refusal::Incomplete(_))));
}

#[test]
fn units_stand_behind_numbers_with_or_without_a_space() {
    let mm = |line: &str| match parsed(line) {
        Entry::Measure(sizes) => (sizes.length_mm, sizes.tip_start_mm),
        other => panic!("{other:?}"),
    };
    assert_eq!(mm("length 70.2 mm tip 66mm"), (Some(70.2), Some(66.0)));
    assert_eq!(mm("length 2 in"), (Some(50.8), None));
    let Entry::Step(step) = parsed("clip 0.3 mm: torn") else { panic!() };
    assert_eq!((step.amount_mm, step.note.as_deref()), (Some(0.3), Some("torn")));
    assert!(parse("length 7 cm").is_err());
}

#[test]
fn several_measurements_may_stand_in_one_line() {
    let sizes = Sizes { tip_start_mm: Some(66.0), heart_bottom_mm: Some(61.2), ..Sizes::default() };
    assert_eq!(parsed("tip 66 heart 61,2"), Entry::Measure(sizes));
    let length = Sizes { length_mm: Some(70.1), ..Sizes::default() };
    assert_eq!(parsed("m 70.1"), Entry::Measure(length));
    assert!(parse("tip 66 tip 65").is_err() && parse("tip 66 heart").is_err());
}

#[test]
fn a_refusal_names_the_nearest_right_form() {
    let said = |line: &str| parse(line).unwrap_err().to_string();
    for (line, meant) in [
        ("tip corner", &["tip corners"][..]),
        ("hart thin", &["heart thin"]),
        ("tip s", &["tip sides", "tip step"]),
    ] {
        assert!(meant.iter().all(|form| said(line).contains(form)), "{}", said(line));
    }
    for (line, meant) in [
        ("lenght 70", "'length 70'"),
        ("len 70", "'length 70'"),
        ("length: 70", "'length 70'"),
        ("length=70.5", "'length 70.5'"),
        ("clip0.3", "'clip 0.3'"),
        ("clp 0.25: torn", "'clip 0.25: torn'"),
        ("lenght 70 tpi 66.5", "'length 70 tip 66.5'"),
        ("leek lwo brak kept", "'leak low bark kept'"),
        ("corner chiped", "'corners chipped'"),
    ] {
        assert!(said(line).contains(meant), "{}", said(line));
    }
    assert!(said("qwertz").contains(crate::words::prompt::help::SHOWN_BY));
}

#[test]
fn several_looks_may_stand_in_one_line_each_part_once() {
    let Entry::Look(seen) = parsed("leak none bark kept tip sides thick") else { panic!() };
    let shown = (seen.leak, seen.bark, seen.tip_sides, seen.heart);
    assert_eq!(shown, (Some(Leak::None), Some(Bark::Kept), Some(TipSides::Thick), None));
    assert!(parse("leak none leak low").is_err() && parse("leak none bark").is_err());
}

#[test]
fn a_reed_is_closed_with_words_of_why() {
    let why = Some("to be played in".to_owned());
    assert_eq!(parsed("close sent back: to be played in"), Entry::Close(Ending::SentBack, why));
    assert_eq!(parsed("close done"), Entry::Close(Ending::Done, None));
    assert!(parse("close").is_err() && parse("close sent").is_err());
}
