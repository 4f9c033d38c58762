//! A circuit collapsed to what a macrocell holds: one function for each register, latch and output.
mod collapse;
mod diagram;
mod error;
mod extend;
mod loops;
mod names;
#[cfg(test)]
mod tests;
mod wires;

use std::collections::BTreeSet;

pub use collapse::collapse;
pub use diagram::{Diagram, Diagrams, Product};
pub use error::LogicError;
pub(crate) use names::HELD;

use gluewright_kernel::circuit::{ContactId, ElementId, Label, NetId, Origin, Polarity, Pull, Stage, Start};

/// Something that a function reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Signal {
    /// The level on a wire: a contact's, or a node that is kept.
    Wire(NetId),
    /// What a register or latch holds.
    Held(ElementId),
    /// A node that was added to make the circuit fit, by its own variable.
    Added(usize),
}

/// A circuit as macrocells hold it. Functions are over [`Logic::signals`]: variable *k* is `signals[k]`.
///
/// Plain nodes are dissolved into what reads them, except those that were to be kept and those that close a loop.
/// Registers and latches that reach no contact are left out and named in [`Logic::unread`].
#[derive(Clone, Debug)]
pub struct Logic {
    /// The circuit's name.
    pub name: String,
    /// Where the functions live.
    pub diagrams: Diagrams,
    /// The variables of the functions.
    pub signals: Vec<SignalInfo>,
    /// Contacts that functions read and the circuit does not drive.
    pub inputs: Vec<Input>,
    /// Contacts that the circuit drives.
    pub outputs: Vec<Output>,
    /// Registers.
    pub registers: Vec<Register>,
    /// Latches.
    pub latches: Vec<Latch>,
    /// Plain nodes that are kept.
    pub nodes: Vec<Node>,
    /// Contacts that nothing reads and nothing drives.
    pub idle: Vec<(Label, String)>,
    /// Names of registers and latches that no contact depends on.
    pub unread: Vec<String>,
    /// Variables that may change in one settling step for reasons outside the circuit.
    pub together: Vec<Vec<usize>>,
}

/// A variable of the functions, with its name for messages.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignalInfo {
    /// What is read.
    pub signal: Signal,
    /// Its name.
    pub name: String,
    /// What a person takes it for, if that has another name.
    pub stands_for: Option<StandsFor>,
    /// Its contact, if it is a contact's wire.
    pub label: Option<Label>,
    /// What it carries.
    pub polarity: Polarity,
}

/// What a variable stands for under a name of its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StandsFor {
    /// The value that the output of this name reads back.
    ReadBack(String),
    /// The bit of this name, which is held in one macrocell and shown through another.
    Held(String),
}

/// A contact that is only read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Input {
    /// The contact.
    pub contact: ContactId,
    /// What is printed beside it.
    pub label: Label,
    /// The signal's name.
    pub name: String,
    /// The variable that stands for it.
    pub variable: usize,
    /// Where it was written.
    pub origin: Origin,
}

/// A contact that the circuit drives.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Output {
    /// The contact.
    pub contact: ContactId,
    /// The net behind it.
    pub net: NetId,
    /// What is printed beside it.
    pub label: Label,
    /// The signal's name.
    pub name: String,
    /// What it carries.
    pub polarity: Polarity,
    /// The stage behind it.
    pub stage: Stage,
    /// The level while it drives.
    pub level: Diagram,
    /// Drives while true.
    pub enable: Diagram,
    /// The variable whose value the level is, and whether it is the complement.
    pub shows: Option<(usize, bool)>,
    /// The variable that reads the wire back, if some function does.
    pub read_as: Option<usize>,
    /// A resistor that the circuit wants on the wire. No device holds it.
    pub pull: Pull,
    /// Where it was written.
    pub origin: Origin,
}

/// A register.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Register {
    /// The element.
    pub element: ElementId,
    /// Its name.
    pub name: String,
    /// The variable that reads it.
    pub variable: usize,
    /// Its rise is the active edge.
    pub clock: Diagram,
    /// What is loaded.
    pub data: Diagram,
    /// Low at once while true.
    pub clear: Diagram,
    /// High at once while true.
    pub preset: Diagram,
    /// What it holds at power-up.
    pub start: Start,
    /// Where it was written.
    pub origin: Origin,
}

/// A latch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Latch {
    /// The element.
    pub element: ElementId,
    /// Its name.
    pub name: String,
    /// The variable that reads it.
    pub variable: usize,
    /// Transparent while true.
    pub open: Diagram,
    /// What is followed.
    pub data: Diagram,
    /// Low at once while true.
    pub clear: Diagram,
    /// High at once while true.
    pub preset: Diagram,
    /// What it holds at power-up.
    pub start: Start,
    /// The whole of it as one function that reads its own value, for a macrocell without a latch of its own.
    pub follow: Diagram,
    /// Where it was written.
    pub origin: Origin,
}

/// A plain node that is kept: it has no contact, its level is a function.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Node {
    /// The net; a node that the fit added has none.
    pub net: Option<NetId>,
    /// Its name.
    pub name: String,
    /// The variable that reads it.
    pub variable: usize,
    /// Its level.
    pub level: Diagram,
    /// Where it was written.
    pub origin: Origin,
}

impl Logic {
    /// The variables that change with another within one settling step because their wires or latches depend on it.
    pub fn follow_up(&self, variable: usize) -> BTreeSet<usize> {
        let mut moved = BTreeSet::from([variable]);
        loop {
            let before = moved.len();
            for (v, function) in self.settled() {
                if !moved.contains(&v) && self.diagrams.support(function).iter().any(|s| moved.contains(s)) {
                    moved.insert(v);
                }
            }
            if moved.len() == before {
                return moved;
            }
        }
    }

    /// Whether a wire or latch depends on its own value without a clock in between: a loop of product terms.
    pub fn closes_loop(&self, variable: usize) -> bool {
        let own: Vec<Diagram> = self.settled().filter(|(v, _)| *v == variable).map(|(_, f)| f).collect();
        let moved = self.follow_up(variable);
        own.iter().any(|f| self.diagrams.support(*f).iter().any(|s| moved.contains(s)))
    }

    /// The variables that follow others without a clock, each with functions that move it.
    fn settled(&self) -> impl Iterator<Item = (usize, Diagram)> {
        let latches = self.latches.iter().map(|l| (l.variable, l.follow));
        let nodes = self.nodes.iter().map(|n| (n.variable, n.level));
        let wires = self.outputs.iter().filter_map(|o| o.read_as.map(|v| [(v, o.level), (v, o.enable)])).flatten();
        latches.chain(nodes).chain(wires)
    }
}
