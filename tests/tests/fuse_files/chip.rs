//! Burned chips and a tester, by hand: fuse rows straight from the tables, one pin after the other, no order spared.
use std::collections::BTreeMap;

#[derive(Clone, Copy, Debug)]
enum Column {
    Pin(usize),
    Feedback(usize),
}

#[derive(Clone, Copy, Debug)]
enum Driver {
    Row(usize),
    WhilePinLow(usize),
    Always,
    Never,
}

#[derive(Clone, Debug)]
struct Cell {
    pin: usize,
    registered: bool,
    rows: std::ops::RangeInclusive<usize>,
    high: bool,
    driver: Driver,
}

/// How a chip is built; the fuses with it.
#[derive(Clone, Debug)]
pub(crate) struct Kind {
    pub(crate) pins: usize,
    columns: Vec<Column>,
    cells: Vec<Cell>,
    clock: Option<usize>,
    reset: Option<usize>,
    preset: Option<usize>,
    inverts_before: bool,
    term_fuses: Option<usize>,
    fuses: Vec<bool>,
}

/// Pin, enable row, first and last row, S0 of a 22V10 (the tables of the survey of data sheets).
const ROWS_22V10: [(usize, usize, usize, usize, usize); 10] = [
    (23, 1, 2, 9, 5808),
    (22, 10, 11, 20, 5810),
    (21, 21, 22, 33, 5812),
    (20, 34, 35, 48, 5814),
    (19, 49, 50, 65, 5816),
    (18, 66, 67, 82, 5818),
    (17, 83, 84, 97, 5820),
    (16, 98, 99, 110, 5822),
    (15, 111, 112, 121, 5824),
    (14, 122, 123, 130, 5826),
];

fn columns(text: &str) -> Vec<Column> {
    let column = |word: &str| match word.strip_prefix('f') {
        Some(pin) => Column::Feedback(pin.parse().unwrap()),
        None => Column::Pin(word.parse().unwrap()),
    };
    text.split_whitespace().map(column).collect()
}

impl Kind {
    pub(crate) fn of_22v10(fuses: &[bool]) -> Kind {
        let cell = |&(pin, enable, first, last, s0): &(usize, usize, usize, usize, usize)| Cell {
            pin,
            registered: !fuses[s0 + 1],
            rows: first..=last,
            high: fuses[s0],
            driver: Driver::Row(enable),
        };
        Kind {
            pins: 24,
            columns: columns("1 f23 2 f22 3 f21 4 f20 5 f19 6 f18 7 f17 8 f16 9 f15 10 f14 11 13"),
            cells: ROWS_22V10.iter().map(cell).collect(),
            clock: Some(1),
            reset: Some(0),
            preset: Some(131),
            inverts_before: false,
            term_fuses: None,
            fuses: fuses.to_vec(),
        }
    }

    pub(crate) fn of_16v8(fuses: &[bool]) -> Option<Kind> {
        let (syn, ac0) = (fuses[2192], fuses[2193]);
        let text = match (syn, ac0) {
            (false, true) => "2 f19 3 f18 4 f17 5 f16 6 f15 7 f14 8 f13 9 f12",
            (true, true) => "2 1 3 f18 4 f17 5 f16 6 f15 7 f14 8 f13 9 11",
            (true, false) => "2 1 3 f19 4 f18 5 f17 6 f14 7 f13 8 f12 9 11",
            (false, false) => return None,
        };
        let cell = |i: usize| {
            let (ac1, rows) = (fuses[2120 + i], i * 8..=i * 8 + 7);
            let registered = !syn && !ac1;
            let (driver, rows) = match (syn, ac0, ac1) {
                (true, false, false) => (Driver::Always, rows),
                (true, false, true) => (Driver::Never, rows),
                (false, _, false) => (Driver::WhilePinLow(11), rows),
                _ => (Driver::Row(i * 8), i * 8 + 1..=i * 8 + 7),
            };
            Cell { pin: 19 - i, registered, rows, high: fuses[2048 + i], driver }
        };
        Some(Kind {
            pins: 20,
            columns: columns(text),
            cells: (0..8).map(cell).collect(),
            clock: (!syn).then_some(1),
            reset: None,
            preset: None,
            inverts_before: true,
            term_fuses: Some(2128),
            fuses: fuses.to_vec(),
        })
    }

