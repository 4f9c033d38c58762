//! PALCE16V8 and PALCE22V10 of AMD, Vantis and Lattice, and the 22V10 of Cypress, Philips and Texas Instruments.
use super::{N, grade, limits, remembered};
use crate::device::{Electrical, Figure, Grade, Make, Provenance, Termination};
use gluewright_kernel::circuit::Start;

const AMD: &[&str] = &["AMD", "Vantis", "Lattice"];
const FAMILY_22V10: Provenance =
    Provenance::Sheet("Lattice/Vantis PALCE22V10 and PALCE22V10Z Families, pub. 16564 Rev E p.1");
const PAGE_14: Provenance = Provenance::Sheet("Lattice/Vantis pub. 16564 Rev E p.14 (PALCE22V10Q-10)");
const PAGE_22: Provenance = Provenance::Sheet("Lattice/Vantis pub. 16564 Rev E p.22 (PALCE22V10Z)");
const FAMILY_16V8: Provenance = Provenance::Sheet("AMD PALCE16V8 Family, pub. 16493 Rev D p.2-36");
const BIPOLAR: Provenance = Provenance::Sheet("AMD PAL22V10 Family, AmPAL22V10/A p.1");
const CYPRESS: Provenance = Provenance::Sheet("Cypress PALC22V10D p.1");
const PHILIPS: Provenance = Provenance::Sheet("Philips ABT22V10A5/A7 p.4");
const TI_BIPOLAR: Provenance = Provenance::Sheet("TI SRPS024A p.1 (TIBPAL22V10)");
const TI_ZERO_POWER: Provenance = Provenance::Sheet("TI SRPS007C p.1 (TICPAL22V10Z)");

const LEVEL_UNSEEN: &str = "That registers are reset at power-up is on the sheet, the level they take is from memory.";

pub(super) fn makes(device: &str) -> Vec<Make> {
    match device {
        "16V8" => vec![palce16v8()],
        "22V10" => {
            vec![palce22v10(), palce22v10z(), pal22v10(), palc22v10d(), abt22v10a(), tibpal22v10(), ticpal22v10z()]
        }
        _ => Vec::new(),
    }
}

fn seen(value: f64, from: Provenance) -> Option<Figure> {
    Some(Figure { value, from })
}

/// A grade of which only the delay from input to output is known.
fn delay_only(name: &'static str, ns: f64, from: Provenance) -> Grade {
    Grade { name, propagation: seen(ns, from), ..Grade::default() }
}

/// A 22V10 without a signature, whose limits aren't known.
fn bare(
    makers: &'static [&'static str],
    types: &'static [&'static str],
    parts: &'static str,
    grades: Vec<Grade>,
) -> Make {
    Make {
        makers,
        types,
        grades,
        electrical: Electrical { parts, ..Electrical::default() },
        fuses: 5828,
        signature: None,
        power_down: None,
        power_up: Start::Low,
        notes: &[LEVEL_UNSEEN],
    }
}

fn palce22v10() -> Make {
    let electrical = Electrical {
        ioh: seen(-3.2, PAGE_14),
        vcc_min: seen(4.75, PAGE_14),
        vcc_max: seen(5.25, PAGE_14),
        ..Electrical::default()
    };
    let memory = |name, ns| delay_only(name, ns, Provenance::Memory);
    let grades = vec![
        delay_only("-5", 5.0, FAMILY_22V10),
        memory("-7", 7.5),
        memory("-10", 10.0),
        memory("-15", 15.0),
        memory("-20", 20.0),
        memory("-25", 25.0),
    ];
    let parts = "PALCE22V10H, Q";
    Make { electrical: Electrical { parts, ..electrical }, ..bare(AMD, &["PALCE22V10"], parts, grades) }
}

