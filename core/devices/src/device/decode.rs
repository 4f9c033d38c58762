//! From a fuse map back to the plan.
use std::ops::Range;

use super::normalise::enable_while;
use super::{Cell, Device, DeviceError, Enable, EnableSource, Function, Literal, Mode, Plan, Term};
use crate::fusefile::Fuses;

impl Device {
    /// The plan that a fuse map holds, in the form of [`normalise`](Device::normalise): the inverse of
    /// [`encode`](Device::encode) on what the device uses. Rows that are never true are left out.
    ///
    /// # Errors
    /// If the map isn't one of this device, or sets it up in a way that no data sheet defines. A macrocell that has nothing to
    /// show is left out all the same: see [`described`](Device::described).
    pub fn decode(&self, fuses: &Fuses) -> Result<Plan, DeviceError> {
        self.check(fuses)?;
        let (index, mode) = self.mode_of(fuses)?;
        let reader = Reader { device: self, mode, fuses };
        let mut plan = Plan {
            mode: index,
            reset: mode.reset.and_then(|row| reader.row(row)),
            preset: mode.preset.and_then(|row| reader.row(row)),
            signature: reader.signature(),
            ..Plan::default()
        };
        for macrocell in &mode.macrocells {
            let Some(configuration) = self.described(mode, macrocell, fuses)? else { continue };
            if configuration.function == Function::Input {
                continue;
            }
            let cell = Cell {
                function: configuration.function,
                inverted: macrocell.polarity.is_none_or(|fuse| fuses.get(fuse) == Some(false)),
                enable: match configuration.enable {
                    EnableSource::Row(row) => enable_while(reader.row(row)),
                    EnableSource::Pin(_) => Enable::Pin,
                    EnableSource::Always => Enable::Always,
                    EnableSource::Never => Enable::Never,
                },
                terms: reader.sum(&configuration.rows),
                exclusive: reader.sum(&configuration.exclusive),
            };
            plan.cells.insert(macrocell.pin, cell);
        }
        Ok(self.normalise(&plan))
    }
}

struct Reader<'a> {
    device: &'a Device,
    mode: &'a Mode,
    fuses: &'a Fuses,
}

impl Reader<'_> {
    fn sum(&self, rows: &Range<usize>) -> Vec<Term> {
        rows.clone().filter_map(|row| self.row(row)).collect()
    }

    /// The term in this row; `None` if it is never true.
    fn row(&self, row: usize) -> Option<Term> {
        if self.device.term_enables.is_some_and(|first| self.fuses.get(first + row) == Some(false)) {
            return None;
        }
        let linked = |column: usize| self.fuses.get(self.device.array_fuse(row, column)) == Some(false);
        let mut literals = Vec::new();
        for (pair, &source) in self.mode.columns.iter().enumerate() {
            let senses = [false, true].into_iter().filter(|&complement| linked(pair * 2 + usize::from(complement)));
            literals.extend(senses.map(|complement| Literal { source, complement }));
        }
        let term = Term(literals);
        (!term.is_contradiction()).then_some(term)
    }

    fn signature(&self) -> Vec<u8> {
        let states: Vec<bool> =
            self.device.signature.clone().unwrap_or(0..0).filter_map(|fuse| self.fuses.get(fuse)).collect();
        states.chunks(8).map(|bits| bits.iter().fold(0, |byte, &bit| byte << 1 | u8::from(bit))).collect()
    }
}
