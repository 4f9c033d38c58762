//! A sheet's figures as a board's checks take them: the limits, each with its source in words.
use std::sync::Arc;

use gluewright::figures::{Change, Delay, Figure, InputLoad, OutputDrive, PartFigures, Pulse, Width, Window};

use crate::sheet::{self, Edge, PulseLevel, Sheet, Source};

/// The limits of a sheet. Typical values stay behind: nothing may be built on them.
pub(crate) fn hand_over(sheet: &Sheet) -> PartFigures {
    let (memory, seen): (Arc<str>, Arc<str>) = ("from memory".into(), sheet.sheets.join("; ").into());
    let one = |f: sheet::Figure| Figure {
        value: f.value,
        source: Arc::clone(if f.source == Source::Memory { &memory } else { &seen }),
        from_memory: f.source == Source::Memory,
    };
    let some = |f: Option<sheet::Figure>| f.map(one);
    let f = &sheet.figures;
    let delay = |d: &sheet::Delay| {
        let change = match d.change {
            sheet::Change::Rises => Change::Rises,
            sheet::Change::Falls => Change::Falls,
            sheet::Change::FromOffToHigh => Change::DrivesHigh,
            sheet::Change::FromOffToLow => Change::DrivesLow,
            sheet::Change::FromHighToOff => Change::LetsGoHigh,
            sheet::Change::FromLowToOff => Change::LetsGoLow,
        };
        Some(Delay { from: d.from.clone(), to: d.to.clone(), change, most: one(d.ns.max?) })
    };
    let window = |w: &sheet::Window| Window {
        pin: w.pin.clone(),
        clock: w.clock.clone(),
        rising: w.edge == Edge::Rising,
        setup: some(w.setup),
        hold: some(w.hold),
    };
    // a release before an edge is a setup time without a hold time
    let recovery = |r: &sheet::Recovery| Window {
        pin: r.pin.clone(),
        clock: r.clock.clone(),
        rising: r.edge == Edge::Rising,
        setup: Some(one(r.ns)),
        hold: None,
    };
    let width = |w: &sheet::Width| Width {
        pin: w.pin.clone(),
        high: match w.level {
            PulseLevel::High => Some(true),
            PulseLevel::Low => Some(false),
            PulseLevel::Either => None,
        },
        least: one(w.ns),
    };
    let input = |i: &sheet::InputCurrents| InputLoad { low_ma: some(i.low_ma), high_ua: some(i.high_ua) };
    let output = |o: &sheet::OutputLimits| OutputDrive {
        low_ma: some(o.low_ma),
        high_ma: some(o.high_ma),
        off_high_ua: some(o.leak_ua.or(o.off_high_ua)),
        off_low_ua: some(o.off_low_ua),
        max_v: some(o.max_v),
    };
    let pulse = |p: &sheet::Pulse| Pulse {
        of: p.of.as_deref().map(Into::into),
        formula: p.formula.as_str().into(),
        factor: some(p.factor),
        offset_ohm: some(p.offset_ohm),
        retriggerable: p.retriggerable,
    };
    PartFigures {
        delays: f.delays.iter().filter_map(delay).collect(),
        windows: f.windows.iter().map(window).chain(f.recoveries.iter().map(recovery)).collect(),
        widths: f.widths.iter().map(width).collect(),
        inputs: f.inputs.iter().map(|(pin, i)| (pin.clone(), input(i))).collect(),
        outputs: f.outputs.iter().map(|(pin, o)| (pin.clone(), output(o))).collect(),
        supply_ma: f.supply_max().map(one),
        schmitt: f.threshold.is_some(),
        levels: sheet.family.levels(),
        open_input: sheet.open_input,
        pulses: f.pulses.iter().map(pulse).collect(),
    }
}
