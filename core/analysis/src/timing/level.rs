//! Levels of 64 runs, each with a mask of the runs in which the level depends on the power-up state or on something no
//! sheet decides.
use gluewright_kernel::machine::{Algebra, Unknown};

/// A level in each of 64 runs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Level {
    /// Where it is high.
    pub(super) high: u64,
    /// Where it may be the other one too: had power come on with other bits, or as delays within the sheets have it.
    pub(super) any: u64,
}

impl Level {
    /// One that anybody can count on.
    pub(super) fn sure(high: u64) -> Level {
        Level { high, any: 0 }
    }
}

/// Runs whose levels say where they are sure: these stay under every start, and however it ends what nobody knows.
#[derive(Debug)]
pub(super) struct Levels;

impl Algebra for Levels {
    type Value = Level;

    fn constant(&mut self, high: bool) -> Level {
        Level::sure(if high { u64::MAX } else { 0 })
    }
    fn not(&mut self, a: Level) -> Level {
        Level { high: !a.high, any: a.any }
    }
    fn and(&mut self, a: Level, b: Level) -> Level {
        Level { high: a.high & b.high, any: (a.any & (b.high | b.any)) | (b.any & (a.high | a.any)) }
    }
    fn or(&mut self, a: Level, b: Level) -> Level {
        Level { high: a.high | b.high, any: (a.any & (!b.high | b.any)) | (b.any & (!a.high | a.any)) }
    }
    fn xor(&mut self, a: Level, b: Level) -> Level {
        Level { high: a.high ^ b.high, any: a.any | b.any }
    }
    fn choose(&mut self, when: Level, then: Level, otherwise: Level) -> Level {
        let of = |then: u64, otherwise: u64| (when.high & then) | (!when.high & otherwise);
        let differ = then.any | otherwise.any | (then.high ^ otherwise.high);
        let any = (when.any & differ) | (!when.any & of(then.any, otherwise.any));
        Level { high: of(then.high, otherwise.high), any }
    }
    fn unknown(&mut self, _: Unknown, when: Level, usual: Level) -> Level {
        Level { high: usual.high, any: usual.any | when.high | when.any }
    }
}
