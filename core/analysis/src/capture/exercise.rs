//! What a capture exercised: which contacts never moved in it, and which were captured and never compared. "Explained" says
//! nothing of a fault that would have shown only there.
use std::fmt;

use super::record::Sample;
use super::{Observed, Shows};
use gluewright_kernel::circuit::{Direction, Label};

/// What a capture did not exercise.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Exercise {
    /// Contacts that the board drives and that kept one level: label, name, level.
    pub still_inputs: Vec<(Label, String, Sample)>,
    /// Contacts that the circuit drives and that kept one level.
    pub still_outputs: Vec<(Label, String, Sample)>,
    /// Contacts that the circuit lets go of whenever they are looked at, so that nothing of them was compared.
    pub never_compared: Vec<(Label, String)>,
    /// Whether every contact has a channel.
    pub all_captured: bool,
}

impl Exercise {
    /// Of the original, whose wires were compared at some moment or not.
    pub(super) fn new(observed: &Observed, compared: &[bool]) -> Exercise {
        let mut levels: Vec<(bool, bool)> = vec![(false, false); observed.wired.wires.len()];
        for change in &observed.capture.changes {
            if let Some((low, high)) = levels.get_mut(usize::from(change.wire)) {
                *low |= change.to == Sample::Low;
                *high |= change.to.level() == Some(true);
            }
        }
        let mut exercise = Exercise { all_captured: true, ..Exercise::default() };
        for contact in observed.original.contacts() {
            let Some(wire) = observed.wired.wires.iter().position(|w| w.label == contact.label) else {
                exercise.all_captured &= observed.wired.fixed.iter().any(|(label, _)| *label == contact.label);
                continue;
            };
            let is_input = contact.direction == Direction::Input;
            let named = (contact.label.clone(), contact.name.clone());
            if !is_input && compared.get(wire) != Some(&true) {
                exercise.never_compared.push(named);
                continue;
            }
            let level = match levels.get(wire) {
                Some((true, false)) => Sample::Low,
                Some((false, true)) => Sample::High,
                _ => continue,
            };
            let still = if is_input { &mut exercise.still_inputs } else { &mut exercise.still_outputs };
            still.push((named.0, named.1, level));
        }
        exercise
    }

    /// Whether everything moved and was compared.
    pub fn is_whole(&self) -> bool {
        self.still_inputs.is_empty() && self.still_outputs.is_empty() && self.never_compared.is_empty()
    }
}

impl Shows {
    /// Without the contacts that were captured and never compared: those are told by [`Exercise`].
    #[must_use]
    pub fn but(mut self, exercise: &Exercise) -> Shows {
        self.compared.retain(|(label, _)| !exercise.never_compared.iter().any(|(l, _)| l == label));
        self
    }
}

impl fmt::Display for Exercise {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let list = |of: &[(Label, String, Sample)]| {
            let each = of.iter().map(|(label, name, level)| format!("{label} {name} ({level})"));
            each.collect::<Vec<_>>().join(", ")
        };
        if !self.still_inputs.is_empty() {
            writeln!(
                f,
                "The board never moved: contacts {}. A fault that shows only when they move is not ruled out: capture a run in \
                 which each goes both ways.",
                list(&self.still_inputs)
            )?;
        }
        if !self.still_outputs.is_empty() {
            writeln!(
                f,
                "Never left its level: contacts {}. A pin that is stuck there passes: capture a run in which the card drives \
                 each both ways.",
                list(&self.still_outputs)
            )?;
        }
        if !self.never_compared.is_empty() {
            let each = self.never_compared.iter().map(|(label, name)| format!("{label} {name}"));
            writeln!(
                f,
                "Captured and never compared, since the card lets go of them whenever they are looked at: contacts {}. Capture a \
                 run in which it drives them; or say at which level the board lets them rest, `high` or `low`, in a third column \
                 `rest` of the list for --channels.",
                each.collect::<Vec<_>>().join(", ")
            )?;
        }
        Ok(())
    }
}
