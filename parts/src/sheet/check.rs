//! What a data sheet of the drawer must have, and how it must agree with the part's logic.
use super::figures::Figure;
use super::names::is_called;
use super::problem::Problem;
use super::{NoLogic, Pin, Sheet, reach};
use gluewright::board::PinRole;
use gluewright::circuit::{Circuit, Contact, Direction, Label, Polarity, Rail, Stage};
use gluewright::figures::OpenInput;

/// What is missing from the sheet by itself, or can't be right.
pub(super) fn completeness(sheet: &Sheet) -> Vec<Problem> {
    let mut problems = Vec::new();
    for number in 1..=sheet.package {
        let label = Label::from(number);
        let count = sheet.pins.iter().filter(|p| p.label == label).count();
        if count != 1 {
            problems.push(Problem::PinCount { pin: number, count, package: sheet.package });
        }
    }
    for (rail, word) in [(Rail::Vcc, "the supply"), (Rail::Gnd, "ground")] {
        // supplies of lines are none of logic, and a row of transistors has none
        let may_lack = matches!(sheet.no_logic, Some(NoLogic::Line | NoLogic::PowerDriver | NoLogic::Switch));
        if rail == Rail::Vcc && may_lack {
            continue;
        }
        if !sheet.pins.iter().any(|p| p.role == PinRole::Supply(rail)) {
            problems.push(Problem::NoRail(word));
        }
    }
    // the figures of a PROM differ by maker; what is not replaced needs none
    if sheet.memory.is_none() && sheet.no_logic.is_none() {
        currents(sheet, &mut problems);
    }
    plausibility(sheet, &mut problems);
    problems
}

fn currents(sheet: &Sheet, problems: &mut Vec<Problem>) {
    let f = &sheet.figures;
    let mut missing = |pin: &Pin, what, table| {
        problems.push(Problem::NoCurrent { name: pin.name.clone(), what, table });
    };
    for pin in &sheet.pins {
        let input = f.inputs.get(&pin.label).copied().unwrap_or_default();
        let output = f.outputs.get(&pin.label).copied().unwrap_or_default();
        if matches!(pin.role, PinRole::Input | PinRole::InOut(_)) {
            if input.low_ma.is_none() {
                missing(pin, "input current at a low level (iil_ma)", "input");
            }
            if input.high_ua.is_none() {
                missing(pin, "input current at a high level (iih_ua)", "input");
            }
        }
        if let PinRole::Output(stage) | PinRole::InOut(stage) = pin.role {
            if output.low_ma.is_none() {
                missing(pin, "output current at a low level (iol_ma)", "output");
            }
            match stage {
                Stage::OpenCollector if output.leak_ua.is_none() => {
                    missing(pin, "leakage while it doesn't pull (leak_ua)", "output");
                }
                Stage::PushPull | Stage::ThreeState if output.high_ma.is_none() => {
                    missing(pin, "output current at a high level (ioh_ma)", "output");
                }
                _ => {}
            }
        }
    }
    if f.supply.is_empty() && !sheet.notes.iter().any(|n| n.contains("supply current")) {
        problems.push(Problem::NoSupplyCurrent);
    }
}

/// Between what figures of a kind of part lie.
struct Limits {
    delay_ns: f64,
    width_ns: [f64; 2],
    release_ns: f64,
    window_ns: f64,
    rate_mhz: [f64; 2],
    low_in_ma: [f64; 2],
    high_in_ua: [f64; 2],
    low_out_ma: [f64; 2],
    high_out_ma: [f64; 2],
    threshold_v: [[f64; 2]; 4],
}

const BIPOLAR: Limits = Limits {
    delay_ns: 100.0,
    width_ns: [10.0, 50.0],
    release_ns: 50.0,
    window_ns: 50.0,
    rate_mhz: [5.0, 150.0],
    // a carry input of plain or Schottky TTL is many inputs in one
    low_in_ma: [-16.0, -0.1],
    high_in_ua: [5.0, 400.0],
    low_out_ma: [3.0, 300.0],
    high_out_ma: [-24.0, -0.2],
    threshold_v: [[1.2, 2.0], [1.5, 2.2], [0.4, 1.0], [0.8, 1.4]],
};

