//! Words: several levels that count together.
use std::array;
use std::ops::{BitAnd, BitOr, BitXor, Index, Not};
use std::panic::Location;

use super::arena::{self, innermost, quietly, said};
use super::error::Mistake;
use super::fields::{Buried, InOut, Input, Output};
use super::level::{Assertion, Choosable, Condition, Level, choose, high_while, sealed};
use super::markers::Data;
use crate::circuit::Origin;

/// `N` levels that are read as a number: bit 0 is the lowest.
#[derive(Clone, Copy, Debug)]
#[must_use = "a word does nothing until something is defined by it"]
pub struct Word<const N: usize>([Level; N]);

/// Something that a meter can read, as one bit of a word.
#[diagnostic::on_unimplemented(
    message = "a word is made of data: levels, or contacts and elements that carry Data",
    label = "`{Self}` is not one bit of a number",
    note = "take the level of each: `Word::of(self.address.map(|a| a.level()))`"
)]
pub trait HasLevel: Copy {
    #[doc(hidden)]
    fn read(self) -> Level;
}

#[diagnostic::do_not_recommend]
impl HasLevel for Level {
    fn read(self) -> Level {
        self
    }
}

macro_rules! data_has_level {
    ($($field:ident<$($word:ident),*>)*) => {$(
        #[diagnostic::do_not_recommend]
        impl<$($word),*> HasLevel for data_has_level!($field $($word)*) {
            #[track_caller]
            fn read(self) -> Level {
                self.level()
            }
        }
    )*};
    (Buried $k:ident) => { Buried<$k, Data> };
    ($field:ident $($d:ident)?) => { $field<Data $(, $d)?> };
}
data_has_level!(Input<> Output<D> InOut<D> Buried<K>);

#[track_caller]
fn mistake(of: impl FnOnce(Origin) -> Mistake) {
    let at = Location::caller();
    innermost(|b| b.mistake(of(Origin::from(at))));
}

/// True if the number has this bit.
fn has_bit(number: u64, bit: usize) -> bool {
    u32::try_from(bit).ok().and_then(|bit| number.checked_shr(bit)).is_some_and(|rest| rest & 1 == 1)
}

// Loops, not closures: `#[track_caller]` gives the user's line to what is called in a body, but not in a closure.
impl<const N: usize> Word<N> {
    /// The levels of an array, the lowest bit first.
    #[track_caller]
    pub fn of<T: HasLevel>(bits: [T; N]) -> Self {
        let mut word = Self::LOW;
        for (level, bit) in word.0.iter_mut().zip(bits) {
            *level = bit.read();
        }
        word
    }

    const LOW: Self = Word([Level::LOW; N]);

    /// The levels that `f` gives for each bit, counted from 0.
    pub fn from_fn(f: impl FnMut(usize) -> Level) -> Self {
        Word(array::from_fn(f))
    }

    /// A fixed number. One that does not fit is a mistake, which the build reports.
    #[track_caller]
    pub fn number(number: u64) -> Self {
        Self::must_hold(number);
        Word(array::from_fn(|i| if has_bit(number, i) { Level::HIGH } else { Level::LOW }))
    }

    #[track_caller]
    fn must_hold(number: u64) {
        let fits = u32::try_from(N).ok().and_then(|n| number.checked_shr(n)).is_none_or(|rest| rest == 0);
        if !fits {
            mistake(|origin| Mistake::NumberTooLarge { number, bits: N, origin });
        }
    }

    /// The levels, the lowest bit first.
    pub fn bits(self) -> [Level; N] {
        self.0
    }

    /// The levels, the lowest bit first.
    pub fn iter(&self) -> array::IntoIter<Level, N> {
        self.0.into_iter()
    }

