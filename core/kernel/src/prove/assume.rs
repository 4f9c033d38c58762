//! Assumptions: what the board is taken never to do.
use std::sync::Arc;

use crate::circuit::{Circuit, Direction, Expr, Label, NetId, Op, Stage};
use crate::machine::Algebra;

/// A condition over the levels at contacts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Formula {
    /// Always this.
    Constant(bool),
    /// The contact is high.
    High(Label),
    /// Not.
    Not(Arc<Formula>),
    /// Both.
    And(Arc<Formula>, Arc<Formula>),
    /// At least one.
    Or(Arc<Formula>, Arc<Formula>),
    /// Exactly one.
    Xor(Arc<Formula>, Arc<Formula>),
}

/// Something that holds at every moment, by the user's word; where it names a contact that the card may drive, something
/// that the board never makes untrue.
///
/// What the card does is no assumption but what is to be proved. So an assumption over a contact that the card may drive
/// bears on what the board does: an event after which it does not hold, with such contacts as the card showed them before,
/// does not happen, unless it did not hold before either.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Assumption {
    /// In words, for the record.
    pub text: String,
    /// What holds.
    pub holds: Formula,
}

impl Assumption {
    /// Exactly one of these contacts is high, or low.
    pub(super) fn one_of(contacts: &[Label], high: bool, names: &dyn Fn(&Label) -> String) -> Assumption {
        let active = |l: &Label| {
            let level = Formula::High(l.clone());
            Arc::new(if high { level } else { Formula::Not(Arc::new(level)) })
        };
        // none so far, one so far
        let (mut none, mut one) = (Arc::new(Formula::Constant(true)), Arc::new(Formula::Constant(false)));
        for contact in contacts {
            let (this, not) = (active(contact), Arc::new(Formula::Not(active(contact))));
            let still = Formula::And(Arc::clone(&one), Arc::clone(&not));
            let first = Formula::And(Arc::clone(&none), this);
            one = Arc::new(Formula::Or(Arc::new(still), Arc::new(first)));
            none = Arc::new(Formula::And(none, not));
        }
        let listed: Vec<_> = contacts.iter().map(names).collect();
        let text = format!("exactly one of {} {}", listed.join(", "), if high { "high" } else { "low" });
        Assumption { text, holds: Arc::unwrap_or_clone(one) }
    }
}

/// Which way a contact goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Either way.
    Either,
    /// From low to high.
    Up,
    /// From high to low.
    Down,
}

/// Something that the board does not do in one event, by the user's word: these contacts change only while a condition
/// holds, before the change and after it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Restriction {
    /// In words, for the record.
    pub text: String,
    /// The contacts that it bears on.
    pub contacts: Vec<Label>,
    /// Which of their changes.
    pub way: Way,
    /// When they may change so.
    pub only_while: Formula,
}

impl Restriction {
    /// The contacts that it names, in whatever way.
    pub(super) fn all_contacts(&self, into: &mut Vec<Label>) {
        into.extend(self.contacts.iter().cloned());
        self.only_while.contacts(into);
    }

    /// Whether one event keeps it: by what the board puts on the contacts before and after, and by the levels on the wires,
    /// which the card may drive.
    pub fn keeps<A: Algebra>(
        &self,
        algebra: &mut A,
        [before, after]: [&dyn Fn(&Label) -> Option<A::Value>; 2],
        wires: [&dyn Fn(&Label) -> Option<A::Value>; 2],
    ) -> A::Value {
        let mut changes = algebra.constant(false);
        for contact in &self.contacts {
            let (Some(b), Some(a)) = (before(contact), after(contact)) else { continue };
            let change = match self.way {
                Way::Either => algebra.xor(b, a),
                Way::Up => {
                    let low = algebra.not(b);
                    algebra.and(low, a)
                }
                Way::Down => {
                    let low = algebra.not(a);
                    algebra.and(b, low)
                }
            };
            changes = algebra.or(changes, change);
        }
        let [b, a] = wires.map(|wires| self.only_while.value(algebra, &wires));
        let holds = algebra.and(b, a);
        let still = algebra.not(changes);
        algebra.or(still, holds)
    }
}

