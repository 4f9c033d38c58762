//! How far a proof has got, for whoever wants to show it.
use std::sync::Arc;

/// What a proof is at.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Step {
    /// Guessing which bits correspond, and proving it by induction.
    Matching {
        /// The how-manieth time, with more rounds for settling each time.
        attempt: usize,
    },
    /// Deciding one of several parts that have nothing in common but inputs.
    Part {
        /// Which one, from 1 on.
        number: usize,
        /// Of how many.
        of: usize,
        /// The contacts that it covers.
        contacts: String,
    },
    /// Walking over all states.
    Walking {
        /// Runs of one event, at most.
        runs: usize,
    },
    /// Searching for a refutation.
    Searching {
        /// Of this many events.
        events: usize,
        /// And at most this many.
        deepest: usize,
    },
}

impl std::fmt::Display for Step {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Step::Matching { attempt } => write!(f, "matching the bits of the two circuits, attempt {attempt}"),
            Step::Part { number, of, contacts } => write!(f, "part {number} of {of}: {contacts}"),
            Step::Walking { runs } => write!(f, "walking over all states, at most {runs} runs of one event"),
            Step::Searching { events, deepest } => {
                write!(f, "searching for a refutation of {events} events, at most {deepest}")
            }
        }
    }
}

type Tell = Arc<dyn Fn(&Step) + Send + Sync>;

/// Somebody who is told, or nobody.
#[derive(Clone, Default)]
pub(super) struct Watcher(Option<Tell>);

impl Watcher {
    pub(super) fn new(tell: impl Fn(&Step) + Send + Sync + 'static) -> Self {
        Watcher(Some(Arc::new(tell)))
    }

    pub(super) fn tell(&self, step: &Step) {
        if let Some(tell) = &self.0 {
            tell(step);
        }
    }
}

impl std::fmt::Debug for Watcher {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(if self.0.is_some() { "Watcher(somebody)" } else { "Watcher(nobody)" })
    }
}
