//! What a fuse map makes of a 22V10, a 16V8 or a 20V8: a part with pins, registers and outputs. Where the fuses are is
//! data, in `data/devices.toml`.
use std::collections::HashMap;

use serde::Deserialize;

use crate::fuses::Fuses;
use crate::model::{Element, Id, Kind, Model, Op, Stage};
use crate::part::{Part, Pin, Role};

/// Where the fuses of a type are.
#[derive(Deserialize)]
struct Map {
    pins: usize,
    /// How many fuses there are; with a power-down fuse, the last, in the second number.
    fuses: [usize; 2],
    /// More that a map may hold: fuses that do nothing.
    also: Vec<usize>,
    /// Two fuses that choose the mode, and which each mode has open.
    modes: [usize; 2],
    mode: Vec<Mode>,
    /// The first of the fuses that keep each row usable, if there are such.
    keeps: Option<usize>,
    cells: Vec<Cell>,
}

#[derive(Deserialize)]
struct Mode {
    open: [bool; 2],
    /// The pins of the column pairs.
    columns: Vec<usize>,
    /// Rows of a reset that acts at once and of a preset that acts with the clock.
    reset: Option<usize>,
    preset: Option<usize>,
    /// What a macrocell is, by its second fuse, closed and open.
    cell: [Form; 2],
}

/// What a macrocell is.
#[derive(Clone, Copy, Deserialize, PartialEq)]
#[serde(rename_all = "snake_case")]
enum Form {
    /// A register whose pin shows it, turned by the polarity, while the first row is true.
    Register,
    /// A register behind the polarity, whose pin shows its complement while the enable pin is low.
    RegisterBehind,
    /// The sum of all rows, always driven.
    Driven,
    /// The sum of all rows but the first, driven while that is true.
    Enabled,
    /// An input.
    Input,
    /// What no sheet defines.
    Undefined,
}

/// A macrocell: its pin, its first and last row, its fuses of polarity and form.
#[derive(Deserialize)]
struct Cell {
    pin: usize,
    rows: [usize; 2],
    fuses: [usize; 2],
}

fn map(kind: &str) -> Result<Map, String> {
    let all: Result<HashMap<String, Map>, _> = toml::from_str(include_str!("../data/devices.toml"));
    let mut all = all.map_err(|e| format!("the checker's own table of devices: {e}"))?;
    all.remove(kind).ok_or_else(|| format!("the checker has no fuse map of `{kind}` and refuses it"))
}

/// Whether the checker knows the fuse map of a type.
///
/// # Errors
/// If it does not: the type is named.
pub fn known(kind: &str) -> Result<(), String> {
    map(kind).map(drop)
}

