//! Drawn numbers, the same in every run: a device's vectors never change by themselves.

/// A generator of numbers (splitmix64, Steele, Lea and Flood 2014).
#[derive(Clone, Debug)]
pub(in crate::vectors) struct Draw(pub(in crate::vectors) u64);

impl Draw {
    pub(in crate::vectors) fn word(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Below `n`; 0 if `n` is.
    pub(in crate::vectors) fn below(&mut self, n: usize) -> usize {
        // the bias is far below what matters here
        usize::try_from(self.word() % (n.max(1) as u64)).unwrap_or(0)
    }

    /// True once in `n` times.
    pub(in crate::vectors) fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}
