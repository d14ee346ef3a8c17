//! What the maker's eyes and ruler say, as conditions and as remarks beside the reasons.

use super::Reason;
use super::case::Facts;
use super::condition::Condition;
use super::words;
use crate::reading::Kind;
use crate::reed::{Corners, Cut, Fault, Finding, TipSides, unjudged};
use crate::units::Millimetres;

/// Share of a wild rattle's depth from which a rattle is worth naming (our choice).
const NAMED_RATTLE: f64 = 0.5;

impl Facts<'_> {
    /// The maker's eyes or ruler found this.
    pub fn found(&self, fault: Fault) -> Condition {
        self.findings
            .iter()
            .find(|finding| finding.fault == fault)
            .map_or_else(Condition::never, |finding| {
                Condition::new(true, finding.sure, reason(finding, finding.says.clone()))
            })
    }

    /// There is cane to clip, or nobody measured.
    pub fn long_enough(&self) -> Condition {
        Condition::known(!self.found(Fault::TooShort).holds)
    }

    /// Scraping can only make it worse.
    pub fn spent(&self) -> Condition {
        self.found(Fault::BarkGone).or(self.found(Fault::HeartThin))
    }

    /// The tip was worked on last.
    pub fn tip_was_last(&self) -> Condition {
        let says = "the tip was worked on last";
        self.seen_or_done("past cuts", says, self.case.effects.last.is_some_and(Cut::is_tip))
    }

    /// Nothing is left to thin at the tip: it was worked on last, or its corners and sides were seen
    /// thin.
    pub fn tip_done(&self) -> Condition {
        let says = "the corners and sides of the tip were seen thin";
        self.tip_was_last().or(self.seen_or_done("corners", says, self.tip_seen_thin()))
    }

    /// Its corners are thin, and it is thinnest at its sides.
    pub fn tip_seen_thin(&self) -> bool {
        let seen = self.case.seen;
        seen.corners == Some(Corners::Thin) && seen.tip_sides == Some(TipSides::Thinnest)
    }

    /// The opening was pressed last.
    pub fn opening_was_last(&self) -> Condition {
        let says = "the opening was worked on last";
        self.seen_or_done("past cuts", says, self.case.effects.last == Some(Cut::Opening))
    }

    fn seen_or_done(&self, figure: &str, says: &str, holds: bool) -> Condition {
        let reason = Reason { figure: figure.into(), value: None, says: says.into() };
        Condition::new(holds, f64::from(u8::from(holds)), reason)
    }

    /// What is named beside the reasons of a move, since it is to be known and does not lead to it.
    ///
    /// * `because`: what is told already.
    pub fn remarks(&self, because: &[Reason]) -> Vec<Reason> {
        let told = |says: &str| because.iter().any(|reason| reason.says == says);
        let found = self
            .findings
            .iter()
            .filter(|finding| !told(&finding.says))
            .map(|finding| reason(finding, self.beside(finding)));
        let rattle = self
            .rattle()
            .filter(|rattle| !because.iter().any(|reason| reason.figure == rattle.figure));
        rattle.into_iter().chain(found).chain(self.unjudged()).collect()
    }

    /// A finding that did not lead to the move, and why not. A winding that chokes nothing is not said
    /// to choke.
    fn beside(&self, finding: &Finding) -> String {
        let says = words::beside(finding) + self.made_worse(finding);
        let well = self.is(Kind::Octaves).holds && !self.faults().holds;
        match says.strip_suffix(": this chokes the reed") {
            Some(where_to) if well => format!("{where_to}, yet it crows well"),
            _ => says,
        }
    }

    /// Why nothing is done about an opening that is off.
    fn made_worse(&self, finding: &Finding) -> &'static str {
        match finding.fault {
            Fault::OpeningWide if self.sharp().holds => {
                "; pressing it closed would raise the pitch further"
            }
            Fault::OpeningClosed if self.flat().holds => {
                "; opening it would lower the pitch further"
            }
            _ => "",
        }
    }

    /// A rattle that is plain to hear.
    fn rattle(&self) -> Option<Reason> {
        let wild = self.profile().advice.wild_rattle_depth;
        let depth = self.summary().steadiness.rattle_depth.filter(|depth| depth.is_finite())?;
        (depth > NAMED_RATTLE * wild).then(|| Reason {
            figure: "steadiness.rattle_depth".into(),
            value: Some(depth),
            says: format!("also heard: {}", words::rattle(depth, wild, depth > wild)),
        })
    }

    /// What was measured and has nothing to be held against.
    fn unjudged(&self) -> Option<Reason> {
        let each: Vec<String> = unjudged(self.case.measured, self.profile())
            .into_iter()
            .map(|(name, mm)| format!("{name} {}", Millimetres(mm)))
            .collect();
        (!each.is_empty()).then(|| Reason {
            figure: "measured".into(),
            value: None,
            says: format!(
                "also measured, and not judged, since the profile says nothing usual of it: {}",
                each.join(", ")
            ),
        })
    }
}

fn reason(finding: &Finding, says: String) -> Reason {
    Reason { figure: finding.figure.clone(), value: finding.value_mm, says }
}
