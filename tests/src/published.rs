//! Random boards drawn by the statistics of published ones: the share of each type, how many pins a net has, how clocks and
//! clears are wired.
use std::fmt::Write;

use gluewright::board::{Library, PinRole};
use gluewright::circuit::{Kind, Label, Polarity, Rail, Stage, Vertex};
use gluewright_parts::ttl;

use crate::gates::Numbers;

/// Packages of each type. Source: published boards, counted (six boards, 81 packages of TTL, 60 of them here: those with
/// 48 pins are left out, for a drawn board would be all one package, and so are the drivers of displays).
pub const TYPES: [(&str, usize); 14] = [
    ("74LS193", 16),
    ("74LS541", 16),
    ("74LS90", 6),
    ("74LS138", 5),
    ("74LS00", 4),
    ("74LS573", 4),
    ("74LS688", 2),
    ("74LS245", 2),
    ("74LS244", 2),
    ("74LS377", 1),
    ("CD4060", 1),
    ("74LS174", 1),
    ("74LS93", 1),
    ("74LS01", 1),
];

/// Nets by how many pins of logic they have: two, three, … nine. Source: published boards, counted (266 nets of more than
/// one pin).
pub const FAN_OUT: [usize; 8] = [91, 83, 40, 23, 0, 1, 24, 4];

/// Clock pins on signals, and the nets that they are on; clock pins at a rail. Source, here and below: published boards, counted
/// (six boards with only their TTL and resistors kept).
pub const CLOCKS: (usize, usize, usize) = (50, 44, 4);

/// Clock nets by what drives them: a contact, a package with registers, one without; and how many of all are read by
/// something else than clocks. None of them is also another input of a package that it clocks.
pub const CLOCK_FROM: [usize; 3] = [4, 31, 9];
pub const CLOCKS_ALSO_READ: usize = 10;

/// Clear pins on signals, the nets that they are on, and clear pins at the rail that never clears; the nets by what drives them,
/// as above.
pub const CLEARS: (usize, usize, usize) = (29, 8, 14);
pub const CLEAR_FROM: [usize; 3] = [2, 4, 2];

/// Other inputs that act while low: on signals, at GND, at VCC; that act while high; and inputs of data.
pub const LOW: [usize; 3] = [42, 36, 11];
pub const HIGH: [usize; 3] = [7, 0, 2];
pub const DATA: [usize; 3] = [375, 33, 7];

/// Inputs that act while low, while high, and of data, by what drives them, as above; and data of packages with registers, where
/// the few from registers come from their own package.
pub const LOW_FROM: [usize; 3] = [17, 0, 25];
pub const HIGH_FROM: [usize; 3] = [7, 0, 0];
pub const DATA_FROM: [usize; 3] = [130, 91, 38];
pub const REGISTER_DATA_FROM: [usize; 3] = [46, 3, 64];

/// The statistics, for whoever reads a campaign's table.
pub fn statistics() -> String {
    let mut text = "published boards, counted: packages by type".to_owned();
    for (kind, count) in TYPES {
        let _ = write!(text, " {kind} {count}");
    }
    let _ = write!(
        text,
        "; nets of 2 to 9 pins {FAN_OUT:?}; clock pins on signals, their nets, at a rail {CLOCKS:?}; clock nets driven by a \
         contact, a package with registers, one without {CLOCK_FROM:?}, of which {CLOCKS_ALSO_READ} are read by more than \
         clocks; clear pins on signals, their nets, at a rail {CLEARS:?}, driven by {CLEAR_FROM:?}; inputs on signals, at GND, at \
         VCC: active low {LOW:?}, active high {HIGH:?}, data {DATA:?}; driven by {LOW_FROM:?}, {HIGH_FROM:?}, {DATA_FROM:?}, data of \
         packages with registers by {REGISTER_DATA_FROM:?}"
    );
    text
}

