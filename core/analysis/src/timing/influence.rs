//! How an output pin of a part follows its inputs: at once, on a clock, or by being turned on and off; and which edge of the
//! one may bring about which of the other.
use std::collections::{BTreeMap, BTreeSet};

use super::Edge;
use gluewright_kernel::circuit::{Circuit, Direction, ElementId, Expr, Kind, Label, NetId, Op, Stage, Unateness};

/// In what way an output follows an input.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Way {
    /// Gates, open latches, clears and presets.
    Through,
    /// The input clocks a register.
    Clocked,
    /// The input turns the driver on; the output's edge is to the level that it then drives.
    On,
    /// The input turns the driver off; the output's edge says which level it drove: a rise for high.
    Off,
}

/// Which edges of an output each edge of an input may bring about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Edges(u8);

impl Edges {
    pub(super) const SAME: Edges = Edges(0b1001);
    pub(super) const OPPOSITE: Edges = Edges(0b0110);
    pub(super) const EITHER: Edges = Edges(0b1111);

    pub(super) fn of(unateness: Unateness) -> Edges {
        match unateness {
            Unateness::Same => Edges::SAME,
            Unateness::Opposite => Edges::OPPOSITE,
            Unateness::Either => Edges::EITHER,
        }
    }

    /// This edge brings about these, the other one none.
    pub(super) fn from(edge: Edge, to: &[Edge]) -> Edges {
        Edges(to.iter().fold(0, |bits, &to| bits | Edges::bit(edge, to)))
    }

    fn bit(from: Edge, to: Edge) -> u8 {
        1 << (usize::from(from == Edge::Fall) * 2 + usize::from(to == Edge::Fall))
    }

    pub(super) fn has(self, from: Edge, to: Edge) -> bool {
        self.0 & Edges::bit(from, to) != 0
    }

    pub(super) fn and(self, other: Edges) -> Edges {
        Edges(self.0 | other.0)
    }

    /// These, and behind them those.
    pub(super) fn then(self, behind: Edges) -> Edges {
        let mut all = 0;
        for (from, over, to) in Edge::BOTH
            .into_iter()
            .flat_map(|a| Edge::BOTH.into_iter().flat_map(move |b| Edge::BOTH.into_iter().map(move |c| (a, b, c))))
        {
            if self.has(from, over) && behind.has(over, to) {
                all |= Edges::bit(from, to);
            }
        }
        Edges(all)
    }
}

/// An output follows an input.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Influence {
    pub(super) from: Label,
    pub(super) to: Label,
    pub(super) way: Way,
    pub(super) edges: Edges,
}

/// All influences between the contacts of a part, one for each way between two contacts.
pub(super) fn influences(circuit: &Circuit) -> Vec<Influence> {
    let mut all: Vec<Influence> = Vec::new();
    for contact in circuit.contacts().iter().filter(|c| c.direction != Direction::Input) {
        let mut walk = Walk::new(circuit, true);
        let drivers = circuit.nets().get(contact.net.index()).map_or(&[][..], |net| &net.drivers);
        for driver in drivers {
            match driver.stage {
                Stage::OpenCollector => walk.expression(driver.enable, Edges::OPPOSITE, Way::Through),
                Stage::PushPull | Stage::ThreeState => {
                    walk.expression(driver.enable, Edges::from(Edge::Rise, &Edge::BOTH), Way::On);
                    walk.expression(driver.enable, Edges::from(Edge::Fall, &Edge::BOTH), Way::Off);
                    walk.expression(driver.level, Edges::SAME, Way::Through);
                }
            }
        }
        let found = walk.found.into_iter().filter(|((label, _), _)| label != &contact.label);
        all.extend(found.map(|((from, way), edges)| Influence { from, to: contact.label.clone(), way, edges }));
    }
    all
}

/// The contacts that an expression reads through gates alone, with the edges of it that theirs bring about.
pub(super) fn reads(circuit: &Circuit, expression: Expr) -> BTreeMap<Label, Edges> {
    let mut walk = Walk::new(circuit, false);
    walk.expression(expression, Edges::SAME, Way::Through);
    walk.found.into_iter().map(|((label, _), edges)| (label, edges)).collect()
}

/// An expression on the way, what its edges bring about at the output, and how.
type Visit = (Expr, Edges, Way);

struct Walk<'c> {
    circuit: &'c Circuit,
    through_elements: bool,
    seen: BTreeSet<(usize, Edges, Way)>,
    found: BTreeMap<(Label, Way), Edges>,
}

impl<'c> Walk<'c> {
    fn new(circuit: &'c Circuit, through_elements: bool) -> Self {
        Walk { circuit, through_elements, seen: BTreeSet::new(), found: BTreeMap::new() }
    }

    fn expression(&mut self, e: Expr, edges: Edges, way: Way) {
        // a stack of its own: expressions may be deep
        let mut stack = vec![(e, edges, way)];
        while let Some((e, edges, way)) = stack.pop() {
            if !self.seen.insert((e.index(), edges, way)) {
                continue;
            }
            match self.circuit.op(e) {
                Op::Net(net) => self.net(net, (e, edges, way), &mut stack),
                Op::Q(element) => self.element(element, edges, way, &mut stack),
                Op::QInverted(element) => self.element(element, Edges::OPPOSITE.then(edges), way, &mut stack),
                op => {
                    let operands = op.operands().zip(op.unateness());
                    stack.extend(operands.map(|(o, u)| (o, Edges::of(u).then(edges), way)));
                }
            }
        }
    }

    fn net(&mut self, net: NetId, (_, edges, way): Visit, stack: &mut Vec<Visit>) {
        let Some(net) = self.circuit.nets().get(net.index()) else { return };
        let contact = net.contact.and_then(|c| self.circuit.contacts().get(c.index()));
        match contact.filter(|c| c.direction != Direction::Output) {
            Some(contact) => {
                let known = self.found.entry((contact.label.clone(), way)).or_insert(edges);
                *known = known.and(edges);
            }
            None => {
                for driver in &net.drivers {
                    let pulls = driver.stage == Stage::OpenCollector;
                    let enables = if pulls { Edges::OPPOSITE } else { Edges::EITHER };
                    stack.extend([(driver.enable, enables.then(edges), way), (driver.level, edges, way)]);
                }
            }
        }
    }

    fn element(&mut self, element: ElementId, edges: Edges, way: Way, stack: &mut Vec<Visit>) {
        let Some(e) = self.circuit.elements().get(element.index()).filter(|_| self.through_elements) else { return };
        // the release of one of them shows what the other asks for, or what an open latch follows
        let shows = !e.is_register() || e.clear.as_constant().is_none() && e.preset.as_constant().is_none();
        let (clears, presets) = match shows {
            true => (Edges::OPPOSITE, Edges::SAME),
            false => (Edges::from(Edge::Rise, &[Edge::Fall]), Edges::from(Edge::Rise, &[Edge::Rise])),
        };
        stack.extend([(e.clear, clears.then(edges), way), (e.preset, presets.then(edges), way)]);
        let launches = Edges::from(Edge::Rise, &Edge::BOTH).then(edges);
        match e.kind {
            Kind::Register { clock, .. } => {
                stack.push((clock, launches, if way == Way::Through { Way::Clocked } else { way }));
            }
            Kind::Latch { open, data } => stack.extend([(open, launches, way), (data, edges, way)]),
        }
    }
}
