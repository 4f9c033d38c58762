//! Elements that hold a bit: registers and latches.
use super::{Expr, Origin};

/// A register or a latch of one [`Circuit`](super::Circuit).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ElementId(pub(crate) u32);

impl ElementId {
    /// The handle of what stands at this position. A circuit that has fewer registers and latches has nothing there.
    pub fn at(index: usize) -> Self {
        ElementId(u32::try_from(index).unwrap_or(u32::MAX))
    }

    /// Position in [`Circuit::elements`](super::Circuit::elements).
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// What an element holds when power comes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Start {
    /// Nobody knows: TTL, or a replacement for which nothing is declared.
    #[default]
    Any,
    /// Low.
    Low,
    /// High.
    High,
}

impl Start {
    /// The level, if it is known.
    pub fn level(self) -> Option<bool> {
        match self {
            Start::Any => None,
            Start::Low => Some(false),
            Start::High => Some(true),
        }
    }
}

/// How an element takes up its next bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Loads `data` when `clock` goes from low to high.
    Register {
        /// The expression whose rise is the active edge.
        clock: Expr,
        /// What is loaded: its level before the edge.
        data: Expr,
    },
    /// Follows `data` while `open`, holds while not.
    Latch {
        /// Transparent while true.
        open: Expr,
        /// What is followed.
        data: Expr,
    },
}

/// A register or a latch.
///
/// While `clear` and `preset` are both asserted, Q and its complement both read high (function tables of the 74LS74,
/// 74LS109, 74LS112: Motorola, FAST AND LS TTL DATA; Fairchild DS006368); what it holds when both are released
/// together is unknown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Element {
    /// Name, unique in its circuit.
    pub name: String,
    /// Register or latch, with what feeds it.
    pub kind: Kind,
    /// Low at once while true, whatever the clock does.
    pub clear: Expr,
    /// High at once while true, whatever the clock does.
    pub preset: Expr,
    /// While this is true before an edge, nobody knows what the register loads: its data sheet leaves it open, and its
    /// data are what it usually loads. It means nothing for a latch.
    pub unknown_load: Expr,
    /// What it holds at power-up.
    pub start: Start,
    /// Where it was written.
    pub origin: Origin,
}

impl Element {
    /// The clock of a register, or what keeps a latch open.
    pub fn gate(&self) -> Expr {
        let (Kind::Register { clock: gate, .. } | Kind::Latch { open: gate, .. }) = self.kind;
        gate
    }

    /// What it takes up.
    pub fn data(&self) -> Expr {
        let (Kind::Register { data, .. } | Kind::Latch { data, .. }) = self.kind;
        data
    }

    /// Whether it is a register.
    pub fn is_register(&self) -> bool {
        matches!(self.kind, Kind::Register { .. })
    }

    /// Everything that it reads: clock or gate, data, clear, preset, when its load is unknown.
    pub fn inputs(&self) -> [Expr; 5] {
        [self.gate(), self.data(), self.clear, self.preset, self.unknown_load]
    }

    /// The same over other expressions.
    #[must_use]
    pub fn over(&self, mut at: impl FnMut(Expr) -> Expr) -> Element {
        let kind = match self.kind {
            Kind::Register { clock, data } => Kind::Register { clock: at(clock), data: at(data) },
            Kind::Latch { open, data } => Kind::Latch { open: at(open), data: at(data) },
        };
        let (clear, preset, unknown_load) = (at(self.clear), at(self.preset), at(self.unknown_load));
        Element {
            name: self.name.clone(),
            kind,
            clear,
            preset,
            unknown_load,
            start: self.start,
            origin: self.origin.clone(),
        }
    }
}
