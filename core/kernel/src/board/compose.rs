//! From a board to one circuit: a net for each net of the trace, every chip placed, contacts and rails declared.
use std::collections::{BTreeMap, HashMap, HashSet};

use super::Board;
use super::library::{Behaviour, Part, PinRole};
use super::nets::{Net, Role};
use super::package::{Fitted, Package};
use super::vocabulary::{Supply, Wire};
use crate::circuit::{
    By, Circuit, Contact, Delays, Direction, Driver, ElementId, Expr, Label, Landing, NetId, Origin, Polarity, Rail,
    Span, Stage, Steady,
};
use crate::figures::{Figure, PartFigures, Window};

/// A board as a circuit.
pub(super) struct Composed {
    pub(super) circuit: Circuit,
    /// The circuit's net for each net of the board, by position. Rails have one only where an output is on them.
    pub(super) nets: Vec<Option<NetId>>,
    /// The nets that stand for pins and contacts not yet traced: net, who, where.
    pub(super) waiting: Vec<(NetId, String, Origin)>,
    /// The nets of pins that are on none of the board's: package by position, pin, net.
    pub(super) open: Vec<(usize, Label, NetId)>,
    /// The registers and latches of each package that is there, in the order of its part.
    pub(super) elements: BTreeMap<usize, Vec<ElementId>>,
}

/// The circuit of a board. Packages that are refused or of unknown type are left out, and their pins' nets stay.
pub(super) fn compose(board: &Board) -> Composed {
    let mut composed = compose_of(board, |_| true);
    super::reset::start(board, &mut composed);
    composed
}

/// The circuit of some of the packages of a board, by position, on all its nets.
pub(super) fn compose_of(board: &Board, which: impl Fn(usize) -> bool) -> Composed {
    let mut circuit = Circuit::new(board.name.clone());
    let nets: Vec<Option<NetId>> = board
        .nets
        .all()
        .iter()
        .map(|net| {
            let wanted = match net.supply {
                None => true,
                Some(_) => net.uses.iter().any(|u| u.role.stage().is_some()),
            };
            wanted.then(|| add_net(&mut circuit, net))
        })
        .collect();
    let (mut waiting, mut open, mut elements) = (Vec::new(), Vec::new(), BTreeMap::new());
    let on = |name: &str| board.nets.find(name).and_then(|at| Some((board.nets.all().get(at)?, *nets.get(at)?)));
    let mut wires = Wires::default();
    for (at, package) in board.packages.iter().enumerate().filter(|(at, _)| which(*at)) {
        match &package.fitted {
            Fitted::Contacts => contacts(&mut circuit, package, &on, &mut wires, &mut waiting),
            Fitted::Chip(part) if *part.behaviour() == Behaviour::Logic => {
                let (alone, own) = chip(&mut circuit, package, part, &on, &mut waiting);
                elements.insert(at, own);
                open.extend(alone.into_iter().map(|(label, net)| (at, label, net)));
            }
            _ => {}
        }
    }
    for (net, id) in board.nets.all().iter().zip(&nets) {
        if let (Some(label), Some(id)) = (&net.boundary, *id)
            && net.uses.iter().any(|u| u.role == Role::Outside && which(u.package))
        {
            let (name, direction, origin) = (net.name.clone(), direction(net), net.origin.clone());
            let label = label.clone();
            circuit.add_contact(Contact { label, name, net: id, polarity: Polarity::Data, direction, origin });
        }
    }
    hold(&mut circuit, board, &nets, &which);
    wires.join(&mut circuit);
    unique_names(&mut circuit);
    Composed { circuit, nets, waiting, open, elements }
}

fn add_net(circuit: &mut Circuit, net: &Net) -> NetId {
    let id = circuit.add_net(net.name.clone(), net.origin.clone());
    if let Some(added) = circuit.net_mut(id) {
        added.pull = net.pull;
        added.open_read = net.open_read;
    }
    if let Some(supply) = net.supply {
        let level = Expr::constant(supply != Supply::Gnd && supply != Supply::Negative);
        let (name, origin) = (net.name.clone(), net.origin.clone());
        circuit.drive(id, Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal(name), origin });
    }
    id
}

