//! An estimate of what a drawn vector finds, before any device with a flip is simulated.
use super::drawn::{Search, held};
use crate::vectors::flips::flip::{Change, Owner};
use crate::vectors::socket::bank::State;
use crate::vectors::socket::ternary::Ternary;

impl Search<'_> {
    /// How much each of sixty-four vectors promises: open flips that it makes differ in their own row, more for those
    /// whose pin is tested, and a little for states that are new.
    pub(super) fn rate(&self, from: &State, outside: &[Ternary], state: &State, pulsed: bool) -> Vec<u32> {
        let mut scores = vec![0u32; 64];
        let mut add = |lanes: u64, weight: u32| {
            let mut left = lanes;
            while left != 0 {
                if let Some(s) = scores.get_mut(left.trailing_zeros() as usize) {
                    *s += weight;
                }
                left &= left - 1;
            }
        };
        let good = self.good;
        // what registers load is decided before the pulse
        let mut before = from.clone();
        if pulsed {
            good.apply(&mut before, outside, None);
        }
        let terms = |s: &State| (0..good.array.rows.len()).map(|row| good.term(s, row)).collect::<Vec<_>>();
        let (at_rest, early) = (terms(state), if pulsed { terms(&before) } else { Vec::new() });
        let tested: Vec<u64> = good
            .array
            .cells
            .iter()
            .map(|c| good.enable(state, c).is_high() & !outside.get(c.pin).map_or(0, |o| o.is_known()))
            .collect();
        for (flip, _) in self.flips.iter().zip(&self.campaign.found).filter(|(_, found)| !**found) {
            let (row, but) = match flip.what {
                Change::Link { row, pair, complement } => (row, Some((pair, complement))),
                Change::Term { row } => (row, None),
                Change::Setup(_) => {
                    // a changed setup is there in every vector alike: no vector is preferred for it
                    continue;
                }
            };
            let Some(owner) = self.owners.of(row) else { continue };
            let clocked = match owner {
                Owner::Sum(cell) => good.array.cells.get(cell).is_some_and(|c| c.is_register),
                Owner::Preset => true,
                Owner::Enable(_) | Owner::Reset => false,
            };
            if clocked && !pulsed {
                continue;
            }
            let (s, values) = if clocked { (&before, &early) } else { (state, &at_rest) };
            let term = match but {
                Some(literal) => good.term_without(s, row, literal),
                None => good.term(s, row),
            };
            let opposed = but.map_or(u64::MAX, |(pair, no)| good.signal(s, pair).not_if(no).is_low());
            let mut lanes = term.is_high() & opposed & if clocked { good.reset(state).is_low() } else { u64::MAX };
            if lanes == 0 {
                continue;
            }
            match owner {
                Owner::Sum(cell) => {
                    for other in good.live_rows(cell).iter().filter(|&&r| r != row) {
                        lanes &= values.get(*other).map_or(0, |t| t.is_low());
                    }
                    let tested = tested.get(cell).copied().unwrap_or(0);
                    add(lanes & tested, 8);
                    add(lanes & !tested, 2);
                }
                Owner::Enable(_) => add(lanes, 3),
                Owner::Reset | Owner::Preset => add(lanes, 2),
            }
        }
        // a vector without a pulse shows what is there; one with a pulse may lose it
        let weight = if pulsed { 1 } else { 8 };
        for ((latent, &tested), cell) in self.campaign.latent().into_iter().zip(&tested).zip(&good.array.cells) {
            if latent > 0 && cell.is_register {
                add(tested, latent.min(64) * weight);
            }
        }
        if good.array.has_registers() {
            for lane in 0..64 {
                if held(state, lane).is_some_and(|q| !self.visited.contains(&q)) {
                    add(1 << lane, 3);
                }
            }
        }
        scores
    }
}
