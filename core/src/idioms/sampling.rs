//! What a clock sees of something that moves by itself: synchronisers and edges.
use gluewright_kernel::signals::{Assertion, Buried, Definition, HasLevel, Level, Moment, Register, each, on};

/// True for the time between two clock edges in which the first saw a level high that was low before: `now` is what the last
/// edge took in, `before` what the register behind it holds. For a contact that moves by itself, let `now` be the end of a
/// [`synchroniser`].
#[track_caller]
pub fn rose(now: impl HasLevel, before: impl HasLevel) -> Assertion {
    now.read().is_high() & before.read().is_low()
}

/// The same for a level that went low.
#[track_caller]
pub fn fell(now: impl HasLevel, before: impl HasLevel) -> Assertion {
    now.read().is_low() & before.read().is_high()
}

/// The same for a level that went either way.
#[track_caller]
pub fn changed(now: impl HasLevel, before: impl HasLevel) -> Assertion {
    now.read().differs_from(before.read())
}

/// Registers in a row that take a level over into a clock's time, one definition for each: the first loads the level, each
/// other one what the one before holds. What the circuit goes by is the last one's `q()`.
///
/// Two are the usual number: the first may come out of balance when the level moves with the clock, and has a whole period
/// to come to rest (common practice, no source). How often two are not enough is a matter of the device's figures; see
/// `synchronisers` of this crate.
#[track_caller]
pub fn synchroniser<const N: usize>(
    clock: impl Moment + Copy,
    level: Level,
    registers: [Buried<Register>; N],
) -> [Definition<Buried<Register>>; N] {
    let mut taken = level;
    let mut loads = [Level::LOW; N];
    for (load, register) in loads.iter_mut().zip(registers) {
        *load = std::mem::replace(&mut taken, register.q());
    }
    each(|i| on(clock).load(loads.get(i).copied().unwrap_or(Level::LOW)))
}
