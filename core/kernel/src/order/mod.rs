//! Order in time: what one kind of event can move, in what order by causality alone, and where that leaves open what an
//! element does; then what typical delays decide of that. No solver in here; the guide's page on time says what the words mean.
mod dependencies;
mod fading;
mod followed;
mod glitch;
mod levels;
mod loop_races;
mod moving;
mod opened;
mod stages;
mod typical;
mod waves;

use std::sync::Arc;

use serde::Serialize;

use crate::circuit::{Circuit, ElementId, NetId};

pub(crate) use dependencies::{Signal, Ways};
pub(crate) use followed::Followed;
pub(crate) use moving::Moving;
pub use opened::Outcome;
pub(crate) use opened::{Kind, Opened};
pub use typical::Typically;
pub(crate) use waves::Waves;

/// What is in doubt.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Site {
    /// A register or latch.
    Element(ElementId),
    /// Gates that feed back on themselves, by one of their nets.
    Loop(NetId),
}

/// The input that may pulse.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// The clock of a register.
    Clock,
    /// What opens a latch.
    Gate,
    /// The clear.
    Clear,
    /// The preset.
    Preset,
}

impl std::fmt::Display for Role {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Role::Clock => "clock",
            Role::Gate => "gate",
            Role::Clear => "clear",
            Role::Preset => "preset",
        })
    }
}

/// Which rule leaves it open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// Data against the clock's active edge, or against the closing of a latch.
    Race,
    /// The release of a clear or preset against the clock's edge.
    Recovery,
    /// The release of clear and preset against each other.
    JointRelease,
    /// A clock, gate, clear or preset that may change more often than its settled levels do.
    Pulse(Role),
    /// Gates that feed back on themselves, whose inputs may change one after the other or pulse.
    Loop,
}

/// Something that the order of changes leaves open in one kind of event.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Doubt {
    /// What is in doubt.
    pub site: Site,
    /// Why.
    pub rule: Rule,
    /// The way of what is first to last, signal by signal: to the clock or what pulses.
    pub(crate) first: Vec<Signal>,
    /// The way of what races it, if anything does.
    pub(crate) second: Vec<Signal>,
    /// All data that are not certain to come after the clock.
    pub(super) open: Vec<Signal>,
}

impl Doubt {
    /// The name of the register, the latch or the net.
    pub fn name<'c>(&self, circuit: &'c Circuit) -> &'c str {
        match self.site {
            Site::Element(e) => circuit.elements().get(e.index()).map_or("?", |e| &e.name),
            Site::Loop(n) => circuit.nets().get(n.index()).map_or("?", |n| &n.name),
        }
    }
}

/// What the phases of the machine take for granted and causality does not: one list for each kind of event, which is
/// given by the contacts that change, by position. An event without doubts settles as the machine says, whatever the
/// delays.
pub fn doubts(circuit: &Circuit, events: &[Vec<usize>]) -> Vec<Vec<Doubt>> {
    let ways = Arc::new(Ways::new(circuit));
    events.iter().map(|contacts| Moving::of(&ways, contacts).doubts()).collect()
}
