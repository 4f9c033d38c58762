//! A circuit over several devices of one type: fewest devices first, then fewest wires between them.
//!
//! What one macrocell holds is a unit ([`units`]); units are packed into devices ([`packing`]), each device's share is
//! carved out as a circuit of its own ([`carve`]) and fitted like any other. The fit has the last word: a share that it
//! refuses is packed otherwise.
mod carve;
mod packing;
mod units;

use serde::Serialize;
use thiserror::Error;

use crate::circuit::{Circuit, Label};
use crate::device::{Device, Role};
use crate::fit::{Fitted, NoFit, Wishes, fit};
use crate::logic::{LogicError, collapse};
use packing::{Capacity, pack};
use units::Units;

/// As many devices are tried, unless the drawer holds fewer.
pub const MOST_DEVICES: usize = 8;

/// How often the units are packed anew because a fit refused a share, for one number of devices.
const REFUSALS: usize = 12;

/// A circuit over several devices.
#[derive(Clone, Debug)]
pub struct Split {
    /// The devices with their shares; the first is U1.
    pub shares: Vec<Share>,
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
pub struct Share {
    /// What the device is called: `D1`.
    pub reference: String,
    /// Its share as a circuit. Contacts are those of the whole, and wires from and to other devices.
    pub circuit: Circuit,
    /// How the share fits.
    pub fitted: Fitted,
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
        device: &'static str,
        /// The most devices that were tried.
        most: usize,
        /// What stopped the nearest way.
        nearest: String,
    },
    /// It takes more devices than there are.
    #[error("`{circuit}` needs at least {needed} of {device}, {available} {} in the drawer", if *available == 1 { "is" } else { "are" })]
    TooFew {
        /// The circuit.
        circuit: String,
        /// The device.
        device: &'static str,
        /// How many it takes at least.
        needed: usize,
        /// How many there are.
        available: usize,
    },
}

fn up_to(most: usize, device: &str) -> String {
    if most == 1 { format!("one {device}") } else { format!("up to {most} of {device}") }
}

/// Splits a circuit over at most `most` devices of one type. Pins that are wished for don't count: each device has
/// pins of its own.
///
/// # Errors
/// Why it was not split.
pub fn split(circuit: &Circuit, device: &Device, most: usize, wishes: &Wishes) -> Result<Split, NoSplit> {
    if device.blocks.is_some() {
        return Err(NoSplit::NoFuseMap(device.name));
    }
    let most = most.min(MOST_DEVICES);
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
    let macrocells = device.modes.iter().map(|m| m.macrocells.len()).max().unwrap_or(0);
    let pins = device.pins.iter().filter(|p| !matches!(p.role, Role::Vcc | Role::Gnd)).count();
    let capacity = Capacity { macrocells, pins };
    let least = units.list.len().div_ceil(macrocells.max(1)).max(1);
    if least > most {
        let (circuit, needed) = (circuit.name.clone(), least);
        return Err(NoSplit::TooFew { circuit, device: device.name, needed, available: most });
    }
    for alone in 0..units.list.len() {
        let groups: Vec<usize> = (0..units.list.len()).map(|unit| usize::from(unit != alone)).collect();
        if let Some(share) = carve::carve(circuit, &logic, &units, &groups).shares.into_iter().next() {
            let its = wishes.for_share(&share.circuit, share.moves);
            fit(&share.circuit, device, &its).map_err(|no| NoSplit::Unfit(Box::new(no)))?;
        }
    }
    let mut nearest = String::new();
    // every smaller number is ruled out by the count of macrocells
    let mut ruled_out = true;
    for count in least..=most {
        let mut refused = Vec::new();
        loop {
            let packed = match pack(&units, capacity, count, &refused) {
                Ok(packed) => packed,
                Err(proved) => {
                    // what the fit refused is refused; only for one device that rules out everything
                    ruled_out &= proved && (refused.is_empty() || count == 1);
                    if nearest.is_empty() {
                        nearest = format!("the pins, macrocells, clocks and resets of {count} devices");
                    }
                    break;
                }
            };
            match fitted(circuit, &logic, &units, &packed.groups, device, wishes) {
                Ok((shares, between)) => {
                    return Ok(Split {
                        shares,
                        between,
                        wires: packed.wires,
                        fewest_devices: ruled_out,
                        fewest_wires: packed.fewest && refused.is_empty(),
                    });
                }
                Err((share, reason)) => {
                    nearest = reason.to_string();
                    let members = packed.groups.iter().enumerate().filter(|(_, g)| **g == share);
                    refused.push(members.fold(0u128, |set, (unit, _)| set | 1 << unit));
                    if refused.len() == REFUSALS {
                        ruled_out = false;
                        break;
                    }
                }
            }
        }
    }
    Err(NoSplit::NotFound { circuit: circuit.name.clone(), device: device.name, most, nearest })
}

/// The shares as they fit, and the wires between them.
type Fits = (Vec<Share>, Vec<Between>);

/// Fits every share, or gives the first that is refused.
fn fitted(
    circuit: &Circuit,
    logic: &crate::logic::Logic,
    units: &Units,
    groups: &[usize],
    device: &Device,
    wishes: &Wishes,
) -> Result<Fits, (usize, Box<NoFit>)> {
    let carved = carve::carve(circuit, logic, units, groups);
    let mut shares = Vec::with_capacity(carved.shares.len());
    for (index, share) in carved.shares.into_iter().enumerate() {
        let its = wishes.for_share(&share.circuit, share.moves);
        let fitted = fit(&share.circuit, device, &its).map_err(|no| (index, Box::new(no)))?;
        shares.push(Share { reference: reference(index), circuit: share.circuit, fitted });
    }
    let between = carved.wires.into_iter().map(|w| Between {
        label: w.label.to_string(),
        signal: w.signal,
        from: reference(w.from),
        to: w.to.into_iter().map(reference).collect(),
    });
    Ok((shares, between.collect()))
}

fn reference(index: usize) -> String {
    format!("D{}", index + 1)
}

impl Split {
    /// Whether this label is a wire between devices.
    pub fn is_between(&self, label: &Label) -> bool {
        self.between.iter().any(|w| w.label == label.as_str())
    }
}
