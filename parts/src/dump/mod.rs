//! A reference from a dump: the truth table of a combinational part, read out of it row by row on the bench.
//!
//! The levels of the inputs are a row; its number counts them, the first input lowest. Read with pull-ups a floating output
//! reads high, with pull-downs low: read both ways, the two tell floating from driven. Read more than once, rows that differ
//! tell that the part holds something, and then no table stands for it. A row that was never read is not guessed: nothing is
//! known there, the proof lets a replacement do anything, and [`DumpNote`] says so aloud.
//!
//! Contacts are inputs or outputs here. A pin that is both, as many a PAL has, is read as an input where its driver is off;
//! a part in which such pins feed back holds something.
mod error;
mod readings;

use std::collections::BTreeSet;
use std::fmt;
use std::sync::Arc;

use gluewright::board::Part;
use gluewright::circuit::{By, Circuit, Direction, Driver, Expr, Label, NetId, Origin, Polarity, Rail, Stage};

pub use error::DumpError;

use crate::catalogue::add_contact;
use crate::table::decision;
use readings::Seen;

/// Most inputs that a dump may have: a million rows.
const MOST_INPUTS: usize = 20;

/// Readings of a combinational part.
#[derive(Clone, Debug)]
pub struct Dump {
    name: String,
    inputs: Vec<Label>,
    outputs: Vec<Label>,
    supplies: Vec<(Label, Rail)>,
    /// Row by row, output by output.
    seen: Vec<Seen>,
}

/// Which resistors were on the outputs while they were read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PulledTo {
    /// To the supply: what floats reads high.
    Supply,
    /// To ground: what floats reads low.
    Ground,
}

/// What a reader of the dump's proof must know.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum DumpNote {
    /// Rows that nobody read.
    NeverRead {
        /// The output.
        output: Label,
        /// How many.
        rows: usize,
        /// Of how many.
        of: usize,
        /// The first of them, by its inputs.
        first: String,
    },
    /// Rows in which floating and driven can't be told.
    ReadOneWay {
        /// The output.
        output: Label,
        /// How many.
        rows: usize,
        /// With which resistors they were read.
        pulled_to: PulledTo,
    },
    /// Rows that were read only once with some resistors, so that a state would not have shown.
    ReadOnce {
        /// How many.
        rows: usize,
    },
}

impl fmt::Display for DumpNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            DumpNote::NeverRead { output, rows, of, first } => write!(
                f,
                "output {output}: {rows} of {of} rows were never read, the first of them {first}; nothing is known there, \
                 and the proof lets a replacement do anything"
            ),
            DumpNote::ReadOneWay { output, rows, pulled_to: PulledTo::Supply } => write!(
                f,
                "output {output}: {rows} rows that read high were read with pull-ups only and are taken as driven high; \
                 read them with pull-downs too, or a floating output passes for a high one"
            ),
            DumpNote::ReadOneWay { output, rows, pulled_to: PulledTo::Ground } => write!(
                f,
                "output {output}: {rows} rows that read low were read with pull-downs only and are taken as driven low; \
                 read them with pull-ups too, or a floating output passes for a low one"
            ),
            DumpNote::ReadOnce { rows } => write!(
                f,
                "{rows} rows were read only once; read them again in another order, or a part that holds something passes \
                 for one that doesn't"
            ),
        }
    }
}

/// What is known about one output in one row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Known {
    High,
    Low,
    Floats,
    Nothing,
}

impl Dump {
    /// An empty dump of a part with these inputs and outputs by pin label: the lowest bit of a row, and of a reading, first.
    ///
    /// # Errors
    /// If there are no inputs or outputs, too many inputs, or a pin is named twice.
    pub fn new<I: Into<Label>, O: Into<Label>>(
        name: impl Into<String>,
        inputs: impl IntoIterator<Item = I>,
        outputs: impl IntoIterator<Item = O>,
    ) -> Result<Self, DumpError> {
        let inputs: Vec<Label> = inputs.into_iter().map(Into::into).collect();
        let outputs: Vec<Label> = outputs.into_iter().map(Into::into).collect();
        if inputs.is_empty() || outputs.is_empty() {
            return Err(DumpError::NoPins);
        }
        if inputs.len() > MOST_INPUTS {
            return Err(DumpError::TooManyInputs { inputs: inputs.len(), most: MOST_INPUTS });
        }
        let mut labels = BTreeSet::new();
        if let Some(twice) = inputs.iter().chain(&outputs).find(|label| !labels.insert((*label).clone())) {
            return Err(DumpError::PinTwice { pin: twice.clone() });
        }
        let seen = vec![Seen::default(); outputs.len() << inputs.len()];
        Ok(Dump { name: name.into(), inputs, outputs, supplies: Vec::new(), seen })
    }

    /// With these supply pins, so that a trace that leaves them out is noticed.
    #[must_use]
    pub fn supplied(mut self, vcc: impl Into<Label>, gnd: impl Into<Label>) -> Self {
        self.supplies = vec![(vcc.into(), Rail::Vcc), (gnd.into(), Rail::Gnd)];
        self
    }

    /// How many rows there are.
    pub fn rows(&self) -> usize {
        1 << self.inputs.len()
    }

