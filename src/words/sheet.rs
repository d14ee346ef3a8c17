//! A reed's sheet: its card, what was measured, seen and said of it, and its way from cut to cut.

use crate::log::{Rated, Rating};

/// What stands before the lines of the card.
pub mod of_card {
    pub(crate) const OWNER: &str = "owner";
    pub(crate) const MAKER: &str = "maker";
    pub(crate) const PROFILE: &str = "profile";
    pub(crate) const A4: &str = "A4";
    pub(crate) const CANE: &str = "cane";
    pub(crate) const GOUGE: &str = "gouge";
    pub(crate) const SHAPE: &str = "shape";
    pub(crate) const STAPLE: &str = "staple";
    pub(crate) const THREAD: &str = "thread";
    pub(crate) const MADE_ON: &str = "made on";
    pub(crate) const COMPLAINT: &str = "complaint";
    pub(crate) const DUE: &str = "due";
    pub(crate) const ENDING: &str = "ending";
}
/// What stands before the other lines.
pub mod line {
    pub(crate) const ENTERED: &str = "entered";
    pub(crate) const CLOSED: &str = "closed";
    pub(crate) const MEASURED: &str = "measured";
    pub(crate) const DOUBTFUL: &str = "doubtful";
    pub(crate) const SEEN: &str = "seen";
    pub(crate) const FOUND: &str = "found";
    pub(crate) const RATED: &str = "rated";
    pub(crate) const CROWED: &str = "crowed";
}
/// A reed that is not closed.
pub const OPEN: &str = "open";

/// A reed that stands in for one.
pub const PRACTICE: &str = "for practice";

/// A rating: `pitch good, low fair, lived 12 h`.
pub fn rating(rating: &Rating) -> String {
    let each = Rated::ALL
        .into_iter()
        .filter_map(|side| Some(format!("{} {}", side.code(), rating.of(side)?.code())));
    let lived = rating.lived_hours.map(|hours| format!("lived {hours} h"));
    each.chain(lived).collect::<Vec<_>>().join(", ")
}
/// Who rated it, behind the day.
pub fn by(name: &str) -> String {
    format!(", by {name}")
}

/// The columns of its way.
pub const WAY: [&str; 8] = ["", "when", "cut", "length", "pitch", "change", "octaves", "heard"];
/// Behind a length that other measurements contradict.
pub const DOUBTED: &str = " ?";
/// A length; `is_measured`: not reckoned from a clip.
pub fn length(text: &str, is_measured: bool) -> String {
    format!("{}{text}", if is_measured { "" } else { "about " })
}
/// Before what was written down of a step.
pub fn of_step(number: u32) -> String {
    format!("step {number}")
}
/// Before what was written down beside the steps, at a stage.
pub fn note(stage: &str) -> String {
    format!("note, {stage}")
}

/// What stands before the lines of its way at a glance.
pub const AT_A_GLANCE: [&str; 4] = ["cut", "pitch", "octaves", "length"];
/// Stages for which there is no room.
pub fn stages_before(stages: usize) -> String {
    format!("{stages} before")
}
/// Before the first cut.
pub const AS_IT_CAME: &str = "as it came";
/// What cents count from where there is no target: the first stage that was heard.
pub const THE_FIRST: &str = "the first";
/// It was blown in vain.
pub const NO_CROW: &str = "no crow";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::Grade;

    #[test]
    fn a_rating_names_each_side_that_was_rated_in_their_order() {
        let said = Rating {
            low: Some(Grade::Fine),
            pitch: Some(Grade::Poor),
            lived_hours: Some(12.0),
            ..Rating::default()
        };
        crate::golden::held("../../src/goldens", "rating", &rating(&said));
    }
}
