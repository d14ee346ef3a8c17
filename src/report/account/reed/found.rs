//! What came in: when, with what complaint, what was measured and seen, how it crowed.

use super::{Reed, code, noted};
use crate::log::{Contradicted, Wetness};
use crate::reed::{Bark, Corners, Finding, Heart, Inspection, Leak, Overlap, Symmetry, TipSides};
use crate::report::account::figure;
use crate::report::account::letter::Item;
use crate::words::account::{OfFault, Sentence, Value, joined};

impl Reed<'_> {
    pub(super) fn found(&self) -> Vec<Item> {
        let card = &self.history().reed.card;
        let mut said =
            vec![self.say("came", &[("date", figure(self.manner.day(&self.history().reed.at)))])];
        if let Some(complaint) = &card.complaint {
            said.push(self.say("complaint", &[("complaint", noted(complaint).into())]));
        }
        said.extend(self.measured());
        said.extend(self.doubted());
        let looks: Vec<Sentence> = in_order(&self.history().first_seen())
            .into_iter()
            .map(|key| Sentence::words(self.words().plain(key)))
            .collect();
        if !looks.is_empty() {
            said.push(self.say("looked-over", &[("looks", joined(looks, ", ").into())]));
        }
        if let Some(first) = self.blown().next() {
            said.push(self.heard(first, "crowed-first", "blown-first"));
        }
        said.extend(self.told.findings.iter().map(|finding| {
            // What was mended since is no longer so.
            let was = self.words().was(&code(finding.fault)).filter(|_| !self.is_left(finding));
            let says =
                was.map_or_else(|| self.of_fault(OfFault::Finding, finding), Sentence::words);
            self.say("finding", &[("finding", says.into())])
        }));
        said.into_iter().map(Item::from).collect()
    }

    /// What the account says of a fault, with its measurement.
    pub(super) fn of_fault(&self, what: OfFault, finding: &Finding) -> Sentence {
        let length = |mm: f64| figure(self.manner.length(mm));
        let by = finding.value_mm.zip(finding.usual_mm).map(|(mm, usual)| (mm - usual).abs());
        let values: Vec<(&str, Value)> =
            [("mm", finding.value_mm), ("usual", finding.usual_mm), ("by", by)]
                .into_iter()
                .filter_map(|(place, mm)| Some((place, length(mm?))))
                .collect();
        self.words().of_fault(what, &code(finding.fault), &values)
    }

    fn measured(&self) -> Option<Sentence> {
        let (stage, sizes, state) = self.first_sizes()?;
        let parts = [
            ("size-length", sizes.length_mm),
            ("size-staple", sizes.staple_mm),
            ("size-wound", sizes.wound_to_mm),
            ("size-window", sizes.window_bottom_mm),
            ("size-heart", sizes.heart_bottom_mm),
            ("size-tip", sizes.tip_start_mm),
            ("size-opening", sizes.opening_mm),
            ("size-throat", sizes.throat_width_mm),
        ];
        let each: Vec<Sentence> = parts
            .into_iter()
            .filter_map(|(key, mm)| Some((key, mm?)))
            .map(|(key, mm)| self.say(key, &[("mm", figure(self.manner.length(mm)))]))
            .collect();
        if each.is_empty() {
            return None;
        }
        let state = match state {
            Some(Wetness::Wet) => self.words().plain("wet"),
            Some(Wetness::Dry) => self.words().plain("dry"),
            None => String::new(),
        };
        let later = match stage {
            0 => Sentence::default(),
            number => self.say("after-step", &[("number", number.to_string().into())]),
        };
        Some(self.say(
            "measured",
            &[
                ("state", state.into()),
                ("stage", later.into()),
                ("sizes", joined(each, ", ").into()),
            ],
        ))
    }

    fn doubted(&self) -> Option<Sentence> {
        let ruler_mm = self.told.profile.tolerance.measuring_mm;
        let found = self.history().contradictions(ruler_mm);
        let each: Vec<Sentence> = found
            .iter()
            .map(|one| {
                let at = |mm: f64| figure(self.manner.length(mm));
                let stage = |number: u32| match number {
                    0 => self.say("as-it-came", &[]),
                    number => {
                        self.say("after-step-number", &[("number", number.to_string().into())])
                    }
                };
                let what = self.words().plain(match one.about {
                    Contradicted::Staple => "drawing-staple",
                    Contradicted::Winding => "drawing-wound",
                    Contradicted::TipLower | Contradicted::TipHigher => "drawing-tip",
                    _ => "drawing-length",
                });
                self.say(
                    "doubted-pair",
                    &[
                        ("what", what.into()),
                        ("before", at(one.before)),
                        ("then", stage(one.stages.0).into()),
                        ("after", at(one.after)),
                        ("now", stage(one.stages.1).into()),
                    ],
                )
            })
            .collect();
        let which = joined(each, "; ");
        (!found.is_empty()).then(|| self.say("doubted", &[("which", which.into())]))
    }
}

/// Looks that were in order, by their names among the words; faults are told by the findings.
pub(super) fn in_order(seen: &Inspection) -> Vec<&'static str> {
    let overlap = matches!(seen.overlap, Some(Overlap::Even | Overlap::Usual));
    [
        overlap.then_some("look-overlap"),
        (seen.leak == Some(Leak::None)).then_some("look-leak"),
        (seen.bark == Some(Bark::Kept)).then_some("look-bark"),
        (seen.symmetry == Some(Symmetry::Even)).then_some("look-symmetry"),
        (seen.heart == Some(Heart::Good)).then_some("look-heart"),
        (seen.corners == Some(Corners::Thin)).then_some("look-corners"),
        (seen.tip_sides == Some(TipSides::Thinnest)).then_some("look-tip-sides"),
    ]
    .into_iter()
    .flatten()
    .collect()
}
