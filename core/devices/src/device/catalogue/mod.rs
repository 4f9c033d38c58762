//! The devices, one file each beside what families share; a new device is a new file and a line here.
mod bipolar;
mod blocks;
mod cpld32;
mod cpld64;
mod d16l8;
mod d16r;
mod d16v8;
mod d20l8;
mod d20r;
mod d20v8;
mod d22v10;
mod exclusive;
mod makes;
mod v8;

use std::sync::LazyLock;

use super::Device;

static DEVICES: LazyLock<Vec<Device>> = LazyLock::new(|| {
    let mut devices = vec![d16v8::device(), d20v8::device(), d22v10::device(), d16l8::device(), d20l8::device()];
    devices.extend(d16r::devices());
    devices.extend(d20r::devices());
    devices.extend(exclusive::devices());
    devices.extend([cpld32::device(), cpld64::device()]);
    for device in &mut devices {
        device.makes = makes::of(device.name);
    }
    devices
});

/// Every device that has a description.
pub fn all() -> &'static [Device] {
    &DEVICES
}

/// The device with this generic type number, in either case: `22V10`.
pub fn find(name: &str) -> Option<&'static Device> {
    all().iter().find(|d| d.name.eq_ignore_ascii_case(name.trim()))
}
