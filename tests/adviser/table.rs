//! The figures of many plays, and their tables.

use crate::play::Played;
use crate::reed::Complaint;
use reedcrow::advice::Move;

fn share(count: usize, of: usize) -> f64 {
    count as f64 / of.max(1) as f64
}

fn middle(mut each: Vec<f64>) -> f64 {
    each.sort_by(f64::total_cmp);
    each.get(each.len() / 2).copied().unwrap_or(f64::NAN)
}

/// What is counted over plays; shares 0 … 1.
#[derive(Debug, Clone)]
pub struct Tally {
    pub plays: usize,
    pub saved: f64,
    pub ruined: f64,
    pub endless: f64,
    /// Of those past help from the start that no luck put in order, told to stop.
    pub stopped: f64,
    pub made_worse: f64,
    /// Times each was crowed, on average.
    pub rounds: f64,
    /// Looks and measurements asked for.
    pub questions: f64,
}

pub fn tally(all: &[Played]) -> Tally {
    let count = |holds: &dyn Fn(&&Played) -> bool| all.iter().filter(holds).count();
    let savable = |played: &&Played| played.complaint.can_be_saved();
    let lost = |played: &&Played| !savable(played) && !played.is_good;
    let good = |played: &&Played| played.complaint == Complaint::Good;
    Tally {
        plays: all.len(),
        saved: share(count(&|p| savable(p) && p.is_good), count(&savable)),
        ruined: share(count(&|p| p.is_ruined), all.len()),
        endless: share(count(&|p| p.ended.is_none()), all.len()),
        stopped: share(count(&|p| lost(p) && p.ended == Some(Move::Stop)), count(&lost)),
        made_worse: share(count(&|p| good(p) && p.is_made_worse), count(&good)),
        rounds: share(all.iter().map(|played| played.rounds).sum(), all.len()),
        questions: share(all.iter().map(|played| played.questions).sum(), all.len()),
    }
}

/// What is counted over clips.
#[derive(Debug, Clone)]
pub struct Clips {
    pub count: usize,
    /// Median of what was proposed as a share of what was needed.
    pub of_need: f64,
    pub too_much: f64,
    pub not_flat: f64,
    pub foretold: usize,
    /// Of what was foretold so much lay in its 95 % interval.
    pub held: f64,
    /// Median error of what was foretold, in cents.
    pub error_cents: f64,
}

pub fn clips(all: &[Played]) -> Clips {
    let each: Vec<_> = all.iter().flat_map(|played| &played.clips).collect();
    let foretold: Vec<(bool, f64)> = each.iter().filter_map(|clip| clip.foretold).collect();
    let count = |holds: &dyn Fn(&crate::play::Clipped) -> bool| {
        each.iter().filter(|clip| holds(clip)).count()
    };
    let flat = each.iter().filter(|clip| clip.was_flat);
    Clips {
        count: each.len(),
        of_need: middle(flat.filter_map(|clip| clip.of_need).collect()),
        too_much: share(count(&|clip| clip.was_flat && clip.is_too_much), each.len()),
        not_flat: share(count(&|clip| !clip.was_flat), each.len()),
        foretold: foretold.len(),
        held: share(foretold.iter().filter(|one| one.0).count(), foretold.len()),
        error_cents: middle(foretold.iter().map(|one| one.1).collect()),
    }
}

/// What was said to be so likely, and how often it was so: lower and upper end, how many, mean of what
/// was said, share that came.
pub struct Bin {
    pub from: f64,
    pub to: f64,
    pub count: usize,
    pub said: f64,
    pub came: f64,
}

pub fn reliability(told: &[(f64, bool)]) -> Vec<Bin> {
    (0..5)
        .map(|bin| {
            let (from, to) = (0.2 * f64::from(bin), 0.2 * f64::from(bin + 1));
            let is_last = bin == 4;
            let within: Vec<_> =
                told.iter().filter(|one| one.0 >= from && (one.0 < to || is_last)).collect();
            let count = within.len();
            let said = within.iter().map(|one| one.0).sum::<f64>() / count.max(1) as f64;
            Bin { from, to, count, said, came: share(within.iter().filter(|o| o.1).count(), count) }
        })
        .collect()
}

/// Brier score: the mean square of what was said less what came.
pub fn brier(told: &[(f64, bool)]) -> f64 {
    let square = |(said, came): &(f64, bool)| (said - if *came { 1.0 } else { 0.0 }).powi(2);
    told.iter().map(square).sum::<f64>() / told.len().max(1) as f64
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// One row: a name and the figures of its plays.
pub fn row(name: &str, of: &Tally) -> String {
    format!(
        "| {name} | {} | {} | {} | {} | {} | {} | {:.1} | {:.1} |",
        of.plays,
        percent(of.saved),
        percent(of.ruined),
        percent(of.endless),
        percent(of.stopped),
        percent(of.made_worse),
        of.rounds,
        of.questions
    )
}

pub const HEAD: &str = "| who | reeds | saved | ruined | endless | past help, told to stop | good made worse | rounds | questions |\n\
                        | --- | --- | --- | --- | --- | --- | --- | --- | --- |";

pub fn clip_row(name: &str, of: &Clips) -> String {
    format!(
        "| {name} | {} | {:.2} | {} | {} | {} of {} | {:.1} |",
        of.count,
        of.of_need,
        percent(of.too_much),
        percent(of.not_flat),
        percent(of.held),
        of.foretold,
        of.error_cents
    )
}

pub const CLIP_HEAD: &str = "| clips | count | median of need | ended sharp | reed not flat | foretold, held | median error, cents |\n\
                             | --- | --- | --- | --- | --- | --- | --- |";
