//! The account for the owner, written at the bench.

use jiff::tz::TimeZone;

use crate::clock;
use crate::log::History;
use crate::profile::Profile;
use crate::report::account::{Letter, Manner, Sender, Told, letter};
use crate::words::account::Words;
use crate::words::format::LengthUnit;

/// The account of one reed, as of today.
///
/// * `with_notes`: whether what the maker noted at the bench stands in it.
pub fn account(
    history: &History,
    profile: &Profile,
    sender: Option<&Sender>,
    unit: LengthUnit,
    with_notes: bool,
) -> Letter {
    let told = [Told::of(history.clone(), profile.clone())];
    let today = clock::today().unwrap_or_default();
    let manner = Manner {
        words: &Words::english(),
        sender,
        today: &today,
        unit,
        zone: &TimeZone::system(),
        with_notes,
    };
    letter(&told, manner)
}
