//! What can be done next to a reed, and where: the one table of moves, places, their codes and what
//! is typed for them. JSON, log, prompt, page and command line are loops over it.
//!
//! A [`Move`] is anything that can be proposed. A [`Cut`] is work on the reed itself, which is what a
//! log's steps hold: a move together with its [`Place`]. (Pressing, sealing and tying take no cane;
//! they are steps all the same.)

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

choice! {
    /// What to do next.
    Move {
        /// Cut a sliver off the end.
        Clip = "clip",
        /// Take cane off the tip.
        Tip = "tip",
        /// Scrape the heart.
        Heart = "heart",
        /// Scrape the back.
        Back = "back",
        /// Press the opening, wetted; no cane.
        Opening = "opening",
        /// Seal a leak.
        Seal = "seal",
        /// Tie it again.
        Retie = "retie",
        /// Measure it; no cane.
        Measure = "measure",
        /// Look at it, or listen; no cane.
        Look = "look",
        /// Crow it again and nothing else.
        Recrow = "recrow",
        /// It is done, or the next cut is likelier to harm.
        Leave = "leave",
        /// What is wrong cannot be cut away.
        Stop = "stop",
    }
}

choice! {
    /// Where on the reed a move is made, or which way.
    Place {
        /// The end of the blades.
        End = "end",
        /// The sides, of tip or heart.
        Sides = "sides",
        /// The corners of the tip.
        Corners = "corners",
        /// The whole surface, of tip or heart.
        Surface = "surface",
        /// Where tip and heart meet.
        Step = "step",
        /// The windows of the back.
        Windows = "windows",
        /// The rails of the back.
        Rails = "rails",
        /// The opening, made wider.
        Wider = "wider",
        /// The opening, made narrower.
        Narrower = "narrower",
        /// Low on the sides, by the winding.
        Low = "low",
        /// Beside the heart.
        Heart = "heart",
    }
}

/// What is known of one kind of work.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// The work.
    pub cut: Cut,
    /// The move it is.
    pub of: Move,
    /// Where it is made.
    pub place: Option<Place>,
    /// Its code in log and JSON: move and place with a hyphen.
    pub code: &'static str,
    /// What is typed for it at the bench, in letters.
    pub letters: &'static str,
    /// As a maker says it; typed too.
    pub words: &'static str,
    /// The same as a thing: `work on the sides of the tip`.
    pub thing: &'static str,
    /// Other words it goes by: those of earlier logs, and the move alone where one place is meant.
    pub also: &'static [&'static str],
    /// Where it is to be done and how, as advice tells it; empty where the move says it all.
    pub told: &'static str,
}

