//! The devices, one file each; a new device is a new file and a line here.
mod d22v10;

use std::sync::LazyLock;

use super::Device;

static DEVICES: LazyLock<Vec<Device>> = LazyLock::new(|| vec![d22v10::device()]);

/// Every device that has a description.
pub fn all() -> &'static [Device] {
    &DEVICES
}

/// The device with this generic type number, in either case: `22V10`.
pub fn find(name: &str) -> Option<&'static Device> {
    all().iter().find(|d| d.name.eq_ignore_ascii_case(name.trim()))
}
