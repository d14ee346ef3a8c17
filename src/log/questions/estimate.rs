//! Middles and shares over reeds, with how well they are known.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::dsp::statistics::{NORMAL_95, mean, median, sample_sd, t_975};

/// Under this many a difference is not judged (our choice: with four on a side only a difference of
/// all against none passes the 95 % line of shares).
pub(super) const FEWEST: usize = 5;

/// Values over reeds or cuts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Middle {
    /// How many.
    pub count: usize,
    /// The middle value.
    pub median: f64,
    /// Their mean.
    pub mean: f64,
    /// Half width of the mean's 95 % interval (Student's t); `None` under three.
    pub ci95: Option<f64>,
    /// Sample standard deviation; `None` under two.
    pub sd: Option<f64>,
}

impl Middle {
    /// `None` of no values.
    pub fn of(values: &[f64]) -> Option<Self> {
        let sd = sample_sd(values);
        let half = |sd: f64| t_975(values.len() as f64 - 1.0) * sd / (values.len() as f64).sqrt();
        Some(Self {
            count: values.len(),
            median: median(values.iter().copied())?,
            mean: mean(values)?,
            ci95: sd.filter(|_| values.len() >= 3).map(half),
            sd,
        })
    }
}

/// How many of how many.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Share {
    /// Those that are.
    pub count: usize,
    /// Of all these.
    pub of: usize,
    /// Lower end of the share's 95 % interval, 0 … 1 (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927,
    /// 209-212, from memory).
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Share {
    /// `None` of none.
    pub fn of(is: impl IntoIterator<Item = bool>) -> Option<Self> {
        let (mut count, mut of) = (0, 0);
        for is in is {
            count += usize::from(is);
            of += 1;
        }
        Self::counted(count, of)
    }

    fn counted(count: usize, of: usize) -> Option<Self> {
        (of > 0).then(|| {
            let (low, high) = wilson(count, of);
            Self { count, of, low, high }
        })
    }

    /// The share of those that are in `all` and not in `some`, a part of them; `None` of none.
    pub(super) fn of_others(all: Option<Self>, some: Option<Self>) -> Option<Self> {
        let counts = |share: Option<Self>| share.map_or((0, 0), |share| (share.count, share.of));
        let ((count, of), (here, of_here)) = (counts(all), counts(some));
        Self::counted(count.saturating_sub(here), of.saturating_sub(of_here))
    }

    /// 0 … 1.
    pub fn share(&self) -> f64 {
        self.count as f64 / self.of as f64
    }
}

fn wilson(count: usize, of: usize) -> (f64, f64) {
    let (n, p, z2) = (of as f64, count as f64 / of as f64, NORMAL_95 * NORMAL_95);
    let middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = NORMAL_95 * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt() / (1.0 + z2 / n);
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

/// What a difference between some and all others tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Told {
    /// More than the others have.
    More,
    /// Less than the others have.
    Less,
    /// Too few, or the interval of the difference holds 0.
    CannotTell,
}

/// How many values, their mean, and the sum of squares about it: what is needed to take a part from the
/// whole without going through all others for each part.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Moments {
    count: usize,
    mean: f64,
    squares: f64,
}

impl Moments {
    pub(super) fn of(values: &[f64]) -> Self {
        let Some(mean) = mean(values) else { return Self::default() };
        let squares = values.iter().map(|value| (value - mean).powi(2)).sum();
        Self { count: values.len(), mean, squares }
    }

    /// Of those that are not in `part` (Chan, Golub & LeVeque, The American Statistician 37, 1983,
    /// 242-247, from memory, solved for one of the parts).
    pub(super) fn without(self, part: Self) -> Self {
        let count = self.count.saturating_sub(part.count);
        if count == 0 {
            return Self::default();
        }
        let (all, some, others) = (self.count as f64, part.count as f64, count as f64);
        let mean = (all * self.mean - some * part.mean) / others;
        let between = (mean - part.mean).powi(2) * some * others / all;
        Self { count, mean, squares: (self.squares - part.squares - between).max(0.0) }
    }
}

/// Whether the values of some differ from those of the others: Welch's interval of the difference of
/// means (Biometrika 34, 1947, 28-35, from memory).
pub(super) fn compare_means(some: Moments, others: Moments) -> Told {
    if some.count < FEWEST || others.count < FEWEST {
        return Told::CannotTell;
    }
    let (a, na, b, nb) = (some.mean, some.count as f64, others.mean, others.count as f64);
    let (va, vb) = (some.squares / (na - 1.0) / na, others.squares / (nb - 1.0) / nb);
    let total = va + vb;
    if !(total > 0.0) {
        return Told::CannotTell;
    }
    let freedom = total * total / (va * va / (na - 1.0) + vb * vb / (nb - 1.0));
    told(a - b, t_975(freedom) * total.sqrt())
}

