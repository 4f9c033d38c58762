//! The figures of a data sheet, each with its source. What no sheet gave and nobody remembers is absent.
use std::collections::BTreeMap;
use std::sync::Arc;

use gluewright::circuit::Label;

use super::Edge;

/// Where a figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Source {
    /// One of the [data sheets](super::Sheet::sheets) that were seen.
    Sheets,
    /// Memory: no sheet confirmed it.
    Memory,
}

/// A figure of a data sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The number, in the unit that its place says.
    pub value: f64,
    /// Where it comes from.
    pub source: Source,
}

/// All figures of a sheet.
#[derive(Clone, Debug, Default)]
pub struct Figures {
    /// Under what load, supply and temperature the delays hold.
    pub measured: Option<Measured>,
    /// Propagation, enable and disable delays: one for each pair of pins, change and condition.
    pub delays: Vec<Delay>,
    /// Pairs of pins whose delay is known to be absent.
    pub missing_delays: Vec<MissingDelay>,
    /// Setup and hold times.
    pub windows: Vec<Window>,
    /// How long before a clock an asynchronous input must be released.
    pub recoveries: Vec<Recovery>,
    /// Pulse widths.
    pub widths: Vec<Width>,
    /// Clock rates.
    pub rates: Vec<Rate>,
    /// What each input draws. A pin of both directions is there too.
    pub inputs: BTreeMap<Label, InputCurrents>,
    /// What each output can drive.
    pub outputs: BTreeMap<Label, OutputLimits>,
    /// What the package draws from the supply.
    pub supply: Vec<SupplyCurrent>,
    /// Thresholds of Schmitt-trigger inputs.
    pub threshold: Option<Threshold>,
    /// How long its pulses are: several where makers differ.
    pub pulses: Vec<Pulse>,
}

/// The conditions of a measurement.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// In words: load, supply, temperature.
    pub at: String,
    /// Where the words come from.
    pub source: Source,
}

/// What an output does at the end of a delay.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Change {
    /// It rises: tPLH.
    Rises,
    /// It falls: tPHL.
    Falls,
    /// It comes out of the off state with a high level: tPZH.
    FromOffToHigh,
    /// It comes out of the off state with a low level: tPZL.
    FromOffToLow,
    /// It goes off from a high level: tPHZ.
    FromHighToOff,
    /// It goes off from a low level: tPLZ.
    FromLowToOff,
}

/// What a sheet says about one quantity: its limit, and the typical value where it is given.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Span {
    /// The largest value.
    pub max: Option<Figure>,
    /// The typical value.
    pub typ: Option<Figure>,
}

/// How long a change of one pin takes to another, in ns.
#[derive(Clone, Debug, PartialEq)]
pub struct Delay {
    /// The input.
    pub from: Label,
    /// The output.
    pub to: Label,
    /// Under what condition, if it is one of several.
    pub when: Option<Arc<str>>,
    /// What the output does.
    pub change: Change,
    /// ns.
    pub ns: Span,
}

/// A delay that is known to be absent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MissingDelay {
    /// The input.
    pub from: Label,
    /// The output.
    pub to: Label,
    /// Why.
    pub why: Arc<str>,
}

/// How long an input must be steady around an edge, in ns. Both figures are the least that is needed.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// The input that must be steady.
    pub pin: Label,
    /// The clock, or the enable of a latch.
    pub clock: Label,
    /// Which of its edges.
    pub edge: Edge,
    /// Under what condition, if it is one of several.
    pub when: Option<Arc<str>>,
    /// Before the edge.
    pub setup: Option<Figure>,
    /// After the edge.
    pub hold: Option<Figure>,
}

/// How long before an edge an asynchronous input must be released, in ns, at least.
#[derive(Clone, Debug, PartialEq)]
pub struct Recovery {
    /// The asynchronous input.
    pub pin: Label,
    /// The clock.
    pub clock: Label,
    /// Which of its edges.
    pub edge: Edge,
    /// ns.
    pub ns: Figure,
}

