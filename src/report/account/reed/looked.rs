//! What was seen on a reed when it was looked at again after work, and what that says of the work.

use super::found::in_order;
use super::{Reed, code};
use crate::reed::{Cut, Finding, Inspection, Leak, Measurements, Move, findings};
use crate::words::account::{OfFault, Sentence, joined};

impl Reed<'_> {
    /// What was looked at again after the step of that number; empty where nothing was.
    pub(super) fn looked_after(&self, number: u32) -> Sentence {
        let again = self.history().seen_again();
        let Some((_, seen)) = again.into_iter().find(|(stage, _)| *stage == number) else {
            return Sentence::default();
        };
        let looks: Vec<Sentence> =
            in_order(&seen).into_iter().map(|key| self.say(key, &[])).collect();
        let head = match looks.is_empty() {
            true => self.say("looked-again", &[]),
            false => self.say("looked-after", &[("looks", joined(looks, ", ").into())]),
        };
        let faults = self.seen_faults(seen).into_iter();
        joined(std::iter::once(head).chain(faults), " ")
    }

    /// What was seen to be wrong, a sentence each, as it was then.
    fn seen_faults(&self, seen: Inspection) -> Vec<Sentence> {
        let found = findings(&Measurements::default(), &seen, &self.told.profile);
        let each = found.iter().map(|finding| {
            let was = self.words().was(&code(finding.fault)).map(Sentence::words);
            let says = was.unwrap_or_else(|| self.of_fault(OfFault::Finding, finding));
            self.say("finding", &[("finding", says.into())])
        });
        each.collect()
    }

    /// What came of a leak that is no longer known to be there, and was not found closed.
    pub(super) fn of_leak(&self, leak: &Finding) -> Option<Sentence> {
        let found_at = self.stage_of(leak)?;
        let work = |is_it: fn(Move) -> bool| {
            let done = self.history().steps.iter().filter(|logged| logged.number > Some(found_at));
            let is_work = move |cut: Option<Cut>| cut.is_some_and(|cut| is_it(cut.of()));
            done.filter(move |logged| is_work(logged.step.cut)).filter_map(|logged| logged.number)
        };
        let Some(sealed) = work(|of| of == Move::Seal).next() else {
            // Looked at again, it leaks elsewhere: that is told by itself.
            return work(|of| of == Move::Retie).next().map(|_| self.say("worked-on", &[]));
        };
        let again = self.history().seen_again();
        let looks = again.into_iter().filter(|(stage, _)| *stage >= sealed);
        let Some(last) = looks.filter_map(|(_, seen)| seen.leak).next_back() else {
            return Some(self.say("sealed-unchecked", &[]));
        };
        if last == Leak::None {
            return Some(self.say("sealed-held", &[]));
        }
        let seen = self.seen_faults(Inspection { leak: Some(last), ..Inspection::default() });
        Some(joined(std::iter::once(self.say("sealed-looked", &[])).chain(seen), " "))
    }

    /// After which step a fault was first seen.
    fn stage_of(&self, finding: &Finding) -> Option<u32> {
        let each = self.history().seen().into_iter().find(|seen| {
            let found = findings(&Measurements::default(), &seen.now, &self.told.profile);
            found.iter().any(|one| one.fault == finding.fault)
        });
        each.map(|seen| seen.after_step)
    }
}
