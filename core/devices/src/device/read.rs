//! What the fuses that aren't in the array say: mode and configurations, and what is odd about a fuse map.
use super::{Configuration, Device, DeviceError, Macrocell, Mode, PinNumber};
use crate::fusefile::Fuses;

/// Something about a fuse map that its reader should know; the map can be read all the same.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Remark {
    /// The map is of the kind that can turn on powering down by a pin; it says it doesn't.
    PowerDownFuse {
        /// The fuse that says so.
        fuse: usize,
    },
    /// A product term is switched off by its own fuse, which ordinary maps never do.
    TermOff {
        /// The row.
        row: usize,
        /// The fuse.
        fuse: usize,
    },
    /// The map is of the kind that holds no signature.
    NoSignature,
}

impl std::fmt::Display for Remark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Remark::PowerDownFuse { fuse } => write!(
                f,
                "fuse {fuse} is 0, which leaves powering down by a pin off (from memory): compare the data sheet of the part"
            ),
            Remark::TermOff { row, fuse } => write!(f, "fuse {fuse} switches the product term in row {row} off"),
            Remark::NoSignature => write!(f, "this kind of fuse map holds no user signature"),
        }
    }
}

impl Device {
    /// What is odd about a fuse map of this device.
    pub fn remarks(&self, fuses: &Fuses) -> Vec<Remark> {
        let mut remarks = Vec::new();
        if let Some(first) = self.term_enables {
            let off = (0..self.rows).filter(|row| fuses.get(first + row) == Some(false));
            remarks.extend(off.map(|row| Remark::TermOff { row, fuse: first + row }));
        }
        if self.signature.as_ref().is_some_and(|s| s.end > fuses.len()) {
            remarks.push(Remark::NoSignature);
        }
        if let Some(fuse) = self.power_down.filter(|&fuse| fuses.get(fuse) == Some(false)) {
            remarks.push(Remark::PowerDownFuse { fuse });
        }
        remarks
    }

    /// Checks the number of fuses and that nothing is on that a plan or circuit can't show.
    pub fn check(&self, fuses: &Fuses) -> Result<(), DeviceError> {
        if self.blocks.is_some() {
            return Err(DeviceError::NoFuseMap { device: self.name });
        }
        let found = fuses.len();
        if found != self.fuses && !self.other_sizes.contains(&found) {
            let sizes: Vec<String> =
                std::iter::once(&self.fuses).chain(&self.other_sizes).map(usize::to_string).collect();
            return Err(DeviceError::FuseCount { device: self.name, expected: sizes.join(" or "), found });
        }
        match self.power_down {
            Some(fuse) if fuses.get(fuse) == Some(true) => Err(DeviceError::PowerDown { device: self.name, fuse }),
            _ => Ok(()),
        }
    }

    /// The mode that the global fuses choose, with its index.
    pub fn mode_of(&self, fuses: &Fuses) -> Result<(usize, &Mode), DeviceError> {
        self.modes.iter().enumerate().find(|(_, m)| matches(&m.fuses, fuses)).ok_or_else(|| {
            DeviceError::UndefinedMode {
                device: self.name,
                fuses: states(self.modes.iter().flat_map(|m| &m.fuses), fuses),
            }
        })
    }

    /// The configuration that a macrocell's fuses choose.
    pub fn configuration_of<'a>(
        &self,
        mode: &Mode,
        macrocell: &'a Macrocell,
        fuses: &Fuses,
    ) -> Result<&'a Configuration, DeviceError> {
        macrocell.configurations.iter().find(|c| matches(&c.fuses, fuses)).ok_or_else(|| {
            DeviceError::UndefinedConfiguration {
                device: self.name,
                mode: mode.name,
                pin: macrocell.pin,
                fuses: states(macrocell.configurations.iter().flat_map(|c| &c.fuses), fuses),
            }
        })
    }

    /// Whether this is the pin of a macrocell.
    pub fn has_macrocell(&self, pin: PinNumber) -> bool {
        self.modes.iter().any(|m| m.macrocell(pin).is_some())
    }
}

fn matches(wanted: &[(usize, bool)], fuses: &Fuses) -> bool {
    wanted.iter().all(|&(fuse, state)| fuses.get(fuse) == Some(state))
}

fn states<'a>(of: impl Iterator<Item = &'a (usize, bool)>, fuses: &Fuses) -> String {
    let mut numbers: Vec<usize> = of.map(|&(fuse, _)| fuse).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let text = |fuse| format!("{fuse}={}", u8::from(fuses.get(fuse).unwrap_or(false)));
    numbers.into_iter().map(text).collect::<Vec<_>>().join(" ")
}
