//! Running a circuit on concrete levels, 64 runs at a time.
use thiserror::Error;

use crate::circuit::{Circuit, Label, Malformed, Pull};
use crate::machine::{Lanes, Limits, Machine, Point, Unknown};

/// What a meter and a probe would find on a contact, as far as the circuit is concerned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shown {
    /// Driven high.
    High,
    /// Driven low.
    Low,
    /// Not driven by the circuit.
    Floating,
    /// Not driven, pulled high by a resistor of the circuit.
    PulledHigh,
    /// Not driven, pulled low by a resistor of the circuit.
    PulledLow,
}

impl Shown {
    /// From whether a contact is driven, to what level, and its pull resistor.
    pub fn new(driven: bool, high: bool, pull: Pull) -> Self {
        match (driven, high, pull) {
            (true, true, _) => Shown::High,
            (true, false, _) => Shown::Low,
            (false, _, Pull::None) => Shown::Floating,
            (false, _, Pull::Up) => Shown::PulledHigh,
            (false, _, Pull::Down) => Shown::PulledLow,
        }
    }
}

impl std::fmt::Display for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Shown::High => "high",
            Shown::Low => "low",
            Shown::Floating => "floating",
            Shown::PulledHigh => "pulled high",
            Shown::PulledLow => "pulled low",
        })
    }
}

/// A contact that a circuit does not have.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("`{circuit}` has no contact {label}")]
pub struct NoContact {
    /// The circuit.
    pub circuit: String,
    /// The label that was asked for.
    pub label: Label,
}

/// Why a circuit can't be put under power.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum NoRun {
    /// It is no circuit.
    #[error(transparent)]
    Malformed(#[from] Malformed),
    /// A level was given for a contact that it does not have.
    #[error(transparent)]
    Contact(#[from] NoContact),
}

/// What one event did.
#[derive(Clone, Debug)]
pub struct Happened {
    /// Unknowns that occurred, with the lanes in which they did. They took their usual value.
    pub unknowns: Vec<(Unknown, u64)>,
    /// The lanes that did not come to rest.
    pub restless: u64,
    /// What each contact showed on the way, without repetitions, for each contact that changed in some lane.
    pub shown: Vec<(usize, Vec<(u64, u64)>)>,
}

/// A circuit under power.
#[derive(Clone, Debug)]
pub struct Simulator {
    machine: Machine,
    point: Point<u64>,
    limits: Limits,
}

impl Simulator {
    /// Powers a circuit up with these levels on its contacts (all low where none is given) and these bits in its
    /// cells: `held(cell, lane)` is asked for every cell whose start is not known.
    ///
    /// # Errors
    /// If it is no circuit, or has no such contact.
    pub fn new(
        circuit: &Circuit,
        levels: &[(Label, bool)],
        held: impl FnMut(usize, u32) -> bool,
    ) -> Result<(Self, Happened), NoRun> {
        circuit.check()?;
        Ok(Self::of(Machine::new(circuit), levels, held)?)
    }

    /// The same for a machine.
    pub fn of(
        machine: Machine,
        levels: &[(Label, bool)],
        mut held: impl FnMut(usize, u32) -> bool,
    ) -> Result<(Self, Happened), NoContact> {
        let mut outside = vec![0; machine.ports().len()];
        for (label, high) in levels {
            outside[find(&machine, label)?] = if *high { u64::MAX } else { 0 };
        }
        let cells: Vec<u64> = machine
            .cells()
            .iter()
            .enumerate()
            .map(|(i, c)| match c.start {
                Some(true) => u64::MAX,
                Some(false) => 0,
                None => (0..64).fold(0, |word, lane| word | (u64::from(held(i, lane)) << lane)),
            })
            .collect();
        let limits = Limits::ample(&machine);
        let mut lanes = Lanes::default();
        let point = machine.point(&mut lanes, &outside, &cells);
        lanes.met.clear();
        let stepped = machine.rest(&mut lanes, &point, limits);
        let happened = happened(&machine, &point, &stepped, lanes);
        Ok((Simulator { machine, point: stepped.point, limits }, happened))
    }

    /// The machine that runs.
    pub fn machine(&self) -> &Machine {
        &self.machine
    }

    /// Where it stands.
    pub fn point(&self) -> &Point<u64> {
        &self.point
    }

    /// Changes levels at the contacts, all at one moment, the same in every lane.
    pub fn event(&mut self, changes: &[(Label, bool)]) -> Result<Happened, NoContact> {
        let mut change = Vec::with_capacity(changes.len());
        for (label, high) in changes {
            change.push((find(&self.machine, label)?, if *high { u64::MAX } else { 0 }));
        }
        Ok(self.change(&change))
    }

    /// Changes levels by port number, each lane by its own bit.
    pub fn change(&mut self, change: &[(usize, u64)]) -> Happened {
        let mut lanes = Lanes::default();
        let stepped = self.machine.step(&mut lanes, &self.point, change, self.limits);
        let happened = happened(&self.machine, &self.point, &stepped, lanes);
        self.point = stepped.point;
        happened
    }

    /// What a contact shows in one lane.
    pub fn shown(&self, label: &Label, lane: u32) -> Result<Shown, NoContact> {
        let port = find(&self.machine, label)?;
        let (drive, level) = self.machine.shown(&self.point, port);
        let bit = |word: u64| (word >> (lane & 63)) & 1 == 1;
        Ok(Shown::new(bit(drive), bit(level), self.machine.ports()[port].pull))
    }
}

fn find(machine: &Machine, label: &Label) -> Result<usize, NoContact> {
    machine.port(label).ok_or_else(|| NoContact { circuit: machine.name.clone(), label: label.clone() })
}

fn happened(machine: &Machine, before: &Point<u64>, stepped: &crate::machine::Stepped<u64>, lanes: Lanes) -> Happened {
    let mut shown: std::collections::BTreeMap<usize, Vec<(u64, u64)>> = std::collections::BTreeMap::new();
    for view in &stepped.views {
        for &(port, drive, level) in &view.changed {
            let seen = shown.entry(port).or_insert_with(|| vec![machine.shown(before, port)]);
            if seen.last() != Some(&(drive, level)) {
                seen.push((drive, level));
            }
        }
    }
    shown.retain(|_, seen| seen.len() > 1);
    Happened { unknowns: lanes.met, restless: stepped.unsettled, shown: shown.into_iter().collect() }
}

#[cfg(test)]
pub(crate) mod tests;
