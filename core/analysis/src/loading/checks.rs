//! Pass or fail at a contact, once it is known what is connected to it there.
use std::fmt;

use serde::Serialize;

use super::{Drives, Side, SupplyDraw};
use crate::host::{Hangs, HostSupply, Hung};
use crate::timing::{At, Comparison, Judgement, Kind};
use gluewright_devices::device::{Electrical, Figure, Provenance};
use gluewright_kernel::board::PinRole;
use gluewright_kernel::circuit::Stage;
use gluewright_kernel::figures::Levels;

/// The supply's limits in the commercial range, in V: those of TTL's sheets.
const SUPPLY: [f64; 2] = [4.75, 5.25];
/// What a TTL input takes as low at most and as high at least, in V (limits of the family's sheets).
const TTL_INPUT: [f64; 2] = [0.8, 2.0];
/// What a TTL output gives at most while low and at least while high, in V: 0.5 is the LS limit at its full current, 2.4 the
/// least of the families' (from memory).
const TTL_OUTPUT: [f64; 2] = [0.5, 2.4];
/// The same of a CMOS input at 5 V: 0.3 and 0.7 of the supply, as the HC family's sheets ask (from memory).
const CMOS_INPUT: [f64; 2] = [1.4, 3.5];
/// The capacitance at which data sheets of such devices give their times, in pF (from memory).
const TEST_LOAD: f64 = 50.0;

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Aspect {
    /// Whether the replacement sinks what is connected to the contact, in mA.
    SinksLow,
    /// Whether it sources it, in mA.
    SourcesHigh,
    /// Whether a contact that is only pulled low goes high by its resistors, in V.
    PulledHigh,
    /// Whether inputs of the board take its low level as low, in V.
    LowLevel,
    /// Whether they take its high level as high, in V.
    HighLevel,
    /// Whether an output of the board sinks what the replacement and the rest ask for, in mA.
    DrivenLow,
    /// Whether it sources it, in mA.
    DrivenHigh,
    /// Whether the replacement takes the board's low level as low, in V.
    ReadsLow,
    /// Whether it takes its high level as high, in V.
    ReadsHigh,
    /// Whether two outputs can drive against each other, in ns.
    Fight,
    /// Whether the contact carries no more than the load at which the device's times hold, in pF.
    Capacitance,
    /// Whether the regulator gives what the board takes, in mA.
    Supply,
}

impl Aspect {
    /// The unit of its margin.
    pub fn unit(self) -> &'static str {
        match self {
            Aspect::SinksLow | Aspect::SourcesHigh | Aspect::DrivenLow | Aspect::DrivenHigh | Aspect::Supply => "mA",
            Aspect::PulledHigh | Aspect::LowLevel | Aspect::HighLevel | Aspect::ReadsLow | Aspect::ReadsHigh => "V",
            Aspect::Fight => "ns",
            Aspect::Capacitance => "pF",
        }
    }
}

impl fmt::Display for Aspect {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Aspect::SinksLow => "sinks",
            Aspect::SourcesHigh => "sources",
            Aspect::PulledHigh => "pulled high",
            Aspect::LowLevel => "low level",
            Aspect::HighLevel => "high level",
            Aspect::DrivenLow => "driven low",
            Aspect::DrivenHigh => "driven high",
            Aspect::ReadsLow => "reads low",
            Aspect::ReadsHigh => "reads high",
            Aspect::Fight => "bus fight",
            Aspect::Capacitance => "capacitance",
            Aspect::Supply => "supply",
        })
    }
}

/// What came of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// It holds, by this margin at least.
    Pass,
    /// It doesn't.
    Fail,
    /// A figure is missing.
    Open,
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Verdict::Pass => "pass",
            Verdict::Fail => "FAIL",
            Verdict::Open => "not known",
        })
    }
}

/// One question at a contact, with its answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Check {
    /// What is asked.
    pub aspect: Aspect,
    /// What came of it.
    pub verdict: Verdict,
    /// What is to spare, in the aspect's unit; below nought if it fails.
    pub margin: Option<f64>,
    /// The figures, in words.
    pub words: String,
}

impl fmt::Display for Check {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.aspect, self.verdict)?;
        if let Some(margin) = self.margin {
            let unit = self.aspect.unit();
            let size = round(margin.abs());
            write!(
                f,
                "{}",
                if margin < 0.0 { format!(", {size} {unit} too much") } else { format!(", {size} {unit} to spare") }
            )?;
        }
        write!(f, " ({})", self.words)
    }
}

