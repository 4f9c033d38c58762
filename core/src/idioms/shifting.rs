//! Shift registers: what comes next.
use gluewright_kernel::signals::{Assertion, Condition, HasLevel, Level, Word, choose, given, quietly};

/// A shift register: what it holds, and what it would hold after the next edge. It keeps that while nothing else is said to
/// be true. Where two conditions are true at once, clear comes before load, load before up, up before down.
#[derive(Clone, Copy, Debug)]
#[must_use = "a shift register does nothing until its registers load `next()`"]
pub struct Shifting<const N: usize> {
    held: Word<N>,
    up: Option<(Assertion, Level)>,
    down: Option<(Assertion, Level)>,
    load: Option<(Assertion, Word<N>)>,
    clear: Assertion,
}

/// A shift register that holds these bits, the lowest first.
#[track_caller]
pub fn shift<T: HasLevel, const N: usize>(held: [T; N]) -> Shifting<N> {
    Shifting { held: Word::of(held), up: None, down: None, load: None, clear: Assertion::NEVER }
}

impl<const N: usize> Shifting<N> {
    /// While this is true each bit moves to the next place on the edge; `into` comes into place 0.
    #[track_caller]
    pub fn up_while(mut self, condition: impl Condition, into: Level) -> Self {
        self.up = Some((given(condition, 0), into));
        self
    }

    /// While this is true each bit moves to the place before on the edge; `into` comes into the last place.
    #[track_caller]
    pub fn down_while(mut self, condition: impl Condition, into: Level) -> Self {
        self.down = Some((given(condition, 0), into));
        self
    }

    /// While this is true all bits are loaded on the edge.
    #[track_caller]
    pub fn loaded_while(mut self, condition: impl Condition, bits: Word<N>) -> Self {
        self.load = Some((given(condition, 0), bits));
        self
    }

    /// While this is true all bits become low on the edge. Said twice, either is enough.
    #[track_caller]
    pub fn cleared_while(mut self, condition: impl Condition) -> Self {
        let condition = given(condition, 0);
        let _quiet = quietly();
        self.clear = self.clear | condition;
        self
    }

    /// What the registers load on the edge.
    #[track_caller]
    pub fn next(&self) -> Word<N> {
        let _quiet = quietly();
        let mut next = self.held;
        if let Some((down, into)) = self.down {
            next = choose(down, self.held.shifted_down(into), next);
        }
        if let Some((up, into)) = self.up {
            next = choose(up, self.held.shifted_up(into), next);
        }
        if let Some((load, bits)) = self.load {
            next = choose(load, bits, next);
        }
        choose(self.clear, Word::number(0), next)
    }
}
