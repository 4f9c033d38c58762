//! Every part against its data sheet's function table, typed in from the sheet, from every start; and arithmetic parts
//! against arithmetic, for all inputs.
#![allow(clippy::panic, reason = "a bench that can't be set up is a failed test")]
mod arithmetic;
mod bench;
mod diagrams;
mod equations;
mod mutants;
mod sequence;
mod table;

use std::collections::BTreeSet;

use gluewright::prove::Failure;
use gluewright_parts::ttl;

const TABLES: &[(&str, &str)] = &[
    ("buses.txt", include_str!("tables/buses.txt")),
    ("combinational.txt", include_str!("tables/combinational.txt")),
    ("counters.txt", include_str!("tables/counters.txt")),
    ("displays.txt", include_str!("tables/displays.txt")),
    ("flip_flops.txt", include_str!("tables/flip_flops.txt")),
    ("latches.txt", include_str!("tables/latches.txt")),
    ("register_files.txt", include_str!("tables/register_files.txt")),
    ("registers.txt", include_str!("tables/registers.txt")),
    ("ripple_counters.txt", include_str!("tables/ripple_counters.txt")),
    ("shift_registers.txt", include_str!("tables/shift_registers.txt")),
];

#[test]
fn every_row_of_every_table_holds_from_every_start() {
    let mut report = String::new();
    let (mut rows, mut tried, mut typed) = (0, 0, 0);
    for (file, text) in TABLES {
        for table in table::read(file, text) {
            let (r, t) = table.run(&mut report);
            (rows, tried, typed) = (rows + r, tried + t, typed + table.rows.len());
        }
    }
    println!("{typed} rows typed in, {rows} run (sections and types that share a table), {tried} combinations");
    assert!(report.is_empty(), "\n{report}");
}

#[test]
fn steps_one_after_the_other_hold_from_every_start() {
    let mut report = String::new();
    let (mut rows, mut tried) = (0, 0);
    for (file, text) in TABLES {
        for steps in sequence::read_steps(file, text) {
            let (r, t) = steps.run(&mut report);
            (rows, tried) = (rows + r, tried + t);
        }
    }
    println!("{rows} steps, {tried} combinations");
    assert!(report.is_empty(), "\n{report}");
}

#[test]
fn counters_go_through_their_states() {
    let mut report = String::new();
    let (mut transitions, mut tried) = (0, 0);
    for (file, text) in TABLES {
        for count in sequence::read_counts(file, text) {
            let (n, t) = count.run(&mut report);
            (transitions, tried) = (transitions + n, tried + t);
        }
    }
    println!("{transitions} transitions, {tried} combinations");
    assert!(report.is_empty(), "\n{report}");
}

#[test]
fn every_combinational_part_computes_its_equations() {
    let mut report = String::new();
    let (mut outputs, mut tried) = (0, 0);
    for equations in equations::read(include_str!("tables/equations.txt")) {
        let (n, t) = equations.run(&mut report);
        (outputs, tried) = (outputs + n, tried + t);
    }
    println!("{outputs} outputs, {tried} combinations");
    assert!(report.is_empty(), "\n{report}");
}

/// Which gates are from memory stands in the two files. The 74LS181's gates are its equations.
const DIAGRAMS: &str = concat!(include_str!("tables/diagrams.txt"), "\n", include_str!("tables/equations.txt"));

#[test]
fn parts_are_proved_equal_to_their_logic_diagrams() {
    for part in ["74LS181", "74S182", "74LS283", "74LS85"] {
        let began = std::time::Instant::now();
        let all = equations::read(DIAGRAMS);
        let diagram = all.iter().find(|e| e.part == part).unwrap_or_else(|| panic!("no diagram of {part}"));
        diagrams::compare(diagram).unwrap_or_else(|failure| panic!("{part}: {failure}"));
        println!("{part} equals its diagram both ways: {:?}", began.elapsed());
        for (_, gate, _) in &diagram.lines {
            let wrong = diagrams::compare_with_a_wrong_gate(diagram, gate);
            assert!(matches!(wrong, Err(Failure::Refuted(_))), "{part} with {gate} inverted: {wrong:?}");
        }
        println!("{part}: {} wrong gates refuted: {:?}", diagram.lines.len(), began.elapsed());
    }
}

