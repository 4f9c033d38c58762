//! 16R4, 16R6, 16R8: the bipolar originals with registers, 20 pins. Registered pins from memory.
use super::bipolar::{self, Layout};
use super::d16v8;
use crate::device::{Body, Device, Package, PinNumber};

pub(super) fn devices() -> [Device; 3] {
    const REGISTERED: [(&str, &[PinNumber]); 3] =
        [("16R4", &[14, 15, 16, 17]), ("16R6", &[13, 14, 15, 16, 17, 18]), ("16R8", &[12, 13, 14, 15, 16, 17, 18, 19])];
    REGISTERED.map(|(name, registered)| {
        bipolar::device(Layout {
            name,
            packages: vec![Package { name: "DIP-20", body: Body::Dual, pins: 20, of_dip: (1..=20).collect() }],
            outputs: &[19, 18, 17, 16, 15, 14, 13, 12],
            rows: 8,
            registered,
            exclusive: false,
            columns: d16v8::registered(),
            enable: 11,
            replacement: Some(("16V8", "registered")),
        })
    })
}
