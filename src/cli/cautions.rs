//! What to take care of, once for several takes: what is said after every crow is heeded no more.

use crate::advice::Advice;
use crate::report::terminal::{self, Style};

/// The cautions of a session so far.
#[derive(Debug, Default)]
pub(super) struct Cautions {
    said: Vec<String>,
    with_card: bool,
}

impl Cautions {
    /// For so many takes read at once: one has its cautions on its card, several at the end.
    pub fn of(takes: usize) -> Self {
        Self { with_card: takes == 1, ..Self::default() }
    }

    /// For takes that come one by one: each caution stands on the first card it belongs to.
    pub fn as_they_come() -> Self {
        Self { with_card: true, ..Self::default() }
    }

    /// Keeps the cautions of `advice`, and returns it with those that belong on its card.
    pub fn keep(&mut self, mut advice: Advice) -> Advice {
        advice.cautions.retain(|caution| !self.said.contains(caution));
        self.said.extend(advice.cautions.iter().cloned());
        if !self.with_card {
            advice.cautions.clear();
        }
        advice
    }

    /// All of them, for the end; empty where cards have said them.
    pub fn at_the_end(&self, style: &Style) -> String {
        if self.with_card || self.said.is_empty() {
            return String::new();
        }
        format!("\n{}", terminal::cautions(&self.said, style))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::advice::Move;

    fn advice(cautions: &[&str]) -> Advice {
        Advice {
            cautions: cautions.iter().map(|caution| (*caution).to_owned()).collect(),
            ..Advice::of(Move::Tip)
        }
    }

    #[test]
    fn a_caution_is_said_on_the_first_card_it_belongs_to() {
        let style = Style::default();
        let mut session = Cautions::as_they_come();
        assert_eq!(session.keep(advice(&["blade", "mouths"])).cautions, ["blade", "mouths"]);
        assert_eq!(session.at_the_end(&style), "");
        assert_eq!(session.keep(advice(&["sealer", "mouths"])).cautions, ["sealer"]);
        assert_eq!(session.at_the_end(&style), "");
    }

    #[test]
    fn several_takes_at_once_have_them_at_the_end_only() {
        let style = Style::default();
        let mut one = Cautions::of(1);
        assert_eq!(one.keep(advice(&["blade"])).cautions, ["blade"]);
        assert_eq!(one.at_the_end(&style), "");
        let mut two = Cautions::of(2);
        assert!(two.keep(advice(&["blade"])).cautions.is_empty());
        assert!(two.at_the_end(&style).contains("blade"));
    }
}
