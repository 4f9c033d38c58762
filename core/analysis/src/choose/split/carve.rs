//! The share of one device as a circuit of its own: what it holds, the contacts it touches, the wires to other devices.
use std::collections::{BTreeMap, BTreeSet};

use super::units::Units;
use gluewright_devices::fit::Moves;
use gluewright_devices::logic::{Logic, Signal};
use gluewright_kernel::circuit::{
    By, Circuit, Contact, ContactId, Copied, Direction, Driver, ElementId, Expr, Label, NetId, Op, Origin, Polarity,
    Stage,
};
use gluewright_kernel::graph::post_order;

/// All shares, and the wires between them.
pub(super) struct Carved {
    pub(super) shares: Vec<CarvedShare>,
    pub(super) wires: Vec<Wire>,
}

pub(super) struct CarvedShare {
    pub(super) circuit: Circuit,
    /// What changes together with what in the circuit as a whole, by the contacts of this share.
    pub(super) moves: Vec<Moves>,
}

/// A wire between devices.
pub(super) struct Wire {
    pub(super) label: Label,
    pub(super) signal: String,
    pub(super) from: usize,
    pub(super) to: Vec<usize>,
}

/// Something that one device holds and others may read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Held {
    Element(ElementId),
    Node(NetId),
}

/// Who holds what.
struct Owners<'a> {
    circuit: &'a Circuit,
    contacts: BTreeMap<ContactId, usize>,
    held: BTreeMap<Held, usize>,
    /// The contacts that show what is held, and whether as the complement.
    carriers: BTreeMap<Held, (ContactId, bool)>,
}

pub(super) fn carve(circuit: &Circuit, logic: &Logic, units: &Units, groups: &[usize]) -> Carved {
    let devices = groups.iter().max().map_or(1, |g| g + 1);
    let held = |v: usize| match logic.signals.get(v)?.signal {
        Signal::Held(e) => Some(Held::Element(e)),
        Signal::Wire(n) => Some(Held::Node(n)),
        Signal::Added(_) => None,
    };
    let mut owners = Owners { circuit, contacts: BTreeMap::new(), held: BTreeMap::new(), carriers: BTreeMap::new() };
    for (unit, &group) in units.list.iter().zip(groups) {
        if let Some(output) = unit.output.and_then(|o| logic.outputs.get(o)) {
            owners.contacts.insert(output.contact, group);
        }
        if let Some(h) = unit.held.and_then(held) {
            owners.held.insert(h, group);
            owners.carriers.extend(unit.carrier.map(|c| (h, c)));
        }
    }
    let needs: Vec<Needs> = (0..devices).map(|device| owners.needs(device)).collect();
    let mut wires: BTreeMap<Held, Wire> = BTreeMap::new();
    let prefix = free_prefix(circuit);
    for (&h, &from) in &owners.held {
        let to: Vec<usize> =
            (0..devices).filter(|&d| d != from && needs.get(d).is_some_and(|n| n.foreign.contains(&h))).collect();
        if !to.is_empty() && !owners.carriers.contains_key(&h) {
            let label = Label::new(format!("{prefix}{}", wires.len() + 1));
            wires.insert(h, Wire { label, signal: owners.name(h), from, to });
        }
    }
    let shares = needs.iter().enumerate().map(|(device, needs)| {
        let (share, reads) = owners.build(device, needs, &wires);
        let moves = moves(logic, &reads, &held);
        CarvedShare { circuit: share, moves }
    });
    let shares = shares.collect();
    Carved { shares, wires: wires.into_values().collect() }
}

/// Letters that no contact's label starts with.
fn free_prefix(circuit: &Circuit) -> &'static str {
    let taken = |p: &str| circuit.contacts().iter().any(|c| c.label.as_str().starts_with(p));
    ["W", "WIRE", "BETWEEN"].into_iter().find(|p| !taken(p)).unwrap_or("BETWEEN DEVICES ")
}

/// What a share reads.
#[derive(Default)]
struct Needs {
    expressions: BTreeSet<Expr>,
    /// Nets that are computed anew in this share.
    nets: BTreeSet<NetId>,
    contacts: BTreeSet<ContactId>,
    /// What other devices hold.
    foreign: BTreeSet<Held>,
}

