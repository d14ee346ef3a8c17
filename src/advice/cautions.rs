//! What to take care of: blades, sealers, mouths. Local rules and licensed practice come first.

use super::Move;
use super::case::Facts;

const BLADE: &str = "Knife and razor: cut away from your fingers, with a plaque between the blades; \
                     keep the blade sharp and put it down closed.";
const CLIP: &str = "Clip on a block, fingers behind the blade; a clip cannot be undone.";
const SCRAPE: &str = "Cane cannot be put back: light strokes, and crow between them.";
const SEALER: &str = "Keep sealers, glue and varnish off what the lips touch, and use what its maker \
                      calls safe for that; follow its label and local rules.";
const MOUTHS: &str = "A reed belongs in one mouth: rinse it and disinfect it by your local hygiene \
                      rules before another player crows it.";

pub(super) fn of(next: Move, facts: &Facts) -> Vec<String> {
    let mut list: Vec<String> = match next {
        Move::Clip => vec![CLIP.into(), BLADE.into()],
        Move::Tip | Move::Heart | Move::Back => vec![SCRAPE.into(), BLADE.into()],
        Move::Seal => vec![SEALER.into()],
        Move::Recrow | Move::Leave | Move::Stop => Vec::new(),
    };
    if next == Move::Clip && facts.case.measured.length_mm.is_none() {
        let shortest = facts.profile().dimensions.shortest_length;
        list.extend(
            shortest.map(|mm| {
                format!("Measure the length first: what is left must be {mm} mm or more.")
            }),
        );
    }
    list.push(MOUTHS.into());
    list
}
