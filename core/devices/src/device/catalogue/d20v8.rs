//! 20V8: eight macrocells on a 64 × 40 array (Lattice GAL20V8 Data Sheet p.1) in three modes.
use super::v8::{self, Layout};
use crate::device::{Body, Device, Package, Pin, Role, Source};

pub(super) fn device() -> Device {
    v8::device(Layout {
        name: "20V8",
        pins: (1..=24).map(|number| Pin { number, role: role(number) }).collect(),
        packages: packages(),
        macrocells: [22, 21, 20, 19, 18, 17, 16, 15],
        registered: registered(),
        complex: complex(),
        simple: simple(),
        clock: 1,
        enable: 13,
        // from memory; they add up to the 2706 fuses
        polarity: 2560,
        signature: 2568..2632,
        ac1: 2632,
        term_enables: 2640,
        syn: 2704,
        ac0: 2705,
    })
}

use Source::{Feedback as F, Pin as P};

/// Column pairs in registered mode, from memory.
pub(super) fn registered() -> Vec<Source> {
    vec![
        P(2),
        P(23),
        P(3),
        F(22),
        P(4),
        F(21),
        P(5),
        F(20),
        P(6),
        F(19),
        P(7),
        F(18),
        P(8),
        F(17),
        P(9),
        F(16),
        P(10),
        F(15),
        P(11),
        P(14),
    ]
}

/// Column pairs in complex mode, from memory.
pub(super) fn complex() -> Vec<Source> {
    vec![
        P(2),
        P(1),
        P(3),
        P(23),
        P(4),
        F(21),
        P(5),
        F(20),
        P(6),
        F(19),
        P(7),
        F(18),
        P(8),
        F(17),
        P(9),
        F(16),
        P(10),
        P(14),
        P(11),
        P(13),
    ]
}

/// Column pairs in simple mode, from memory.
fn simple() -> Vec<Source> {
    vec![
        P(2),
        P(1),
        P(3),
        P(23),
        P(4),
        F(22),
        P(5),
        F(21),
        P(6),
        F(20),
        P(7),
        F(17),
        P(8),
        F(16),
        P(9),
        F(15),
        P(10),
        P(14),
        P(11),
        P(13),
    ]
}

/// From memory.
pub(super) fn packages() -> Vec<Package> {
    let plcc = [2, 3, 4, 5, 6, 7, 9, 10, 11, 12, 13, 14, 16, 17, 18, 19, 20, 21, 23, 24, 25, 26, 27, 28];
    vec![
        Package { name: "DIP-24", body: Body::Dual, pins: 24, of_dip: (1..=24).collect() },
        Package { name: "PLCC-28", body: Body::Carrier, pins: 28, of_dip: plcc.into() },
    ]
}

fn role(pin: u16) -> Role {
    match pin {
        1 => Role::ClockInput,
        12 => Role::Gnd,
        13 => Role::EnableInput,
        24 => Role::Vcc,
        15..=22 => Role::Io,
        _ => Role::Input,
    }
}