/// Where simulation tries a sample of the inputs, proof covers all of them.
#[test]
fn parts_with_many_pins_are_proved_equal_to_their_equations() {
    let all = equations::read(include_str!("tables/equations.txt"));
    let wide = all.iter().filter(|e| bench::Bench::new(e.part).is_sampled());
    let mut proved = Vec::new();
    for equations in wide {
        diagrams::compare(equations).unwrap_or_else(|failure| panic!("{}: {failure}", equations.part));
        proved.push(equations.part);
    }
    println!("proved: {}", proved.join(", "));
    assert!(proved.contains(&"74LS245") && proved.contains(&"74LS688"), "{proved:?}");
}

#[test]
fn every_part_has_a_table_or_an_equation() {
    let mut checked: BTreeSet<String> = BTreeSet::new();
    for (file, text) in TABLES {
        checked.extend(table::read(file, text).into_iter().flat_map(|t| t.parts));
        checked.extend(sequence::read_steps(file, text).iter().flat_map(|s| s.parts().to_vec()));
        checked.extend(sequence::read_counts(file, text).iter().flat_map(|c| c.parts().to_vec()));
    }
    checked.extend(equations::read(include_str!("tables/equations.txt")).iter().map(|e| e.part.to_owned()));
    let logic = ttl().types().filter(|t| t.logic().is_some());
    let missing: Vec<&str> = logic.map(|t| t.type_number()).filter(|t| !checked.contains(*t)).collect();
    assert_eq!(missing, [] as [&str; 0], "add their tables to tests/function_tables/tables");
}

/// The tables can fail: each of these says something wrong about its part.
#[test]
fn wrong_tables_are_found_out() {
    let wrong = [
        "table 74LS08\nsource none\nsections 1 2 3 4\nnA nB | nY\nH H | L",
        "table 74LS74\nsource none\nsections 1 2\nnPRE nCLR nCLK nD | nQ nQ_N\nH H ↓ X | nD ~nD",
        "table 74LS174\nsource none\nCLR CLK 1D | 1Q\nH L X | 1D",
        "table 74LS125\nsource none\n1G 1A | 1Y\nH L | L",
        "table 74LS03\nsource none\n1A 1B | 1Y\nH H | Z",
        "table 74LS373\nsource none\nOE LE 1D | 1Q\nL H X | =",
    ];
    for text in wrong {
        let mut report = String::new();
        for table in table::read("wrong.txt", text) {
            table.run(&mut report);
        }
        assert!(report.starts_with("wrong.txt:"), "not found out: {text}");
    }
    let mut report = String::new();
    let text = "steps 74LS164\nsource none\nCLR CLK A B | QA QB\nL L L L | L L\nH ↑ H H | H L\nH ↑ H H | H L";
    for steps in sequence::read_steps("wrong.txt", text) {
        steps.run(&mut report);
    }
    assert!(report.starts_with("wrong.txt:6:"), "{report}");
    let text = "count 74LS93\nsource none\nwire QA CKB\nwith R0(1)=L\nclock CKA ↓\nshow QD QC QB QA\n0111 0000";
    let mut report = String::new();
    for count in sequence::read_counts("wrong.txt", text) {
        count.run(&mut report);
    }
    assert!(report.contains("goes from 0111 to 1000, not to 0000"), "{report}");
    let mut report = String::new();
    for equations in equations::read("part 74LS00\n1Y = 1A & 1B\n2Y = !(2A & 2B)\n3Y = !(3A & 3B)") {
        equations.run(&mut report);
    }
    assert!(report.contains("no equation for 4Y") && report.contains("equations.txt:2: 74LS00 1Y"), "{report}");
}