fn palce22v10z() -> Make {
    let z = |v| seen(v, PAGE_22);
    let electrical = Electrical {
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
    let memory = |name, ns| delay_only(name, ns, Provenance::Memory);
    let grades = vec![memory("-15", 15.0), memory("-25", 25.0)];
    Make {
        electrical,
        notes: &[LEVEL_UNSEEN, "Standing still it draws 30 µA at most (pub. 16564 Rev E p.22)."],
        ..bare(AMD, &["PALCE22V10Z"], "", grades)
    }
}

fn pal22v10() -> Make {
    let grades = vec![
        delay_only("-7", 7.5, BIPOLAR),
        delay_only("-10", 10.0, Provenance::Memory),
        delay_only("-15", 15.0, Provenance::Memory),
    ];
    bare(&["AMD"], &["PAL22V10", "AMPAL22V10"], "PAL22V10, bipolar", grades)
}

fn palc22v10d() -> Make {
    let given = |name, tpd, tsu, tco, icc| Grade {
        clock_to_output: seen(tco, CYPRESS),
        setup: seen(tsu, CYPRESS),
        supply_current: seen(icc, CYPRESS),
        ..delay_only(name, tpd, CYPRESS)
    };
    let grades = vec![
        given("-7", 7.5, 5.0, 5.0, 130.0),
        // the sheet's 10 ns timing is headed military and industrial, its supply current commercial
        given("-10", 10.0, 6.0, 6.0, 90.0),
        delay_only("-15", 15.0, CYPRESS),
        delay_only("-25", 25.0, CYPRESS),
    ];
    bare(&["Cypress"], &["PALC22V10D", "PALC22V10"], "PALC22V10D", grades)
}

fn abt22v10a() -> Make {
    let h = |v| seen(v, PHILIPS);
    let electrical = Electrical { icc_max: h(200.0), ..limits("ABT22V10A", PHILIPS, [-10.0, 10.0, 48.0, -16.0]) };
    let grades = vec![delay_only("-5", 5.0, Provenance::Memory), delay_only("-7", 7.5, Provenance::Memory)];
    Make { electrical, ..bare(&["Philips", "Signetics"], &["ABT22V10A", "ABT22V10"], "", grades) }
}

fn tibpal22v10() -> Make {
    // the sheet calls these the largest times; that they are delays from input to output is from memory
    let grades =
        vec![delay_only("AC", 25.0, TI_BIPOLAR), delay_only("AM", 30.0, TI_BIPOLAR), delay_only("C", 35.0, TI_BIPOLAR)];
    Make {
        power_up: Start::Any,
        notes: &["Which level its registers take at power-up was not seen: each is taken as possible."],
        ..bare(&["Texas Instruments", "TI"], &["TIBPAL22V10"], "TIBPAL22V10", grades)
    }
}

fn ticpal22v10z() -> Make {
    let given =
        |name, tpd, tco| Grade { clock_to_output: seen(tco, TI_ZERO_POWER), ..delay_only(name, tpd, TI_ZERO_POWER) };
    let grades = vec![
        given("-25C, turbo", 25.0, 15.0),
        given("-25C, zero power", 35.0, 15.0),
        given("-30I, turbo", 30.0, 20.0),
        given("-30I, zero power", 40.0, 20.0),
    ];
    Make {
        power_up: Start::Any,
        notes: &["Which level its registers take at power-up was not seen: each is taken as possible."],
        ..bare(&["Texas Instruments", "TI"], &["TICPAL22V10Z"], "TICPAL22V10Z", grades)
    }
}

fn palce16v8() -> Make {
    // AMD calls its least delays best cases: nobody can rely on them
    let memory = |name, f, ma| grade(name, Provenance::Memory, f, remembered(ma));
    let mut fast = memory("-5", [5.0, 4.0, N, 3.0, 3.0, 3.0, 6.0, 5.0, 6.0, 5.0, N, N, N, N], 125.0);
    fast.propagation = seen(5.0, FAMILY_16V8);
    let mut seven = memory("-7", [7.5, 5.0, N, 5.0, 4.0, 4.0, 9.0, 9.0, 6.0, 6.0, N, N, N, N], 115.0);
    seven.propagation = seen(7.5, FAMILY_16V8);
    Make {
        makers: AMD,
        types: &["PALCE16V8"],
        grades: vec![
            fast,
            seven,
            memory("-10", [10.0, 7.5, N, 7.5, 6.0, 6.0, 10.0, 10.0, 10.0, 10.0, N, N, N, N], 115.0),
            memory("-15", [15.0, 10.0, N, 12.0, 8.0, 8.0, 15.0, 15.0, 15.0, 15.0, N, N, N, N], 90.0),
            memory("-25", [25.0, 12.0, N, 15.0, 12.0, 12.0, 25.0, 25.0, 20.0, 20.0, N, N, N, N], 90.0),
        ],
        electrical: Electrical {
            termination: (Termination::Unknown, Provenance::Memory),
            ..limits("PALCE16V8H, Q", Provenance::Memory, [-100.0, 10.0, 24.0, -3.2])
        },
        fuses: 2194,
        signature: Some(2056..2120),
        power_down: None,
        power_up: Start::Low,
        notes: &[
            LEVEL_UNSEEN,
            "AMD calls the sheet's least delays best cases, below which later processes may fall: none is used here.",
        ],
    }
}