const CMOS: Limits = Limits {
    delay_ns: 1200.0,
    width_ns: [2.0, 500.0],
    release_ns: 500.0,
    window_ns: 500.0,
    rate_mhz: [1.0, 300.0],
    low_in_ma: [-0.01, 0.0],
    high_in_ua: [0.01, 10.0],
    low_out_ma: [0.3, 64.0],
    high_out_ma: [-64.0, -0.3],
    threshold_v: [[0.7, 3.0], [1.5, 4.0], [0.3, 2.0], [0.8, 3.0]],
};

fn plausibility(sheet: &Sheet, problems: &mut Vec<Problem>) {
    let f = &sheet.figures;
    let limits = if sheet.family.open_input() == OpenInput::Unknown { &CMOS } else { &BIPOLAR };
    let mut check = |what: &'static str, name: String, figure: Option<Figure>, least: f64, most: f64| {
        let Some(figure) = figure else { return };
        if !(least..=most).contains(&figure.value) {
            problems.push(Problem::Implausible {
                what,
                name: name.clone(),
                value: figure.value.to_string(),
                least,
                most,
            });
        }
        if figure.source == super::Source::Sheets && sheet.sheets.is_empty() {
            problems.push(Problem::NoSource { what: format!("the {what} of {name}") });
        }
    };
    let name = |label: &Label| sheet.pin(label).map_or_else(|| label.to_string(), |p| p.name.clone());
    for d in &f.delays {
        let path = format!("{} to {}", name(&d.from), name(&d.to));
        check("delay in ns", path.clone(), d.ns.max, 2.0, limits.delay_ns);
        check("typical delay in ns", path, d.ns.typ, 1.0, d.ns.max.map_or(limits.delay_ns, |m| m.value));
    }
    for w in &f.windows {
        check("setup in ns", name(&w.pin), w.setup, 0.0, limits.window_ns);
        check("hold in ns", name(&w.pin), w.hold, 0.0, 25.0);
    }
    for r in &f.recoveries {
        check("recovery in ns", name(&r.pin), Some(r.ns), 5.0, limits.release_ns);
    }
    for w in &f.widths {
        check("pulse width in ns", name(&w.pin), Some(w.ns), limits.width_ns[0], limits.width_ns[1]);
    }
    for r in &f.rates {
        check("clock rate in MHz", name(&r.pin), Some(r.mhz), limits.rate_mhz[0], limits.rate_mhz[1]);
    }
    for (pin, i) in &f.inputs {
        check("input current at a low level in mA", name(pin), i.low_ma, limits.low_in_ma[0], limits.low_in_ma[1]);
        check("input current at a high level in µA", name(pin), i.high_ua, limits.high_in_ua[0], limits.high_in_ua[1]);
    }
    for (pin, o) in &f.outputs {
        check("output current at a low level in mA", name(pin), o.low_ma, limits.low_out_ma[0], limits.low_out_ma[1]);
        check(
            "output current at a high level in mA",
            name(pin),
            o.high_ma,
            limits.high_out_ma[0],
            limits.high_out_ma[1],
        );
        check("leakage in µA", name(pin), o.leak_ua, 10.0, 1000.0);
        check("voltage in V", name(pin), o.max_v, 5.0, 30.0);
        check("off-state current at a high level in µA", name(pin), o.off_high_ua, 5.0, 100.0);
        check("off-state current at a low level in µA", name(pin), o.off_low_ua, -400.0, -5.0);
    }
    for s in &f.supply {
        let when = s.when.clone().unwrap_or_else(|| "the package".to_owned());
        check("supply current in mA", when, Some(s.ma), 0.1, 150.0);
    }
    if let Some(t) = f.threshold {
        let all = || "all inputs".to_owned();
        check("rising threshold in V", all(), t.rising_min_v, limits.threshold_v[0][0], limits.threshold_v[0][1]);
        check("rising threshold in V", all(), t.rising_max_v, limits.threshold_v[1][0], limits.threshold_v[1][1]);
        check("falling threshold in V", all(), t.falling_min_v, limits.threshold_v[2][0], limits.threshold_v[2][1]);
        check("falling threshold in V", all(), t.falling_max_v, limits.threshold_v[3][0], limits.threshold_v[3][1]);
        check("hysteresis in V", all(), t.hysteresis_min_v, 0.1, 1.0);
    }
}

