//! What is asked of the walk, and what it answers.
use std::time::Instant;

use gluewright::circuit::{Circuit, Label};

/// What the walk found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// Whatever the replacement shows, some run of the original shows; this many joint states were visited.
    Refines(usize),
    /// The shortest sequence that no run of the original shows has this many events.
    Differs(Sequence),
    /// The replacement does not always come to rest.
    Restless,
    /// A critical race decides: the rules leave it open.
    Race(&'static str),
    /// There is more to visit than was allowed, or no time left.
    TooLarge,
}

/// Levels at power-up and the changes that follow.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sequence {
    /// Every contact that is read.
    pub levels: Vec<(Label, bool)>,
    /// Changes, event by event.
    pub events: Vec<Vec<(Label, bool)>>,
}

/// Whether the board keeps to these levels, asked of contacts by label.
pub type Allowed = dyn Fn(&dyn Fn(&str) -> bool) -> bool;

/// Whether the board does an event: asked by the levels that it puts on the contacts before and after, and by what the
/// replacement shows before, where it drives.
pub type Does = dyn Fn(&dyn Fn(&str) -> bool, &dyn Fn(&str) -> bool, &dyn Fn(&str) -> Option<bool>) -> bool;

/// What is asked: two circuits, which levels the board keeps to, which contacts change together.
#[derive(Clone, Copy)]
pub struct Walk<'c> {
    /// The original.
    pub original: &'c Circuit,
    /// The replacement.
    pub replacement: &'c Circuit,
    /// Whether these levels can be.
    pub allowed: &'c Allowed,
    /// Whether the board does this event.
    pub does: &'c Does,
    /// Contacts that change at one moment.
    pub together: &'c [Vec<Label>],
    /// Contacts that the board moves although neither side reads them: an assumption names them.
    pub named: &'c [Label],
    /// Joint states to visit at most.
    pub most: usize,
    /// When it gives up.
    pub until: Option<Instant>,
}

impl std::fmt::Debug for Walk<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Walk").field("original", &self.original.name).finish_non_exhaustive()
    }
}
