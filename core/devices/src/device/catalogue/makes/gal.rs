//! The GAL16V8, GAL20V8 and GAL22V10 of Lattice.
use super::{N, grade, limits, remembered, shortest};
use crate::device::{Electrical, Figure, Grade, Make, Provenance, Shortest, Termination};
use gluewright_kernel::circuit::Start;

const P7: Provenance = Provenance::Sheet("Lattice \"Specifications GAL22V10\" p.7 (GAL22V10D)");
const PULLED: Provenance = Provenance::Sheet("Lattice GAL16V8, GAL20V8 and GAL22V10 Data Sheets p.1");
const POWER_UP: &str = "All registers are reset at power-up, 1 µs after a supply that rises without dips; inputs and clock \
                        stand still until then (that there is a reset: data sheet p.1; the rest from memory).";

pub(super) fn makes(device: &str) -> Vec<Make> {
    match device {
        "22V10" => vec![gal22v10()],
        "16V8" => v8(&["GAL16V8"], "GAL16V8, commercial", 2194, 2056..2120),
        "20V8" => v8(&["GAL20V8"], "GAL20V8, commercial", 2706, 2568..2632),
        _ => Vec::new(),
    }
}

fn gal22v10() -> Make {
    let seen = |name, f| Grade {
        shortest: shortest(P7, [1.0, 1.0, 1.0, 1.0, N, N, 1.0]),
        ..grade(name, P7, f, remembered(140.0))
    };
    let memory = |name, f, ma| Grade {
        shortest: shortest(Provenance::Memory, [3.0, 2.0, N, N, N, N, N]),
        ..grade(name, Provenance::Memory, f, remembered(ma))
    };
    let electrical = Electrical {
        input_capacitance: Some(Figure { value: 8.0, from: P7 }),
        termination: (Termination::PullUp, Provenance::Sheet("Lattice \"Specifications GAL22V10\" p.1")),
        ..limits("GAL22V10, commercial", Provenance::Memory, [-100.0, 10.0, 16.0, -3.2])
    };
    Make {
        makers: &["Lattice"],
        types: &["GAL22V10"],
        grades: vec![
            seen("-4", [4.0, 3.5, 2.5, 2.5, 2.0, 2.0, 5.0, 5.0, N, N, 4.5, 4.5, 3.0, 3.0]),
            seen("-5", [5.0, 4.0, 3.0, 3.0, 2.5, 2.5, 6.0, 5.5, N, N, 5.5, 4.5, 4.0, 4.0]),
            seen("-7", [7.5, 4.5, 3.0, 4.5, 3.0, 3.0, 7.5, 7.5, N, N, 9.0, 7.0, 5.0, 5.0]),
            memory("-10", [10.0, 7.0, N, 7.0, 4.0, 4.0, 10.0, 9.0, N, N, 13.0, 8.0, 8.0, N], 130.0),
            memory("-15", [15.0, 8.0, N, 10.0, 8.0, 8.0, 15.0, 15.0, N, N, 20.0, 15.0, 15.0, 10.0], 90.0),
            memory("-25", [25.0, 15.0, N, 15.0, 13.0, 13.0, 25.0, 25.0, N, N, 25.0, 25.0, 25.0, 15.0], 90.0),
        ],
        electrical,
        fuses: 5892,
        signature: Some(5828..5892),
        power_down: None,
        power_up: Start::Low,
        notes: &[POWER_UP],
    }
}