/// Where the sheet and the part's logic don't say the same about the pins and the paths between them.
pub(super) fn agreement(sheet: &Sheet, logic: &Circuit) -> Vec<Problem> {
    let mut problems = Vec::new();
    supplies(sheet, logic, &mut problems);
    let signals = |pin: &&Pin| matches!(pin.role, PinRole::Input | PinRole::Output(_) | PinRole::InOut(_));
    for pin in sheet.pins.iter().filter(signals) {
        match logic.contacts().iter().find(|c| c.label == pin.label) {
            Some(contact) => compare(sheet, pin, logic, contact, &mut problems),
            None => problems.push(Problem::NoContact { pin: pin.label.clone(), name: pin.name.clone() }),
        }
    }
    for contact in logic.contacts() {
        if !sheet.pin(&contact.label).is_some_and(|p| signals(&p)) {
            problems.push(Problem::NoPin { pin: contact.label.clone(), field: contact.name.clone() });
        }
    }
    paths(sheet, logic, &mut problems);
    problems
}

fn supplies(sheet: &Sheet, logic: &Circuit, problems: &mut Vec<Problem>) {
    let words = |mut pins: Vec<(Label, Rail)>| {
        pins.sort_by(|a, b| a.0.cmp(&b.0));
        let words: Vec<String> = pins
            .iter()
            .map(|(label, rail)| match rail {
                Rail::Vcc => format!("vcc {label}"),
                Rail::Gnd => format!("gnd {label}"),
            })
            .collect();
        words.join(", ")
    };
    let on_sheet = sheet.pins.iter().filter_map(|p| match p.role {
        PinRole::Supply(rail) => Some((p.label.clone(), rail)),
        _ => None,
    });
    let (on_sheet, in_logic) = (words(on_sheet.collect()), words(logic.supplies().to_vec()));
    if on_sheet != in_logic {
        problems.push(Problem::Supply { sheet: on_sheet, logic: in_logic });
    }
}

fn compare(sheet: &Sheet, pin: &Pin, logic: &Circuit, contact: &Contact, problems: &mut Vec<Problem>) {
    let mut differs = |what, sheet: String, logic: String| {
        if sheet != logic {
            problems.push(Problem::Disagree { pin: pin.label.clone(), name: pin.name.clone(), what, sheet, logic });
        }
    };
    let stage = logic.nets().get(contact.net.index()).and_then(|net| net.drivers.first()).map(|d| d.stage);
    let role = match (contact.direction, stage) {
        (Direction::Input, _) => Some(PinRole::Input),
        (Direction::Output, Some(stage)) => Some(PinRole::Output(stage)),
        (Direction::InOut, Some(stage)) => Some(PinRole::InOut(stage)),
        (Direction::Output | Direction::InOut, None) => None,
    };
    differs(
        "direction",
        format!("{:?}", pin.role),
        role.map_or_else(|| "never driven".to_owned(), |r| format!("{r:?}")),
    );
    differs("polarity", polarity(pin.polarity), polarity(contact.polarity));
    if !is_called(sheet, pin, logic, contact) {
        let (pin, name) = (pin.label.clone(), pin.name.clone());
        problems.push(Problem::Called { pin, name, field: contact.name.clone() });
    }
}

fn polarity(polarity: Polarity) -> String {
    match polarity {
        Polarity::ActiveLow => "active low",
        Polarity::ActiveHigh => "active high",
        Polarity::Data => "data",
        Polarity::Clock => "a clock",
    }
    .to_owned()
}

/// Every output has a delay from every input that reaches it, or the absence is known; and no other delays.
fn paths(sheet: &Sheet, logic: &Circuit, problems: &mut Vec<Problem>) {
    let name = |label: &Label| sheet.pin(label).map_or_else(|| label.to_string(), |p| p.name.clone());
    let f = &sheet.figures;
    for contact in logic.contacts().iter().filter(|c| c.direction != Direction::Input) {
        let to = &contact.label;
        let reached = reach::inputs_of(logic, to);
        let known = |from: &Label| {
            f.delays_between(from, to).next().is_some()
                || f.missing_delays.iter().any(|m| &m.from == from && &m.to == to)
        };
        for from in reached.iter().filter(|from| !known(from)) {
            problems.push(Problem::NoDelay { from: name(from), to: name(to) });
        }
        let mut given: Vec<&Label> = f.delays.iter().filter(|d| &d.to == to).map(|d| &d.from).collect();
        given.dedup();
        for from in given.into_iter().filter(|from| !reached.contains(from)) {
            problems.push(Problem::NoPath { from: name(from), to: name(to) });
        }
    }
}
