//! Words of the log's questions and answers.

use crate::log::questions::{
    Condition, FEWEST_MOVES, FEWEST_RATED, Field, Like, Liked, LikesAnswer, Told, Waiting,
};
use crate::log::{Contradicted, Contradiction};
use crate::reading::catalogue;
use crate::words::advice;
use crate::words::format::{LengthUnit, counted};
use crate::words::stage::stage_name;

/// What a reed waits for, in a few words.
pub fn waits(waits: &Waiting, amount: impl Fn(f64) -> String) -> String {
    match waits {
        Waiting::Crow => "to be crowed".into(),
        Waiting::Soak => "to be soaked and crowed wet".into(),
        Waiting::Rest { until } => format!("to rest until {until}"),
        Waiting::Measure => "its length to be measured before a clip".into(),
        Waiting::Unknown => "to be looked at: its profile or readings cannot be read".into(),
        Waiting::Move { advice } => {
            let mm = advice.told_mm().map(|mm| format!(", {}", amount(mm))).unwrap_or_default();
            let place = advice::place(advice.next, &advice.r#where);
            let place = place.map(|place| format!(": {place}")).unwrap_or_default();
            format!("{}{mm}{place}", advice::short(advice.next))
        }
    }
}

/// How long ago, in days by the calendar.
pub fn days_ago(days: i32) -> String {
    match days {
        ..=0 => "today".into(),
        1 => "yesterday".into(),
        days => format!("{days} days ago"),
    }
}

/// Stands for the value of cards that do not say.
pub const NOT_SAID: &str = "not said";

/// A field of the card.
pub fn field(field: Field) -> &'static str {
    match field {
        Field::Maker => "maker",
        Field::Owner => "owner",
        Field::Cane => "cane",
        Field::Gouge => "gouge",
        Field::Shape => "shape",
        Field::Staple => "staple",
        Field::Profile => "profile",
        Field::Thread => "thread",
    }
}

/// What stands beside a figure that was compared with all other reeds.
pub fn against_others(told: Told) -> &'static str {
    match told {
        Told::More => "more than the others",
        Told::Less => "less than the others",
        Told::CannotTell => "cannot tell",
    }
}

/// What the groups' table means, and when not to believe it.
pub const GROUPS: &str = "Given up: of the closed reeds, with the range in which the true share lies in \
    95 of 100 such seasons. Octaves and pitch: the last crows of the finished reeds. The last column \
    compares with all other reeds: 'cannot tell' means that there are too few, or that the difference \
    may be chance. Reeds were not dealt out by lot: a cane that only one maker uses stands for the \
    maker as well. The median is shown, with ± for the mean where there are three or more.";

/// What stands beside a group that differs from all others for sure: more, less.
pub const GIVEN_UP_DIFFERS: (&str, &str) = ("given up: more", "given up: less");
/// The same of the cuts it took.
pub const CUTS_DIFFER: (&str, &str) = ("cuts: more", "cuts: less");
/// The same of the pitch of finished reeds.
pub const PITCH_DIFFERS: (&str, &str) = ("pitch: higher", "pitch: lower");

/// No reed fits what was asked for.
pub const NO_REEDS: &str = "no reeds";
/// Behind the last crows of a reed that was cut after them.
pub const CUT_SINCE: &str = "*";
/// What that means.
pub const CUT_SINCE_MEANS: &str = "* cut since those crows.";
/// All are closed.
pub const BENCH_EMPTY: &str = "nothing is on the bench: every reed is closed";

/// A reed whose owner waits.
pub fn overdue(due: &str) -> String {
    format!("{due} (overdue)")
}

/// What became of the octaves by a cut; empty where one side does not tell.
pub fn octaves_turned(before: Option<bool>, after: Option<bool>) -> &'static str {
    match (before, after) {
        (Some(false), Some(true)) => "came",
        (Some(true), Some(false)) => "lost",
        (Some(true), Some(true)) => "kept",
        (Some(false), Some(false)) => "still away",
        _ => "",
    }
}

/// What the table of cuts means.
pub const CUTS: &str = "Pitch is the middle change over the cuts that were crowed before and after; \
    its ± is for their mean, and the spread is how far single cuts differ. Octaves came: of the \
    cuts before which they were not in order. Octaves lost: of those before which they were. Where the \
    sound left open on one side whether it was octaves, a cut counts for neither.";

/// How the table of cuts by reed is headed.
pub const CUTS_BEHIND: &str = "The cuts behind it, the last ones at the end:";

/// Where no cut was crowed before and after.
pub const NO_CUTS: &str =
    "Nothing has been crowed both before and after a cut yet. Crow before and after each cut.";