fn chip<'a>(
    circuit: &mut Circuit,
    package: &Package,
    part: &Part,
    on: &impl Fn(&str) -> Option<(&'a Net, Option<NetId>)>,
    waiting: &mut Vec<(NetId, String, Origin)>,
) -> (Vec<(Label, NetId)>, Vec<ElementId>) {
    let mut alone = Vec::new();
    let mut landings: HashMap<&Label, Landing> = HashMap::new();
    for (label, role) in part.pins() {
        if matches!(role, PinRole::Supply(_) | PinRole::Unconnected) {
            continue;
        }
        let pin = package.pin(label);
        let found = pin.and_then(|pin| match &pin.wire {
            Wire::Net(name) => on(name),
            _ => None,
        });
        let landing = match found {
            Some((net, id)) => match (net.supply, id) {
                (Some(supply), _) if role == PinRole::Input => Landing::Tied(supply != Supply::Gnd),
                (_, Some(id)) => Landing::Net(id),
                (_, None) => Landing::Open,
            },
            // open, not yet traced, or left out: a net of its own that nobody else is on
            None => {
                let (wire, origin) = match (pin, &package.others) {
                    (Some(pin), _) => (Some(&pin.wire), &pin.origin),
                    (None, Some((wire, origin))) => (Some(wire), origin),
                    (None, None) => (None, &package.origin),
                };
                let who = package.pin_called(label);
                let id = circuit.add_net(who.clone(), origin.clone());
                if let Some(own) = circuit.net_mut(id) {
                    own.open_read = part.open_inputs();
                }
                if wire == Some(&Wire::Untraced) {
                    waiting.push((id, who, origin.clone()));
                }
                alone.push((label.clone(), id));
                Landing::Net(id)
            }
        };
        landings.insert(label, landing);
    }
    let placed = circuit
        .place(&package.reference, part.circuit(), |label| landings.get(label).copied().unwrap_or(Landing::Open));
    // messages about this chip name its rows in the trace, not the lines that describe its type
    for (net, &host) in part.circuit().nets().iter().zip(&placed.nets) {
        let label = net.contact.and_then(|c| part.circuit().contacts().get(c.index())).map(|c| &c.label);
        let origin = label.and_then(|label| package.pin(label)).map_or(&package.origin, |pin| &pin.origin);
        let Some(host) = circuit.net_mut(host) else { continue };
        if label.is_none() || !matches!(label.and_then(|l| landings.get(l)), Some(Landing::Net(_))) {
            host.origin = package.origin.clone();
        }
        let own = label.map(|label| By::Pin { package: package.reference.clone(), pin: label.clone() });
        for driver in &mut host.drivers {
            if own.as_ref().is_none_or(|own| *own == driver.by) {
                driver.origin = origin.clone();
            }
        }
    }
    for &element in &placed.elements {
        if let Some(element) = circuit.element_mut(element) {
            element.origin = package.origin.clone();
        }
    }
    if let Some(figures) = part.figures() {
        let net = |label: &Label| match landings.get(label) {
            Some(&Landing::Net(id)) => Some(id),
            _ => None,
        };
        times(circuit.delays_mut(), figures, &placed.elements, net);
    }
    (alone, placed.elements)
}

/// The figures of a placed chip whose pins are on these nets.
fn times(delays: &mut Delays, figures: &PartFigures, elements: &[ElementId], net: impl Fn(&Label) -> Option<NetId>) {
    for delay in &figures.delays {
        let Some(to) = net(&delay.to) else { continue };
        let span = Span::of(delay.most.value);
        delays.output(to, None, span);
        if let Some(from) = net(&delay.from) {
            delays.output(to, Some(from), span);
        }
    }
    // which of several data and clock pins an element has is all one: the greatest figure is taken
    let most = |of: fn(&Window) -> &Option<Figure>| {
        figures.windows.iter().filter_map(|w| of(w).as_ref()).map(|f| f.value).reduce(f64::max)
    };
    let steady = Steady { setup: most(|w| &w.setup), hold: most(|w| &w.hold) };
    elements.iter().for_each(|&e| delays.steady(e, steady));
}

