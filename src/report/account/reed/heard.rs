//! What a reed sounded like between two cuts.

use super::{Reed, code, noted, whole};
use crate::log::{Conditions, Phase, Stage, Wetness};
use crate::reading::{Kind, pooled};
use crate::report::account::figure;
use crate::words::account::{Sentence, joined};
use crate::words::stage::{is_upper, octaves_off};

impl Reed<'_> {
    /// What a stage sounded like.
    pub(super) fn heard(&self, phase: &Phase, crowed: &str, blown: &str) -> Sentence {
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
            let pitch = self.of_which(pitch, stage);
            joined([joined([pitch, self.in_tune(stage)], " "), Sentence::words(", ")], "")
        });
        let manners = self
            .manners(stage)
            .into_iter()
            .map(|manner| joined([Sentence::words("; "), manner], ""));
        self.say(
            crowed,
            &[
                ("crows", crows.into()),
                ("pitch", pitch.unwrap_or_default().into()),
                ("kind", self.kinds(stage).into()),
                ("manners", joined(manners, "").into()),
            ],
        )
    }

    /// The kind of most of a stage's crows, of one tone which; as the maker hears it, where that was said.
    pub(super) fn kind(&self, stage: &Stage) -> Option<String> {
        let kind = self.kind_word(stage.kind?, is_upper(stage, self.told.profile.lowest_note()));
        Some(match stage.named {
            Some(_) => self.say("kind-heard", &[("kind", kind.into())]).text(),
            None => kind,
        })
    }

    fn kind_word(&self, kind: Kind, is_upper: bool) -> String {
        match kind {
            Kind::Single if is_upper => self.words().kind("upper-alone"),
            kind => self.words().kind(&code(kind)),
        }
    }

    /// How many of its crows are of which kind, where they differ.
    fn kinds(&self, stage: &Stage) -> Sentence {
        let most = self.kind(stage).unwrap_or_default();
        let [first, others @ ..] = stage.kinds.as_slice() else { return Sentence::words(most) };
        if others.is_empty() {
            return Sentence::words(most);
        }
        let is_upper = octaves_off(stage, self.told.profile.lowest_note()) > 0;
        let count = |count: usize| figure(count.to_string());
        let first = self.say(
            "kind-of-most",
            &[("count", count(first.count)), ("all", count(stage.crows)), ("kind", most.into())],
        );
        let others = others.iter().map(|of| {
            let kind = self.kind_word(of.kind, is_upper);
            self.say("kind-of-others", &[("count", count(of.count)), ("kind", kind.into())])
        });
        joined(std::iter::once(first).chain(others), ", ")
    }

    /// A pitch, and by how many of its crows, where not all hold a tone.
    fn of_which(&self, pitch: Sentence, stage: &Stage) -> Sentence {
        if !(1..stage.crows).contains(&stage.pitched) {
            return pitch;
        }
        let key = if stage.pitched == 1 { "pitch-of-one" } else { "pitch-of-some" };
        let count = figure(stage.pitched.to_string());
        self.say(key, &[("pitch", pitch.into()), ("count", count)])
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

    /// How far a stage is off its target, or its frequency where there is none.
    pub(super) fn pitch(&self, stage: &Stage) -> Option<Sentence> {
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
            heard
                .turns_a_second(&self.told.profile)
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
}
