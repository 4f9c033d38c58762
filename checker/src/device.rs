//! What a fuse map makes of a 22V10, a 16V8 or a 20V8: a part with pins, registers and outputs.
//!
//! Array sizes, term counts and totals by the makers' sheets (Lattice GAL22V10, GAL16V8, GAL20V8 p.1; Lattice GAL22LV10
//! p.13), rows, columns and mode fuses from memory; they agree with every total that was seen.
use std::rc::Rc;

use crate::fuses::Fuses;
use crate::model::Kind;
use crate::part::{Element, Func, Output, Part, Pin, Role};

/// A 22V10's macrocells: pin, row of its enable term, first and last row of its sum.
const CELLS_22V10: [(u16, usize, usize, usize); 10] = [
    (23, 1, 2, 9),
    (22, 10, 11, 20),
    (21, 21, 22, 33),
    (20, 34, 35, 48),
    (19, 49, 50, 65),
    (18, 66, 67, 82),
    (17, 83, 84, 97),
    (16, 98, 99, 110),
    (15, 111, 112, 121),
    (14, 122, 123, 130),
];

/// Its column pairs, by pin.
const COLUMNS_22V10: [u16; 22] = [1, 23, 2, 22, 3, 21, 4, 20, 5, 19, 6, 18, 7, 17, 8, 16, 9, 15, 10, 14, 11, 13];

/// Where the fuses of a 16V8 or 20V8 are, and its column pairs by mode: simple, complex, registered.
struct Small {
    pins: u16,
    first: u16,
    enable: u16,
    columns: [&'static [u16]; 3],
}

const SMALL_16V8: Small = Small {
    pins: 20,
    first: 19,
    enable: 11,
    columns: [
        &[2, 1, 3, 19, 4, 18, 5, 17, 6, 14, 7, 13, 8, 12, 9, 11],
        &[2, 1, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 11],
        &[2, 19, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 12],
    ],
};

const SMALL_20V8: Small = Small {
    pins: 24,
    first: 22,
    enable: 13,
    columns: [
        &[2, 1, 3, 23, 4, 22, 5, 21, 6, 20, 7, 17, 8, 16, 9, 15, 10, 14, 11, 13],
        &[2, 1, 3, 23, 4, 21, 5, 20, 6, 19, 7, 18, 8, 17, 9, 16, 10, 14, 11, 13],
        &[2, 23, 3, 22, 4, 21, 5, 20, 6, 19, 7, 18, 8, 17, 9, 16, 10, 15, 11, 14],
    ],
};

struct Build<'f> {
    part: Part,
    fuses: &'f Fuses,
    columns: Vec<Rc<Func>>,
    /// The first of the fuses that keep each row usable.
    keeps: Option<usize>,
}

fn constant(high: bool) -> Rc<Func> {
    Rc::new(Func::Constant(high))
}

fn not(f: &Rc<Func>) -> Rc<Func> {
    Rc::new(Func::Not(Rc::clone(f)))
}

fn inverted_if(invert: bool, f: Rc<Func>) -> Rc<Func> {
    if invert { not(&f) } else { f }
}

/// Whether the checker knows the fuse map of a type.
///
/// # Errors
/// If it does not: the type is named.
pub fn known(kind: &str) -> Result<(), String> {
    match kind {
        "22V10" | "16V8" | "20V8" => Ok(()),
        _ => Err(format!("the checker has no fuse map of `{kind}` and refuses it")),
    }
}

/// The device of this type with these fuses.
///
/// # Errors
/// If the checker does not know the type, or the map is none of its.
pub fn device(kind: &str, fuses: &Fuses) -> Result<Part, String> {
    let count = fuses.states.len();
    let sized = |sizes: &[usize]| {
        if sizes.contains(&count) { Ok(()) } else { Err(format!("{count} fuses are no map of a {kind}")) }
    };
    match kind {
        "22V10" => {
            // some makers add a power-down fuse: then pin 4 may put the part to sleep
            sized(&[5828, 5892, 5893])?;
            if count == 5893 && !fuses.is_open(5892) {
                return Err("the power-down fuse is set: the checker has no model of that".to_owned());
            }
            Ok(large(fuses))
        }
        "16V8" => sized(&[2194, 2195]).and_then(|()| small(kind, &SMALL_16V8, fuses)),
        "20V8" => sized(&[2706, 2707]).and_then(|()| small(kind, &SMALL_20V8, fuses)),
        _ => known(kind).and(Err(String::new())),
    }
}

fn pins(count: u16) -> Vec<Pin> {
    let role = |n| match n {
        n if n == count => Role::Vcc,
        n if 2 * n == count => Role::Gnd,
        _ => Role::Bus,
    };
    (1..=count).map(|n| Pin { number: n.to_string(), name: format!("pin {n}"), role: role(n) }).collect()
}

fn pin(number: u16) -> Rc<Func> {
    Rc::new(Func::Pin(usize::from(number) - 1))
}

fn register(number: u16) -> Element {
    let low = || constant(false);
    Element {
        name: format!("register {number}"),
        kind: Kind::Register,
        gate: pin(1),
        data: low(),
        clear: low(),
        preset: low(),
        unknown: low(),
        // registers are reset when power comes
        start: Some(false),
    }
}

