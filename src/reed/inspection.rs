//! What the maker sees without a ruler.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Cut, Move, Place};

choice! {
    /// How the edges of the two blades overlap.
    Overlap {
        /// They meet edge to edge.
        Even,
        /// They slip to the side that the maker ties for.
        Usual,
        /// They slip the other way.
        Backwards,
    }
}

choice! {
    /// Where air escapes when the tip is closed and the reed is blown.
    Leak {
        /// Nowhere.
        None,
        /// Low on the sides, by the winding.
        Low,
        /// On the sides beside the heart.
        Heart,
    }
}

choice! {
    /// Bark on the rails below the heart.
    Bark {
        /// There.
        Kept,
        /// Scraped away.
        Gone,
    }
}

choice! {
    /// Whether both blades and both sides look alike against the light.
    Symmetry {
        /// Alike.
        Even,
        /// One side or blade is heavier.
        Uneven,
    }
}

choice! {
    /// The heart against the light and between the fingers.
    Heart {
        /// As it should be.
        Good,
        /// Too thick.
        Thick,
        /// Too thin.
        Thin,
    }
}

choice! {
    /// The corners of the tip.
    Corners {
        /// Thin, as they should be.
        Thin,
        /// Too thick.
        Thick,
        /// Chipped or torn.
        Chipped,
    }
}

choice! {
    /// Whether the tip is thinnest at its sides.
    TipSides {
        /// It is.
        Thinnest,
        /// The sides are as thick as its middle, or thicker.
        Thick,
    }
}

/// What was looked at; `None` where it was not.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Inspection {
    /// How the blades overlap.
    pub overlap: Option<Overlap>,
    /// Where air escapes.
    pub leak: Option<Leak>,
    /// Bark on the rails below the heart.
    pub bark: Option<Bark>,
    /// Whether sides and blades are alike.
    pub symmetry: Option<Symmetry>,
    /// The heart.
    pub heart: Option<Heart>,
    /// The corners of the tip.
    pub corners: Option<Corners>,
    /// The sides of the tip.
    pub tip_sides: Option<TipSides>,
}

impl Inspection {
    /// What was seen here, and for what was not looked at, what `earlier` says.
    pub fn over(self, earlier: Self) -> Self {
        Self {
            overlap: self.overlap.or(earlier.overlap),
            leak: self.leak.or(earlier.leak),
            bark: self.bark.or(earlier.bark),
            symmetry: self.symmetry.or(earlier.symmetry),
            heart: self.heart.or(earlier.heart),
            corners: self.corners.or(earlier.corners),
            tip_sides: self.tip_sides.or(earlier.tip_sides),
        }
    }

    /// What still holds of what was seen, once a cut was made: what it may have mended is not known until
    /// it is looked at again. Cane that was too thin, or chipped off, does not come back.
    pub(crate) fn after(self, cut: Cut) -> Self {
        let mut seen = self;
        let clear_corners = |corners: &mut Option<Corners>, mended| {
            *corners = corners.filter(|corners| *corners != mended);
        };
        match (cut.of(), cut.place()) {
            (Move::Seal | Move::Retie, _) => seen.leak = None,
            (Move::Clip, _) => clear_corners(&mut seen.corners, Corners::Chipped),
            (Move::Tip, Some(Place::Corners)) => clear_corners(&mut seen.corners, Corners::Thick),
            (Move::Tip, Some(Place::Sides)) => seen.tip_sides = None,
            (Move::Tip, Some(Place::Surface)) => {
                seen.tip_sides = None;
                clear_corners(&mut seen.corners, Corners::Thick);
            }
            (Move::Heart, _) => seen.heart = seen.heart.filter(|heart| *heart != Heart::Thick),
            // Other work leaves what was seen as it was.
            _ => {}
        }
        if cut.takes_cane() && cut != Cut::Clip {
            seen.symmetry = None;
        }
        seen
    }

    /// What was seen here of what `earlier` had been looked at too.
    pub fn again_after(self, earlier: Self) -> Self {
        Self {
            overlap: self.overlap.filter(|_| earlier.overlap.is_some()),
            leak: self.leak.filter(|_| earlier.leak.is_some()),
            bark: self.bark.filter(|_| earlier.bark.is_some()),
            symmetry: self.symmetry.filter(|_| earlier.symmetry.is_some()),
            heart: self.heart.filter(|_| earlier.heart.is_some()),
            corners: self.corners.filter(|_| earlier.corners.is_some()),
            tip_sides: self.tip_sides.filter(|_| earlier.tip_sides.is_some()),
        }
    }

