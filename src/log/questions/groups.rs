//! Which cane, shape, gouge, staple, profile works: reeds grouped by a field of the card.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::estimate::{Middle, Moments, Share, Told, compare_means, compare_shares};
use crate::log::card::Ending;
use crate::log::facts::Facts;
use crate::log::matching::{folded, values};
use crate::log::query::held_to;
use crate::reading::Kind;

choice! {
    /// What reeds can be grouped by.
    Field {
        /// Who made them.
        Maker,
        /// Whose they are.
        Owner,
        /// Their cane.
        Cane,
        /// Their gouge, to a hundredth of a millimetre.
        Gouge,
        /// Their shape.
        Shape,
        /// Their staple.
        Staple,
        /// Their profile.
        Profile,
        /// Their thread.
        Thread,
    }
}

impl Field {
    /// The values of a reed, none where its card does not say.
    pub fn values(self, facts: &Facts) -> Vec<String> {
        let card = &facts.card;
        let text = match self {
            Self::Maker => card.maker.as_deref(),
            Self::Owner => card.owner.as_deref(),
            Self::Cane => card.cane.as_deref(),
            Self::Shape => card.shape.as_deref(),
            Self::Staple => card.staple.as_deref(),
            Self::Thread => card.thread.as_deref(),
            Self::Profile => Some(held_to(card)),
            Self::Gouge => {
                return card.gouge_mm.map(|mm| format!("{mm:.2} mm")).into_iter().collect();
            }
        };
        text.into_iter().flat_map(values).map(str::to_owned).collect()
    }
}

/// The reeds of one value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Group {
    /// The value, as it was first written; `None` for reeds whose cards do not say.
    pub value: Option<String>,
    /// How many.
    pub reeds: usize,
    /// Those still open.
    pub open: usize,
    /// Given up, of those that are closed.
    pub given_up: Option<Share>,
    /// In octaves when last crowed, of the finished ones that were crowed.
    pub in_octaves: Option<Share>,
    /// Distance from the target of the last crows of the finished ones, in cents.
    pub target_cents: Option<Middle>,
    /// Cuts that the finished ones took.
    pub cuts: Option<Middle>,
    /// Hours for which they are known to have been played.
    pub hours_played: Option<Middle>,
    /// Whether more or less are given up than of all others.
    pub given_up_told: Told,
    /// Whether they took more or fewer cuts than all others.
    pub cuts_told: Told,
    /// Whether they ended higher or lower than all others.
    pub target_told: Told,
}

/// All groups, the largest first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GroupAnswer {
    /// By what.
    pub by: Field,
    /// Reeds looked at; one with several values stands in several groups.
    pub reeds: usize,
    /// The groups.
    pub groups: Vec<Group>,
}

/// Groups the reeds by a field. Values that differ in capitals, spaces or the form of their letters
/// are one.
pub fn groups(reeds: &[Facts], by: Field) -> GroupAnswer {
    let mut members: BTreeMap<Option<String>, (Option<String>, Vec<&Facts>)> = BTreeMap::new();
    for facts in reeds {
        let found = by.values(facts);
        // One value may stand twice on a card.
        let mut values: BTreeMap<Option<String>, Option<String>> = BTreeMap::new();
        for value in found {
            values.entry(Some(folded(&value))).or_insert(Some(value));
        }
        if values.is_empty() {
            values.insert(None, None);
        }
        for (key, shown) in values {
            members.entry(key).or_insert_with(|| (shown, Vec::new())).1.push(facts);
        }
    }
    let all = Kept::of(&reeds.iter().collect::<Vec<_>>());
    let all = All {
        given_up: all.given_up,
        cuts: Moments::of(&all.cuts),
        target_cents: Moments::of(&all.target_cents),
    };
    let mut groups: Vec<Group> =
        members.into_values().map(|(value, inside)| group(value, &inside, &all)).collect();
    // Those whose cards do not say come last, whatever their number.
    groups.sort_by(|a, b| {
        (a.value.is_none(), std::cmp::Reverse(a.reeds), &a.value).cmp(&(
            b.value.is_none(),
            std::cmp::Reverse(b.reeds),
            &b.value,
        ))
    });
    GroupAnswer { by, reeds: reeds.len(), groups }
}

