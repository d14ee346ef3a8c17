//! An invented season at Linden Lane Reeds: makers, canes, weather, and what cuts do by a rule that the
//! log is not told. As an export, so that it reads back like any other.

use reedcrow::log::{
    Card, Conditions, Ending, ExportHead, ExportedAudit, ExportedChange, ExportedReed, ExportedRow,
    LoggedReading, LoggedReed, LoggedStep, LoggedTake, PROGRAM, Step, Wetness,
};
use reedcrow::reading::{Crow, Figures, Kind, Reading};
use reedcrow::reed::Cut;
use serde_json::{Map, Value, json};

/// Cents up for each millimetre clipped, by cane: what the log should find.
pub const CENTS_PER_MM: [(&str, f64); 3] =
    [("Brook, batch 4", 120.0), ("Fen, batch 2", 80.0), ("Harbour", 150.0)];
/// Cents for each degree: what the log should find.
pub const CENTS_PER_DEGREE: f64 = 2.0;

const MAKERS: [&str; 3] = ["Vera Quill", "Tobias Marsh", "Ines Rook"];
const OWNERS: [&str; 5] = ["Mirek Novák", "Anouk", "Ilse", "Bram", "Zoë & Co."];
const SHAPES: [&str; 3] = ["heron", "plover", "-1"];

/// Numbers without order, the same for the same seed (a linear congruential generator, Knuth's MMIX
/// constants, from memory).
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    /// About normal, mean 0, standard deviation 1: the sum of twelve even numbers less six.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }

    fn one<'a>(&mut self, of: &[&'a str]) -> &'a str {
        of[((self.even() * of.len() as f64) as usize).min(of.len() - 1)]
    }
}

/// The lines of an export of such a season, made one after the other.
///
/// * `reeds`: how many.
/// * `takes`: about how many takes each has besides those between its cuts.
pub fn lines(reeds: usize, takes: usize, seed: u64) -> impl Iterator<Item = String> {
    let mut chance = Chance(seed);
    let head = serde_json::to_string(&ExportHead::of(reeds)).unwrap();
    let reeds = (0..reeds).map(move |number| Work::of(number, reeds, takes, &mut chance).reed);
    let lines = reeds.map(|reed| serde_json::to_string(&reed).unwrap());
    std::iter::once(head).chain(lines).map(|line| line + "\n")
}

/// One reed in work: where it stands, and what was written down of it.
struct Work {
    reed: ExportedReed,
    minute: i64,
    cents: f64,
    octaves: bool,
    takes: u32,
    cuts: u32,
}

/// Minutes from the beginning of 2026 as the log writes a moment.
fn moment(minute: i64, milli: usize) -> String {
    let start: jiff::Timestamp = "2026-01-05T08:00:00Z".parse().unwrap();
    let at = start + jiff::SignedDuration::from_mins(minute);
    at.strftime("%Y-%m-%dT%H:%M:%S").to_string() + &format!(".{:03}Z", milli % 1000)
}

/// A year's temperature in the workshop, in degrees.
fn temperature(minute: i64, chance: &mut Chance) -> f64 {
    let year = minute as f64 / 525_600.0 * std::f64::consts::TAU;
    ((18.0 - 5.0 * year.cos() + 1.5 * chance.normal()) * 2.0).round() / 2.0
}

impl Work {
    fn of(number: usize, all: usize, more_takes: usize, chance: &mut Chance) -> Self {
        let minute = (number * 400_000 / all.max(1)) as i64;
        let cane = (chance.even() * 3.0) as usize % 3;
        let (cane_name, per_mm) = CENTS_PER_MM[cane];
        let card = Card {
            owner: Some(chance.one(&OWNERS).into()),
            maker: Some(chance.one(&MAKERS).into()),
            // Typed as people type.
            cane: Some(if number % 7 == 3 { cane_name.to_uppercase() } else { cane_name.into() }),
            shape: Some(chance.one(&SHAPES).into()),
            gouge_mm: Some(0.58 + 0.01 * (chance.even() * 3.0).floor()),
            ..Card::new(format!("reed {:04}", number + 1))
        };
        let reed = LoggedReed {
            uid: format!("{:032x}", number as u128 + 1),
            at: moment(minute, number),
            card,
            ended_at: None,
            conditions: None,
            conditions_at: None,
        };
        let uid = reed.uid.clone();
        let mut work = Self {
            reed: ExportedReed { uid, tables: Default::default(), changes: Vec::new() },
            minute,
            cents: -55.0 + 22.0 * chance.normal(),
            octaves: chance.even() < 0.4,
            takes: 0,
            cuts: 0,
        };
        work.write("reed", "new reed", row(&reed), None);
        work.measured(70.6 + 0.4 * chance.normal());
        work.take(None, chance);
        for _ in 0..3 + (chance.even() * 8.0) as usize {
            if work.cents.abs() < 10.0 && work.octaves {
                break;
            }
            work.cut(per_mm, chance);
            work.take(None, chance);
        }
        for hour in 1..=more_takes {
            work.minute += 1440;
            work.take(Some(hour as f64), chance);
        }
        let ending = match () {
            // Nobody had time for the last ones.
            () if number + 6 > all => None,
            () if !work.octaves || cane == 1 && chance.even() < 0.35 => Some(Ending::GivenUp),
            () if number.is_multiple_of(3) => Some(Ending::SentBack),
            () => Some(Ending::Done),
        };
        if ending.is_some() {
            work.minute += 60;
            let ended_at = Some(moment(work.minute, 0));
            let closed =
                LoggedReed { card: Card { ending, ..reed.card.clone() }, ended_at, ..reed };
            work.rewrite_card(row(&closed));
        }
        work
    }

