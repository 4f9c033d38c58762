//! How an output pin of a part follows its inputs: at once, on a clock, through a latch, or only by being turned on; and
//! with which unateness, of each gate on the way.
use std::collections::BTreeSet;

pub(super) use gluewright_kernel::circuit::Unateness as Sense;
use gluewright_kernel::circuit::{Circuit, Direction, ElementId, Expr, Kind, Label, NetId, Op, Stage};

/// In what way an output follows an input.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Way {
    /// Gates, open latches, clears and presets.
    Through,
    /// The input clocks a register.
    Clocked,
    /// The input turns the driver on and off.
    Enabled,
}

/// An output follows an input.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Influence {
    pub(super) from: Label,
    pub(super) to: Label,
    pub(super) way: Way,
    pub(super) sense: Sense,
    /// Whether it makes the output rise only, or fall only: a clear, a preset.
    pub(super) only: Option<bool>,
}

/// Which way an output goes with something that goes this way.
fn of(sense: Sense, rises: bool) -> Option<bool> {
    match sense {
        Sense::Same => Some(rises),
        Sense::Opposite => Some(!rises),
        Sense::Either => None,
    }
}

/// All influences between the contacts of a part. An input that does so in several senses is there once, as either.
pub(super) fn influences(circuit: &Circuit) -> Vec<Influence> {
    let mut all: Vec<Influence> = Vec::new();
    for contact in circuit.contacts().iter().filter(|c| c.direction != Direction::Input) {
        let mut walk = Walk { circuit, through_elements: true, seen: BTreeSet::new(), found: BTreeSet::new() };
        let drivers = circuit.nets().get(contact.net.index()).map_or(&[][..], |net| &net.drivers);
        for driver in drivers {
            match driver.stage {
                Stage::OpenCollector => walk.expression(driver.enable, Sense::Opposite, Way::Through),
                Stage::PushPull | Stage::ThreeState => {
                    walk.expression(driver.enable, Sense::Either, Way::Enabled);
                    walk.expression(driver.level, Sense::Same, Way::Through);
                }
            }
        }
        for (from, way, sense, only) in walk.found.into_iter().filter(|(label, ..)| label != &contact.label) {
            match all.last_mut().filter(|i| i.to == contact.label && i.from == from && i.way == way) {
                Some(known) => {
                    if known.sense != sense {
                        known.sense = Sense::Either;
                    }
                    if known.only != only {
                        known.only = None;
                    }
                }
                None => all.push(Influence { from, to: contact.label.clone(), way, sense, only }),
            }
        }
    }
    all
}

/// The contacts that an expression reads through gates alone.
pub(super) fn reads(circuit: &Circuit, expression: Expr) -> BTreeSet<Label> {
    let mut walk = Walk { circuit, through_elements: false, seen: BTreeSet::new(), found: BTreeSet::new() };
    walk.expression(expression, Sense::Same, Way::Through);
    walk.found.into_iter().map(|(label, ..)| label).collect()
}

/// An expression on the way, and how the output goes with it.
type Visit = (Expr, Sense, Way, Option<bool>);

struct Walk<'c> {
    circuit: &'c Circuit,
    through_elements: bool,
    seen: BTreeSet<(usize, Sense, Way, Option<bool>)>,
    found: BTreeSet<(Label, Way, Sense, Option<bool>)>,
}

impl Walk<'_> {
    fn expression(&mut self, e: Expr, sense: Sense, way: Way) {
        // a stack of its own: expressions may be deep
        let mut stack = vec![(e, sense, way, None)];
        while let Some((e, sense, way, only)) = stack.pop() {
            if !self.seen.insert((e.index(), sense, way, only)) {
                continue;
            }
            match self.circuit.op(e) {
                Op::Net(net) => self.net(net, (e, sense, way, only), &mut stack),
                Op::Q(element) => self.element(element, (e, sense, way, only), &mut stack),
                Op::QInverted(element) => self.element(element, (e, sense.inverted(), way, only), &mut stack),
                op => stack.extend(op.operands().zip(op.unateness()).map(|(o, u)| (o, sense.then(u), way, only))),
            }
        }
    }

    fn net(&mut self, net: NetId, (_, sense, way, only): Visit, stack: &mut Vec<Visit>) {
        let Some(net) = self.circuit.nets().get(net.index()) else { return };
        let contact = net.contact.and_then(|c| self.circuit.contacts().get(c.index()));
        match contact.filter(|c| c.direction != Direction::Output) {
            Some(contact) => {
                self.found.insert((contact.label.clone(), way, sense, only));
            }
            None => {
                for driver in &net.drivers {
                    let pulls = driver.stage == Stage::OpenCollector;
                    stack.push((driver.enable, if pulls { sense.inverted() } else { Sense::Either }, way, only));
                    stack.push((driver.level, sense, way, only));
                }
            }
        }
    }

    fn element(&mut self, element: ElementId, (_, sense, way, only): Visit, stack: &mut Vec<Visit>) {
        let Some(e) = self.circuit.elements().get(element.index()).filter(|_| self.through_elements) else { return };
        stack.push((e.clear, sense.inverted(), way, only.or(of(sense, false))));
        stack.push((e.preset, sense, way, only.or(of(sense, true))));
        match e.kind {
            Kind::Register { clock, .. } => {
                stack.push((clock, Sense::Either, if way == Way::Through { Way::Clocked } else { way }, None));
            }
            Kind::Latch { open, data } => {
                stack.extend([(open, Sense::Either, way, None), (data, sense, way, only)]);
            }
        }
    }
}
