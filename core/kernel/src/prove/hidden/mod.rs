//! What settling hides. A pulse former or an edge detector made of gate delays is constant once everything has come to rest;
//! a chain of gates that delays an edge or stretches a pulse adds nothing to the level that it is combined with. A proof
//! over settled levels would erase both.
mod constant;
mod late;
mod pins;
mod reach;

pub(super) use constant::constants;
pub(super) use late::late;

use super::acknowledge::{Kind as Named, is_among};

/// Which circuit of a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Of {
    /// The traced one.
    Original,
    /// The one that was written.
    Replacement,
}

impl std::fmt::Display for Of {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Of::Original => "original",
            Of::Replacement => "replacement",
        })
    }
}

/// What a proof over settled levels can't see.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Why {
    /// The net has this level whenever everything is at rest, although its inputs change: a pulse on it is not seen.
    Constant(bool),
    /// The net meets a level in a gate to which it adds nothing once everything is at rest, and it comes there later: a
    /// delay or a pulse that is made so is not seen.
    Late {
        /// What it meets, by name.
        beside: String,
    },
    /// Data, clear or preset of this register can change together with its clock: what it does then is not known.
    Race,
}

/// Something that settling hides, by the name with which it is acknowledged.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hidden {
    /// Which circuit it is in.
    pub of: Of,
    /// The net's name, or the register's.
    pub name: String,
    /// What acknowledges it: the name, after `net` or `register` if a contact bears the same.
    pub call: String,
    /// Other names of the same net.
    pub others: Vec<String>,
    /// What is hidden.
    pub why: Why,
    /// What it reaches: clocks, clears and presets, latch gates, drive conditions, contacts.
    pub reaches: Vec<String>,
}

impl Hidden {
    /// Whether one of these names acknowledges it.
    pub(super) fn is_among(&self, names: &[String]) -> bool {
        std::iter::once(&self.name).chain(&self.others).any(|n| is_among(names, self.kind(), n))
    }

    /// What bears the name.
    pub(super) fn kind(&self) -> Named {
        match self.why {
            Why::Constant(_) | Why::Late { .. } => Named::Net,
            Why::Race => Named::Register,
        }
    }
}

impl std::fmt::Display for Hidden {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.why {
            Why::Constant(high) => write!(
                f,
                "net `{}` of the {} is always {} once settled, although what drives it changes; it reaches {}",
                self.name,
                self.of,
                if *high { "high" } else { "low" },
                self.reaches.join(", ")
            ),
            Why::Late { beside } => write!(
                f,
                "net `{}` of the {} meets {beside} in a gate, later by a gate or more, and adds nothing to it once \
                 settled: a delay or a pulse made so is not seen; it reaches {}",
                self.name,
                self.of,
                self.reaches.join(", ")
            ),
            Why::Race => write!(
                f,
                "data, clear or preset of `{}` of the {} can change in the same moment as its clock",
                self.name, self.of
            ),
        }
    }
}