/// The table of work: each kind with the move it is and where, its code, what is typed for it in
/// letters, as a maker says it and as a thing, other words it goes by, and where advice tells to do it.
macro_rules! work {
    ($(
        $(#[$about:meta])*
        $cut:ident: $of:ident $at:expr, $code:literal $letters:literal $words:literal $thing:literal
            $also:tt $told:literal;
    )*) => {
        /// One kind of work on a reed.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Cut { $($(#[$about])* $cut,)* }

        /// All work there is, in the order in which it is listed.
        pub const WORK: [Row; [$(stringify!($cut)),*].len()] = {
            use Place::*;
            [$(Row {
                cut: Cut::$cut, of: Move::$of, place: $at, code: $code, letters: $letters,
                words: $words, thing: $thing, also: &$also, told: $told,
            }),*]
        };
    };
}

work! {
    /// A sliver off the end.
    Clip: Clip Some(End), "clip" "c" "clip"
        "clipping" ["clip-end"]
        "a sliver straight across";
    /// The sides of the tip.
    TipSides: Tip Some(Sides), "tip-sides" "t" "tip sides"
        "work on the sides of the tip" ["tip"]
        "the sides of the tip, all four alike";
    /// The corners of the tip.
    TipCorners: Tip Some(Corners), "tip-corners" "tc" "tip corners"
        "work on the corners of the tip" ["corners"]
        "the corners of the tip, all four alike";
    /// The whole surface of the tip.
    TipSurface: Tip Some(Surface), "tip-surface" "tf" "tip surface"
        "work on the whole tip" ["surface"]
        "the whole tip, evenly";
    /// The step from heart to tip, or where it lies.
    TipStep: Tip Some(Step), "tip-step" "ts" "tip step"
        "work on the step from tip to heart" ["tip-start", "rooftop", "step"]
        "the step from tip to heart, clear and alike on both blades";
    /// The sides of the heart.
    HeartSides: Heart Some(Sides), "heart-sides" "hs" "heart sides"
        "work on the sides of the heart" ["heart-channels", "channels", "hc"]
        "the sides of the heart, leaving the spine";
    /// The heart all over.
    HeartSurface: Heart Some(Surface), "heart-surface" "h" "heart surface"
        "work on the whole heart" ["heart"]
        "the heart all over, lightly";
    /// The windows of the back.
    BackWindows: Back Some(Windows), "back-windows" "b" "back windows"
        "work on the windows" ["back", "windows"]
        "the windows, leaving rails, spine and the bark below";
    /// The rails.
    BackRails: Back Some(Rails), "back-rails" "ra" "back rails"
        "work on the rails" ["rails"]
        "the rails, lightly";
    /// The opening pressed wider.
    OpeningWider: Opening Some(Wider), "opening-wider" "ow" "opening wider"
        "making the opening wider" ["wider"]
        "a little wider, by its edges";
    /// The opening pressed narrower.
    OpeningNarrower: Opening Some(Narrower), "opening-narrower" "on" "opening narrower"
        "making the opening narrower" ["narrower"]
        "a little narrower, flat between finger and thumb";
    /// The opening pressed; earlier logs do not say which way.
    Opening: Opening None, "opening" "o" "opening"
        "pressing the opening" []
        "";
    /// A leak low on the sides sealed.
    SealLow: Seal Some(Low), "seal-low" "sl" "seal low"
        "sealing a leak by the winding" []
        "low on the sides, by the winding";
    /// A leak beside the heart sealed.
    SealHeart: Seal Some(Heart), "seal-heart" "sh" "seal heart"
        "sealing a leak beside the heart" []
        "beside the heart";
    /// A leak sealed; earlier logs do not say where.
    Seal: Seal None, "seal" "s" "seal"
        "sealing a leak" []
        "";
    /// Tied again.
    Retie: Retie None, "retie" "rt" "retie"
        "tying the reed again" []
        "";
}

impl Move {
    /// Whether cane is lost by it.
    pub fn is_cut(self) -> bool {
        matches!(self, Self::Clip | Self::Tip | Self::Heart | Self::Back)
    }

    /// Whether something is done to the reed by it.
    pub fn is_work(self) -> bool {
        self.is_cut() || matches!(self, Self::Opening | Self::Seal | Self::Retie)
    }

    /// Whether it asks for an answer and leaves the reed as it is: its chance says how far the answer may
    /// change the move, not how sure it is.
    pub fn asks(self) -> bool {
        matches!(self, Self::Recrow | Self::Look | Self::Measure)
    }

    /// Whether it ends the work on the reed.
    pub fn ends(self) -> bool {
        matches!(self, Self::Leave | Self::Stop)
    }
}

impl Cut {
    /// What is known of it.
    pub fn row(self) -> &'static Row {
        // The table holds every one; a test sees to that.
        WORK.iter().find(|row| row.cut == self).unwrap_or(&WORK[0])
    }

    /// Its code, `tip-sides`.
    pub fn code(self) -> &'static str {
        self.row().code
    }

    /// As a maker says it, `tip sides`.
    pub fn words(self) -> &'static str {
        self.row().words
    }

    /// The move it is.
    pub fn of(self) -> Move {
        self.row().of
    }

    /// Where it is made; `None` where it has no place, or an earlier log does not say.
    pub fn place(self) -> Option<Place> {
        self.row().place
    }

    /// The work of a move at a place; `None` where there is none such.
    pub fn at(next: Move, place: Option<Place>) -> Option<Self> {
        let row = WORK.iter().find(|row| row.of == next && row.place == place)?;
        Some(row.cut)
    }

    /// The work that `text` names: its code, its words, its letters, or what earlier logs called it.
    pub fn named(text: &str) -> Option<Self> {
        let text = text.trim().to_lowercase();
        let joined = text.split_whitespace().collect::<Vec<_>>().join("-");
        let is_named = |row: &&Row| {
            row.code == joined || row.letters == joined || row.also.contains(&joined.as_str())
        };
        WORK.iter().find(is_named).map(|row| row.cut)
    }

    /// Whether cane is lost by it.
    pub fn takes_cane(self) -> bool {
        self.of().is_cut()
    }

    /// Whether it thins the tip or its step.
    pub fn is_tip(self) -> bool {
        self.of() == Move::Tip
    }
}

impl Serialize for Cut {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self.code())
    }
}

impl<'de> Deserialize<'de> for Cut {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let code = String::deserialize(from)?;
        Self::named(&code)
            .ok_or_else(|| D::Error::custom(format!("'{code}' is not a kind of work")))
    }
}

impl JsonSchema for Cut {
    fn schema_name() -> Cow<'static, str> {
        "Cut".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let codes = WORK.map(|row| row.code);
        json_schema!({ "type": "string", "enum": codes })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_work_is_in_the_table_once_and_its_code_is_move_and_place() {
        for row in WORK {
            assert_eq!(row.cut.row().code, row.code);
            assert_eq!(Cut::at(row.of, row.place), Some(row.cut));
            let place = row.place.filter(|place| *place != Place::End);
            let code = match place {
                Some(place) => format!("{}-{}", row.of.code(), place.code()),
                None => row.of.code().to_owned(),
            };
            assert_eq!(row.code, code);
            assert_eq!(row.words, code.replace('-', " "));
        }
    }

    #[test]
    fn nothing_that_is_typed_names_two_kinds_of_work() {
        let mut names: Vec<&str> = WORK
            .iter()
            .flat_map(|row| [row.code, row.letters].into_iter().chain(row.also.iter().copied()))
            .collect();
        names.sort_unstable();
        let all = names.len();
        names.dedup();
        // "clip", "opening", "seal" and "retie" are code and word alike, each in its own row.
        assert_eq!(names.len(), all);
    }

    #[test]
    fn what_earlier_logs_hold_is_still_read() {
        for (old, cut) in [
            ("tip-start", Cut::TipStep),
            ("heart", Cut::HeartSurface),
            ("heart-channels", Cut::HeartSides),
            ("back", Cut::BackWindows),
            ("rails", Cut::BackRails),
            ("opening", Cut::Opening),
            ("seal", Cut::Seal),
        ] {
            let read: Cut = serde_json::from_value(old.into()).unwrap();
            assert_eq!(read, cut);
        }
        assert!(serde_json::from_value::<Cut>("saw".into()).is_err());
    }

    #[test]
    fn codes_in_json_are_those_of_the_table() {
        for next in [Move::Clip, Move::Opening, Move::Retie, Move::Measure, Move::Recrow] {
            assert_eq!(serde_json::to_value(next).unwrap(), next.code());
        }
        for row in WORK {
            assert_eq!(serde_json::to_value(row.cut).unwrap(), row.code);
            if let Some(place) = row.place {
                assert_eq!(serde_json::to_value(place).unwrap(), place.code());
            }
        }
    }
}