fn contacts<'a>(
    circuit: &mut Circuit,
    package: &Package,
    on: &impl Fn(&str) -> Option<(&'a Net, Option<NetId>)>,
    wires: &mut Wires,
    waiting: &mut Vec<(NetId, String, Origin)>,
) {
    for pin in &package.pins {
        let (name, net, direction) = match &pin.wire {
            Wire::Net(name) => match on(name) {
                Some((net, id)) => match (net.supply, id) {
                    (Some(Supply::Vcc), _) => {
                        circuit.add_supply(pin.label.clone(), Rail::Vcc);
                        continue;
                    }
                    (Some(Supply::Gnd), _) => {
                        circuit.add_supply(pin.label.clone(), Rail::Gnd);
                        continue;
                    }
                    // a wire between the outside and parts that stay: nothing of it is replaced
                    (None, _) if net.has_staying() && !net.has_logic() => continue,
                    (None, Some(id)) => (name.clone(), wires.at(circuit, id, &pin.label, &pin.origin), direction(net)),
                    _ => continue,
                },
                None => continue,
            },
            // the board uses it, the card does not
            Wire::Open | Wire::Untraced => {
                let name = package.pin_called(&pin.label);
                let id = circuit.add_net(name.clone(), pin.origin.clone());
                if pin.wire == Wire::Untraced {
                    waiting.push((id, name.clone(), pin.origin.clone()));
                }
                (name, id, Direction::Input)
            }
        };
        let (label, origin): (Label, Origin) = (pin.label.clone(), pin.origin.clone());
        circuit.add_contact(Contact { label, name, net, polarity: Polarity::Data, direction, origin });
    }
}

/// The nets that reach several contacts: one net of the circuit for each, so that each is compared.
#[derive(Default)]
struct Wires {
    /// The contacts of each net.
    all: BTreeMap<NetId, Vec<Label>>,
}

impl Wires {
    /// The net for a contact on this net: the net itself for the first, another for each that follows.
    fn at(&mut self, circuit: &mut Circuit, id: NetId, label: &Label, origin: &Origin) -> NetId {
        let labels = self.all.entry(id).or_default();
        labels.push(label.clone());
        if labels.len() == 1 {
            return id;
        }
        let Some(net) = circuit.nets().get(id.index()) else { return id };
        let (name, pull, open_read) = (format!("{} at contact {label}", net.name), net.pull, net.open_read);
        let other = circuit.add_net(name, origin.clone());
        if let Some(net) = circuit.net_mut(other) {
            (net.pull, net.open_read) = (pull, open_read);
        }
        other
    }

    /// Says which contacts are one wire.
    fn join(self, circuit: &mut Circuit) {
        for labels in self.all.into_values() {
            circuit.join_contacts(labels);
        }
    }
}

/// Resistors that hold a net while nothing else drives it.
fn hold(circuit: &mut Circuit, board: &Board, nets: &[Option<NetId>], which: &impl Fn(usize) -> bool) {
    for (at, net) in board.nets.all().iter().enumerate() {
        let Some(hold) = &net.hold else { continue };
        if !net.uses.iter().filter(|u| u.role.is_logic()).all(|u| which(u.package)) {
            continue;
        }
        let place = |at: usize| nets.get(at).copied().flatten();
        let (Some(id), Some(by)) = (place(at), place(hold.by)) else { continue };
        let Some(package) = board.packages.get(hold.package) else { continue };
        let enables: Vec<Expr> =
            circuit.nets().get(id.index()).map_or_else(Vec::new, |net| net.drivers.iter().map(|d| d.enable).collect());
        let driven = circuit.any(enables);
        let (enable, level) = (circuit.not(driven), circuit.net(by));
        let (by, origin) = (By::Resistor(package.reference.clone()), hold.origin.clone());
        circuit.drive(id, Driver { enable, level, stage: Stage::ThreeState, by, origin });
    }
}

/// Which side drives a contact, from what is on its net: a push-pull output drives it always; one that can let go drives
/// it alone if nothing on the card reads it, else both sides may.
fn direction(net: &Net) -> Direction {
    let mut stages = net.drivers().map(|(_, stage)| stage).peekable();
    if stages.peek().is_none() {
        return Direction::Input;
    }
    let held = net.uses.iter().any(|u| u.role == Role::Pin(PinRole::Output(Stage::PushPull)));
    let read = net.uses.iter().any(|u| u.role.reads());
    if held || !read { Direction::Output } else { Direction::InOut }
}

/// Nets of chips get another name where the trace uses theirs.
fn unique_names(circuit: &mut Circuit) {
    let names: Vec<String> = circuit.nets().iter().map(|net| net.name.clone()).collect();
    let mut taken: HashSet<String> = HashSet::with_capacity(names.len());
    let mut renamed = Vec::new();
    for (at, name) in names.into_iter().enumerate() {
        if taken.contains(&name) {
            renamed.push((at, name));
        } else {
            taken.insert(name);
        }
    }
    for (at, name) in renamed {
        let free = (2..).map(|n| format!("{name} ({n})")).find(|name| !taken.contains(name)).unwrap_or(name);
        taken.insert(free.clone());
        if let Some(net) = circuit.net_mut(NetId(at as u32)) {
            net.name = free;
        }
    }
}
