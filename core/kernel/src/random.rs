//! Reproducible random numbers, the same in every run and on every machine. What is drawn decides which evidence is found
//! first and which of several equal results is taken, so a stream never changes by itself.

/// SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", 2014).
#[derive(Clone, Debug)]
pub struct SplitMix(u64);

impl SplitMix {
    /// The stream of this seed.
    pub fn new(seed: u64) -> Self {
        SplitMix(seed)
    }

    /// The next word.
    pub fn word(&mut self) -> u64 {
        let word = mixed(self.0);
        self.0 = self.0.wrapping_add(GAMMA);
        word
    }

    /// The next number below `n`; 0 if `n` is. The bias is far below what matters here.
    pub fn below(&mut self, n: usize) -> usize {
        (self.word() % n.max(1) as u64) as usize
    }

    /// True once in `n` times.
    pub fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}

/// Xorshift with the shifts 13, 7 and 17 (Marsaglia, "Xorshift RNGs", Journal of Statistical Software 8, 2003): a step costs
/// least. No word is zero.
#[derive(Clone, Debug)]
pub struct Xorshift(u64);

impl Xorshift {
    /// The stream of this seed.
    pub fn new(seed: u64) -> Self {
        Xorshift(seed.wrapping_mul(GAMMA) | 1)
    }

    /// The next word.
    pub fn word(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// The next number below `limit`, which is at most 2³².
    pub fn below(&mut self, limit: usize) -> usize {
        (((self.word() >> 32) * limit as u64) >> 32) as usize
    }
}

/// 2⁶⁴ over the golden ratio, made odd.
const GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

/// A well mixed word from a word: what [`SplitMix`] of this seed gives first.
pub fn mixed(word: u64) -> u64 {
    let mut z = word.wrapping_add(GAMMA);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first numbers of seed 1234567 (published with the generator's reference implementation, from memory).
    #[test]
    fn split_mix_gives_the_published_numbers() {
        let mut random = SplitMix::new(1_234_567);
        let words: Vec<u64> = (0..3).map(|_| random.word()).collect();
        assert_eq!(words, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
        assert_eq!(mixed(1_234_567), words[0]);
    }

    #[test]
    fn xorshift_is_never_zero_and_does_not_repeat_soon() {
        let mut random = Xorshift::new(0);
        let words: std::collections::BTreeSet<u64> = (0..10_000).map(|_| random.word()).collect();
        assert_eq!((words.len(), words.contains(&0)), (10_000, false));
    }
}
