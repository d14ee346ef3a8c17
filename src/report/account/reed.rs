//! One reed's part of an account.

use super::drawing::Drawing;
use super::letter::{Item, Part, Section};
use super::{Manner, Told, figure, pictures};
use crate::comparison::compare;
use crate::log::{Conditions, Contradicted, Ending, Facts, History, Phase, Stage, Wetness};
use crate::reading::{Kind, Reading, pooled};
use crate::reed::{
    Bark, Corners, Cut, Fault, Finding, Heart, Inspection, Leak, Move, Overlap, Sizes, Symmetry,
    TipSides,
};
use crate::report::stage::octaves_off;
use crate::report::terminal::words as figures;
use crate::words::account::{OfFault, Sentence, Value, Words, joined};

/// The columns of the table of several reeds, by their names among the words.
pub(super) const COLUMNS: [&str; 8] = [
    "column-reed",
    "column-came",
    "column-steps",
    "column-before",
    "column-after",
    "column-octaves",
    "column-length",
    "column-ending",
];

/// Cents to either side of the target that a step's picture shows at least, and by what steps it grows.
const REACH_CENTS: f64 = 50.0;

/// Changes of pitch up to this count as none where the profile does not say, in cents.
const SAME_CENTS: f64 = 5.0;

/// Figures besides pitch whose change an owner hears, with their decimals.
const MANNERS: [(&str, usize); 4] = [
    ("response.low_delay_s", 2),
    ("response.onset_s", 2),
    ("steadiness.spread_cents", 0),
    ("alignment.cents", 0),
];

/// One reed with what is said of it.
pub(super) struct Reed<'a> {
    told: &'a Told,
    manner: Manner<'a>,
    facts: Facts,
}

/// The code of a fieldless value, as it stands in JSON.
fn code(value: impl serde::Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(code)) => code,
        _ => String::new(),
    }
}

impl<'a> Reed<'a> {
    pub(super) fn of(told: &'a Told, manner: Manner<'a>) -> Self {
        Self { told, manner, facts: Facts::of(&told.history) }
    }

    fn history(&self) -> &History {
        &self.told.history
    }

    fn words(&self) -> &Words {
        self.manner.words
    }

    fn say(&self, key: &str, values: &[(&str, Value)]) -> Sentence {
        self.words().say(key, values)
    }

    fn blown(&self) -> impl DoubleEndedIterator<Item = &Phase> {
        self.facts.way.iter().filter(|phase| phase.stage.takes > 0)
    }

