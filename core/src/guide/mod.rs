//! The guide: from a trace to a burned part, one page for each thing that a first card needs.
//!
//! 1. [`the_way`] from a lost card to a part in its socket
//! 2. [`active_low`]: levels and conditions
//! 3. [`buried`]: registers that never leave the device
//! 4. [`latches`] made of product terms
//! 5. [`idioms`]: counters, multiplexers, shift registers, widths
//! 6. [`inside`]: circuits inside circuits, a card chip by chip
//! 7. [`bench`](mod@bench): a circuit on a test bench
//! 8. [`assumptions`] about the board
//! 9. [`properties`]: sentences that must hold, where no sister card is left
//! 10. [`proved`]: what it means, and what it doesn't
//! 11. [`time`]: which of two changes comes first, and what is said where nobody knows
//! 12. [`times`]: what the original is shown to take, and what the replacement never exceeds
//! 13. [`speed`]: how fast it is, and how to measure it again
//! 14. [`jury`]: who else looked at the verdicts, and what they said
//! 15. [`checker`]: what a sceptic can run, and what it objects to
//! 16. [`mutants`]: whether the prover's own tests bite
//! 17. [`glossary`]: the words of the field, and where they live in the code
//! 18. [`embedding`]: Gluewright in a program of your own
//! 19. [`json`]: every value that a run came to, for another program
//! 20. [`meter`]: from a meter's readings on a borrowed board to its trace
//!
//! What rustc says when a wiring is wrong is explained in [`signals::messages`](crate::signals::messages), the words of a
//! trace in [`board`](crate::board).
#[doc = include_str!("the_way.md")]
pub mod the_way {}

#[doc = include_str!("active_low.md")]
pub mod active_low {}

#[doc = include_str!("buried.md")]
pub mod buried {}

#[doc = include_str!("latches.md")]
pub mod latches {}

#[doc = include_str!("idioms.md")]
pub mod idioms {}

#[doc = include_str!("inside.md")]
pub mod inside {}

#[doc = include_str!("bench.md")]
pub mod bench {}

#[doc = include_str!("assumptions.md")]
pub mod assumptions {}

#[doc = include_str!("properties.md")]
pub mod properties {}

#[doc = include_str!("proved.md")]
pub mod proved {}

#[doc = include_str!("time.md")]
pub mod time {}

#[doc = include_str!("times.md")]
pub mod times {}

#[doc = include_str!("speed.md")]
pub mod speed {}

#[doc = include_str!("jury.md")]
pub mod jury {}

#[doc = include_str!("checker.md")]
pub mod checker {}

#[doc = include_str!("mutants.md")]
pub mod mutants {}

#[doc = include_str!("glossary.md")]
pub mod glossary {}

#[doc = include_str!("embedding.md")]
pub mod embedding {}

#[doc = include_str!("json.md")]
pub mod json {}

#[doc = include_str!("meter.md")]
pub mod meter {}
