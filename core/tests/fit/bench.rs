//! A bench for fits: circuits built by hand, and a burned device run beside what it was made from.
use gluewright::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, ElementId, Expr, Kind, Label, NetId, Origin, Polarity, Rail,
    Stage, Start,
};
use gluewright::device::{Device, find};
use gluewright::fit::{Fitted, NoFit, Wishes, fit};
use gluewright::netlist::{Netlist, read};
use gluewright::simulate::{Shown, Simulator};

/// A circuit under construction; contacts are numbered as they come.
#[derive(Debug)]
pub(super) struct Bench {
    pub(super) c: Circuit,
    contacts: u16,
}

impl Bench {
    pub(super) fn new() -> Self {
        Bench { c: Circuit::new("bench"), contacts: 0 }
    }

    pub(super) fn contact(&mut self, name: &str, direction: Direction) -> NetId {
        self.contacts += 1;
        let net = self.c.add_net(name, Origin::Nowhere);
        let (label, name) = (Label::from(self.contacts), name.to_owned());
        let origin = Origin::line(&"bench.rs".into(), self.contacts.into());
        self.c.add_contact(Contact { label, name, net, polarity: Polarity::Data, direction, origin });
        net
    }

    pub(super) fn input(&mut self, name: &str) -> Expr {
        let net = self.contact(name, Direction::Input);
        self.c.net(net)
    }

    pub(super) fn inputs<const N: usize>(&mut self, name: &str) -> [Expr; N] {
        std::array::from_fn(|i| self.input(&format!("{name}{i}")))
    }

    pub(super) fn output(&mut self, name: &str, level: Expr) -> NetId {
        self.driven(name, Expr::HIGH, level, Stage::PushPull)
    }

    pub(super) fn driven(&mut self, name: &str, enable: Expr, level: Expr, stage: Stage) -> NetId {
        let direction = if enable == Expr::HIGH { Direction::Output } else { Direction::InOut };
        let net = self.contact(name, direction);
        let origin = Origin::line(&"bench.rs".into(), self.contacts.into());
        self.c.drive(net, Driver { enable, level, stage, by: By::signal(name), origin });
        net
    }

    pub(super) fn element(&mut self, name: &str, kind: Kind) -> ElementId {
        self.c.add_element(Element {
            name: name.into(),
            kind,
            clear: Expr::LOW,
            unknown_load: Expr::LOW,
            preset: Expr::LOW,
            start: Start::Any,
            origin: Origin::line(&"bench.rs".into(), 100 + self.c.elements().len() as u32),
        })
    }

    pub(super) fn register(&mut self, name: &str, clock: Expr, data: Expr, clear: Expr, start: Start) -> ElementId {
        let e = self.element(name, Kind::Register { clock, data });
        let element = self.c.element_mut(e).unwrap();
        (element.clear, element.start) = (clear, start);
        e
    }

    /// Defines what a register loads once everything that it reads exists.
    pub(super) fn load(&mut self, e: ElementId, data: Expr) {
        if let Kind::Register { data: slot, .. } = &mut self.c.element_mut(e).unwrap().kind {
            *slot = data;
        }
    }

    pub(super) fn fit(&self, wishes: &Wishes) -> Result<Fitted, NoFit> {
        fit(&self.c, device(), wishes)
    }

    /// Fits, burns, reads back, and runs both beside each other.
    pub(super) fn check(&self) -> Fitted {
        self.check_with(&Wishes::none())
    }

    pub(super) fn fit_on(&self, name: &str) -> Result<Fitted, NoFit> {
        fit(&self.c, find(name).unwrap(), &Wishes::none())
    }

    pub(super) fn check_on(&self, name: &str) -> Fitted {
        let fitted = self.fit_on(name).unwrap_or_else(|e| panic!("{e}"));
        assert!(run_beside(&self.c, &fitted, find(name).unwrap(), 4000) > 0, "nothing was ever driven");
        fitted
    }

