//! 22V10: ten macrocells of 8 to 16 product terms, common reset and preset, an enable term for each pin.
use crate::circuit::Start;
use crate::device::{
    Configuration, Device, EnableSource, Feedback, Function, Inverter, Macrocell, Mode, Package, Pin, Role, Source,
};

/// Pin, row of the enable term, first and last row of the sum, fuses S0 (polarity) and S1 (combinational).
/// Term counts: Lattice "Specifications GAL22V10" p.1; rows and fuses from memory, total 5828 by Lattice GAL22LV10 p.13.
const MACROCELLS: [(u16, usize, usize, usize, usize, usize); 10] = [
    (23, 1, 2, 9, 5808, 5809),
    (22, 10, 11, 20, 5810, 5811),
    (21, 21, 22, 33, 5812, 5813),
    (20, 34, 35, 48, 5814, 5815),
    (19, 49, 50, 65, 5816, 5817),
    (18, 66, 67, 82, 5818, 5819),
    (17, 83, 84, 97, 5820, 5821),
    (16, 98, 99, 110, 5822, 5823),
    (15, 111, 112, 121, 5824, 5825),
    (14, 122, 123, 130, 5826, 5827),
];

/// Column pairs, from memory.
const COLUMNS: [Source; 22] = {
    use Source::{Feedback as F, Pin as P};
    [
        P(1),
        F(23),
        P(2),
        F(22),
        P(3),
        F(21),
        P(4),
        F(20),
        P(5),
        F(19),
        P(6),
        F(18),
        P(7),
        F(17),
        P(8),
        F(16),
        P(9),
        F(15),
        P(10),
        F(14),
        P(11),
        P(13),
    ]
};

/// PLCC-28 pin for DIP pins 1 to 24. Pins 17 to 27 by Lattice ispGAL22V10A p.2, the others from memory.
const PLCC: [u16; 24] = [2, 3, 4, 5, 6, 7, 9, 10, 11, 12, 13, 14, 16, 17, 18, 19, 20, 21, 23, 24, 25, 26, 27, 28];

pub(super) fn device() -> Device {
    let macrocells = MACROCELLS.map(|(pin, enable, first, last, s0, s1)| Macrocell {
        pin,
        rows: enable..last + 1,
        polarity: Some(s0),
        configurations: [
            (Function::Combinational, true, Feedback::Pin),
            (Function::Registered, false, Feedback::InvertedQ),
        ]
        .map(|(function, state, feedback)| Configuration {
            function,
            fuses: vec![(s1, state)],
            rows: first..last + 1,
            enable: EnableSource::Row(enable),
            feedback,
        })
        .into(),
    });
    Device {
        name: "22V10",
        pins: (1..=24).map(|number| Pin { number, role: role(number) }).collect(),
        packages: vec![
            Package { name: "DIP-24", pins: 24, of_dip: (1..=24).collect() },
            Package { name: "PLCC-28", pins: 28, of_dip: PLCC.into() },
        ],
        rows: 132,
        modes: vec![Mode {
            name: "",
            fuses: Vec::new(),
            columns: COLUMNS.into(),
            clock: Some(1),
            reset: Some(0),
            preset: Some(131),
            macrocells: macrocells.into(),
        }],
        inverter: Inverter::AfterRegister,
        power_up: Start::Low,
        term_enables: None,
        signature: Some(5828..5892),
        fuses: 5892,
        other_sizes: vec![5828, 5893],
        power_down: Some(5892),
        replacement: None,
        grades: Vec::new(),
        electrical: Vec::new(),
    }
}

fn role(pin: u16) -> Role {
    match pin {
        1 => Role::ClockInput,
        12 => Role::Gnd,
        24 => Role::Vcc,
        14..=23 => Role::Io,
        _ => Role::Input,
    }
}
