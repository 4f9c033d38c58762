//! The shape of a data file, table by table.
use gluewright::board::PinRole;
use gluewright::circuit::{Label, Polarity, Rail, Stage};
use serde::Deserialize;

use super::error::Fault;
use super::figures::{Figure, PulseLevel, Source};
use super::{Edge, Memory, NoLogic, Pin};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct File {
    pub(super) r#type: String,
    pub(super) made_as: Option<String>,
    pub(super) title: String,
    pub(super) package: u16,
    pub(super) family: Option<String>,
    #[serde(default)]
    pub(super) also: Vec<String>,
    pub(super) no_logic: Option<NoLogic>,
    pub(super) open_input: Option<OpenInput>,
    pub(super) sheets: Vec<String>,
    #[serde(default)]
    pub(super) from_memory: Vec<Recalled>,
    #[serde(default)]
    pub(super) notes: Vec<String>,
    #[serde(default)]
    pub(super) doubts: Vec<String>,
    pub(super) pins: Vec<PinRow>,
    #[serde(default)]
    pub(super) not_shared: Vec<NotSharedRow>,
    #[serde(default)]
    pub(super) family_doubt: Vec<FamilyDoubtRow>,
    pub(super) measured: Option<MeasuredRow>,
    #[serde(default)]
    pub(super) delay: Vec<DelayRow>,
    #[serde(default)]
    pub(super) enable: Vec<EnableRow>,
    #[serde(default)]
    pub(super) no_delay: Vec<NoDelayRow>,
    #[serde(default)]
    pub(super) window: Vec<WindowRow>,
    #[serde(default)]
    pub(super) recovery: Vec<RecoveryRow>,
    #[serde(default)]
    pub(super) width: Vec<WidthRow>,
    #[serde(default)]
    pub(super) clock: Vec<ClockRow>,
    #[serde(default)]
    pub(super) input: Vec<InputRow>,
    #[serde(default)]
    pub(super) output: Vec<OutputRow>,
    #[serde(default)]
    pub(super) supply: Vec<SupplyRow>,
    pub(super) threshold: Option<ThresholdRow>,
    #[serde(default)]
    pub(super) pulse: Vec<PulseRow>,
    pub(super) memory: Option<Memory>,
}

/// What an input does that nothing drives, where the type differs from its family.
#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
pub(super) enum OpenInput {
    High,
    Low,
    Unknown,
}

