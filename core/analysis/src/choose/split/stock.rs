//! What there is to split over: types with a fuse map, and how many of each.
use super::packing::Capacity;
use gluewright_devices::device::{Device, Role};
use gluewright_devices::drawer::Drawer;

use super::MOST_DEVICES;

/// A type, and how many of it may be taken.
#[derive(Clone, Copy, Debug)]
pub struct Stock<'d> {
    /// The type.
    pub device: &'d Device,
    /// How many at most.
    pub most: usize,
}

impl Stock<'static> {
    /// What a drawer holds of the types that are burned today and have a fuse map, the largest first.
    pub fn of(drawer: &Drawer) -> Vec<Stock<'static>> {
        let mut all: Vec<Stock<'static>> = Vec::new();
        for device in drawer.entries.iter().filter(|e| e.is_there()).map(|e| e.device) {
            let burned = device.blocks.is_none() && device.burned_today;
            if burned && !all.iter().any(|s| s.device.name == device.name) {
                all.push(Stock { device, most: drawer.count(device).map_or(MOST_DEVICES, |n| n as usize) });
            }
        }
        all.sort_by_key(|s| std::cmp::Reverse(capacity(s.device)));
        all
    }
}

/// What a device holds.
pub(super) fn capacity(device: &Device) -> Capacity {
    let macrocells = device.modes.iter().map(|m| m.macrocells.len()).max().unwrap_or(0);
    let pins = device.pins.iter().filter(|p| !matches!(p.role, Role::Vcc | Role::Gnd)).count();
    Capacity { macrocells, pins }
}

/// The choices of that many devices, by their places in the stock; the largest first.
pub(super) fn choices(stock: &[Stock<'_>], count: usize) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = vec![Vec::new()];
    for _ in 0..count {
        let mut longer = Vec::new();
        for choice in &all {
            let first = choice.last().copied().unwrap_or(0);
            for (index, s) in stock.iter().enumerate().skip(first) {
                if choice.iter().filter(|&&i| i == index).count() < s.most {
                    longer.push(choice.iter().copied().chain([index]).collect());
                }
            }
        }
        all = longer;
    }
    all
}
