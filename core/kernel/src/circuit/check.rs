//! Whether a circuit is one: what every other room takes for granted of it, checked in one place.
use std::collections::HashMap;

use thiserror::Error;

use super::{Circuit, Expr, Label, NetId, Op, Origin};

/// Why something is no circuit, so that nothing said of it would mean anything.
#[derive(Clone, Debug, PartialEq, Eq, Error, serde::Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Malformed {
    /// Two contacts bear one label.
    #[error(
        "{origin}: contact {label} of `{circuit}` is there twice, as `{first}` and as `{second}`: one pin is one contact"
    )]
    ContactTwice {
        /// The circuit.
        circuit: String,
        /// The label.
        label: Label,
        /// Who has it first.
        first: String,
        /// Who has it too.
        second: String,
        /// Where the second was written.
        origin: Origin,
    },
    /// An expression of another circuit is used.
    #[error(
        "{origin}: {place} of `{circuit}` is made of an expression of another circuit: build it from this circuit's own, \
         handles don't travel"
    )]
    Foreign {
        /// The circuit.
        circuit: String,
        /// Where it is used, in words.
        place: String,
        /// Where that was written.
        origin: Origin,
    },
    /// A net, register, latch or contact of another circuit is used: this one has none at that position.
    #[error("{origin}: {place} of `{circuit}` names a {kind} that is not there: its handle is another circuit's")]
    NotThere {
        /// The circuit.
        circuit: String,
        /// Where it is named, in words.
        place: String,
        /// What is named: net, register or latch, contact.
        kind: &'static str,
        /// Where that was written.
        origin: Origin,
    },
    /// A contact without a label.
    #[error("{origin}: contact `{name}` of `{circuit}` has no label: give it what is printed beside the pin")]
    NoLabel {
        /// The circuit.
        circuit: String,
        /// The contact's name.
        name: String,
        /// Where it was written.
        origin: Origin,
    },
}

impl Circuit {
    /// Whether this is a circuit: labels of contacts are unique, every handle is of this circuit and in range, and
    /// operands stand before what uses them. Whoever takes a circuit from outside asks this first.
    ///
    /// # Errors
    /// The first thing that is wrong, with its place and the mend.
    pub fn check(&self) -> Result<(), Malformed> {
        let circuit = || self.name.clone();
        if let Some(origin) = &self.foreign {
            let place = "an expression".to_owned();
            return Err(Malformed::Foreign { circuit: circuit(), place, origin: origin.clone() });
        }
        self.labels()?;
        for (i, &op) in self.ops.iter().enumerate() {
            let place = || format!("expression {i}");
            match op {
                Op::Constant(_) => {}
                Op::Net(n) => self.there(n.index() < self.nets.len(), "net", place, &Origin::Nowhere)?,
                Op::Q(e) | Op::QInverted(e) => {
                    self.there(e.index() < self.elements.len(), "register or latch", place, &Origin::Nowhere)?;
                }
                op => self.before(i, op.operands())?,
            }
        }
        for e in &self.elements {
            let inputs = ["clock or gate", "data", "clear", "preset", "open successor"].into_iter().zip(e.inputs());
            for (what, of) in inputs {
                self.own_in(of, || format!("the {what} of `{}`", e.name), &e.origin)?;
            }
        }
        for net in &self.nets {
            for d in &net.drivers {
                for (what, of) in [("drive condition", d.enable), ("level", d.level)] {
                    self.own_in(of, || format!("the {what} of `{}` on net `{}`", d.by, net.name), &d.origin)?;
                }
            }
            if let Some(c) = net.contact {
                let there = self.contacts.get(c.index()).is_some_and(|c| self.is_net(c.net, net));
                self.there(there, "contact", || format!("net `{}`", net.name), &net.origin)?;
            }
        }
        Ok(())
    }

    fn is_net(&self, id: NetId, net: &super::Net) -> bool {
        self.nets.get(id.index()).is_some_and(|n| std::ptr::eq(n, net))
    }

    fn labels(&self) -> Result<(), Malformed> {
        let mut taken: HashMap<&Label, &str> = HashMap::new();
        for c in &self.contacts {
            if c.label.as_str().is_empty() {
                let (name, origin) = (c.name.clone(), c.origin.clone());
                return Err(Malformed::NoLabel { circuit: self.name.clone(), name, origin });
            }
            if let Some(first) = taken.insert(&c.label, &c.name) {
                return Err(Malformed::ContactTwice {
                    circuit: self.name.clone(),
                    label: c.label.clone(),
                    first: first.to_owned(),
                    second: c.name.clone(),
                    origin: c.origin.clone(),
                });
            }
            self.there(c.net.index() < self.nets.len(), "net", || format!("contact {}", c.label), &c.origin)?;
        }
        Ok(())
    }

    fn there(
        &self,
        is_there: bool,
        kind: &'static str,
        place: impl Fn() -> String,
        origin: &Origin,
    ) -> Result<(), Malformed> {
        if is_there {
            return Ok(());
        }
        Err(Malformed::NotThere { circuit: self.name.clone(), place: place(), kind, origin: origin.clone() })
    }

    /// Whether the operands of an expression stand before it.
    fn before(&self, at: usize, mut operands: impl Iterator<Item = Expr>) -> Result<(), Malformed> {
        let place = || format!("expression {at}");
        operands.try_for_each(|o| {
            self.own_in(o, place, &Origin::Nowhere)?;
            match o.index() < at {
                true => Ok(()),
                false => {
                    Err(Malformed::Foreign { circuit: self.name.clone(), place: place(), origin: Origin::Nowhere })
                }
            }
        })
    }

