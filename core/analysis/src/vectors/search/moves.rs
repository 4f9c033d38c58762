//! The vectors that the rules allow from a state, as far as they bear on a cone, sixty-four at a time.
use super::cone::Cone;
use crate::vectors::socket::bank::State;
use crate::vectors::socket::ternary::Ternary;
use gluewright_kernel::random::SplitMix;

/// Levels of one pin in one vector: the tester's, or none.
pub(super) type Level = Option<bool>;

/// The most pins whose levels are all combined, and the number of combinations that are drawn where there are more.
const MOST_FREE: usize = 10;
const DRAWN: usize = 256;

/// The lanes whose number has this bit.
const LANES: [u64; 6] = [
    0xAAAA_AAAA_AAAA_AAAA,
    0xCCCC_CCCC_CCCC_CCCC,
    0xF0F0_F0F0_F0F0_F0F0,
    0xFF00_FF00_FF00_FF00,
    0xFFFF_0000_FFFF_0000,
    0xFFFF_FFFF_0000_0000,
];

/// One way to go on: what changes beside the free pins.
#[derive(Clone, Copy, Debug)]
struct Kind {
    /// The input (by its place) that takes a new level.
    change: Option<(usize, Level)>,
    /// The clock's level.
    clock: bool,
    /// Nothing changes but the clock.
    still: bool,
}

/// The vectors to try from a state, sixty-four at a time.
pub(super) struct Moves {
    /// Those without a clock pulse at their end, and those with one.
    kinds: [Vec<Kind>; 2],
    /// Inputs, by their place, that take all levels.
    free: Vec<usize>,
    /// Combinations of their levels; drawn, if these are too many.
    combinations: usize,
    /// Whether all combinations are there.
    pub(super) whole: bool,
}

impl Moves {
    /// The vectors that the rules allow from here, as far as they bear on the cone.
    /// `board`: every pin has a level and gives way to the device.
    pub(super) fn new(cone: &Cone, board: bool, standing: &State) -> Moves {
        let level = |pin: usize| standing.outside.get(pin).and_then(|o| o.lane(0));
        let mut changes = vec![None];
        let mut free = Vec::new();
        for (place, input) in cone.inputs.iter().enumerate() {
            let now = level(input.pin);
            if input.asynchronous || input.cell.is_some() {
                let all = [Some(false), Some(true), None];
                let may = all.into_iter().filter(|to| *to != now && (to.is_some() || (input.cell.is_some() && !board)));
                changes.extend(may.map(|to| Some((place, to))));
            } else {
                free.push(place);
            }
        }
        let whole = free.len() <= MOST_FREE;
        let combinations = if whole { 1 << free.len() } else { DRAWN };
        let now = cone.clock.and_then(level) == Some(true);
        let kind = |clock| changes.iter().map(move |&change| Kind { change, clock, still: false });
        let mut rest: Vec<Kind> = kind(now).collect();
        let mut pulses = Vec::new();
        match cone.clock {
            Some(_) if now => rest.extend(kind(false)),
            Some(_) => {
                pulses.extend(kind(false));
                if cone.reads_clock {
                    rest.push(Kind { change: None, clock: true, still: true });
                }
            }
            None => {}
        }
        Moves { kinds: [rest, pulses], free, combinations, whole }
    }

    pub(super) fn words(&self, pulse: usize) -> usize {
        self.kinds.get(pulse).map_or(0, |k| (k.len() * self.combinations).div_ceil(64))
    }

    /// Sixty-four of the vectors: the levels of all inputs, the clock's last, and the lanes that hold one.
    pub(super) fn word(&self, cone: &Cone, pulse: usize, word: usize, standing: &State) -> (Vec<Ternary>, u64) {
        let kinds = self.kinds.get(pulse).map_or(&[][..], Vec::as_slice);
        let level = |l: Level| l.map_or(Ternary::UNKNOWN, Ternary::known);
        let now = |pin: usize| level(standing.outside.get(pin).and_then(|o| o.lane(0)));
        let levels_now: Vec<Ternary> = cone.inputs.iter().map(|i| now(i.pin)).chain([Ternary::UNKNOWN]).collect();
        let mut levels = levels_now.clone();
        let first = word * 64;
        let mut draw = SplitMix::new(first as u64 + pulse as u64);
        for (bit, &place) in self.free.iter().enumerate() {
            let high = match LANES.get(bit) {
                _ if !self.whole => draw.word(),
                Some(&pattern) => pattern,
                None if first >> bit & 1 == 1 => u64::MAX,
                None => 0,
            };
            if let Some(to) = levels.get_mut(place) {
                *to = Ternary { can_low: !high, can_high: high };
            }
        }
        // combinations are a power of two, so lanes of one kind lie side by side
        let together = self.combinations.min(64);
        let mut lanes = 0;
        for group in 0..64 / together {
            let Some(kind) = kinds.get((first + group * together) / self.combinations) else { break };
            let mask = if together == 64 { u64::MAX } else { ((1 << together) - 1) << (group * together) };
            let mut put = |place: usize, to: Ternary, mask: u64| {
                if let Some(level) = levels.get_mut(place) {
                    *level = to.in_lanes(mask, *level);
                }
            };
            put(levels_now.len() - 1, Ternary::known(kind.clock), mask);
            if let Some((place, to)) = kind.change {
                put(place, level(to), mask);
            }
            if kind.still {
                let only = if first.is_multiple_of(self.combinations) { mask & mask.wrapping_neg() } else { 0 };
                for &place in &self.free {
                    put(place, levels_now.get(place).copied().unwrap_or(Ternary::UNKNOWN), only);
                }
                lanes |= only;
            } else {
                lanes |= mask;
            }
        }
        (levels, lanes)
    }
}