impl Formula {
    /// From an expression of a circuit that reads nothing but its contacts; `None` if it reads anything else. What an output
    /// drives stands for its contact.
    pub fn from_circuit(circuit: &Circuit, e: Expr) -> Option<Formula> {
        let of = |x: Expr| Formula::from_circuit(circuit, x).map(Arc::new);
        Some(match circuit.op(e) {
            Op::Constant(v) => Formula::Constant(v),
            Op::Net(n) => Formula::High(contact(circuit, n)?),
            Op::Not(a) => Formula::Not(of(a)?),
            Op::And(a, b) => Formula::And(of(a)?, of(b)?),
            Op::Or(a, b) => Formula::Or(of(a)?, of(b)?),
            Op::Xor(a, b) => Formula::Xor(of(a)?, of(b)?),
            Op::Choose(c, a, b) => {
                let (c, a, b) = (of(c)?, of(a)?, of(b)?);
                let (one, other) = (Formula::And(Arc::clone(&c), a), Formula::And(Arc::new(Formula::Not(c)), b));
                Formula::Or(Arc::new(one), Arc::new(other))
            }
            Op::Q(_) | Op::QInverted(_) => return None,
        })
    }

    /// The condition in words that a bench understands: contacts and levels.
    pub fn words(&self, names: &dyn Fn(&Label) -> String) -> String {
        match self {
            Formula::Constant(v) => if *v { "always" } else { "never" }.to_owned(),
            Formula::High(l) => format!("{} high", names(l)),
            Formula::Not(a) => match &**a {
                Formula::High(l) => format!("{} low", names(l)),
                other => format!("¬({})", other.words(names)),
            },
            Formula::And(a, b) => format!("({} ∧ {})", a.words(names), b.words(names)),
            Formula::Or(a, b) => format!("({} ∨ {})", a.words(names), b.words(names)),
            Formula::Xor(a, b) => format!("({} ⊕ {})", a.words(names), b.words(names)),
        }
    }

    /// The contacts that it reads.
    pub(super) fn contacts(&self, into: &mut Vec<Label>) {
        match self {
            Formula::Constant(_) => {}
            Formula::High(l) => into.push(l.clone()),
            Formula::Not(a) => a.contacts(into),
            Formula::And(a, b) | Formula::Or(a, b) | Formula::Xor(a, b) => {
                a.contacts(into);
                b.contacts(into);
            }
        }
    }

    /// Its value in an algebra, from the levels at the contacts; a contact that has none counts as low.
    pub fn value<A: Algebra>(&self, algebra: &mut A, level: &impl Fn(&Label) -> Option<A::Value>) -> A::Value {
        match self {
            Formula::Constant(v) => algebra.constant(*v),
            Formula::High(l) => level(l).unwrap_or_else(|| algebra.constant(false)),
            Formula::Not(a) => {
                let a = a.value(algebra, level);
                algebra.not(a)
            }
            Formula::And(a, b) => {
                let (a, b) = (a.value(algebra, level), b.value(algebra, level));
                algebra.and(a, b)
            }
            Formula::Or(a, b) => {
                let (a, b) = (a.value(algebra, level), b.value(algebra, level));
                algebra.or(a, b)
            }
            Formula::Xor(a, b) => {
                let (a, b) = (a.value(algebra, level), b.value(algebra, level));
                algebra.xor(a, b)
            }
        }
    }
}

fn contact(circuit: &Circuit, n: NetId) -> Option<Label> {
    let own = circuit.nets().get(n.index())?.contact.and_then(|c| circuit.contacts().get(c.index()));
    let shows = |e: Expr| circuit.op(e) == Op::Net(n);
    let driven = || {
        circuit.contacts().iter().filter(|c| c.direction == Direction::Output).find(|c| {
            let drivers = circuit.nets().get(c.net.index()).map_or(&[][..], |net| &net.drivers);
            match drivers {
                // an open collector pulls while its value is low
                [d] if d.stage == Stage::OpenCollector => matches!(circuit.op(d.enable), Op::Not(e) if shows(e)),
                [d] => shows(d.level),
                _ => false,
            }
        })
    };
    own.or_else(driven).map(|c| c.label.clone())
}
