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

/// Where a clock pin's net comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum From {
    /// A contact.
    Contact,
    /// A package without registers.
    Gates,
    /// An output of a package of this type.
    Output(&'static str),
    /// Another output of the package from which the clock before comes.
    Beside,
    /// This pin of the package itself.
    Own(&'static str),
    /// This pin of another package of this type.
    Pin(&'static str, &'static str),
    /// This pin of the package from which the clock before comes.
    Same(&'static str),
    /// The rail at which it never clocks.
    Rail,
}

/// Clock pins by where their nets come from: in the second list where the package's clock before it comes from another
/// package's pin. Those that are not here are on contacts, eight pins on four nets. Source, here and below: published boards,
/// counted (six boards with only their TTL and resistors kept).
pub const CLOCKS: [(&str, &str, &[(From, usize)], &[(From, usize)]); 6] = [
    ("74LS193", "5", &[(From::Output("74LS138"), 4), (From::Pin("74LS193", "12"), 12)], &[]),
    ("74LS193", "4", &[(From::Beside, 3), (From::Rail, 1)], &[(From::Same("13"), 9), (From::Rail, 3)]),
    (
        "74LS90",
        "14",
        &[
            (From::Gates, 2),
            (From::Pin("CD4060", "3"), 1),
            (From::Pin("74LS90", "11"), 2),
            (From::Pin("74LS90", "12"), 1),
        ],
        &[],
    ),
    ("74LS90", "1", &[(From::Own("12"), 1)], &[(From::Own("12"), 4), (From::Pin("74LS90", "11"), 1)]),
    ("74LS93", "14", &[(From::Contact, 1)], &[]),
    ("74LS93", "1", &[(From::Own("12"), 1)], &[(From::Own("12"), 1)]),
];

/// Clock nets, and how many of them are read by something else than clocks. None of them is also another input of a package
/// that it clocks.
pub const CLOCK_NETS: (usize, usize) = (44, 10);

/// Packages of these types have one net at two of their inputs, so many of so many; of the other types none of 49 has.
pub const TWICE: [(&str, usize, usize); 4] = [("74LS00", 3, 4), ("74LS01", 1, 1), ("74LS90", 2, 6), ("74LS93", 1, 1)];

/// Clear pins on signals, the nets that they are on, and clear pins at the rail that never clears.
pub const CLEARS: (usize, usize, usize) = (29, 8, 14);

/// The nets of clears of ripple counters by what drives them: a contact, a package with registers, one without; those of all
/// others are contacts.
pub const CLEAR_FROM: [usize; 3] = [0, 4, 2];

/// Other inputs that act while low: on signals, at GND, at VCC; that act while high; and inputs of data.
pub const LOW: [usize; 3] = [42, 36, 11];
pub const HIGH: [usize; 3] = [7, 0, 2];
pub const DATA: [usize; 3] = [375, 33, 7];

/// What drives inputs other than clocks and clears, by type: a contact, a package with registers, one without. All of the
/// load inputs of the 74LS193 and all of the enables of the 74LS541 are driven by a decoder.
pub const FROM: [(&str, [usize; 3]); 12] = [
    ("74LS193", [64, 0, 0]),
    ("74LS541", [8, 128, 0]),
    ("74LS138", [22, 0, 0]),
    ("74LS00", [10, 6, 14]),
    ("74LS573", [20, 0, 8]),
    ("74LS688", [0, 16, 1]),
    ("74LS245", [19, 0, 17]),
    ("74LS244", [14, 0, 0]),
    ("74LS377", [5, 0, 0]),
    ("74LS174", [0, 3, 0]),
    ("74LS93", [2, 0, 0]),
    ("74LS01", [6, 2, 0]),
];
const DECODED: [&str; 2] = ["74LS193", "74LS541"];

/// The statistics, for whoever reads a campaign's table.
pub fn statistics() -> String {
    let mut text = "published boards, counted: packages by type".to_owned();
    for (kind, count) in TYPES {
        let _ = write!(text, " {kind} {count}");
    }
    let _ = write!(
        text,
        "; nets of 2 to 9 pins {FAN_OUT:?}; clocks {CLOCKS:?}, of (nets, read by more than clocks) {CLOCK_NETS:?}; one net at two \
         inputs {TWICE:?}; clear pins on signals, their nets, at a rail {CLEARS:?}, those of ripple counters driven by \
         {CLEAR_FROM:?}; inputs on signals, at GND, at VCC: active low {LOW:?}, active high {HIGH:?}, data {DATA:?}; driven by \
         {FROM:?}"
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
    /// The package and the pin that drive it.
    pin: Option<(usize, &'static str, String)>,
    /// A contact, a package with registers, one without.
    from: usize,
    /// How many pins more it takes.
    room: usize,
    is_read: bool,
}

/// What is wired so far.
struct Nets {
    all: Vec<Open>,
    /// The contacts that are clocks.
    clocks: Vec<usize>,
    clears: Vec<(String, usize)>,
    /// Contacts beside those that are there from the first.
    fresh: usize,
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

    /// The newest net with room that this pin of a package drives, or any pin.
    fn driven_by(&mut self, pin: Option<&str>, not: &[String], by: impl Fn(usize, &str) -> bool) -> Option<usize> {
        let fits = |net: &Open| {
            let (package, kind, label) = net.pin.as_ref()?;
            let free = net.room > 0 && !not.contains(&net.name);
            (pin.is_none_or(|pin| label == pin) && free && by(*package, kind)).then_some(())
        };
        let at = self.all.iter().rposition(|net| fits(net).is_some())?;
        self.all[at].is_read = true;
        self.all[at].room -= 1;
        Some(at)
    }

    /// A contact that nothing reads yet.
    fn contact(&mut self) -> usize {
        self.fresh += 1;
        let name = format!("more{}", self.fresh);
        self.all.push(Open { name, pin: None, from: 0, room: 1, is_read: true });
        self.all.len() - 1
    }

    /// A clock's net: none if it is at the rail that never clocks. `before` is where the package's clock before comes from.
    fn clock(
        &mut self,
        n: &mut Numbers,
        from: From,
        package: usize,
        before: Option<usize>,
        not: &[String],
    ) -> Option<usize> {
        match from {
            From::Rail => None,
            From::Own(pin) => self.driven_by(Some(pin), not, |p, _| p == package),
            From::Same(pin) => self.driven_by(Some(pin), not, |p, _| Some(p) == before),
            From::Pin(kind, pin) => self.driven_by(Some(pin), not, |p, k| p != package && k == kind),
            From::Output(kind) => self.driven_by(None, not, |_, k| k == kind),
            From::Beside => self.driven_by(None, not, |p, _| Some(p) == before),
            From::Gates => {
                let (nets, also) = CLOCK_NETS;
                let alone = n.below(nets) >= also;
                let at = self.drawn(n, [0, 0, 1], alone, not)?;
                if alone {
                    self.all[at].room = 0;
                }
                Some(at)
            }
            From::Contact => {
                let known: Vec<usize> =
                    self.clocks.iter().copied().filter(|&c| !not.contains(&self.all[c].name)).collect();
                if n.below(2) == 0 && !known.is_empty() {
                    return Some(known[n.below(known.len())]);
                }
                let at = self.contact();
                self.clocks.push(at);
                Some(at)
            }
        }
    }

    fn clear(&mut self, n: &mut Numbers, from: [usize; 3], not: &[String]) -> Option<String> {
        let (pins, nets, _) = CLEARS;
        let fits = |c: &&(String, usize)| from[c.1] > 0 && !not.contains(&c.0);
        let known: Vec<&(String, usize)> = self.clears.iter().filter(fits).collect();
        if n.below(pins) >= nets && !known.is_empty() {
            return Some(known[n.below(known.len())].0.clone());
        }
        let at = self.drawn(n, from, false, not)?;
        self.clears.push((self.all[at].name.clone(), self.all[at].from));
        self.clears.last().map(|c| c.0.clone())
    }
}

/// Whether an input clears, by its pin's name in the sheet.
fn clears(name: &str) -> bool {
    name.contains("CLR") || ["MR", "CL"].contains(&name) || name.starts_with("R0(") || name.starts_with("R9(")
}

/// A board's trace with this many packages, drawn. What can float is pulled up.
pub fn trace(n: &mut Numbers, packages: usize, inputs: usize) -> String {
    let mut rows = "ref,part,pin,net\n".to_owned();
    let mut nets = Nets { all: Vec::new(), clocks: Vec::new(), clears: Vec::new(), fresh: 0 };
    let room = |n: &mut Numbers| 1 + weighted(n, &FAN_OUT);
    for i in 0..inputs {
        rows += &format!("J1,contacts,{},in{i}\n", i + 1);
        nets.all.push(Open { name: format!("in{i}"), pin: None, from: 0, room: room(n) + 1, is_read: false });
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
                    outputs.push((label.to_string(), net));
                }
                PinRole::Input => inputs.push(label),
                _ => {}
            }
        }
        let has_registers = inputs.iter().any(|label| is_clock(label));
        let from = if has_registers { 1 } else { 2 };
        let own: Vec<String> = outputs.iter().map(|(_, name)| name.clone()).collect();
        for (label, name) in outputs {
            if n.below(3) == 0 {
                shown.push(name.clone());
            }
            let room = room(n);
            nets.all.push(Open { name, pin: Some((u, kind, label)), from, room, is_read: false });
        }
        // clocks first, in the order of their table: what clocks a package is no other input of it
        let told = |label: &Label| CLOCKS.iter().position(|c| c.0 == kind && label.as_str() == c.1);
        inputs.sort_by_key(|label| (!is_clock(label), told(label)));
        let (mut clocks, mut others): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
        let (mut before, mut cascades) = (None, false);
        for label in inputs {
            let name = contact(label).map_or("", |c| &*c.name);
            let at_rail = |n: &mut Numbers, [signal, low, high]: [usize; 3]| match weighted(n, &[signal, low, high]) {
                0 => None,
                1 => Some("GND".to_owned()),
                _ => Some("VCC".to_owned()),
            };
            let net = if is_clock(label) {
                let ways = told(label).map(|at| if cascades { CLOCKS[at].3 } else { CLOCKS[at].2 });
                let ways = ways.unwrap_or(&[(From::Contact, 1)]);
                let way = ways[weighted(n, &ways.iter().map(|w| w.1).collect::<Vec<_>>())].0;
                let at = nets.clock(n, way, u, before, &others);
                // where there is no such package yet it is elsewhere on the board; no counter has one clock there and one here
                if way == From::Rail || way == From::Beside && at.is_none() {
                    Some("VCC".to_owned())
                } else {
                    let at = at.unwrap_or_else(|| nets.contact());
                    before = nets.all[at].pin.as_ref().map(|pin| pin.0);
                    cascades = before.is_some() && matches!(way, From::Pin(..) | From::Same(_));
                    clocks.push(nets.all[at].name.clone());
                    Some(nets.all[at].name.clone())
                }
            } else if clears(name) {
                let off = if polarity(label) == Polarity::ActiveLow {
                    [CLEARS.0, 0, CLEARS.2]
                } else {
                    [CLEARS.0, CLEARS.2, 0]
                };
                let from = if name.starts_with('R') { CLEAR_FROM } else { [1, 0, 0] };
                at_rail(n, off).or_else(|| nets.clear(n, from, &clocks))
            } else {
                let at = match polarity(label) {
                    Polarity::ActiveLow => LOW,
                    Polarity::ActiveHigh => HIGH,
                    _ => DATA,
                };
                let from = FROM.iter().find(|f| f.0 == kind).map_or([1, 0, 0], |f| f.1);
                let decoded = DECODED.contains(&kind) && polarity(label) == Polarity::ActiveLow;
                let twice = TWICE.iter().find(|t| t.0 == kind).is_some_and(|&(_, some, of)| n.below(of) < some);
                let not = [&own[..], &clocks, if twice { &[] } else { &others }].concat();
                let drawn = |nets: &mut Nets, n: &mut Numbers| match decoded {
                    true => nets.driven_by(None, &not, |_, k| k == "74LS138"),
                    false => nets.drawn(n, from, false, &not),
                };
                at_rail(n, at).or_else(|| drawn(&mut nets, n).map(|at| nets.all[at].name.clone()))
            };
            let net = net.unwrap_or_else(|| {
                let at = nets.contact();
                nets.all[at].name.clone()
            });
            row(label, &net);
            others.push(net);
        }
        rows += &pulled.concat();
    }
    for k in 1..=nets.fresh {
        rows += &format!("J1,contacts,{},more{k}\n", 100 + k);
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