fn weighted(n: &mut Numbers, weights: &[usize]) -> usize {
    let mut at = n.below(weights.iter().sum::<usize>().max(1));
    for (i, &w) in weights.iter().enumerate() {
        match at.checked_sub(w) {
            Some(less) => at = less,
            None => return i,
        }
    }
    0
}

/// A net that may be read.
struct Open {
    name: String,
    /// A contact, a package with registers, one without.
    from: usize,
    /// How many pins more it takes.
    room: usize,
    is_read: bool,
}

/// What is wired so far.
struct Nets {
    all: Vec<Open>,
    clocks: Vec<String>,
    clears: Vec<String>,
}

impl Nets {
    /// A net that takes one pin more, by what drives it; none that is among `not`.
    fn drawn(&mut self, n: &mut Numbers, from: [usize; 3], fresh: bool, not: &[String]) -> Option<usize> {
        let fits = |net: &Open, kind: usize| {
            net.from == kind && net.room > 0 && !(fresh && net.is_read) && !not.contains(&net.name)
        };
        let there: Vec<Vec<usize>> =
            (0..3).map(|kind| (0..self.all.len()).filter(|&i| fits(&self.all[i], kind)).collect()).collect();
        let weights: Vec<usize> = (0..3).map(|k| if there[k].is_empty() { 0 } else { from[k] }).collect();
        if weights.iter().sum::<usize>() == 0 {
            return if fresh { self.drawn(n, from, false, not) } else { None };
        }
        let of = &there[weighted(n, &weights)];
        let at = of[n.below(of.len())];
        self.all[at].room -= 1;
        self.all[at].is_read = true;
        Some(at)
    }

    fn clock(&mut self, n: &mut Numbers, not: &[String]) -> Option<String> {
        let (pins, nets, _) = CLOCKS;
        let known: Vec<&String> = self.clocks.iter().filter(|c| !not.contains(c)).collect();
        if n.below(pins) >= nets && !known.is_empty() {
            return Some(known[n.below(known.len())].clone());
        }
        let alone = n.below(nets) >= CLOCKS_ALSO_READ;
        let at = self.drawn(n, CLOCK_FROM, alone, not)?;
        if alone {
            self.all[at].room = 0;
        }
        self.clocks.push(self.all[at].name.clone());
        self.clocks.last().cloned()
    }

    fn clear(&mut self, n: &mut Numbers, not: &[String]) -> Option<String> {
        let (pins, nets, _) = CLEARS;
        let known: Vec<&String> = self.clears.iter().filter(|c| !not.contains(c)).collect();
        if n.below(pins) >= nets && !known.is_empty() {
            return Some(known[n.below(known.len())].clone());
        }
        let at = self.drawn(n, CLEAR_FROM, false, not)?;
        self.clears.push(self.all[at].name.clone());
        self.clears.last().cloned()
    }
}

/// Whether an input clears, by its pin's name in the sheet.
fn clears(name: &str) -> bool {
    name.contains("CLR") || ["MR", "CL"].contains(&name) || name.starts_with("R0(") || name.starts_with("R9(")
}