    /// True while it is this number. One that does not fit is a mistake, which the build reports.
    #[track_caller]
    pub fn is(self, number: u64) -> Assertion {
        Self::must_hold(number);
        let number = arena::number(number, N);
        let mut all = Assertion::ALWAYS;
        for (i, bit) in self.0.into_iter().enumerate() {
            let _quiet = quietly();
            all = all & if has_bit(number, i) { bit.is_high() } else { bit.is_low() };
        }
        Assertion(said(all.0))
    }

    /// True while both are the same number.
    #[track_caller]
    pub fn equals(self, other: Self) -> Assertion {
        let mut all = Assertion::ALWAYS;
        for (a, b) in self.pairs(other) {
            let _quiet = quietly();
            all = all & a.same_as(b);
        }
        Assertion(said(all.0))
    }

    /// True while this is the smaller number.
    #[track_caller]
    pub fn less_than(self, other: Self) -> Assertion {
        let mut less = Assertion::NEVER;
        let _quiet = quietly();
        for (a, b) in self.pairs(other) {
            less = (a.is_low() & b.is_high()) | (a.same_as(b) & less);
        }
        less
    }

    /// True while this is the larger number.
    #[track_caller]
    pub fn greater_than(self, other: Self) -> Assertion {
        other.less_than(self)
    }

    /// True while this is the smaller number, or the same.
    #[track_caller]
    pub fn at_most(self, other: Self) -> Assertion {
        let _quiet = quietly();
        !self.greater_than(other)
    }

    /// True while this is the larger number, or the same.
    #[track_caller]
    pub fn at_least(self, other: Self) -> Assertion {
        let _quiet = quietly();
        !self.less_than(other)
    }

    /// True while an odd number of bits are high.
    #[track_caller]
    pub fn has_odd_parity(self) -> Assertion {
        let _quiet = quietly();
        let mut odd = Assertion::NEVER;
        for bit in self.0 {
            odd = odd ^ bit.is_high();
        }
        odd
    }

    /// The sum without its carry.
    #[track_caller]
    pub fn plus(self, other: Self) -> Self {
        self.plus_with_carry(other, Assertion::NEVER).0
    }

    /// The sum of both and of the carry in, and its carry out.
    #[track_caller]
    pub fn plus_with_carry(self, other: Self, carry: impl Condition) -> (Self, Assertion) {
        let _quiet = quietly();
        let mut carry = carry.truth();
        let mut sum = self;
        for (s, (a, b)) in sum.0.iter_mut().zip(self.pairs(other)) {
            let (a, b) = (a.is_high(), b.is_high());
            *s = high_while(a ^ b ^ carry);
            carry = (a & b) | ((a ^ b) & carry);
        }
        (sum, carry)
    }

    /// The difference without its borrow.
    #[track_caller]
    pub fn minus(self, other: Self) -> Self {
        self.minus_with_borrow(other, Assertion::NEVER).0
    }

    /// This less the other and less the borrow in, and its borrow out: true while the difference is below zero.
    #[track_caller]
    pub fn minus_with_borrow(self, other: Self, borrow: impl Condition) -> (Self, Assertion) {
        let _quiet = quietly();
        let (difference, carry) = self.plus_with_carry(!other, !borrow.truth());
        (difference, !carry)
    }

    /// The next number; after the largest comes 0.
    #[track_caller]
    pub fn plus_one(self) -> Self {
        let _quiet = quietly();
        let (mut next, mut below) = (self, Assertion::ALWAYS);
        for bit in &mut next.0 {
            let high = bit.is_high();
            *bit = high_while(high ^ below);
            below = below & high;
        }
        next
    }

    /// The number before; before 0 comes the largest.
    #[track_caller]
    pub fn minus_one(self) -> Self {
        let _quiet = quietly();
        let (mut next, mut below) = (self, Assertion::ALWAYS);
        for bit in &mut next.0 {
            let high = bit.is_high();
            *bit = high_while(high ^ below);
            below = below & !high;
        }
        next
    }

    /// Each bit moves up by one place; the lowest becomes `into`, the highest falls out.
    pub fn shifted_up(self, into: Level) -> Self {
        let mut below = into;
        Word(self.0.map(|bit| std::mem::replace(&mut below, bit)))
    }