fn round(value: f64) -> String {
    ((value * 100.0).round() / 100.0).to_string()
}

/// Sums of figures are exact to far less than this.
const TOLERANCE: f64 = 1e-9;

impl Check {
    fn by(aspect: Aspect, margin: f64, words: String) -> Check {
        let verdict = if margin < -TOLERANCE { Verdict::Fail } else { Verdict::Pass };
        Check { aspect, verdict, margin: Some(margin), words }
    }

    /// The same while something is missing: what is known alone may be too much already.
    fn by_known(aspect: Aspect, margin: Option<f64>, missing: &[String], words: String) -> Check {
        match (margin, missing) {
            (Some(margin), []) => Check::by(aspect, margin, words),
            (Some(margin), _) if margin < -TOLERANCE => Check::by(aspect, margin, words),
            _ => {
                let verdict = Verdict::Open;
                let missing = if missing.is_empty() { words } else { format!("not known: {}", missing.join(", ")) };
                Check { aspect, verdict, margin: None, words: missing }
            }
        }
    }

    fn fails(aspect: Aspect, words: impl Into<String>) -> Check {
        Check { aspect, verdict: Verdict::Fail, margin: None, words: words.into() }
    }

    fn open(aspect: Aspect, words: impl Into<String>) -> Check {
        Check { aspect, verdict: Verdict::Open, margin: None, words: words.into() }
    }
}

/// An output of the board on a contact.
struct Output {
    called: String,
    stage: Stage,
    sinks_ma: Option<f64>,
    sources_ma: Option<f64>,
    /// Whether figures of its currents were asked for at all.
    is_part: bool,
    /// What it loads the contact with while it does not drive.
    load: [f64; 2],
}

/// What is connected to one contact, added up.
#[derive(Default)]
struct Around {
    /// Currents at a low level and at a high one, in mA, without resistors.
    load: [f64; 2],
    missing: [Vec<String>; 2],
    ups: Vec<f64>,
    downs: Vec<f64>,
    pf: Option<f64>,
    /// Inputs: what they are called, and whether they ask for CMOS levels.
    inputs: Vec<(String, bool)>,
    outputs: Vec<Output>,
}

impl Around {
    fn of(hung: &[&Hung]) -> Around {
        let mut all = Around::default();
        for one in hung {
            all.add(&one.what);
        }
        all
    }

    fn add(&mut self, what: &Hangs) {
        let [low, high] = &mut self.load;
        match what {
            Hangs::LoadLow(ma) => *low += ma,
            Hangs::LoadHigh(ma) => *high += ma,
            Hangs::Capacitance(pf) => *self.pf.get_or_insert(0.0) += pf,
            Hangs::PullUp(ohms) => self.ups.push(*ohms),
            Hangs::PullDown(ohms) => self.downs.push(*ohms),
            Hangs::Driver(stage) => self.outputs.push(Output {
                called: format!("a {} output of the board", stage_words(*stage)),
                stage: *stage,
                sinks_ma: None,
                sources_ma: None,
                is_part: false,
                load: [0.0; 2],
            }),
            Hangs::Pin { part, pin, role } => {
                let called = format!("{} pin {pin}", part.name());
                let figures = part.figures();
                let levels = figures.map_or(Levels::Ttl, |f| f.levels);
                let mut load = [Some(0.0), Some(0.0)];
                if matches!(role, PinRole::Input | PinRole::InOut(_)) {
                    let input = figures.and_then(|f| f.inputs.get(pin));
                    load = [
                        input.and_then(|i| i.low_ma.as_ref()).map(|f| f.value.abs()),
                        input.and_then(|i| i.high_ua.as_ref()).map(|f| f.value.abs() / 1e3),
                    ];
                    self.inputs.push((called.clone(), levels == Levels::Cmos));
                }
                if let PinRole::Output(stage) | PinRole::InOut(stage) = role {
                    let drive = figures.and_then(|f| f.outputs.get(pin));
                    if matches!(role, PinRole::Output(Stage::ThreeState | Stage::OpenCollector)) {
                        let off = |ua: Option<f64>| Some(ua.unwrap_or(0.0).abs() / 1e3);
                        load = [
                            off(drive.and_then(|d| d.off_low_ua.as_ref()).map(|f| f.value)),
                            off(drive.and_then(|d| d.off_high_ua.as_ref()).map(|f| f.value)),
                        ];
                    }
                    self.outputs.push(Output {
                        called: called.clone(),
                        stage: *stage,
                        sinks_ma: drive.and_then(|d| d.low_ma.as_ref()).map(|f| f.value.abs()),
                        sources_ma: drive.and_then(|d| d.high_ma.as_ref()).map(|f| f.value.abs()),
                        is_part: true,
                        load: load.map(|ma| ma.unwrap_or(0.0)),
                    });
                }
                for ((sum, missing), ma) in self.load.iter_mut().zip(&mut self.missing).zip(load) {
                    match ma {
                        Some(ma) => *sum += ma,
                        None => missing.push(format!("input current of {called}")),
                    }
                }
            }
        }
    }

