//! The fitted device: its product terms as they stand in the fuses or in the netlist.
use std::collections::BTreeSet;

use super::step::{Watched, Ways, look};
use super::ternary::{Ternary, product, sum};
use super::{Cause, Hazards, Margin, Role};
use gluewright_devices::device::{Device, DeviceError, Function, Literal, PinNumber, Plan, Source, Term};
use gluewright_devices::fit::{Drive, Fitted, FittedCell, SumTerm};
use gluewright_devices::fusefile::Fuses;
use gluewright_devices::logic::{Diagrams, Logic, Product};

/// The hazards of a fitted device.
pub fn of_device(fitted: &Fitted) -> Hazards {
    let mut watched = Vec::new();
    for cell in &fitted.cells {
        watch(fitted, cell, &mut watched);
    }
    if let Some(reset) =
        fitted.reset.as_ref().filter(|_| fitted.cells.iter().any(|c| c.function == Function::Registered))
    {
        watched.push(of_product("the reset of all registers", Role::AtOnce, reset));
    }
    let mut found = look(&fitted.logic, &watched, true);
    let clocked = fitted.cells.iter().filter(|c| c.function == Function::Registered);
    let terms = clocked.filter(|c| {
        let gate = c.control.as_ref().and_then(|c| c.gate.as_ref());
        gate.is_some_and(|g| g.product.len() > 1)
    });
    let names: Vec<&str> = terms.map(|c| c.name.as_str()).collect();
    if !names.is_empty() {
        found.left_out.push(format!(
            "{}: clocked by a product term; whether such a clock rises twice where it is to rise once can't be seen in this way",
            names.join(", ")
        ));
    }
    found
}

/// The hazards of a device with this fuse map, in the place of the one that was fitted.
///
/// # Errors
/// If the map isn't one of this device.
pub fn of_fuses(fitted: &Fitted, device: &Device, fuses: &Fuses) -> Result<Hazards, DeviceError> {
    let plan = device.decode(fuses)?;
    Ok(of_device(&as_burned(fitted, device, &plan)))
}

/// The fit with the terms of a plan.
fn as_burned(fitted: &Fitted, device: &Device, plan: &Plan) -> Fitted {
    let mut burned = fitted.clone();
    let read = |term: &Term| -> Product { term.0.iter().filter_map(|l| literal(fitted, device, plan, *l)).collect() };
    for cell in &mut burned.cells {
        let Some(planned) = cell.pin.and_then(|pin| plan.cells.get(&pin)) else { continue };
        cell.inverted = planned.inverted;
        cell.terms = planned.terms.iter().map(|t| SumTerm { product: read(t), steadies: Vec::new() }).collect();
    }
    burned
}

/// The variable behind a literal of the array, with the level at which the literal is true.
fn literal(fitted: &Fitted, device: &Device, plan: &Plan, l: Literal) -> Option<(usize, bool)> {
    let (Source::Pin(pin) | Source::Feedback(pin)) = l.source;
    let cell = fitted.cells.iter().find(|c| c.pin == Some(pin));
    if let Some((cell, (variable, shown))) = cell.and_then(|c| Some((c, *c.holds.first()?))) {
        let mode = device.mode(plan.mode)?;
        let configuration = mode.macrocell(pin).and_then(|m| m.configuration(cell.function))?;
        let opposes = device.feedback_opposes_pin(configuration, cell.inverted);
        return Some((variable, !(l.complement ^ shown ^ opposes)));
    }
    let label = |pin: PinNumber| fitted.wires.iter().find(|w| w.pin == pin).map(|w| &w.label);
    let input = fitted.logic.inputs.iter().find(|i| Some(&i.label) == label(pin))?;
    Some((input.variable, !l.complement))
}

fn reads(product: &Product) -> impl Iterator<Item = usize> + '_ {
    product.iter().map(|(v, _)| *v)
}

fn of_product<'a>(name: &str, role: Role, term: &'a Product) -> Watched<'a> {
    Watched {
        name: name.to_owned(),
        role,
        reads: reads(term).collect(),
        own: None,
        silicon: false,
        level: Box::new(move |d: &mut Diagrams, leaf: &dyn Fn(usize) -> Ternary| product(d, term, leaf)),
        margin: None,
    }
}

