//! Placing one circuit inside another: a chip on a board, a device in a socket.
use std::collections::HashMap;

use super::{By, Circuit, Copied, Driver, Element, ElementId, Expr, Label, NetId, Op, Pull};

/// Where a contact of the placed circuit goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Landing {
    /// On this net of the host.
    Net(NetId),
    /// Tied to this level.
    Tied(bool),
    /// Nowhere: a net of its own is made, and nobody else is on it.
    Open,
}

/// What came of placing a circuit.
#[derive(Clone, Debug)]
pub struct Placed {
    /// The host's net for each net of the placed circuit, by index.
    pub nets: Vec<NetId>,
    /// The host's element for each element of the placed circuit, by index.
    pub elements: Vec<ElementId>,
}

impl Circuit {
    /// Places `part` in this circuit. Its nets and elements get the name `prefix.name`, its contacts land where
    /// `landing` says, and its drivers are pins of `prefix`. Its pull resistors come with it; a pull of the
    /// host's own net stays.
    pub fn place(&mut self, prefix: &str, part: &Circuit, mut landing: impl FnMut(&Label) -> Landing) -> Placed {
        let mut tied: HashMap<NetId, bool> = HashMap::new();
        let mut nets = Vec::with_capacity(part.nets.len());
        for net in &part.nets {
            let on = net.contact.and_then(|c| part.contacts.get(c.index())).map(|c| landing(&c.label));
            let id = match on {
                Some(Landing::Net(host)) => host,
                _ => {
                    let own = self.add_net(format!("{prefix}.{}", net.name), net.origin.clone());
                    if let Some(own) = self.net_mut(own) {
                        own.open_read = net.open_read;
                    }
                    own
                }
            };
            if let Some(Landing::Tied(level)) = on {
                tied.insert(id, level);
            }
            nets.push(id);
        }
        if self.foreign.is_none() {
            self.foreign.clone_from(&part.foreign);
        }
        let first = self.elements.len() as u32;
        let elements: Vec<_> = (0..part.elements.len() as u32).map(|i| ElementId(first + i)).collect();
        let landed = |host: &mut Circuit, _: &Copied, op: Op| match op {
            Op::Net(n) => match nets.get(n.index()) {
                Some(net) => tied.get(net).map_or_else(|| host.net(*net), |&level| Expr::constant(level)),
                None => Expr::LOW,
            },
            Op::Q(e) => elements.get(e.index()).map_or(Expr::LOW, |&e| host.q(e)),
            Op::QInverted(e) => elements.get(e.index()).map_or(Expr::LOW, |&e| host.q_inverted(e)),
            _ => Expr::LOW,
        };
        let copied = self.copy(part, part.expressions(), landed);
        let at = |e: Expr| copied.at(e);
        for e in &part.elements {
            self.add_element(Element { name: format!("{prefix}.{}", e.name), ..e.over(at) });
        }
        for (net, &host) in part.nets.iter().zip(&nets) {
            if let Some(of) = net.value_of.and_then(|of| nets.get(of.index()).copied())
                && let Some(host) = self.net_mut(host)
            {
                host.value_of = Some(of);
            }
            if let Some(host) = self.net_mut(host).filter(|host| host.pull == Pull::None) {
                host.pull = net.pull;
            }
            let pin = net.contact.and_then(|c| part.contacts.get(c.index())).map(|c| &c.label);
            for d in &net.drivers {
                let package = prefix.to_owned();
                let by = match pin {
                    Some(label) => By::Pin { package, pin: label.clone() },
                    None => By::Within { package, part: Box::new(d.by.clone()) },
                };
                self.drive(host, Driver { by, ..d.over(at) });
            }
        }
        Placed { nets, elements }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::{Contact, Direction, Origin, Polarity, Stage};

    fn inverter() -> Circuit {
        let mut c = Circuit::new("inverter");
        let (a, y) = (c.add_net("a", Origin::Nowhere), c.add_net("y", Origin::Nowhere));
        let level = c.net(a);
        let level = c.not(level);
        c.drive(
            y,
            Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal("y"), origin: Origin::Nowhere },
        );
        for (label, name, net, direction) in [(1u16, "a", a, Direction::Input), (2, "y", y, Direction::Output)] {
            c.add_contact(Contact {
                label: label.into(),
                name: name.into(),
                net,
                polarity: Polarity::Data,
                direction,
                origin: Origin::Nowhere,
            });
        }
        c
    }

    #[test]
    fn two_inverters_in_a_row_read_their_neighbour() {
        let part = inverter();
        let mut host = Circuit::new("host");
        let nets: Vec<_> = ["x", "m", "z"].map(|n| host.add_net(n, Origin::Nowhere)).into();
        for (k, r) in ["U1", "U2"].iter().enumerate() {
            host.place(r, &part, |label| Landing::Net(nets[k + usize::from(label.number() == Some(2))]));
        }
        assert_eq!(host.nets()[nets[1].index()].drivers[0].by.to_string(), "U1 pin 2");
        let level = host.nets()[nets[2].index()].drivers[0].level;
        let Op::Not(inner) = host.op(level) else { panic!("{:?}", host.op(level)) };
        assert_eq!(host.op(inner), Op::Net(nets[1]));
    }

    #[test]
    fn a_tied_input_is_a_constant() {
        let part = inverter();
        let mut host = Circuit::new("host");
        let z = host.add_net("z", Origin::Nowhere);
        host.place("U1", &part, |l| if l.number() == Some(1) { Landing::Tied(true) } else { Landing::Net(z) });
        assert_eq!(host.nets()[z.index()].drivers[0].level, Expr::LOW);
    }

    #[test]
    fn pull_resistors_come_with_the_part() {
        let mut part = inverter();
        part.net_mut(NetId(0)).expect("a").pull = Pull::Up;
        part.net_mut(NetId(1)).expect("y").pull = Pull::Down;
        let mut host = Circuit::new("host");
        let nets: Vec<_> = ["x", "z"].map(|n| host.add_net(n, Origin::Nowhere)).into();
        host.net_mut(nets[1]).expect("z").pull = Pull::Up;
        host.place("U1", &part, |l| Landing::Net(nets[usize::from(l.number() == Some(2))]));
        assert_eq!(host.nets().iter().map(|n| n.pull).collect::<Vec<_>>(), [Pull::Up, Pull::Up]);
    }
}
