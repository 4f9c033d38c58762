//! A refutation that a person can probe: the run as a waveform, where to put the probe and what to expect there, and the
//! chain of cause in both circuits back from the difference.
//!
//! [`Refutation::explain`](crate::prove::Refutation::explain) gives an [`Explanation`]; it prints itself as
//! [text](Explanation::text) and draws itself as [SVG](Explanation::svg). Both read in black and white.
mod alone;
mod cause;
mod chance;
mod decide;
mod probe;
mod replay;
mod svg;
// public: the report prints the same sentences as the terminal
pub mod text;
mod wave;
mod words;

use serde::Serialize;

use crate::circuit::Label;
use crate::prove::{Difference, Happening, Refutation, json};

pub(crate) use alone::{Card, why};
pub use cause::Cause;
pub use chance::Chance;
pub use decide::Decision;
pub use probe::Probe;
pub use wave::{Column, Row, Side, Waveform};

use cause::{Aspect, Chain};
use replay::Track;

/// A refutation, laid out for a bench.
#[derive(Clone, Debug, Serialize)]
#[non_exhaustive]
pub struct Explanation {
    /// Name of the original.
    pub original: String,
    /// Name of the replacement.
    pub replacement: String,
    /// The assumptions that the run keeps, in words.
    pub assumptions: Vec<String>,
    /// The levels at power-up that matter.
    #[serde(serialize_with = "json::levels")]
    pub levels: Vec<(Label, String, bool)>,
    /// The steps of the run, in order.
    pub events: Vec<Happening>,
    /// What the replacement holds at power-up, where it was free to choose and it matters.
    #[serde(serialize_with = "json::bits")]
    pub start: Vec<(String, bool)>,
    /// The contacts whose level matters, and what is seen at those that differ.
    pub waveform: Waveform,
    /// Contacts that must be seen together with those that differ: only so no run of the original shows the same.
    #[serde(serialize_with = "json::contacts")]
    pub together: Vec<(Label, String)>,
    /// Where to put the probe, and what to expect: one for each group of contacts that differ alike.
    pub probes: Vec<Probe>,
    /// Contacts that may be at any level throughout.
    #[serde(serialize_with = "json::contacts")]
    pub any_level: Vec<(Label, String)>,
    /// Registers and latches of the replacement that may hold anything at power-up.
    pub any_bit: Vec<String>,
    /// Where nobody knows what the replacement does, if the difference rests on that.
    pub chances: Vec<Chance>,
    /// Whether both sides come to the same in the end, and only pulses differ.
    pub only_pulses: bool,
    /// Whether no shorter run exists.
    pub shortest: bool,
    /// Orders of changes that it follows, as typical delays say or somebody measured.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub orders: Vec<String>,
    /// How it begins, in a sentence: said before the run, where a device is known that powers up in its own way.
    pub begins: Option<String>,
}

