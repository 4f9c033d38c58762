//! Wires that are nothing but another net: whoever reads them reads that net.
use std::collections::HashMap;

use super::{Circuit, Expr, NetId, Op, Stage};

impl Circuit {
    /// Reads of these nets become reads of where they come from, if one driver copies another net to them at all times; and
    /// of several that carry the same expression the first is read for all. So what is one wire is one net, and moves at one
    /// moment. The nets themselves stay, with their names and drivers. Handles keep their meaning.
    pub(crate) fn join_wires(&mut self, wires: &[NetId]) {
        let mut comes: HashMap<NetId, NetId> = HashMap::new();
        for &wire in wires {
            if let Some(Op::Net(from)) = self.copied_to(wire).map(|e| self.op(e)) {
                comes.insert(wire, from);
            }
        }
        self.read_instead(&comes);
        let mut first: HashMap<Expr, NetId> = HashMap::new();
        let mut same: HashMap<NetId, NetId> = HashMap::new();
        for &wire in wires.iter().filter(|w| !comes.contains_key(w)) {
            let Some(level) = self.copied_to(wire).filter(|e| e.as_constant().is_none()) else { continue };
            match first.get(&level) {
                Some(&other) => {
                    same.insert(wire, other);
                }
                None => {
                    first.insert(level, wire);
                }
            }
        }
        self.read_instead(&same);
    }

    /// What one driver puts on a net at all times.
    fn copied_to(&self, net: NetId) -> Option<Expr> {
        let net = self.nets.get(net.index()).filter(|n| n.contact.is_none())?;
        match net.drivers.as_slice() {
            [d] if d.enable == Expr::HIGH && d.stage == Stage::PushPull => Some(d.level),
            _ => None,
        }
    }

    fn read_instead(&mut self, comes: &HashMap<NetId, NetId>) {
        for op in &mut self.ops {
            let Op::Net(mut net) = *op else { continue };
            let mut steps = 0;
            while let Some(&from) = comes.get(&net) {
                net = from;
                steps += 1;
                // wires in a ring come from nowhere: they stay what they are
                if steps > comes.len() {
                    break;
                }
            }
            if steps <= comes.len() {
                *op = Op::Net(net);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::{By, Driver, Origin};

    fn copy(c: &mut Circuit, name: &str, level: Expr) -> NetId {
        let net = c.add_net(name, Origin::Nowhere);
        let (stage, by, origin) = (Stage::PushPull, By::signal(name), Origin::Nowhere);
        c.drive(net, Driver { enable: Expr::HIGH, level, stage, by, origin });
        net
    }

    #[test]
    fn a_wire_is_read_as_the_net_that_it_comes_from() {
        let mut c = Circuit::new("wires");
        let clock = c.add_net("clock", Origin::Nowhere);
        let level = c.net(clock);
        let one = copy(&mut c, "one", level);
        let from_one = c.net(one);
        let two = copy(&mut c, "two", from_one);
        let read = c.net(two);
        let not = c.not(read);
        let gates = [copy(&mut c, "gate a", not), copy(&mut c, "gate b", not)];
        let (a, b) = (c.net(gates[0]), c.net(gates[1]));
        c.join_wires(&[one, two, gates[0], gates[1]]);
        assert_eq!((c.op(read), c.op(not)), (Op::Net(clock), Op::Not(read)));
        assert_eq!((c.op(a), c.op(b)), (Op::Net(gates[0]), Op::Net(gates[0])));
    }

    #[test]
    fn wires_in_a_ring_stay() {
        let mut c = Circuit::new("ring");
        let nets = ["a", "b"].map(|n| c.add_net(n, Origin::Nowhere));
        for i in 0..2 {
            let level = c.net(nets[1 - i]);
            let (stage, by, origin) = (Stage::PushPull, By::signal("x"), Origin::Nowhere);
            c.drive(nets[i], Driver { enable: Expr::HIGH, level, stage, by, origin });
        }
        let read = c.net(nets[0]);
        c.join_wires(&nets);
        assert_eq!(c.op(read), Op::Net(nets[0]));
    }
}
