//! The device's side: its pins at a contact, by one data sheet's limits.
use super::{Drives, Side};
use gluewright_devices::device::{Electrical, Enable, Function};
use gluewright_devices::fit::{Drive, Fitted};
use gluewright_kernel::circuit::{Label, Pull};

/// The device's side at a contact.
pub(super) fn at(fitted: &Fitted, electrical: &Electrical, label: &Label) -> Side {
    let pins = fitted.pins_of(label);
    let cell = fitted.cells.iter().find(|c| c.label.as_ref() == Some(label) && c.function != Function::Input);
    let output = cell.and_then(|c| c.output).and_then(|o| fitted.logic.outputs.get(o));
    let stage = output.map(|o| o.stage);
    let drives = match (cell.map(|c| &c.drive), stage) {
        (None | Some(Drive::Never), _) => Drives::Never,
        (Some(_), Some(gluewright_kernel::circuit::Stage::OpenCollector)) => Drives::LowOnly,
        (Some(Drive::Always), _) => Drives::Always,
        (Some(Drive::While(_)), _) => Drives::AtTimes,
    };
    // a macrocell whose enable comes from the device's pin drives at times, whatever its own term says
    let by_pin = cell
        .and_then(|c| c.pin)
        .and_then(|pin| fitted.plan.cells.get(&pin))
        .is_some_and(|c| matches!(c.enable, Enable::Pin));
    let drives = if by_pin && drives == Drives::Always { Drives::AtTimes } else { drives };
    let mut missing = Vec::new();
    let count = pins.len() as f64;
    let each = |figure: Option<gluewright_devices::device::Figure>, scale: f64| figure.map(|f| f.value.abs() * scale);
    let (low, high) = (each(electrical.iil, 1e-3), each(electrical.iih, 1e-3));
    if low.is_none() || high.is_none() {
        missing.push("input current of the device".to_owned());
    }
    let (sinks, sources) = (each(electrical.iol, 1.0), each(electrical.ioh, 1.0));
    if drives != Drives::Never && sinks.is_none() {
        missing.push("output current of the device".to_owned());
    }
    // the driver's own pin needs nothing of it; others on the contact do
    let others = (count - 1.0).max(0.0);
    let left = |drive: Option<f64>, load: Option<f64>| {
        drive.filter(|_| drives != Drives::Never).map(|d| (d - load.unwrap_or(0.0) * others).max(0.0))
    };
    let pull = output.map_or(Pull::None, |o| o.pull);
    let pulls = match pull {
        Pull::None => Vec::new(),
        Pull::Up => vec!["pull-up on the adapter".to_owned()],
        Pull::Down => vec!["pull-down on the adapter".to_owned()],
    };
    Side {
        drives,
        sinks_ma: left(sinks, low),
        sources_ma: left(sources, high).filter(|_| drives != Drives::LowOnly),
        load_low_ma: low.map(|ma| ma * count),
        load_high_ma: high.map(|ma| ma * count),
        pulls,
        missing,
    }
}
