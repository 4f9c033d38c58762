//! One product term: which inputs it reads, and at which level each must be.
use std::fmt;

/// The largest number of inputs that a cover may have.
pub const MAX_INPUTS: u32 = 64;

/// The mask with the lowest `inputs` bits set.
pub(crate) fn mask(inputs: u32) -> u64 {
    match inputs {
        0 => 0,
        1..64 => (1 << inputs) - 1,
        _ => u64::MAX,
    }
}

/// The numbers of the set bits, lowest first.
pub(crate) fn bits(mut mask: u64) -> impl Iterator<Item = u32> {
    std::iter::from_fn(move || {
        (mask != 0).then(|| {
            let bit = mask.trailing_zeros();
            mask &= mask - 1;
            bit
        })
    })
}

/// A product term (an implicant, seen as a set of minterms: a cube) over up to 64 inputs. Bit `i` of a minterm is the
/// level of input `i`.
///
/// A term that asks an input to be high and low at once can't be written down: the empty set is no cube.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cube {
    care: u64,
    value: u64,
}

impl Cube {
    /// The term without literals, which always holds.
    pub const ONE: Cube = Cube { care: 0, value: 0 };

    /// The term that holds where all inputs of `positive` are high and all of `negative` are low; `None` if an input
    /// is in both.
    pub fn new(positive: u64, negative: u64) -> Option<Cube> {
        (positive & negative == 0).then_some(Cube { care: positive | negative, value: positive })
    }

    /// The term that reads the inputs of `care` and asks for their levels in `value`.
    pub fn reading(care: u64, value: u64) -> Cube {
        Cube { care, value: value & care }
    }

    /// The term that holds at one minterm only.
    pub fn minterm(inputs: u32, minterm: u64) -> Cube {
        Cube::reading(mask(inputs), minterm)
    }

    /// The term of one literal, `input` high or low. Inputs from 64 on don't exist and give [`Cube::ONE`].
    pub fn literal(input: u32, high: bool) -> Cube {
        let bit = 1u64.checked_shl(input).unwrap_or(0);
        Cube::reading(bit, if high { bit } else { 0 })
    }

    /// The inputs that the term reads.
    pub fn care(self) -> u64 {
        self.care
    }

    /// The level that it asks of each input it reads, low where it reads none.
    pub fn value(self) -> u64 {
        self.value
    }

    /// The inputs that must be high.
    pub fn positive(self) -> u64 {
        self.value
    }

    /// The inputs that must be low.
    pub fn negative(self) -> u64 {
        self.care & !self.value
    }

    /// The number of literals.
    pub fn literals(self) -> u32 {
        self.care.count_ones()
    }

    /// Whether the term holds at a minterm.
    pub fn holds(self, minterm: u64) -> bool {
        (minterm ^ self.value) & self.care == 0
    }

    /// Whether this term holds wherever `other` does.
    pub fn contains(self, other: Cube) -> bool {
        self.care & !other.care == 0 && (self.value ^ other.value) & self.care == 0
    }

    /// The inputs that one term wants high and the other low. Empty if they hold together somewhere.
    pub fn conflicts(self, other: Cube) -> u64 {
        (self.value ^ other.value) & self.care & other.care
    }

    /// Whether both hold together somewhere.
    pub fn meets(self, other: Cube) -> bool {
        self.conflicts(other) == 0
    }

    /// The term that holds where both do.
    pub fn intersection(self, other: Cube) -> Option<Cube> {
        self.meets(other).then_some(Cube { care: self.care | other.care, value: self.value | other.value })
    }

    /// The smallest term that contains both.
    pub fn supercube(self, other: Cube) -> Cube {
        Cube::reading(self.care & other.care & !(self.value ^ other.value), self.value)
    }

    /// The consensus: for terms with exactly one conflicting input, the term that bridges them without that input.
    pub fn consensus(self, other: Cube) -> Option<Cube> {
        let conflict = self.conflicts(other);
        (conflict.count_ones() == 1)
            .then(|| Cube::reading((self.care | other.care) & !conflict, self.value | other.value))
    }

    /// The term without its literals of the inputs in `inputs`.
    pub fn without(self, inputs: u64) -> Cube {
        Cube::reading(self.care & !inputs, self.value)
    }

    /// The term as seen where `by` holds: `None` if it never holds there.
    pub fn cofactor(self, by: Cube) -> Option<Cube> {
        self.meets(by).then(|| self.without(by.care))
    }

    /// What of this term lies outside `other`, as disjoint terms.
    pub fn minus(self, other: Cube) -> Vec<Cube> {
        if !self.meets(other) {
            return vec![self];
        }
        let mut rest = self;
        let mut parts = Vec::new();
        for i in bits(other.care & !self.care) {
            let bit = 1 << i;
            parts.push(Cube { care: rest.care | bit, value: rest.value | (!other.value & bit) });
            rest = Cube { care: rest.care | bit, value: rest.value | (other.value & bit) };
        }
        parts
    }

    /// The number of minterms over `inputs` inputs, as a float since it may be 2⁶⁴.
    pub fn size(self, inputs: u32) -> f64 {
        f64::from(inputs.saturating_sub(self.literals())).exp2()
    }
}

impl fmt::Debug for Cube {
    /// Input 0 first; `1` high, `0` low, `-` not read. Inputs above the highest one read aren't shown.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for i in 0..64 - self.care.leading_zeros() {
            f.write_str(match (self.care >> i & 1, self.value >> i & 1) {
                (0, _) => "-",
                (_, 0) => "0",
                _ => "1",
            })?;
        }
        if self.care == 0 { f.write_str("one") } else { Ok(()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cube(positive: u64, negative: u64) -> Cube {
        Cube::new(positive, negative).unwrap()
    }

    #[test]
    fn a_contradiction_is_no_cube() {
        assert_eq!(Cube::new(0b11, 0b10), None);
    }

    #[test]
    fn consensus_bridges_one_conflict_only() {
        let (a, b) = (cube(0b011, 0), cube(0b100, 0b001));
        assert_eq!(a.consensus(b), Some(cube(0b110, 0)));
        assert_eq!(a.consensus(cube(0b100, 0b011)), None);
        assert_eq!(a.consensus(a), None);
    }

    #[test]
    fn minus_is_disjoint_and_exact() {
        for (a, b) in [(cube(0b1, 0), cube(0b100, 0b10)), (Cube::ONE, cube(0b1010, 0b1)), (cube(1, 0), cube(0, 1))] {
            let parts = a.minus(b);
            for m in 0..16 {
                let hits = parts.iter().filter(|p| p.holds(m)).count();
                assert_eq!(hits, usize::from(a.holds(m) && !b.holds(m)), "{a:?} {b:?} {m}");
            }
        }
    }

    #[test]
    fn supercube_is_the_smallest_around_both() {
        let (a, b) = (cube(0b011, 0b100), cube(0b001, 0b110));
        assert_eq!(a.supercube(b), cube(0b001, 0b100));
    }
}
