//! What there is to say about a fit.
use super::demand::Drive;
use super::fitted::{Fitted, FittedCell};
use super::note::Note;
use crate::device::{Device, Enable, Function, PinNumber, Role};
use gluewright_kernel::circuit::Pull;

/// Everything there is to say about a fit.
pub(super) fn notes(fitted: &Fitted, device: &Device) -> Vec<Note> {
    let logic = &fitted.logic;
    let mut notes = Vec::new();
    for cell in &fitted.cells {
        let name = cell.name.clone();
        match (&cell.label, cell.function) {
            (None, Function::Registered) => {
                notes.extend(cell.pin.map(|pin| match fitted.plan.cells.get(&pin).map(|c| &c.enable) {
                    Some(Enable::Never) => Note::BuriedRegister { pin, name },
                    _ => Note::DrivenRegister { pin, name },
                }))
            }
            (None, Function::Combinational | Function::Latch | Function::Input) => {
                let readers = readers(fitted, cell.holds.first().map(|(v, _)| *v));
                notes.extend(cell.pin.map(|pin| Note::Isolated { pin, name: name.clone() }));
                if let Some(node) = logic.nodes.iter().find(|n| n.name == name) {
                    notes.push(match node.net {
                        None => Note::Added { name, readers },
                        Some(_) => Note::Kept { name, readers },
                    });
                }
            }
            (Some(_), _) => {
                let shows = cell.output.and_then(|o| logic.outputs.get(o)).and_then(|o| o.shows);
                let input = |v: usize| logic.inputs.iter().any(|i| i.variable == v);
                let elsewhere = shows.filter(|(v, _)| !input(*v) && !cell.holds.iter().any(|(h, _)| h == v));
                if let Some((of, _)) = elsewhere {
                    notes.push(Note::Copied { name, of: logic.name_of(of).into() });
                }
            }
        }
        for term in cell.terms.iter().filter(|t| !t.steadies.is_empty()) {
            notes.push(Note::Steadies {
                name: cell.name.clone(),
                term: logic.term_text(&term.product),
                high: !cell.inverted,
                changes: term.steadies.iter().map(|&v| logic.name_of(v).to_owned()).collect(),
            });
        }
    }
    if let Some(preset) = &fitted.preset {
        let holds = |c: &&FittedCell| c.terms.iter().any(|t| t.product == *preset);
        let registered = fitted.cells.iter().filter(|c| c.function == Function::Registered);
        let names = registered.filter(holds).map(|c| c.name.clone()).collect();
        notes.push(Note::Preset { term: logic.term_text(preset), names });
    }
    let pulled = logic.outputs.iter().filter(|o| o.pull != Pull::None);
    notes.extend(pulled.map(|o| Note::Resistor { label: o.label.clone(), name: o.name.clone(), pull: o.pull }));
    notes.extend(fitted.cells.iter().filter_map(|c| {
        let borrowed = c.control.as_ref().map(|c| c.borrowed.clone()).filter(|b| !b.is_empty())?;
        Some(Note::Borrowed { name: c.name.clone(), macrocell: c.macrocell, borrowed })
    }));
    notes.extend(fitted.driven.iter().map(|&pin| Note::Driven { pin }));
    // what a maker's fitter does with pins that have no signal is up to it
    if !fitted.for_fitter {
        let io = |pin: &PinNumber| device.role(*pin) == Some(Role::Io);
        let (macrocells, inputs): (Vec<PinNumber>, Vec<PinNumber>) = fitted.unused.iter().partition(|p| io(p));
        if !inputs.is_empty() {
            notes.push(Note::SpareInputs { pins: inputs });
        }
        if !macrocells.is_empty() {
            notes.push(Note::SpareMacrocells { pins: macrocells });
        }
    }
    notes.extend(fitted.port.iter().map(|p| Note::Port { pin: p.pin, signal: p.signal }));
    notes.extend(fitted.ties.iter().map(|&(pin, rail)| Note::Tied { pin, rail }));
    for input in &logic.inputs {
        let pins = fitted.pins_of(&input.label);
        if pins.len() > 1 {
            notes.push(Note::TwoPins { label: input.label.clone(), name: input.name.clone(), pins });
        }
    }
    notes.extend(logic.idle.iter().map(|(label, name)| Note::Idle { label: label.clone(), name: name.clone() }));
    notes.extend(logic.unread.iter().map(|name| Note::Unread { name: name.clone() }));
    notes
}

/// The signals whose terms, enable or reset read a variable.
fn readers(fitted: &Fitted, variable: Option<usize>) -> Vec<String> {
    let reads = |p: &[(usize, bool)]| p.iter().any(|(v, _)| Some(*v) == variable);
    let mut names: Vec<String> = fitted
        .cells
        .iter()
        .filter(|c| {
            let lines = c.control.iter().flat_map(|c| c.gate.iter().chain(&c.clear).chain(&c.preset));
            c.terms.iter().any(|t| reads(&t.product))
                || matches!(&c.drive, Drive::While(product) if reads(product))
                || lines.into_iter().any(|l| reads(&l.product))
        })
        .map(|c| c.name.clone())
        .collect();
    if fitted.reset.as_deref().is_some_and(reads) {
        names.push("the reset of all registers".into());
    }
    names
}
