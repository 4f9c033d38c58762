//! A circuit over several devices, of one type or of what a drawer holds: fewest devices first, then fewest wires between them.
//!
//! What one macrocell holds is a unit ([`units`]); units are packed into devices ([`packing`]), each device's share is
//! carved out as a circuit of its own ([`carve`]) and fitted like any other. The fit has the last word: a share that it
//! refuses is packed otherwise.
mod carve;
mod packing;
mod stock;
mod units;

use serde::Serialize;
use thiserror::Error;

use gluewright_devices::device::Device;
use gluewright_devices::fit::{Fitted, Moves, NoFit, Wishes, fit};
use gluewright_devices::logic::{LogicError, collapse};
use gluewright_kernel::circuit::Circuit;
use gluewright_kernel::limit::Over;
use packing::{Slot, pack};
pub use stock::Stock;
use stock::choices;
use units::Units;

/// As many devices are tried, unless the drawer holds fewer.
pub const MOST_DEVICES: usize = 8;

/// How often the units are packed anew because a fit refused a share, for one number of devices.
const REFUSALS: usize = 12;

/// How many choices of devices are tried for one number of them.
const MOST_CHOICES: usize = 12;

/// A circuit over several devices.
#[derive(Clone, Debug)]
pub struct Split<'d> {
    /// The devices with their shares; the first is D1.
    pub shares: Vec<Share<'d>>,
    /// The wires that carry signals without a contact from one device to others.
    pub between: Vec<Between>,
    /// Wires from device to device, contacts that go to several devices included: for each net one less than the
    /// devices on it.
    pub wires: usize,
    /// Whether fewer devices are proved impossible for this choice of macrocells.
    pub fewest_devices: bool,
    /// Whether fewer wires are proved impossible for this choice of macrocells and this number of devices.
    pub fewest_wires: bool,
}

/// What one device of a split holds.
#[derive(Clone, Debug)]
pub struct Share<'d> {
    /// What the device is called: `D1`.
    pub reference: String,
    /// Its share as a circuit. Contacts are those of the whole, and wires from and to other devices.
    pub circuit: Circuit,
    /// Its device.
    pub device: &'d Device,
    /// How the share fits.
    pub fitted: Fitted,
    /// What changes together with what in the circuit as a whole.
    moves: Vec<Moves>,
}

/// A wire between devices that carries a signal without a contact.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Between {
    /// What it is called in the wiring list: `W1`.
    pub label: String,
    /// The signal.
    pub signal: String,
    /// The device that drives it.
    pub from: String,
    /// The devices that read it.
    pub to: Vec<String>,
}

/// Why a circuit is not split.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum NoSplit {
    /// There was no time to find out.
    #[error("{over}: whether `{circuit}` can be split over {device} is open; {reached}: give it more time")]
    Over {
        /// Why it ended.
        over: Over,
        /// The circuit.
        circuit: String,
        /// The device.
        device: String,
        /// What was reached by then, in words.
        reached: String,
    },
    /// The circuit has no form that any device could hold.
    #[error(transparent)]
    Logic(#[from] LogicError),
    /// A wish for a node that isn't there.
    #[error("there is no node `{0}` to be kept: use the name of a buried node of the circuit")]
    UnknownNode(String),
    /// More signals than the search can keep apart.
    #[error("{units} signals that need a macrocell, {nets} nets: splitting takes up to {most_units} and {most_nets}")]
    TooLarge {
        /// Signals that need a macrocell.
        units: usize,
        /// Nets between them.
        nets: usize,
        /// The most signals.
        most_units: usize,
        /// The most nets.
        most_nets: usize,
    },
    /// The device has no fuse map: what several of them hold together can't be proved from bytes.
    #[error("a {0} has no fuse map here, so several of them can't be proved together: split over another device")]
    NoFuseMap(&'static str),
    /// Something that no device of this type can hold, however the rest is placed.
    #[error("however it is split: {0}")]
    Unfit(Box<NoFit>),
    /// No way was found.
    #[error("no way was found to split `{circuit}` over {}; with the most devices, the nearest one stopped at: {nearest}", up_to(*most, device))]
    NotFound {
        /// The circuit.
        circuit: String,
        /// The device.
        device: String,
        /// The most devices that were tried.
        most: usize,
        /// What stopped the nearest way.
        nearest: String,
    },
    /// There is nothing to split over.
    #[error("there is no {0} in the drawer: name another device, or add it")]
    NotThere(&'static str),
    /// It takes more devices than there are.
    #[error("`{circuit}` needs at least {needed} of {device}, {available} {} in the drawer", if *available == 1 { "is" } else { "are" })]
    TooFew {
        /// The circuit.
        circuit: String,
        /// The device.
        device: String,
        /// How many it takes at least.
        needed: usize,
        /// How many there are.
        available: usize,
    },
}

fn up_to(most: usize, device: &str) -> String {
    if most == 1 { format!("one {device}") } else { format!("up to {most} of {device}") }
}

/// Splits a circuit over at most `most` devices of one type. A pin that is wished for a contact is its pin in every device
/// that the contact goes to.
///
/// # Errors
/// Why it was not split.
pub fn split<'d>(circuit: &Circuit, device: &'d Device, most: usize, wishes: &Wishes) -> Result<Split<'d>, NoSplit> {
    if device.blocks.is_some() {
        return Err(NoSplit::NoFuseMap(device.name));
    }
    if most == 0 {
        return Err(NoSplit::NotThere(device.name));
    }
    split_over(circuit, &[Stock { device, most }], wishes)
}