    /// What was seen here and `later` seen otherwise.
    pub fn corrected_by(self, later: Self) -> Self {
        fn otherwise<T: PartialEq>(was: Option<T>, is: Option<T>) -> Option<T> {
            was.filter(|was| is.is_some_and(|is| is != *was))
        }
        Self {
            overlap: otherwise(self.overlap, later.overlap),
            leak: otherwise(self.leak, later.leak),
            bark: otherwise(self.bark, later.bark),
            symmetry: otherwise(self.symmetry, later.symmetry),
            heart: otherwise(self.heart, later.heart),
            corners: otherwise(self.corners, later.corners),
            tip_sides: otherwise(self.tip_sides, later.tip_sides),
        }
    }
}

/// A look, as it is said.
#[derive(Debug, Clone, Copy)]
pub struct LookWords {
    /// The key of its button.
    pub key: char,
    /// The part looked at.
    pub part: &'static str,
    /// What was found.
    pub found: &'static str,
    /// What it is.
    pub seen: Inspection,
}

/// Nothing looked at.
const UNSEEN: Inspection = Inspection {
    overlap: None,
    leak: None,
    bark: None,
    symmetry: None,
    heart: None,
    corners: None,
    tip_sides: None,
};

const fn look(key: char, part: &'static str, found: &'static str, seen: Inspection) -> LookWords {
    LookWords { key, part, found, seen }
}

/// Every look.
pub const LOOKS: [LookWords; 18] = [
    look('a', "leak", "none", Inspection { leak: Some(Leak::None), ..UNSEEN }),
    look('b', "leak", "low", Inspection { leak: Some(Leak::Low), ..UNSEEN }),
    look('c', "leak", "heart", Inspection { leak: Some(Leak::Heart), ..UNSEEN }),
    look('d', "corners", "thin", Inspection { corners: Some(Corners::Thin), ..UNSEEN }),
    look('e', "corners", "thick", Inspection { corners: Some(Corners::Thick), ..UNSEEN }),
    look('g', "corners", "chipped", Inspection { corners: Some(Corners::Chipped), ..UNSEEN }),
    look(
        'h',
        "tip sides",
        "thinnest",
        Inspection { tip_sides: Some(TipSides::Thinnest), ..UNSEEN },
    ),
    look('i', "tip sides", "thick", Inspection { tip_sides: Some(TipSides::Thick), ..UNSEEN }),
    look('j', "heart", "good", Inspection { heart: Some(Heart::Good), ..UNSEEN }),
    look('m', "heart", "thick", Inspection { heart: Some(Heart::Thick), ..UNSEEN }),
    look('n', "heart", "thin", Inspection { heart: Some(Heart::Thin), ..UNSEEN }),
    look('o', "symmetry", "even", Inspection { symmetry: Some(Symmetry::Even), ..UNSEEN }),
    look('q', "symmetry", "uneven", Inspection { symmetry: Some(Symmetry::Uneven), ..UNSEEN }),
    look('r', "bark", "kept", Inspection { bark: Some(Bark::Kept), ..UNSEEN }),
    look('s', "bark", "gone", Inspection { bark: Some(Bark::Gone), ..UNSEEN }),
    look('t', "overlap", "even", Inspection { overlap: Some(Overlap::Even), ..UNSEEN }),
    look('v', "overlap", "usual", Inspection { overlap: Some(Overlap::Usual), ..UNSEEN }),
    look('w', "overlap", "backwards", Inspection { overlap: Some(Overlap::Backwards), ..UNSEEN }),
];

impl LookWords {
    /// As it is typed: `leak low`.
    pub fn words(&self) -> String {
        format!("{} {}", self.part, self.found)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_on_a_part_leaves_open_what_was_seen_of_it_and_nothing_else() {
        let seen = Inspection {
            leak: Some(Leak::Low),
            corners: Some(Corners::Thick),
            heart: Some(Heart::Thin),
            symmetry: Some(Symmetry::Uneven),
            ..Inspection::default()
        };
        let sealed = seen.after(Cut::Seal);
        assert_eq!(sealed, Inspection { leak: None, ..seen });
        let thinned = seen.after(Cut::TipCorners);
        assert_eq!(thinned, Inspection { corners: None, symmetry: None, ..seen });
        // A thin heart stays thin, thick corners are not clipped away.
        assert_eq!(seen.after(Cut::HeartSurface).heart, Some(Heart::Thin));
        assert_eq!(seen.after(Cut::Clip), seen);
    }
}