    pub(super) fn check_with(&self, wishes: &Wishes) -> Fitted {
        let fitted = self.fit(wishes).unwrap_or_else(|e| panic!("{e}"));
        assert!(run_beside(&self.c, &fitted, device(), 4000) > 0, "nothing was ever driven");
        fitted
    }
}

pub(super) fn device() -> &'static Device {
    find("22V10").unwrap()
}

/// A sequence of numbers that depends on nothing but its start (Marsaglia, "Xorshift RNGs", 2003).
#[derive(Debug)]
pub(super) struct Numbers(pub(super) u64);

impl Numbers {
    pub(super) fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }
}

/// Changes one contact after another on a circuit and on the device that it was fitted to, and expects the same at
/// every contact, for the device as its fuses make it and as its netlist says; returns how often one was driven. Pins that no contact is wired to get levels of their own, which
/// must not matter.
pub(super) fn run_beside(circuit: &Circuit, fitted: &Fitted, device: &Device, events: usize) -> u32 {
    let written = read(&Netlist::of(fitted).verilog()).unwrap_or_else(|e| panic!("{e}"));
    if device.blocks.is_some() {
        return run_seated(circuit, fitted, &written, events);
    }
    let fuses = device.encode(&fitted.plan).unwrap();
    let burned = device.lift(&fuses).unwrap();
    run_seated(circuit, fitted, &burned, events).min(run_seated(circuit, fitted, &written, events / 4))
}

fn run_seated(circuit: &Circuit, fitted: &Fitted, burned: &Circuit, events: usize) -> u32 {
    let mut numbers = Numbers(0x9e37_79b9_7f4a_7c15);
    let contacts: Vec<Label> = circuit.contacts().iter().map(|c| c.label.clone()).collect();
    // a netlist has one port for a contact that is on two pins
    let there = |pin: &Label| burned.find_contact(pin).is_some();
    let pins =
        |label: &Label| -> Vec<Label> { fitted.pins_of(label).into_iter().map(Label::from).filter(there).collect() };
    assert!(fitted.ties.iter().all(|(_, rail)| *rail == Rail::Gnd), "a pin that is left low here");
    let loose: Vec<Label> = burned
        .contacts()
        .iter()
        .map(|c| c.label.clone())
        .filter(|l| fitted.wires.iter().all(|w| Label::from(w.pin) != *l))
        .filter(|l| fitted.ties.iter().all(|(pin, _)| Label::from(*pin) != *l))
        .collect();
    // all contacts high: resets and latch gates of the benches are active high, so both start from the same state
    let start: Vec<(Label, bool)> = contacts.iter().map(|l| (l.clone(), true)).collect();
    let there: Vec<(Label, bool)> = contacts.iter().flat_map(pins).map(|l| (l, true)).collect();
    let (mut original, _) = Simulator::new(circuit, &start, |_, _| false).unwrap();
    let (mut copy, _) = Simulator::new(burned, &there, |_, _| false).unwrap();
    let mut levels: Vec<bool> = contacts.iter().map(|_| true).collect();
    let mut driven = 0u32;
    for event in 0..=events {
        for label in &contacts {
            let (a, pins) = (original.shown(label, 0).unwrap(), pins(label));
            for pin in &pins {
                assert_eq!(copy.shown(pin, 0).unwrap(), a, "event {event}, contact {label}, pin {pin}");
            }
            driven += u32::from(a == Shown::High || a == Shown::Low);
            assert!(!pins.is_empty() || a == Shown::Floating, "contact {label} has no pin");
        }
        let which = (numbers.next() >> 20) as usize % contacts.len();
        levels[which] ^= true;
        let label = contacts[which].clone();
        let mut there: Vec<(Label, bool)> = pins(&label).into_iter().map(|p| (p, levels[which])).collect();
        there.extend(loose.iter().map(|l| (l.clone(), numbers.next() >> 30 & 1 == 1)));
        let one = original.event(&[(label, levels[which])]).unwrap();
        let other = copy.event(&there).unwrap();
        assert_eq!((one.restless & 1, other.restless & 1), (0, 0), "event {event}");
    }
    driven
}
