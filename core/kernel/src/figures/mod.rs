//! What data sheets say of a part in numbers, as a board's library hands it over: times, currents, levels. Data only.
//!
//! Currents into a pin are positive, out of it negative. A figure that is not known is absent, never nought.
use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;

use crate::circuit::Label;

/// A figure and where it comes from. The field that holds it says the unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// The number.
    pub value: f64,
    /// The data sheet, or that there is none, in words.
    pub source: Arc<str>,
    /// Whether no sheet confirmed it, or a part of it.
    pub from_memory: bool,
}

/// What an output does at the end of a delay.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Change {
    /// It rises.
    Rises,
    /// It falls.
    Falls,
    /// It comes out of the off state with a high level.
    DrivesHigh,
    /// It comes out of the off state with a low level.
    DrivesLow,
    /// It lets go of its net, which it drove high.
    LetsGoHigh,
    /// It lets go of its net, which it drove low.
    LetsGoLow,
}

/// How long a change of one pin takes to another at most, in ns.
#[derive(Clone, Debug, PartialEq)]
pub struct Delay {
    /// The input.
    pub from: Label,
    /// The output.
    pub to: Label,
    /// What the output does.
    pub change: Change,
    /// ns, at most.
    pub most: Figure,
}

/// How long an input must be steady around an edge, in ns, at least.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// The input that must be steady.
    pub pin: Label,
    /// The clock, or the enable of a latch.
    pub clock: Label,
    /// Whether the edge is a rise of that pin.
    pub rising: bool,
    /// Before the edge.
    pub setup: Option<Figure>,
    /// After the edge.
    pub hold: Option<Figure>,
}

/// How long a pulse at a pin must last, in ns, at least.
#[derive(Clone, Debug, PartialEq)]
pub struct Width {
    /// The input.
    pub pin: Label,
    /// Whether the high half is meant, the low one, or (nothing) either.
    pub high: Option<bool>,
    /// ns.
    pub least: Figure,
}

/// What an input draws at most.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct InputLoad {
    /// At a low level, in mA.
    pub low_ma: Option<Figure>,
    /// At a high level, in µA.
    pub high_ua: Option<Figure>,
}

/// What an output can drive.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct OutputDrive {
    /// At a low level, in mA.
    pub low_ma: Option<Figure>,
    /// At a high level, in mA.
    pub high_ma: Option<Figure>,
    /// What it draws at most while off or not pulling, its net being high, in µA.
    pub off_high_ua: Option<Figure>,
    /// What it draws at most while off, its net being low, in µA.
    pub off_low_ua: Option<Figure>,
    /// The highest voltage that an open collector may be pulled up to.
    pub max_v: Option<Figure>,
}

/// What its levels are made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Levels {
    /// TTL inputs and outputs.
    #[default]
    Ttl,
    /// CMOS outputs behind inputs with TTL thresholds.
    CmosOutputs,
    /// CMOS inputs and outputs.
    Cmos,
}

/// What an input does that nothing drives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum OpenInput {
    /// It reads high, as TTL does (common practice, no source).
    #[default]
    High,
    /// It reads low: a resistor inside pulls it down.
    Low,
    /// Nobody can know: the gate of a transistor, at any level.
    Unknown,
}

/// How long the pulse of a one-shot or timer is, by its resistor and capacitor: factor · (R + offset) · C.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulse {
    /// Whose parts it holds for, if makers differ.
    pub of: Option<Arc<str>>,
    /// The formula as the sheets print it.
    pub formula: Arc<str>,
    /// Its factor.
    pub factor: Option<Figure>,
    /// What is added to the resistor, in Ω.
    pub offset_ohm: Option<Figure>,
    /// Whether a trigger during the pulse starts it anew.
    pub retriggerable: bool,
}

impl Pulse {
    /// Its length in s, with this resistor in Ω and this capacitor in F.
    pub fn seconds(&self, ohm: f64, farad: f64) -> Option<f64> {
        let offset = self.offset_ohm.as_ref().map_or(0.0, |f| f.value);
        self.factor.as_ref().map(|factor| factor.value * (ohm + offset) * farad)
    }
}

/// All figures of one type of part.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartFigures {
    /// Longest delays. Several for one pair of pins and change are for different conditions.
    pub delays: Vec<Delay>,
    /// Setup and hold times.
    pub windows: Vec<Window>,
    /// Pulse widths.
    pub widths: Vec<Width>,
    /// What each input draws; a pin of both directions has its off state here too.
    pub inputs: BTreeMap<Label, InputLoad>,
    /// What each output can drive.
    pub outputs: BTreeMap<Label, OutputDrive>,
    /// What the package draws from the supply at most, in mA.
    pub supply_ma: Option<Figure>,
    /// Its inputs are Schmitt triggers: they take slow edges and noise that others don't.
    pub schmitt: bool,
    /// What its levels are made for.
    pub levels: Levels,
    /// What its inputs do that nothing drives.
    pub open_input: OpenInput,
    /// How long its pulses are, if it is a one-shot or a timer: several where makers differ.
    pub pulses: Vec<Pulse>,
}

impl PartFigures {
    /// The longest of the delays from one pin to another whose output does this.
    pub fn longest(&self, from: &Label, to: &Label, change: Change) -> Option<&Figure> {
        let all = self.delays.iter().filter(|d| &d.from == from && &d.to == to && d.change == change);
        all.map(|d| &d.most).max_by(|a, b| a.value.total_cmp(&b.value))
    }

    /// Of several such figures for different conditions the least: whatever the condition, the sheet allows a delay of so
    /// much.
    pub fn least_of_longest(&self, from: &Label, to: &Label, change: Change) -> Option<&Figure> {
        let all = self.delays.iter().filter(|d| &d.from == from && &d.to == to && d.change == change);
        all.map(|d| &d.most).min_by(|a, b| a.value.total_cmp(&b.value))
    }
}
