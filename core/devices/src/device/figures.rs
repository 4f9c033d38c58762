//! Figures of data sheets: speed grades and electrical limits, each with where it comes from.

/// Where a figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Provenance {
    /// This data sheet and page.
    Sheet(&'static str),
    /// Nobody looked it up: check it before you rely on it.
    Memory,
}

impl std::fmt::Display for Provenance {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Provenance::Sheet(sheet) => f.write_str(sheet),
            Provenance::Memory => f.write_str("from memory"),
        }
    }
}

/// A number with its provenance. The field that holds it says the unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The number.
    pub value: f64,
    /// Where it comes from.
    pub from: Provenance,
}

impl Figure {
    /// A number of a data sheet.
    pub(super) const fn sheet(value: f64, sheet: &'static str) -> Option<Self> {
        Some(Figure { value, from: Provenance::Sheet(sheet) })
    }

    /// A number that nobody looked up.
    pub(super) const fn memory(value: f64) -> Option<Self> {
        Some(Figure { value, from: Provenance::Memory })
    }
}

/// A speed grade. All times in nanoseconds; `None` is not known.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Grade {
    /// Its suffix, and what tells it from others of that suffix: `-7`, `-10, PALC22V10D`.
    pub name: &'static str,
    /// Input or feedback through the array to a combinational output, longest.
    pub propagation: Option<Figure>,
    /// Clock edge to a registered output, longest.
    pub clock_to_output: Option<Figure>,
    /// Clock edge to the register's feedback at the array, longest (calculated by the makers, not tested).
    pub clock_to_feedback: Option<Figure>,
    /// Input or feedback before the clock edge, shortest.
    pub setup: Option<Figure>,
    /// Input or feedback after the clock edge, shortest.
    pub hold: Option<Figure>,
    /// Clock high, shortest.
    pub clock_high: Option<Figure>,
    /// Clock low, shortest.
    pub clock_low: Option<Figure>,
    /// Enable term true to output driven, longest.
    pub term_enable: Option<Figure>,
    /// Enable term false to output floating, longest.
    pub term_disable: Option<Figure>,
    /// Enable pin low to output driven, longest.
    pub pin_enable: Option<Figure>,
    /// Enable pin high to output floating, longest.
    pub pin_disable: Option<Figure>,
    /// Input of the reset term to the registered output, longest.
    pub reset_to_output: Option<Figure>,
    /// Reset term true, shortest.
    pub reset_width: Option<Figure>,
    /// Reset term false before the clock edge, shortest.
    pub reset_recovery: Option<Figure>,
    /// Preset term false before the clock edge, shortest.
    pub preset_recovery: Option<Figure>,
    /// Supply current in milliamperes, largest.
    pub supply_current: Option<Figure>,
    /// The least delays, where a sheet gives them.
    pub shortest: Shortest,
}

/// The least delays of a speed grade, in nanoseconds, as far as its sheet gives them.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Shortest {
    /// Input or feedback through the array to a combinational output.
    pub propagation: Option<Figure>,
    /// Clock edge to a registered output.
    pub clock_to_output: Option<Figure>,
    /// Enable term true to output driven.
    pub term_enable: Option<Figure>,
    /// Enable term false to output floating.
    pub term_disable: Option<Figure>,
    /// Enable pin low to output driven.
    pub pin_enable: Option<Figure>,
    /// Enable pin high to output floating.
    pub pin_disable: Option<Figure>,
    /// Input of the reset term to the registered output.
    pub reset_to_output: Option<Figure>,
}

/// What holds an open input pin of the device.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Termination {
    /// A pull-up on every pin.
    PullUp,
    /// A circuit that holds the last level.
    Keeper,
    /// Nothing.
    None,
    /// Not known.
    Unknown,
}

/// Electrical limits by one data sheet. Currents into the pin are positive; `None` is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Electrical {
    /// Which parts it speaks of: `commercial, E2 CMOS`.
    pub parts: &'static str,
    /// Highest voltage that reads low, in volts.
    pub vil_max: Option<Figure>,
    /// Lowest voltage that reads high, in volts.
    pub vih_min: Option<Figure>,
    /// Input current while low, in microamperes.
    pub iil: Option<Figure>,
    /// Input current while high, in microamperes.
    pub iih: Option<Figure>,
    /// Highest voltage of a low output that sinks [`iol`](Electrical::iol), in volts.
    pub vol_max: Option<Figure>,
    /// Output current while low, in milliamperes.
    pub iol: Option<Figure>,
    /// Lowest voltage of a high output that sources [`ioh`](Electrical::ioh), in volts.
    pub voh_min: Option<Figure>,
    /// Output current while high, in milliamperes.
    pub ioh: Option<Figure>,
    /// Supply current in milliamperes, largest.
    pub icc_max: Option<Figure>,
    /// Lowest supply voltage, in volts.
    pub vcc_min: Option<Figure>,
    /// Highest supply voltage, in volts.
    pub vcc_max: Option<Figure>,
    /// Capacitance of an input, in picofarads.
    pub input_capacitance: Option<Figure>,
    /// What holds an open input, and where that comes from.
    pub termination: (Termination, Provenance),
}

impl Electrical {
    /// Whether a limit of its inputs or outputs is one that nobody looked up in a data sheet.
    pub fn is_from_memory(&self) -> bool {
        let limits = [self.vil_max, self.vih_min, self.iil, self.iih, self.vol_max, self.iol, self.voh_min, self.ioh];
        limits.into_iter().flatten().any(|figure| figure.from == Provenance::Memory)
    }
}

impl Default for Electrical {
    fn default() -> Self {
        Electrical {
            parts: "",
            vil_max: None,
            vih_min: None,
            iil: None,
            iih: None,
            vol_max: None,
            iol: None,
            voh_min: None,
            ioh: None,
            icc_max: None,
            vcc_min: None,
            vcc_max: None,
            input_capacitance: None,
            termination: (Termination::Unknown, Provenance::Memory),
        }
    }
}
