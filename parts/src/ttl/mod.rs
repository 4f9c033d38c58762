//! The logic of each type, written as its data sheet's page: one file for each kind of function.
use gluewright::circuit;
use gluewright::prelude::*;
use gluewright::signals::{BuildError, CanClock, Holds, TakesLevel};

/// What the parts of a file are, and the data files with their figures: that of the LS type comes first.
macro_rules! models {
    ($($part:ident: $($sheet:literal),+;)+) => {
        &[$(Model {
            build: gluewright::circuit_of::<$part>,
            sheets: &[$(($sheet, include_str!(concat!("../../data/", $sheet, ".toml")))),+],
        }),+]
    };
}

mod arithmetic;
mod buffers;
mod buses;
pub mod chips;
mod counters;
mod decoders;
mod displays;
mod encoders;
mod flip_flops;
mod gates;
mod latches;
mod long_counters;
mod memories;
mod multiplexers;
mod registers;
mod ripple_counters;
mod shift_registers;
mod small_packages;
mod without_logic;

pub(crate) use without_logic::{NO_LOGIC, PROMS};

/// The logic of a type, and the data files of the families in which it was made.
pub(crate) struct Model {
    /// Builds its circuit.
    pub(crate) build: fn() -> Result<circuit::Circuit, BuildError>,
    /// Name and text of each data file.
    pub(crate) sheets: &'static [(&'static str, &'static str)],
}

/// All types that have logic.
pub(crate) fn models() -> impl Iterator<Item = &'static Model> {
    [
        gates::MODELS,
        buffers::MODELS,
        decoders::MODELS,
        encoders::MODELS,
        multiplexers::MODELS,
        arithmetic::MODELS,
        flip_flops::MODELS,
        latches::MODELS,
        registers::MODELS,
        shift_registers::MODELS,
        counters::MODELS,
        ripple_counters::MODELS,
        memories::MODELS,
        buses::MODELS,
        displays::MODELS,
        long_counters::MODELS,
        small_packages::MODELS,
    ]
    .into_iter()
    .flatten()
}

/// A register with an asynchronous load: it holds `data` while `load` is true, and otherwise does what `register` says.
fn load_while<S: TakesLevel + Holds>(load: Assertion, data: Level, register: Definition<S>) -> Definition<S> {
    register.preset_while(load & data.is_high()).clear_while(load & data.is_low())
}

/// A register that is cleared at once.
fn cleared_at_once<S: CanClock + TakesLevel + Holds>(clock: Edge, next: Level, clear: Assertion) -> Definition<S> {
    on(clock).load(next).clear_while(clear)
}

/// A register that is cleared when its clock comes.
fn cleared_on_clock<S: CanClock + TakesLevel>(clock: Edge, next: Level, clear: Assertion) -> Definition<S> {
    on(clock).load(high_while(!clear & next.is_high()))
}

fn same(input: Input<Data>) -> Level {
    input.level()
}

fn inverted(input: Input<Data>) -> Level {
    !input.level()
}
