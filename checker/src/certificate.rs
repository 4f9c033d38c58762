//! The certificate as it is written. Of it the checker takes the question, the relation and the invariants; what else it
//! says is compared with what the checker finds itself.
use std::collections::HashMap;

use serde::Deserialize;

use crate::graph::{Graph, Lit};
use crate::model::Model;

/// The version that the checker reads.
pub const VERSION: u32 = 3;

/// A certificate.
#[derive(Debug, Deserialize)]
pub struct Certificate {
    /// `gluewright certificate`.
    pub format: String,
    /// The version of its form.
    pub version: u32,
    /// The files that it speaks of.
    pub files: Vec<File>,
    /// What is claimed.
    pub claim: Claim,
    /// Both circuits, as the prover built them.
    pub systems: HashMap<Side, Model>,
    /// What was proved, of all contacts at once or of parts that have nothing in common but inputs.
    pub proofs: Vec<Part>,
    /// What the proof rests on beside the settled semantics, in words: the checker takes it on trust and says so.
    #[serde(default)]
    pub trusted: Vec<String>,
    /// Orders of changes that the proof follows and the phases do not have, in words.
    pub orders: Option<Vec<String>>,
}

/// Contacts with their proof.
#[derive(Debug, Default, Deserialize)]
pub struct Part {
    /// The labels of the contacts.
    pub contacts: Vec<String>,
    /// The matching relation, if the proof is an induction.
    pub relation: Option<Relation>,
    /// The table of states, if it is a walk.
    pub walk: Option<Walk>,
}

/// A file with its digest.
#[derive(Debug, Deserialize)]
pub struct File {
    /// `trace`, `wiring`, `parts`, `fuses` or another word; nothing in the list of a bundle.
    #[serde(default)]
    pub role: String,
    /// Its name in the folder.
    pub name: String,
    /// SHA-256, in hexadecimal digits.
    pub sha256: String,
}

/// What is claimed.
#[derive(Debug, Deserialize)]
pub struct Claim {
    /// What holds at every moment, by the user's word.
    pub assumptions: Vec<Assumption>,
    /// What the board does not do in one event.
    pub restrictions: Vec<Restriction>,
    /// Contacts that change together.
    pub groups: Vec<Vec<String>>,
    /// Contacts of which only settled levels are compared.
    pub settled_contacts: Vec<String>,
    /// Contacts that are not compared at all.
    pub left_out: Vec<String>,
    /// What the user has acknowledged.
    pub acknowledged: Vec<String>,
}

/// An assumption.
#[derive(Debug, Deserialize)]
pub struct Assumption {
    /// In words.
    pub text: String,
    /// What holds.
    pub holds: Formula,
}

/// A restriction.
#[derive(Debug, Deserialize)]
pub struct Restriction {
    /// In words.
    pub text: String,
    /// The contacts that it bears on.
    pub contacts: Vec<String>,
    /// Whether it bears on them when they go high.
    pub up: bool,
    /// Whether it bears on them when they go low.
    pub down: bool,
    /// When they may change so.
    pub only_while: Formula,
}

/// A condition over levels at contacts.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Formula {
    /// Always this.
    Constant(bool),
    /// The contact is high.
    High(String),
    /// Not.
    Not(Box<Formula>),
    /// Both.
    And(Box<[Formula; 2]>),
    /// At least one.
    Or(Box<[Formula; 2]>),
    /// Exactly one.
    Xor(Box<[Formula; 2]>),
}

impl Formula {
    /// When it is true, if this is when the contacts are high.
    pub fn of(&self, g: &mut Graph, high: &mut dyn FnMut(&str) -> Lit) -> Lit {
        match self {
            Formula::Constant(always) => Lit::from(*always),
            Formula::High(label) => high(label),
            Formula::Not(a) => !a.of(g, high),
            Formula::And(both) | Formula::Or(both) | Formula::Xor(both) => {
                let [a, b] = both.each_ref().map(|f| f.of(g, high));
                match self {
                    Formula::And(_) => g.and(a, b),
                    Formula::Or(_) => g.or(a, b),
                    _ => g.xor(a, b),
                }
            }
        }
    }

    /// The contacts that it reads.
    pub fn contacts(&self) -> Vec<String> {
        let mut all = Vec::new();
        self.of(&mut Graph::default(), &mut |label| {
            all.push(label.to_owned());
            Lit::FALSE
        });
        all
    }
}

/// The relation between the states of the two sides.
#[derive(Debug, Deserialize)]
pub struct Relation {
    /// Bits that are equal or opposite.
    pub classes: Vec<Group>,
    /// Bits that take certain combinations only.
    pub combinations: Vec<Group>,
    /// Contacts that show the same at rest.
    pub alike: Vec<String>,
    /// How the original may start bits that no class ties to the replacement: one of these is to match, whatever the board
    /// and the replacement start with.
    pub starts: Vec<Vec<Start>>,
}

impl Relation {
    /// All bits that it names.
    pub fn bits(&self) -> impl Iterator<Item = Bit> + '_ {
        let told = self.starts.iter().flatten().flat_map(|start| {
            let own = Bit { side: Side::Original, bit: start.bit.clone(), inverted: false };
            start.of.iter().cloned().chain([own])
        });
        self.classes.iter().chain(&self.combinations).flat_map(|c| &c.bits).cloned().chain(told)
    }
}

/// A bit of one side, and whether it is opposite to the value of its class.
#[derive(Clone, Debug, Deserialize)]
pub struct Bit {
    /// `original` or `replacement`.
    pub side: Side,
    /// The register, latch or net.
    pub bit: String,
    /// Opposite.
    pub inverted: bool,
}

impl std::fmt::Display for Bit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}`{}` of the {}", if self.inverted { "¬" } else { "" }, self.bit, SIDES[self.side as usize])
    }
}

/// What the sides are called.
pub const SIDES: [&str; 2] = ["original", "replacement"];

/// The levels that a text of zeros and ones stands for.
pub fn levels(text: &str) -> Vec<bool> {
    text.chars().map(|c| c == '1').collect()
}

/// Which side.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq, Hash)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The original.
    Original,
    /// The replacement.
    Replacement,
}

/// Bits of a class, always equal or opposite; or bits that take certain combinations only.
#[derive(Debug, Default, Deserialize)]
pub struct Group {
    /// The bits.
    pub bits: Vec<Bit>,
    /// A class's value is low.
    #[serde(default)]
    pub constant: bool,
    /// What the bits of a combination take together: one character a bit, in the same order.
    #[serde(default)]
    pub points: Vec<String>,
}

/// What a bit of the original starts with.
#[derive(Debug, Deserialize)]
pub struct Start {
    /// The bit.
    pub bit: String,
    /// Bits of the replacement, once that has come to rest.
    pub of: Vec<Bit>,
    /// What they hold together where the bit is high: one character each; nothing for a bit that is always low.
    pub high: Vec<String>,
}

/// The table of a walk.
#[derive(Debug, Deserialize)]
pub struct Walk {
    /// The contacts whose levels make a place, in order.
    pub contacts: Vec<String>,
    /// The bits of a state of each side, in order.
    pub bits: [Vec<String>; 2],
    /// Places: levels, the replacement's state, the states in which the original may be; one character a bit.
    pub places: Vec<(String, String, Vec<String>)>,
}
