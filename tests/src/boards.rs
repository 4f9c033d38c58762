//! Random boards of TTL packages, wired as boards are, and replacements written for them by rewriting their logic.
use std::collections::HashMap;

use gluewright::board::Board;
use gluewright::circuit::{Circuit, Driver, Element, Expr, Kind, NetId, Op, Start};

use crate::gates::Numbers;
use crate::walk::{alive, in_loops};

/// What a section of a package does with its nets.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Does {
    Gates,
    /// Gates whose outputs are open collectors.
    Pulls,
    /// Drives while its enable is low.
    Buffers,
    /// Follows at once: its outputs must not come back to it.
    Latches,
    Registers,
}

/// One section of a package, by pins.
#[derive(Clone, Copy, Debug)]
struct Section {
    part: &'static str,
    does: Does,
    inputs: &'static [u16],
    clocks: &'static [u16],
    /// Active-low clears and presets.
    overrides: &'static [u16],
    /// Active-low output enables.
    enables: &'static [u16],
    outputs: &'static [u16],
    /// Registers and latches in it.
    bits: usize,
    supply: (u16, u16),
}

const fn gates(part: &'static str, inputs: &'static [u16], outputs: &'static [u16], supply: (u16, u16)) -> Section {
    let none: &[u16] = &[];
    Section { part, does: Does::Gates, inputs, clocks: none, overrides: none, enables: none, outputs, bits: 0, supply }
}

const fn holds(
    part: &'static str,
    inputs: &'static [u16],
    clocks: &'static [u16],
    overrides: &'static [u16],
    outputs: &'static [u16],
    bits: usize,
    supply: (u16, u16),
) -> Section {
    Section { part, does: Does::Registers, inputs, clocks, overrides, enables: &[], outputs, bits, supply }
}

const SMALL: (u16, u16) = (14, 7);
const MIDDLE: (u16, u16) = (16, 8);
const LARGE: (u16, u16) = (20, 10);

/// Pins by the parts' data sheets, as they stand in the parts crate's data.
const SECTIONS: &[Section] = &[
    gates("74LS00", &[1, 2, 4, 5], &[3, 6], SMALL),
    gates("74LS00", &[1, 2, 4, 5, 9, 10, 12, 13], &[3, 6, 8, 11], SMALL),
    gates("74LS02", &[2, 3, 5, 6], &[1, 4], SMALL),
    gates("74LS04", &[1, 3], &[2, 4], SMALL),
    gates("74LS08", &[1, 2, 4, 5], &[3, 6], SMALL),
    gates("74LS10", &[1, 2, 13], &[12], SMALL),
    gates("74LS32", &[1, 2, 4, 5], &[3, 6], SMALL),
    gates("74LS86", &[1, 2, 4, 5], &[3, 6], SMALL),
    gates("74LS138", &[1, 2, 3, 4, 5, 6], &[15, 14, 13, 7], MIDDLE),
    gates("74LS139", &[1, 2, 3], &[4, 5, 6, 7], MIDDLE),
    gates("74LS153", &[14, 2, 1, 6, 5, 4, 3], &[7], MIDDLE),
    gates("74LS157", &[1, 15, 2, 3, 5, 6], &[4, 7], MIDDLE),
    gates("74LS85", &[10, 12, 13, 15, 9, 11, 14, 1, 2, 3, 4], &[5, 6, 7], MIDDLE),
    Section { does: Does::Pulls, ..gates("74LS03", &[1, 2, 4, 5], &[3, 6], SMALL) },
    Section { does: Does::Buffers, enables: &[1, 4], ..gates("74LS125", &[2, 5], &[3, 6], SMALL) },
    Section { does: Does::Buffers, enables: &[1], ..gates("74LS244", &[2, 4], &[18, 16], LARGE) },
    holds("74LS74", &[2], &[3], &[1, 4], &[5, 6], 1, SMALL),
    holds("74LS74", &[2, 12], &[3, 11], &[1, 4, 13, 10], &[5, 9], 2, SMALL),
    holds("74LS109", &[2, 3], &[4], &[1, 5], &[6, 7], 1, MIDDLE),
    holds("74LS175", &[4, 5], &[9], &[1], &[2, 7], 2, MIDDLE),
    holds("74LS93", &[], &[14, 1], &[], &[12, 9, 8, 11], 4, (5, 10)),
    holds("74LS163", &[1, 7, 10, 9, 3, 4], &[2], &[], &[14, 13, 12, 15], 4, MIDDLE),
    Section { enables: &[1], ..holds("74LS374", &[3, 4], &[11], &[], &[2, 5], 2, LARGE) },
    Section { does: Does::Latches, enables: &[1], ..holds("74LS373", &[3, 4], &[11], &[], &[2, 5], 2, LARGE) },
];

