//! What the bipolar originals share: as many rows for each output, all inverting, and no fuse but those of the array. Rows,
//! columns and output structure from memory; counts of inputs, outputs and registers of those with eight outputs by TI
//! SRPS011D, SRPS059 and SRPS021A p.1.
use crate::device::{
    Configuration, Device, Electrical, EnableSource, Feedback, Figure, Function, Grade, Inverter, Macrocell, Mode,
    Package, Pin, PinNumber, Role, Source,
};
use gluewright_kernel::circuit::Start;

/// What tells one from the other.
pub(super) struct Layout {
    pub(super) name: &'static str,
    pub(super) packages: Vec<Package>,
    /// The outputs' pins, first rows first.
    pub(super) outputs: &'static [PinNumber],
    /// The rows of each output. One that is not registered has its enable term in the first of them.
    pub(super) rows: usize,
    /// Those of the outputs that are registered.
    pub(super) registered: &'static [PinNumber],
    /// Whether a register loads the exclusive-or of two sums, half of the rows each.
    pub(super) exclusive: bool,
    /// What the column pairs carry.
    pub(super) columns: Vec<Source>,
    /// On registered parts the clock, always pin 1, and the pin that enables the registered outputs while low.
    pub(super) enable: PinNumber,
    /// The device and mode that replaces it, if there is one.
    pub(super) replacement: Option<(&'static str, &'static str)>,
}

pub(super) fn device(l: Layout) -> Device {
    let pins = l.packages.first().map_or(0, |p| p.pins);
    let clocked = !l.registered.is_empty();
    let role = |number: PinNumber| match number {
        1 if clocked => Role::ClockInput,
        n if n == l.enable && clocked => Role::EnableInput,
        n if n == pins => Role::Vcc,
        n if n == pins / 2 => Role::Gnd,
        n if l.outputs.contains(&n) => Role::Io,
        _ => Role::Input,
    };
    let macrocell = |(i, pin): (usize, PinNumber)| {
        let rows = i * l.rows..(i + 1) * l.rows;
        let configuration = if l.registered.contains(&pin) {
            let second = if l.exclusive { rows.start + l.rows / 2 } else { rows.end };
            Configuration {
                function: Function::Registered,
                fuses: Vec::new(),
                rows: rows.start..second,
                exclusive: second..rows.end,
                enable: EnableSource::Pin(l.enable),
                feedback: Feedback::InvertedQ,
            }
        } else {
            Configuration {
                function: Function::Combinational,
                fuses: Vec::new(),
                rows: rows.start + 1..rows.end,
                exclusive: 0..0,
                enable: EnableSource::Row(rows.start),
                feedback: Feedback::Pin,
            }
        };
        Macrocell { pin, rows, polarity: None, configurations: vec![configuration] }
    };
    let macrocells: Vec<Macrocell> = (0..).zip(l.outputs.iter().copied()).map(macrocell).collect();
    Device {
        name: l.name,
        pins: (1..=pins).map(|number| Pin { number, role: role(number) }).collect(),
        fuses: l.rows * l.outputs.len() * 2 * l.columns.len(),
        modes: vec![Mode {
            name: "",
            fuses: Vec::new(),
            columns: l.columns,
            clock: clocked.then_some(1),
            reset: None,
            preset: None,
            macrocells,
        }],
        packages: l.packages,
        rows: l.rows * l.outputs.len(),
        blocks: None,
        inverter: Inverter::BeforeRegister,
        // makers disagree: TI SRPS011D p.1 and SRPS021A p.1 set the registers low, SRPS059 p.1 and SRPS018A p.1 high
        power_up: Start::Any,
        term_enables: None,
        signature: None,
        other_sizes: Vec::new(),
        power_down: None,
        burned_today: false,
        replacement: l.replacement,
        // the sheets that were seen speak of the 20-pin parts
        grades: if pins == 20 { grades(clocked) } else { Vec::new() },
        electrical: if pins == 20 { electrical() } else { Vec::new() },
        makes: Vec::new(),
        part: None,
    }
}

fn grades(clocked: bool) -> Vec<Grade> {
    const FASTEST: &str = "AMD PAL16R8 Family, pub. 16492 Rev D p.2-15";
    const FAST: &str = "AMD PAL16R8 Family, pub. 16492 Rev D p.2-17";
    const SLOW: &str = "TI SRPS016 p.11 (PAL16xA-2M)";
    // tpd, tsu, tco, clock low and high, enable and disable by the pin, by a term
    let grade = |name, sheet, f: [f64; 9]| {
        let s = |v| Figure::sheet(v, sheet);
        Grade {
            name,
            propagation: s(f[0]),
            setup: s(f[1]),
            hold: s(0.0),
            clock_to_output: s(f[2]),
            clock_low: s(f[3]),
            clock_high: s(f[4]),
            pin_enable: s(f[5]),
            pin_disable: s(f[6]),
            term_enable: s(f[7]),
            term_disable: s(f[8]),
            ..Grade::default()
        }
    };
    let clock_only = |name, sheet, setup, width| {
        let s = |v| Figure::sheet(v, sheet);
        Grade { name, setup: s(setup), hold: s(0.0), clock_low: s(width), clock_high: s(width), ..Grade::default() }
    };
    let slow = |v| Figure::sheet(v, SLOW);
    let mut grades = vec![
        grade("-4", FASTEST, [4.5, 4.5, 3.5, 4.0, 4.0, 6.5, 5.0, 6.5, 5.0]),
        grade("-5", FASTEST, [5.0, 4.5, 4.0, 4.0, 4.0, 6.5, 5.0, 6.5, 5.0]),
        grade("-7", FAST, [7.5, 7.0, 6.5, 5.0, 5.0, 8.0, 8.0, 10.0, 10.0]),
        Grade {
            name: "A-2M, military",
            propagation: slow(40.0),
            clock_to_output: slow(25.0),
            setup: slow(35.0),
            supply_current: slow(90.0),
            ..Grade::default()
        },
    ];
    if clocked {
        grades.push(clock_only("-7C, TIBPAL16R*", "TI SRPS006D p.9", 7.0, 5.0));
        grades.push(clock_only("-10C, TIBPAL16R*", "TI SRPS017 p.9", 10.0, 8.0));
    }
    grades
}

fn electrical() -> Vec<Electrical> {
    const COMMERCIAL: &str = "AMD PAL16R8 Family, pub. 16492 Rev D";
    let c = |v| Figure::sheet(v, COMMERCIAL);
    let commercial = Electrical {
        parts: "bipolar, commercial",
        vil_max: c(0.8),
        vih_min: c(2.0),
        iil: c(-250.0),
        iih: c(25.0),
        vol_max: c(0.5),
        iol: c(24.0),
        voh_min: c(2.4),
        ioh: c(-3.2),
        vcc_min: c(4.75),
        vcc_max: c(5.25),
        ..Electrical::default()
    };
    let other = |parts, sheet, iol, ioh| {
        let s = |v| Figure::sheet(v, sheet);
        Electrical { parts, vil_max: s(0.8), vih_min: s(2.0), iol: s(iol), ioh: s(ioh), ..Electrical::default() }
    };
    vec![
        commercial,
        other("TIBPAL16*-7C, -10C", "TI SRPS006D p.9, SRPS017 p.9", 24.0, -3.2),
        other("TIBPAL16*-15M, military", "TI SRPS018A p.9", 12.0, -2.0),
    ]
}
