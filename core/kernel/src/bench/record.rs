//! What was on every contact and in every element, step by step, and the same as a value change dump.
use std::io;

use crate::circuit::{Circuit, Direction};
use crate::explain::{Card, Waveform};
use crate::machine::Machine;
use crate::simulate::{Happened, Shown, Simulator};

/// A run so far.
#[derive(Clone, Debug, Default)]
pub(super) struct Record(Vec<Step>);

#[derive(Clone, Debug)]
struct Step {
    /// What each contact showed until it had settled.
    contacts: Vec<Vec<Shown>>,
    /// What each cell held then.
    cells: Vec<bool>,
}

impl Record {
    /// The last step; 0 is power-up.
    pub(super) fn last_step(&self) -> usize {
        self.0.len().saturating_sub(1)
    }

    pub(super) fn keep(&mut self, circuit: &Circuit, run: &Simulator, given: &[Option<bool>], happened: &Happened) {
        let machine = run.machine();
        let contacts = circuit.contacts().iter().zip(given).map(|(contact, given)| {
            let seen = |(drive, level): (u64, u64)| {
                let pull = machine.port(&contact.label).and_then(|p| machine.ports().get(p)).map(|p| p.pull);
                match (Shown::new(drive & 1 == 1, level & 1 == 1, pull.unwrap_or_default()), given) {
                    (shown @ (Shown::Low | Shown::High), _) | (shown, None) => shown,
                    (_, Some(true)) => Shown::High,
                    (_, Some(false)) => Shown::Low,
                }
            };
            let Some(port) = machine.port(&contact.label) else { return Vec::new() };
            let passed = happened.shown.iter().find(|(p, _)| *p == port).map(|(_, passed)| passed.as_slice());
            let mut all: Vec<Shown> = passed.unwrap_or_default().iter().skip(1).map(|&words| seen(words)).collect();
            let last = seen(machine.shown(run.point(), port));
            if all.last() != Some(&last) {
                all.push(last);
            }
            all.dedup();
            all
        });
        let contacts = contacts.collect();
        let cells = machine.held(run.point()).into_iter().map(|word| word & 1 == 1).collect();
        self.0.push(Step { contacts, cells });
    }

    /// What the contacts showed, with what passed before each step had settled.
    pub(super) fn waveform(&self, circuit: &Circuit) -> Waveform {
        let phases = |step: &Step| step.contacts.iter().map(Vec::len).max().unwrap_or(1).max(1);
        let mut card = Card::default();
        for (i, contact) in circuit.contacts().iter().enumerate() {
            let shown = self.0.iter().flat_map(|step| {
                let all = step.contacts.get(i).map_or(&[][..], Vec::as_slice);
                (0..phases(step)).map(|k| all.get(k).or(all.last()).copied().unwrap_or(Shown::Floating))
            });
            let by_bench = contact.direction == Direction::Input;
            card.row(&contact.label, &contact.name, by_bench, shown.collect());
        }
        let columns = self.0.iter().enumerate().flat_map(|(i, step)| {
            let count = phases(step);
            (0..count).map(move |k| (i, k + 1 < count))
        });
        card.waveform(columns)
    }

    pub(super) fn write_vcd(&self, circuit: &Circuit, machine: &Machine, to: impl io::Write) -> io::Result<()> {
        let mut out = vcd::Writer::new(to);
        out.timescale(1, vcd::TimescaleUnit::NS)?;
        out.add_module(&circuit.name)?;
        let contacts: Vec<vcd::IdCode> =
            circuit.contacts().iter().map(|c| out.add_wire(1, &c.name)).collect::<Result<_, _>>()?;
        let cells: Vec<vcd::IdCode> = machine
            .cells()
            .iter()
            .map(|c| out.add_wire(1, &format!("{} (held)", c.name).replace(' ', "_")))
            .collect::<Result<_, _>>()?;
        out.upscope()?;
        out.enddefinitions()?;
        let (mut now, mut held): (Vec<Option<Shown>>, Vec<Option<bool>>) =
            (vec![None; contacts.len()], vec![None; cells.len()]);
        for (time, step) in (0u64..).step_by(1000).zip(&self.0) {
            let phases = step.contacts.iter().map(Vec::len).max().unwrap_or(1).max(1);
            for (after, phase) in (0u64..).zip(0..phases) {
                out.timestamp(time + after)?;
                for ((id, shown), now) in contacts.iter().zip(&step.contacts).zip(&mut now) {
                    // what has settled waits for what passes elsewhere
                    let Some(&shown) = shown.get(phase.min(shown.len().saturating_sub(1))) else { continue };
                    if now.replace(shown) != Some(shown) {
                        out.change_scalar(*id, value(shown))?;
                    }
                }
                if phase + 1 < phases {
                    continue;
                }
                for ((id, &high), held) in cells.iter().zip(&step.cells).zip(&mut held) {
                    if held.replace(high) != Some(high) {
                        out.change_scalar(*id, if high { vcd::Value::V1 } else { vcd::Value::V0 })?;
                    }
                }
            }
        }
        out.timestamp(1000 * self.0.len() as u64)?;
        out.flush()
    }
}

fn value(shown: Shown) -> vcd::Value {
    match shown {
        Shown::High | Shown::PulledHigh => vcd::Value::V1,
        Shown::Low | Shown::PulledLow => vcd::Value::V0,
        Shown::Floating => vcd::Value::Z,
    }
}