impl Owners<'_> {
    fn name(&self, held: Held) -> String {
        match held {
            Held::Element(e) => self.circuit.elements().get(e.index()).map_or_else(String::new, |e| e.name.clone()),
            Held::Node(n) => self.circuit.nets().get(n.index()).map_or_else(String::new, |n| n.name.clone()),
        }
    }

    fn holds(&self, device: usize, held: Held) -> bool {
        self.held.get(&held) == Some(&device)
    }

    fn drives(&self, device: usize, contact: ContactId) -> bool {
        self.contacts.get(&contact) == Some(&device)
    }

    /// Everything that the definitions of a device's units read.
    fn needs(&self, device: usize) -> Needs {
        let mut needs = Needs::default();
        let mut open: Vec<Expr> = Vec::new();
        for (index, element) in self.circuit.elements().iter().enumerate() {
            if self.holds(device, Held::Element(ElementId::at(index))) {
                open.extend(element.inputs());
            }
        }
        for (index, net) in self.circuit.nets().iter().enumerate() {
            let id = NetId::at(index);
            let own = self.holds(device, Held::Node(id)) || net.contact.is_some_and(|c| self.drives(device, c));
            if own {
                open.extend(net.inputs());
                match net.contact {
                    Some(contact) => drop(needs.contacts.insert(contact)),
                    None => drop(needs.nets.insert(id)),
                }
            }
        }
        while let Some(e) = open.pop() {
            if !needs.expressions.insert(e) {
                continue;
            }
            match self.circuit.op(e) {
                Op::Net(n) => self.needs_net(device, n, &mut needs, &mut open),
                Op::Q(x) | Op::QInverted(x) => {
                    if !self.holds(device, Held::Element(x)) {
                        needs.foreign.insert(Held::Element(x));
                        needs.contacts.extend(self.carriers.get(&Held::Element(x)).map(|(c, _)| *c));
                    }
                    if let (Op::QInverted(_), Some(x)) = (self.circuit.op(e), self.circuit.elements().get(x.index())) {
                        open.extend([x.clear, x.preset]);
                    }
                }
                op => open.extend(op.operands()),
            }
        }
        needs
    }

    fn needs_net(&self, device: usize, n: NetId, needs: &mut Needs, open: &mut Vec<Expr>) {
        let Some(net) = self.circuit.nets().get(n.index()) else { return };
        if let Some(contact) = net.contact {
            needs.contacts.insert(contact);
        } else if self.held.contains_key(&Held::Node(n)) && !self.holds(device, Held::Node(n)) {
            needs.foreign.insert(Held::Node(n));
            needs.contacts.extend(self.carriers.get(&Held::Node(n)).map(|(c, _)| *c));
        } else if needs.nets.insert(n) {
            open.extend(net.inputs());
        }
    }

    /// The share as a circuit, and where it reads what other devices hold.
    fn build(&self, device: usize, needs: &Needs, wires: &BTreeMap<Held, Wire>) -> (Circuit, BTreeMap<Held, Label>) {
        let whole = self.circuit;
        let mut share = Circuit::new(format!("{}_{}", whole.name, super::reference(device)));
        let mut nets: BTreeMap<NetId, NetId> = BTreeMap::new();
        let mut contacts: BTreeMap<ContactId, NetId> = BTreeMap::new();
        for &contact in &needs.contacts {
            let Some(c) = whole.contacts().get(contact.index()) else { continue };
            let net = share.add_net(c.name.clone(), c.origin.clone());
            nets.insert(c.net, net);
            contacts.insert(contact, net);
            let own = self.drives(device, contact);
            let direction = if own { c.direction } else { Direction::Input };
            share.add_contact(Contact { net, direction, ..c.clone() });
        }
        for (label, rail) in whole.supplies() {
            share.add_supply(label.clone(), *rail);
        }
        for &n in &needs.nets {
            let Some(net) = whole.nets().get(n.index()) else { continue };
            nets.insert(n, share.add_net(net.name.clone(), net.origin.clone()));
        }
        // what other devices hold: read from the contact that shows it, else over a wire
        let mut read: BTreeMap<Held, (NetId, bool)> = BTreeMap::new();
        let mut labels = BTreeMap::new();
        for &held in &needs.foreign {
            if let Some(&(contact, inverted)) = self.carriers.get(&held) {
                if let (Some(&net), Some(c)) = (contacts.get(&contact), whole.contacts().get(contact.index())) {
                    read.insert(held, (net, inverted));
                    labels.insert(held, c.label.clone());
                }
            } else if let Some(wire) = wires.get(&held) {
                let net = share.add_net(wire.signal.clone(), Origin::Nowhere);
                share.add_contact(between(wire, net, Direction::Input));
                read.insert(held, (net, false));
                labels.insert(held, wire.label.clone());
            }
        }
        let elements = self.elements(device, &mut share);
        let map = self.import(&mut share, needs, &nets, &read, &elements);
        let at = |e: Expr| map.at(e);
        for (&old, &new) in &elements {
            let Some(element) = whole.elements().get(old.index()) else { continue };
            if let Some(mine) = share.element_mut(new) {
                *mine = element.over(at);
            }
        }
        for (&old, &new) in &nets {
            let Some(net) = whole.nets().get(old.index()) else { continue };
            if net.contact.is_some_and(|c| !self.drives(device, c)) {
                continue;
            }
            if let Some(mine) = share.net_mut(new) {
                mine.pull = net.pull;
                mine.open_read = net.open_read;
                mine.value_of = net.value_of.and_then(|of| nets.get(&of).copied());
            }
            for d in &net.drivers {
                share.drive(new, d.over(at));
            }
        }
        for (&held, wire) in wires.iter().filter(|(_, w)| w.from == device) {
            let level = match held {
                Held::Element(e) => elements.get(&e).map(|&e| share.q(e)),
                Held::Node(n) => nets.get(&n).map(|&n| share.net(n)),
            };
            let net = share.add_net(format!("{} {}", wire.signal, wire.label), Origin::Nowhere);
            share.add_contact(between(wire, net, Direction::Output));
            let (level, name) = (level.unwrap_or(Expr::LOW), wire.signal.clone());
            let origin = self.origin(held);
            share
                .drive(net, Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal(name), origin });
        }
        (share, labels)
    }

    fn origin(&self, held: Held) -> Origin {
        match held {
            Held::Element(e) => self.circuit.elements().get(e.index()).map(|e| e.origin.clone()),
            Held::Node(n) => self.circuit.nets().get(n.index()).map(|n| n.origin.clone()),
        }
        .unwrap_or_default()
    }

    /// The device's registers and latches, without what feeds them.
    fn elements(&self, device: usize, share: &mut Circuit) -> BTreeMap<ElementId, ElementId> {
        let mut elements = BTreeMap::new();
        for (index, element) in self.circuit.elements().iter().enumerate() {
            let old = ElementId::at(index);
            if !self.holds(device, Held::Element(old)) {
                continue;
            }
            elements.insert(old, share.add_element(element.over(|_| Expr::LOW)));
        }
        elements
    }

    /// What the share reads, each after what it needs. An expression's operands have lower numbers than itself; only the
    /// complement of what another device holds may need later ones.
    fn in_order(&self, needs: &Needs, elements: &BTreeMap<ElementId, ElementId>) -> Vec<Expr> {
        post_order(needs.expressions.iter().copied(), |e| match self.circuit.op(e) {
            Op::QInverted(x) if !elements.contains_key(&x) => {
                self.circuit.elements().get(x.index()).map_or_else(Vec::new, |x| vec![x.clear, x.preset])
            }
            op => op.operands().collect(),
        })
    }

    /// Copies what the share reads.
    fn import(
        &self,
        share: &mut Circuit,
        needs: &Needs,
        nets: &BTreeMap<NetId, NetId>,
        read: &BTreeMap<Held, (NetId, bool)>,
        elements: &BTreeMap<ElementId, ElementId>,
    ) -> Copied {
        let elsewhere = |share: &mut Circuit, held: Held| {
            let &(net, inverted) = read.get(&held)?;
            let level = share.net(net);
            Some(if inverted { share.not(level) } else { level })
        };
        share.copy(self.circuit, self.in_order(needs, elements), |share, copied, op| match op {
            Op::Net(n) => match elsewhere(share, Held::Node(n)) {
                Some(level) => level,
                None => nets.get(&n).map_or(Expr::LOW, |&n| share.net(n)),
            },
            Op::Q(x) => match elements.get(&x) {
                Some(&own) => share.q(own),
                None => elsewhere(share, Held::Element(x)).unwrap_or(Expr::LOW),
            },
            Op::QInverted(x) => match elements.get(&x) {
                Some(&own) => share.q_inverted(own),
                None => {
                    // both outputs are high while clear and preset are
                    let level = elsewhere(share, Held::Element(x)).unwrap_or(Expr::LOW);
                    let element = self.circuit.elements().get(x.index());
                    let [clear, preset] = element.map_or([Expr::LOW; 2], |x| [x.clear, x.preset].map(|e| copied.at(e)));
                    let both = share.and(clear, preset);
                    let low = share.not(level);
                    share.or(low, both)
                }
            },
            _ => Expr::LOW,
        })
    }
}