/// A condition, as a column's name.
pub fn condition(condition: Condition) -> &'static str {
    match condition {
        Condition::HoursPlayed => "hours played",
        Condition::HoursRested => "hours since the last cut",
        Condition::Soaked => "minutes of soaking",
        Condition::Temperature => "temperature",
        Condition::Humidity => "humidity",
    }
}

/// The unit of a slope against a condition.
pub fn per(condition: Condition) -> &'static str {
    match condition {
        Condition::HoursPlayed | Condition::HoursRested => "cents an hour",
        Condition::Soaked => "cents a minute",
        Condition::Temperature => "cents a degree",
        Condition::Humidity => "cents a percent",
    }
}

/// What a slope tells.
pub fn slope(told: Told) -> &'static str {
    match told {
        Told::More => "rises with it",
        Told::Less => "falls with it",
        Told::CannotTell => "cannot tell",
    }
}

/// What counts as a good reed, as a choice.
pub fn liked_in(of: Liked) -> &'static str {
    match of {
        Liked::All => "all together",
        Liked::Pitch => "pitch",
        Liked::Low => "the low notes",
        Liked::High => "the high notes",
        Liked::Stability => "stability",
        Liked::Tone => "tone",
        Liked::Lived => "how long it lived",
    }
}

/// Too few reeds were rated for any figure to be told.
pub fn too_few_rated(reeds: usize) -> String {
    format!(
        "Too few to tell: {} so far. With {FEWEST_RATED} reeds rated and crowed, the program looks for what \
         the good ones have in common. Rate them, closed or open, under Reeds on the bench's page, or with \
         'reedcrow reed rate LABEL pitch good low fair'.",
        match reeds {
            0 => "no reed is rated".to_owned(),
            1 => "1 reed is rated".to_owned(),
            reeds => format!("{reeds} reeds are rated"),
        }
    )
}

/// What a figure that goes with good reeds is called, its unit, what its value is multiplied by for
/// that, and its decimals.
pub fn liked_figure(like: &Like) -> (String, &'static str, f64, usize) {
    let of_reed = |name: &str| (name.to_owned(), "mm", 1.0, 1);
    let found = match like.figure.as_str() {
        "octaves" => return ("crows in octaves".to_owned(), "%", 100.0, 0),
        "length_mm" => of_reed("length"),
        "staple_mm" => of_reed("staple"),
        "wound_to_mm" => of_reed("where the winding ends"),
        "window_bottom_mm" => of_reed("where the windows begin"),
        "heart_bottom_mm" => of_reed("where the heart ends"),
        "tip_start_mm" => of_reed("where the tip begins"),
        "tip_length_mm" => of_reed("length of the tip"),
        "opening_mm" => ("opening".to_owned(), "mm", 1.0, 2),
        "throat_width_mm" => of_reed("width at the winding"),
        "gouge_mm" => ("gouge".to_owned(), "mm", 1.0, 2),
        path => match catalogue::about(path) {
            Some(about) => (about.name.to_owned(), about.unit, about.scale, about.decimals),
            None => (path.to_owned(), "", 1.0, 2),
        },
    };
    match like.from_zero {
        true => (format!("{}, either way", found.0), found.1, found.2, found.3),
        false => found,
    }
}

/// What a figure has to do with good reeds.
pub fn goes_with(told: Told) -> &'static str {
    match told {
        Told::More => "more of it",
        Told::Less => "less of it",
        Told::CannotTell => "cannot tell",
    }
}

/// What the table of likes means.
///
/// * `told`: figures that surely go along.
pub fn liked(answer: &LikesAnswer, told: usize) -> String {
    let good = match answer.of {
        Liked::Lived => "",
        _ => {
            "Good ones were rated good or better, on average; the middle value of each side is shown. "
        }
    };
    let found = match told {
        0 => format!(
            "So far nothing stands out from chance: with so many figures it takes some {} rated reeds.",
            answer.needed
        ),
        1 => "One figure goes along more than chance allows.".to_owned(),
        told => format!("{told} figures go along more than chance allows."),
    };
    format!(
        "{good}'Goes along' is the rank correlation with the rating, from −1 to 1: the range in which the \
         true one lies, in 95 of 100 such tables for all of its rows together, since of {} looked at one \
         or two always seem to go along. {found} What goes along need not be what makes a reed good.",
        counted(answer.figures.len(), "figure")
    )
}