/// A board's trace with this many packages, drawn.
pub fn trace(n: &mut Numbers, packages: usize, most_bits: usize) -> String {
    let inputs = 2 + n.below(4);
    let mut nets: Vec<String> = (0..inputs).map(|i| format!("in{i}")).collect();
    let mut rows =
        vec!["ref,part,pin,net".to_owned(), "J1,contacts,1,clk".to_owned(), "J1,contacts,2,rst_n".to_owned()];
    rows.extend((0..inputs).map(|i| format!("J1,contacts,{},in{i}", 3 + i)));
    let mut chosen: Vec<Section> = Vec::new();
    let mut bits = 0;
    while chosen.len() < packages {
        let s = SECTIONS[n.below(SECTIONS.len())];
        if bits + s.bits <= most_bits {
            bits += s.bits;
            chosen.push(s);
        }
    }
    // what registers hold may come back to anything
    let output = |k: usize, pin: u16| format!("u{k}_{pin}");
    for (k, s) in chosen.iter().enumerate().filter(|(_, s)| s.does == Does::Registers && s.enables.is_empty()) {
        nets.extend(s.outputs.iter().map(|&p| output(k, p)));
    }
    let held = nets.len();
    let mut shown: Vec<String> = Vec::new();
    let mut resistors = Vec::new();
    for (k, s) in chosen.iter().enumerate() {
        let mut row = |pin: u16, net: &str| rows.push(format!("U{},{},{pin},{net}", k + 1, s.part));
        row(s.supply.0, "VCC");
        row(s.supply.1, "GND");
        let drawn = |n: &mut Numbers| match n.below(20) {
            0 => "VCC".to_owned(),
            1 => "GND".to_owned(),
            _ => nets[n.below(nets.len())].clone(),
        };
        for &pin in s.inputs {
            row(pin, &drawn(n));
        }
        for &pin in s.clocks {
            let net = match n.below(20) {
                0..=12 => "clk".to_owned(),
                13..=15 => format!("in{}", n.below(inputs)),
                16 | 17 => nets[inputs.min(held - 1) + n.below(held - inputs.min(held - 1))].clone(),
                _ => nets[n.below(nets.len())].clone(),
            };
            row(pin, &net);
        }
        if s.part == "74LS93" {
            let reset = if n.below(2) == 0 { "GND".to_owned() } else { drawn(n) };
            row(2, &reset);
            row(3, &reset);
        }
        for &pin in s.overrides {
            let net = match n.below(10) {
                0..=4 => "VCC".to_owned(),
                5..=8 => "rst_n".to_owned(),
                _ => drawn(n),
            };
            row(pin, &net);
        }
        for &pin in s.enables {
            let net = if n.below(3) == 0 { "GND".to_owned() } else { drawn(n) };
            row(pin, &net);
        }
        let floats = !s.enables.is_empty() || s.does == Does::Pulls;
        for &pin in s.outputs {
            let net = if floats && n.below(2) == 0 { "bus".to_owned() } else { output(k, pin) };
            row(pin, &net);
            if floats {
                if !shown.contains(&net) {
                    if n.below(2) == 0 {
                        resistors.push(net.clone());
                    }
                    shown.push(net.clone());
                }
            } else if n.below(4) == 0 {
                shown.push(net.clone());
            }
            // what floats may be read where it has a resistor
            let readable = !floats || resistors.contains(&net);
            if readable && !nets.contains(&net) {
                nets.push(net);
            }
        }
    }
    if shown.is_empty() {
        shown.push(nets[nets.len() - 1].clone());
    }
    while shown.len() > 5 {
        shown.swap_remove(n.below(shown.len()));
    }
    shown.retain(|net| !net.starts_with("in"));
    rows.extend(shown.iter().enumerate().map(|(i, net)| format!("J1,contacts,{},{net}", 21 + i)));
    for (i, net) in resistors.iter().enumerate() {
        rows.push(format!("R{},resistor 4k7,1,VCC", i + 1));
        rows.push(format!("R{},resistor 4k7,2,{net}", i + 1));
    }
    rows.join("\n") + "\n"
}

/// The board of a trace. Nothing if the trace has an error, as a drawn one may.
pub fn board(trace: &str) -> Option<Circuit> {
    Board::from_csv("drawn.csv", trace, gluewright_parts::ttl()).ok()?.circuit().ok()
}