    fn cut(&mut self, per_mm: f64, chance: &mut Chance) {
        self.minute += 20;
        self.cuts += 1;
        let step = if self.cents < -15.0 {
            let mm = (0.1 + 0.25 * chance.even() * (-self.cents / 60.0).min(1.4)) * 20.0;
            let mm = mm.round() / 20.0;
            self.cents += per_mm * mm + 6.0 * chance.normal();
            // A clip now and then costs the octaves.
            self.octaves &= chance.even() > 0.06;
            Step::new(Cut::Clip, Some(mm))
        } else {
            self.cents += -9.0 + 5.0 * chance.normal();
            self.octaves |= chance.even() < 0.55;
            let cut = [Cut::TipSides, Cut::TipCorners, Cut::TipStep, Cut::HeartSides];
            Step::new(cut[(chance.even() * 4.0) as usize % 4], None)
        };
        let number = Some(self.cuts);
        let at = moment(self.minute, 1);
        let logged = LoggedStep { at, number, step, advised: None };
        self.write("step", &logged.step.to_string(), row(&logged), None);
    }

    fn measured(&mut self, length_mm: f64) {
        let length_mm = (length_mm * 10.0).round() / 10.0;
        let measured = json!({
            "after_step": 0, "at": moment(self.minute, 2), "state": "wet",
            "measurements": { "length_mm": length_mm, "staple_mm": 47.0, "tip_start_mm": 66.1 }
        });
        self.write("measurement", "measure length", object(measured), None);
    }

    fn take(&mut self, hours_played: Option<f64>, chance: &mut Chance) {
        self.minute += 5;
        self.takes += 1;
        let degrees = temperature(self.minute, chance);
        let conditions = Conditions {
            state: Some(Wetness::Wet),
            soaked_min: Some((2.0 + 3.0 * chance.even()).round()),
            temperature_c: Some(degrees),
            humidity_percent: Some((45.0 + 8.0 * chance.normal()).clamp(20.0, 90.0).round()),
            hours_played,
            ..Conditions::default()
        };
        let warm = CENTS_PER_DEGREE * (degrees - 18.0);
        let crows = (0..3).map(|_| self.crow(warm + 3.0 * chance.normal())).collect();
        let reading = Reading::of_crows("american-oboe".into(), 440.0, crows);
        let number = self.takes;
        let at = moment(self.minute, 3);
        let take = LoggedTake {
            number,
            after_step: self.cuts,
            at: at.clone(),
            sha256: format!(
                "{:032x}{number:032x}",
                u128::from_str_radix(&self.reed.uid, 16).unwrap()
            ),
            bytes: 0,
            source: "laptop".into(),
            conditions: Some(conditions),
        };
        let logged = LoggedReading { at, program: PROGRAM.into(), reading, advice: None };
        let mut reading = row(&logged);
        reading.insert("take_id".into(), number.into());
        self.write("take", &format!("take {number}"), row(&take), Some(("reading", reading)));
    }

    fn crow(&self, off: f64) -> Crow {
        let cents = self.cents + off;
        let mut figures = Figures { level_dbfs: Some(-20.0), ..Figures::default() };
        figures.fundamental.hz = Some(523.251 * (cents / 1200.0).exp2());
        figures.fundamental.target_cents = Some(cents);
        figures.fundamental.ci95_cents = Some(1.0);
        figures.fundamental.register = Some(0);
        figures.alignment.cents = Some(if self.octaves { 0.4 } else { 22.0 });
        let kind = if self.octaves { Kind::Octaves } else { Kind::Split };
        Crow { start_s: 0.2, end_s: 1.4, kind, figures }
    }

    /// Writes a row, and with it the change that made it.
    fn write(&mut self, table: &str, what: &str, row: Row, with: Option<(&str, Row)>) {
        let at = row.get("at").and_then(Value::as_str).unwrap_or_default().to_owned();
        let rows = [(table, row)].into_iter().chain(with);
        let rows = rows.map(|(table, mut row)| {
            if table != "reed" {
                row.insert("reed_id".into(), 1.into());
            }
            let kept = self.reed.tables.entry(table.to_owned()).or_default();
            let after = ExportedRow { gone: false, row };
            kept.push(after.clone());
            ExportedAudit { table: table.to_owned(), key: kept.len(), before: None, after }
        });
        let rows = rows.collect();
        let change = ExportedChange {
            at,
            program: PROGRAM.into(),
            what: what.to_owned(),
            undoes: None,
            rows,
        };
        self.reed.changes.push(change);
    }

    fn rewrite_card(&mut self, row: Row) {
        let after = ExportedRow { gone: false, row };
        let cards = self.reed.tables.entry("reed".into()).or_default();
        let before = cards.first().cloned();
        *cards = vec![after.clone()];
        self.reed.changes.push(ExportedChange {
            at: moment(self.minute, 4),
            program: PROGRAM.into(),
            what: "close".into(),
            undoes: None,
            rows: vec![ExportedAudit { table: "reed".into(), key: 1, before, after }],
        });
    }
}

type Row = Map<String, Value>;

fn object(value: Value) -> Row {
    match value {
        Value::Object(row) => row,
        _ => Row::new(),
    }
}

fn row(record: &impl serde::Serialize) -> Row {
    object(serde_json::to_value(record).unwrap())
}
