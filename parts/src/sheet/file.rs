//! How a data file becomes a sheet.
use std::collections::BTreeMap;
use std::sync::Arc;

use gluewright::board::PinRole;
use gluewright::circuit::Label;
use gluewright::figures::OpenInput;

use super::error::{Fault, SheetError};
use super::figures::{
    Change, Delay, Figure, Figures, InputCurrents, Measured, MissingDelay, OutputLimits, Pulse, Rate, Recovery, Source,
    Span, SupplyCurrent, Threshold, Width, Window,
};
use super::pattern::{Bound, agree, matches};
use super::rows::{self, File, PinRow, PulseRow, Recalled};
use super::{NotShared, Pin, Sheet};
use crate::family::Family;
use crate::type_number::TypeNumber;

/// Reads a data file.
pub(super) fn read(name: &str, text: &str) -> Result<Sheet, SheetError> {
    let at = |what| SheetError { file: format!("{name}.toml"), what };
    let file: File = toml::from_str(text).map_err(|e| at(Fault::Shape(e.to_string())))?;
    file.sheet().map_err(at)
}

impl File {
    fn sheet(self) -> Result<Sheet, Fault> {
        let pins: Vec<Pin> = self.pins.iter().map(PinRow::pin).collect();
        let figures = self.figures(&pins)?;
        let families = |names: Vec<String>| names.iter().map(|n| family(n)).collect::<Result<Vec<_>, _>>();
        let own_family = match (&self.family, self.r#type.parse::<TypeNumber>()) {
            (Some(name), _) => family(name)?,
            (None, Ok(number)) => number.family,
            (None, Err(_)) => return Err(Fault::OwnNumber(self.r#type)),
        };
        let open_input = match self.open_input {
            Some(rows::OpenInput::High) => OpenInput::High,
            Some(rows::OpenInput::Low) => OpenInput::Low,
            Some(rows::OpenInput::Unknown) => OpenInput::Unknown,
            None => own_family.open_input(),
        };
        Ok(Sheet {
            family: own_family,
            also: self.also,
            open_input,
            pins_from_memory: self.from_memory.contains(&Recalled::Pins),
            function_from_memory: self.from_memory.contains(&Recalled::Function),
            type_number: self.r#type,
            made_as: self.made_as,
            title: self.title,
            package: self.package,
            no_logic: self.no_logic,
            memory: self.memory,
            pins,
            figures,
            sheets: self.sheets,
            notes: self.notes,
            doubts: self.doubts,
            not_shared: self
                .not_shared
                .into_iter()
                .map(|row| Ok(NotShared { families: families(row.families)?, why: row.why, same_pins: row.same_pins }))
                .collect::<Result<_, Fault>>()?,
            family_doubts: self
                .family_doubt
                .into_iter()
                .map(|row| Ok((families(row.families)?, row.what)))
                .collect::<Result<_, Fault>>()?,
        })
    }

    fn figures(&self, pins: &[Pin]) -> Result<Figures, Fault> {
        let mut f = Figures::default();
        if let Some(row) = &self.measured {
            let source = if row.from_memory.is_empty() { Source::Sheets } else { Source::Memory };
            f.measured = Some(Measured { at: row.at.clone(), source });
        }
        for row in &self.delay {
            let [rise, fall, rise_typ, fall_typ] = row.figures("delay")?;
            let spans = [(Change::Rises, rise, rise_typ), (Change::Falls, fall, fall_typ)];
            add_delays(&mut f.delays, paths(pins, "delay", &row.from, &row.to)?, &row.when, &spans);
        }
        for row in &self.enable {
            let [to_high, to_low, from_high, from_low] = row.figures("enable")?;
            let spans = [
                (Change::FromOffToHigh, to_high, None),
                (Change::FromOffToLow, to_low, None),
                (Change::FromHighToOff, from_high, None),
                (Change::FromLowToOff, from_low, None),
            ];
            add_delays(&mut f.delays, paths(pins, "enable", &row.from, &row.to)?, &row.when, &spans);
        }
        for row in &self.no_delay {
            let why: Arc<str> = row.why.as_str().into();
            for (from, to) in paths(pins, "no_delay", &row.from, &row.to)? {
                f.missing_delays.push(MissingDelay { from, to, why: Arc::clone(&why) });
            }
        }
        for row in &self.window {
            let [setup, hold] = row.figures("window")?;
            let when: Option<Arc<str>> = row.when.as_deref().map(Into::into);
            for (pin, clock) in paths(pins, "window", &row.pins, &row.of)? {
                f.windows.push(Window { pin, clock, edge: row.edge, when: when.clone(), setup, hold });
            }
        }
        for row in &self.recovery {
            if let [Some(ns)] = row.figures("recovery")? {
                for (pin, clock) in paths(pins, "recovery", &row.pins, &row.of)? {
                    f.recoveries.push(Recovery { pin, clock, edge: row.edge, ns });
                }
            }
        }
        for row in &self.width {
            if let [Some(ns)] = row.figures("width")? {
                let when: Option<Arc<str>> = row.when.as_deref().map(Into::into);
                for (pin, _) in named(pins, "width", &row.pins, reads)? {
                    f.widths.push(Width { pin: pin.label.clone(), level: row.level, when: when.clone(), ns });
                }
            }
        }
        for row in &self.clock {
            if let [Some(mhz)] = row.figures("clock")? {
                for (pin, _) in named(pins, "clock", &row.pins, reads)? {
                    f.rates.push(Rate { pin: pin.label.clone(), mhz });
                }
            }
        }
        f.pulses = self.pulse.iter().map(pulse).collect::<Result<_, _>>()?;
        self.loading(pins, &mut f)?;
        Ok(f)
    }

    /// Later rows stand for their pins instead of earlier ones.
    fn loading(&self, pins: &[Pin], f: &mut Figures) -> Result<(), Fault> {
        for row in &self.input {
            let [low_ma, high_ua] = row.figures("input")?;
            for (pin, _) in named(pins, "input", &row.pins, reads)? {
                f.inputs.insert(pin.label.clone(), InputCurrents { low_ma, high_ua });
            }
        }
        for row in &self.output {
            let [low_ma, high_ma, leak_ua, max_v, off_high_ua, off_low_ua] = row.figures("output")?;
            for (pin, _) in named(pins, "output", &row.pins, drives)? {
                let limits = OutputLimits { low_ma, high_ma, leak_ua, max_v, off_high_ua, off_low_ua };
                f.outputs.insert(pin.label.clone(), limits);
            }
        }
        for row in &self.supply {
            if let [Some(ma)] = row.figures("supply")? {
                f.supply.push(SupplyCurrent { when: row.when.clone(), ma });
            }
        }
        if let Some(row) = &self.threshold {
            let [rising_min_v, rising_max_v, falling_min_v, falling_max_v, hysteresis_min_v] =
                row.figures("threshold")?;
            f.threshold =
                Some(Threshold { rising_min_v, rising_max_v, falling_min_v, falling_max_v, hysteresis_min_v });
        }
        Ok(())
    }
}

fn pulse(row: &PulseRow) -> Result<Pulse, Fault> {
    let [factor, offset_ohm, r_min, r_max, c_min, c_max, shortest_ns, longest_s, tolerance_percent] =
        row.figures("pulse")?;
    Ok(Pulse {
        of: row.of.clone(),
        formula: row.formula.clone(),
        valid: row.valid.clone(),
        retriggerable: row.retriggerable,
        factor,
        offset_ohm,
        ohm: [r_min, r_max],
        farad: [c_min, c_max],
        shortest_ns,
        longest_s,
        tolerance_percent,
    })
}

fn add_delays(
    delays: &mut Vec<Delay>,
    paths: Vec<(Label, Label)>,
    when: &Option<String>,
    spans: &[(Change, Option<Figure>, Option<Figure>)],
) {
    let when: Option<Arc<str>> = when.as_deref().map(Into::into);
    for (from, to) in paths {
        for &(change, max, typ) in spans.iter().filter(|(_, max, typ)| max.is_some() || typ.is_some()) {
            delays.push(Delay {
                from: from.clone(),
                to: to.clone(),
                when: when.clone(),
                change,
                ns: Span { max, typ },
            });
        }
    }
}

fn family(name: &str) -> Result<Family, Fault> {
    Family::named(name).ok_or_else(|| Fault::NoFamily(name.to_owned()))
}

fn reads(role: PinRole) -> bool {
    matches!(role, PinRole::Input | PinRole::InOut(_))
}

fn drives(role: PinRole) -> bool {
    matches!(role, PinRole::Output(_) | PinRole::InOut(_))
}

/// The pins that a list of patterns stands for.
fn named<'a>(
    pins: &'a [Pin],
    table: &'static str,
    patterns: &str,
    fits: fn(PinRole) -> bool,
) -> Result<Vec<(&'a Pin, Bound)>, Fault> {
    let mut found = Vec::new();
    for pattern in patterns.split_whitespace() {
        let before = found.len();
        found.extend(
            pins.iter().filter(|p| fits(p.role)).filter_map(|p| matches(pattern, &p.name).map(|bound| (p, bound))),
        );
        if found.len() == before {
            let names: Vec<&str> = pins.iter().filter(|p| fits(p.role)).map(|p| p.name.as_str()).collect();
            return Err(Fault::NoSuchPin { table, pattern: pattern.to_owned(), pins: names.join(", ") });
        }
    }
    Ok(found)
}

/// The pairs of pins that two lists of patterns stand for: small letters mean the same in both.
fn paths(pins: &[Pin], table: &'static str, from: &str, to: &str) -> Result<Vec<(Label, Label)>, Fault> {
    let sources = named(pins, table, from, reads)?;
    let targets =
        named(pins, table, to, if matches!(table, "delay" | "enable" | "no_delay") { drives } else { reads })?;
    let mut pairs = BTreeMap::new();
    for (a, bound) in &sources {
        for (b, other) in &targets {
            if a.label != b.label && agree(bound, other) {
                pairs.insert((a.label.clone(), b.label.clone()), ());
            }
        }
    }
    if pairs.is_empty() {
        return Err(Fault::NoPath { table, from: from.to_owned(), to: to.to_owned() });
    }
    Ok(pairs.into_keys().collect())
}
