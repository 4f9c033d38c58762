//! How many packages of real boards the drawer knows: prints it for a folder of traces.
use std::collections::{BTreeMap, BTreeSet};

use gluewright_parts::{NotFound, TypeNumberError, ttl};

/// `GLUEWRIGHT_BOARDS=folder cargo test -p gluewright-parts --test checks share:: -- --ignored --nocapture`: for each trace in CSV with
/// the columns `ref,part,pin,net`, and for all of them.
#[test]
#[ignore = "needs a folder of traces: GLUEWRIGHT_BOARDS=folder cargo test -p gluewright-parts --test checks share:: -- --ignored --nocapture"]
fn share_of_packages_known() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::var("GLUEWRIGHT_BOARDS")?;
    let mut files: Vec<_> = std::fs::read_dir(folder)?.collect::<Result<Vec<_>, _>>()?;
    files.sort_by_key(std::fs::DirEntry::file_name);
    let mut all = Counts::default();
    for file in files.iter().filter(|f| f.path().extension().is_some_and(|e| e == "csv")) {
        let counts = Counts::of(&file.path())?;
        println!("{}: {counts}", file.file_name().to_string_lossy());
        all.add(&counts);
    }
    println!("all: {all}");
    for (part, n) in &all.unknown {
        println!("  not known: {part} ({n})");
    }
    assert!(all.logic > 0, "no trace has a part of the drawer");
    Ok(())
}

#[derive(Default)]
struct Counts {
    /// Packages with logic, PROMs and other parts that are known and refused.
    logic: usize,
    refused: usize,
    /// Numbers of a series whose function, family or pins the drawer lacks.
    lacking: usize,
    /// What is no number of a series: memories, processors, connectors, resistors.
    unknown: BTreeMap<String, usize>,
}

impl Counts {
    fn of(path: &std::path::Path) -> Result<Self, Box<dyn std::error::Error>> {
        let mut packages = BTreeSet::new();
        for row in csv::Reader::from_path(path)?.records() {
            let row = row?;
            packages.insert((row.get(0).unwrap_or_default().to_owned(), row.get(1).unwrap_or_default().to_owned()));
        }
        let mut counts = Counts::default();
        for (_, part) in packages {
            match ttl().find(&part) {
                Ok(found) if found.refusal.is_none() => counts.logic += 1,
                Ok(_) => counts.refused += 1,
                Err(error) => {
                    let other = matches!(error, NotFound::Number(TypeNumberError::NoSeries(_)));
                    counts.lacking += usize::from(!other);
                    *counts.unknown.entry(part).or_default() += 1;
                }
            }
        }
        Ok(counts)
    }

    fn add(&mut self, other: &Counts) {
        self.logic += other.logic;
        self.refused += other.refused;
        self.lacking += other.lacking;
        for (part, n) in &other.unknown {
            *self.unknown.entry(part.clone()).or_default() += n;
        }
    }
}

impl std::fmt::Display for Counts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (known, other) = (self.logic + self.refused, self.unknown.values().sum::<usize>() - self.lacking);
        let of = known + self.lacking;
        let share = if of == 0 { 100.0 } else { 100.0 * known as f64 / of as f64 };
        write!(
            f,
            "{known} of {of} packages of logic known ({share:.0} %), {} of them refused in a proof; {other} other packages",
            self.refused
        )
    }
}