fn v8(
    types: &'static [&'static str],
    parts: &'static str,
    fuses: usize,
    signature: std::ops::Range<usize>,
) -> Vec<Make> {
    let memory = |name, f, least, ma| Grade {
        shortest: shortest(Provenance::Memory, least),
        ..grade(name, Provenance::Memory, f, remembered(ma))
    };
    let fast = [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, N];
    let seven = [3.0, 2.0, 3.0, 2.0, 2.0, 1.5, N];
    let slow = [3.0, 2.0, N, N, N, N, N];
    let commercial = Electrical {
        termination: (Termination::PullUp, PULLED),
        ..limits(parts, Provenance::Memory, [-100.0, 10.0, 24.0, -3.2])
    };
    let whole = |types, grades, electrical| Make {
        makers: &["Lattice"],
        types,
        grades,
        electrical,
        fuses,
        signature: Some(signature.clone()),
        power_down: None,
        power_up: Start::Low,
        notes: &[POWER_UP],
    };
    // the two fastest sink 16 mA, the others 24: 16 holds for each
    let all = vec![
        memory("-5", [5.0, 4.0, 3.0, 3.0, 3.0, 3.0, 6.0, 5.0, 6.0, 5.0, N, N, N, N], fast, 115.0),
        memory("-7", [7.5, 5.0, 3.0, 5.0, 4.0, 4.0, 9.0, 9.0, 6.0, 6.0, N, N, N, N], seven, 115.0),
        memory("-10", [10.0, 7.0, 6.0, 7.5, 6.0, 6.0, 10.0, 10.0, 10.0, 10.0, N, N, N, N], slow, 115.0),
        memory("-15", [15.0, 10.0, 8.0, 12.0, 8.0, 8.0, 15.0, 15.0, 15.0, 15.0, N, N, N, N], slow, 90.0),
        memory("-25", [25.0, 12.0, 10.0, 15.0, 12.0, 12.0, 25.0, 25.0, 20.0, 20.0, N, N, N, N], slow, 90.0),
    ];
    let fastest = || {
        const PAGE_1: Provenance = Provenance::Sheet("Lattice GAL16V8 Data Sheet 16v8_05 p.1");
        let mut grade = memory("-3", [3.5, 3.0, 2.5, 2.5, 2.0, 2.0, 4.5, 4.5, 4.5, 4.5, N, N, N, N], fast, 115.0);
        for figure in [&mut grade.propagation, &mut grade.clock_to_output].into_iter().flatten() {
            *figure = Figure { from: PAGE_1, ..*figure };
        }
        grade
    };
    let sixteen = Electrical { iol: remembered(16.0), ..commercial.clone() };
    if types == ["GAL16V8"] {
        const FAST: Provenance = Provenance::Sheet("Lattice \"GAL16V8D-7/10/883\" p.2");
        const SLOW: Provenance = Provenance::Sheet("Lattice \"Specifications GAL16V8D/883\" p.4");
        let military = |parts, from, iil, termination| Electrical {
            icc_max: Some(Figure { value: 130.0, from }),
            vcc_min: Some(Figure { value: 4.5, from }),
            vcc_max: Some(Figure { value: 5.5, from }),
            termination,
            ..limits(parts, from, [iil, 10.0, 12.0, -2.0])
        };
        let bare = |name| Grade { name, shortest: Shortest::default(), ..Grade::default() };
        let mut fast_grades = all.clone();
        fast_grades.retain(|g| g.name == "-5");
        fast_grades.insert(0, fastest());
        let mut others = all;
        others.retain(|g| g.name != "-5");
        return vec![
            whole(types, others, commercial),
            Make { grades: fast_grades, ..whole(types, Vec::new(), sixteen) },
            whole(
                &["GAL16V8D-7*/883", "GAL16V8D-7**/883", "GAL16V8D-10*/883", "GAL16V8D-10**/883"],
                vec![bare("-7"), bare("-10")],
                military("GAL16V8D/883 -7 -10", FAST, -100.0, (Termination::PullUp, FAST)),
            ),
            whole(
                &["GAL16V8D-15**/883", "GAL16V8D-20**/883", "GAL16V8D-30**/883"],
                vec![bare("-15"), bare("-20"), bare("-30")],
                military("GAL16V8D/883 -15 -20 -30", SLOW, -10.0, (Termination::Unknown, Provenance::Memory)),
            ),
        ];
    }
    let (fast_grades, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|g| g.name == "-5");
    vec![whole(types, others, commercial), whole(types, fast_grades, sixteen)]
}
