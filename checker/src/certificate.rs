//! The certificate as it is written. Of it the checker takes the question, the relation and the invariants; what else it
//! says is compared with what the checker finds itself.
use serde::Deserialize;

use crate::model::Model;

/// The version that the checker reads.
pub const VERSION: u32 = 2;

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
    pub systems: Systems,
    /// The matching relation, if the proof is an induction.
    pub relation: Option<Relation>,
    /// The table of states, if the proof is a walk.
    pub walk: Option<Walk>,
    /// What the prover decided by itself, for its own convenience.
    #[serde(default)]
    pub parts: Vec<Part>,
    /// What the proof rests on beside the settled semantics, in words: the checker takes it on trust and says so.
    #[serde(default)]
    pub trusted: Vec<String>,
}

/// Contacts that the prover decided by themselves.
#[derive(Debug, Deserialize)]
pub struct Part {
    /// The contacts.
    pub contacts: Vec<String>,
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
    /// `either`, `up` or `down`.
    pub way: Way,
    /// When they may change so.
    pub only_while: Formula,
}

/// Which way a contact goes.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// Either way.
    Either,
    /// Low to high.
    Up,
    /// High to low.
    Down,
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
    And(Box<Formula>, Box<Formula>),
    /// At least one.
    Or(Box<Formula>, Box<Formula>),
    /// Exactly one.
    Xor(Box<Formula>, Box<Formula>),
}

impl Formula {
    /// The contacts that it reads.
    pub fn contacts<'f>(&'f self, into: &mut Vec<&'f String>) {
        match self {
            Formula::Constant(_) => {}
            Formula::High(label) => into.push(label),
            Formula::Not(a) => a.contacts(into),
            Formula::And(a, b) | Formula::Or(a, b) | Formula::Xor(a, b) => {
                [a, b].map(|f| f.contacts(into)).into_iter().collect()
            }
        }
    }
}

/// Both circuits.
#[derive(Debug, Deserialize)]
pub struct Systems {
    /// The original.
    pub original: Model,
    /// The replacement.
    pub replacement: Model,
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
            let like = if let Holds::Like(bit) = &start.holds { Some(bit.clone()) } else { None };
            std::iter::once(own).chain(like)
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
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq)]
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
    /// What the bits of a combination take together: one character a bit, in the same order; nothing if anything may be.
    #[serde(default)]
    pub points: Option<Vec<String>>,
}

/// A start of one bit of the original.
#[derive(Debug, Deserialize)]
pub struct Start {
    /// The bit.
    pub bit: String,
    /// What it holds.
    pub holds: Holds,
}

/// What a bit of the original starts with.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Holds {
    /// This level.
    Level(bool),
    /// What a bit of the replacement holds once that has come to rest.
    Like(Bit),
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
