//! Counters: what comes next, and whether the count is at its end.
use gluewright_kernel::signals::{Assertion, Condition, HasLevel, Word, choose, given, high_while, number, quietly};

/// A counter: what it holds, and what it would hold after the next edge. What is said last comes first: a counter that is
/// told to load and to clear clears, whichever of the two is written first.
#[derive(Clone, Copy, Debug)]
#[must_use = "a counter does nothing until its registers load `next()`"]
pub struct Counting<const N: usize> {
    count: Word<N>,
    up: Assertion,
    last: Option<u64>,
    /// What comes next, up and down, if not the next number.
    steps: Option<[Word<N>; 2]>,
    enabled: Assertion,
    load: Option<(Assertion, Word<N>)>,
    clear: Assertion,
}

/// A counter that goes up on each edge; after the largest number comes 0.
#[track_caller]
pub fn count_up<T: HasLevel, const N: usize>(count: [T; N]) -> Counting<N> {
    count_up_or_down(count, Assertion::ALWAYS)
}

/// A counter that goes down on each edge; after 0 comes the largest number.
#[track_caller]
pub fn count_down<T: HasLevel, const N: usize>(count: [T; N]) -> Counting<N> {
    count_up_or_down(count, Assertion::NEVER)
}

/// A counter that goes up on each edge while the condition is true, and down while it is not.
#[track_caller]
pub fn count_up_or_down<T: HasLevel, const N: usize>(count: [T; N], up: impl Condition) -> Counting<N> {
    Counting {
        count: Word::of(count),
        up: given(up, 0),
        last: None,
        steps: None,
        enabled: Assertion::ALWAYS,
        load: None,
        clear: Assertion::NEVER,
    }
}

impl<const N: usize> Counting<N> {
    /// It counts only while this is true, and keeps its number while not. Said twice, both must be true.
    #[track_caller]
    pub fn enabled_while(mut self, condition: impl Condition) -> Self {
        let condition = given(condition, 0);
        let _quiet = quietly();
        self.enabled = self.enabled & condition;
        self
    }

    /// It takes this number on the edge while the condition is true, enabled or not.
    #[track_caller]
    pub fn loaded_while(mut self, condition: impl Condition, number: Word<N>) -> Self {
        self.load = Some((given(condition, 0), number));
        self
    }

    /// It takes 0 on the edge while this is true, whatever else is. (A clear that doesn't wait for the edge is
    /// `clear_while` behind the register's `load`.) Said twice, either is enough.
    #[track_caller]
    pub fn cleared_while(mut self, condition: impl Condition) -> Self {
        let condition = given(condition, 0);
        let _quiet = quietly();
        self.clear = self.clear | condition;
        self
    }

    /// The largest number: 9 for a decade. After it comes 0, and before 0 comes it. Larger numbers, with which a counter
    /// can come up or be loaded, go on as binary ones do. A number that doesn't fit is a mistake, which the build reports.
    #[track_caller]
    pub fn through(mut self, last: u64) -> Self {
        self.last = Some(number(last, N));
        self
    }

    /// True while the count is at its end: at the largest number while it goes up, at 0 while it goes down. A carry is this
    /// and whatever the original joins to it: `ent.asserted() & counter.is_at_its_end()`.
    #[track_caller]
    pub fn is_at_its_end(&self) -> Assertion {
        let quiet = quietly();
        let at_its_end = choose(self.up, self.is_last(), self.count.is(0));
        drop(quiet);
        given(at_its_end, 0)
    }

    /// What the registers load on the edge.
    #[track_caller]
    pub fn next(&self) -> Word<N> {
        let _quiet = quietly();
        let zero = Word::number(0);
        let (mut up, mut down) = (self.count.plus_one(), self.count.minus_one());
        if let Some(last) = self.last {
            up = choose(self.is_last(), zero, up);
            down = choose(self.count.is(0), Word::number(last), down);
        }
        if let Some(steps) = self.steps {
            [up, down] = steps;
        }
        let mut next = choose(self.enabled, choose(self.up, up, down), self.count);
        if let Some((load, number)) = self.load {
            next = choose(load, number, next);
        }
        choose(self.clear, zero, next)
    }

    #[track_caller]
    fn is_last(&self) -> Assertion {
        match self.last {
            Some(last) => self.count.is(last),
            None => (!self.count).is(0),
        }
    }
}

impl Counting<4> {
    /// The decade of a TTL counter: after 9 comes 0, before 0 comes 9, and 10 to 15, with which it can come up or be loaded, go
    /// on as in its flip-flops: up 10, 11, 6; 12, 13, 4; 14, 15, 2 (Motorola's state diagram of the LS160A and LS192, from
    /// memory); down by one (the flip-flops of the 74190 and 74192, from memory).
    #[track_caller]
    pub fn in_decades(mut self) -> Self {
        let _quiet = quietly();
        let [a, b, c, d] = self.count.bits().map(|bit| bit.is_high());
        let up = [Assertion::ALWAYS, a & !d, a & b, a & (d | (b & c))];
        let down = [Assertion::ALWAYS, !a & (b | c | d), !a & !b & (c | d), !a & !b & !c];
        let toggled = |by: [Assertion; 4]| Word::from_fn(|i| high_while(self.count[i].is_high() ^ by[i]));
        self.steps = Some([toggled(up), toggled(down)]);
        self.through(9)
    }
}
