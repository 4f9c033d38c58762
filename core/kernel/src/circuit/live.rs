//! The part of a circuit that can matter: the contacts' cone of influence, and nets whose drivers could fight.
use super::{Circuit, Cone, Contact, Copied, Element, ElementId, Expr, Net, NetId, Op, Stage, Through, Vertex};

impl Circuit {
    /// For each net, whether any driver, register or latch depends on its level, whatever a contact shows of that.
    pub(crate) fn read_nets(&self) -> Vec<bool> {
        let elements = self.elements.iter().flat_map(Element::inputs);
        let mut open: Vec<Expr> = self.nets.iter().flat_map(Net::inputs).chain(elements).collect();
        let (mut seen, mut read) = (vec![false; self.ops.len()], vec![false; self.nets.len()]);
        while let Some(e) = open.pop() {
            if seen.get_mut(e.index()).is_none_or(|seen| std::mem::replace(seen, true)) {
                continue;
            }
            let op = self.op(e);
            if let Some(read) = op.as_net().and_then(|n| read.get_mut(n.index())) {
                *read = true;
            }
            open.extend(op.operands());
        }
        read
    }

    /// The circuit without what no contact can ever show: only the cone of influence of the contacts is kept, and nets
    /// that several outputs drive, for these could fight. Names stay, and so does the order of all that is kept.
    #[must_use]
    pub fn live(&self) -> Circuit {
        self.kept(&self.shown(&Cone::default()))
    }

    /// The same with what may act on itself, for that could swing for ever though no contact shows it.
    #[must_use]
    pub fn live_and_restless(&self) -> Circuit {
        self.kept(&self.shown(&self.feedback(Through::Elements)))
    }

    /// The names of nets, registers and latches that may act on themselves although no contact shows them.
    pub(crate) fn feedback_unseen(&self) -> Vec<String> {
        let (feedback, seen) = (self.feedback(Through::Elements), self.shown(&Cone::default()));
        let nets = feedback.nets().filter(|&n| !seen.contains(n)).filter_map(|n| self.nets.get(n.index()));
        let elements = feedback.elements().filter(|&e| !seen.contains(e));
        let elements = elements.filter_map(|e| self.elements.get(e.index()));
        let mut names: Vec<String> = nets.map(|n| n.name.clone()).chain(elements.map(|e| e.name.clone())).collect();
        names.sort();
        names.dedup();
        names
    }

    /// The cone of influence of the contacts, of nets that could fight, and of what is asked for besides.
    fn shown(&self, besides: &Cone) -> Cone {
        let fights = |n: &Net| n.drivers.len() > 1 && n.drivers.iter().any(|d| d.stage != Stage::OpenCollector);
        let bus = self.numbered_nets().filter(|(_, n)| fights(n)).map(|(id, _)| Vertex::Net(id));
        let contacts = self.contacts.iter().map(|c| Vertex::Net(c.net));
        let besides = besides.nets().map(Vertex::Net).chain(besides.elements().map(Vertex::Element));
        self.cone(contacts.chain(bus).chain(besides), |_| true)
    }