    pub(super) fn part(&self, several: bool) -> Part {
        let label = self.history().reed.card.label.clone();
        let title = several.then(|| self.say("title-one", &[("reed", label.into())]).text());
        let section = |id: &'static str, items: Vec<Item>| Section {
            id,
            title: self.words().plain(id),
            items,
        };
        let sections = [
            section("found", self.found()),
            section("done", self.done()),
            section("ended", self.ended()),
            section("next", self.next()),
        ];
        Part {
            title,
            drawing: self.drawing(),
            sections: sections.into_iter().filter(|section| !section.items.is_empty()).collect(),
        }
    }

    /// The reed as it was first measured, corrected values and all.
    fn drawing(&self) -> Option<(Drawing, String)> {
        let sizes = self.first_sizes()?.1;
        let (words, manner) = (self.words(), self.manner);
        let usual = &self.told.profile.dimensions;
        let drawing = pictures::reed(&sizes, usual, words, |mm| manner.length(mm))?;
        Some((drawing, words.plain("drawing")))
    }

    /// The stage of the first measurements, and those that nothing contradicts.
    fn first_sizes(&self) -> Option<(u32, Sizes, Option<Wetness>)> {
        let ruler_mm = self.told.profile.tolerance.measuring_mm;
        let first = self.history().measured().into_iter().next()?;
        let sizes = self.history().without_doubted(first.now, ruler_mm);
        Some((first.after_step, sizes, first.state))
    }

    fn found(&self) -> Vec<Item> {
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
    fn of_fault(&self, what: OfFault, finding: &Finding) -> Sentence {
        let length = |mm: f64| figure(self.manner.length(mm));
        let by = finding.value_mm.zip(finding.usual_mm).map(|(mm, usual)| (mm - usual).abs());
        let values: Vec<(&str, Value)> =
            [("mm", finding.value_mm), ("usual", finding.usual_mm), ("by", by)]
                .into_iter()
                .filter_map(|(place, mm)| Some((place, length(mm?))))
                .collect();
        self.words().of_fault(what, &code(finding.fault), &values)
    }

    /// How it was crowed; empty where nobody said.
    fn how(&self, how: &Conditions) -> Sentence {
        let number =
            |value: f64| figure(self.words().number(value, usize::from(value.fract() != 0.0)));
        let wet = how.state.map(|state| match state {
            Wetness::Wet => "how-wet",
            Wetness::Dry => "how-dry",
        });
        let measured = [
            ("how-soaked", "minutes", how.soaked_min),
            ("how-warm", "degrees", how.temperature_c),
            ("how-humid", "percent", how.humidity_percent),
            ("how-played-days", "days", how.days_played),
            ("how-played-hours", "hours", how.hours_played),
        ];
        let measured = measured
            .into_iter()
            .filter_map(|(key, place, value)| Some(self.say(key, &[(place, number(value?))])));
        let player = how.player.as_ref();
        let player =
            player.map(|player| self.say("how-player", &[("player", noted(player).into())]));
        let said = wet.map(|key| self.say(key, &[])).into_iter().chain(measured).chain(player);
        joined(said.chain(how.how.as_deref().map(noted).map(Sentence::words)), ", ")
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

    /// What a stage sounded like.
    fn heard(&self, phase: &Phase, crowed: &str, blown: &str) -> Sentence {
        let stage = &phase.stage;
        let counted = |what: &str, count: usize| {
            let key = format!("{what}-{}", if count == 1 { "one" } else { "many" });
            self.say(&key, &[("count", figure(count.to_string()))])
        };
        if stage.crows == 0 {
            let key = if stage.takes_of_air > 0 { "no-crow-air" } else { "no-crow-silent" };
            let heard = self.words().plain(key);
            let takes = counted("take", stage.takes);
            return self.say(blown, &[("takes", takes.into()), ("heard", heard.into())]);
        }
        let mut crows = counted("crow", stage.crows);
        if stage.takes_without_crow > 0 {
            let silent = counted("take", stage.takes_without_crow);
            let values = [("crows", crows.into()), ("takes", silent.into())];
            crows = self.say("crows-and-silent", &values);
        }
        let how = phase.heard.iter().filter_map(|heard| heard.conditions.as_ref());
        if let Some(how) = how.map(|how| self.how(how)).rfind(|how| !how.pieces.is_empty()) {
            let values = [("crows", crows.into()), ("conditions", how.into())];
            crows = self.say("conditions", &values);
        }
        let pitch = self.pitch(stage).map(|pitch| {
            joined([joined([pitch, self.in_tune(stage)], " "), Sentence::words(", ")], "")
        });
        let kind = stage.kind.map(|kind| self.words().kind(&code(kind))).unwrap_or_default();
        let manners = self
            .manners(stage)
            .into_iter()
            .map(|manner| joined([Sentence::words("; "), manner], ""));
        self.say(
            crowed,
            &[
                ("crows", crows.into()),
                ("pitch", pitch.unwrap_or_default().into()),
                ("kind", kind.into()),
                ("manners", joined(manners, "").into()),
            ],
        )
    }

    /// How far a stage is off its target, or its frequency where there is none.
    fn pitch(&self, stage: &Stage) -> Option<Sentence> {
        let target = self.told.profile.lowest_note();
        let Some((off, target)) = stage.target_cents.zip(target) else {
            let hz = self.words().number(stage.hz?, 1);
            return Some(self.say("hertz", &[("hz", figure(hz))]));
        };
        let note = target.octaves_up(octaves_off(stage, Some(target))).to_string();
        let cents = whole(off);
        let key = match cents {
            0 => "on-note",
            ..0 => "flat",
            _ => "sharp",
        };
        let cents = figure(cents.unsigned_abs().to_string());
        Some(self.say(key, &[("cents", cents), ("note", note.into())]))
    }

    /// Whether a crow of one tone in its own octave counts as in tune, in brackets; empty of others.
    fn in_tune(&self, stage: &Stage) -> Sentence {
        let one_tone = matches!(stage.kind, Some(Kind::Octaves | Kind::Blended | Kind::Single));
        let target = self.told.profile.lowest_note();
        let Some(off) = stage.target_cents.filter(|_| one_tone && octaves_off(stage, target) == 0)
        else {
            return Sentence::default();
        };
        let limit = self.told.profile.tolerance.target_cents;
        let key = if off.abs() <= limit { "in-tune" } else { "out-of-tune" };
        let said = self.say(key, &[("cents", figure(self.words().number(limit, 0)))]);
        joined([Sentence::words("("), said, Sentence::words(")")], "")
    }

    /// What besides pitch and octaves is plain to hear.
    fn manners(&self, stage: &Stage) -> Vec<Sentence> {
        let Some(all) = pooled(&self.history().readings_at(stage.number)) else {
            return Vec::new();
        };
        let (heard, lines) = (&all.summary.figures, &self.told.profile.advice);
        let over = |value: Option<f64>, limit: f64| value.filter(|value| *value > limit);
        let number = |value: f64, places| figure(self.words().number(value, places));
        let upper = octaves_off(stage, self.told.profile.lowest_note()) > 0;
        let late = over(heard.response.low_delay_s, lines.slow_low_s).filter(|_| !upper);
        let rattle = over(heard.steadiness.rattle_depth, lines.wild_rattle_depth / 2.0);
        [
            over(heard.response.onset_s, lines.slow_onset_s)
                .map(|s| self.say("slow", &[("seconds", number(s, 2))])),
            late.map(|s| self.say("late-low", &[("seconds", number(s, 2))])),
            over(heard.steadiness.spread_cents, lines.unsteady_cents)
                .map(|cents| self.say("wanders", &[("cents", number(cents, 0))])),
            figures::turns_a_second(heard, &self.told.profile)
                .map(|times| self.say("take-turns", &[("times", number(times, 1))])),
            heard
                .steadiness
                .rattle_hz
                .filter(|_| rattle.is_some())
                .map(|hz| self.say("rattles", &[("hz", number(hz, 0))])),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn done(&self) -> Vec<Item> {
        let reach = self.reach();
        let mut items = Vec::new();
        for logged in &self.history().steps {
            let note = logged
                .step
                .note
                .as_deref()
                .map(|note| self.say("note", &[("note", capital(&noted(note)).into())]));
            let Some((cut, number)) = logged.step.cut.zip(logged.number) else {
                items.extend(note.map(Item::from));
                continue;
            };
            let place = self.facts.way.iter().position(|phase| phase.stage.number == number);
            let pair = place.and_then(|at| Some((self.facts.way.get(at.checked_sub(1)?)?, at)));
            let pair = pair.and_then(|(before, at)| Some((before, self.facts.way.get(at)?)));
            let mut said = self.say(
                "step",
                &[
                    ("number", number.to_string().into()),
                    ("date", figure(self.manner.day(&logged.at))),
                    ("done", self.did(cut, logged.step.amount_mm).into()),
                ],
            );
            if let Some(note) = note {
                said = said.and(note);
            }
            for changed in
                pair.map(|(before, after)| self.changed(before, after)).into_iter().flatten()
            {
                said = said.and(changed);
            }
            let picture = pair.and_then(|(before, after)| self.picture(before, after, reach));
            items.push(Item { sentence: said, picture });
        }
        if items.is_empty() {
            items.push(self.say("nothing-done", &[]).into());
        }
        items
    }

    fn did(&self, cut: Cut, amount_mm: Option<f64>) -> Sentence {
        let amount = amount_mm.map(|mm| figure(self.manner.length(mm)));
        let amount = amount.unwrap_or_else(|| "".into());
        self.words().cut(&code(cut), &[("amount", amount)])
    }

    /// What one step changed.
    fn changed(&self, before: &Phase, after: &Phase) -> Vec<Sentence> {
        let Some(changed) = &after.changed else {
            let said = match (before.stage.crows, after.stage.takes, after.stage.crows) {
                (0, _, 1..) if before.stage.takes > 0 => Some("crow-came"),
                (1.., 0, _) => Some("not-crowed"),
                _ => None,
            };
            return said.map(|key| self.say(key, &[])).into_iter().collect();
        };
        if after.stage.crows == 0 {
            return vec![self.say("crow-lost", &[])];
        }
        let mut said: Vec<Sentence> = Vec::new();
        if let Some((was, is)) = self.comparable(&before.stage, &after.stage) {
            let by = whole(is) - whole(was);
            let sure = changed.ci95_cents.is_some_and(|half| f64::from(by).abs() > half);
            said.extend(self.moved("pitch", by, sure, &before.stage, &after.stage));
        }
        match (changed.octaves_before, changed.octaves_after) {
            (false, true) => said.push(self.say("octaves-came", &[])),
            (true, false) => said.push(self.say("octaves-lost", &[])),
            _ => {}
        }
        said
    }

    /// Both pitches, where both sound in the same octave.
    fn comparable(&self, before: &Stage, after: &Stage) -> Option<(f64, f64)> {
        let target = self.told.profile.lowest_note();
        let alike = octaves_off(before, target) == octaves_off(after, target);
        before.target_cents.zip(after.target_cents).filter(|_| alike)
    }

    /// How the pitch went from one stage to another. It is told as it was crowed on both sides, and the
    /// change is the difference of the two, so that the figures agree with each other.
    fn moved(
        &self,
        which: &str,
        by: i32,
        sure: bool,
        before: &Stage,
        after: &Stage,
    ) -> Option<Sentence> {
        let matters = self.told.profile.smallest_change("fundamental.target_cents");
        let matters = matters.unwrap_or(SAME_CENTS);
        let key = match (f64::from(by.abs()) <= matters, sure) {
            (true, _) => "same",
            (false, false) => "unsure",
            (false, true) if by > 0 => "rose",
            (false, true) => "fell",
        };
        // Of the whole way nothing is said that is not sure.
        if which != "pitch" && key == "unsure" {
            return None;
        }
        Some(self.say(
            &format!("{which}-{key}"),
            &[
                ("cents", figure(by.abs().to_string())),
                ("before", self.pitch(before)?.into()),
                ("after", self.pitch(after)?.into()),
            ],
        ))
    }

    /// How far a step's picture reaches, the same for all of a reed.
    fn reach(&self) -> f64 {
        let furthest = self.facts.way.iter().filter_map(|phase| phase.stage.target_cents);
        let furthest = furthest.map(f64::abs).fold(REACH_CENTS, f64::max);
        (furthest / REACH_CENTS).ceil() * REACH_CENTS
    }

    fn picture(&self, before: &Phase, after: &Phase, reach: f64) -> Option<Drawing> {
        let (was, is) = self.comparable(&before.stage, &after.stage)?;
        let tolerance = self.told.profile.tolerance.target_cents;
        Some(pictures::step(was, is, tolerance, reach, self.words()))
    }

    fn ended(&self) -> Vec<Item> {
        let card = &self.history().reed.card;
        let mut said = Vec::new();
        let crowed: Vec<&Phase> = self.blown().filter(|phase| phase.stage.crows > 0).collect();
        if let ([first, .., last], Some((was, is))) = (
            crowed.as_slice(),
            crowed
                .first()
                .zip(crowed.last())
                .and_then(|(a, b)| self.comparable(&a.stage, &b.stage)),
        ) {
            let by = whole(is) - whole(was);
            // Of two stages the step between them says it already.
            let several = crowed.len() > 2;
            said.extend(
                several
                    .then(|| self.moved("over-all", by, true, &first.stage, &last.stage))
                    .flatten(),
            );
            if let (Some(before), Some(after)) = (first.stage.kind, last.stage.kind)
                && before != after
            {
                let kind = |kind| Value::from(self.words().kind(&code(kind)));
                said.push(
                    self.say("kind-changed", &[("before", kind(before)), ("after", kind(after))]),
                );
            }
            said.extend(self.manners_changed(first.stage.number, last.stage.number));
        }
        let last = self.blown().next_back().filter(|phase| phase.stage.number > 0);
        said.extend(last.map(|last| self.heard(last, "crowed-last", "blown-last")));
        said.extend(self.shortened());
        let ending = self.words().plain(match card.ending {
            None => "still-open",
            Some(Ending::Done) => "ending-done",
            Some(Ending::SentBack) => "ending-sent-back",
            Some(Ending::GivenUp) => "ending-given-up",
        });
        said.push(match &self.history().reed.ended_at {
            Some(at) => self.say(
                "ended-on",
                &[("ending", ending.into()), ("date", figure(self.manner.day(at)))],
            ),
            None => Sentence::words(ending),
        });
        if let Some(note) = &card.ending_note {
            said.push(self.say("in-makers-words", &[("note", noted(note).into())]));
        }
        said.into_iter().map(Item::from).collect()
    }

    /// What else changed for sure from one stage to another, and by what matters.
    fn manners_changed(&self, first: u32, last: u32) -> Vec<Sentence> {
        let readings = |stage| -> Vec<Reading> {
            self.history().readings_at(stage).into_iter().cloned().collect()
        };
        let compared = compare(&readings(first), &readings(last), &self.told.profile);
        let told = MANNERS.iter().filter_map(|(path, places)| {
            let mut changes = compared.changes.iter();
            let change = changes
                .find(|change| change.figure == *path && change.matters(&self.told.profile))?;
            let number = |value: f64| figure(self.words().number(value.abs(), *places));
            let key = format!("changed-{}", path.replace(['.', '_'], "-"));
            let values = [("before", number(change.before)), ("after", number(change.after))];
            Some(self.say(&key, &values))
        });
        told.collect()
    }

    fn shortened(&self) -> Option<Sentence> {
        let ruler_mm = self.told.profile.tolerance.measuring_mm;
        if !self.history().stages_of_doubted_length(ruler_mm).is_empty() {
            return None;
        }
        let first = self.facts.way.first()?.stage.length?;
        let last = self.facts.way.last()?.stage.length?;
        let (before, after) = (self.manner.length(first.mm), self.manner.length(last.mm));
        (first.mm > last.mm && before != after).then(|| {
            self.say("length-now", &[("before", figure(before)), ("after", figure(after))])
        })
    }

    fn is_left(&self, finding: &Finding) -> bool {
        self.told.left.iter().any(|left| left.fault == finding.fault)
    }

    fn is_given_up(&self) -> bool {
        self.history().reed.card.ending == Some(Ending::GivenUp)
    }

    fn next(&self) -> Vec<Item> {
        if self.told.findings.is_empty() {
            let looked = self.history().measurements.len() + self.history().inspections.len() > 0;
            let key = if looked { "nothing-to-change" } else { "nothing-looked" };
            return vec![self.say(key, &[]).into()];
        }
        let each = self.told.findings.iter().map(|finding| {
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

    /// What came of a fault, or can still be done about it; nothing more of a reed that was given up.
    fn on_this_one(&self, finding: &Finding) -> Option<Sentence> {
        let seen = self.history().seen_now();
        let sealed = matches!(finding.fault, Fault::LeakLow | Fault::LeakByHeart);
        match self.is_left(finding) {
            true if self.is_given_up() => None,
            true => {
                let now = self.of_fault(OfFault::Now, finding);
                Some(self.say("on-this-one", &[("now", now.into())]))
            }
            false if is_found_mended(finding.fault, &seen) => Some(self.say("mended", &[])),
            false if sealed => Some(self.say("sealed-unchecked", &[])),
            false => Some(self.say("worked-on", &[])),
        }
    }

    /// Its line in the table of several reeds.
    pub(super) fn row(&self) -> Vec<String> {
        let card = &self.history().reed.card;
        let words = self.words();
        let short = |stage: &Stage| -> String {
            match stage.target_cents.map(whole) {
                Some(cents) if octaves_off(stage, self.told.profile.lowest_note()) == 0 => {
                    let key = if cents < 0 { "short-flat" } else { "short-sharp" };
                    let value = ("cents", Value::from(cents.unsigned_abs().to_string()));
                    words.say(key, &[value]).text()
                }
                _ => self.pitch(stage).map(|pitch| pitch.text()).unwrap_or_default(),
            }
        };
        let crowed = || self.blown().filter(|phase| phase.stage.crows > 0);
        let last = crowed().next_back();
        let length = self.facts.way.last().and_then(|phase| phase.stage.length);
        let ending = match card.ending {
            None => "short-open",
            Some(Ending::Done) => "short-done",
            Some(Ending::SentBack) => "short-sent-back",
            Some(Ending::GivenUp) => "short-given-up",
        };
        vec![
            card.label.clone(),
            self.manner.day(&self.history().reed.at),
            self.facts.cuts().to_string(),
            crowed().next().map(|phase| short(&phase.stage)).unwrap_or_default(),
            last.map(|phase| short(&phase.stage)).unwrap_or_default(),
            last.and_then(|phase| phase.stage.kind)
                .map(|kind| words.kind(&code(kind)))
                .unwrap_or_default(),
            length.map(|length| self.manner.length(length.mm)).unwrap_or_default(),
            words.plain(ending),
        ]
    }
}

/// What to take care of, once for all reeds.
pub(super) fn care(reeds: &[Reed<'_>], words: &Words) -> Vec<Item> {
    let any = |is: &dyn Fn(&Reed<'_>) -> bool| reeds.iter().any(is);
    let cuts = |reed: &Reed<'_>, is: fn(Cut) -> bool| {
        reed.history().steps.iter().any(|logged| logged.step.cut.is_some_and(is))
    };
    let of_use = |reed: &Reed<'_>| !reed.is_given_up();
    // By the last look, whatever was cut since: a clip may leave a splinter.
    let chipped = |reed: &Reed<'_>| {
        let corners = reed.history().seen().into_iter().rev().find_map(|seen| seen.now.corners);
        corners == Some(Corners::Chipped)
    };
    let crowed = any(&|reed| !reed.history().takes.is_empty());
    let keys = [
        Some(if crowed { "care-mouth-crowed" } else { "care-mouth" }),
        any(&chipped).then_some("care-chipped"),
        any(&|reed| of_use(reed) && cuts(reed, Cut::takes_cane)).then_some("care-fresh"),
        any(&of_use).then_some("care-scraping"),
        any(&|reed| cuts(reed, |cut| cut.of() == Move::Seal)).then_some("care-sealed"),
    ];
    keys.into_iter().flatten().map(|key| words.say(key, &[]).into()).collect()
}

/// Looks that were in order, by their names among the words; faults are told by the findings.
fn in_order(seen: &Inspection) -> Vec<&'static str> {
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

/// Cents as they are shown.
fn whole(cents: f64) -> i32 {
    cents.round() as i32
}

/// Words as they were written, on one line, without a full stop at their end.
fn noted(text: &str) -> String {
    crate::report::format::one_line(text).trim_end_matches('.').to_owned()
}

/// With a capital at its head.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}