/// Whether a share differs from that of the others: Newcombe's interval of the difference, from
/// Wilson's of each (R. G. Newcombe, Statistics in Medicine 17, 1998, 873-890, method 10, from memory).
pub(super) fn compare_shares(some: Option<Share>, others: Option<Share>) -> Told {
    let (Some(a), Some(b)) = (some, others) else { return Told::CannotTell };
    if a.of < FEWEST || b.of < FEWEST {
        return Told::CannotTell;
    }
    let difference = a.share() - b.share();
    let low = difference - (a.share() - a.low).hypot(b.high - b.share());
    let high = difference + (a.high - a.share()).hypot(b.share() - b.low);
    if low > 0.0 {
        Told::More
    } else if high < 0.0 {
        Told::Less
    } else {
        Told::CannotTell
    }
}

fn told(difference: f64, half: f64) -> Told {
    if difference > half {
        Told::More
    } else if difference < -half {
        Told::Less
    } else {
        Told::CannotTell
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wilson's interval of 2 of 10 and 0 of 5 (reckoned by hand from the formula: 0.0567 to 0.5098,
    /// and 0 to 0.4345).
    #[test]
    fn shares_have_wilsons_interval() {
        let share = |count: usize, of: usize| Share::of((0..of).map(|n| n < count)).unwrap();
        let two = share(2, 10);
        assert!((two.low - 0.0567).abs() < 1e-4 && (two.high - 0.5098).abs() < 1e-4, "{two:?}");
        let none = share(0, 5);
        assert!(none.low == 0.0 && (none.high - 0.4345).abs() < 1e-4, "{none:?}");
        assert_eq!(Share::of([]), None);
    }

    /// Newcombe 1998, table II (from memory): 56/70 against 48/80, method 10: 0.0524 to 0.3339.
    #[test]
    fn shares_differ_where_newcombes_interval_leaves_out_0() {
        let share = |count: usize, of: usize| Share::of((0..of).map(|n| n < count));
        assert_eq!(compare_shares(share(56, 70), share(48, 80)), Told::More);
        assert_eq!(compare_shares(share(48, 80), share(56, 70)), Told::Less);
        assert_eq!(compare_shares(share(9, 10), share(3, 10)), Told::More);
        assert_eq!(compare_shares(share(6, 10), share(4, 10)), Told::CannotTell);
        assert_eq!(compare_shares(share(4, 4), share(0, 40)), Told::CannotTell);
    }

    #[test]
    fn means_differ_where_welchs_interval_leaves_out_0() {
        let low = Moments::of(&[1.0, 2.0, 3.0, 2.0, 1.0, 2.0]);
        let high = Moments::of(&[6.0, 7.0, 5.0, 6.0, 7.0, 6.0]);
        assert_eq!(compare_means(low, high), Told::Less);
        assert_eq!(compare_means(high, low), Told::More);
        assert_eq!(compare_means(low, low), Told::CannotTell);
        assert_eq!(compare_means(Moments::of(&[1.0, 2.0, 3.0, 2.0]), high), Told::CannotTell);
    }

    /// Against the same values gone through one by one.
    #[test]
    fn what_is_left_of_all_without_some_is_as_if_it_had_been_gone_through() {
        let (some, others) = ([310.0, 290.5, 300.25], [-4.0, 17.5, 9.0, 2.25]);
        let all = Moments::of(&[&some[..], &others].concat());
        let (left, plain) = (all.without(Moments::of(&some)), Moments::of(&others));
        assert_eq!(left.count, plain.count);
        assert!((left.mean - plain.mean).abs() < 1e-9, "{left:?}");
        assert!((left.squares - plain.squares).abs() < 1e-7, "{left:?}, {plain:?}");
        assert_eq!(all.without(all).count, 0);
        let share = |count: usize, of: usize| Share::of((0..of).map(|n| n < count));
        assert_eq!(Share::of_others(share(5, 9), share(2, 4)), share(3, 5));
        assert_eq!(Share::of_others(share(2, 4), share(2, 4)), None);
    }

    /// t of 2 degrees of freedom at 97.5 %: 4.303 (any table).
    #[test]
    fn a_mean_of_three_has_an_interval_and_of_two_none() {
        let three = Middle::of(&[1.0, 2.0, 3.0]).unwrap();
        assert!((three.ci95.unwrap() - 4.303 / 3f64.sqrt()).abs() < 1e-3, "{three:?}");
        assert_eq!(Middle::of(&[1.0, 2.0]).unwrap().ci95, None);
        assert_eq!(Middle::of(&[]), None);
    }
}