    /// The part, and what must be known about it.
    ///
    /// # Errors
    /// If rows that were read twice differ, or read lower with pull-ups than with pull-downs, or nothing was read.
    pub fn part(&self) -> Result<(Part, Vec<DumpNote>), DumpError> {
        let mut notes = Vec::new();
        let known = self.known(&mut notes)?;
        let mut c = Circuit::new(&self.name);
        for (label, rail) in &self.supplies {
            c.add_supply(label.clone(), *rail);
        }
        let nets = |c: &mut Circuit, labels: &[Label], direction| -> Vec<NetId> {
            labels.iter().map(|l| add_contact(c, l.clone(), l.as_str(), Polarity::Data, direction)).collect()
        };
        let inputs = nets(&mut c, &self.inputs, Direction::Input);
        let outputs = nets(&mut c, &self.outputs, Direction::Output);
        let inputs: Vec<Expr> = inputs.into_iter().map(|net| c.net(net)).collect();
        for (i, (label, net)) in self.outputs.iter().zip(outputs).enumerate() {
            let rows: Vec<Known> = known.iter().skip(i).step_by(self.outputs.len()).copied().collect();
            output(&mut c, label, net, &inputs, &rows);
        }
        Ok((Part::logic(&self.name, Arc::new(c)), notes))
    }

    fn known(&self, notes: &mut Vec<DumpNote>) -> Result<Vec<Known>, DumpError> {
        let mut known = Vec::with_capacity(self.seen.len());
        let mut once = BTreeSet::new();
        for (row, readings) in self.seen.chunks(self.outputs.len()).enumerate() {
            for (seen, label) in readings.iter().zip(&self.outputs) {
                let what = seen.known().map_err(|fault| DumpError::unsteady(fault, label, self.describe(row)))?;
                if seen.only_once() {
                    once.insert(row);
                }
                known.push(what);
            }
        }
        if known.iter().all(|k| *k == Known::Nothing) {
            return Err(DumpError::NothingRead { name: self.name.clone() });
        }
        for (i, label) in self.outputs.iter().enumerate() {
            let of_output = || known.iter().zip(&self.seen).skip(i).step_by(self.outputs.len());
            let never = of_output().filter(|(k, _)| **k == Known::Nothing).count();
            if let Some(first) = of_output().position(|(k, _)| *k == Known::Nothing) {
                let (output, of, first) = (label.clone(), self.rows(), self.describe(first));
                notes.push(DumpNote::NeverRead { output, rows: never, of, first });
            }
            for pulled_to in [PulledTo::Supply, PulledTo::Ground] {
                let rows = of_output().filter(|(_, seen)| seen.untold() == Some(pulled_to)).count();
                if rows > 0 {
                    notes.push(DumpNote::ReadOneWay { output: label.clone(), rows, pulled_to });
                }
            }
        }
        if !once.is_empty() {
            notes.push(DumpNote::ReadOnce { rows: once.len() });
        }
        Ok(known)
    }

    /// A row by its inputs: `1=L 2=H`.
    fn describe(&self, row: usize) -> String {
        let levels: Vec<String> = self
            .inputs
            .iter()
            .enumerate()
            .map(|(bit, label)| format!("{label}={}", if row >> bit & 1 == 1 { 'H' } else { 'L' }))
            .collect();
        levels.join(" ")
    }
}

/// Drives an output as its rows say. One that floats nowhere is push-pull, one that never drives high is open collector, any
/// other is three-state.
fn output(c: &mut Circuit, label: &Label, net: NetId, inputs: &[Expr], rows: &[Known]) {
    let (high, floats) = (rows.contains(&Known::High), rows.contains(&Known::Floats));
    let stage = match (high, floats) {
        (_, false) => Stage::PushPull,
        (false, true) => Stage::OpenCollector,
        (true, true) => Stage::ThreeState,
    };
    let (mut any_level, mut any_enable) = (None, None);
    let leaves = |c: &mut Circuit, of: fn(Known) -> Option<bool>, any: &mut Option<Expr>, what: &str| -> Vec<Expr> {
        rows.iter()
            .map(|&known| match of(known) {
                Some(value) => Expr::constant(value),
                None => {
                    *any.get_or_insert_with(|| anything(c, &format!("{what} of {label} in a row that was never read")))
                }
            })
            .collect()
    };
    let level = |known| match known {
        Known::High => Some(true),
        Known::Low | Known::Floats => Some(false),
        Known::Nothing => None,
    };
    let drives = |known| match known {
        Known::High | Known::Low => Some(true),
        Known::Floats => Some(false),
        Known::Nothing => None,
    };
    let levels = leaves(c, level, &mut any_level, "level");
    let level = if stage == Stage::OpenCollector { Expr::LOW } else { decision(c, inputs, levels) };
    let enable = if floats {
        let enables = leaves(c, drives, &mut any_enable, "drive");
        decision(c, inputs, enables)
    } else {
        Expr::HIGH
    };
    c.drive(net, Driver { enable, level, stage, by: By::signal(label.to_string()), origin: Origin::Nowhere });
}

/// A value that nobody knows: a net that floats, and is read.
fn anything(c: &mut Circuit, name: &str) -> Expr {
    let net = c.add_net(name, Origin::Nowhere);
    c.drive(
        net,
        Driver {
            enable: Expr::LOW,
            level: Expr::LOW,
            stage: Stage::ThreeState,
            by: By::signal(name),
            origin: Origin::Nowhere,
        },
    );
    c.net(net)
}
