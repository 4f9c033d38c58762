//! The part of a circuit that can matter: what a contact hangs on, and nets whose drivers could fight.
use super::{Circuit, Contact, ElementId, Expr, Kind, Net, NetId, Op, Stage, Through};

impl Circuit {
    /// The circuit without what no contact can ever show: registers, latches, nets and gates on which no contact hangs,
    /// however remotely. Nets that several outputs drive stay, for these could fight. Names stay, and so does the order
    /// of all that is kept.
    #[must_use]
    pub fn live(&self) -> Circuit {
        self.kept(&Reached::of(self, &[], &[]))
    }

    /// The same with what may chase itself, for that could swing for ever though no contact shows it.
    #[must_use]
    pub fn live_and_restless(&self) -> Circuit {
        let chasing = self.chasing(Through::Elements);
        self.kept(&Reached::of(self, &chasing.nets, &chasing.elements))
    }

    /// The names of nets, registers and latches that may chase themselves although no contact shows them.
    pub(crate) fn chasing_unseen(&self) -> Vec<String> {
        let (chasing, seen) = (self.chasing(Through::Elements), Reached::of(self, &[], &[]));
        let unseen =
            |chasing: &[bool], seen: &[bool], i: usize| chasing.get(i) == Some(&true) && seen.get(i) != Some(&true);
        let nets = self.nets.iter().enumerate().filter(|&(i, _)| unseen(&chasing.nets, &seen.nets, i));
        let elements = self.elements.iter().enumerate().filter(|&(i, _)| unseen(&chasing.elements, &seen.elements, i));
        let mut names: Vec<String> =
            nets.map(|(_, n)| n.name.clone()).chain(elements.map(|(_, e)| e.name.clone())).collect();
        names.sort();
        names.dedup();
        names
    }

    fn kept(&self, reached: &Reached) -> Circuit {
        let mut live = Circuit::new(self.name.clone());
        live.supplies.clone_from(&self.supplies);
        let mut nets: Vec<Option<NetId>> = Vec::with_capacity(self.nets.len());
        for (net, &there) in self.nets.iter().zip(&reached.nets) {
            nets.push(there.then(|| live.add_net(net.name.clone(), net.origin.clone())));
            if let Some(new) = live.nets.last_mut().filter(|_| there) {
                new.pull = net.pull;
            }
        }
        // expressions name elements before these are there
        let mut count = 0;
        let number = |&there: &bool| {
            count += u32::from(there);
            there.then(|| ElementId(count - 1))
        };
        let elements: Vec<Option<ElementId>> = reached.elements.iter().map(number).collect();
        let leaf = |live: &mut Circuit, op: Op| match op {
            Op::Net(n) => nets.get(n.index()).copied().flatten().map_or(Expr::LOW, |n| live.net(n)),
            Op::Q(e) => elements.get(e.index()).copied().flatten().map_or(Expr::LOW, |e| live.q(e)),
            Op::QInverted(e) => elements.get(e.index()).copied().flatten().map_or(Expr::LOW, |e| live.q_inverted(e)),
            _ => Expr::LOW,
        };
        let wanted = |i: usize| reached.expressions.get(i) == Some(&true);
        let copied = live.copy_expressions(self, wanted, leaf);
        let at = |e: Expr| copied.at(e);
        for (e, _) in self.elements.iter().zip(&elements).filter(|(_, here)| here.is_some()) {
            live.add_element(e.over(at));
        }
        for (element, &when) in &self.unknown_loads {
            if let Some(&Some(here)) = elements.get(element.index()) {
                live.load_unknown_while(here, at(when));
            }
        }
        for (net, here) in self.nets.iter().zip(&nets) {
            if let Some(here) = *here {
                net.drivers.iter().for_each(|d| live.drive(here, d.over(at)));
            }
        }
        for contact in &self.contacts {
            if let Some(&Some(net)) = nets.get(contact.net.index()) {
                live.add_contact(Contact { net, ..contact.clone() });
            }
        }
        live
    }
}

/// What some contact hangs on, by index.
struct Reached {
    nets: Vec<bool>,
    elements: Vec<bool>,
    expressions: Vec<bool>,
}

impl Reached {
    /// What the contacts hang on, and what these nets and elements do.
    fn of(c: &Circuit, also_nets: &[bool], also_elements: &[bool]) -> Self {
        let mut reached = Reached {
            nets: vec![false; c.nets.len()],
            elements: vec![false; c.elements.len()],
            expressions: vec![false; c.ops.len()],
        };
        let fights = |n: &Net| n.drivers.len() > 1 && n.drivers.iter().any(|d| d.stage != Stage::OpenCollector);
        let bus = c.nets.iter().enumerate().filter(|(_, n)| fights(n)).map(|(i, _)| i);
        let marked = |marks: &[bool]| marks.iter().enumerate().filter(|(_, m)| **m).map(|(i, _)| i).collect::<Vec<_>>();
        let contacts = c.contacts.iter().map(|c| c.net.index());
        let mut nets: Vec<usize> = contacts.chain(bus).chain(marked(also_nets)).collect();
        let mut elements: Vec<ElementId> = marked(also_elements).into_iter().map(|i| ElementId(i as u32)).collect();
        let mut expressions: Vec<Expr> = Vec::new();
        let first = |marks: &mut Vec<bool>, i: usize| marks.get_mut(i).is_some_and(|m| !std::mem::replace(m, true));
        loop {
            if let Some(e) = expressions.pop() {
                if !first(&mut reached.expressions, e.index()) {
                    continue;
                }
                match c.op(e) {
                    Op::Constant(_) => {}
                    Op::Net(n) => nets.push(n.index()),
                    Op::Q(x) | Op::QInverted(x) => elements.push(x),
                    Op::Not(a) => expressions.push(a),
                    Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => expressions.extend([a, b]),
                    Op::Choose(when, a, b) => expressions.extend([when, a, b]),
                }
            } else if let Some(n) = nets.pop() {
                if first(&mut reached.nets, n) {
                    let drivers = c.nets.get(n).into_iter().flat_map(|n| &n.drivers);
                    expressions.extend(drivers.flat_map(|d| [d.enable, d.level]));
                }
            } else if let Some(x) = elements.pop() {
                if let Some(e) = c.elements.get(x.index()).filter(|_| first(&mut reached.elements, x.index())) {
                    let (Kind::Register { clock: gate, data } | Kind::Latch { open: gate, data }) = e.kind;
                    expressions.extend([gate, data, e.clear, e.preset, c.loads_unknown(x)]);
                }
            } else {
                return reached;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::{Direction, Driver, Element, Origin, Polarity, Start};

    fn contact(c: &mut Circuit, label: u16, net: NetId, direction: Direction) {
        let (name, polarity, origin) = (format!("c{label}"), Polarity::Data, Origin::Nowhere);
        c.add_contact(Contact { label: label.into(), name, net, polarity, direction, origin });
    }

    fn drive(c: &mut Circuit, net: NetId, enable: Expr, level: Expr) {
        let (stage, name, origin) = (Stage::ThreeState, "d".to_owned(), Origin::Nowhere);
        c.drive(net, Driver { enable, level, stage, name, origin });
    }

    fn register(c: &mut Circuit, name: &str, clock: Expr, data: Expr) -> Expr {
        let (kind, start, origin) = (Kind::Register { clock, data }, Start::Any, Origin::Nowhere);
        let e = Element { name: name.into(), kind, clear: Expr::LOW, preset: Expr::LOW, start, origin };
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
        assert_eq!(c.chasing_unseen(), ["pulse", "ring"]);
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
