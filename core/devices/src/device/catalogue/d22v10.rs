//! 22V10: ten macrocells of 8 to 16 product terms, common reset and preset, an enable term for each pin.
use crate::device::{
    Body, Configuration, Device, Electrical, EnableSource, Feedback, Figure, Function, Grade, Inverter, Macrocell,
    Mode, Package, Pin, Provenance, Role, Source, Termination,
};
use gluewright_kernel::circuit::Start;

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
            exclusive: 0..0,
            enable: EnableSource::Row(enable),
            feedback,
        })
        .into(),
    });
    Device {
        name: "22V10",
        pins: (1..=24).map(|number| Pin { number, role: role(number) }).collect(),
        packages: vec![
            Package { name: "DIP-24", body: Body::Dual, pins: 24, of_dip: (1..=24).collect() },
            Package { name: "PLCC-28", body: Body::Carrier, pins: 28, of_dip: PLCC.into() },
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
        blocks: None,
        inverter: Inverter::AfterRegister,
        power_up: Start::Low,
        term_enables: None,
        signature: Some(5828..5892),
        fuses: 5892,
        other_sizes: vec![5828, 5893],
        power_down: Some(5892),
        burned_today: true,
        replacement: None,
        grades: grades(),
        electrical: electrical(),
        makes: Vec::new(),
        part: None,
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

fn grades() -> Vec<Grade> {
    const E2: &str = "Lattice \"Specifications GAL22V10\" p.7 (GAL22V10D)";
    const CY: &str = "Cypress PALC22V10D p.1";
    const BIPOLAR: &str = "TI SRPS024A p.1 (TIBPAL22V10)";
    const ZERO_POWER: &str = "TI SRPS007C p.1 (TICPAL22V10Z)";
    let (e2, cy, m) = (|v| Figure::sheet(v, E2), |v| Figure::sheet(v, CY), Figure::memory);
    // tpd, tco, tcf, tsu, clock high and low, ten, tdis, tar, tarw, tarr, tspr; supply current from memory
    let seen = |name, f: [f64; 12], icc| Grade {
        name,
        propagation: e2(f[0]),
        clock_to_output: e2(f[1]),
        clock_to_feedback: e2(f[2]),
        setup: e2(f[3]),
        hold: e2(0.0),
        clock_high: e2(f[4]),
        clock_low: e2(f[5]),
        term_enable: e2(f[6]),
        term_disable: e2(f[7]),
        reset_to_output: e2(f[8]),
        reset_width: e2(f[9]),
        reset_recovery: e2(f[10]),
        preset_recovery: e2(f[11]),
        supply_current: m(icc),
        ..Grade::default()
    };
    // tpd, tco, tsu, ten, tdis, tar, tarw and recovery alike, clock high and low alike
    let remembered = |name, f: [f64; 8], icc| Grade {
        name,
        propagation: m(f[0]),
        clock_to_output: m(f[1]),
        setup: m(f[2]),
        hold: m(0.0),
        term_enable: m(f[3]),
        term_disable: m(f[4]),
        reset_to_output: m(f[5]),
        reset_width: m(f[6]),
        reset_recovery: m(f[6]),
        clock_high: m(f[7]),
        clock_low: m(f[7]),
        supply_current: m(icc),
        ..Grade::default()
    };
    let mut grades = vec![
        seen("-4", [4.0, 3.5, 2.5, 2.5, 2.0, 2.0, 5.0, 5.0, 4.5, 4.5, 3.0, 3.0], 140.0),
        seen("-5", [5.0, 4.0, 3.0, 3.0, 2.5, 2.5, 6.0, 5.5, 5.5, 4.5, 4.0, 4.0], 140.0),
        seen("-7", [7.5, 4.5, 3.0, 4.5, 3.0, 3.0, 7.5, 7.5, 9.0, 7.0, 5.0, 5.0], 140.0),
        remembered("-10", [10.0, 7.0, 7.0, 10.0, 9.0, 13.0, 8.0, 4.0], 130.0),
        remembered("-15", [15.0, 8.0, 10.0, 15.0, 15.0, 20.0, 15.0, 8.0], 90.0),
        remembered("-25", [25.0, 15.0, 15.0, 25.0, 25.0, 25.0, 25.0, 13.0], 90.0),
    ];
    for (name, tpd, ts, tco, icc) in [
        ("-7, PALC22V10D", 7.5, 5.0, 5.0, Some(130.0)),
        // the sheet's 10 ns timing is headed military and industrial, its supply current commercial
        ("-10, PALC22V10D", 10.0, 6.0, 6.0, Some(90.0)),
    ] {
        grades.push(Grade {
            name,
            propagation: cy(tpd),
            clock_to_output: cy(tco),
            setup: cy(ts),
            supply_current: icc.and_then(cy),
            ..Grade::default()
        });
    }
    // the sheet calls these the largest times; that they are propagation delays is from memory
    for (name, tpd) in [("AC, TIBPAL22V10", 25.0), ("AM, TIBPAL22V10", 30.0), ("C, TIBPAL22V10", 35.0)] {
        grades.push(Grade { name, propagation: Figure::sheet(tpd, BIPOLAR), ..Grade::default() });
    }
    for (name, tpd) in [("-25C turbo, TICPAL22V10Z", 25.0), ("-25C zero power, TICPAL22V10Z", 35.0)] {
        let (propagation, clock_to_output) = (Figure::sheet(tpd, ZERO_POWER), Figure::sheet(15.0, ZERO_POWER));
        grades.push(Grade { name, propagation, clock_to_output, ..Grade::default() });
    }
    grades
}

fn electrical() -> Vec<Electrical> {
    const ZERO_POWER: &str = "Lattice/Vantis pub. 16564 Rev E p.22 (PALCE22V10Z)";
    const HIGH_DRIVE: &str = "Philips ABT22V10A5/A7 p.4";
    let (z, h, m) = (|v| Figure::sheet(v, ZERO_POWER), |v| Figure::sheet(v, HIGH_DRIVE), Figure::memory);
    let e2 = Electrical {
        parts: "GAL22V10, commercial",
        vil_max: m(0.8),
        vih_min: m(2.0),
        iil: m(-100.0),
        iih: m(10.0),
        vol_max: m(0.5),
        iol: m(16.0),
        voh_min: m(2.4),
        ioh: m(-3.2),
        input_capacitance: Figure::sheet(8.0, "Lattice \"Specifications GAL22V10\" p.7 (GAL22V10D)"),
        termination: (Termination::PullUp, Provenance::Sheet("Lattice \"Specifications GAL22V10\" p.1")),
        ..Electrical::default()
    };
    let keeper = Electrical {
        parts: "ATF22V10C",
        iol: m(16.0),
        ioh: m(-4.0),
        termination: (Termination::Keeper, Provenance::Memory),
        ..Electrical::default()
    };
    let zero_power = Electrical {
        parts: "PALCE22V10Z",
        vil_max: z(0.9),
        vih_min: z(2.0),
        iil: z(-10.0),
        iih: z(10.0),
        vol_max: z(0.5),
        iol: z(16.0),
        voh_min: z(3.84),
        ioh: z(-6.0),
        ..Electrical::default()
    };
    let high_drive = Electrical {
        parts: "ABT22V10A",
        vil_max: h(0.8),
        vih_min: h(2.0),
        iil: h(-10.0),
        iih: h(10.0),
        vol_max: h(0.5),
        iol: h(48.0),
        voh_min: h(2.4),
        ioh: h(-16.0),
        icc_max: h(200.0),
        ..Electrical::default()
    };
    vec![e2, keeper, zero_power, high_drive]
}
