//! Hazards: what may shake for a moment though it stands still before and after, on the fitted device by its product
//! terms as they are, and on the original by its gates.
//!
//! One settling step is looked at a time: a contact changes, or registers load or are cleared together, and everything
//! that follows from it may change at its own moment. What changes is taken as neither low nor high; a term or gate says
//! then what is certain whatever the order (E. B. Eichelberger, "Hazard detection in combinational and sequential
//! switching circuits", IBM Journal 1965, from memory). Where a level isn't certain although the function keeps it at
//! every point between, the cover is at fault: a *logic hazard*. Where the function itself leaves the level at some point
//! between, no cover can help: a *function hazard*, and the delays decide.
//!
//! A clock whose level is to change, and may do so twice (a dynamic hazard), can't be seen in this way.
mod device;
mod original;
mod step;
mod ternary;
#[cfg(test)]
mod tests;
mod text;

pub use device::{of_device, of_fuses};
pub use original::of_original;

/// What a level that may shake is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// A latch, or a loop that holds a level.
    Latch,
    /// A clock or latch gate made of logic.
    Clock,
    /// A clear or preset.
    AtOnce,
    /// The condition that turns a driver on, an open collector's included.
    Enable,
    /// A level at a pin or node that holds nothing.
    Level,
}

/// Whose fault a hazard is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// The terms': one more would cure it.
    Logic,
    /// The function's: the delays decide.
    Function,
}

/// What begins the step.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// A contact changes.
    Contact(String),
    /// Registers load together: the first of them.
    Load(String),
    /// Registers are cleared or preset together: the first of them.
    Reset(String),
}

/// How many parts or macrocells lie on two ways of a step: the fewest and the most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Margin {
    /// To the gate that closes.
    pub closes: (usize, usize),
    /// To the data that moves.
    pub moves: (usize, usize),
}

/// Something that may shake.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Hazard {
    /// The signals that it befalls alike.
    pub signals: Vec<String>,
    /// What they are.
    pub role: Role,
    /// Whose fault it is.
    pub kind: Kind,
    /// What begins the step.
    pub cause: Cause,
    /// What moves in the step beside the cause and is read here.
    pub moving: Vec<String>,
    /// For a latch whose gate closes while its data moves, what decides it.
    pub margin: Option<Margin>,
    /// Whether it is on the device (else on the original).
    pub on_device: bool,
}

/// Everything that was found.
#[derive(Clone, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Hazards {
    /// The hazards, each once for signals that it befalls alike.
    pub list: Vec<Hazard>,
    /// What wasn't looked at, and why, in words.
    pub left_out: Vec<String>,
}

impl Hazards {
    /// The logic hazards.
    pub fn logic(&self) -> impl Iterator<Item = &Hazard> {
        self.list.iter().filter(|h| h.kind == Kind::Logic)
    }

    /// Adds a hazard, beside others of the same kind if there are any.
    fn add(&mut self, hazard: Hazard) {
        let alike = |h: &&mut Hazard| {
            (h.role, h.kind, &h.cause, h.margin) == (hazard.role, hazard.kind, &hazard.cause, hazard.margin)
        };
        match self.list.iter_mut().find(alike) {
            Some(known) => {
                known.signals.extend(hazard.signals);
                known.signals.dedup();
                for name in hazard.moving {
                    if !known.moving.contains(&name) {
                        known.moving.push(name);
                    }
                }
            }
            None => self.list.push(hazard),
        }
    }
}
