//! Every part against its data sheet's function table, typed in from the sheet, from every start.
#![allow(clippy::panic, reason = "a bench that can't be set up is a failed test")]
mod bench;
mod table;

const TABLES: &[(&str, &str)] = &[("flip_flops.txt", include_str!("tables/flip_flops.txt"))];

#[test]
fn every_row_holds_from_every_start() {
    let mut report = String::new();
    let (mut rows, mut tried, mut tables) = (0, 0, 0);
    for (file, text) in TABLES {
        for table in table::read(file, text) {
            let (r, t) = table.run(&mut report);
            (rows, tried, tables) = (rows + r, tried + t, tables + 1);
        }
    }
    println!("{tables} tables, {rows} rows run, {tried} combinations of inputs and starts");
    assert!(report.is_empty(), "\n{report}");
}