    /// What the pull-up resistors ask of an output that holds the contact at this level, in mA.
    fn pulled_down(&self, low: f64) -> f64 {
        self.ups.iter().map(|ohms| (SUPPLY[1] - low) / ohms * 1e3).sum()
    }

    /// What the pull-down resistors ask of an output that holds it at this level, less what the pull-ups give, in mA.
    fn pulled_up(&self, high: f64) -> f64 {
        let asked: f64 = self.downs.iter().map(|ohms| high / ohms * 1e3).sum();
        let given: f64 = self.ups.iter().map(|ohms| (SUPPLY[0] - high) / ohms * 1e3).sum();
        (asked - given).max(0.0)
    }

    /// The level that resistors alone give, with this current flowing into what hangs there, in V; none without a pull-up.
    fn by_resistors(&self, ma: f64) -> Option<f64> {
        let up: f64 = self.ups.iter().map(|ohms| 1.0 / ohms).sum();
        let down: f64 = self.downs.iter().map(|ohms| 1.0 / ohms).sum();
        (up > 0.0).then(|| (SUPPLY[0] * up - ma / 1e3) / (up + down))
    }
}

fn stage_words(stage: Stage) -> &'static str {
    match stage {
        Stage::PushPull => "push-pull",
        Stage::ThreeState => "three-state",
        Stage::OpenCollector => "open-collector",
    }
}

/// These limits with the output levels of TTL.
pub(super) fn ttl_levels(electrical: &Electrical) -> Electrical {
    let figure = |value| Some(Figure { value, from: Provenance::Memory });
    Electrical { vol_max: figure(TTL_OUTPUT[0]), voh_min: figure(TTL_OUTPUT[1]), ..electrical.clone() }
}

/// What is asked at a contact on which this hangs, of a replacement that is this to it. `ups` are the pull-up resistors that
/// the adapter has there, in Ω.
pub(super) fn checks(
    at: &At,
    hung: &[&Hung],
    (side, its): (&Side, &Electrical),
    ups: &[f64],
    times: &Comparison,
) -> Vec<Check> {
    if hung.is_empty() {
        return Vec::new();
    }
    let mut around = Around::of(hung);
    around.ups.extend(ups);
    let mut all = Vec::new();
    if side.drives != Drives::Never {
        drives(&around, side, its, &mut all);
        for output in &around.outputs {
            all.extend(fight(at, side.drives, output, times));
        }
        if let Some(pf) = around.pf {
            let words = format!("{} pF, and the device's times hold up to {TEST_LOAD} pF", round(pf));
            all.push(match pf <= TEST_LOAD {
                true => Check::by(Aspect::Capacitance, TEST_LOAD - pf, words),
                false => Check::open(
                    Aspect::Capacitance,
                    format!("{words}: they are longer here, by how much no sheet says"),
                ),
            });
        }
    }
    for (i, output) in around.outputs.iter().enumerate() {
        driven(&around, (i, output), side, its, &mut all);
    }
    all
}

