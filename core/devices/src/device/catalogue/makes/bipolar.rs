//! The bipolar originals 16L8, 16R4, 16R6, 16R8 and their kin of 24 pins, of AMD and Texas Instruments.
use super::{N, grade, limits, shortest};
use crate::device::{Electrical, Figure, Grade, Make, Provenance, Termination};
use gluewright_kernel::circuit::Start;

const AMD_FASTEST: Provenance = Provenance::Sheet("AMD PAL16R8 Family, pub. 16492 Rev D p.2-15");
const AMD_FAST: Provenance = Provenance::Sheet("AMD PAL16R8 Family, pub. 16492 Rev D p.2-17");
const AMD_LIMITS: Provenance = Provenance::Sheet("AMD PAL16R8 Family, pub. 16492 Rev D");
const TI_5C: Provenance = Provenance::Sheet("TI SRPS011D p.1");
const TI_7C: Provenance = Provenance::Sheet("TI SRPS006D p.9");
const TI_10C: Provenance = Provenance::Sheet("TI SRPS017 p.9");
const TI_15M: Provenance = Provenance::Sheet("TI SRPS018A p.9");
const TI_25C: Provenance = Provenance::Sheet("TI SRPS059 p.1");
const TI_2M: Provenance = Provenance::Sheet("TI SRPS016 p.11 (PAL16xA-2M)");
const TI_20_10C: Provenance = Provenance::Sheet("TI SRPS008A p.10");
const TI_20_20M: Provenance = Provenance::Sheet("TI SRPS021A p.12");

const TI: &[&str] = &["Texas Instruments", "TI"];
const OPEN: (Termination, Provenance) = (Termination::None, AMD_LIMITS);
const UNSEEN: &str = "Which level its registers take at power-up was not seen: each is taken as possible.";
const LOW: &str = "Its registers are low at power-up, its registered pins high (TI SRPS011D p.1, SRPS021A p.1).";
const HIGH: &str = "Its registers are high at power-up, its registered pins low (TI SRPS018A p.9, SRPS059 p.1).";

pub(super) fn makes(device: &str) -> Vec<Make> {
    match device {
        "16L8" | "16R4" | "16R6" | "16R8" => of_20_pins(),
        "20L8" | "20R4" | "20R6" | "20R8" => of_24_pins(),
        _ => Vec::new(),
    }
}

fn seen(value: f64, from: Provenance) -> Option<Figure> {
    Some(Figure { value, from })
}

fn make(
    makers: &'static [&'static str],
    types: &'static [&'static str],
    fuses: usize,
    (grades, electrical): (Vec<Grade>, Electrical),
    (power_up, note): (Start, &'static [&'static str]),
) -> Make {
    Make { makers, types, grades, electrical, fuses, signature: None, power_down: None, power_up, notes: note }
}

