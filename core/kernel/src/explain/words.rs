//! Levels and conditions in words that a bench understands: contacts, nets, registers, each high or low.
use std::collections::HashMap;

use crate::circuit::{By, Circuit, ElementId, Expr, NetId, Op};

use super::replay::Track;

/// What a reason ends in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Leaf {
    Net(NetId),
    Q(ElementId),
}

/// A leaf with the level that it has: of an element, what it holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Literal {
    pub(super) leaf: Leaf,
    pub(super) high: bool,
}

/// Expressions deeper than this are not followed.
const DEEPEST: u32 = 200;

pub(super) fn level(high: bool) -> &'static str {
    if high { "high" } else { "low" }
}

/// Whether a net is but a name for what drives it, made by the tool and not by a person.
pub(super) fn is_transparent(circuit: &Circuit, net: NetId) -> Option<Expr> {
    let net = circuit.nets().get(net.index()).filter(|n| n.contact.is_none())?;
    let [driver] = net.drivers.as_slice() else { return None };
    let made = net.value_of.is_some() || matches!(driver.by, By::Within { .. });
    (made && driver.enable == Expr::HIGH).then_some(driver.level)
}

/// A leaf by name.
pub(super) fn name(circuit: &Circuit, leaf: Leaf) -> String {
    match leaf {
        Leaf::Net(n) => {
            let Some(net) = circuit.nets().get(n.index()) else { return String::new() };
            match net.contact.and_then(|c| circuit.contacts().get(c.index())) {
                Some(contact) => format!("contact {} {}", contact.label, contact.name),
                None => format!("`{}`", net.name),
            }
        }
        Leaf::Q(e) => circuit.elements().get(e.index()).map_or(String::new(), |e| format!("`{}`", e.name)),
    }
}

/// A literal in words: `contact 3 read low`, `` `fresh` holds high ``.
pub(super) fn literal(circuit: &Circuit, of: Literal) -> String {
    let holds = if matches!(of.leaf, Leaf::Q(_)) { "holds " } else { "" };
    format!("{} {holds}{}", name(circuit, of.leaf), level(of.high))
}

/// The literal that an expression is, if it is no more than one, where it is true.
pub(super) fn literal_of(circuit: &Circuit, e: Expr) -> Option<Literal> {
    let mut of = (e, true);
    loop {
        let (e, high) = of;
        of = match circuit.op(e) {
            Op::Not(a) => (a, !high),
            Op::Net(n) => match is_transparent(circuit, n) {
                Some(inner) => (inner, high),
                None => return Some(Literal { leaf: Leaf::Net(n), high }),
            },
            Op::Q(q) => return Some(Literal { leaf: Leaf::Q(q), high }),
            Op::QInverted(q) => return Some(Literal { leaf: Leaf::Q(q), high: !high }),
            _ => return None,
        };
    }
}

/// Several literals in words.
pub(super) fn literals(circuit: &Circuit, of: &[Literal]) -> String {
    let words: Vec<_> = of.iter().map(|&l| literal(circuit, l)).collect();
    match words.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, before)) => format!("{} and {last}", before.join(", ")),
    }
}

/// A condition in words, if it is short enough to be read at a glance.
pub(super) fn condition(circuit: &Circuit, e: Expr) -> Option<String> {
    const LONGEST: usize = 150;
    let mut room = 40;
    let text = formula(circuit, e, true, 0, &mut room)?;
    (text.chars().count() <= LONGEST).then_some(text)
}