    fn row(&self, row: usize, chip: &Chip) -> bool {
        if self.term_fuses.is_some_and(|first| !self.fuses[first + row]) {
            return false;
        }
        self.columns.iter().enumerate().all(|(i, column)| {
            let level = match *column {
                Column::Pin(pin) => chip.level[pin],
                Column::Feedback(pin) => match chip.q.get(&pin) {
                    Some(q) => !q,
                    None => chip.level[pin],
                },
            };
            let at = (row * self.columns.len() + i) * 2;
            (self.fuses[at] || level) && (self.fuses[at + 1] || !level)
        })
    }
}

/// A chip in a tester: levels at its pins, and what it holds.
#[derive(Clone, Debug)]
pub(crate) struct Chip {
    level: Vec<bool>,
    q: BTreeMap<usize, bool>,
    /// What the tester drives.
    tester: Vec<Option<bool>>,
    /// What a pin is read as while nobody drives it.
    open: Vec<bool>,
}

impl Chip {
    /// Power comes on: registers, open pins and what cells show are given by these drawn bits.
    pub(crate) fn new(kind: &Kind, mut drawn: impl FnMut() -> bool) -> Chip {
        let open: Vec<bool> = (0..=kind.pins).map(|_| drawn()).collect();
        let q = kind.cells.iter().filter(|c| c.registered).map(|c| (c.pin, drawn())).collect();
        Chip { level: open.clone(), q, tester: vec![None; kind.pins + 1], open }
    }

    /// Power comes on with every register low, and these levels lying weakly on all pins.
    pub(crate) fn powered(kind: &Kind, outside: &[bool]) -> Chip {
        let mut chip = Chip::new(kind, || false);
        (chip.open, chip.level) = (outside.to_vec(), outside.to_vec());
        // nobody drives but the chip
        chip.settle(kind).unwrap_or_default();
        chip
    }

    /// Another weak level on one pin.
    pub(crate) fn lay(&mut self, kind: &Kind, pin: usize, high: bool) {
        self.open[pin] = high;
        self.change(kind, pin, None).unwrap_or_default();
    }

    /// What it drives a pin to; `None` if it doesn't.
    pub(crate) fn drives(&self, kind: &Kind, pin: usize) -> Option<bool> {
        kind.cells.iter().find(|c| c.pin == pin).and_then(|c| self.driven(kind, c))
    }

    /// What a cell does with its pin: `None` if nothing.
    fn driven(&self, kind: &Kind, cell: &Cell) -> Option<bool> {
        let on = match cell.driver {
            Driver::Row(row) => kind.row(row, self),
            Driver::WhilePinLow(pin) => !self.level[pin],
            Driver::Always => true,
            Driver::Never => false,
        };
        let sum = || cell.rows.clone().any(|row| kind.row(row, self));
        on.then(|| match (self.q.get(&cell.pin), kind.inverts_before) {
            (Some(q), true) => !q,
            (Some(q), false) => *q == cell.high,
            (None, _) => sum() == cell.high,
        })
    }

    /// One cell after the other until nothing changes, or for a while: a loop that never rests leaves its pins anywhere.
    /// An error if the tester drives against the device.
    fn settle(&mut self, kind: &Kind) -> Result<(), String> {
        for _ in 0..200 {
            let before = (self.level.clone(), self.q.clone());
            if kind.reset.is_some_and(|row| kind.row(row, self)) {
                self.q.values_mut().for_each(|q| *q = false);
            }
            for cell in &kind.cells {
                let (device, tester) = (self.driven(kind, cell), self.tester[cell.pin]);
                if device.is_some() && tester.is_some() {
                    return Err(format!("tester and device both drive pin {}", cell.pin));
                }
                self.level[cell.pin] = device.or(tester).unwrap_or(self.open[cell.pin]);
            }
            if before == (self.level.clone(), self.q.clone()) {
                return Ok(());
            }
        }
        Ok(())
    }