/// The same over whatever devices there are, of several types: fewest devices, then fewest wires; and of these the smallest
/// that hold the shares.
///
/// # Errors
/// Why it was not split.
pub fn split_over<'d>(circuit: &Circuit, stock: &[Stock<'d>], wishes: &Wishes) -> Result<Split<'d>, NoSplit> {
    let stock: Vec<Stock<'d>> = stock.iter().filter(|s| s.most > 0).copied().collect();
    if stock.is_empty() {
        return Err(NoSplit::NotThere("device with a fuse map"));
    }
    let names = stock.iter().map(|s| s.device.name).collect::<Vec<_>>().join(" or ");
    let most = stock.iter().map(|s| s.most).sum::<usize>().min(MOST_DEVICES);
    let keep = wishes.kept_nets(circuit).map_err(NoSplit::UnknownNode)?;
    let logic = collapse(circuit, &keep)?;
    let units = Units::of(&logic);
    if units.list.len() > units::MOST_UNITS || units.nets > units::MOST_NETS {
        return Err(NoSplit::TooLarge {
            units: units.list.len(),
            nets: units.nets,
            most_units: units::MOST_UNITS,
            most_nets: units::MOST_NETS,
        });
    }
    let holds = |choice: &Vec<usize>| {
        let macrocells = choice.iter().filter_map(|&i| stock.get(i)).map(|s| stock::capacity(s.device).macrocells);
        macrocells.sum::<usize>() >= units.list.len()
    };
    let largest = stock.iter().map(|s| stock::capacity(s.device).macrocells).max().unwrap_or(0);
    let by_count = units.list.len().div_ceil(largest.max(1)).max(1);
    let Some(least) = (by_count..=most).find(|&count| choices(&stock, count).iter().any(holds)) else {
        let (circuit, needed) = (circuit.name.clone(), by_count.max(most + 1));
        return Err(NoSplit::TooFew { circuit, device: names, needed, available: most });
    };
    let alone = Alone { circuit, logic: &logic, units: &units, wishes };
    let slots: Vec<Slot> = stock
        .iter()
        .enumerate()
        .map(|(kind, s)| Slot { kind, capacity: stock::capacity(s.device), forbidden: alone.unfit(s.device) })
        .collect();
    let over = |reached: &str| {
        let over = wishes.limit().over()?;
        Some(NoSplit::Over { over, circuit: circuit.name.clone(), device: names.clone(), reached: reached.to_owned() })
    };
    if let Some(over) = over("no way was tried yet") {
        return Err(over);
    }
    let nowhere = slots.iter().fold(u128::MAX, |units, slot| units & slot.forbidden);
    if let Some(unit) = (0..units.list.len()).find(|unit| nowhere >> unit & 1 == 1)
        && let Some(no) = stock.first().and_then(|s| alone.refusal(unit, s.device))
    {
        return Err(NoSplit::Unfit(Box::new(no)));
    }
    let mut nearest = String::new();
    // every smaller number is ruled out by the count of macrocells
    let mut ruled_out = true;
    for count in least..=most {
        for (place, choice) in choices(&stock, count).iter().filter(|c| holds(c)).enumerate() {
            if place == MOST_CHOICES {
                ruled_out = false;
                break;
            }
            let slots: Vec<Slot> = choice.iter().filter_map(|&i| slots.get(i).copied()).collect();
            let device = |slot: usize| choice.get(slot).and_then(|&i| stock.get(i)).map(|s| s.device);
            let mut refused = Vec::new();
            loop {
                if let Some(over) = over(&reached(count, &nearest)) {
                    return Err(over);
                }
                let packed = match pack(&units, &slots, &refused, wishes.limit()) {
                    Ok(packed) => packed,
                    Err(proved) => {
                        // a refusal by the fit is no proof that more devices are needed, but for a single device
                        ruled_out &= proved && (refused.is_empty() || count == 1);
                        if nearest.is_empty() {
                            nearest = format!("the pins, macrocells, clocks and resets of {count} devices");
                        }
                        break;
                    }
                };
                let devices: Vec<&'d Device> = packed.slots.iter().filter_map(|&slot| device(slot)).collect();
                match alone.fitted(&packed.groups, &devices) {
                    Ok((shares, between)) => {
                        let mut found = Split {
                            shares,
                            between,
                            wires: packed.wires,
                            fewest_devices: ruled_out,
                            // any smaller devices in their place leave less room
                            fewest_wires: packed.fewest && refused.is_empty() && place == 0,
                        };
                        alone.take_smaller(&mut found, &stock);
                        // with more time smaller devices might have held them
                        return over(&format!("one way was found, over {count} devices")).map_or(Ok(found), Err);
                    }
                    Err(_) if wishes.limit().over().is_some() => {}
                    Err((share, reason)) => {
                        nearest = reason.to_string();
                        let members = packed.groups.iter().enumerate().filter(|(_, g)| **g == share);
                        let set = members.fold(0u128, |set, (unit, _)| set | 1 << unit);
                        let kind = packed.slots.get(share).and_then(|&slot| slots.get(slot)).map_or(0, |s| s.kind);
                        refused.push((kind, set));
                        if refused.len() == REFUSALS {
                            ruled_out = false;
                            break;
                        }
                    }
                }
            }
        }
    }
    Err(NoSplit::NotFound { circuit: circuit.name.clone(), device: names, most, nearest })
}

