//! 20L8: the bipolar original without registers, 24 pins.
use super::bipolar::{self, Layout};
use super::d20v8;
use crate::device::{Body, Device, Package};

pub(super) fn device() -> Device {
    bipolar::device(Layout {
        name: "20L8",
        packages: vec![Package { name: "DIP-24", body: Body::Dual, pins: 24, of_dip: (1..=24).collect() }],
        outputs: &[22, 21, 20, 19, 18, 17, 16, 15],
        rows: 8,
        registered: &[],
        exclusive: false,
        columns: d20v8::complex(),
        enable: 13,
        replacement: Some(("20V8", "complex")),
    })
}
