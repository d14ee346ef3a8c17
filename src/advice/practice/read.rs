//! Tables of practice read from text, and what is checked of them.

use std::hash::{DefaultHasher, Hash, Hasher};

use super::{Cause, Practice};

/// Why tables cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PracticeError {
    /// Not TOML of this form.
    Form {
        /// The line, counted from 1, where that is known.
        line: Option<usize>,
        /// What the reader of TOML says.
        says: String,
    },
    /// A cause without a table.
    NoCause(String),
    /// A number that cannot be.
    Range {
        /// Its key.
        path: String,
        /// As given.
        number: f64,
        /// Least allowed value.
        least: f64,
        /// Greatest allowed value.
        most: f64,
    },
    /// Shares that do not add up to 1.
    Shares {
        /// Of which cause.
        cause: String,
        /// What they add up to.
        sum: f64,
    },
    /// A number that must be over 0.
    NotPositive {
        /// Its key.
        path: &'static str,
        /// As given.
        number: f64,
    },
}

impl std::str::FromStr for Practice {
    type Err = PracticeError;

    /// Errors: no TOML of this form, a cause that is missing, a number that cannot be.
    fn from_str(text: &str) -> Result<Self, PracticeError> {
        let refused = |error: &toml::de::Error| PracticeError::Form {
            line: error.span().map(|span| text[..span.start].matches('\n').count() + 1),
            says: error.message().replace('\n', " "),
        };
        let all: toml::Value = toml::from_str(text).map_err(|error| refused(&error))?;
        check_numbers("", &all)?;
        let mut practice: Self = toml::from_str(text).map_err(|error| refused(&error))?;
        let found = |cause: &Cause| {
            let missing = || PracticeError::NoCause(format!("{cause:?}"));
            practice.cause.get(cause).cloned().ok_or_else(missing)
        };
        practice.in_order = Cause::ALL.iter().map(found).collect::<Result<_, _>>()?;
        practice.check()?;
        // Tables written before they said what work is for.
        if practice.proposed().next().is_none() {
            for (cut, work) in &mut practice.work {
                work.r#for = Self::built_in().work(*cut).and_then(|known| known.r#for);
            }
        }
        let mut hasher = DefaultHasher::new();
        text.hash(&mut hasher);
        practice.fingerprint = hasher.finish();
        Ok(practice)
    }
}

/// No number of these tables is larger.
const LARGEST: f64 = 1000.0;

/// Numbers that are chances or shares, by their key.
const SHARES: [&str; 15] = [
    "chance",
    "blocks",
    "late",
    "mended",
    "seen",
    "mistaken",
    "slip",
    "alike",
    "spoils",
    "stop",
    "sharp_at_most",
    "move_costs",
    "ask_costs",
    "cut_costs",
    "vain_costs",
];

/// Errors: a number that is none, is too large, or is a share over 1 or under 0.
fn check_numbers(path: &str, value: &toml::Value) -> Result<(), PracticeError> {
    let number = match value {
        toml::Value::Table(table) => {
            return table
                .iter()
                .try_for_each(|(key, value)| check_numbers(&format!("{path}.{key}"), value));
        }
        toml::Value::Float(number) => *number,
        toml::Value::Integer(number) => *number as f64,
        _ => return Ok(()),
    };
    let path = path.trim_start_matches('.');
    let key = path.rsplit('.').next().unwrap_or_default();
    // How gradual a border is goes by the same word as a share of late octaves.
    let is_share = (SHARES.contains(&key) && path != "crow.late") || path.contains(".mends.");
    let (least, most) = match () {
        () if is_share => (0.0, 1.0),
        () if key.contains("_sd") || key == "sd" || path == "crow.slope" => (0.001, LARGEST),
        () => (-LARGEST, LARGEST),
    };
    match (least..=most).contains(&number) {
        true => Ok(()),
        false => Err(PracticeError::Range { path: path.to_owned(), number, least, most }),
    }
}

impl Practice {
    fn check(&self) -> Result<(), PracticeError> {
        for (cause, of) in Cause::ALL.iter().zip(&self.in_order) {
            let sum: f64 = of.kinds.each().iter().sum();
            if (sum - 1.0).abs() > 1e-6 || of.kinds.each().iter().any(|share| *share < 0.0) {
                return Err(PracticeError::Shares { cause: format!("{cause:?}"), sum });
            }
        }
        let positive = [
            ("crow.bears", self.crow.bears),
            ("crow.cents", self.crow.cents),
            ("clip.cents_per_mm", self.clip.cents_per_mm),
            ("clip.restores_per_mm", self.clip.restores_per_mm),
            ("clip.longest_mm", self.clip.longest_mm),
            ("hand.tip_bears", self.hand.tip_bears),
            ("hand.heart_bears", self.hand.heart_bears),
            ("hand.back_bears", self.hand.back_bears),
        ];
        match positive.into_iter().find(|(_, number)| *number <= 0.0) {
            Some((path, number)) => Err(PracticeError::NotPositive { path, number }),
            None => Ok(()),
        }
    }
}