fn large(fuses: &Fuses) -> Part {
    let mut part = Part { name: "22V10".to_owned(), pins: pins(24), ..Part::default() };
    let combinational = |cell: usize| fuses.is_open(5809 + 2 * cell);
    let mut of_cell = Vec::new();
    for (cell, &(number, ..)) in CELLS_22V10.iter().enumerate() {
        of_cell.push((!combinational(cell)).then_some(part.elements.len()));
        if !combinational(cell) {
            part.elements.push(register(number));
        }
    }
    let feedback = |number: u16| {
        let cell = CELLS_22V10.iter().position(|c| c.0 == number).and_then(|c| of_cell.get(c).copied().flatten());
        // a registered macrocell feeds the complement of its register back, whatever its pin shows
        cell.map_or_else(|| pin(number), |e| not(&Rc::new(Func::Held(e))))
    };
    let columns = COLUMNS_22V10.map(feedback).to_vec();
    let mut b = Build { part, fuses, columns, keeps: None };
    let (reset, preset) = (b.row(0), b.row(131));
    for (cell, &(number, enable, first, last)) in CELLS_22V10.iter().enumerate() {
        let sum = b.sum(first, last);
        let low = !fuses.is_open(5808 + 2 * cell);
        let shown = match of_cell.get(cell).copied().flatten() {
            None => inverted_if(low, sum),
            Some(e) => {
                // the reset acts at once, the preset with the clock
                b.load(e, Rc::new(Func::Any(vec![Rc::clone(&preset), sum])), Rc::clone(&reset));
                inverted_if(low, Rc::new(Func::Held(e)))
            }
        };
        let enable = b.row(enable);
        b.drive(number, enable, shown);
    }
    b.part
}

fn small(kind: &str, of: &Small, fuses: &Fuses) -> Result<Part, String> {
    let columns = of.columns[0].len() * 2;
    let array = 64 * columns;
    let (xor, ac1, keeps) = (array, array + 72, array + 80);
    let mode = match (fuses.is_open(array + 144), fuses.is_open(array + 145)) {
        (true, false) => 0,
        (true, true) => 1,
        (false, true) => 2,
        (false, false) => return Err(format!("SYN and AC0 are both 0: no mode of a {kind}")),
    };
    if fuses.states.len() == array + 147 && !fuses.is_open(array + 146) {
        return Err("the power-down fuse is set: the checker has no model of that".to_owned());
    }
    let mut part = Part { name: kind.to_owned(), pins: pins(of.pins), ..Part::default() };
    let is_registered = |cell: usize| mode == 2 && !fuses.is_open(ac1 + cell);
    let mut of_cell = Vec::new();
    for cell in 0..8 {
        of_cell.push(is_registered(cell).then_some(part.elements.len()));
        if is_registered(cell) {
            part.elements.push(register(of.first - cell as u16));
        }
    }
    let feedback = |&number: &u16| {
        let cell = of.first.checked_sub(number).filter(|&c| c < 8);
        let element = cell.and_then(|c| of_cell.get(usize::from(c)).copied().flatten());
        element.map_or_else(|| pin(number), |e| not(&Rc::new(Func::Held(e))))
    };
    let columns = of.columns.get(mode).unwrap_or(&of.columns[0]).iter().map(feedback).collect();
    let mut b = Build { part, fuses, columns, keeps: Some(keeps) };
    for cell in 0..8 {
        let (number, rows) = (of.first - cell as u16, 8 * cell);
        let (high, ac1) = (fuses.is_open(xor + cell), fuses.is_open(ac1 + cell));
        if let Some(e) = of_cell.get(cell).copied().flatten() {
            // the polarity stands before the register, and the pin shows its complement
            let sum = b.sum(rows, rows + 7);
            b.load(e, inverted_if(high, sum), constant(false));
            b.drive(number, not(&pin(of.enable)), not(&Rc::new(Func::Held(e))));
            continue;
        }
        let (enable, sum) = match (mode, ac1) {
            (0, false) => (constant(true), b.sum(rows, rows + 7)),
            (0, true) => continue,
            (1, false) => return Err(format!("pin {number}: AC1 is 0 in complex mode, which no sheet defines")),
            _ => (b.row(rows), b.sum(rows + 1, rows + 7)),
        };
        b.drive(number, enable, inverted_if(!high, sum));
    }
    Ok(b.part)
}

impl Build<'_> {
    /// A product term: all that is linked (0); nothing linked is true.
    fn row(&self, row: usize) -> Rc<Func> {
        if self.keeps.is_some_and(|first| !self.fuses.is_open(first + row)) {
            return constant(false);
        }
        let first = row * 2 * self.columns.len();
        let mut all = Vec::new();
        for (pair, level) in self.columns.iter().enumerate() {
            let (plain, complement) = (self.fuses.is_open(first + 2 * pair), self.fuses.is_open(first + 2 * pair + 1));
            match (plain, complement) {
                (true, true) => {}
                (false, true) => all.push(Rc::clone(level)),
                (true, false) => all.push(not(level)),
                (false, false) => return constant(false),
            }
        }
        Rc::new(Func::All(all))
    }

    fn sum(&self, first: usize, last: usize) -> Rc<Func> {
        Rc::new(Func::Any((first..=last).map(|row| self.row(row)).collect()))
    }

    fn load(&mut self, element: usize, data: Rc<Func>, clear: Rc<Func>) {
        if let Some(e) = self.part.elements.get_mut(element) {
            (e.data, e.clear) = (data, clear);
        }
    }

    /// An output; one that is never on is none.
    fn drive(&mut self, number: u16, enable: Rc<Func>, level: Rc<Func>) {
        if *enable != Func::Constant(false) {
            self.part.outputs.push(Output { pin: usize::from(number) - 1, enable, level });
        }
    }
}
