//! Logic hazards are absent on what is fitted and found where a term is taken out; function hazards are named.
use proptest::prelude::*;

use super::{Cause, Kind, Role, of_device, of_fuses, of_original};
use gluewright_devices::device::{Plan, find};
use gluewright_devices::fit::{Fitted, Wishes, fit};
use gluewright_kernel::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, Expr, Kind as Holds, Label, NetId, Origin, Polarity, Stage, Start,
};

struct Made(Circuit);

impl Made {
    fn contact(&mut self, name: &str, direction: Direction) -> NetId {
        let net = self.0.add_net(name, Origin::Nowhere);
        let label = Label::from(self.0.contacts().len() as u16 + 1);
        let (name, polarity, origin) = (name.to_owned(), Polarity::Data, Origin::Nowhere);
        self.0.add_contact(Contact { label, name, net, polarity, direction, origin });
        net
    }

    fn input(&mut self, name: &str) -> Expr {
        let net = self.contact(name, Direction::Input);
        self.0.net(net)
    }

    fn drive(&mut self, net: NetId, enable: Expr, level: Expr, stage: Stage) {
        self.0.drive(net, Driver { enable, level, stage, by: By::signal(String::new()), origin: Origin::Nowhere });
    }

    fn output(&mut self, name: &str, level: Expr) {
        let net = self.contact(name, Direction::Output);
        self.drive(net, Expr::HIGH, level, Stage::PushPull);
    }

    fn holds(&mut self, name: &str, kind: Holds) -> Expr {
        let element = Element {
            name: name.into(),
            kind,
            clear: Expr::LOW,
            unknown_load: Expr::LOW,
            preset: Expr::LOW,
            start: Start::Any,
            origin: Origin::Nowhere,
        };
        let e = self.0.add_element(element);
        self.0.q(e)
    }

    fn fitted(&self, device: &str) -> Fitted {
        fit(&self.0, find(device).unwrap(), &Wishes::none()).unwrap_or_else(|e| panic!("{e}"))
    }
}

fn made() -> Made {
    Made(Circuit::new("made"))
}

/// A transparent latch, shown as it is or inverted.
fn latch(inverted: bool) -> Made {
    let mut m = made();
    let (data, open) = (m.input("data"), m.input("open"));
    let q = m.holds("held", Holds::Latch { open, data });
    let level = if inverted { m.0.not(q) } else { q };
    m.output("y", level);
    m
}

#[test]
fn a_consensus_term_removed_from_the_bytes_is_found_in_either_polarity() {
    let device = find("22V10").unwrap();
    let mut seen = Vec::new();
    for inverted in [false, true] {
        let fitted = latch(inverted).fitted("22V10");
        let cell = &fitted.cells[0];
        let fuses = device.encode(&fitted.plan).unwrap();
        let whole = of_fuses(&fitted, device, &fuses).unwrap();
        assert_eq!(whole.logic().count(), 0, "{:?}", whole.list);
        for store in [false, true] {
            // the same latch stored in the other polarity too: its complement has the same three terms, data inverted
            let mut plan: Plan = fitted.plan.clone();
            let pin = cell.pin.unwrap();
            let planned = plan.cells.get_mut(&pin).unwrap();
            if store {
                planned.inverted ^= true;
                for literal in planned.terms.iter_mut().flat_map(|t| &mut t.0) {
                    let gate = fitted.wires.iter().any(|w| w.pin == literal.source.pin() && w.signal == "open");
                    literal.complement ^= !gate;
                }
            }
            let burned = of_fuses(&fitted, device, &device.encode(&plan).unwrap()).unwrap();
            assert_eq!(burned.logic().count(), 0, "{:?}", burned.list);
            for at in 0..3 {
                let mut cut = plan.clone();
                cut.cells.get_mut(&pin).unwrap().terms.remove(at);
                let found = of_fuses(&fitted, device, &device.encode(&cut).unwrap()).unwrap();
                let consensus = !plan.cells[&pin].terms[at]
                    .0
                    .iter()
                    .any(|l| fitted.wires.iter().any(|w| w.pin == l.source.pin() && w.signal == "open"));
                if consensus {
                    let one: Vec<_> = found.logic().collect();
                    assert_eq!(one.len(), 1, "{:?}", found.list);
                    assert_eq!((one[0].role, &one[0].cause), (Role::Latch, &Cause::Contact("open".into())));
                    seen.push(plan.cells[&pin].inverted);
                }
            }
        }
    }
    seen.sort_unstable();
    seen.dedup();
    assert_eq!(seen, [false, true], "both stored polarities");
}

#[test]
fn the_equations_say_why_a_term_must_stay() {
    let text = gluewright_devices::emit::equations(&latch(false).fitted("22V10"));
    assert!(text.contains("must stay: it alone keeps the pin"), "{text}");
}

/// A gate that closes while its data moves: the board's own `direction` does both.
fn bridge() -> Made {
    let mut m = made();
    let (direction, strobe) = (m.input("direction"), m.input("strobe"));
    let bus = m.contact("bus", Direction::InOut);
    let other = m.input("other");
    let (to, level) = (m.0.not(direction), m.0.net(bus));
    let (open, back) = (m.0.and(strobe, direction), m.0.and(strobe, to));
    let kept = m.holds("kept", Holds::Latch { open, data: level });
    let shown = m.holds("shown", Holds::Latch { open: back, data: other });
    m.output("y", kept);
    m.drive(bus, to, shown, Stage::ThreeState);
    m
}