/// `e`, or its inverse, with the operators of ISO 80000-2; `outer` binds how strongly: 0 nothing, 1 or, 2 and.
fn formula(circuit: &Circuit, e: Expr, truth: bool, outer: u8, room: &mut u32) -> Option<String> {
    *room = room.checked_sub(1)?;
    let leaf = |leaf| Some(literal(circuit, Literal { leaf, high: truth }));
    let join = |a: Expr, b: Expr, and: bool, room: &mut u32| {
        let (sign, binds) = if and { ("∧", 2) } else { ("∨", 1) };
        let (a, b) = (formula(circuit, a, truth, binds, room)?, formula(circuit, b, truth, binds, room)?);
        let text = format!("{a} {sign} {b}");
        Some(if outer != 0 && outer != binds { format!("({text})") } else { text })
    };
    match circuit.op(e) {
        Op::Constant(v) => Some(if v == truth { "always" } else { "never" }.to_owned()),
        Op::Net(n) => match is_transparent(circuit, n) {
            Some(inner) => formula(circuit, inner, truth, outer, room),
            None => leaf(Leaf::Net(n)),
        },
        Op::Q(q) => leaf(Leaf::Q(q)),
        Op::QInverted(q) => Some(literal(circuit, Literal { leaf: Leaf::Q(q), high: !truth })),
        Op::Not(a) => formula(circuit, a, !truth, outer, room),
        Op::And(a, b) => join(a, b, truth, room),
        Op::Or(a, b) => join(a, b, !truth, room),
        Op::Xor(a, b) => {
            let (a, b) = (formula(circuit, a, truth, 3, room)?, formula(circuit, b, true, 3, room)?);
            Some(format!("({a} ⊕ {b})"))
        }
        Op::Choose(c, a, b) => {
            let then = formula(circuit, a, truth, 3, room)?;
            let otherwise = formula(circuit, b, truth, 3, room)?;
            let when = formula(circuit, c, true, 3, room)?;
            Some(format!("({then} if {when}, else {otherwise})"))
        }
    }
}

/// Why an expression has the level that it has at a moment: literals that force it, as few as a short look finds.
pub(super) fn reasons(track: &Track, e: Expr, moment: usize) -> Vec<Literal> {
    Reasons { track, moment, known: HashMap::new() }.of(e, DEEPEST)
}

/// Reasons at one moment.
struct Reasons<'t> {
    track: &'t Track,
    moment: usize,
    /// What is known, each expression looked at once. In a loop, what comes back to a net has that net for a reason.
    known: HashMap<Expr, Vec<Literal>>,
}

impl Reasons<'_> {
    fn of(&mut self, e: Expr, depth: u32) -> Vec<Literal> {
        if let Some(known) = self.known.get(&e) {
            return known.clone();
        }
        let Some(depth) = depth.checked_sub(1) else { return Vec::new() };
        let circuit = &*self.track.circuit;
        let high = self.track.value(e, self.moment);
        let found = match circuit.op(e) {
            Op::Constant(_) => Vec::new(),
            Op::Net(n) => {
                let itself = vec![Literal { leaf: Leaf::Net(n), high }];
                match is_transparent(circuit, n) {
                    Some(inner) => {
                        self.known.insert(e, itself);
                        self.of(inner, depth)
                    }
                    None => itself,
                }
            }
            Op::Q(q) => vec![Literal { leaf: Leaf::Q(q), high }],
            Op::QInverted(q) => vec![Literal { leaf: Leaf::Q(q), high: !high }],
            Op::Not(a) => self.of(a, depth),
            Op::And(a, b) if high => self.all(&[a, b], depth),
            Op::And(a, b) => self.either(a, b, false, depth),
            Op::Or(a, b) if !high => self.all(&[a, b], depth),
            Op::Or(a, b) => self.either(a, b, true, depth),
            Op::Xor(a, b) => self.all(&[a, b], depth),
            Op::Choose(c, a, b) => self.all(&[c, if self.track.value(c, self.moment) { a } else { b }], depth),
        };
        self.known.insert(e, found.clone());
        found
    }

    fn all(&mut self, of: &[Expr], depth: u32) -> Vec<Literal> {
        let mut found: Vec<Literal> = Vec::new();
        for &e in of {
            for literal in self.of(e, depth) {
                if !found.contains(&literal) {
                    found.push(literal);
                }
            }
        }
        found
    }

    /// Of two operands that force it alike, the one with fewer reasons.
    fn either(&mut self, a: Expr, b: Expr, forcing: bool, depth: u32) -> Vec<Literal> {
        let track = self.track;
        let forces = [a, b].into_iter().filter(|&x| track.value(x, self.moment) == forcing).collect::<Vec<_>>();
        let ways = forces.into_iter().map(|x| self.of(x, depth));
        ways.min_by_key(Vec::len).unwrap_or_default()
    }
}

/// Several words as a list in a sentence: `a, b and c`.
pub(super) fn list(words: &[String]) -> String {
    match words.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, before)) => format!("{} and {last}", before.join(", ")),
    }
}