    /// Each bit moves down by one place; the highest becomes `into`, the lowest falls out.
    pub fn shifted_down(self, into: Level) -> Self {
        self.reversed().shifted_up(into).reversed()
    }

    /// Each bit moves up by this many places, and what falls out enters below.
    pub fn rotated_up(self, places: usize) -> Self {
        let mut bits = self.0;
        bits.rotate_right(places.checked_rem(N).unwrap_or(0));
        Word(bits)
    }

    /// Each bit moves down by this many places, and what falls out enters above.
    pub fn rotated_down(self, places: usize) -> Self {
        let mut bits = self.0;
        bits.rotate_left(places.checked_rem(N).unwrap_or(0));
        Word(bits)
    }

    /// The same bits with the highest first.
    pub fn reversed(self) -> Self {
        let mut bits = self.0;
        bits.reverse();
        Word(bits)
    }

    /// The one of these whose place is the number: a multiplexer. There must be one for each number: another count is a
    /// mistake, which the build reports.
    #[track_caller]
    pub fn pick<T: Choosable, const M: usize>(self, of: [T; M]) -> T {
        if u32::try_from(N).ok().and_then(|n| 1usize.checked_shl(n)) != Some(M) {
            mistake(|origin| Mistake::WrongChoices { given: M, bits: N, origin });
        }
        let _quiet = quietly();
        let mut rest = Vec::from(of);
        for bit in self.0 {
            let mut half = Vec::with_capacity(rest.len() / 2);
            for pair in rest.chunks_exact(2) {
                if let [low, high] = *pair {
                    half.push(choose(bit.is_high(), high, low));
                }
            }
            rest = half;
        }
        rest.first().copied().unwrap_or(T::NOTHING)
    }

    fn pairs(self, other: Self) -> impl Iterator<Item = (Level, Level)> {
        self.0.into_iter().zip(other.0)
    }
}

impl<const N: usize> sealed::Sealed for Word<N> {}

#[diagnostic::do_not_recommend]
impl<const N: usize> Choosable for Word<N> {
    const NOTHING: Self = Self::LOW;

    #[track_caller]
    fn chosen(when: Assertion, this: Self, other: Self) -> Self {
        let _quiet = quietly();
        let mut out = this;
        for (o, (a, b)) in out.0.iter_mut().zip(this.pairs(other)) {
            *o = choose(when, a, b);
        }
        out
    }
}

impl<const N: usize> Index<usize> for Word<N> {
    type Output = Level;

    /// One bit. One that is not there is a mistake, which the build reports.
    #[track_caller]
    fn index(&self, index: usize) -> &Level {
        if let Some(level) = self.0.get(index) {
            return level;
        }
        mistake(|origin| Mistake::NoSuchBit { index, bits: N, origin });
        &Level::LOW
    }
}

impl<const N: usize> IntoIterator for Word<N> {
    type Item = Level;
    type IntoIter = array::IntoIter<Level, N>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl<const N: usize> Not for Word<N> {
    type Output = Self;
    /// Each bit inverted.
    #[track_caller]
    fn not(self) -> Self {
        let _quiet = quietly();
        let mut out = self;
        for bit in &mut out.0 {
            *bit = !*bit;
        }
        out
    }
}

macro_rules! bitwise {
    ($($op:ident $method:ident $sign:tt)*) => {$(
        impl<const N: usize> $op for Word<N> {
            type Output = Self;
            #[track_caller]
            fn $method(self, other: Self) -> Self {
                let _quiet = quietly();
                let mut out = self;
                for (o, (a, b)) in out.0.iter_mut().zip(self.pairs(other)) {
                    *o = high_while(a.is_high() $sign b.is_high());
                }
                out
            }
        }
    )*};
}
bitwise!(BitAnd bitand & BitOr bitor | BitXor bitxor ^);
