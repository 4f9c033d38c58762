//! The 32-macrocell part of the 44-pin class: two blocks, a pin for each macrocell.
use super::blocks::{self, Layout};
use crate::device::Device;

pub(super) fn device() -> Device {
    // from memory
    let first = [4, 5, 6, 7, 8, 9, 11, 12, 13, 14, 16, 17, 18, 19, 20, 21];
    let second = [41, 40, 39, 38, 37, 36, 34, 33, 32, 31, 29, 28, 27, 26, 25, 24];
    blocks::device(Layout { name: "CPLD-32", macrocells: first.into_iter().chain(second).map(Some).collect() })
}
