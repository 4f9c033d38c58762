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
    /// Terms that hold nothing are switched off as well: writers of fuse files differ in that.
    UnusedTermsOff {
        /// How many.
        terms: usize,
    },
    /// The fuses of a macrocell choose nothing that a data sheet describes, and none of its terms is ever true. It is taken as
    /// undriven.
    NotDescribed {
        /// The macrocell's pin.
        pin: PinNumber,
        /// Its fuses with their states.
        fuses: String,
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
            Remark::UnusedTermsOff { terms } => {
                write!(f, "{terms} terms that hold nothing are switched off by their own fuses")
            }
            Remark::NotDescribed { pin, fuses } => write!(
                f,
                "pin {pin} is not described: its fuses {fuses} choose what no data sheet has in this mode. No term of it is ever \
                 true, so it is taken as not driven; measure it on a burned part before you rely on that"
            ),
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
            let (unused, used): (Vec<usize>, Vec<usize>) = off.partition(|&row| self.holds_nothing(fuses, row));
            remarks.extend(used.into_iter().map(|row| Remark::TermOff { row, fuse: first + row }));
            if !unused.is_empty() {
                remarks.push(Remark::UnusedTermsOff { terms: unused.len() });
            }
        }
        if let Ok((_, mode)) = self.mode_of(fuses) {
            for macrocell in self.not_described(mode, fuses) {
                let fuses = states(macrocell.configurations.iter().flat_map(|c| &c.fuses), fuses);
                remarks.push(Remark::NotDescribed { pin: macrocell.pin, fuses });
            }
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

    /// The configuration that a macrocell's fuses choose; nothing if no data sheet describes what they choose and none of the
    /// macrocell's terms is ever true, so that it has nothing to show.
    ///
    /// # Errors
    /// If they choose what no data sheet describes, and a term of it can be true.
    pub fn described<'a>(
        &self,
        mode: &Mode,
        macrocell: &'a Macrocell,
        fuses: &Fuses,
    ) -> Result<Option<&'a Configuration>, DeviceError> {
        match self.configuration_of(mode, macrocell, fuses) {
            Ok(configuration) => Ok(Some(configuration)),
            Err(_) if macrocell.rows.clone().all(|row| self.is_never_true(fuses, row)) => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// The macrocells whose fuses choose what no data sheet describes, and which have nothing to show.
    pub fn not_described<'a>(&self, mode: &'a Mode, fuses: &Fuses) -> Vec<&'a Macrocell> {
        let is_none = |m: &&Macrocell| matches!(self.described(mode, m, fuses), Ok(None));
        mode.macrocells.iter().filter(is_none).collect()
    }

    /// Whether the term in this row reads a signal and its complement, or is switched off.
    fn is_never_true(&self, fuses: &Fuses, row: usize) -> bool {
        let linked = |column| fuses.get(self.array_fuse(row, column)) == Some(false);
        let is_off = self.term_enables.is_some_and(|first| fuses.get(first + row) == Some(false));
        is_off || (0..self.columns() / 2).any(|pair| linked(2 * pair) && linked(2 * pair + 1))
    }

    /// Whether every link of this row is there, or none: nobody has written a term into it.
    fn holds_nothing(&self, fuses: &Fuses, row: usize) -> bool {
        let mut links = (0..self.columns()).map(|column| fuses.get(self.array_fuse(row, column)));
        let first = links.next();
        links.all(|link| Some(link) == first)
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