    /// The tester does something else with one pin.
    fn change(&mut self, kind: &Kind, pin: usize, to: Option<bool>) -> Result<(), String> {
        let data = |cell: &Cell, chip: &Chip| {
            let sum = cell.rows.clone().any(|row| kind.row(row, chip));
            let preset = kind.preset.is_some_and(|row| kind.row(row, chip));
            preset || if kind.inverts_before { sum != cell.high } else { sum }
        };
        let (old, loads) = (self.level[pin], self.clone());
        self.tester[pin] = to;
        if kind.cells.iter().all(|c| c.pin != pin) {
            self.level[pin] = to.unwrap_or(self.open[pin]);
        }
        if kind.clock == Some(pin) && !old && self.level[pin] && !kind.reset.is_some_and(|row| kind.row(row, &loads)) {
            for cell in kind.cells.iter().filter(|c| c.registered) {
                self.q.insert(cell.pin, data(cell, &loads));
            }
        }
        self.settle(kind)
    }

    /// One vector, its pins in this order.
    fn apply(&mut self, kind: &Kind, vector: &[u8], order: &[usize]) -> Result<(), String> {
        for &pin in order {
            self.change(kind, pin, drive(vector[pin - 1]))?;
        }
        for (i, _) in vector.iter().enumerate().filter(|(_, c)| **c == b'C') {
            self.change(kind, i + 1, Some(true))?;
            self.change(kind, i + 1, Some(false))?;
        }
        for (i, condition) in vector.iter().enumerate() {
            let cell = kind.cells.iter().find(|c| c.pin == i + 1);
            let shows = cell.and_then(|cell| self.driven(kind, cell));
            // a pin that floats is read as whatever the tester's open inputs are
            let level = shows.unwrap_or(self.open[i + 1]);
            let fails = match condition {
                b'H' => !level,
                b'L' => level,
                b'Z' => shows.is_some(),
                _ => false,
            };
            if fails {
                return Err(format!("pin {}: {shows:?} for {}", i + 1, char::from(*condition)));
            }
        }
        Ok(())
    }
}

fn drive(condition: u8) -> Option<bool> {
    match condition {
        b'0' | b'C' => Some(false),
        b'1' => Some(true),
        b'H' | b'L' | b'Z' | b'N' => None,
        other => panic!("condition `{}`", char::from(other)),
    }
}

/// A generator of drawn numbers (xorshift, Marsaglia 2003).
#[derive(Clone, Debug)]
pub(crate) struct Drawn(pub(crate) u64);

impl Drawn {
    pub(crate) fn next(&mut self, below: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as usize % below
    }
}

/// All orders of a few pins; some of many.
fn orders(pins: &[usize], drawn: &mut Drawn) -> Vec<Vec<usize>> {
    if pins.len() > 4 {
        let mut some = vec![pins.to_vec(), pins.iter().rev().copied().collect()];
        for _ in 0..10 {
            let mut order = pins.to_vec();
            (1..order.len()).for_each(|i| order.swap(i, drawn.next(i + 1)));
            some.push(order);
        }
        return some;
    }
    let mut all = vec![Vec::new()];
    for _ in pins {
        let longer = |order: &Vec<usize>| {
            let left = pins.iter().filter(|p| !order.contains(p)).copied().collect::<Vec<_>>();
            left.into_iter().map(|p| [order.as_slice(), &[p]].concat()).collect::<Vec<_>>()
        };
        all = all.iter().flat_map(longer).collect();
    }
    all
}

/// Runs vectors on a chip from one drawn power-up, every vector in many orders. `Err` is the first that fails. `open` is
/// what open pins are read as; `None`: anything, another one for each.
pub(crate) fn run(kind: &Kind, vectors: &[&str], open: Option<bool>, drawn: &mut Drawn) -> Result<(), String> {
    let mut chip = Chip::new(kind, || drawn.next(2) == 1);
    chip.open.iter_mut().for_each(|level| *level = open.unwrap_or(*level));
    for (number, vector) in (1..).zip(vectors) {
        let vector = vector.as_bytes();
        assert_eq!(vector.len(), kind.pins);
        let changes = |pin: &usize| number == 1 || chip.tester[*pin] != drive(vector[*pin - 1]);
        let pins: Vec<usize> =
            (1..=kind.pins).filter(|p| vector[*p - 1] != b'N' || chip.tester[*p].is_some()).collect();
        let pins: Vec<usize> = pins.into_iter().filter(changes).collect();
        let mut ends = Vec::new();
        for order in orders(&pins, drawn) {
            let mut next = chip.clone();
            next.apply(kind, vector, &order).map_err(|e| format!("vector {number} in the order {order:?}: {e}"))?;
            ends.push(next);
        }
        chip = ends.swap_remove(drawn.next(ends.len()));
    }
    Ok(())
}
