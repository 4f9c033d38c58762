//! Every type with logic as a struct, to stand inside a circuit: `#[circuit] counter: Ls161`. Its fields are the pins as the
//! data sheet calls them, and what it needs on them is its `Ls161Inputs`.
pub use super::{
    arithmetic::*, buffers::*, buses::*, counters::*, decoders::*, displays::*, encoders::*, flip_flops::*, gates::*,
    latches::*, long_counters::*, memories::*, multiplexers::*, registers::*, ripple_counters::*, shift_registers::*,
    small_packages::*,
};
