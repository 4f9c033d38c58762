//! The 64-macrocell part of the 44-pin class: four blocks, a pin for every second macrocell.
use super::blocks::{self, Layout};
use crate::device::Device;

/// Macrocells that have pins in the 44-pin package, by block, from memory.
const PINS: [[(u16, u16); 8]; 4] = [
    [(1, 12), (3, 11), (4, 9), (5, 8), (8, 7), (11, 6), (14, 5), (16, 4)],
    [(17, 21), (19, 20), (20, 19), (21, 18), (24, 17), (25, 16), (30, 14), (32, 13)],
    [(33, 24), (35, 25), (36, 26), (37, 27), (40, 28), (41, 29), (46, 31), (48, 32)],
    [(49, 33), (51, 34), (52, 36), (53, 37), (56, 38), (57, 39), (62, 40), (64, 41)],
];

pub(super) fn device() -> Device {
    let pin = |macrocell| PINS.iter().flatten().find(|(m, _)| *m == macrocell).map(|(_, pin)| *pin);
    blocks::device(Layout { name: "CPLD-64", macrocells: (1..=64).map(pin).collect() })
}