fn between(wire: &Wire, net: NetId, direction: Direction) -> Contact {
    let (label, name) = (wire.label.clone(), wire.signal.clone());
    Contact { label, name, net, polarity: Polarity::Data, direction, origin: Origin::Nowhere }
}

/// What changes in one settling step of the whole, as far as the share reads it from outside.
fn moves(logic: &Logic, reads: &BTreeMap<Held, Label>, held: &impl Fn(usize) -> Option<Held>) -> Vec<Moves> {
    let outside = |v: usize| {
        let contact = logic.signals.get(v).and_then(|s| s.label.clone());
        contact.or_else(|| reads.get(&held(v)?).cloned())
    };
    let labels = |moved: &BTreeSet<usize>| -> BTreeSet<Label> { moved.iter().filter_map(|&v| outside(v)).collect() };
    let mut all: Vec<Moves> = Vec::new();
    for (source, signal) in logic.signals.iter().enumerate() {
        if signal.label.is_some() {
            let contacts = labels(&logic.follow_up(source));
            if contacts.len() > 1 {
                all.push(Moves { contacts, registers: false });
            }
        }
    }
    let clocked: BTreeSet<usize> = logic.registers.iter().flat_map(|r| logic.follow_up(r.variable)).collect();
    let contacts = labels(&clocked);
    if !contacts.is_empty() {
        all.push(Moves { contacts, registers: true });
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use gluewright_devices::logic::collapse;
    use gluewright_kernel::prelude::*;

    #[derive(gluewright_kernel::Circuit)]
    #[rustfmt::skip]
    struct Pair {
        #[contact(1)]    clock: Input<Clock>,
        #[contact(2)]    early: Input<ActiveLow>,
        #[contact(3, 4)] line:  [Input<Data>; 2],
        #[contact(5, 6)] held:  [Output<Data>; 2],
    }

    impl Wiring for Pair {
        fn wire(&self) -> PairWiring {
            let load = |i: usize| on(self.clock.rises()).load(self.line[i].level());
            PairWiring {
                held: each(|i| load(i).loads_unknown_while(self.early.asserted() & self.line[1 - i].level().is_high())),
            }
        }
    }

    #[test]
    fn a_share_keeps_when_nobody_knows_what_a_register_loads() {
        let whole = gluewright_kernel::circuit_of::<Pair>().expect("sound");
        let logic = collapse(&whole, &BTreeSet::new()).expect("two registers");
        let units = Units::of(&logic);
        assert_eq!(units.list.len(), 2);
        let shares = carve(&whole, &logic, &units, &[0, 1]).shares;
        for (share, other) in shares.iter().zip([4u16, 3]) {
            let circuit = &share.circuit;
            assert_eq!(circuit.elements().len(), 1);
            let unknown = circuit.elements()[0].unknown_load;
            let read: Vec<&Label> = circuit.contacts().iter().map(|c| &c.label).collect();
            let reads = circuit.cone([unknown], |_| true);
            let reads: Vec<&Label> =
                circuit.contacts().iter().filter(|c| reads.contains(c.net)).map(|c| &c.label).collect();
            assert_eq!(reads, [&Label::from(2), &Label::from(other)], "of {read:?}");
        }
    }
}
