//! What a data sheet of the drawer must have, and how it must agree with the part's logic.
use std::collections::BTreeMap;

use gluewright::board::PinRole;
use gluewright::circuit::{Circuit, Contact, Direction, Label, Polarity, Rail, Stage};
use thiserror::Error;

use super::figures::Figure;
use super::{Pin, Sheet, reach};

/// Something that is missing from a sheet, or can't be right in it.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum Problem {
    /// A number without a pin, or with two.
    #[error("pin {pin} stands {count} times in `pins`: a package of {package} has each pin once")]
    PinCount {
        /// The number.
        pin: u16,
        /// How many rows it has.
        count: usize,
        /// Pins of the package.
        package: u16,
    },
    /// A supply rail without a pin.
    #[error("no pin carries {0}: give the supply pin `is = \"vcc\"` or `is = \"gnd\"`")]
    NoRail(&'static str),
    /// The sheet and the logic have different supply pins.
    #[error("the supply pins are {sheet} in `pins` and {logic} in #[circuit(…)] of its logic")]
    Supply {
        /// Those of the sheet.
        sheet: String,
        /// Those of the logic.
        logic: String,
    },
    /// A pin that the logic does not have.
    #[error("pin {pin} ({name}) has no #[contact({pin})] in its logic")]
    NoContact {
        /// The pin.
        pin: Label,
        /// Its name.
        name: String,
    },
    /// A contact that the sheet does not have.
    #[error("#[contact({pin})] `{field}` of its logic is no input or output in `pins`")]
    NoPin {
        /// The contact.
        pin: Label,
        /// Its field.
        field: String,
    },
    /// The two disagree about a pin.
    #[error("pin {pin} ({name}) {what} is {sheet} in `pins` and {logic} in its logic")]
    Disagree {
        /// The pin.
        pin: Label,
        /// Its name.
        name: String,
        /// What differs.
        what: &'static str,
        /// On the sheet.
        sheet: String,
        /// In the logic.
        logic: String,
    },
    /// A field that is not called after its pin.
    #[error(
        "pin {pin} is called {name} in `pins` and `{field}` in its logic: is it another pin? If not, add `field = \"{field}\"` to its row"
    )]
    Called {
        /// The pin.
        pin: Label,
        /// Its name.
        name: String,
        /// The contact's name.
        field: String,
    },
    /// A path without a delay.
    #[error(
        "no delay from {from} to {to}: add a [[delay]] or [[enable]], or a [[no_delay]] that says why there is none"
    )]
    NoDelay {
        /// The input.
        from: String,
        /// The output.
        to: String,
    },
    /// A delay for pins that have no path.
    #[error(
        "a delay from {from} to {to}, but {to} doesn't depend on {from} in its logic: are the pins the right ones?"
    )]
    NoPath {
        /// The input.
        from: String,
        /// The output.
        to: String,
    },
    /// A pin without a current.
    #[error("pin {name} has no {what}: add it to an [[{table}]]")]
    NoCurrent {
        /// The pin.
        name: String,
        /// What is missing.
        what: &'static str,
        /// Where it belongs.
        table: &'static str,
    },
    /// A part without a supply current, and no note about it.
    #[error("no supply current: add [[supply]], or a sentence about it to `notes`")]
    NoSupplyCurrent,
    /// A figure that no part of this kind has.
    #[error("{what} of {name} is {value}: it should lie between {least} and {most}")]
    Implausible {
        /// What it is.
        what: &'static str,
        /// Of what.
        name: String,
        /// Its value.
        value: String,
        /// The least that is plausible.
        least: f64,
        /// The most that is plausible.
        most: f64,
    },
    /// A figure from a sheet, and no sheet.
    #[error("{what} is not marked `from_memory`, and `sheets` names no sheet")]
    NoSource {
        /// What it is.
        what: String,
    },
}

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
        if !sheet.pins.iter().any(|p| p.role == PinRole::Supply(rail)) {
            problems.push(Problem::NoRail(word));
        }
    }
    // the figures of a PROM differ by maker
    if sheet.memory.is_none() {
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

fn plausibility(sheet: &Sheet, problems: &mut Vec<Problem>) {
    let f = &sheet.figures;
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
        check("delay in ns", path.clone(), d.ns.max, 2.0, 100.0);
        check("typical delay in ns", path, d.ns.typ, 1.0, d.ns.max.map_or(100.0, |m| m.value));
    }
    for w in &f.windows {
        check("setup in ns", name(&w.pin), w.setup, 0.0, 50.0);
        check("hold in ns", name(&w.pin), w.hold, 0.0, 25.0);
    }
    for r in &f.recoveries {
        check("recovery in ns", name(&r.pin), Some(r.ns), 5.0, 50.0);
    }
    for w in &f.widths {
        check("pulse width in ns", name(&w.pin), Some(w.ns), 10.0, 50.0);
    }
    for r in &f.rates {
        check("clock rate in MHz", name(&r.pin), Some(r.mhz), 5.0, 150.0);
    }
    for (pin, i) in &f.inputs {
        check("input current at a low level in mA", name(pin), i.low_ma, -5.0, -0.1);
        check("input current at a high level in µA", name(pin), i.high_ua, 5.0, 250.0);
    }
    for (pin, o) in &f.outputs {
        check("output current at a low level in mA", name(pin), o.low_ma, 4.0, 80.0);
        check("output current at a high level in mA", name(pin), o.high_ma, -24.0, -0.2);
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
        check("rising threshold in V", all(), t.rising_min_v, 1.2, 2.0);
        check("rising threshold in V", all(), t.rising_max_v, 1.5, 2.2);
        check("falling threshold in V", all(), t.falling_min_v, 0.4, 1.0);
        check("falling threshold in V", all(), t.falling_max_v, 0.8, 1.4);
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

/// True if a contact is called after its pin: `clr` after CLR, `y[1]` after the second of 1Y, 2Y, `abc[1]` after the second of
/// A, B, C.
fn is_called(sheet: &Sheet, pin: &Pin, logic: &Circuit, contact: &Contact) -> bool {
    if let Some(field) = &pin.field {
        return field == &contact.name;
    }
    let name = spelled(&pin.name);
    let Some((field, index)) = element(&contact.name) else {
        return contact.name.replace('_', "") == name;
    };
    let mut members: BTreeMap<usize, String> = BTreeMap::new();
    for other in logic.contacts() {
        if let (Some((f, i)), Some(p)) = (element(&other.name), sheet.pin(&other.label))
            && f == field
        {
            members.insert(i, spelled(&p.name));
        }
    }
    let field = field.replace('_', "");
    let digits_after = field.trim_start_matches(|c: char| c.is_ascii_lowercase());
    let together: String = members.values().map(|m| m.trim_end_matches(digits_after)).collect();
    if format!("{together}{digits_after}") == field {
        return true;
    }
    // counted from 0, from 1 or from A: as most of them are
    let fits =
        |zero: u32, i: usize, name: &str| u32::try_from(i).is_ok_and(|i| counts(&field, name).contains(&(zero + i)));
    let zeros = [0, 1, u32::from(b'a')];
    let best = zeros.into_iter().max_by_key(|&zero| members.iter().filter(|(i, name)| fits(zero, **i, name)).count());
    best.is_some_and(|zero| fits(zero, index, &name))
}

/// A pin's name as a field would spell it: small letters, a leading number behind them, `'` as `prime`.
fn spelled(name: &str) -> String {
    let name = name.to_ascii_lowercase().replace('\'', "prime");
    let name: String = name.chars().filter(char::is_ascii_alphanumeric).collect();
    let digits = name.bytes().take_while(u8::is_ascii_digit).count();
    let (number, rest) = name.split_at(digits);
    format!("{rest}{number}")
}

/// What the name counts to if it is the field's name with a number or a letter put in.
fn counts(field: &str, name: &str) -> Vec<u32> {
    let mut found = Vec::new();
    for (at, _) in name.char_indices() {
        for length in 1..=2 {
            let (Some(before), Some(taken), Some(after)) =
                (name.get(..at), name.get(at..at + length), name.get(at + length..))
            else {
                continue;
            };
            if format!("{before}{after}") != field {
                continue;
            }
            let letter = taken.bytes().next().filter(|b| length == 1 && b.is_ascii_lowercase());
            found.extend(letter.map(u32::from).or_else(|| taken.parse().ok()));
        }
    }
    found
}

/// `y[3]` is the fourth element of `y`.
fn element(name: &str) -> Option<(&str, usize)> {
    let (field, rest) = name.split_once('[')?;
    Some((field, rest.strip_suffix(']')?.parse().ok()?))
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
