//! The next cut: reading, reed and profile enter; one move with its reasons leaves.
//!
//! [`rules`] is the table of what is known, and [`places`] where its moves are made; [`case`], [`pitch`],
//! [`octaves`] and [`seen`] turn figures into conditions with how sure they are; [`confidence`] holds the knife back where that is not sure enough; [`cautions`] says
//! what to take care of.

mod case;
mod cautions;
mod condition;
mod confidence;
mod form;
mod octaves;
mod pitch;
mod places;
mod rules;
mod seen;
mod words;

use case::Case;

pub use form::{Advice, Again, Chance, Expected, Other, Reason, Wanted, Where};

pub use crate::reed::{Move, Place};

use crate::comparison::Effects;
use crate::profile::Profile;
use crate::reading::Reading;
use crate::reed::{Inspection, Measurements};

/// The next move for a reed that gave `reading`.
///
/// The first rule of the table whose conditions all hold decides. A cut that the figures do not
/// bear out well enough becomes crowing again. What was not measured or seen counts as unknown,
/// never as sound.
pub fn advise(
    reading: &Reading,
    measured: &Measurements,
    seen: &Inspection,
    profile: &Profile,
    effects: &Effects,
) -> Advice {
    let case = Case { reading, measured, seen, profile, effects };
    let facts = case.facts();
    confidence::held_back(&facts, rules::first_that_holds(&facts))
}

#[cfg(test)]
mod tests;
