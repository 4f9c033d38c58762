//! The form of a certificate, version 3: what is written, and nothing that works it out.
use serde::Serialize;

use crate::circuit::Circuit;
use crate::digest::sha256;
use crate::prove;

use super::systems;

pub(super) const VERSION: u32 = 3;

#[derive(Serialize)]
pub(super) struct Document<'d> {
    pub(super) format: &'static str,
    pub(super) version: u32,
    pub(super) gluewright: &'static str,
    pub(super) files: Vec<File<'d>>,
    /// The circuit that the source describes: the fit was made from it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) source: Option<Source>,
    pub(super) claim: Claim,
    pub(super) systems: Systems,
    pub(super) method: &'static str,
    /// Of all contacts at once, or of parts that have nothing in common but inputs.
    pub(super) proofs: Vec<Part>,
    /// What was proved by itself. Where there is one proof, it is of the whole all the same.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) parts: Vec<Decided>,
    pub(super) obligations: Vec<Obligation>,
    /// What the sheets leave open of the original, and the proof resolved in the replacement's favour, in words.
    pub(super) unknowns: &'d [String],
    /// Orders of changes that the proof follows and the phases do not have.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    pub(super) orders: &'d [String],
    /// What the proof rests on beside the settled semantics, in words.
    pub(super) trusted: Vec<String>,
}

#[derive(Serialize)]
pub(super) struct File<'d> {
    pub(super) role: &'d str,
    pub(super) name: &'d str,
    pub(super) sha256: String,
}

/// Contacts with their proof.
#[derive(Serialize)]
pub(super) struct Part {
    /// The labels.
    pub(super) contacts: Vec<String>,
    pub(super) relation: Option<Relation>,
    pub(super) walk: Option<Walk>,
}

/// How contacts that have nothing in common with others but inputs were decided.
#[derive(Serialize)]
pub(super) struct Decided {
    /// Label and name of each.
    pub(super) contacts: Vec<String>,
    /// `induction` or `walk`.
    pub(super) method: &'static str,
}

#[derive(Serialize)]
pub(super) struct Source {
    /// The file in which the circuit is written, by its contacts, if a contact has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    file: Option<String>,
    /// The digest of that file, if it can be read where the job runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    file_sha256: Option<String>,
    /// The digest of the circuit as it is written in a certificate.
    circuit_sha256: String,
}

impl Source {
    pub(super) fn of(circuit: &Circuit) -> Source {
        let origin = circuit.contacts().first().map(|c| &c.origin);
        let file = match origin {
            Some(crate::circuit::Origin::Line { file, .. }) => Some(file.to_string()),
            _ => None,
        };
        let circuit = serde_json::to_vec(&systems::written(circuit)).unwrap_or_default();
        Source {
            file_sha256: file.as_ref().and_then(|f| std::fs::read(f).ok()).map(|bytes| sha256(&bytes)),
            file,
            circuit_sha256: sha256(&circuit),
        }
    }
}

#[derive(Serialize)]
pub(super) struct Claim {
    pub(super) original: String,
    pub(super) replacement: String,
    pub(super) assumptions: Vec<Assumption>,
    pub(super) restrictions: Vec<Restriction>,
    pub(super) groups: Vec<Vec<String>>,
    /// Contacts of which only what they show before and after an event is compared.
    pub(super) settled_contacts: Vec<String>,
    /// Contacts that are not compared: what they depend on is not traced.
    pub(super) left_out: Vec<String>,
    pub(super) acknowledged: Vec<String>,
}

#[derive(Serialize)]
pub(super) struct Assumption {
    text: String,
    holds: Formula,
}

impl Assumption {
    pub(super) fn of(a: &prove::Assumption) -> Self {
        Assumption { text: a.text.clone(), holds: Formula::of(&a.holds) }
    }
}

#[derive(Serialize)]
pub(super) struct Restriction {
    text: String,
    contacts: Vec<String>,
    /// Whether it bears on them when they go high.
    up: bool,
    /// Whether it bears on them when they go low.
    down: bool,
    only_while: Formula,
}

impl Restriction {
    pub(super) fn of(r: &prove::Restriction) -> Self {
        Restriction {
            text: r.text.clone(),
            contacts: r.contacts.iter().map(ToString::to_string).collect(),
            up: r.way != prove::Way::Down,
            down: r.way != prove::Way::Up,
            only_while: Formula::of(&r.only_while),
        }
    }
}

