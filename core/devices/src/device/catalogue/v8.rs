//! What 16V8 and 20V8 share: eight macrocells of eight rows, three modes by the fuses SYN and AC0, one fuse AC1 and one
//! polarity fuse for each macrocell, a fuse for each product term. All of it from memory but for the counts.
use std::ops::Range;

use crate::device::{
    Configuration, Device, Electrical, EnableSource, Feedback, Figure, Function, Grade, Inverter, Macrocell, Mode,
    Package, Pin, PinNumber, Provenance, Source, Termination,
};
use gluewright_kernel::circuit::Start;

/// What tells one of the two from the other.
pub(super) struct Layout {
    pub(super) name: &'static str,
    pub(super) pins: Vec<Pin>,
    pub(super) packages: Vec<Package>,
    /// The macrocells' pins, first rows first.
    pub(super) macrocells: [PinNumber; 8],
    /// What the column pairs carry.
    pub(super) registered: Vec<Source>,
    pub(super) complex: Vec<Source>,
    pub(super) simple: Vec<Source>,
    /// The pins that clock and enable the registered outputs.
    pub(super) clock: PinNumber,
    pub(super) enable: PinNumber,
    /// The first polarity fuse, the signature, the first AC1 fuse, the first product-term fuse, SYN and AC0.
    pub(super) polarity: usize,
    pub(super) signature: Range<usize>,
    pub(super) ac1: usize,
    pub(super) term_enables: usize,
    pub(super) syn: usize,
    pub(super) ac0: usize,
}

pub(super) fn device(l: Layout) -> Device {
    let macrocells = |configurations: &dyn Fn(usize, Range<usize>) -> Vec<Configuration>| {
        let indexed = l.macrocells.iter().enumerate();
        let macrocell = |(i, &pin): (usize, &PinNumber)| {
            let rows = i * 8..i * 8 + 8;
            Macrocell {
                pin,
                rows: rows.clone(),
                polarity: Some(l.polarity + i),
                configurations: configurations(l.ac1 + i, rows),
            }
        };
        indexed.map(macrocell).collect::<Vec<_>>()
    };
    // seven terms; the first row enables the driver
    let combinational = |ac1, rows: Range<usize>| Configuration {
        function: Function::Combinational,
        fuses: vec![(ac1, true)],
        rows: rows.start + 1..rows.end,
        exclusive: 0..0,
        enable: EnableSource::Row(rows.start),
        feedback: Feedback::Pin,
    };
    let registered = |ac1, rows| Configuration {
        function: Function::Registered,
        fuses: vec![(ac1, false)],
        rows,
        exclusive: 0..0,
        enable: EnableSource::Pin(l.enable),
        feedback: Feedback::InvertedQ,
    };
    let always_on = |ac1, rows| Configuration {
        function: Function::Combinational,
        fuses: vec![(ac1, false)],
        rows,
        exclusive: 0..0,
        enable: EnableSource::Always,
        feedback: Feedback::Pin,
    };
    // The two middle macrocells have no columns in simple mode and can't be inputs; that AC1 = 1 leaves them undriven
    // all the same, as it does the others, is from memory.
    let input = |ac1, rows: Range<usize>| Configuration {
        function: Function::Input,
        fuses: vec![(ac1, true)],
        rows: rows.start..rows.start,
        exclusive: 0..0,
        enable: EnableSource::Never,
        feedback: Feedback::Pin,
    };
    let mode = |name, syn, ac0, columns: &Vec<Source>, clock, macrocells| Mode {
        name,
        fuses: vec![(l.syn, syn), (l.ac0, ac0)],
        columns: columns.clone(),
        clock,
        reset: None,
        preset: None,
        macrocells,
    };
    let fuses = l.ac0 + 1;
    Device {
        name: l.name,
        modes: vec![
            mode(
                "simple",
                true,
                false,
                &l.simple,
                None,
                macrocells(&|f, r| vec![always_on(f, r.clone()), input(f, r)]),
            ),
            mode("complex", true, true, &l.complex, None, macrocells(&|f, r| vec![combinational(f, r)])),
            mode(
                "registered",
                false,
                true,
                &l.registered,
                Some(l.clock),
                macrocells(&|f, r| vec![combinational(f, r.clone()), registered(f, r)]),
            ),
        ],
        pins: l.pins,
        packages: l.packages,
        rows: 64,
        blocks: None,
        inverter: Inverter::BeforeRegister,
        power_up: Start::Low,
        term_enables: Some(l.term_enables),
        signature: Some(l.signature),
        fuses,
        other_sizes: vec![fuses + 1],
        power_down: Some(fuses),
        burned_today: true,
        replacement: None,
        grades: grades(),
        electrical: electrical(),
        makes: Vec::new(),
        part: None,
    }
}

