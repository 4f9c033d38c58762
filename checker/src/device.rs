//! What a fuse map makes of a 22V10, a 16V8 or a 20V8: a part in the notation of the tables of parts. Where the fuses are is
//! data, in `data/devices.toml`.
use std::collections::HashMap;

use anyhow::{Context, Result, ensure};
use serde::Deserialize;

use crate::fuses::Fuses;
use crate::model::Op;
use crate::part::{Part, parse};

/// Where the fuses of a type are.
#[derive(Deserialize)]
struct Map {
    pins: usize,
    supplies: [usize; 2],
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
    /// What a macrocell is, by its second fuse, closed and open: lines of the notation of parts, with words in braces.
    cell: [String; 2],
}

/// A macrocell: its pin, its first and last row, its fuses of polarity and form.
#[derive(Deserialize)]
struct Cell {
    pin: usize,
    rows: [usize; 2],
    fuses: [usize; 2],
}

fn map(kind: &str) -> Result<Map> {
    let all = toml::from_str(include_str!("../data/devices.toml"));
    let mut all: HashMap<String, Map> = all.context("the checker's own table of devices")?;
    all.remove(kind).with_context(|| format!("the checker has no fuse map of `{kind}` and refuses it"))
}

/// The device of this type with these fuses.
///
/// # Errors
/// If the checker does not know the type, or the map is none of its.
pub fn device(kind: &str, fuses: &Fuses) -> Result<Part> {
    let map = map(kind)?;
    let count = fuses.states.len();
    ensure!(map.fuses.contains(&count) || map.also.contains(&count), "{count} fuses are no map of a {kind}");
    // some makers add a power-down fuse: then a pin may put the part to sleep
    ensure!(
        count != map.fuses[1] || fuses.is_open(count - 1),
        "the power-down fuse is set: the checker has no model of that"
    );
    let open = map.modes.map(|fuse| fuses.is_open(fuse));
    let mode = map.mode.iter().find(|m| map.mode.len() == 1 || m.open == open);
    let mode = mode.with_context(|| format!("SYN and AC0 are both 0: no mode of a {kind}"))?;
    let role = |n: usize| map.supplies.iter().position(|&s| s == n).map_or("bus", |k| ["vcc", "gnd"][k]);
    let pins: Vec<String> = (1..=map.pins).map(|n| format!("{n} p{n} {}", role(n))).collect();
    let form = |cell: &Cell| &mode.cell[usize::from(fuses.is_open(cell.fuses[1]))];
    let is_register = |cell: &&Cell| form(cell).starts_with("register");
    // a registered macrocell feeds the complement of its register back, whatever its pin shows
    let column = |&pin: &usize| match map.cells.iter().filter(is_register).any(|cell| cell.pin == pin) {
        true => [format!("!register_{pin}"), format!("register_{pin}")],
        false => [format!("p{pin}"), format!("!p{pin}")],
    };
    let columns: Vec<[String; 2]> = mode.columns.iter().map(column).collect();
    // a product term: all that is linked (0); nothing linked is true
    let row = |row: usize| {
        let linked = |k: usize| !fuses.is_open(2 * row * columns.len() + k);
        let blocked = map.keeps.is_some_and(|first| !fuses.is_open(first + row));
        if blocked || (0..columns.len()).any(|k| linked(2 * k) && linked(2 * k + 1)) {
            return "0".to_owned();
        }
        let all: Vec<&str> = (0..2 * columns.len()).filter(|&k| linked(k)).map(|k| &*columns[k / 2][k % 2]).collect();
        if all.is_empty() { "1".to_owned() } else { all.join(" & ") }
    };
    let sum = |first: usize, last: usize| (first..=last).map(row).collect::<Vec<_>>().join(" | ");
    let acting = |of: Option<usize>| of.map_or("0".to_owned(), row);
    let mut logic = String::new();
    for cell in &map.cells {
        let ([first, last], high) = (cell.rows, fuses.is_open(cell.fuses[0]));
        let words = [
            ("{pin}", cell.pin.to_string()),
            ("{turned if low}", if high { "" } else { "!" }.to_owned()),
            ("{turned if high}", if high { "!" } else { "" }.to_owned()),
            ("{first row}", row(first)),
            ("{other rows}", sum(first + 1, last)),
            ("{all rows}", sum(first, last)),
            ("{reset}", acting(mode.reset)),
            ("{preset}", acting(mode.preset)),
        ];
        logic += &words.iter().fold(form(cell).clone(), |text, (word, value)| text.replace(word, value));
    }
    let mut part = parse(kind, &pins.join(","), &logic)?;
    for net in &mut part.model.nets {
        // an output that is never on is none
        net.drivers.retain(|d| part.model.ops[d.enable] != Op::Constant(false));
    }
    for element in &mut part.model.elements {
        // registers are reset when power comes
        (element.name, element.start) = (element.name.replace('_', " "), Some(false));
    }
    Ok(part)
}