/// The device of this type with these fuses.
///
/// # Errors
/// If the checker does not know the type, or the map is none of its.
pub fn device(kind: &str, fuses: &Fuses) -> Result<Part, String> {
    let map = map(kind)?;
    let count = fuses.states.len();
    if !map.fuses.contains(&count) && !map.also.contains(&count) {
        return Err(format!("{count} fuses are no map of a {kind}"));
    }
    // some makers add a power-down fuse: then a pin may put the part to sleep
    if count == map.fuses[1] && !fuses.is_open(count - 1) {
        return Err("the power-down fuse is set: the checker has no model of that".to_owned());
    }
    let open = map.modes.map(|fuse| fuses.is_open(fuse));
    let mode = map.mode.iter().find(|m| map.mode.len() == 1 || m.open == open);
    let mode = mode.ok_or_else(|| format!("SYN and AC0 are both 0: no mode of a {kind}"))?;
    let role = |n: usize| match n {
        n if n == map.pins => Role::Vcc,
        n if 2 * n == map.pins => Role::Gnd,
        _ => Role::Bus,
    };
    let pins = (1..=map.pins).map(|n| Pin { number: n.to_string(), name: format!("pin {n}"), role: role(n) });
    let mut d = Device { model: Model::default(), fuses, keeps: map.keeps, columns: Vec::new() };
    let pins: Vec<Pin> = pins.collect();
    for pin in &pins {
        d.model.net(pin.name.clone());
    }
    let low = d.model.op(Op::Constant(false));
    let clock = d.model.op(Op::Net(0));
    let form = |cell: &Cell| mode.cell[usize::from(fuses.is_open(cell.fuses[1]))];
    let mut of_pin = HashMap::new();
    for cell in map.cells.iter().filter(|c| matches!(form(c), Form::Register | Form::RegisterBehind)) {
        of_pin.insert(cell.pin, d.model.elements.len());
        let element = Element::new(format!("register {}", cell.pin), Kind::Register, low);
        // registers are reset when power comes
        d.model.elements.push(Element { gate: clock, start: Some(false), ..element });
    }
    for pin in &mode.columns {
        // a registered macrocell feeds the complement of its register back, whatever its pin shows
        let column = match of_pin.get(pin) {
            Some(&e) => d.held(e, false),
            None => d.model.op(Op::Net(pin - 1)),
        };
        d.columns.push(column);
    }
    let [reset, preset] = [mode.reset, mode.preset].map(|row| row.map_or(low, |row| d.row(row)));
    for cell in &map.cells {
        let (high, [first, last]) = (fuses.is_open(cell.fuses[0]), cell.rows);
        let (enable, level) = match (form(cell), of_pin.get(&cell.pin)) {
            (Form::Register, Some(&e)) => {
                let sum = d.sum(first + 1, last);
                let data = d.model.op(Op::Any(vec![preset, sum]));
                (d.model.elements[e].data, d.model.elements[e].clear) = (data, reset);
                (Some(d.row(first)), d.held(e, high))
            }
            (Form::RegisterBehind, Some(&e)) => {
                let sum = d.sum(first, last);
                d.model.elements[e].data = d.turned(sum, !high);
                // pin 11 or 13
                let enable = d.model.op(Op::Net(map.pins / 2));
                (Some(d.turned(enable, false)), d.held(e, false))
            }
            (Form::Driven, _) => (None, d.sum(first, last)),
            (Form::Enabled, _) => (Some(d.row(first)), d.sum(first + 1, last)),
            (Form::Input, _) => continue,
            _ => return Err(format!("pin {}: AC1 is 0 in complex mode, which no sheet defines", cell.pin)),
        };
        let is_register = of_pin.contains_key(&cell.pin);
        let level = if is_register { level } else { d.turned(level, high) };
        // an output that is never on is none
        if enable.is_none_or(|id| d.model.ops[id] != Op::Constant(false)) {
            d.model.drive(cell.pin - 1, enable, level, Stage::ThreeState);
        }
    }
    Ok(Part { name: kind.to_owned(), is_ttl: false, pins, model: d.model })
}

struct Device<'f> {
    model: Model,
    fuses: &'f Fuses,
    keeps: Option<usize>,
    columns: Vec<Id>,
}

impl Device<'_> {
    /// The expression, or its inverse.
    fn turned(&mut self, of: Id, plain: bool) -> Id {
        if plain { of } else { self.model.op(Op::Not(of)) }
    }

    fn held(&mut self, element: usize, plain: bool) -> Id {
        let held = self.model.op(Op::Held(element));
        self.turned(held, plain)
    }

    /// A product term: all that is linked (0); nothing linked is true.
    fn row(&mut self, row: usize) -> Id {
        let first = row * 2 * self.columns.len();
        let mut all = Vec::new();
        for (pair, level) in self.columns.clone().into_iter().enumerate() {
            for (fuse, plain) in [(first + 2 * pair, true), (first + 2 * pair + 1, false)] {
                if !self.fuses.is_open(fuse) {
                    all.push((pair, self.turned(level, plain)));
                }
            }
        }
        let contradicts = all.windows(2).any(|two| two[0].0 == two[1].0);
        let blocked = self.keeps.is_some_and(|first| !self.fuses.is_open(first + row));
        let all = all.into_iter().map(|(_, id)| id).collect();
        self.model.op(if blocked || contradicts { Op::Constant(false) } else { Op::All(all) })
    }

    fn sum(&mut self, first: usize, last: usize) -> Id {
        let rows = (first..=last).map(|row| self.row(row)).collect();
        self.model.op(Op::Any(rows))
    }
}
