//! What a vector may ask of a programmer's tester, and of the device in its socket.
use super::array::Array;
use super::bank::{Bank, State};
use super::ternary::Ternary;

/// One vector: what is driven, and whether the clock pulses at its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Step {
    /// For each pin the level that the tester drives.
    pub(super) drive: Vec<Option<bool>>,
    /// The pin that goes high and low again when all others have switched.
    pub(super) pulse: Option<usize>,
}

impl Step {
    /// The levels in all lanes.
    pub(super) fn outside(&self) -> Vec<Ternary> {
        self.drive.iter().map(|d| d.map_or(Ternary::UNKNOWN, Ternary::known)).collect()
    }
}

/// The rules for one device.
#[derive(Clone, Debug)]
pub(super) struct Rules {
    /// Pins that can be driven: all but the supplies.
    pub(super) drivable: Vec<bool>,
    /// Pins whose changes take effect at once and are remembered.
    pub(super) asynchronous: Vec<bool>,
    pub(super) clock: Option<usize>,
}

impl Rules {
    pub(super) fn new(array: &Array, drivable: Vec<bool>) -> Rules {
        Rules { drivable, asynchronous: array.asynchronous(), clock: array.clock }
    }

    /// The pins on which the tester does something else than before.
    pub(super) fn changes(before: &[Option<bool>], after: &[Option<bool>]) -> Vec<usize> {
        (0..after.len()).filter(|&pin| before.get(pin) != after.get(pin)).collect()
    }

    /// Whether one vector may follow another: at most one asynchronous input changes, and the clock rises last.
    /// `before` is `None` at power-up, when everything changes.
    pub(super) fn allow(&self, before: Option<&Step>, after: &Step) -> bool {
        let level = |step: &Step| self.clock.and_then(|clock| step.drive.get(clock).copied().flatten());
        if self.clock.is_some() && (level(after).is_none() || (after.pulse.is_some() && level(after) != Some(false))) {
            return false;
        }
        if after.pulse.is_some() && after.pulse != self.clock {
            return false;
        }
        let Some(before) = before else { return level(after) != Some(true) };
        let changes = Rules::changes(&before.drive, &after.drive);
        let asynchronous = changes.iter().filter(|&&pin| self.asynchronous.get(pin) == Some(&true)).count();
        let rises = level(before) == Some(false) && level(after) == Some(true);
        asynchronous <= 1 && (!rises || changes.len() == 1)
    }

    /// The lanes in which a pin is driven, or was until now, that the device may drive at some moment of the vector.
    pub(super) fn fights(bank: &Bank, before: &State, outside: &[Ternary], enabled: &[u64]) -> u64 {
        let known = |all: &[Ternary], pin: usize| all.get(pin).map_or(0, |t| t.is_known());
        let cells = bank.array.cells.iter().zip(enabled);
        cells.fold(0, |lanes, (c, on)| lanes | (on & (known(&before.outside, c.pin) | known(outside, c.pin))))
    }
}