/// Representative commercial grades; makers and dies differ, above all in setup. Where their figures are known to differ, the
/// slowest stands here.
fn grades() -> Vec<Grade> {
    let m = Figure::memory;
    // tpd, tco, tsu, enable and disable by a term, by the pin, clock high and low alike
    let grade = |name, f: [f64; 6], icc| Grade {
        name,
        propagation: m(f[0]),
        clock_to_output: m(f[1]),
        setup: m(f[2]),
        hold: m(0.0),
        term_enable: m(f[3]),
        term_disable: m(f[3]),
        pin_enable: m(f[4]),
        pin_disable: m(f[4]),
        clock_high: m(f[5]),
        clock_low: m(f[5]),
        supply_current: m(icc),
        ..Grade::default()
    };
    vec![
        grade("-7", [7.5, 5.0, 5.0, 9.0, 6.0, 5.0], 115.0),
        grade("-10", [10.0, 7.5, 7.5, 10.0, 10.0, 8.0], 115.0),
        grade("-15", [15.0, 10.0, 12.0, 15.0, 15.0, 8.0], 90.0),
        grade("-25", [25.0, 12.0, 15.0, 25.0, 20.0, 12.0], 90.0),
    ]
}

fn electrical() -> Vec<Electrical> {
    const FAST: &str = "Lattice \"GAL16V8D-7/10/883\" p.2";
    const SLOW: &str = "Lattice \"Specifications GAL16V8D/883\" p.4";
    const SUPPLY: &str = "Lattice \"Specifications GAL16V8D/883\"";
    let m = Figure::memory;
    let commercial = Electrical {
        parts: "GAL16V8, GAL20V8, commercial",
        vil_max: m(0.8),
        vih_min: m(2.0),
        iil: m(-100.0),
        iih: m(10.0),
        vol_max: m(0.5),
        iol: m(24.0),
        voh_min: m(2.4),
        ioh: m(-3.2),
        termination: (Termination::PullUp, Provenance::Sheet("Lattice GAL16V8, GAL20V8 and GAL22V10 Data Sheets p.1")),
        ..Electrical::default()
    };
    let military = |parts, sheet, iil, termination| {
        let s = |v| Figure::sheet(v, sheet);
        Electrical {
            parts,
            vil_max: s(0.8),
            vih_min: s(2.0),
            iil: s(iil),
            iih: s(10.0),
            vol_max: s(0.5),
            iol: s(12.0),
            voh_min: s(2.4),
            ioh: s(-2.0),
            icc_max: s(130.0),
            vcc_min: Figure::sheet(4.5, SUPPLY),
            vcc_max: Figure::sheet(5.5, SUPPLY),
            termination,
            ..Electrical::default()
        }
    };
    let other =
        |parts, ioh, termination| Electrical { parts, iol: m(24.0), ioh: m(ioh), termination, ..Electrical::default() };
    const KEEPERS: Provenance = Provenance::Sheet("Atmel 0425 ATF16V8C p.1");
    vec![
        commercial,
        military("GAL16V8D/883 -7 -10", FAST, -100.0, (Termination::PullUp, Provenance::Sheet(FAST))),
        military("GAL16V8D/883 -15 -20 -30", SLOW, -10.0, (Termination::Unknown, Provenance::Memory)),
        other("ATF16V8B, ATF20V8B", -4.0, (Termination::PullUp, Provenance::Memory)),
        Electrical { parts: "ATF16V8C", termination: (Termination::Keeper, KEEPERS), ..Electrical::default() },
    ]
}
