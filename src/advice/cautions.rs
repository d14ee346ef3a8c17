//! What to take care of: blades, sealers, mouths. Local rules and licensed practice come first.

use super::Move;
use super::case::Facts;
use crate::reed::Fault;
use crate::units::Millimetres;

const BLADE: &str = "Knife and razor: cut away from your fingers, with a plaque between the blades; \
                     keep the blade sharp and put it down closed.";
const CLIP: &str = "Clip on a block, fingers behind the blade; a clip cannot be undone.";
const SCRAPE: &str = "Cane cannot be put back: light strokes, and crow between them.";
const SEALER: &str = "Keep sealers, glue and varnish off what the lips touch, and use what its maker \
                      calls safe for that; follow its label and local rules.";
const OPENING: &str = "Press a reed only when it is wet, slowly, with clean hands and the plaque \
                       taken out: a dry one cracks. Look at the tip before it goes to the lips.";
const MOUTHS: &str = "A reed belongs in one mouth: rinse it and disinfect it by your local hygiene \
                      rules before another player crows it.";

const LIPS: &str = "A splinter at a chipped corner can cut a lip: look at it before you blow.";

/// What is done besides the move.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Besides {
    /// The opening is pressed before it.
    pub pressed: bool,
    /// A seal is tried after looking once more.
    pub sealed: bool,
}

pub(super) fn of(next: Move, besides: Besides, facts: &Facts) -> Vec<String> {
    let mut list: Vec<String> = match next {
        Move::Clip => vec![CLIP.into(), BLADE.into()],
        Move::Tip | Move::Heart | Move::Back => vec![SCRAPE.into(), BLADE.into()],
        Move::Seal => vec![SEALER.into()],
        Move::Opening => vec![OPENING.into()],
        _ => Vec::new(),
    };
    if next == Move::Clip && facts.case.measured.length_mm.is_none() {
        let shortest = facts.profile().dimensions.shortest_length;
        list.extend(shortest.map(|mm| {
            let mm = Millimetres(mm);
            format!("Measure the length first: what is left must be {mm} or more.")
        }));
    }
    list.extend(facts.found(Fault::CornerChipped).holds.then(|| LIPS.into()));
    list.extend(besides.sealed.then(|| SEALER.into()));
    list.extend(besides.pressed.then(|| OPENING.into()));
    list.push(MOUTHS.into());
    list
}