/// What stands over the columns of tables.
pub mod head {
    pub(crate) const REEDS: [&str; 8] =
        ["reed", "state", "came", "ended", "steps", "length", "last crow", "owner"];
    pub(crate) const BENCH: [&str; 5] = ["reed", "waits for", "last entry", "due", "owner"];
    /// Behind the field of the card that the groups are made by.
    pub(crate) const OF_GROUP: [&str; 7] = [
        "reeds",
        "given up",
        "octaves",
        "pitch when finished",
        "cuts",
        "hours played",
        "against the others",
    ];
    pub(crate) const CUT: &str = "cut";
    /// Behind the kind of cut, and what the cuts are parted by.
    pub(crate) const OF_CUT: [&str; 6] =
        ["made", "pitch", "spread", "per mm", "octaves came", "octaves lost"];
    pub(crate) const CUTS_MADE: [&str; 8] =
        ["reed", "step", "when", "cut", "before", "after", "change", "octaves"];
    pub(crate) const CONDITIONS: [&str; 6] =
        ["with", "takes", "pitch", "", "octaves at less", "octaves at more"];
    pub(crate) const LIKES: [&str; 6] =
        ["figure", "reeds", "good ones", "the others", "goes along", "good reeds have"];
    pub(crate) const EACH_FORETOLD: [&str; 7] =
        ["reed", "cut", "what", "said", "came", "foretold, cents", "came, cents"];
    pub(crate) const FORETOLD: [&str; 5] =
        ["move", "said to help", "helped", "pitch as foretold", "off by, cents"];
    pub(crate) const AS_SURE: [&str; 4] =
        ["said", "on average", "helped", "19 times in 20 between"];
}

/// Names of a picture's panels.
pub mod panel {
    /// Share of the closed reeds.
    pub const GIVEN_UP: &str = "given up (%)";
    /// Of the finished reeds.
    pub const PITCH: &str = "pitch when finished (cents)";
    /// Of the finished reeds.
    pub const CUTS: &str = "cuts it took";
    /// Of a kind of cut.
    pub const CHANGE: &str = "change of pitch (cents)";
    /// Share of the cuts before which octaves were not in order.
    pub const OCTAVES_CAME: &str = "octaves came (%)";
    /// Share of those before which they were.
    pub const OCTAVES_LOST: &str = "octaves lost (%)";
    /// Share of the moves that were advised and made.
    pub const HELPED: &str = "helped (%)";
}

/// What the marks of a picture of intervals mean.
pub const RANGES: &str = "Dots are means and shares; a bar holds the true one 19 times in 20.";

/// The same where what was said stands beside it.
pub const RANGES_SAID: &str = "Dot and bar: how often it helped. Cross: what was said.";

/// What a picture of groups shows.
pub fn groups_title(field: Field, shown: usize, all: usize) -> String {
    match shown < all {
        true => format!("The {shown} commonest of {all}, by {}", self::field(field)),
        false => format!("Reeds by {}", self::field(field)),
    }
}

/// What a picture of all kinds of cuts shows.
pub const KINDS_TITLE: &str = "What each kind of cut did";

/// What a picture of what was foretold shows.
pub const TRUST_TITLE: &str = "What was said to help, and what did";

/// Moves by how sure they were said to be.
pub fn as_sure(from: f64, to: f64) -> String {
    format!("said {:.0} to {:.0} %", 100.0 * from, 100.0 * to)
}

/// What the table of conditions means.
pub const CONDITIONS: &str = "Only takes of one reed between the same two cuts are compared, so that \
    no cut is taken for the weather. What goes together need not be cause and effect: a reed that was \
    played longer was also crowed on a later day.";

/// Where no take says how it was crowed.
pub const NO_CONDITIONS: &str = "No reed was crowed twice between two cuts under different conditions \
    that were written down. 'reedcrow reed conditions REED --temperature 21 --soaked 3' writes them \
    down before a take.";

/// What two measurements contradict each other in, as a question to the maker.
pub fn contradiction(found: &Contradiction, unit: LengthUnit) -> String {
    let (before, after) = (unit.text(found.before), unit.text(found.after));
    let (then, now) = (stage_name(found.stages.0), stage_name(found.stages.1));
    match found.about {
        Contradicted::LongerThanBeforeClip => format!(
            "length {after} {now} is longer than the {before} before the clip: was one measured wet?"
        ),
        Contradicted::Longer => format!(
            "length {after} {now} is longer than the cuts since {before} {then} leave it: was one measured wet, or a clip shorter than written down?"
        ),
        Contradicted::Shorter => format!(
            "length {after} {now} is less than the {before} {then} and the clips leave: was a clip \
             not written down?"
        ),
        Contradicted::Staple => {
            format!("staple {after} {now}, {before} {then}: which of the two is it?")
        }
        Contradicted::Winding => format!(
            "wound to {after} {now}, {before} {then}: which of the two is it, or was it tied again?"
        ),
        Contradicted::TipLower => format!(
            "tip from {after} {now}, {before} {then}, and no work on the tip between: measure again?"
        ),
        Contradicted::TipHigher => {
            format!(
                "tip from {after} {now}, {before} {then}: cane does not come back; measure again?"
            )
        }
    }
}

