//! 16V8: eight macrocells on a 64 × 32 array (Lattice GAL16V8 Data Sheet p.1) in three modes.
use super::v8::{self, Layout};
use crate::device::{Body, Device, Package, Pin, Role, Source};

pub(super) fn device() -> Device {
    v8::device(Layout {
        name: "16V8",
        pins: (1..=20).map(|number| Pin { number, role: role(number) }).collect(),
        packages: [("DIP-20", Body::Dual), ("PLCC-20", Body::Carrier)]
            .map(|(name, body)| Package { name, body, pins: 20, of_dip: (1..=20).collect() })
            .into(),
        macrocells: [19, 18, 17, 16, 15, 14, 13, 12],
        registered: registered(),
        complex: complex(),
        simple: simple(),
        clock: 1,
        enable: 11,
        // from memory; they add up to the 2194 fuses
        polarity: 2048,
        signature: 2056..2120,
        ac1: 2120,
        term_enables: 2128,
        syn: 2192,
        ac0: 2193,
    })
}

use Source::{Feedback as F, Pin as P};

/// Column pairs in registered mode, from memory.
pub(super) fn registered() -> Vec<Source> {
    vec![P(2), F(19), P(3), F(18), P(4), F(17), P(5), F(16), P(6), F(15), P(7), F(14), P(8), F(13), P(9), F(12)]
}

/// Column pairs in complex mode, from memory.
pub(super) fn complex() -> Vec<Source> {
    vec![P(2), P(1), P(3), F(18), P(4), F(17), P(5), F(16), P(6), F(15), P(7), F(14), P(8), F(13), P(9), P(11)]
}

/// Column pairs in simple mode, from memory.
fn simple() -> Vec<Source> {
    vec![P(2), P(1), P(3), F(19), P(4), F(18), P(5), F(17), P(6), F(14), P(7), F(13), P(8), F(12), P(9), P(11)]
}

fn role(pin: u16) -> Role {
    match pin {
        1 => Role::ClockInput,
        10 => Role::Gnd,
        11 => Role::EnableInput,
        20 => Role::Vcc,
        12..=19 => Role::Io,
        _ => Role::Input,
    }
}
