//! The ATF16V8B, ATF16V8C and ATF22V10C of Atmel, later Microchip.
use super::{N, grade, limits, remembered, shortest};
use crate::device::{Electrical, Figure, Grade, Make, Provenance, Termination};
use gluewright_kernel::circuit::Start;

const MAKERS: &[&str] = &["Atmel", "Microchip"];
const PAGE_1: Provenance = Provenance::Sheet("Atmel 0425 ATF16V8C p.1");
const POWER_UP: &str = "All registers are reset at power-up once the supply has passed 3.8 V (4.5 V at most), within 1 µs; the \
                        supply rises without dips from below 0.7 V, the clock stands still meanwhile (from memory).";

pub(super) fn makes(device: &str) -> Vec<Make> {
    match device {
        "22V10" => vec![atf22v10c()],
        "16V8" => vec![atf16v8b(), atf16v8c()],
        _ => Vec::new(),
    }
}

fn memory(name: &'static str, longest: [f64; 14], least: [f64; 7], ma: f64) -> Grade {
    Grade { shortest: shortest(Provenance::Memory, least), ..grade(name, Provenance::Memory, longest, remembered(ma)) }
}

fn atf22v10c() -> Make {
    let later = [3.0, 2.0, 3.0, 3.0, N, N, 3.0];
    Make {
        makers: MAKERS,
        types: &["ATF22V10C", "ATF22V10"],
        grades: vec![
            memory(
                "-5",
                [5.0, 4.0, 2.5, 3.0, 3.0, 3.0, 6.0, 5.0, N, N, 7.0, 5.5, 4.0, 4.0],
                [1.0, 1.0, 2.0, 2.0, N, N, 3.0],
                130.0,
            ),
            // the DIP takes 5.5 ns from clock to output, the other packages 4.5
            memory("-7", [7.5, 5.5, 2.5, 3.5, 3.0, 3.0, 7.5, 7.5, N, N, 10.0, 7.0, 5.0, 5.0], later, 130.0),
            memory("-10", [10.0, 6.5, 2.5, 4.5, 3.0, 3.0, 10.0, 9.0, N, N, 12.0, 8.0, 6.0, 8.0], later, 130.0),
            memory("-15", [15.0, 8.0, 2.5, 10.0, 6.0, 6.0, 15.0, 15.0, N, N, 20.0, 15.0, 10.0, 10.0], later, 90.0),
        ],
        electrical: Electrical {
            termination: (Termination::Keeper, Provenance::Memory),
            ..limits("ATF22V10C", Provenance::Memory, [-10.0, 10.0, 16.0, -4.0])
        },
        fuses: 5892,
        signature: Some(5828..5892),
        power_down: Some(5892),
        power_up: Start::Low,
        notes: &[POWER_UP],
    }
}

fn atf16v8b() -> Make {
    let least = [3.0, 2.0, 3.0, 2.0, 2.0, 1.5, N];
    Make {
        makers: MAKERS,
        types: &["ATF16V8B"],
        grades: vec![
            memory("-10", [10.0, 7.0, 6.0, 7.5, 6.0, 6.0, 10.0, 10.0, 10.0, 10.0, N, N, N, N], least, 95.0),
            memory("-15", [15.0, 10.0, 8.0, 12.0, 8.0, 8.0, 15.0, 15.0, 15.0, 15.0, N, N, N, N], least, 95.0),
        ],
        electrical: Electrical {
            termination: (Termination::PullUp, Provenance::Memory),
            ..limits("ATF16V8B", Provenance::Memory, [-100.0, 10.0, 24.0, -4.0])
        },
        fuses: 2194,
        signature: Some(2056..2120),
        power_down: None,
        power_up: Start::Low,
        notes: &[POWER_UP],
    }
}

fn atf16v8c() -> Make {
    let without_current = |name, longest, least| Grade {
        shortest: shortest(Provenance::Memory, least),
        ..grade(name, Provenance::Memory, longest, None)
    };
    let mut fastest = without_current(
        "-5",
        [5.0, 4.0, 3.0, 3.0, 3.0, 3.0, 6.0, 5.0, 5.0, 5.0, N, N, N, N],
        [1.0, 1.0, 2.0, 2.0, 2.0, 1.5, N],
    );
    fastest.propagation = Some(Figure { value: 5.0, from: PAGE_1 });
    Make {
        makers: MAKERS,
        types: &["ATF16V8C"],
        grades: vec![
            fastest,
            without_current(
                "-7",
                [7.5, 5.0, 3.0, 5.0, 4.0, 4.0, 9.0, 9.0, 6.0, 6.0, N, N, N, N],
                [3.0, 2.0, 3.0, 2.0, 2.0, 1.5, N],
            ),
        ],
        electrical: Electrical {
            vcc_min: Some(Figure { value: 4.75, from: PAGE_1 }),
            vcc_max: Some(Figure { value: 5.25, from: PAGE_1 }),
            termination: (Termination::Keeper, PAGE_1),
            ..limits("ATF16V8C", Provenance::Memory, [-10.0, 10.0, 24.0, -4.0])
        },
        fuses: 2194,
        signature: Some(2056..2120),
        power_down: Some(2194),
        power_up: Start::Low,
        notes: &[POWER_UP],
    }
}
