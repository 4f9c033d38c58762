//! Which packages of the original to leave in place so that one device holds the rest.
use serde::Serialize;

use gluewright_devices::device::{Device, Role};
use gluewright_devices::drawer::Drawer;
use gluewright_devices::fit::{Fitted, Wishes, fit};
use gluewright_kernel::board::Board;

/// The most packages that are proposed to stay.
const MOST_KEPT: usize = 3;

/// How many fits are tried; sets of packages that leave too many nets for any device don't count.
const TRIES: usize = 160;

/// Packages that stay, and the device for the rest.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Keeping {
    /// The packages that stay: reference and part.
    pub kept: Vec<(String, String)>,
    /// The packages that are replaced: reference and part.
    pub replaced: Vec<(String, String)>,
    /// The device.
    pub device: &'static str,
    /// Macrocells in use.
    pub macrocells: usize,
    /// Pins that carry no signal and are free.
    pub pins_left: usize,
    /// Contacts and wires that go to the device.
    pub wires: usize,
    /// Whether every smaller set of packages was tried.
    pub fewest: bool,
}

/// The fewest packages that have to stay so that one device of the drawer holds the rest; among sets of the same size the
/// one with the smallest device, then the fewest wires to it. Wishes hold as far as they are about what the
/// device gets to do. Only devices with a fuse map are tried.
pub fn keeping(board: &Board, drawer: &Drawer, wishes: &Wishes) -> Option<Keeping> {
    let references: Vec<&str> = board.chips().map(|(reference, _)| reference).collect();
    let mut devices: Vec<&'static Device> = Vec::new();
    for entry in drawer.entries.iter().filter(|e| e.is_there()) {
        let burned = entry.device.blocks.is_none() && entry.device.replacement.is_none();
        if burned && !devices.iter().any(|d| d.name == entry.device.name) {
            devices.push(entry.device);
        }
    }
    devices.sort_by_key(|d| d.pins.len());
    let pins = |d: &Device| d.pins.iter().filter(|p| !matches!(p.role, Role::Vcc | Role::Gnd)).count();
    let (mut tries, mut whole) = (0, true);
    for size in 1..=MOST_KEPT.min(references.len().saturating_sub(1)) {
        let mut best: Option<((usize, usize), Keeping)> = None;
        for set in sets(references.len(), size) {
            let names: Vec<&str> = set.iter().filter_map(|&i| references.get(i).copied()).collect();
            let Ok(remainder) = board.keeping(&names) else { continue };
            let wires = remainder.rest.contacts().len();
            let its = wishes.for_share(&remainder.rest, Vec::new());
            for device in devices.iter().filter(|d| wires <= pins(d)) {
                if best.as_ref().is_some_and(|((size, least), _)| (*size, *least) <= (device.pins.len(), wires)) {
                    break;
                }
                tries += 1;
                if tries > TRIES {
                    whole = false;
                    break;
                }
                if let Ok(fitted) = fit(&remainder.rest, device, &its) {
                    let found = found(&remainder, &fitted, wires, whole);
                    best = Some(((device.pins.len(), wires), found));
                    break;
                }
            }
        }
        if let Some((_, found)) = best {
            return Some(found);
        }
    }
    None
}

fn found(remainder: &gluewright_kernel::board::Remainder, fitted: &Fitted, wires: usize, fewest: bool) -> Keeping {
    Keeping {
        kept: remainder.kept.clone(),
        replaced: remainder.replaced.clone(),
        device: fitted.device,
        macrocells: fitted.cells.len(),
        pins_left: fitted.unused.len(),
        wires,
        fewest,
    }
}

/// All sets of that many of the first `count` numbers.
fn sets(count: usize, size: usize) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = vec![Vec::new()];
    for _ in 0..size {
        let longer = |set: &Vec<usize>| {
            let first = set.last().map_or(0, |l| l + 1);
            let set = set.clone();
            (first..count).map(move |next| set.iter().copied().chain([next]).collect())
        };
        all = all.iter().flat_map(longer).collect();
    }
    all
}