#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
enum Formula {
    Constant(bool),
    High(String),
    Not(Box<Formula>),
    And(Box<Formula>, Box<Formula>),
    Or(Box<Formula>, Box<Formula>),
    Xor(Box<Formula>, Box<Formula>),
}

impl Formula {
    fn of(f: &prove::Formula) -> Formula {
        let of = |f: &prove::Formula| Box::new(Formula::of(f));
        match f {
            prove::Formula::Constant(v) => Formula::Constant(*v),
            prove::Formula::High(label) => Formula::High(label.to_string()),
            prove::Formula::Not(a) => Formula::Not(of(a)),
            prove::Formula::And(a, b) => Formula::And(of(a), of(b)),
            prove::Formula::Or(a, b) => Formula::Or(of(a), of(b)),
            prove::Formula::Xor(a, b) => Formula::Xor(of(a), of(b)),
        }
    }
}

#[derive(Serialize)]
pub(super) struct Systems {
    pub(super) original: System,
    pub(super) replacement: System,
}

/// A transition relation: expressions, nets with their drivers, registers and latches, contacts.
#[derive(Serialize)]
pub(super) struct System {
    pub(super) name: String,
    pub(super) expressions: Vec<Expression>,
    pub(super) nets: Vec<Net>,
    pub(super) elements: Vec<Element>,
    pub(super) contacts: Vec<Contact>,
}

/// An expression; operands by their place in the list, before what uses them.
#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Expression {
    Constant(bool),
    Net(usize),
    Q(usize),
    QInverted(usize),
    Not(usize),
    And(usize, usize),
    Or(usize, usize),
    Xor(usize, usize),
    Choose(usize, usize, usize),
}

#[derive(Serialize)]
pub(super) struct Net {
    pub(super) name: String,
    /// Where its resistor takes it: up is true.
    pub(super) pull: Option<bool>,
    pub(super) drivers: Vec<Driver>,
}

#[derive(Serialize)]
pub(super) struct Driver {
    pub(super) name: String,
    pub(super) enable: usize,
    pub(super) level: usize,
    pub(super) stage: &'static str,
}

#[derive(Serialize)]
pub(super) struct Element {
    pub(super) name: String,
    pub(super) kind: &'static str,
    /// The clock that rises or what holds while a latch is open, what it takes, clear, preset, and what holds before an edge
    /// on which nobody knows what is loaded.
    pub(super) inputs: [usize; 5],
    /// At power-up, if it is known.
    pub(super) start: Option<bool>,
}

#[derive(Serialize)]
pub(super) struct Contact {
    pub(super) label: String,
    pub(super) name: String,
    pub(super) net: usize,
}

#[derive(Serialize)]
pub(super) struct Relation {
    pub(super) classes: Vec<Class>,
    pub(super) combinations: Vec<Combinations>,
    /// Contacts that show the same at rest, by their labels.
    pub(super) alike: Vec<String>,
    /// Starts of the original for bits that no class ties to the replacement: whatever board and replacement begin with,
    /// one of them matches.
    pub(super) starts: Vec<Vec<Start>>,
}

#[derive(Clone, Serialize)]
pub(super) struct Bit {
    pub(super) side: &'static str,
    pub(super) bit: String,
    pub(super) inverted: bool,
}

#[derive(Serialize)]
pub(super) struct Class {
    pub(super) bits: Vec<Bit>,
    pub(super) constant: bool,
}

#[derive(Serialize)]
pub(super) struct Combinations {
    pub(super) bits: Vec<Bit>,
    pub(super) points: Vec<String>,
}

/// What a bit of the original begins with.
#[derive(Clone, Serialize)]
pub(super) struct Start {
    pub(super) bit: String,
    /// Bits of the replacement, once that has come to rest.
    pub(super) of: Vec<Bit>,
    /// What they hold together where the bit begins high: one character each; nothing for a bit that begins low.
    pub(super) high: Vec<String>,
}

/// Every place that a walk visited: the contacts' levels, the replacement's state, and the states in which the original
/// may be after having shown the same; one character a bit.
#[derive(Serialize)]
pub(super) struct Walk {
    pub(super) contacts: Vec<String>,
    /// The bits of a state, of the original and of the replacement: what is held, then what floats.
    pub(super) bits: [Vec<String>; 2],
    pub(super) places: Vec<(String, String, Vec<String>)>,
}

#[derive(Serialize)]
pub(super) struct Obligation {
    /// `settles`, `initial`, `step`, `rest`, `output`.
    pub(super) kind: &'static str,
    pub(super) event: String,
    pub(super) never: String,
}
