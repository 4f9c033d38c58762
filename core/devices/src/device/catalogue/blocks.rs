//! What the 32- and the 64-macrocell part of the 44-pin class share: limits, global pins, programming port, figures.
//!
//! Limits with a sheet were seen there; all others are from memory. Where parts of the class differ the tighter limit is
//! taken: expander terms that several macrocells share are left to the maker's fitter, and so are clock enables.
use crate::device::{
    Blocks, Body, Device, Electrical, Figure, Grade, Inverter, Limit, Package, Pin, PinNumber, PortPin, PortRest,
    Provenance, Role, Termination,
};
use gluewright_kernel::circuit::Start;

/// Macrocells, terms, clocks, clears and enables of the class.
const SHEET: &str = "Atmel 0995L p.1-2 (32 macrocells)";
/// The same for the part with 64 macrocells.
const SHEET_64: &str = "Atmel 0950P p.1 (64 macrocells)";
/// Two blocks for 32 macrocells.
const OTHER: &str = "Altera MAX 7000 Data Sheet v6.7 p.1 table 1 (32 macrocells in 2 blocks)";

/// Macrocell numbers with pins, and the name.
pub(super) struct Layout {
    pub(super) name: &'static str,
    pub(super) macrocells: Vec<Option<PinNumber>>,
}

pub(super) fn device(layout: Layout) -> Device {
    let large = layout.macrocells.len() > 32;
    let sheet = Provenance::Sheet(if large { SHEET_64 } else { SHEET });
    let limit = |value, from| Limit { value, from };
    let port = [
        (7, "TDI", PortRest::High),
        (13, "TMS", PortRest::High),
        (32, "TCK", PortRest::Low),
        (38, "TDO", PortRest::Output),
    ];
    Device {
        name: layout.name,
        pins: (1..=44).map(|number| Pin { number, role: role(number) }).collect(),
        packages: vec![
            Package { name: "PLCC-44", body: Body::Carrier, pins: 44, of_dip: (1..=44).collect() },
            // from memory: the same order, turned by six pins
            Package {
                name: "TQFP-44",
                body: Body::Flat,
                pins: 44,
                of_dip: (1..=44).map(|n| (n + 37) % 44 + 1).collect(),
            },
        ],
        rows: 0,
        modes: Vec::new(),
        blocks: Some(Blocks {
            macrocells: layout.macrocells,
            pins_from: Provenance::Memory,
            block: limit(16, if large { Provenance::Memory } else { Provenance::Sheet(OTHER) }),
            inputs: limit(40, Provenance::Memory),
            terms: limit(5, sheet),
            // 40 terms at most by the sheet; eight macrocells of five terms make them
            chain: limit(8, sheet),
            clocks: vec![43, 2, 41],
            clear: Some(1),
            enables: vec![44, 2],
            port: port.map(|(pin, signal, rest)| PortPin { pin, signal, rest }).into(),
        }),
        // the register's own level reaches pin and array; the inverter stands before it (from memory)
        inverter: Inverter::BeforeRegister,
        power_up: Start::Low,
        term_enables: None,
        signature: None,
        fuses: 0,
        other_sizes: Vec::new(),
        power_down: None,
        burned_today: true,
        replacement: None,
        grades: grades(large),
        electrical: electrical(),
        makes: Vec::new(),
        part: None,
    }
}

/// From memory, as are the pins of port and globals.
fn role(pin: PinNumber) -> Role {
    match pin {
        3 | 15 | 23 | 35 => Role::Vcc,
        10 | 22 | 30 | 42 => Role::Gnd,
        43 => Role::ClockInput,
        44 | 2 => Role::EnableInput,
        1 => Role::Input,
        _ => Role::Io,
    }
}

fn grades(large: bool) -> Vec<Grade> {
    let sheet = if large { SHEET_64 } else { SHEET };
    let m = Figure::memory;
    // pin to pin; clock to output; set-up before a global clock; product-term clock to output is no worse than pin to pin
    [("-7", Figure::sheet(7.5, sheet), 4.5, 6.0), ("-10", m(10.0), 5.0, 7.0), ("-15", m(15.0), 8.0, 11.0)]
        .map(|(name, propagation, clock_to_output, setup)| Grade {
            name,
            propagation,
            clock_to_output: m(clock_to_output),
            setup: m(setup),
            hold: m(0.0),
            ..Grade::default()
        })
        .into()
}

fn electrical() -> Vec<Electrical> {
    let m = Figure::memory;
    vec![Electrical {
        parts: "commercial, 5 V",
        vil_max: m(0.8),
        vih_min: m(2.0),
        iil: m(-10.0),
        iih: m(10.0),
        vol_max: m(0.45),
        iol: m(12.0),
        voh_min: m(2.4),
        ioh: m(-4.0),
        icc_max: m(60.0),
        vcc_min: m(4.75),
        vcc_max: m(5.25),
        // the sheet offers a keeper as an option
        termination: (Termination::Unknown, Provenance::Memory),
        ..Electrical::default()
    }]
}
