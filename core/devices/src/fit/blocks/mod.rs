//! Placing a circuit into a device of logic blocks: macrocells over blocks, borrowed terms, global pins, contacts.
mod arrange;
mod diagnose;
mod globals;
mod locks;
mod needs;
mod partition;
mod pins;

use std::collections::BTreeSet;

use super::fitted::{Control, FittedCell, PinWire, supplies, tell_apart};
use super::notes::notes;
use super::{Drive, Fitted, Line, NoFit, Wishes};
use crate::device::{Blocks, Device, PinNumber, Plan, PortPin, Role};
use crate::logic::{Product, collapse};
use gluewright_kernel::circuit::{Circuit, NetId};

use globals::{Globals, globals};
use needs::{Need, Needs, needs};
use partition::{Found, partition};
use pins::Pins;

/// A device of logic blocks with what a user asks of it.
#[derive(Clone, Copy, Debug)]
struct Site<'a> {
    device: &'a Device,
    blocks: &'a Blocks,
    wishes: &'a Wishes,
}

impl Site<'_> {
    /// Whether a pin is kept for the programming port.
    fn keeps(self, pin: PinNumber) -> bool {
        self.wishes.port && self.blocks.port_signal(pin).is_some()
    }

    /// Pins that can carry signals.
    fn signal_pins(self) -> impl Iterator<Item = PinNumber> {
        let signal = |r: Role| !matches!(r, Role::Vcc | Role::Gnd);
        self.device.pins.iter().filter(move |p| signal(p.role) && !self.keeps(p.number)).map(|p| p.number)
    }
}

/// Fits a circuit into a device of logic blocks.
pub(super) fn fit(
    circuit: &Circuit,
    device: &Device,
    blocks: &Blocks,
    wishes: &Wishes,
    keep: &BTreeSet<NetId>,
) -> Result<Fitted, NoFit> {
    let site = Site { device, blocks, wishes };
    let mut logic = collapse(circuit, keep)?;
    logic.diagrams.limit_to(wishes.limit);
    let needs = needs(logic, site)?;
    let locks = locks::locks(&needs, site);
    locks::check(&needs, site, &locks)?;
    let globals = globals(&needs, site, &locks);
    diagnose::counts(&needs, site, &globals)?;
    let pins = Pins::new(&needs, site, &globals, locks);
    match partition(&needs, site, &globals, &pins, blocks.inputs.value) {
        Some(found) => Ok(fitted(circuit, needs, site, &globals, &pins, &found)),
        None => Err(diagnose::reason(&needs, site, &globals)),
    }
}

/// Writes down what was decided.
fn fitted(circuit: &Circuit, needs: Needs, site: Site<'_>, globals: &Globals, pins: &Pins, found: &Found) -> Fitted {
    let mut cells: Vec<FittedCell> = Vec::with_capacity(needs.list.len());
    for (index, need) in needs.list.iter().enumerate() {
        let Some(place) = found.places.get(index) else { continue };
        let pin = need.output.and_then(|_| site.blocks.macrocells.get(usize::from(place.macrocell).wrapping_sub(1)));
        cells.push(cell(need, &needs, site, globals, place, pin.copied().flatten()));
    }
    let mut wires: Vec<PinWire> = Vec::new();
    for c in &cells {
        if let (Some(pin), Some(label)) = (c.pin, &c.label) {
            wires.push(PinWire { pin, label: label.clone(), signal: c.name.clone() });
        }
    }
    let taken: BTreeSet<PinNumber> = wires.iter().map(|w| w.pin).collect();
    for (variable, pin) in pins.inputs(&needs, site, globals, &taken) {
        if let Some(input) = needs.logic.inputs.iter().find(|i| i.variable == variable) {
            wires.push(PinWire { pin, label: input.label.clone(), signal: input.name.clone() });
        }
    }
    wires.sort();
    let unused = site.signal_pins().filter(|p| !wires.iter().any(|w| w.pin == *p)).collect();
    let port = site.blocks.port.iter().filter(|_| site.wishes.port).copied();
    let port: Vec<PortPin> = port.filter(|p| !wires.iter().any(|w| w.pin == p.pin)).collect();
    let mut fitted = Fitted {
        circuit: circuit.name.clone(),
        device: site.device.name,
        mode: "",
        for_fitter: true,
        power_up: [None; 2],
        plan: Plan::default(),
        wires,
        supplies: supplies(circuit, site.device),
        cells,
        clock: None,
        reset: None,
        preset: None,
        ties: Vec::new(),
        unused,
        driven: Vec::new(),
        port,
        notes: Vec::new(),
        logic: needs.logic,
    };
    tell_apart(&mut fitted);
    fitted.notes = notes(&fitted, site.device);
    fitted
}

fn cell(
    need: &Need,
    needs: &Needs,
    site: Site<'_>,
    globals: &Globals,
    place: &arrange::Place,
    pin: Option<PinNumber>,
) -> FittedCell {
    let line =
        |product: &Option<Product>, pin: Option<PinNumber>| product.as_ref().map(|p| Line { product: p.clone(), pin });
    let output = need.output.and_then(|o| needs.logic.outputs.get(o));
    let taken = globals.terms_taken(need);
    let terms = site.blocks.terms.value;
    FittedCell {
        macrocell: place.macrocell,
        pin,
        name: need.name.clone(),
        label: output.map(|o| o.label.clone()),
        output: need.output,
        holds: need.holds.clone(),
        function: need.function,
        drive: need.drive.clone(),
        inverted: need.inverted,
        terms: need.terms.clone(),
        fewest: need.fewest,
        capacity: (terms * (1 + place.borrowed.len())).saturating_sub(taken),
        control: Some(Control {
            gate: line(&need.gate, globals.gate(need)),
            clear: line(&need.clear, globals.clear(need)),
            preset: line(&need.preset, None),
            enable: if matches!(need.drive, Drive::While(_)) { globals.enable(need) } else { None },
            borrowed: place.borrowed.clone(),
        }),
        origin: need.origin.clone(),
    }
}
