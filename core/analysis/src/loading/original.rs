//! The traced board's side: sums over the pins on a contact's net.
use super::{Drives, Side, SupplyDraw, Tally};
use gluewright_kernel::board::{Chip, Netlist, PinRole};
use gluewright_kernel::circuit::Stage;
use gluewright_kernel::figures::{Levels, OutputDrive};

/// The board's side at a net, and what of it is more than a number.
pub(super) struct Met {
    pub(super) side: Side,
    /// Parts with Schmitt-trigger inputs that read it.
    pub(super) schmitt: Vec<String>,
    /// Parts with CMOS outputs that drive it.
    pub(super) cmos_drivers: Vec<String>,
    /// The highest voltage that its open collectors stand, if that is more than the supply.
    pub(super) high_voltage: Option<f64>,
}

/// The supply at which resistors are reckoned, in V.
const SUPPLY: f64 = 5.0;

/// More than this is no logic level any more, in V.
pub(super) const LOGIC_VOLTAGE: f64 = 7.0;

/// The board's side at a net.
pub(super) fn at(netlist: &Netlist, net: usize) -> Met {
    let (mut low, mut high) = (Tally::default(), Tally::default());
    let (mut sinks, mut sources): (Option<f64>, Option<f64>) = (None, None);
    let mut missing = Vec::new();
    let mut drives = Drives::Never;
    let (mut schmitt, mut cmos_drivers, mut high_voltage) = (Vec::new(), Vec::new(), None);
    let pins = netlist.nets.get(net).map_or(&[][..], |n| &n.pins);
    for (chip, pin, role) in pins {
        let Some(chip) = netlist.chips.get(*chip) else { continue };
        let called = || format!("{} pin {pin}", chip.called());
        let figures = chip.part.figures();
        if matches!(role, PinRole::Input | PinRole::InOut(_)) {
            let load = figures.and_then(|f| f.inputs.get(pin));
            low.add(load.and_then(|l| l.low_ma.as_ref()).map(|f| f.value), || format!("input current of {}", called()));
            high.add(load.and_then(|l| l.high_ua.as_ref()).map(|f| f.value / 1e3), || {
                format!("input current of {}", called())
            });
            if figures.is_some_and(|f| f.schmitt) {
                schmitt.push(chip.called());
            }
        }
        let (PinRole::Output(stage) | PinRole::InOut(stage)) = role else { continue };
        drives = stronger(drives, *stage);
        let limits = figures.and_then(|f| f.outputs.get(pin));
        let figure = |of: fn(&OutputDrive) -> &Option<gluewright_kernel::figures::Figure>| {
            limits.and_then(|l| of(l).as_ref()).map(|f| f.value)
        };
        // off or not pulling it loads the net a little; the figure of a pin of both directions is in its input current
        if matches!(role, PinRole::Output(Stage::ThreeState | Stage::OpenCollector)) {
            low.ma += figure(|l| &l.off_low_ua).unwrap_or(0.0).abs() / 1e3;
            high.ma += figure(|l| &l.off_high_ua).unwrap_or(0.0).abs() / 1e3;
        }
        match figure(|l| &l.low_ma) {
            Some(ma) => sinks = Some(sinks.map_or(ma.abs(), |s| s.min(ma.abs()))),
            None => missing.push(format!("output current of {}", called())),
        }
        if let Some(ma) = figure(|l| &l.high_ma).filter(|_| *stage != Stage::OpenCollector) {
            sources = Some(sources.map_or(ma.abs(), |s| s.min(ma.abs())));
        }
        if figures.is_some_and(|f| f.levels != Levels::Ttl) {
            cmos_drivers.push(chip.called());
        }
        if let Some(volts) = figure(|l| &l.max_v).filter(|v| *v > LOGIC_VOLTAGE) {
            high_voltage = Some(volts);
        }
    }
    let mut pulls = Vec::new();
    for (up, ohms) in netlist.nets.get(net).map_or(&[][..], |n| &n.pulls) {
        let way = if *up { "pull-up" } else { "pull-down" };
        match ohms {
            Some(ohms) if *ohms > 0.0 => {
                pulls.push(format!("{way} {}", resistance(*ohms)));
                let side = if *up { &mut low } else { &mut high };
                side.ma += SUPPLY / ohms * 1e3;
            }
            _ => pulls.push(format!("{way} of unknown value")),
        }
    }
    missing.extend(low.missing.iter().chain(&high.missing).cloned());
    missing.sort();
    missing.dedup();
    // a driver that is on first serves what is connected to its net on the card
    let left = |drive: Option<f64>, load: f64| drive.map(|d| (d - load).max(0.0));
    Met {
        side: Side {
            drives,
            sinks_ma: left(sinks, low.ma),
            sources_ma: left(sources, high.ma),
            load_low_ma: (low.known || low.ma > 0.0).then_some(low.ma),
            load_high_ma: (high.known || high.ma > 0.0).then_some(high.ma),
            pulls,
            missing,
        },
        schmitt,
        cmos_drivers,
        high_voltage,
    }
}

fn stronger(known: Drives, stage: Stage) -> Drives {
    match (known, stage) {
        (Drives::Always, _) | (_, Stage::PushPull) => Drives::Always,
        (Drives::AtTimes, _) | (_, Stage::ThreeState) => Drives::AtTimes,
        (Drives::Never | Drives::LowOnly, Stage::OpenCollector) => Drives::LowOnly,
    }
}

/// `4.7 kΩ`.
fn resistance(ohms: f64) -> String {
    match ohms {
        _ if ohms >= 1e6 => format!("{} MΩ", ohms / 1e6),
        _ if ohms >= 1e3 => format!("{} kΩ", ohms / 1e3),
        _ => format!("{ohms} Ω"),
    }
}

/// What all packages draw.
pub(super) fn supply(netlist: &Netlist) -> SupplyDraw {
    draw(netlist.chips.iter())
}

/// What these packages draw.
pub(super) fn supply_of(netlist: &Netlist, references: &[String]) -> SupplyDraw {
    draw(netlist.chips.iter().filter(|chip| references.contains(&chip.reference)))
}

fn draw<'a>(chips: impl Iterator<Item = &'a Chip>) -> SupplyDraw {
    let mut draw = SupplyDraw::default();
    for chip in chips {
        let figure = chip.part.figures().and_then(|f| f.supply_ma.as_ref());
        draw.add(figure.map(|f| (f.value, f.from_memory)), || chip.called());
    }
    draw
}