fn watch<'a>(fitted: &'a Fitted, cell: &'a FittedCell, watched: &mut Vec<Watched<'a>>) {
    if let Drive::While(condition) = &cell.drive {
        watched.push(of_product(&cell.name, Role::Enable, condition));
    }
    let control = cell.control.as_ref();
    if let Some(control) = control {
        for line in control.clear.iter().chain(&control.preset) {
            watched.push(of_product(&cell.name, Role::AtOnce, &line.product));
        }
    }
    let gate = control.and_then(|c| c.gate.as_ref()).map(|g| &g.product);
    let terms = move || cell.terms.iter().map(|t| &t.product);
    let summed: BTreeSet<usize> = terms().flat_map(reads).collect();
    match cell.function {
        Function::Registered => watched.extend(gate.map(|g| of_product(&cell.name, Role::Clock, g))),
        Function::Latch => {
            let Some(&(variable, complement)) = cell.holds.first() else { return };
            watched.extend(gate.map(|g| of_product(&cell.name, Role::Clock, g)));
            let gated: BTreeSet<usize> = gate.into_iter().flat_map(reads).collect();
            watched.push(Watched {
                name: cell.name.clone(),
                role: Role::Latch,
                reads: gated.union(&summed).copied().chain([variable]).collect(),
                own: Some(variable),
                silicon: true,
                level: Box::new(move |d: &mut Diagrams, leaf: &dyn Fn(usize) -> Ternary| {
                    let data = sum(d, terms(), cell.inverted != complement, leaf);
                    let open = gate.map_or(Ternary::LOW, |g| product(d, g, leaf));
                    open.choose(d, data, leaf(variable))
                }),
                margin: Some(ways(&fitted.logic, gated, summed)),
            });
        }
        Function::Combinational | Function::Input => {
            // a loop of product terms reads itself, straight or through others
            let own = cell.holds.first().filter(|(v, _)| fitted.logic.closes_loop(*v) && summed.contains(v)).copied();
            let complement = own.is_some_and(|(_, complement)| complement);
            let latch = own.and_then(|(v, _)| fitted.logic.latches.iter().find(|l| l.variable == v));
            let support = |f| fitted.logic.diagrams.support(f).into_iter().collect::<BTreeSet<usize>>();
            watched.push(Watched {
                name: cell.name.clone(),
                role: if own.is_some() { Role::Latch } else { Role::Level },
                reads: summed,
                own: own.map(|(v, _)| v),
                silicon: false,
                level: Box::new(move |d: &mut Diagrams, leaf: &dyn Fn(usize) -> Ternary| {
                    sum(d, terms(), cell.inverted != complement, leaf)
                }),
                margin: latch.map(|l| ways(&fitted.logic, support(l.open), support(l.data))),
            });
        }
    }
}

/// The ways to the gate and to the data of a latch.
fn ways(logic: &Logic, gate: BTreeSet<usize>, data: BTreeSet<usize>) -> Ways<'_> {
    Box::new(move |cause| {
        Some(Margin { closes: distance(logic, cause, &gate)?, moves: distance(logic, cause, &data)? })
    })
}

/// Macrocells between a cause and variables.
fn distance(logic: &Logic, cause: &Cause, to: &BTreeSet<usize>) -> Option<(usize, usize)> {
    let mut all: Option<(usize, usize)> = None;
    for &v in to {
        if let Some((few, many)) = passes(logic, cause, v, &mut BTreeSet::new()) {
            all = Some(all.map_or((few, many), |(a, b)| (a.min(few), b.max(many))));
        }
    }
    // and the term of the macrocell itself
    all.map(|(few, many)| (few + 1, many + 1))
}

fn passes(logic: &Logic, cause: &Cause, v: usize, path: &mut BTreeSet<usize>) -> Option<(usize, usize)> {
    let begins = match cause {
        Cause::Contact(name) => logic.name_of(v) == name,
        Cause::Load(_) | Cause::Reset(_) => logic.registers.iter().any(|r| r.variable == v),
    };
    if begins {
        return Some((0, 0));
    }
    if !path.insert(v) {
        return None;
    }
    let functions: Vec<_> = logic.latches.iter().filter(|l| l.variable == v).map(|l| l.follow).collect();
    let nodes = logic.nodes.iter().filter(|n| n.variable == v).map(|n| n.level);
    let wires = logic.outputs.iter().filter(|o| o.read_as == Some(v)).flat_map(|o| [o.level, o.enable]);
    let mut all: Option<(usize, usize)> = None;
    for f in functions.into_iter().chain(nodes).chain(wires) {
        for u in logic.diagrams.support(f) {
            if let Some((few, many)) = passes(logic, cause, u, path) {
                all = Some(all.map_or((few + 1, many + 1), |(a, b)| (a.min(few + 1), b.max(many + 1))));
            }
        }
    }
    path.remove(&v);
    all
}
