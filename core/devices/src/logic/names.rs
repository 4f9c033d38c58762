//! Functions in words: a name stands for the truth of a signal that is asserted at one level, and for a high level of
//! any other.
use super::{Logic, StandsFor};
use gluewright_kernel::circuit::Polarity;

/// What follows the name of a bit that is held in one macrocell and shown through another.
pub(crate) const HELD: &str = " (held)";

impl Logic {
    /// The name of a variable's signal. The value that an output reads back has the output's own name.
    pub fn name_of(&self, variable: usize) -> &str {
        self.signals.get(variable).map_or("?", |s| match &s.stands_for {
            Some(StandsFor::ReadBack(output)) => output.as_str(),
            _ => s.name.as_str(),
        })
    }

    /// A product term in the notation of ISO 80000-2, in the order of the contacts: `select ∧ ¬read`, or `true`.
    pub fn term_text(&self, product: &[(usize, bool)]) -> String {
        if product.is_empty() {
            return "true".into();
        }
        let mut literals = product.to_vec();
        literals.sort_by_key(|&(variable, _)| self.order(variable));
        let text = |(variable, value): (usize, bool)| self.literal_text(variable, value);
        literals.into_iter().map(text).collect::<Vec<_>>().join(" ∧ ")
    }

    /// A signal at a level: its name, or `¬` and its name.
    pub fn literal_text(&self, variable: usize, high: bool) -> String {
        let name = self.name_of(variable);
        format!("{}{name}", if high == self.true_while_low(variable) { "¬" } else { "" })
    }

    /// Whether the name of a variable is true while the variable is low.
    fn true_while_low(&self, variable: usize) -> bool {
        // a register behind a pin has the pin's name, and then it has the pin's polarity
        let name = self.name_of(variable);
        let name = match self.signals.get(variable).and_then(|s| s.stands_for.as_ref()) {
            Some(StandsFor::ReadBack(_)) => {
                return self.outputs.iter().any(|o| o.name == name && o.polarity == Polarity::ActiveLow);
            }
            Some(StandsFor::Held(bit)) => bit.as_str(),
            None => name,
        };
        let shows = self.outputs.iter().filter(|o| o.name == name).find_map(|o| Some((o.polarity, o.shows?)));
        match shows {
            Some((polarity, (v, inverted))) if v == variable => (polarity == Polarity::ActiveLow) != inverted,
            _ => self.signals.get(variable).is_some_and(|s| s.polarity == Polarity::ActiveLow),
        }
    }

    /// Inputs by contact, then what the circuit holds.
    fn order(&self, variable: usize) -> (bool, usize) {
        let input = self.inputs.iter().position(|i| i.variable == variable);
        (input.is_none(), input.unwrap_or(variable))
    }
}
