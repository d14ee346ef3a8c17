//! Words of the page on which the log answers.

use crate::log::questions::Question;
use crate::reed::WORK;

/// The page.
pub const TITLE: &str = "What the log says";
/// The way back.
pub const BACK: &str = "Back to the bench";
/// The way here, from the bench.
pub const TO_LOG: &str = "Ask the log";
/// What there is to ask, for those who hear the page.
pub const QUESTIONS: &str = "Questions";
/// Before what reeds are grouped by.
pub const BY: &str = "By";
/// Before a kind of cut.
pub const CUT: &str = "Cut";
/// Before a condition.
pub const WITH: &str = "Picture of the pitch with";
/// Before what counts as a good reed.
pub const LIKED: &str = "Good in";
/// Before an owner's name.
pub const OWNER: &str = "Owner (all reeds without one)";
/// Before a reed's label.
pub const REED: &str = "Reed";
/// The button.
pub const ASK: &str = "Show";

/// A question, as short as a button.
pub fn question(question: Question) -> &'static str {
    match question {
        Question::Waiting => "What is on my bench?",
        Question::Groups => "Which cane, shape, gouge works?",
        Question::Cuts => "What did the cuts do?",
        Question::Conditions => "Rest, play, soak, weather",
        Question::Trust => "Was the advice right?",
        Question::Likes => "What have good reeds in common?",
        Question::Owner => "Who had what, and when?",
        Question::Way => "How did a reed go?",
    }
}

/// There is no such reed.
pub fn no_reed(label: &str) -> String {
    format!(
        "There is no reed called {label}. \"{}\", asked without a name, lists them all.",
        question(Question::Owner)
    )
}

/// What the picture beside an answer shows.
pub fn picture(question: Question) -> &'static str {
    match question {
        Question::Groups => "What was given up of each group, and how its finished reeds ended",
        Question::Cuts => "What the cuts did to the pitch and the octaves",
        Question::Conditions => "Pitch against the condition",
        Question::Trust => "How often each move helped, beside what was said",
        Question::Way => "Pitch, octaves and length from cut to cut",
        Question::Waiting | Question::Likes | Question::Owner => "",
    }
}

/// The kinds of cuts that can be chosen, by code: all of them together first.
pub fn cuts() -> impl Iterator<Item = (String, &'static str)> {
    let each = WORK.iter().map(|row| (row.cut.code().to_owned(), row.cut.words()));
    std::iter::once((String::new(), "all kinds")).chain(each)
}