/// A board's trace with this many packages, drawn. What can float is pulled up.
pub fn trace(n: &mut Numbers, packages: usize, inputs: usize) -> String {
    let mut rows = "ref,part,pin,net\n".to_owned();
    let mut nets = Nets { all: Vec::new(), clocks: Vec::new(), clears: Vec::new() };
    let room = |n: &mut Numbers| 1 + weighted(n, &FAN_OUT);
    for i in 0..inputs {
        rows += &format!("J1,contacts,{},in{i}\n", i + 1);
        nets.all.push(Open { name: format!("in{i}"), from: 0, room: room(n) + 1, is_read: false });
    }
    let mut shown = Vec::new();
    for u in 1..=packages {
        let kind = TYPES[weighted(n, &TYPES.map(|t| t.1))].0;
        let Some(part) = ttl().part(kind) else { continue };
        let contact = |label: &Label| part.circuit().contacts().iter().find(|c| c.label == *label);
        let polarity = |label: &Label| contact(label).map_or(Polarity::Data, |c| c.polarity);
        let is_clock = |label: &Label| polarity(label) == Polarity::Clock || edges(&part, label);
        let mut row = |label: &Label, net: &str| rows += &format!("U{u},{kind},{label},{net}\n");
        let (mut outputs, mut inputs, mut pulled) = (Vec::new(), Vec::new(), Vec::new());
        for (label, role) in part.pins() {
            match role {
                PinRole::Supply(rail) => row(label, if rail == Rail::Vcc { "VCC" } else { "GND" }),
                PinRole::Output(stage) | PinRole::InOut(stage) => {
                    let net = format!("u{u}_{label}");
                    row(label, &net);
                    if stage != Stage::PushPull {
                        pulled.push(format!("R{u}{label},resistor 4k7,1,VCC\nR{u}{label},resistor 4k7,2,{net}\n"));
                    }
                    outputs.push(net);
                }
                PinRole::Input => inputs.push(label),
                _ => {}
            }
        }
        // clocks first: what clocks a package is no other input of it
        inputs.sort_by_key(|label| !is_clock(label));
        let (mut clocks, mut others): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
        for label in inputs {
            let name = contact(label).map_or("", |c| &*c.name);
            let at_rail = |n: &mut Numbers, [signal, low, high]: [usize; 3]| match weighted(n, &[signal, low, high]) {
                0 => None,
                1 => Some("GND".to_owned()),
                _ => Some("VCC".to_owned()),
            };
            let net = if is_clock(label) {
                let rail = at_rail(n, [CLOCKS.0, 0, CLOCKS.2]);
                rail.or_else(|| nets.clock(n, &others)).inspect(|net| clocks.push(net.clone()))
            } else if clears(name) {
                let off = if polarity(label) == Polarity::ActiveLow {
                    [CLEARS.0, 0, CLEARS.2]
                } else {
                    [CLEARS.0, CLEARS.2, 0]
                };
                at_rail(n, off).or_else(|| nets.clear(n, &clocks))
            } else {
                let (at, from) = match polarity(label) {
                    Polarity::ActiveLow => (LOW, LOW_FROM),
                    Polarity::ActiveHigh => (HIGH, HIGH_FROM),
                    _ if clocks.is_empty() => (DATA, DATA_FROM),
                    _ => (DATA, REGISTER_DATA_FROM),
                };
                at_rail(n, at).or_else(|| nets.drawn(n, from, false, &clocks).map(|at| nets.all[at].name.clone()))
            };
            let net = net.unwrap_or_else(|| "GND".to_owned());
            row(label, &net);
            others.push(net);
        }
        rows += &pulled.concat();
        let from = if clocks.is_empty() { 2 } else { 1 };
        for name in outputs {
            if n.below(3) == 0 {
                shown.push(name.clone());
            }
            nets.all.push(Open { name, from, room: room(n), is_read: false });
        }
    }
    while shown.len() > 6 {
        shown.swap_remove(n.below(shown.len()));
    }
    for (i, net) in shown.iter().enumerate() {
        rows += &format!("J1,contacts,{},{net}\n", 41 + i);
    }
    rows
}

/// Whether a register of the part loads by what comes at this pin and by nothing else: the two clocks of a 74LS193, whose
/// polarity says nothing.
fn edges(part: &gluewright::board::Part, label: &Label) -> bool {
    let circuit = part.circuit();
    let Some(contact) = circuit.contacts().iter().find(|c| c.label == *label) else { return false };
    circuit.elements().iter().any(|e| {
        let Kind::Register { clock, .. } = e.kind else { return false };
        circuit.cone([Vertex::Expression(clock)], |v| !v.is_element()).contains(contact.net)
    })
}
