//! 16L8: the bipolar original without registers, 20 pins.
use super::bipolar::{self, Layout};
use super::d16v8;
use crate::device::{Body, Device, Package};

pub(super) fn device() -> Device {
    bipolar::device(Layout {
        name: "16L8",
        packages: vec![Package { name: "DIP-20", body: Body::Dual, pins: 20, of_dip: (1..=20).collect() }],
        outputs: &[19, 18, 17, 16, 15, 14, 13, 12],
        rows: 8,
        registered: &[],
        exclusive: false,
        columns: d16v8::complex(),
        enable: 11,
        replacement: Some(("16V8", "complex")),
    })
}