    fn own_in(&self, e: Expr, place: impl Fn() -> String, origin: &Origin) -> Result<(), Malformed> {
        if self.own(e).is_some() {
            return Ok(());
        }
        Err(Malformed::Foreign { circuit: self.name.clone(), place: place(), origin: origin.clone() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::{By, Contact, Direction, Driver, Element, Kind, Polarity, Stage, Start};

    fn contact(label: &str, name: &str, net: NetId, direction: Direction) -> Contact {
        Contact {
            label: label.into(),
            name: name.into(),
            net,
            polarity: Polarity::Data,
            direction,
            origin: Origin::Nowhere,
        }
    }

    fn driver(enable: Expr, level: Expr, stage: Stage) -> Driver {
        Driver { enable, level, stage, by: By::signal("d"), origin: Origin::Nowhere }
    }

    /// A gate between contacts 1, 2 and 3, and the handle of its output.
    fn gate() -> (Circuit, Expr) {
        let mut c = Circuit::new("gate");
        let nets = ["a", "b", "y"].map(|n| c.add_net(n, Origin::Nowhere));
        let (a, b) = (c.net(nets[0]), c.net(nets[1]));
        let y = c.and(a, b);
        c.drive(nets[2], driver(Expr::HIGH, y, Stage::PushPull));
        for (label, name, net, direction) in [
            ("1", "a", nets[0], Direction::Input),
            ("2", "b", nets[1], Direction::Input),
            ("3", "y", nets[2], Direction::Output),
        ] {
            c.add_contact(contact(label, name, net, direction));
        }
        (c, y)
    }

    #[test]
    fn a_circuit_passes_and_so_does_what_is_made_of_it() {
        let (c, _) = gate();
        assert_eq!(c.check(), Ok(()));
        assert_eq!(c.live().check(), Ok(()));
        let mut longer = c.clone();
        let a = longer.net(NetId::at(0));
        let not = longer.not(a);
        longer.add_node("n", not, Origin::Nowhere);
        assert_eq!(longer.check(), Ok(()));
        let mut host = Circuit::new("host");
        let net = host.add_net("x", Origin::Nowhere);
        host.place("U1", &c, |_| crate::circuit::Landing::Net(net));
        assert_eq!(host.check(), Ok(()));
    }

    #[test]
    fn labels_are_unique() {
        let twice = |change: &dyn Fn(&mut Circuit)| {
            let (mut c, _) = gate();
            change(&mut c);
            c.check()
        };
        let again = twice(&|c| {
            c.add_contact(contact("3", "z", NetId::at(0), Direction::Output));
        });
        assert!(matches!(again, Err(Malformed::ContactTwice { ref label, .. }) if label.as_str() == "3"), "{again:?}");
        let bare = twice(&|c| {
            c.add_contact(contact(" ", "z", NetId::at(0), Direction::Output));
        });
        assert!(matches!(bare, Err(Malformed::NoLabel { .. })), "{bare:?}");
    }

    #[test]
    fn expressions_of_another_circuit_are_refused_wherever_they_are_used() {
        let mut other = Circuit::new("other");
        let x = other.add_net("x", Origin::Nowhere);
        let x = other.net(x);
        let deep = (0..9).fold(x, |e, k| {
            let n = other.add_net(format!("n{k}"), Origin::Nowhere);
            let n = other.net(n);
            other.xor(e, n)
        });
        let (_, alike) = gate();
        for foreign in [x, deep, alike] {
            for place in 0..5 {
                let (mut c, y) = gate();
                match place {
                    0 => {
                        c.and(y, foreign);
                    }
                    1 => {
                        c.not(foreign);
                    }
                    2 => c.net_mut(NetId::at(2)).expect("y").drivers[0].level = foreign,
                    3 => c.load_unknown_while(crate::circuit::ElementId::at(0), foreign),
                    _ => {
                        let kind = Kind::Register { clock: y, data: foreign };
                        let (start, origin) = (Start::Any, Origin::Nowhere);
                        let name = "q".to_owned();
                        let (clear, preset, unknown_load) = (Expr::LOW, Expr::LOW, Expr::LOW);
                        c.add_element(Element { name, kind, clear, preset, unknown_load, start, origin });
                    }
                }
                let answer = c.check();
                assert!(matches!(answer, Err(Malformed::Foreign { .. })), "{place}: {answer:?}");
                assert!(c.live().check().is_err() || place == 2 || place == 4, "what was recorded stays: {place}");
            }
        }
    }

    #[test]
    fn copies_that_went_different_ways_do_not_share_what_came_after() {
        let (base, _) = gate();
        let (mut one, mut two) = (base.clone(), base);
        let (a, b) = (one.net(NetId::at(0)), one.net(NetId::at(1)));
        let or = one.or(a, b);
        let xor = two.xor(a, b);
        assert_eq!(or.index(), xor.index());
        two.not(or);
        assert!(matches!(two.check(), Err(Malformed::Foreign { .. })));
        one.not(or);
        assert_eq!(one.check(), Ok(()));
    }

    #[test]
    fn handles_are_in_range() {
        let (mut c, _) = gate();
        c.net(NetId::at(9));
        assert!(matches!(c.check(), Err(Malformed::NotThere { kind: "net", .. })));
        let (mut c, _) = gate();
        c.q(crate::circuit::ElementId::at(0));
        assert!(matches!(c.check(), Err(Malformed::NotThere { .. })));
        let (mut c, _) = gate();
        c.drive(NetId::at(7), driver(Expr::HIGH, Expr::LOW, Stage::PushPull));
        assert!(c.check().is_err(), "a driver of a net that is not there went nowhere");
    }
}