/// What of it is measured.
pub const LENGTH: &str = "length";
/// The same of the staple.
pub const STAPLE: &str = "staple";
/// A measurement that such reeds hardly have.
pub fn far_from_usual(
    name: &str,
    given_mm: f64,
    usual_mm: f64,
    profile: &str,
    unit: LengthUnit,
) -> String {
    format!(
        "{name} {} is far from the usual {} of {profile}: is the profile the right one?",
        unit.text(given_mm),
        unit.text(usual_mm)
    )
}

/// A clip that was hardly meant so long.
pub fn long_clip(mm: f64, unit: LengthUnit) -> String {
    format!(
        "{} is a long clip: if it was {}, take it back with 'undo' and enter it again.",
        unit.text(mm),
        unit.text(mm / 10.0)
    )
}

/// A clip after which the reed is shorter than it is worth keeping at.
pub fn leaves_little(left_mm: f64, least_mm: f64, unit: LengthUnit) -> String {
    format!(
        "It leaves {}, shorter than {}: below that nothing more should be clipped.",
        unit.text(left_mm),
        unit.text(least_mm)
    )
}

/// Before what is doubtful about a measurement.
pub const WRITTEN_BUT: &str = "written down, but";
/// Before what ruler and eyes find outside the usual.
pub const FOUND: &str = "found:";

/// The ways in which a reed changed for the worse.
pub fn went_wrong(lost_octaves: bool, step: u32, done: &str) -> String {
    match lost_octaves {
        true => format!("It lost its octaves with step {step} ({done})."),
        false => format!("It went further from its pitch with step {step} ({done})."),
    }
}

/// What the star in the table of a reed's way means.
pub const AT_ONE_STRENGTH: &str = "* told at one blowing strength, so that it may differ from the \
    difference of the pitches beside it.";

/// How pitch was compared over some of the cuts.
pub fn at_one_strength(cuts: &str) -> String {
    format!("Of {cuts} pitch is told at one blowing strength, as 'reedcrow compare' does.")
}

/// What stands in a set of crows that is given away.
pub const SHARED: &str = "\
# Crows of double reeds

Each line of crows.jsonl is one crow: its sound (a mono WAV file beside it, 24 bits), a number that crows of
one reed share, how many cuts the reed had had, the kind of reed, what its maker heard (octaves, low, high,
split, wild, air; null where nothing was said), the figures that reedcrow read, what the reed measured in
millimetres from the bottom of the staple, and what was seen on it. The licence stands in LICENCE.txt.

Names, notes, dates and the rest of each recording were left out. The order says nothing.
";

/// The licence of a set that is given away.
pub fn licence(name: &str) -> String {
    let text = match name.trim().to_uppercase().as_str() {
        "CC0-1.0" => "https://creativecommons.org/publicdomain/zero/1.0/",
        "CC-BY-4.0" => "https://creativecommons.org/licenses/by/4.0/",
        "CC-BY-SA-4.0" => "https://creativecommons.org/licenses/by-sa/4.0/",
        _ => "",
    };
    format!("The crows in this folder are given under {}.\n{text}\n", name.trim())
}

/// Said where no advised move was made and crowed after.
pub const NOTHING_FORETOLD: &str = "No advised move has been made and then crowed yet, so there is nothing to judge the adviser by.";

/// Whether a move did what it is for.
pub fn came(came: bool) -> &'static str {
    if came { "helped" } else { "did not" }
}

/// Where too few were for a share of them to mean anything.
///
/// * `helped`: of `count`.
pub fn too_few_moves(count: usize, helped: usize) -> String {
    format!(
        "{} made as advised and crowed after; {helped} of {count} helped ('--single' shows each). How far \
         what is said can be trusted is told from {FEWEST_MOVES} on.",
        counted(count, "move")
    )
}

/// How far to trust it.
///
/// * `brier`: mean square of what was said less what came (Brier score).
pub fn trusted(count: usize, brier: f64) -> String {
    let few = if count < 20 { " Fewer than 20 moves say little." } else { "" };
    format!(
        "{} made as advised and crowed after. How far what was said lay from what came: {brier:.2}. 0 is \
         best, 0.25 is no better than a coin. (It is the mean of the \
         squares of the chance that was said, less 1 where the move helped, less 0 where it did not.){few}",
        counted(count, "move")
    )
}