/// The same function in other clothes: names for values dissolved, some registers stored inverted, others started.
pub fn rewritten(n: &mut Numbers, circuit: &Circuit) -> Circuit {
    let mut r = Rewriting {
        from: circuit,
        to: Circuit::new("replacement"),
        nets: Vec::new(),
        inverted: Vec::new(),
        known: HashMap::new(),
        looped: in_loops(circuit),
    };
    // what no contact shows is not rebuilt
    let (live_nets, live_elements) = alive(circuit);
    for (net, live) in circuit.nets().iter().zip(&live_nets) {
        r.nets.push(live.then(|| {
            let id = r.to.add_net(net.name.clone(), net.origin.clone());
            r.to.net_mut(id).expect("there").pull = net.pull;
            id
        }));
    }
    let mut elements = Vec::new();
    for (e, live) in circuit.elements().iter().zip(&live_elements) {
        if !live {
            r.inverted.push(false);
            elements.push(None);
            continue;
        }
        let plain = e.clear == Expr::LOW || e.preset == Expr::LOW;
        r.inverted.push(plain && n.below(2) == 0);
        elements.push(Some(r.to.add_element(Element {
            clear: Expr::LOW,
            preset: Expr::LOW,
            unknown_load: Expr::LOW,
            ..e.clone()
        })));
    }
    let starts_low = n.below(3) == 0;
    for (k, e) in circuit.elements().iter().enumerate() {
        let Some(id) = elements[k] else { continue };
        let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
        let [clock, mut data, mut clear, mut preset] = [clock, data, e.clear, e.preset].map(|x| r.expression(x));
        if r.inverted[k] {
            data = r.to.not(data);
            std::mem::swap(&mut clear, &mut preset);
        }
        let unknown = circuit.find_element(&e.name).map_or(Expr::LOW, |id| circuit.loads_unknown(id));
        let unknown = r.expression(unknown);
        r.to.load_unknown_while(id, unknown);
        let new = r.to.element_mut(id).expect("there");
        new.kind = match e.kind {
            Kind::Register { .. } => Kind::Register { clock, data },
            Kind::Latch { .. } => Kind::Latch { open: clock, data },
        };
        (new.clear, new.preset) = (clear, preset);
        if starts_low && matches!(new.kind, Kind::Register { .. }) {
            new.start = if r.inverted[k] { Start::High } else { Start::Low };
        }
    }
    for (k, net) in circuit.nets().iter().enumerate() {
        let Some(id) = r.nets[k] else { continue };
        for d in &net.drivers {
            let (enable, level) = (r.expression(d.enable), r.expression(d.level));
            r.to.drive(id, Driver { enable, level, ..d.clone() });
        }
    }
    for c in circuit.contacts() {
        let mut contact = c.clone();
        let Some(net) = r.nets[c.net.index()] else { continue };
        contact.net = net;
        r.to.add_contact(contact);
    }
    r.to
}

struct Rewriting<'c> {
    from: &'c Circuit,
    to: Circuit,
    nets: Vec<Option<NetId>>,
    inverted: Vec<bool>,
    known: HashMap<Expr, Expr>,
    /// Nets that feed themselves through gates: they keep their names.
    looped: Vec<bool>,
}

impl Rewriting<'_> {
    fn expression(&mut self, e: Expr) -> Expr {
        if let Some(&known) = self.known.get(&e) {
            return known;
        }
        let new = match self.from.op(e) {
            Op::Constant(v) => Expr::constant(v),
            Op::Net(n) => {
                let net = &self.from.nets()[n.index()];
                match net.drivers.as_slice() {
                    [d] if d.enable == Expr::HIGH && net.contact.is_none() && !self.looped[n.index()] => {
                        self.expression(d.level)
                    }
                    _ => self.nets[n.index()].map_or(Expr::LOW, |n| self.to.net(n)),
                }
            }
            Op::Q(x) => self.q(x.index(), false),
            Op::QInverted(x) => self.q(x.index(), true),
            Op::Not(a) => {
                let a = self.expression(a);
                self.to.not(a)
            }
            Op::And(a, b) => {
                let (a, b) = (self.expression(a), self.expression(b));
                // ¬(¬a ∨ ¬b)
                let (a, b) = (self.to.not(a), self.to.not(b));
                let either = self.to.or(a, b);
                self.to.not(either)
            }
            Op::Or(a, b) => {
                let (a, b) = (self.expression(a), self.expression(b));
                self.to.or(a, b)
            }
            Op::Xor(a, b) => {
                let (a, b) = (self.expression(a), self.expression(b));
                let b_not = self.to.not(b);
                self.to.choose(a, b_not, b)
            }
            Op::Choose(c, a, b) => {
                let (c, a, b) = (self.expression(c), self.expression(a), self.expression(b));
                let c_not = self.to.not(c);
                let (one, other) = (self.to.and(c, a), self.to.and(c_not, b));
                self.to.or(one, other)
            }
        };
        self.known.insert(e, new);
        new
    }

    fn q(&mut self, element: usize, complement: bool) -> Expr {
        let name = &self.from.elements()[element].name;
        let id = self.to.find_element(name).expect("the same names");
        match (self.inverted[element], complement) {
            (false, false) => self.to.q(id),
            (false, true) => self.to.q_inverted(id),
            (true, true) => self.to.q(id),
            (true, false) => {
                let q = self.to.q(id);
                self.to.not(q)
            }
        }
    }
}
