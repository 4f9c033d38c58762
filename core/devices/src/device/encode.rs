//! From a plan to the fuse map.
use std::ops::Range;

use super::{
    Cell, Configuration, Device, DeviceError, Enable, EnableSource, Function, Macrocell, Mode, PinNumber, Plan, Term,
};
use crate::fusefile::Fuses;

impl Device {
    /// The fuse map of a plan. Product terms fill a macrocell's rows from the first on, unused rows are all 0: never
    /// true. Macrocells that the plan doesn't list are left undriven where the device can do that.
    ///
    /// # Errors
    /// If the device can't do what the plan asks for; the message names the pin and what would help.
    pub fn encode(&self, plan: &Plan) -> Result<Fuses, DeviceError> {
        if self.blocks.is_some() {
            return Err(DeviceError::NoFuseMap { device: self.name });
        }
        let mode = self.mode(plan.mode).ok_or(DeviceError::NoMode {
            device: self.name,
            mode: plan.mode,
            modes: self.modes.len(),
        })?;
        if let Some(&pin) = plan.cells.keys().find(|&&pin| mode.macrocell(pin).is_none()) {
            let pins: Vec<String> = mode.macrocells.iter().map(|m| m.pin.to_string()).collect();
            return Err(DeviceError::NoMacrocell { device: self.name, pin, pins: pins.join(", ") });
        }
        let mut writer = Writer { device: self, mode, fuses: Fuses::new(self.fuses, false) };
        writer.settings(&mode.fuses);
        for macrocell in &mode.macrocells {
            match plan.cells.get(&macrocell.pin) {
                Some(cell) => writer.cell(macrocell, cell)?,
                None => writer.cell(macrocell, &macrocell.idle())?,
            }
        }
        writer.global("reset", mode.reset, plan.reset.as_ref())?;
        writer.global("preset", mode.preset, plan.preset.as_ref())?;
        if let Some(first) = self.term_enables {
            (first..first + self.rows).for_each(|fuse| writer.set(fuse, true));
        }
        writer.signature(&plan.signature)?;
        Ok(writer.fuses)
    }
}

struct Writer<'a> {
    device: &'a Device,
    mode: &'a Mode,
    fuses: Fuses,
}

impl Writer<'_> {
    fn set(&mut self, fuse: usize, state: bool) {
        self.fuses.set(fuse, state);
    }

    fn settings(&mut self, fuses: &[(usize, bool)]) {
        fuses.iter().for_each(|&(fuse, state)| self.set(fuse, state));
    }

    fn cell(&mut self, macrocell: &Macrocell, cell: &Cell) -> Result<(), DeviceError> {
        let (device, pin) = (self.device.name, macrocell.pin);
        // an input asked for by name is what an idle macrocell is, where the device can leave it undriven
        let idle = macrocell.idle();
        let cell = match cell.function {
            Function::Input if idle.enable == Enable::Never && cell.terms.is_empty() => &idle,
            _ => cell,
        };
        let configuration = macrocell.configuration(cell.function).ok_or(DeviceError::NoFunction {
            device,
            mode: self.mode.name,
            pin,
            function: cell.function,
        })?;
        self.settings(&configuration.fuses);
        match macrocell.polarity {
            Some(fuse) => self.set(fuse, !cell.inverted),
            None if !cell.inverted => return Err(DeviceError::NoPolarity { device, pin }),
            None => {}
        }
        self.enable(pin, configuration, &cell.enable)?;
        self.sum(pin, &configuration.rows, &cell.terms)?;
        self.sum(pin, &configuration.exclusive, &cell.exclusive)
    }

    fn sum(&mut self, pin: PinNumber, rows: &Range<usize>, terms: &[Term]) -> Result<(), DeviceError> {
        let terms: Vec<&Term> = terms.iter().filter(|t| !t.is_contradiction()).collect();
        let limit = rows.len();
        if terms.len() > limit {
            let device = self.device.name;
            return Err(DeviceError::TooManyTerms { device, pin, limit, needed: terms.len() });
        }
        rows.clone().zip(terms).try_for_each(|(row, term)| self.row(row, term))
    }

    fn enable(&mut self, pin: u16, configuration: &Configuration, enable: &Enable) -> Result<(), DeviceError> {
        let possible = match (configuration.enable, enable) {
            (EnableSource::Row(_), Enable::Never)
            | (EnableSource::Pin(_), Enable::Pin)
            | (EnableSource::Always, Enable::Always)
            | (EnableSource::Never, Enable::Never) => return Ok(()),
            (EnableSource::Row(row), Enable::Always) => return self.row(row, &Term::always()),
            (EnableSource::Row(row), Enable::While(term)) if !term.is_contradiction() => return self.row(row, term),
            (EnableSource::Row(_), Enable::While(_)) => return Ok(()),
            (EnableSource::Row(_), Enable::Pin) => "by a term",
            (EnableSource::Pin(_), _) => "by the enable pin",
            (EnableSource::Always, _) => "at all times",
            (EnableSource::Never, _) => "at no time",
        };
        let asked = match enable {
            Enable::Always => "at all times",
            Enable::Never => "at no time",
            Enable::While(_) => "by a term",
            Enable::Pin => "by the enable pin",
        };
        Err(DeviceError::NoEnable { device: self.device.name, pin, possible, asked })
    }

    fn global(&mut self, what: &'static str, row: Option<usize>, term: Option<&Term>) -> Result<(), DeviceError> {
        match (row, term) {
            (_, None) => Ok(()),
            (Some(row), Some(term)) if !term.is_contradiction() => self.row(row, term),
            (Some(_), Some(_)) => Ok(()),
            (None, Some(_)) => Err(DeviceError::NoGlobalTerm { device: self.device.name, what }),
        }
    }

    /// Opens every link of a row but those of the literals.
    fn row(&mut self, row: usize, term: &Term) -> Result<(), DeviceError> {
        for column in 0..self.device.columns() {
            self.set(self.device.array_fuse(row, column), true);
        }
        for &literal in &term.0 {
            let pair =
                self.mode.pair(literal.source).ok_or(DeviceError::NoColumn { device: self.device.name, literal })?;
            self.set(self.device.array_fuse(row, pair * 2 + usize::from(literal.complement)), false);
        }
        Ok(())
    }

    fn signature(&mut self, bytes: &[u8]) -> Result<(), DeviceError> {
        let range = self.device.signature.clone().unwrap_or(0..0);
        let (device, limit, needed) = (self.device.name, range.len() / 8, bytes.len());
        if needed > limit {
            return Err(DeviceError::SignatureTooLong { device, limit, needed });
        }
        for (fuse, i) in range.zip(0..needed * 8) {
            let state = bytes.get(i / 8).is_some_and(|b| b << (i % 8) & 0x80 != 0);
            self.set(fuse, state);
        }
        Ok(())
    }
}