/// What the replacement drives.
fn drives(around: &Around, side: &Side, its: &Electrical, all: &mut Vec<Check>) {
    let low = its.vol_max.map_or(TTL_OUTPUT[0], |f| f.value);
    let high = its.voh_min.map_or(TTL_OUTPUT[1], |f| f.value);
    let asked = around.load[0] + around.pulled_down(low);
    let mut missing = around.missing[0].clone();
    if side.sinks_ma.is_none() {
        missing.push("what the replacement sinks".to_owned());
    }
    let words = format!("sinks {}, what hangs on it asks for {} mA", ma(side.sinks_ma), round(asked));
    all.push(Check::by_known(Aspect::SinksLow, side.sinks_ma.map(|sinks| sinks - asked), &missing, words));
    let resting = around.load[1] + side.load_high_ma.unwrap_or(0.0);
    let by_resistors = around.by_resistors(resting);
    if side.drives == Drives::LowOnly {
        let missing = &around.missing[1];
        all.push(match by_resistors {
            Some(volts) => {
                let words = format!("its resistors give {} V, an output's high has {} V", round(volts), TTL_OUTPUT[1]);
                Check::by_known(Aspect::PulledHigh, Some(volts - TTL_OUTPUT[1]), missing, words)
            }
            None if !side.pulls.is_empty() => {
                Check::open(Aspect::PulledHigh, "the adapter has a pull-up of a value that is not known here")
            }
            None => Check::fails(
                Aspect::PulledHigh,
                "nothing that is known of pulls it high: say in the file what does, or put a resistor to the supply there",
            ),
        });
    } else {
        let asked = around.load[1] + around.pulled_up(high);
        let mut missing = around.missing[1].clone();
        if side.sources_ma.is_none() {
            missing.push("what the replacement sources".to_owned());
        }
        let words = format!("sources {}, what hangs on it asks for {} mA", ma(side.sources_ma), round(asked));
        all.push(Check::by_known(Aspect::SourcesHigh, side.sources_ma.map(|has| has - asked), &missing, words));
    }
    // of inputs that ask for different levels those that ask for more
    for is_cmos in [false, true] {
        let Some((called, _)) = around.inputs.iter().find(|(_, cmos)| *cmos == is_cmos) else { continue };
        let [takes_low, takes_high] = if is_cmos { CMOS_INPUT } else { TTL_INPUT };
        match its.vol_max {
            Some(f) => {
                let words = format!("a low of at most {} V at {called}, which takes {takes_low} V", f.value);
                all.push(Check::by(Aspect::LowLevel, takes_low - f.value, words));
            }
            None => all.push(Check::open(Aspect::LowLevel, "the device's low level is not known")),
        }
        if side.drives == Drives::LowOnly {
            continue;
        }
        let driven = its.voh_min.map(|f| f.value);
        // a resistor takes the level on from where the output's own transistor leaves it
        let lifted = by_resistors.filter(|_| around.missing[1].is_empty());
        match driven.into_iter().chain(lifted).reduce(f64::max) {
            Some(volts) => {
                let words = format!("a high of at least {} V at {called}, which asks for {takes_high} V", round(volts));
                all.push(Check::by(Aspect::HighLevel, volts - takes_high, words));
            }
            None => all.push(Check::open(Aspect::HighLevel, "the device's high level is not known")),
        }
    }
}

/// What an output of the board drives, with the replacement in its place.
fn driven(around: &Around, (index, output): (usize, &Output), side: &Side, its: &Electrical, all: &mut Vec<Check>) {
    let own = output.load;
    let load = |level: usize| around.load.get(level).copied().unwrap_or_default();
    let ours = [side.load_low_ma, side.load_high_ma];
    let missing = |level: usize| {
        let mut missing = around.missing.get(level).cloned().unwrap_or_default();
        if ours.get(level).copied().flatten().is_none() {
            missing.push("input current of the device".to_owned());
        }
        missing
    };
    let (own_low, own_high) = (own[0], own[1]);
    let asked_low = load(0) - own_low + ours[0].unwrap_or(0.0) + around.pulled_down(TTL_OUTPUT[0]);
    let called = &output.called;
    if output.is_part {
        let words =
            format!("{called} sinks {}, all that hangs on it asks for {} mA", ma(output.sinks_ma), round(asked_low));
        let margin = output.sinks_ma.map(|sinks| sinks - asked_low);
        all.push(Check::by_known(Aspect::DrivenLow, margin, &missing(0), words));
    }
    let asked_high = load(1) - own_high + ours[1].unwrap_or(0.0);
    let by_resistors = around.by_resistors(load(1) + ours[1].unwrap_or(0.0));
    match output.stage {
        // once for all that only pull low
        Stage::OpenCollector if side.drives == Drives::Never && index == first_open(around) => {
            all.push(match by_resistors {
                Some(volts) => {
                    let words = format!("resistors give {} V, an output's high has {} V", round(volts), TTL_OUTPUT[1]);
                    Check::by_known(Aspect::PulledHigh, Some(volts - TTL_OUTPUT[1]), &missing(1), words)
                }
                None => {
                    Check::fails(Aspect::PulledHigh, format!("nothing that is known of pulls it high beside {called}"))
                }
            });
        }
        Stage::OpenCollector => {}
        Stage::PushPull | Stage::ThreeState if output.is_part => {
            let asked = asked_high + around.pulled_up(TTL_OUTPUT[1]);
            let words = format!(
                "{called} sources {}, all that hangs on it asks for {} mA",
                ma(output.sources_ma),
                round(asked)
            );
            let margin = output.sources_ma.map(|has| has - asked);
            all.push(Check::by_known(Aspect::DrivenHigh, margin, &missing(1), words));
        }
        Stage::PushPull | Stage::ThreeState => {}
    }
    let [takes_low, takes_high] = [its.vil_max.map(|f| f.value), its.vih_min.map(|f| f.value)];
    if let Some(takes) = takes_low.filter(|_| index == 0) {
        let words = format!("a low of at most {} V from {called}, the device takes {takes} V", TTL_OUTPUT[0]);
        all.push(Check::by(Aspect::ReadsLow, takes - TTL_OUTPUT[0], words));
    }
    if let Some(takes) = takes_high.filter(|_| index == 0 && output.stage != Stage::OpenCollector) {
        // a CMOS output gives no less than a TTL one
        let words = format!("a high of at least {} V from {called}, the device asks for {takes} V", TTL_OUTPUT[1]);
        all.push(Check::by(Aspect::ReadsHigh, TTL_OUTPUT[1] - takes, words));
    }
}

