//! The table over all devices of a drawer: does it fit, with what figures, or why not.
use std::collections::BTreeMap;

use serde::Serialize;

use super::{Delay, Keeping, MOST_DEVICES, Split, Stock, keeping, split, split_over, worst_delay};
use gluewright_devices::device::Device;
use gluewright_devices::drawer::Drawer;
use gluewright_devices::fit::{Fitted, NoFit, Wishes, fit};
use gluewright_kernel::board::Board;
use gluewright_kernel::circuit::Circuit;

/// What a survey found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Survey {
    /// The circuit.
    pub circuit: String,
    /// The drawer.
    pub drawer: String,
    /// One row for each entry of the drawer, in its order.
    pub rows: Vec<Row>,
    /// How it splits over several devices of one type, where no device with a fuse map holds it alone; fewest devices
    /// first.
    pub several: Vec<Several>,
    /// Which packages of the original may stay so that one device holds the rest, where none holds all.
    pub keep: Option<Keeping>,
}

/// A split over several devices.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Several {
    /// The type of all of them, or, if they are mixed, each type with how many of it.
    pub device: String,
    /// Whether the drawer decides which type each of them is, so that types help each other out.
    pub mixed: bool,
    /// How many.
    pub count: usize,
    /// Whether fewer are proved impossible.
    pub fewest: bool,
    /// Wires between them, shared contacts included.
    pub wires: usize,
    /// Wires between them for signals without a contact.
    pub between: usize,
}

/// One kind of device.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// The generic type number.
    pub device: &'static str,
    /// Who made it; may be empty.
    pub maker: String,
    /// The type as printed.
    #[serde(rename = "type")]
    pub full_type: String,
    /// The speed grade; empty if nobody says.
    pub grade: String,
    /// The package.
    pub package: &'static str,
    /// How many there are, if somebody counted.
    pub count: Option<u32>,
    /// The device that is burned in its place today, if there is one.
    pub burn_instead: Option<&'static str>,
    /// Whether the circuit fits.
    #[serde(flatten)]
    pub outcome: Outcome,
}

/// Whether a circuit fits a device.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "outcome", rename_all = "snake_case")]
pub enum Outcome {
    /// It does.
    Fits {
        /// The device's mode; empty if it has only one.
        mode: &'static str,
        /// Macrocells in use.
        macrocells: usize,
        /// Product terms in use.
        terms: usize,
        /// The equation with the most product terms.
        widest: Option<Widest>,
        /// Pins that carry no signal and are free.
        pins_left: usize,
        /// The worst delay by each speed grade that the part may be.
        delays: Vec<Delay>,
    },
    /// It does not.
    DoesNotFit {
        /// The first reason, with the nearest change with which it would.
        reason: String,
    },
}

/// The equation with the most product terms.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Widest {
    /// The signal.
    pub signal: String,
    /// Its product terms.
    pub terms: usize,
    /// Those that its macrocell has.
    pub capacity: usize,
}

/// Fits a circuit into every device of a drawer that is there. Where no device with a fuse map holds it, tries what else
/// there is: several devices and, if the original is known, packages that stay.
pub fn survey(circuit: &Circuit, board: Option<&Board>, drawer: &Drawer, wishes: &Wishes) -> Survey {
    let mut fits: BTreeMap<&'static str, Result<Fitted, NoFit>> = BTreeMap::new();
    let rows = drawer.entries.iter().filter(|e| e.is_there()).map(|entry| {
        let device = entry.device;
        let part = entry.part();
        let found = fits.entry(device.name).or_insert_with(|| fit(circuit, device, wishes));
        let outcome = match found {
            Ok(fitted) => {
                let widest = fitted.cells.iter().max_by_key(|c| (c.terms.len(), std::cmp::Reverse(c.macrocell)));
                Outcome::Fits {
                    mode: fitted.mode,
                    macrocells: fitted.cells.len(),
                    terms: fitted.term_count(),
                    widest: widest.map(|c| Widest {
                        signal: c.name.clone(),
                        terms: c.terms.len(),
                        capacity: c.capacity,
                    }),
                    pins_left: fitted.unused.len(),
                    delays: part.grades.iter().map(|grade| worst_delay(fitted, &part, grade)).collect(),
                }
            }
            Err(reason) => Outcome::DoesNotFit { reason: reason.to_string() },
        };
        Row {
            device: device.name,
            maker: entry.maker.clone(),
            full_type: entry.full_type.clone(),
            grade: entry.grade.clone(),
            package: entry.package,
            count: entry.count,
            burn_instead: device.replacement.map(|(name, _)| name),
            outcome,
        }
    });
    let rows: Vec<Row> = rows.collect();
    let burned = |device: &Device| device.blocks.is_none();
    let alone = drawer.entries.iter().any(|e| burned(e.device) && fits.get(e.device.name).is_some_and(Result::is_ok));
    let (several, keep) = if alone {
        (Vec::new(), None)
    } else {
        (splits(circuit, drawer, wishes), board.and_then(|b| keeping(b, drawer, wishes)))
    };
    Survey { circuit: circuit.name.clone(), drawer: drawer.name.clone(), rows, several, keep }
}

/// The splits over several devices of each type that is burned today.
fn splits(circuit: &Circuit, drawer: &Drawer, wishes: &Wishes) -> Vec<Several> {
    let mut several: Vec<Several> = Vec::new();
    for entry in drawer.entries.iter().filter(|e| e.is_there() && e.device.burned_today) {
        let device = entry.device;
        if several.iter().any(|s| s.device == device.name) {
            continue;
        }
        let most = drawer.count(device).map_or(MOST_DEVICES, |n| n as usize);
        if let Ok(found) = split(circuit, device, most, wishes) {
            several.push(told(device.name.to_owned(), false, &found));
        }
    }
    // where the drawer is counted, types may have to help each other out
    let stock = Stock::of(drawer);
    if stock.len() > 1
        && stock.iter().any(|s| s.most < MOST_DEVICES)
        && let Ok(found) = split_over(circuit, &stock, wishes)
        && several.iter().all(|s| found.shares.len() < s.count)
    {
        several.push(told(found.types(), true, &found));
    }
    several.sort_by_key(|s| (s.count, s.wires));
    several
}

fn told(device: String, mixed: bool, found: &Split<'_>) -> Several {
    Several {
        device,
        mixed,
        count: found.shares.len(),
        fewest: found.fewest_devices,
        wires: found.wires,
        between: found.between.len(),
    }
}

impl Several {
    /// Which devices, in words: `3 of 16V8`.
    pub(super) fn who(&self) -> String {
        if self.mixed { self.device.clone() } else { format!("{} of {}", self.count, self.device) }
    }
}

impl Row {
    /// Whether the circuit fits.
    pub fn fits(&self) -> bool {
        matches!(self.outcome, Outcome::Fits { .. })
    }
}