fn reached(count: usize, nearest: &str) -> String {
    let tried = format!("ways over {count} devices were tried");
    if nearest.is_empty() { tried } else { format!("{tried}, and the nearest one stopped at: {nearest}") }
}

/// The shares as they fit, and the wires between them.
type Fits<'d> = (Vec<Share<'d>>, Vec<Between>);

/// A circuit in its units.
struct Alone<'a> {
    circuit: &'a Circuit,
    logic: &'a gluewright_devices::logic::Logic,
    units: &'a Units,
    wishes: &'a Wishes,
}

impl Alone<'_> {
    /// Why this unit by itself doesn't fit a device, if it doesn't.
    fn refusal(&self, unit: usize, device: &Device) -> Option<NoFit> {
        let groups: Vec<usize> = (0..self.units.list.len()).map(|other| usize::from(other != unit)).collect();
        let share = carve::carve(self.circuit, self.logic, self.units, &groups).shares.into_iter().next()?;
        fit(&share.circuit, device, &self.wishes.for_share(&share.circuit, share.moves)).err()
    }

    /// The units that this device can't hold, one bit each.
    fn unfit(&self, device: &Device) -> u128 {
        let unfit = (0..self.units.list.len()).filter(|&unit| self.refusal(unit, device).is_some());
        unfit.fold(0, |units, unit| units | 1 << unit)
    }

    /// Fits every share into its device, or gives the first that is refused.
    fn fitted<'d>(&self, groups: &[usize], devices: &[&'d Device]) -> Result<Fits<'d>, (usize, Box<NoFit>)> {
        let carved = carve::carve(self.circuit, self.logic, self.units, groups);
        let mut shares = Vec::with_capacity(carved.shares.len());
        for (index, (share, &device)) in carved.shares.into_iter().zip(devices).enumerate() {
            let its = self.wishes.for_share(&share.circuit, share.moves.clone());
            let fitted = fit(&share.circuit, device, &its).map_err(|no| (index, Box::new(no)))?;
            let moves = share.moves;
            shares.push(Share { reference: reference(index), circuit: share.circuit, device, fitted, moves });
        }
        let between = carved.wires.into_iter().map(|w| Between {
            label: w.label.to_string(),
            signal: w.signal,
            from: reference(w.from),
            to: w.to.into_iter().map(reference).collect(),
        });
        Ok((shares, between.collect()))
    }

    /// Puts shares into smaller devices where the stock has some that hold them.
    fn take_smaller<'d>(&self, found: &mut Split<'d>, stock: &[Stock<'d>]) {
        let mut left: Vec<(&'d Device, usize)> = stock
            .iter()
            .map(|s| {
                (s.device, s.most - found.shares.iter().filter(|x| x.device.name == s.device.name).count().min(s.most))
            })
            .collect();
        for share in &mut found.shares {
            let size = |d: &Device| (d.pins.len(), stock::capacity(d).macrocells);
            let mut smaller: Vec<&'d Device> =
                left.iter().filter(|(d, n)| *n > 0 && size(d) < size(share.device)).map(|(d, _)| *d).collect();
            smaller.sort_by_key(|d| size(d));
            for device in smaller {
                let its = self.wishes.for_share(&share.circuit, share.moves.clone());
                if let Ok(fitted) = fit(&share.circuit, device, &its) {
                    for (of, n) in &mut left {
                        if of.name == device.name {
                            *n -= 1;
                        } else if of.name == share.device.name {
                            *n += 1;
                        }
                    }
                    (share.device, share.fitted) = (device, fitted);
                    break;
                }
            }
        }
    }
}

fn reference(index: usize) -> String {
    format!("D{}", index + 1)
}

impl Split<'_> {
    /// The types with how many of each: `2 of 22V10 and 1 of 16V8`.
    pub fn types(&self) -> String {
        let mut types: Vec<(&str, usize)> = Vec::new();
        for share in &self.shares {
            match types.iter_mut().find(|(name, _)| *name == share.device.name) {
                Some((_, count)) => *count += 1,
                None => types.push((share.device.name, 1)),
            }
        }
        types.iter().map(|(name, count)| format!("{count} of {name}")).collect::<Vec<_>>().join(" and ")
    }
}
