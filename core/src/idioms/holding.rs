//! Latches of product terms: a net that reads itself.
use gluewright_kernel::signals::{Assertion, Condition, Level, given, high_while, quietly};

/// A set-reset latch, set first: true while `set`, and from then on until `reset` alone. `held` is the latch's own condition:
/// `held: assert_while(set_wins(set, reset, self.held.asserted()))`. Two contacts of a switch that bounces are set and reset.
///
/// Its two terms need no third: while either input moves alone, one term stays true.
#[track_caller]
pub fn set_wins(set: impl Condition, reset: impl Condition, held: impl Condition) -> Assertion {
    let (set, reset, held) = (given(set, 0), given(reset, 1), given(held, 2));
    let _quiet = quietly();
    set | (held & !reset)
}

/// A set-reset latch, reset first: not true while `reset`, true from `set` alone on.
///
/// Its two terms hold one by one, as those of [`set_wins`] do.
#[track_caller]
pub fn reset_wins(set: impl Condition, reset: impl Condition, held: impl Condition) -> Assertion {
    let (set, reset, held) = (given(set, 0), given(reset, 1), given(held, 2));
    let _quiet = quietly();
    (set & !reset) | (held & !reset)
}

/// A transparent latch: follows `data` while `open`, and keeps what it holds while not. Its third term, `data` and `held`,
/// adds nothing to the function: it is the consensus of the other two, and keeps the latch high while `open` changes and
/// both gates may be off for a moment (Eichelberger, Hazard Detection in Combinational and Sequential Switching Circuits,
/// IBM J. Res. Dev. 9, 1965, from memory).
///
/// `open_while(open).follow(data)` on a [`Latch`](crate::Latch) does the same, and the fit adds the term; this is for a
/// [`Node`](crate::Node) that is part of something larger.
#[track_caller]
pub fn follow_while(open: impl Condition, data: Level, held: Level) -> Level {
    let open = given(open, 0);
    let _quiet = quietly();
    let (data, held) = (data.is_high(), held.is_high());
    high_while((open & data) | (!open & held) | (data & held))
}