/// * `all`: what all reeds tell, those of the group among them.
fn group(value: Option<String>, some: &[&Facts], all: &All) -> Group {
    let here = Kept::of(some);
    let told = |some: &[f64], all: Moments| {
        let some = Moments::of(some);
        compare_means(some, all.without(some))
    };
    Group {
        value,
        reeds: some.len(),
        open: some.iter().filter(|facts| facts.card.ending.is_none()).count(),
        given_up: here.given_up,
        in_octaves: here.in_octaves,
        target_cents: Middle::of(&here.target_cents),
        cuts: Middle::of(&here.cuts),
        hours_played: Middle::of(&here.hours),
        given_up_told: compare_shares(here.given_up, Share::of_others(all.given_up, here.given_up)),
        cuts_told: told(&here.cuts, all.cuts),
        target_told: told(&here.target_cents, all.target_cents),
    }
}

/// What is compared of all reeds.
struct All {
    given_up: Option<Share>,
    cuts: Moments,
    target_cents: Moments,
}

/// What some reeds tell.
struct Kept {
    given_up: Option<Share>,
    in_octaves: Option<Share>,
    target_cents: Vec<f64>,
    cuts: Vec<f64>,
    hours: Vec<f64>,
}

impl Kept {
    fn of(reeds: &[&Facts]) -> Self {
        let closed = reeds.iter().filter_map(|facts| facts.card.ending);
        let is_finished =
            |facts: &&&Facts| matches!(facts.card.ending, Some(Ending::Done | Ending::SentBack));
        let finished = || reeds.iter().filter(is_finished);
        let last = || finished().filter_map(|facts| facts.last_blown());
        // A crow in another octave tells of its register, not of its pitch.
        let in_place = last().filter(|phase| phase.stage.register.is_none_or(|r| r == 0));
        Self {
            given_up: Share::of(closed.map(|ending| ending == Ending::GivenUp)),
            in_octaves: Share::of(
                last().filter(|p| p.stage.crows > 0).map(|p| p.stage.kind == Some(Kind::Octaves)),
            ),
            target_cents: in_place.filter_map(|phase| phase.stage.target_cents).collect(),
            cuts: finished().map(|facts| facts.cuts() as f64).collect(),
            hours: reeds.iter().filter_map(|facts| facts.hours_played()).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::card::Card;

    fn reed(cane: Option<&str>, ending: Option<Ending>) -> Facts {
        let card = Card { cane: cane.map(Into::into), ending, ..Card::new("A") };
        let at = String::new();
        Facts {
            uid: String::new(),
            card,
            at: at.clone(),
            ended_at: None,
            last_at: at,
            way: Vec::new(),
        }
    }

    #[test]
    fn one_value_however_it_is_written_and_several_in_one_field() {
        let done = Some(Ending::Done);
        let reeds = [
            reed(Some("Brook 4"), done),
            reed(Some("brook  4; Fen"), done),
            reed(Some("BROOK 4"), Some(Ending::GivenUp)),
            reed(None, None),
        ];
        let answer = groups(&reeds, Field::Cane);
        let told: Vec<_> =
            answer.groups.iter().map(|group| (group.value.as_deref(), group.reeds)).collect();
        assert_eq!(told, [(Some("Brook 4"), 3), (Some("Fen"), 1), (None, 1)]);
        let given_up = answer.groups[0].given_up.unwrap();
        assert_eq!((given_up.count, given_up.of), (1, 3));
        assert_eq!(answer.groups[0].given_up_told, Told::CannotTell);
    }

    #[test]
    fn a_cane_that_is_often_given_up_is_told_once_there_are_enough() {
        let of = |cane, given_up: usize, done: usize| {
            (0..given_up + done).map(move |n| {
                let ending = if n < given_up { Ending::GivenUp } else { Ending::Done };
                reed(Some(cane), Some(ending))
            })
        };
        let reeds: Vec<Facts> = of("Fen", 9, 3).chain(of("Brook", 2, 18)).collect();
        let answer = groups(&reeds, Field::Cane);
        let fen = answer.groups.iter().find(|group| group.value.as_deref() == Some("Fen")).unwrap();
        assert_eq!(fen.given_up_told, Told::More);
    }
}
