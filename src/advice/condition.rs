//! A condition: whether it holds, how sure that is, and the reasons that say so.

use super::Reason;

/// Whether something holds of a reed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Condition {
    pub holds: bool,
    /// Probability that it holds; over ½ does not mean that it does, since the figure itself
    /// decides and its error only says how sure that is.
    pub sure: f64,
    pub reasons: Vec<Reason>,
}

impl Condition {
    pub fn never() -> Self {
        Self { holds: false, sure: 0.0, reasons: Vec::new() }
    }

    /// Known, not estimated.
    pub fn known(holds: bool) -> Self {
        Self { holds, sure: if holds { 1.0 } else { 0.0 }, reasons: Vec::new() }
    }

    pub fn new(holds: bool, sure: f64, reason: Reason) -> Self {
        Self { holds, sure: sure.clamp(0.0, 1.0), reasons: vec![reason] }
    }

    /// Both. How a crow is in order and where its pitch lies are measured apart, as are lengths: as
    /// if their errors had nothing to do with each other, their chances multiply.
    pub fn and(mut self, other: Self) -> Self {
        self.holds &= other.holds;
        self.sure *= other.sure;
        self.reasons.extend(other.reasons);
        self
    }

    /// Either; the reasons are those of what holds.
    pub fn or(self, other: Self) -> Self {
        match (self.holds, other.holds) {
            (true, true) => {
                let sure = self.sure.max(other.sure);
                Self { sure, ..self.and(other) }
            }
            (true, false) => self,
            (false, true) => other,
            // Of two that do not hold the one that is nearer to it.
            (false, false) if other.sure > self.sure => other,
            (false, false) => self,
        }
    }

    /// As sure as before, times `share`: of so many cases in which it holds the rule does what it
    /// is for.
    pub fn in_share(self, share: f64) -> Self {
        Self { sure: self.sure * share, ..self }
    }

    /// The reasons, where it holds.
    pub fn reasons_if_it_holds(self) -> Vec<Reason> {
        if self.holds { self.reasons } else { Vec::new() }
    }

    /// That it does not hold. An absence gives no reasons.
    pub fn not(self) -> Self {
        Self { holds: !self.holds, sure: 1.0 - self.sure, reasons: Vec::new() }
    }

    /// Only decides whether the rule applies; the figures behind it do not lower what the rule
    /// is borne out by.
    pub fn gate(self) -> Self {
        let sure = if self.holds { 1.0 } else { self.sure };
        Self { sure, ..self }
    }

    /// The other side of the same limit, with the same reasons.
    pub fn inverted(self) -> Self {
        if self.reasons.is_empty() {
            return self;
        }
        Self { holds: !self.holds, sure: 1.0 - self.sure, reasons: self.reasons }
    }
}