fn first_open(around: &Around) -> usize {
    around.outputs.iter().position(|o| o.stage == Stage::OpenCollector).unwrap_or(usize::MAX)
}

/// Whether the replacement and an output of the board drive against each other.
fn fight(at: &At, drives: Drives, output: &Output, times: &Comparison) -> Option<Check> {
    let called = &output.called;
    match (drives, output.stage) {
        (Drives::Never, _) | (Drives::LowOnly, Stage::OpenCollector) => None,
        (Drives::Always, _) => Some(Check::fails(
            Aspect::Fight,
            format!("the replacement drives it always, as the original did, and {called} drives it too"),
        )),
        (Drives::AtTimes | Drives::LowOnly, Stage::PushPull) => {
            Some(Check::fails(Aspect::Fight, format!("{called} never lets go, and the replacement drives at times")))
        }
        (Drives::AtTimes, Stage::OpenCollector) => Some(Check::open(
            Aspect::Fight,
            format!(
                "{called} must let go while the replacement drives high: whether it does, the card's logic can't say"
            ),
        )),
        (Drives::AtTimes | Drives::LowOnly, Stage::ThreeState) => {
            let lets_go: Vec<_> = times.rows.iter().filter(|r| r.kind == Kind::Disable && r.to == *at).collect();
            let sure = lets_go.iter().all(|r| matches!(r.judgement, Judgement::Within | Judgement::Over(_)));
            let margin = lets_go.iter().filter_map(|r| Some(r.limit? - r.replacement.as_ref()?.ns)).reduce(f64::min);
            Some(match margin {
                Some(margin) if sure || margin < -TOLERANCE => Check::by(
                    Aspect::Fight,
                    margin,
                    format!("the replacement lets go no later than it may, before {called} comes on"),
                ),
                _ => Check::open(
                    Aspect::Fight,
                    format!(
                        "how late the replacement may let go before {called} comes on: `waits` after the edge that turns it off says it"
                    ),
                ),
            })
        }
    }
}

/// Whether the regulator gives what the board takes with the replacement.
pub(super) fn supply(known: &HostSupply, before: &SupplyDraw, after: &SupplyDraw) -> Option<Check> {
    let (regulator, _) = known.regulator.as_ref()?;
    let Some((others, _)) = &known.others else {
        let words =
            format!("the regulator gives {} mA; say in `others` what all but the card draws", round(*regulator));
        return Some(Check::open(Aspect::Supply, words));
    };
    let words = format!(
        "the regulator gives {} mA, all but the card draws {} mA, the original drew {before}, the replacement draws {after}",
        round(*regulator),
        round(*others)
    );
    Some(Check::by_known(Aspect::Supply, Some(regulator - others - after.ma), &after.missing, words))
}

fn ma(value: Option<f64>) -> String {
    value.map_or_else(|| "nobody knows how much".to_owned(), |ma| format!("{} mA", round(ma)))
}