    /// What of the circuit is in a cone, with the contacts whose nets are.
    pub(crate) fn kept(&self, cone: &Cone) -> Circuit {
        let mut live = Circuit::new(self.name.clone());
        live.supplies.clone_from(&self.supplies);
        live.foreign.clone_from(&self.foreign);
        let mut nets: Vec<Option<NetId>> = Vec::with_capacity(self.nets.len());
        for (id, net) in self.numbered_nets() {
            let there = cone.contains(id);
            nets.push(there.then(|| live.add_net(net.name.clone(), net.origin.clone())));
            if let Some(new) = live.nets.last_mut().filter(|_| there) {
                new.pull = net.pull;
                new.open_read = net.open_read;
            }
        }
        // expressions name elements before these are there
        let mut count = 0;
        let number = |(id, _)| {
            let there = cone.contains(id);
            count += u32::from(there);
            there.then(|| ElementId(count - 1))
        };
        let elements: Vec<Option<ElementId>> = self.numbered_elements().map(number).collect();
        let leaf = |live: &mut Circuit, _: &Copied, op: Op| match op {
            Op::Net(n) => nets.get(n.index()).copied().flatten().map_or(Expr::LOW, |n| live.net(n)),
            Op::Q(e) => elements.get(e.index()).copied().flatten().map_or(Expr::LOW, |e| live.q(e)),
            Op::QInverted(e) => elements.get(e.index()).copied().flatten().map_or(Expr::LOW, |e| live.q_inverted(e)),
            _ => Expr::LOW,
        };
        let copied = live.copy(self, cone.expressions(), leaf);
        let at = |e: Expr| copied.at(e);
        for (e, _) in self.elements.iter().zip(&elements).filter(|(_, here)| here.is_some()) {
            live.add_element(e.over(at));
        }
        for (net, here) in self.nets.iter().zip(&nets) {
            let of = net.value_of.and_then(|of| nets.get(of.index()).copied().flatten());
            if let (Some(of), Some(here)) = (of, here.and_then(|here| live.net_mut(here))) {
                here.value_of = Some(of);
            }
            if let Some(here) = *here {
                net.drivers.iter().for_each(|d| live.drive(here, d.over(at)));
            }
        }
        for contact in &self.contacts {
            if let Some(&Some(net)) = nets.get(contact.net.index()) {
                live.add_contact(Contact { net, ..contact.clone() });
            }
        }
        // each of them has its drivers already
        live.joined.clone_from(&self.joined);
        let net = |n: NetId| nets.get(n.index()).copied().flatten();
        live.delays = self.delays.moved(net, |e| elements.get(e.index()).copied().flatten());
        live
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::{By, Direction, Driver, Kind, Origin, Polarity, Start};

    fn contact(c: &mut Circuit, label: u16, net: NetId, direction: Direction) {
        let (name, polarity, origin) = (format!("c{label}"), Polarity::Data, Origin::Nowhere);
        c.add_contact(Contact { label: label.into(), name, net, polarity, direction, origin });
    }

    fn drive(c: &mut Circuit, net: NetId, enable: Expr, level: Expr) {
        let (stage, name, origin) = (Stage::ThreeState, "d".to_owned(), Origin::Nowhere);
        c.drive(net, Driver { enable, level, stage, by: By::signal(name), origin });
    }

    fn register(c: &mut Circuit, name: &str, clock: Expr, data: Expr) -> Expr {
        let (kind, start, origin) = (Kind::Register { clock, data }, Start::Any, Origin::Nowhere);
        let e = Element {
            name: name.into(),
            kind,
            clear: Expr::LOW,
            unknown_load: Expr::LOW,
            preset: Expr::LOW,
            start,
            origin,
        };
        let e = c.add_element(e);
        c.q(e)
    }

    /// A toggle at contact 2 clocked by contact 1, beside one that nothing shows, whose clock it makes, a gate behind
    /// that, and a bus of two drivers inside that the first enables.
    fn circuit() -> Circuit {
        let mut c = Circuit::new("toggles");
        let nets = ["clock", "shown", "dead", "bus"].map(|n| c.add_net(n, Origin::Nowhere));
        let clock = c.net(nets[0]);
        let dead = register(&mut c, "spare", clock, clock);
        let shown = c.net(nets[1]);
        let opposite = c.not(shown);
        let q = register(&mut c, "toggle", clock, opposite);
        let kept = register(&mut c, "driver", clock, q);
        drive(&mut c, nets[1], Expr::HIGH, q);
        let gate = c.and(dead, q);
        drive(&mut c, nets[2], Expr::HIGH, gate);
        drive(&mut c, nets[3], q, kept);
        drive(&mut c, nets[3], clock, Expr::LOW);
        contact(&mut c, 1, nets[0], Direction::Input);
        contact(&mut c, 2, nets[1], Direction::Output);
        c
    }

    #[test]
    fn what_no_contact_shows_is_left_out_and_what_could_fight_stays() {
        let c = circuit();
        let live = c.live();
        let names = |c: &Circuit| {
            let elements: Vec<_> = c.elements().iter().map(|e| e.name.clone()).collect();
            (c.nets().iter().map(|n| n.name.clone()).collect::<Vec<_>>(), elements)
        };
        let (nets, elements) = names(&live);
        assert_eq!(nets, ["clock", "shown", "bus"]);
        assert_eq!(elements, ["toggle", "driver"]);
        assert_eq!(live.contacts().len(), 2);
        let Kind::Register { data, .. } = live.elements()[0].kind else { panic!("a register") };
        let Op::Not(shown) = live.op(data) else { panic!("{:?}", live.op(data)) };
        assert_eq!(live.op(shown), Op::Net(live.find_net("shown").expect("it is kept")));
        let bus = &live.nets()[2];
        assert_eq!(bus.drivers.len(), 2);
        assert_eq!(live.op(bus.drivers[0].enable), Op::Q(ElementId(0)));
        assert_eq!(names(&live.live()), names(&live), "all of it is live");
    }

    #[test]
    fn what_may_chase_itself_is_kept_on_request() {
        let mut c = circuit();
        let ring = c.add_net("ring", Origin::Nowhere);
        let back = c.net(ring);
        let level = c.not(back);
        drive(&mut c, ring, Expr::HIGH, level);
        // a register that clears itself, beside the toggle's spare one, which only counts
        let clock = c.find_net("clock").map(|n| c.net(n)).expect("it is there");
        let q = register(&mut c, "pulse", clock, Expr::HIGH);
        if let Some(e) = c.element_mut(ElementId(3)) {
            e.clear = q;
        }
        let elements = |c: &Circuit| c.elements().iter().map(|e| e.name.clone()).collect::<Vec<_>>();
        assert!(c.live().find_net("ring").is_none());
        assert_eq!(c.feedback_unseen(), ["pulse", "ring"]);
        let restless = c.live_and_restless();
        assert!(restless.find_net("ring").is_some() && restless.find_net("dead").is_none());
        assert_eq!(elements(&restless), ["toggle", "driver", "pulse"]);
    }

    #[test]
    fn an_open_successor_comes_along() {
        let mut c = circuit();
        let shown = c.find_net("shown").expect("it is there");
        let when = c.net(shown);
        c.load_unknown_while(ElementId(1), when);
        let live = c.live();
        assert_eq!(live.op(live.loads_unknown(ElementId(0))), Op::Net(live.find_net("shown").expect("it is kept")));
    }
}