/// Which half of a pulse is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PulseLevel {
    /// The high one.
    High,
    /// The low one.
    Low,
    /// Both.
    Either,
}

/// How long a pulse must last, in ns, at least.
#[derive(Clone, Debug, PartialEq)]
pub struct Width {
    /// The input.
    pub pin: Label,
    /// Which half of the pulse.
    pub level: PulseLevel,
    /// Under what condition, if it is one of several.
    pub when: Option<Arc<str>>,
    /// ns.
    pub ns: Figure,
}

/// The clock rate up to which a type is sure to count or shift, in MHz.
#[derive(Clone, Debug, PartialEq)]
pub struct Rate {
    /// The clock.
    pub pin: Label,
    /// MHz.
    pub mhz: Figure,
}

/// What an input draws at most. Current into the pin is positive, current out of it negative.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct InputCurrents {
    /// At a low level, in mA: IIL.
    pub low_ma: Option<Figure>,
    /// At a high level, in µA: IIH.
    pub high_ua: Option<Figure>,
}

/// What an output can drive. Current into the pin is positive, current out of it negative.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct OutputLimits {
    /// At a low level, in mA: IOL.
    pub low_ma: Option<Figure>,
    /// At a high level, in mA: IOH.
    pub high_ma: Option<Figure>,
    /// What an open collector draws at most while it doesn't pull, in µA.
    pub leak_ua: Option<Figure>,
    /// The highest voltage that an open collector may be pulled up to.
    pub max_v: Option<Figure>,
    /// What it draws at most while it is off and its net is high, in µA: IOZH.
    pub off_high_ua: Option<Figure>,
    /// What it draws at most while it is off and its net is low, in µA: IOZL.
    pub off_low_ua: Option<Figure>,
}

/// What the package draws from the supply at most, in mA: ICC.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplyCurrent {
    /// Under what condition; none is the worst one.
    pub when: Option<String>,
    /// mA.
    pub ma: Figure,
}

/// Thresholds of Schmitt-trigger inputs, in V.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Threshold {
    /// The least at which a rising input counts as high.
    pub rising_min_v: Option<Figure>,
    /// The most at which a rising input counts as high.
    pub rising_max_v: Option<Figure>,
    /// The least at which a falling input counts as low.
    pub falling_min_v: Option<Figure>,
    /// The most at which a falling input counts as low.
    pub falling_max_v: Option<Figure>,
    /// The least distance between the two.
    pub hysteresis_min_v: Option<Figure>,
}

/// How long the pulse of a one-shot or timer is: factor · (R + offset) · C.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulse {
    /// Whose parts it holds for, if makers differ.
    pub of: Option<String>,
    /// The formula as it is printed.
    pub formula: String,
    /// Where it holds.
    pub valid: Option<String>,
    /// Whether a trigger during the pulse starts it anew.
    pub retriggerable: bool,
    /// The factor.
    pub factor: Option<Figure>,
    /// What is added to the resistor, in Ω.
    pub offset_ohm: Option<Figure>,
    /// Least and largest resistor, in Ω.
    pub ohm: [Option<Figure>; 2],
    /// Least and largest capacitor, in F.
    pub farad: [Option<Figure>; 2],
    /// The shortest pulse, in ns.
    pub shortest_ns: Option<Figure>,
    /// The longest pulse, in s.
    pub longest_s: Option<Figure>,
    /// How far parts differ from the formula, in percent.
    pub tolerance_percent: Option<Figure>,
}

impl Figures {
    /// The delays from one pin to another.
    pub fn delays_between(&self, from: &Label, to: &Label) -> impl Iterator<Item = &Delay> {
        self.delays.iter().filter(move |d| &d.from == from && &d.to == to)
    }

    /// The largest supply current that is known, in mA.
    pub fn supply_max(&self) -> Option<Figure> {
        self.supply.iter().map(|s| s.ma).max_by(|a, b| a.value.total_cmp(&b.value))
    }
}
