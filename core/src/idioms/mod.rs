//! Idioms: what nearly every card needs, as functions over conditions, levels and words. Each is proved against the TTL type
//! that does the same, in the tests of `gluewright-parts`.
//!
//! They make conditions and words, not elements: what is clocked, cleared and driven stands in the wiring, as always. The
//! guide's page [`words`](crate::guide::idioms) shows each of them in a card.
//!
//! | for | word | proved against |
//! |---|---|---|
//! | a counter | [`count_up`], [`count_down`], [`count_up_or_down`] | 74LS161, 74LS163, 74LS160, 74LS169 |
//! | a shift register | [`shift`] | 74LS194, 74LS164 |
//! | a decoder | [`decoded`] | 74LS138, 74LS42 |
//! | a priority encoder | [`highest`], [`lowest`] | 74LS148 |
//! | a multiplexer | [`choose`](fn@crate::choose), [`Word::pick`](crate::Word::pick) | 74LS157, 74LS151 |
//! | a comparator | [`compared`], [`Word::equals`](crate::Word::equals) | 74LS85, 74LS688 |
//! | an adder | [`Word::plus_with_carry`](crate::Word::plus_with_carry) | 74LS283 |
//! | parity | [`Word::has_odd_parity`](crate::Word::has_odd_parity) | 74LS280 |
//! | an edge, seen by a clock | [`rose`], [`fell`], [`changed`] | 74LS74 and 74LS08 |
//! | a synchroniser | [`synchroniser`] | 74LS175 |
//! | a set-reset latch, a bouncing switch | [`set_wins`], [`reset_wins`] | 74LS279, two gates of a 74LS02 |
//! | a latch of product terms | [`follow_while`] | 74LS373 |
mod comparing;
mod counting;
mod holding;
mod lines;
mod sampling;
mod shifting;

pub use comparing::{Compared, compared};
pub use counting::{Counting, count_down, count_up, count_up_or_down};
pub use holding::{follow_while, reset_wins, set_wins};
pub use lines::{decoded, highest, lowest};
pub use sampling::{changed, fell, rose, synchroniser};
pub use shifting::{Shifting, shift};
