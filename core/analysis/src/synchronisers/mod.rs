//! Registers that sample a contact which nothing ties to their clock: how many, and how many stages before it is used.
//!
//! A register that samples a signal while it changes may take long to make up its mind. How long, and how often, no logic
//! can say: nothing here is proved, and a proof of the circuit says nothing about it. What can be seen is habit: the
//! original's beside the replacement's.
//!
//! ```
//! # mod gluewright { pub use gluewright_analysis::*; pub use gluewright_devices::*; pub use gluewright_kernel::*; }
//! use gluewright::circuit::Circuit;
//! use gluewright::synchronisers::{beside, sampled};
//!
//! # fn habits(original: &Circuit, replacement: &Circuit) {
//! for pair in beside(&sampled(original, &[]), &sampled(replacement, &[])) {
//!     println!("{pair}");
//! }
//! # }
//! ```
mod walk;

use std::collections::BTreeSet;
use std::fmt;

use serde::Serialize;

use crate::timing::At;
use gluewright_kernel::circuit::{Circuit, Label};
use walk::Walk;

/// A contact that is sampled, on one side.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Sampled {
    /// The contact that is sampled.
    pub contact: At,
    /// The clock contact.
    pub clock: At,
    /// The registers and latches that sample it, by name.
    pub by: Vec<String>,
    /// How many registers stand in a row, each loading nothing but the one before it, until something else reads one. 0
    /// if it is sampled through gates together with other signals, or latched.
    pub stages: usize,
}

/// A contact that at least one side samples.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Habit {
    /// What the original does.
    pub original: Option<Sampled>,
    /// What the replacement does.
    pub replacement: Option<Sampled>,
    /// Whether the replacement is more exposed: fewer stages, or more registers that may see different levels.
    pub is_worse: bool,
}

/// All contacts that registers sample without a declared relation to their clock. `related` declares such relations:
/// the contact, and the clock contact with which it keeps its setup and hold times.
pub fn sampled(circuit: &Circuit, related: &[(Label, Label)]) -> Vec<Sampled> {
    let walk = Walk::new(circuit);
    let at = |label: &Label| {
        let name = circuit.contacts().iter().find(|c| &c.label == label).map_or("", |c| c.name.as_str());
        At { label: label.to_string(), name: name.to_owned() }
    };
    let mut pairs: BTreeSet<(Label, Label)> = BTreeSet::new();
    for element in walk.registers() {
        for clock in &element.clocks {
            pairs.extend(element.data.iter().filter(|d| *d != clock).map(|d| (d.clone(), clock.clone())));
        }
    }
    pairs
        .into_iter()
        .filter(|pair| !related.contains(pair))
        .map(|(contact, clock)| {
            let by = walk.samplers(&contact, &clock);
            Sampled {
                contact: at(&contact),
                clock: at(&clock),
                by: walk.names(&by),
                stages: walk.stages(&by, &contact),
            }
        })
        .collect()
}

/// Both sides' habits, contact by contact.
pub fn beside(original: &[Sampled], replacement: &[Sampled]) -> Vec<Habit> {
    let key = |s: &Sampled| (Label::new(&s.contact.label), Label::new(&s.clock.label));
    let keys: BTreeSet<(Label, Label)> = original.iter().chain(replacement).map(key).collect();
    let find = |of: &[Sampled], wanted: &(Label, Label)| of.iter().find(|s| &key(s) == wanted).cloned();
    keys.iter()
        .map(|wanted| {
            let (original, replacement) = (find(original, wanted), find(replacement, wanted));
            let is_worse = match (&original, &replacement) {
                (_, None) => false,
                (None, Some(_)) => true,
                (Some(o), Some(r)) => r.stages < o.stages || r.by.len() > o.by.len(),
            };
            Habit { original, replacement, is_worse }
        })
        .collect()
}

impl Sampled {
    /// What is to be said of it alone.
    pub fn words(&self) -> String {
        let n = self.by.len();
        match (n, self.stages) {
            (1, 0) => "one register, together with other signals".to_owned(),
            (1, 1) => "one register, one stage".to_owned(),
            (1, stages) => format!("one register, {stages} stages in a row"),
            (n, _) => format!("{n} registers, which may see different levels"),
        }
    }
}

impl fmt::Display for Habit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words = |s: &Option<Sampled>| s.as_ref().map_or("not at all".to_owned(), Sampled::words);
        let Some(which) = self.replacement.as_ref().or(self.original.as_ref()) else { return Ok(()) };
        write!(f, "{} is sampled on {}: ", which.contact, which.clock)?;
        let (before, after) = (words(&self.original), words(&self.replacement));
        if before == after {
            write!(f, "{after}, as in the original")
        } else {
            write!(f, "{after}; the original: {before}")
        }?;
        f.write_str(if self.is_worse { "; MORE EXPOSED than the original" } else { "" })
    }
}
