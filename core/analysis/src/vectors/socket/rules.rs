//! What a vector may ask of a programmer's tester, and of the device in its socket.
use super::array::Array;
use super::bank::{Bank, State};
use super::ternary::Ternary;

/// One vector: what is driven, and whether the clock pulses at its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::vectors) struct Step {
    /// For each pin the level that the tester drives.
    pub(in crate::vectors) drive: Vec<Option<bool>>,
    /// The pin that goes high and low again when all others have switched.
    pub(in crate::vectors) pulse: Option<usize>,
}

impl Step {
    /// The levels in all lanes.
    pub(in crate::vectors) fn outside(&self) -> Vec<Ternary> {
        self.drive.iter().map(|d| d.map_or(Ternary::UNKNOWN, Ternary::known)).collect()
    }
}

/// The rules for one device.
#[derive(Clone, Debug)]
pub(in crate::vectors) struct Rules {
    /// Pins that can be driven: all but the supplies.
    pub(in crate::vectors) drivable: Vec<bool>,
    /// Pins whose changes take effect at once and are remembered.
    pub(in crate::vectors) asynchronous: Vec<bool>,
    pub(in crate::vectors) clock: Option<usize>,
}

impl Rules {
    pub(in crate::vectors) fn new(array: &Array, drivable: Vec<bool>) -> Rules {
        Rules { drivable, asynchronous: array.asynchronous(), clock: array.clock }
    }

    /// The pins on which the tester does something else than before.
    pub(in crate::vectors) fn changes(before: &[Option<bool>], after: &[Option<bool>]) -> Vec<usize> {
        (0..after.len()).filter(|&pin| before.get(pin) != after.get(pin)).collect()
    }

    /// Whether one vector may follow another: at most one asynchronous input changes, and the clock rises last.
    /// `before` is `None` at power-up, when everything changes.
    pub(in crate::vectors) fn allow(&self, before: Option<&Step>, after: &Step) -> bool {
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

    /// The lanes in which [`allow`](Rules::allow) says yes, if each lane is a vector of its own.
    pub(in crate::vectors) fn allowed(
        &self,
        before: Option<&[Ternary]>,
        after: &[Ternary],
        pulse: Option<usize>,
    ) -> u64 {
        let clock = |all: &[Ternary]| self.clock.and_then(|clock| all.get(clock).copied());
        let mut legal = u64::MAX;
        if pulse.is_some() && pulse != self.clock {
            return 0;
        }
        if let Some(level) = clock(after) {
            legal &= if pulse.is_some() { level.is_low() } else { level.is_known() };
        }
        let Some(before) = before else { return legal & !clock(after).map_or(0, |level| level.is_high()) };
        // lanes with one change at least, and with two
        let count = |pins: &mut dyn Iterator<Item = u64>| {
            pins.fold((0, 0), |(one, two), changed| (one | changed, two | (one & changed)))
        };
        let changed = |(b, a): (&Ternary, &Ternary)| {
            (b.is_known() ^ a.is_known()) | (b.is_high() & a.is_low()) | (b.is_low() & a.is_high())
        };
        let all = || before.iter().zip(after).map(changed);
        let is_asynchronous = |(pin, _): &(usize, u64)| self.asynchronous.get(*pin) == Some(&true);
        let (_, asynchronous) = count(&mut all().enumerate().filter(is_asynchronous).map(|(_, changed)| changed));
        let (_, any) = count(&mut all());
        let low = clock(before).map_or(0, |level| level.is_low());
        let rises = low & clock(after).map_or(0, |level| level.is_high());
        legal & !asynchronous & !(rises & any)
    }

    /// The lanes in which a pin is driven, or was until now, that the device may drive at some moment of the vector.
    pub(in crate::vectors) fn fights(bank: &Bank, before: &State, outside: &[Ternary], enabled: &[u64]) -> u64 {
        let known = |all: &[Ternary], pin: usize| all.get(pin).map_or(0, |t| t.is_known());
        let cells = bank.array.cells.iter().zip(enabled);
        cells.fold(0, |lanes, (c, on)| lanes | (on & (known(&before.outside, c.pin) | known(outside, c.pin))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use gluewright_kernel::random::SplitMix;

    #[test]
    fn sixty_four_vectors_at_once_are_judged_as_one_by_one() {
        const PINS: usize = 5;
        let mut draw = SplitMix::new(1968);
        let (mut yes, mut no) = (0, 0);
        for round in 0..200 {
            let asynchronous = (0..PINS).map(|_| draw.one_in(3)).collect();
            let clock = (!draw.one_in(4)).then_some(0);
            let rules = Rules { drivable: vec![true; PINS], asynchronous, clock };
            let mut drawn = || {
                let level = |draw: &mut SplitMix| if draw.one_in(4) { None } else { Some(draw.one_in(2)) };
                (0..64).map(|_| (0..PINS).map(|_| level(&mut draw)).collect()).collect::<Vec<Vec<Option<bool>>>>()
            };
            let (before, mut after) = (drawn(), drawn());
            for (lane, after) in after.iter_mut().enumerate().filter(|(lane, _)| lane % 3 > 0) {
                // near enough that some are allowed
                let changed = after.clone();
                after.clone_from(&before[lane]);
                after[lane % PINS] = changed[lane % PINS];
            }
            let lanes = |all: &[Vec<Option<bool>>]| -> Vec<Ternary> {
                let mut words = vec![Ternary::UNKNOWN; PINS];
                for (lane, one) in (0u32..).zip(all) {
                    for (word, level) in words.iter_mut().zip(one) {
                        word.set_lane(lane, level.map_or(Ternary::UNKNOWN, Ternary::known), lane);
                    }
                }
                words
            };
            let pulse = [None, clock, Some(1)][round % 3];
            let first = round % 7 == 0;
            let from = lanes(&before);
            let allowed = rules.allowed((!first).then_some(from.as_slice()), &lanes(&after), pulse);
            for lane in 0..64 {
                let step = |all: &[Vec<Option<bool>>], pulse| Step { drive: all[lane].clone(), pulse };
                let was = step(&before, None);
                let one = rules.allow((!first).then_some(&was), &step(&after, pulse));
                assert_eq!(allowed >> lane & 1 == 1, one, "round {round}, lane {lane}");
                if one { yes += 1 } else { no += 1 }
            }
        }
        assert!(yes > 1000 && no > 1000, "{yes} {no}");
    }
}
