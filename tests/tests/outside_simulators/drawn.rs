//! Drawn circuits with everything that an emitted file can hold: registers with clear and preset, clocks of logic,
//! latches, three-state and open-collector outputs, a bus that is read back.
use gluewright::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, Expr, Kind, Label, NetId, Origin, Polarity, Stage, Start,
};
use gluewright_tests::gates::Numbers;

struct Drawing {
    circuit: Circuit,
    contacts: u16,
}

impl Drawing {
    fn contact(&mut self, name: &str, direction: Direction) -> NetId {
        self.contacts += 1;
        let net = self.circuit.add_net(name, Origin::Nowhere);
        let (label, name) = (Label::from(self.contacts), name.to_owned());
        let contact = Contact { label, name, net, polarity: Polarity::Data, direction, origin: Origin::Nowhere };
        self.circuit.add_contact(contact);
        net
    }

    fn input(&mut self, name: &str) -> Expr {
        let net = self.contact(name, Direction::Input);
        self.circuit.net(net)
    }

    fn drive(&mut self, net: NetId, enable: Expr, level: Expr, stage: Stage) {
        self.circuit.drive(net, Driver { enable, level, stage, by: By::signal("drawn"), origin: Origin::Nowhere });
    }
}

/// Contacts: 1 clock, 2 second clock, 3 reset, 4 and 5 latch gates, 6 a clock enable, 7 to 10 data, then a bus and outputs. Clocks, reset
/// and gates reach no data, so that nothing moves together with the edge or gate that takes it.
pub fn drawn(numbers: &mut Numbers) -> Circuit {
    let mut d = Drawing { circuit: Circuit::new("drawn"), contacts: 0 };
    let names = ["clock", "wait", "Wait", "signal", "reg[0]", "enable"];
    let [clock, second, reset, gate, other, enable] = names.map(|n| d.input(n));
    let data: Vec<Expr> = (0..4).map(|i| d.input(&format!("d{i}"))).collect();
    let bus = d.contact("bus", Direction::InOut);
    let mut signals = data.clone();
    let held: Vec<_> = (0..5)
        .map(|i| {
            let data = Kind::Register { clock: Expr::LOW, data: Expr::LOW };
            let kind = if i < 3 { data } else { Kind::Latch { open: Expr::LOW, data: Expr::LOW } };
            let (name, origin) = (format!("q{i}"), Origin::Nowhere);
            let element = Element {
                name,
                kind,
                clear: Expr::LOW,
                unknown_load: Expr::LOW,
                preset: Expr::LOW,
                start: Start::Any,
                origin,
            };
            let element = d.circuit.add_element(element);
            signals.push(d.circuit.q(element));
            element
        })
        .collect();
    signals.push(d.circuit.net(bus));
    for k in 0..8 {
        let (a, b, c) = (signals[numbers.below(signals.len())], signals[numbers.below(signals.len())], data[k % 4]);
        let made = match numbers.below(5) {
            0 => d.circuit.and(a, b),
            1 => d.circuit.or(a, b),
            2 => d.circuit.xor(a, b),
            3 => d.circuit.not(a),
            _ => d.circuit.choose(c, a, b),
        };
        signals.push(made);
    }
    let gated = d.circuit.and(second, enable);
    let falls = d.circuit.not(second);
    let preset = d.circuit.and(data[1], other);
    for (i, &element) in held.iter().enumerate() {
        // a latch follows contacts and registers, so that it closes no loop
        let from = if i < 3 { signals[numbers.below(signals.len())] } else { signals[numbers.below(7)] };
        let clock = [clock, gated, falls][i % 3];
        let open = [gate, other][i % 2];
        if let Some(e) = d.circuit.element_mut(element) {
            e.kind = if i < 3 { Kind::Register { clock, data: from } } else { Kind::Latch { open, data: from } };
            match i {
                0 => e.clear = reset,
                1 => e.preset = reset,
                2 => (e.clear, e.preset) = (reset, preset),
                _ => {}
            }
        }
    }
    let level = signals[4 + numbers.below(5)];
    d.drive(bus, data[2], level, Stage::ThreeState);
    for k in 0..5 {
        let level = signals[numbers.below(signals.len())];
        let enable = signals[numbers.below(signals.len())];
        let outputs = [Stage::PushPull, Stage::ThreeState, Stage::OpenCollector];
        let stage = outputs[k % 3];
        let (enable, level) = match stage {
            Stage::PushPull => (Expr::HIGH, level),
            Stage::ThreeState => (enable, level),
            Stage::OpenCollector => (enable, Expr::LOW),
        };
        let direction = if stage == Stage::PushPull { Direction::Output } else { Direction::InOut };
        let net = d.contact(&format!("y{k}"), direction);
        d.drive(net, enable, level, stage);
    }
    d.circuit
}