impl Refutation {
    /// Lays the refutation out for a bench: waveform, probes, causes. Levels that don't matter are left out of it.
    pub fn explain(&self) -> Explanation {
        let convicting = self.convicting();
        let mut free = self.free_beside(&convicting);
        let events: Vec<Vec<(Label, bool)>> = self
            .events
            .iter()
            .map(|e| e.changes.iter().map(|(label, _, high)| (label.clone(), *high)).collect())
            .collect();
        let levels: Vec<(Label, bool)> = self.levels.iter().map(|(label, _, high)| (label.clone(), *high)).collect();
        let [original, replacement] = [0, 1].map(|s| {
            // with what is known of the order of changes
            let machine = self.machines()[s].clone();
            Track::new(&self.evidence.circuits[s], machine, &self.evidence.starts[s], &levels, &events)
        });
        let may = self.may_show();
        let may_show = |label: &Label| may.iter().find(|(l, _)| l == label).map_or(&[][..], |(_, may)| may.as_slice());
        let together: Vec<(Label, String)> =
            convicting.iter().map(|label| (label.clone(), self.name_of(label).to_owned())).collect();
        let mut probes: Vec<Probe> = groups(&self.differences)
            .into_iter()
            .map(|alike| {
                let may = alike.first().map(|d| may_show(&d.label).to_vec()).unwrap_or_default();
                probe::probe(&alike, may, &together, [&original, &replacement], self.events.len())
            })
            .collect();
        // a level that a reason speaks of is drawn, although another one would do
        let spoken = |label: &Label| {
            probes.iter().any(|p| p.original_why.iter().chain(&p.replacement_why).any(|c| c.speaks_of(label)))
        };
        free.contacts.retain(|label| !spoken(label));
        let waveform = wave::waveform(self, &free.contacts, &convicting, may_show, [&original, &replacement]);
        for probe in &mut probes {
            probe.decision = decide::decide(probe, self.events.len());
        }
        let cells = replacement.machine.cells();
        Explanation {
            original: self.original.clone(),
            replacement: self.replacement.clone(),
            assumptions: self.assumptions.clone(),
            levels: waveform
                .rows
                .iter()
                .filter(|r| r.side == Side::Board)
                .map(|r| (r.label.clone(), r.name.clone(), r.shown.first() == Some(&crate::simulate::Shown::High)))
                .collect(),
            events: self.events.clone(),
            start: cells
                .iter()
                .zip(&self.evidence.starts[1])
                .enumerate()
                .filter(|(i, (c, _))| c.start.is_none() && !free.cells.contains(i))
                .map(|(_, (c, &high))| (c.name.clone(), high))
                .collect(),
            waveform,
            together,
            probes,
            any_level: self
                .levels
                .iter()
                .filter(|(label, ..)| free.contacts.contains(label))
                .map(|(label, name, _)| (label.clone(), name.clone()))
                .collect(),
            any_bit: free.cells.iter().filter_map(|&i| cells.get(i)).map(|c| c.name.clone()).collect(),
            chances: chance::chances(self, &replacement, &levels, &events),
            only_pulses: self.differences.iter().all(|d| d.pulse_only),
            shortest: self.shortest,
            orders: self.orders.clone(),
            begins: None,
        }
    }
}

impl Refutation {
    fn name_of(&self, label: &Label) -> &str {
        let contacts = self.evidence.circuits.iter().flat_map(|c| c.contacts());
        contacts.into_iter().find(|c| c.label == *label).map_or("", |c| c.name.as_str())
    }
}

impl Explanation {
    /// Says in a sentence how the run begins.
    #[must_use]
    pub fn beginning(mut self, words: String) -> Self {
        self.begins = Some(words);
        self
    }

    /// Names the pins of the fitted device beside the contacts: label and pin, several pins for one contact if it has them.
    #[must_use]
    pub fn with_device_pins<P: ToString>(mut self, pins: impl IntoIterator<Item = (Label, P)>) -> Self {
        for (label, pin) in pins {
            let named = format!("device pin {}", pin.to_string());
            let rows = self.waveform.rows.iter_mut().filter(|r| r.label == label && r.side != Side::Original);
            for row in rows {
                row.pins.push(named.clone());
            }
            for probe in &mut self.probes {
                for place in probe.places.iter_mut().filter(|p| p.label == label) {
                    place.replacement.push(named.clone());
                }
            }
        }
        self
    }
}

/// Differences that look alike, together; a bus is one group.
fn groups(differences: &[Difference]) -> Vec<Vec<&Difference>> {
    let mut groups: Vec<Vec<&Difference>> = Vec::new();
    for d in differences {
        let alike = groups
            .iter_mut()
            .find(|g| g.first().is_some_and(|o| o.original == d.original && o.replacement == d.replacement));
        match alike {
            Some(group) => group.push(d),
            None => groups.push(vec![d]),
        }
    }
    groups
}

#[cfg(test)]
mod tests;