#[test]
fn a_gate_that_closes_as_its_data_moves_is_a_function_hazard_on_both_sides() {
    let m = bridge();
    for (found, on_device) in [(of_device(&m.fitted("CPLD-32")), true), (of_original(&m.0).unwrap(), false)] {
        let one = found
            .list
            .iter()
            .find(|h| h.role == Role::Latch && h.cause == Cause::Contact("direction".into()))
            .unwrap_or_else(|| panic!("{:?}", found.list));
        assert_eq!((one.kind, one.on_device), (Kind::Function, on_device));
        assert!(one.signals.iter().any(|s| s == "kept" || s == "y"), "{one}");
        assert!(one.margin.is_some() && one.to_string().contains("only if the gate is faster"), "{one}");
        assert!(one.moving.iter().any(|m| m == "bus"), "{one}");
        assert_eq!(found.logic().count(), 0);
    }
}

#[test]
fn a_plain_latch_has_none() {
    for device in ["22V10", "CPLD-32"] {
        let found = of_device(&latch(false).fitted(device));
        assert_eq!(found.list, [], "{device}");
    }
}

#[test]
fn a_multiplexer_of_gates_before_a_clock_is_a_logic_hazard_of_the_original() {
    let mut m = made();
    let (a, b, choose, d) = (m.input("a"), m.input("b"), m.input("choose"), m.input("d"));
    let (not, first) = (m.0.not(choose), m.0.and(a, choose));
    let second = m.0.and(b, not);
    let clock = m.0.or(first, second);
    let q = m.holds("q", Holds::Register { clock, data: d });
    m.output("y", q);
    let found = of_original(&m.0).unwrap();
    let one: Vec<_> = found.logic().collect();
    assert_eq!(one.len(), 1, "{:?}", found.list);
    assert_eq!((one[0].role, &one[0].cause), (Role::Clock, &Cause::Contact("choose".into())));
    // the fitted device keeps a node for it, with the term that bridges
    let found = of_device(&m.fitted("CPLD-32"));
    assert_eq!(found.logic().count(), 0, "{:?}", found.list);
}

#[test]
fn registers_that_load_together_may_pulse_a_drive_condition() {
    let mut m = made();
    let (clock, d) = (m.input("clock"), m.input("d"));
    let low = m.holds("low", Holds::Register { clock, data: d });
    let high = m.holds("high", Holds::Register { clock, data: low });
    let both = m.0.and(low, high);
    let net = m.contact("y", Direction::InOut);
    m.drive(net, both, d, Stage::ThreeState);
    for found in [of_device(&m.fitted("22V10")), of_original(&m.0).unwrap()] {
        let one = found.list.iter().find(|h| h.role == Role::Enable).unwrap_or_else(|| panic!("{:?}", found.list));
        assert_eq!((one.kind, &one.cause), (Kind::Function, &Cause::Load("low".into())));
    }
}

proptest! {
    /// Against the definition, by brute force: a sum shakes while an input changes if it is true before and after and
    /// no term is true at both (D. A. Huffman, J. ACM 1957).
    #[test]
    fn logic_hazards_are_those_of_the_definition(table in any::<u16>(), keep in any::<u32>()) {
        let mut m = made();
        let inputs: Vec<Expr> = (0..4).map(|i| m.input(&format!("i{i}"))).collect();
        let mut level = Expr::LOW;
        for row in (0..16usize).filter(|r| table >> r & 1 == 1) {
            let literals: Vec<Expr> =
                inputs.iter().enumerate().map(|(i, &x)| if row >> i & 1 == 1 { x } else { m.0.not(x) }).collect();
            let term = m.0.all(literals);
            level = m.0.or(level, term);
        }
        m.output("y", level);
        let mut fitted = m.fitted("22V10");
        // some terms taken out: another function, with hazards of its own
        let cell = &mut fitted.cells[0];
        let mut at = 0;
        cell.terms.retain(|_| {
            at += 1;
            keep >> at & 3 != 0
        });
        let terms: Vec<_> = cell.terms.iter().map(|t| t.product.clone()).collect();
        let logic = &fitted.logic;
        let bit = |v: usize| logic.name_of(v).trim_start_matches('i').parse::<usize>().unwrap();
        let holds = |t: &[(usize, bool)], p: usize| t.iter().all(|&(v, high)| (p >> bit(v) & 1 == 1) == high);
        let sum = |p: usize| terms.iter().any(|t| holds(t, p));
        let mut expected: Vec<String> = Vec::new();
        for i in 0..4 {
            let shakes = (0..16usize).any(|p| {
                let q = p ^ 1 << i;
                sum(p) && sum(q) && !terms.iter().any(|t| holds(t, p) && holds(t, q))
            });
            if shakes {
                expected.push(format!("i{i}"));
            }
        }
        let found = of_device(&fitted);
        let mut causes: Vec<String> = found.logic().map(|h| match &h.cause {
            Cause::Contact(name) => name.clone(),
            other => other.to_string(),
        }).collect();
        causes.sort();
        prop_assert_eq!(causes, expected);
    }
}
