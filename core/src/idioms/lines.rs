//! Decoders and priority encoders: between a number and one line of many.
use gluewright_kernel::signals::{Assertion, Condition, Level, Word, given, high_while, quietly};

/// A decoder: line `i` is true while the number is `i` and the condition is true. A line for a number that the word can't
/// hold is a mistake, which the build reports.
#[track_caller]
pub fn decoded<const N: usize, const M: usize>(number: Word<N>, while_enabled: impl Condition) -> [Assertion; M] {
    let enabled = given(while_enabled, 0);
    let _quiet = quietly();
    let mut lines = [Assertion::NEVER; M];
    for (i, line) in (0..).zip(&mut lines) {
        *line = enabled & number.is(i);
    }
    lines
}

/// A priority encoder: the place of the last line that is true, and whether one is. The number is 0 while none is; places
/// that the word has no room for lose their upper bits.
#[track_caller]
pub fn highest<const N: usize, const M: usize>(lines: [Assertion; M]) -> (Word<N>, Assertion) {
    let mut places: Vec<(usize, Assertion)> = (0..).zip(lines).collect();
    places.reverse();
    first(places)
}

/// A priority encoder that prefers the first line that is true: its place, and whether one is. The number is 0 while none
/// is.
#[track_caller]
pub fn lowest<const N: usize, const M: usize>(lines: [Assertion; M]) -> (Word<N>, Assertion) {
    first((0..).zip(lines))
}

/// The place of the first of these that is true, and whether one is.
#[track_caller]
fn first<const N: usize>(places: impl IntoIterator<Item = (usize, Assertion)>) -> (Word<N>, Assertion) {
    let _quiet = quietly();
    let (mut before, mut bits) = (Assertion::NEVER, [Assertion::NEVER; N]);
    for (place, line) in places {
        let here = line & !before;
        for (i, bit) in (0..).zip(&mut bits) {
            if place.checked_shr(i).is_some_and(|rest| rest & 1 == 1) {
                *bit = *bit | here;
            }
        }
        before = before | line;
    }
    let mut number = [Level::LOW; N];
    for (level, bit) in number.iter_mut().zip(bits) {
        *level = high_while(bit);
    }
    (Word::of(number), before)
}