#[derive(Deserialize, PartialEq)]
#[serde(rename_all = "snake_case")]
pub(super) enum Recalled {
    Pins,
    Function,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PinRow {
    pub(super) pin: u16,
    pub(super) name: String,
    pub(super) sheet: Option<String>,
    pub(super) is: Is,
    pub(super) stage: Option<PinStage>,
    pub(super) carries: Option<Carries>,
    pub(super) edge: Option<Edge>,
    pub(super) field: Option<String>,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
pub(super) enum Is {
    Input,
    Output,
    ThreeState,
    OpenCollector,
    Bidirectional,
    Vcc,
    Gnd,
    Nc,
    Timing,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
pub(super) enum PinStage {
    ThreeState,
    OpenCollector,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
pub(super) enum Carries {
    Low,
    High,
    Clock,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct NotSharedRow {
    pub(super) families: Vec<String>,
    #[serde(default)]
    pub(super) same_pins: bool,
    pub(super) why: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FamilyDoubtRow {
    pub(super) families: Vec<String>,
    pub(super) what: String,
}

/// A table with figures: which of its keys are recalled.
macro_rules! rows {
    ($($row:ident { $($word:ident: $type:ty),*; $($key:ident),* })+) => {$(
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        pub(super) struct $row {
            $(pub(super) $word: $type,)*
            $($key: Option<f64>,)*
            #[serde(default)]
            from_memory: Vec<String>,
        }

        impl $row {
            /// The figures, each with its source, in the order in which they are declared.
            pub(super) fn figures(&self, table: &'static str) -> Result<[Option<Figure>; [$(stringify!($key)),*].len()], Fault> {
                let keys = [$((stringify!($key), self.$key)),*];
                sourced(table, keys, &self.from_memory)
            }
        }
    )+};
}

rows! {
    DelayRow { from: String, to: String, when: Option<String>; rise, fall, rise_typ, fall_typ }
    EnableRow { from: String, to: String, when: Option<String>; to_high, to_low, from_high, from_low }
    WindowRow { pins: String, of: String, edge: Edge, when: Option<String>; setup, hold }
    RecoveryRow { pins: String, of: String, edge: Edge; recovery }
    WidthRow { pins: String, level: PulseLevel, when: Option<String>; width }
    ClockRow { pins: String; fmax_mhz }
    InputRow { pins: String; iil_ma, iih_ua }
    OutputRow { pins: String; iol_ma, ioh_ma, leak_ua, max_v, off_high_ua, off_low_ua }
    SupplyRow { when: Option<String>; icc_ma }
    PulseRow { of: Option<String>, formula: String, valid: Option<String>, retriggerable: bool;
        factor, offset_ohm, r_min_ohm, r_max_ohm, c_min_f, c_max_f, shortest_ns, longest_s, tolerance_percent }
    FamilyRow { name: String, note: Option<String>, delay_of: Option<String>, sheets: Vec<String>;
        vil_max_v, vih_min_v, iil_ma, iih_ua, vol_max_v, iol_ma, voh_min_v, ioh_ma, bus_iol_ma, bus_ioh_ma, delay_max_ns,
        vcc_min_v, vcc_max_v, vcc_absolute_max_v }
    ThresholdRow {; rising_min_v, rising_max_v, falling_min_v, falling_max_v, hysteresis_min_v }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct MeasuredRow {
    pub(super) at: String,
    #[serde(default)]
    pub(super) from_memory: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct NoDelayRow {
    pub(super) from: String,
    pub(super) to: String,
    pub(super) why: String,
}

fn sourced<const N: usize>(
    table: &'static str,
    keys: [(&'static str, Option<f64>); N],
    recalled: &[String],
) -> Result<[Option<Figure>; N], Fault> {
    for key in recalled {
        if !keys.iter().any(|(k, value)| k == key && value.is_some()) {
            return Err(Fault::NothingRecalled { table, key: key.clone() });
        }
    }
    if keys.iter().all(|(_, value)| value.is_none()) {
        return Err(Fault::NoFigure { table });
    }
    Ok(keys.map(|(key, value)| {
        let source = if recalled.iter().any(|r| r == key) { Source::Memory } else { Source::Sheets };
        value.map(|value| Figure { value, source })
    }))
}

impl PinRow {
    pub(super) fn pin(&self) -> Pin {
        let stage = match self.stage {
            Some(PinStage::OpenCollector) => Stage::OpenCollector,
            Some(PinStage::ThreeState) | None => Stage::ThreeState,
        };
        let role = match self.is {
            Is::Input => PinRole::Input,
            Is::Output => PinRole::Output(Stage::PushPull),
            Is::ThreeState => PinRole::Output(Stage::ThreeState),
            Is::OpenCollector => PinRole::Output(Stage::OpenCollector),
            Is::Bidirectional => PinRole::InOut(stage),
            Is::Vcc => PinRole::Supply(Rail::Vcc),
            Is::Gnd => PinRole::Supply(Rail::Gnd),
            Is::Nc => PinRole::Unconnected,
            Is::Timing => PinRole::Analog,
        };
        let polarity = match self.carries {
            Some(Carries::Low) => Polarity::ActiveLow,
            Some(Carries::High) => Polarity::ActiveHigh,
            Some(Carries::Clock) => Polarity::Clock,
            None => Polarity::Data,
        };
        Pin {
            label: Label::from(self.pin),
            name: self.name.clone(),
            printed: self.sheet.clone(),
            role,
            polarity,
            edge: self.edge,
            field: self.field.clone(),
        }
    }
}
