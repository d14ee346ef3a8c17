//! What to change on the next reeds, and what of it can still be done on this one.

use super::{Reed, code};
use crate::reed::{
    Bark, Corners, Fault, Finding, Heart, Inspection, Leak, Overlap, Symmetry, TipSides,
};
use crate::report::account::letter::Item;
use crate::words::account::{OfFault, Sentence};

impl Reed<'_> {
    pub(super) fn next(&self) -> Vec<Item> {
        let found = || self.told.findings.iter().chain(&self.told.later);
        if found().next().is_none() {
            let looked = self.history().measurements.len() + self.history().inspections.len() > 0;
            let key = if looked { "nothing-to-change" } else { "nothing-looked" };
            return vec![self.say(key, &[]).into()];
        }
        let each = found().map(|finding| {
            let key = if finding.sure >= 0.9 { "change" } else { "change-likely" };
            let fault = self.words().fault(&code(finding.fault));
            let next = self.of_fault(OfFault::OnNext, finding);
            let said = self.say(key, &[("fault", fault.into()), ("next", next.into())]);
            match self.on_this_one(finding) {
                Some(now) => said.and(now),
                None => said,
            }
        });
        each.map(Item::from).collect()
    }

    /// What came of a fault, or can still be done about it; nothing more of a reed that was given up,
    /// and no work on one that is finished and plays.
    fn on_this_one(&self, finding: &Finding) -> Option<Sentence> {
        let seen = self.history().seen_now();
        let leaked = matches!(finding.fault, Fault::LeakLow | Fault::LeakByHeart);
        match self.is_left(finding) {
            true if self.is_given_up() || self.is_done() => None,
            true => {
                let now = self.of_fault(OfFault::Now, finding);
                Some(self.say("on-this-one", &[("now", now.into())]))
            }
            false if is_found_mended(finding.fault, &seen) => Some(self.say("mended", &[])),
            false if leaked => self.of_leak(finding),
            false => Some(self.say("worked-on", &[])),
        }
    }
}

/// Whether somebody looked at the part again and found the fault gone.
fn is_found_mended(fault: Fault, now: &Inspection) -> bool {
    match fault {
        Fault::LeakLow | Fault::LeakByHeart => now.leak == Some(Leak::None),
        Fault::CornersThick | Fault::CornerChipped => now.corners == Some(Corners::Thin),
        Fault::TipSidesThick => now.tip_sides == Some(TipSides::Thinnest),
        Fault::HeartThick | Fault::HeartThin => now.heart == Some(Heart::Good),
        Fault::Uneven => now.symmetry == Some(Symmetry::Even),
        Fault::BackwardsOverlap => matches!(now.overlap, Some(Overlap::Even | Overlap::Usual)),
        Fault::BarkGone => now.bark == Some(Bark::Kept),
        _ => false,
    }
}
