//! 20R4, 20R6, 20R8: the bipolar originals with registers, 24 pins. Registered pins from memory.
use super::bipolar::{self, Layout};
use super::d20v8;
use crate::device::{Body, Device, Package, PinNumber};

pub(super) fn devices() -> [Device; 3] {
    const REGISTERED: [(&str, &[PinNumber]); 3] =
        [("20R4", &[17, 18, 19, 20]), ("20R6", &[16, 17, 18, 19, 20, 21]), ("20R8", &[15, 16, 17, 18, 19, 20, 21, 22])];
    REGISTERED.map(|(name, registered)| {
        bipolar::device(Layout {
            name,
            packages: vec![Package { name: "DIP-24", body: Body::Dual, pins: 24, of_dip: (1..=24).collect() }],
            outputs: &[22, 21, 20, 19, 18, 17, 16, 15],
            rows: 8,
            registered,
            exclusive: false,
            columns: d20v8::registered(),
            enable: 13,
            replacement: Some(("20V8", "registered")),
        })
    })
}
