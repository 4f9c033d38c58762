//! 20X4, 20X8, 20X10 and 20L10: the bipolar originals of ten outputs with four rows each, 24 pins. Those with registers load
//! the exclusive-or of two sums of two terms. All from memory but the size: maps in use have 1600 fuses, 40 rows of 40.
use super::bipolar::{self, Layout};
use crate::device::{Body, Device, Package, PinNumber, Source};

pub(super) fn devices() -> [Device; 4] {
    const REGISTERED: [(&str, &[PinNumber]); 4] = [
        ("20L10", &[]),
        ("20X4", &[17, 18, 19, 20]),
        ("20X8", &[15, 16, 17, 18, 19, 20, 21, 22]),
        ("20X10", &[14, 15, 16, 17, 18, 19, 20, 21, 22, 23]),
    ];
    REGISTERED.map(|(name, registered)| {
        bipolar::device(Layout {
            name,
            packages: vec![Package { name: "DIP-24", body: Body::Dual, pins: 24, of_dip: (1..=24).collect() }],
            outputs: &[23, 22, 21, 20, 19, 18, 17, 16, 15, 14],
            rows: 4,
            registered,
            exclusive: true,
            columns: columns(!registered.is_empty()),
            enable: 13,
            replacement: None,
        })
    })
}

/// Inputs from the left and outputs from the right in turn, from the top. Without a clock, pins 1 and 13 are inputs; they stand
/// where the first and the last output would, which then feed nothing back.
fn columns(clocked: bool) -> Vec<Source> {
    let inputs = (2..=11).map(Source::Pin);
    let outputs = (14..=23).rev().map(|pin| match pin {
        23 if !clocked => Source::Pin(1),
        14 if !clocked => Source::Pin(13),
        _ => Source::Feedback(pin),
    });
    inputs.zip(outputs).flat_map(|(input, output)| [input, output]).collect()
}
