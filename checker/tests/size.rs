//! How much a sceptic has to read: the lines of the checker that are neither blank nor comment nor test. What stands in
//! `data` is not counted: it is read beside the data sheets.
#![allow(clippy::unwrap_used)] // a check stops at what it did not expect
use std::fs;
use std::path::Path;

/// Lines at most. It may sink; what makes it rise belongs into a table.
const MOST: usize = 3_000;

#[test]
fn the_checker_is_short() {
    let mut all = 0;
    let mut files: Vec<_> =
        fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("src")).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        let own = text.lines().map(str::trim).take_while(|l| *l != "#[cfg(test)]");
        let count = own.filter(|l| !l.is_empty() && !l.starts_with("//")).count();
        println!("{count:5} {}", file.file_name().unwrap().display());
        all += count;
    }
    println!("{all:5} in all");
    assert!(all <= MOST, "{all} lines");
}