fn of_20_pins() -> Vec<Make> {
    // AMD calls its least delays best cases, meant for simulation, below which later processes may fall: nobody can rely on them
    let amd = |name, from, longest| grade(name, from, longest, None);
    let amd_grades = vec![
        amd("-4", AMD_FASTEST, [4.5, 3.5, N, 4.5, 4.0, 4.0, 6.5, 5.0, 6.5, 5.0, N, N, N, N]),
        amd("-5", AMD_FASTEST, [5.0, 4.0, N, 4.5, 4.0, 4.0, 6.5, 5.0, 6.5, 5.0, N, N, N, N]),
        amd("-7", AMD_FAST, [7.5, 6.5, N, 7.0, 5.0, 5.0, 10.0, 10.0, 8.0, 8.0, N, N, N, N]),
    ];
    let amd_limits = Electrical {
        vcc_min: seen(4.75, AMD_LIMITS),
        vcc_max: seen(5.25, AMD_LIMITS),
        termination: OPEN,
        ..limits("PAL16R8 family, commercial", AMD_LIMITS, [-250.0, 25.0, 24.0, -3.2])
    };
    let ti_limits = |parts, from, iol, ioh, [low, high]: [f64; 2]| Electrical {
        vol_max: None,
        voh_min: None,
        vcc_min: seen(low, from),
        vcc_max: seen(high, from),
        termination: OPEN,
        ..limits(parts, from, [N, N, iol, ioh])
    };
    let commercial = ti_limits("TIBPAL16*-7C, -10C", TI_7C, 24.0, -3.2, [4.75, 5.25]);
    let military = |parts| ti_limits(parts, TI_15M, 12.0, -2.0, [4.5, 5.5]);
    let unknown = |parts| Electrical { parts, termination: OPEN, ..Electrical::default() };
    let delay = |name, ns, from| Grade { name, propagation: seen(ns, from), ..Grade::default() };
    let clocked = |name, tpd, tsu, width, from| Grade {
        propagation: seen(tpd, Provenance::Memory),
        ..grade(name, from, [N, N, N, tsu, width, width, N, N, N, N, N, N, N, N], None)
    };
    let types: &[&str] = &["TIBPAL16L8", "TIBPAL16R4", "TIBPAL16R6", "TIBPAL16R8"];
    let whole = |grades, limits, up| make(TI, types, 2048, (grades, limits), up);
    let mut fast = delay("-5C", 5.0, TI_5C);
    fast.clock_to_output = seen(4.0, TI_5C);
    let mut fast_military = delay("-7M", 7.0, TI_5C);
    fast_military.clock_to_output = seen(6.5, TI_5C);
    let mut slow_military = delay("-15M", 15.0, Provenance::Memory);
    (slow_military.clock_high, slow_military.clock_low) = (seen(9.0, TI_15M), seen(10.0, TI_15M));
    let mut middle = delay("-10M", 10.0, Provenance::Memory);
    (middle.clock_high, middle.clock_low) = (seen(8.0, TI_7C), seen(8.0, TI_7C));
    let oldest =
        grade("A-2M", TI_2M, [40.0, 25.0, N, 35.0, 25.0, 25.0, 40.0, 35.0, 25.0, 25.0, N, N, N, N], seen(90.0, TI_2M));
    let oldest_limits = Electrical {
        vol_max: seen(0.4, TI_2M),
        termination: OPEN,
        // an input and output together take 100 µA while high, the enable 200 µA while low: the larger for each pin
        ..limits("PAL16xA-2M, military", TI_2M, [-200.0, 100.0, 12.0, -2.0])
    };
    vec![
        make(
            &["AMD", "Vantis"],
            &["PAL16L8", "PAL16R4", "PAL16R6", "PAL16R8", "AMPAL16L8", "AMPAL16R4", "AMPAL16R6", "AMPAL16R8"],
            2048,
            (amd_grades, amd_limits),
            (
                Start::Any,
                &[
                    UNSEEN,
                    "AMD calls the sheet's least delays best cases, below which later processes may fall: none is used here.",
                ],
            ),
        ),
        whole(vec![fast, fast_military], unknown("TIBPAL16*-5C, -7M"), (Start::Low, &[LOW])),
        whole(
            vec![clocked("-7C", 7.0, 7.0, 5.0, TI_7C), clocked("-10C", 10.0, 10.0, 8.0, TI_10C)],
            commercial,
            (Start::Any, &[UNSEEN]),
        ),
        whole(vec![middle], military("TIBPAL16*-10M, military"), (Start::Any, &[UNSEEN])),
        whole(vec![slow_military], military("TIBPAL16*-15M, military"), (Start::High, &[HIGH])),
        whole(
            vec![delay("-25C", 25.0, TI_25C), delay("-30M", 30.0, TI_25C)],
            unknown("TIBPAL16*-25C, -30M"),
            (Start::High, &[HIGH]),
        ),
        make(
            TI,
            &["PAL16L8A", "PAL16R4A", "PAL16R6A", "PAL16R8A"],
            2048,
            (vec![oldest], oldest_limits),
            (Start::Any, &[UNSEEN]),
        ),
    ]
}

fn of_24_pins() -> Vec<Make> {
    let types: &[&str] = &["TIBPAL20L8", "TIBPAL20R4", "TIBPAL20R6", "TIBPAL20R8"];
    let limits_of = |parts, from, iih, iol, ioh, icc| Electrical {
        vil_max: None,
        vih_min: None,
        icc_max: seen(icc, from),
        termination: OPEN,
        // the larger of an input's and an input-output's current
        ..limits(parts, from, [-250.0, iih, iol, ioh])
    };
    let fast = Grade {
        shortest: shortest(TI_20_10C, [3.0, 2.0, 3.0, 2.0, 2.0, 2.0, N]),
        ..grade(
            "-10C",
            TI_20_10C,
            [10.0, 8.0, 7.0, N, N, N, 10.0, 10.0, 10.0, 10.0, N, N, N, N],
            seen(210.0, TI_20_10C),
        )
    };
    let military =
        grade("-20M", TI_20_20M, [20.0, 15.0, N, N, N, N, 25.0, 20.0, 20.0, 20.0, N, N, N, N], seen(180.0, TI_20_20M));
    let whole = |grade, limits, up| make(TI, types, 2560, (vec![grade], limits), up);
    vec![
        whole(fast, limits_of("TIBPAL20*-10C", TI_20_10C, 100.0, 24.0, -3.2, 210.0), (Start::Any, &[UNSEEN])),
        whole(
            military,
            limits_of("TIBPAL20*-20M, military", TI_20_20M, 100.0, 12.0, -2.0, 180.0),
            (Start::Low, &[LOW]),
        ),
        whole(
            Grade { name: "-15C", propagation: seen(15.0, Provenance::Memory), ..Grade::default() },
            Electrical { parts: "TIBPAL20*-15C", termination: OPEN, ..Electrical::default() },
            (Start::Low, &[LOW]),
        ),
    ]
}
