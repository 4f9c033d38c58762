//! The hash of the graph's index: keys are pairs of small numbers that we made ourselves, so a multiplication will do.
use std::hash::{BuildHasherDefault, Hasher};

/// Builds the hash.
pub(super) type Mixing = BuildHasherDefault<Mixer>;

/// Words mixed one after the other. (Multiplication by an odd constant near 2⁶⁴ divided by the golden ratio: Knuth, "The
/// Art of Computer Programming", volume 3, section 6.4.)
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Mixer(u64);

impl Hasher for Mixer {
    fn write(&mut self, bytes: &[u8]) {
        for &b in bytes {
            self.write_u32(u32::from(b));
        }
    }

    fn write_u32(&mut self, word: u32) {
        self.0 = (self.0.rotate_left(29) ^ u64::from(word)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    }

    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }
}
