//! Which contacts bring the registers to a known level.
use std::cmp::Reverse;

use super::action::Action;
use super::bench::Bench;
use super::moves::Contacts;
use gluewright_kernel::circuit::Direction;

/// A contact that brings registers to a known level.
#[derive(Clone, Debug)]
pub(super) struct Reset {
    pub(super) row: usize,
    pub(super) assert: Vec<Action>,
    pub(super) release: Vec<Action>,
    registers: usize,
}

impl Contacts<'_> {
    /// Contacts whose assertion alone, or with one clock pulse, gives registers a known level; the best one first.
    pub(super) fn resets(&self, rest: &Bench<'_>) -> Vec<Reset> {
        let known = Self::known;
        let pulses = self.pulses(rest);
        // what a pulse tells without any assertion is no reset's merit
        let idle: Vec<usize> = pulses
            .iter()
            .map(|pulse| {
                let mut bench = rest.clone();
                self.try_all(std::slice::from_ref(pulse), &mut bench);
                known(&bench)
            })
            .collect();
        let before = known(rest);
        let mut found: Vec<Reset> = Vec::new();
        for (row, r) in self.rows.iter().enumerate() {
            if r.direction != Direction::Input || self.clocks(rest, row) || self.group(row).is_some() {
                continue;
            }
            let Some(now) = rest.applied(self.port(row)) else { continue };
            let put = |high: bool| Action::Put { rows: vec![(row, high)], together: false };
            let mut tries = vec![(vec![put(!now)], before)];
            tries.extend(pulses.iter().zip(&idle).map(|(pulse, &alone)| (vec![put(!now), pulse.clone()], alone)));
            for (assert, without) in tries {
                let mut bench = rest.clone();
                if !self.try_all(&assert, &mut bench) {
                    continue;
                }
                let registers = known(&bench).saturating_sub(without);
                if registers > 0 {
                    found.push(Reset { row, assert, release: vec![put(now)], registers });
                    break;
                }
            }
        }
        found.sort_by_key(|r| (Reverse(r.registers), r.assert.len()));
        // a contact that loads one register of many is no reset
        let most = found.first().map_or(0, |r| r.registers);
        found.retain(|r| r.registers == most);
        if found.iter().any(|r| r.assert.len() == 1) {
            found.retain(|r| r.assert.len() == 1);
        }
        found
    }

    /// A pulse that alone gives registers a known level.
    pub(super) fn settling_pulse(&self, rest: &Bench<'_>) -> Option<Action> {
        let before = Self::known(rest);
        self.pulses(rest).into_iter().find(|pulse| {
            let mut bench = rest.clone();
            self.try_all(std::slice::from_ref(pulse), &mut bench) && Self::known(&bench) > before
        })
    }

    /// How many registers have a known level.
    fn known(bench: &Bench<'_>) -> usize {
        let cells = bench.machine().cells().iter().zip(bench.held());
        cells.filter(|(c, held)| c.is_register && held.known().is_some()).count()
    }
}
