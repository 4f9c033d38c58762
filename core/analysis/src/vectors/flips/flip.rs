//! Single fuses in the wrong state: what each would change, and whether that can be seen at all.
use crate::vectors::socket::array::{Array, Enable};
use gluewright_devices::device::Device;
use gluewright_devices::fusefile::Fuses;

/// A fuse in the wrong state.
#[derive(Clone, Debug)]
pub(in crate::vectors) struct Flip {
    pub(in crate::vectors) fuse: usize,
    pub(in crate::vectors) what: Change,
}

/// What the fuse changes.
#[derive(Clone, Debug)]
pub(in crate::vectors) enum Change {
    /// A link of a product term.
    Link { row: usize, pair: usize, complement: bool },
    /// Whether a product term is on.
    Term { row: usize },
    /// How the device is set up: it is another device then.
    Setup(Box<Array>),
}

/// All single flips of a fuse map.
#[derive(Clone, Debug, Default)]
pub(in crate::vectors) struct Flips {
    /// Those that may be seen.
    pub(in crate::vectors) list: Vec<Flip>,
    /// Fuses that change nothing that can be seen, by the structure or by the function of the sum.
    pub(in crate::vectors) silent: Vec<usize>,
    /// Fuses that set the device up as no data sheet defines.
    pub(in crate::vectors) undefined: Vec<usize>,
}

impl Flips {
    pub(in crate::vectors) fn of(device: &Device, fuses: &Fuses, array: &Array) -> Flips {
        let mut flips = Flips::default();
        let owners = Owners::new(array);
        let essence = array.essence();
        let columns = device.columns();
        let cells = device.rows * columns;
        for fuse in 0..fuses.len() {
            let term = device.term_enables.and_then(|first| fuse.checked_sub(first)).filter(|&row| row < device.rows);
            let what = if fuse < cells {
                let (row, column) = (fuse / columns.max(1), fuse % columns.max(1));
                Change::Link { row, pair: column / 2, complement: column % 2 == 1 }
            } else if let Some(row) = term {
                Change::Term { row }
            } else if device.signature.as_ref().is_some_and(|s| s.contains(&fuse)) {
                flips.silent.push(fuse);
                continue;
            } else {
                let mut other = fuses.clone();
                other.set(fuse, fuses.get(fuse) == Some(false));
                match Array::new(device, &other) {
                    Err(_) => {
                        flips.undefined.push(fuse);
                        continue;
                    }
                    Ok(other) if other.essence() == essence => {
                        flips.silent.push(fuse);
                        continue;
                    }
                    Ok(other) => Change::Setup(Box::new(other)),
                }
            };
            if owners.is_silent(array, &what) {
                flips.silent.push(fuse);
            } else {
                flips.list.push(Flip { fuse, what });
            }
        }
        flips
    }
}

/// What a row is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::vectors) enum Owner {
    /// A term of this cell's sum.
    Sum(usize),
    /// This cell's enable.
    Enable(usize),
    Reset,
    Preset,
}

/// What each row is for, where that can be seen.
#[derive(Clone, Debug)]
pub(in crate::vectors) struct Owners(Vec<Option<Owner>>);

impl Owners {
    pub(in crate::vectors) fn new(array: &Array) -> Owners {
        let mut owners = vec![None; array.rows.len()];
        let mut own = |row: usize, owner: Owner| {
            if let Some(o) = owners.get_mut(row) {
                *o = Some(owner);
            }
        };
        let observed = array.observed();
        let register = array.cells.iter().zip(&observed).any(|(c, seen)| *seen && c.is_register);
        for (row, owner) in [(array.reset, Owner::Reset), (array.preset, Owner::Preset)] {
            if let Some(row) = row.filter(|_| register) {
                own(row, owner);
            }
        }
        for (index, (cell, seen)) in array.cells.iter().zip(&observed).enumerate() {
            // an enable that is never true may become true by a flip
            if let Enable::Row(row) = cell.enable {
                own(row, Owner::Enable(index));
            }
            if *seen {
                cell.rows.iter().for_each(|&row| own(row, Owner::Sum(index)));
            }
        }
        Owners(owners)
    }

    pub(in crate::vectors) fn of(&self, row: usize) -> Option<Owner> {
        self.0.get(row).copied().flatten()
    }

    /// Whether a change of a row changes no function: nobody looks at the row, or the sum stays what it was.
    fn is_silent(&self, array: &Array, what: &Change) -> bool {
        let (row, after) = match *what {
            Change::Link { row, pair, complement } => {
                (row, array.row(row).and_then(|r| r.flipped(pair, complement).cube()))
            }
            Change::Term { row } => (row, array.row(row).and_then(|r| r.switched().cube())),
            Change::Setup(_) => return false,
        };
        let before = array.cube(row);
        if before == after {
            return true;
        }
        match self.of(row) {
            None => true,
            Some(Owner::Enable(_) | Owner::Reset | Owner::Preset) => false,
            Some(Owner::Sum(cell)) => {
                let Some(cell) = array.cells.get(cell) else { return true };
                let with = |term| array.sum(&cell.rows, row, term);
                let holds = |term, cube: Option<_>| with(term).is_some_and(|s| cube.is_none_or(|c| s.contains(c)));
                holds(after, before) && holds(before, after)
            }
        }
    }
}
