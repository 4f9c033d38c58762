//! Every output of the Berkeley PLA set against its proved minimum, beside a general-purpose library on the same
//! functions: `GLUEWRIGHT_BENCH=folder cargo bench -p gluewright-tests --bench cover`. The folder holds `pla/*.pla` and
//! `exact_single_output.csv` (function, output, inputs read, status, proved minimum high and low, then what a well-known
//! heuristic gets, high and low). `GLUEWRIGHT_EFFORT=thorough` or `quick` changes the effort,
//! `unlisted` does without the list of all primes, as for very wide functions.
mod other;
mod pla;

use std::collections::BTreeMap;
use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use gluewright_devices::cover::{Effort, Function, Minimum, Proof, minimise_either};
use pla::{Pla, PlaError};

/// Sums over some functions, each polarity counted.
#[derive(Default)]
struct Tally {
    functions: usize,
    at_minimum: usize,
    above: usize,
    above_heuristic: usize,
    proved: usize,
    literals_proved: usize,
    terms: usize,
    time: Duration,
    other_terms: usize,
    other_at_minimum: usize,
    other_time: Duration,
}

impl Tally {
    fn add(&mut self, t: &Tally) {
        self.functions += t.functions;
        self.at_minimum += t.at_minimum;
        self.above += t.above;
        self.above_heuristic += t.above_heuristic;
        self.proved += t.proved;
        self.literals_proved += t.literals_proved;
        self.terms += t.terms;
        self.time += t.time;
        self.other_terms += t.other_terms;
        self.other_at_minimum += t.other_at_minimum;
        self.other_time += t.other_time;
    }

    fn line(&self, name: &str) -> String {
        format!(
            "{name:>6} {:>9} {:>10} {:>6} {:>9} {:>7} {:>8} {:>7} {:>10.1} | {:>7} {:>10} {:>10.1} {:>7.2}",
            self.functions,
            self.at_minimum,
            self.above,
            self.above_heuristic,
            self.proved,
            self.literals_proved,
            self.terms,
            self.time.as_secs_f64() * 1e3,
            self.other_terms,
            self.other_at_minimum,
            self.other_time.as_secs_f64() * 1e3,
            self.time.as_secs_f64() / self.other_time.as_secs_f64().max(1e-9),
        )
    }
}

fn main() -> ExitCode {
    let Ok(folder) = std::env::var("GLUEWRIGHT_BENCH") else {
        println!("set GLUEWRIGHT_BENCH to the folder with pla/*.pla and exact_single_output.csv");
        return ExitCode::SUCCESS;
    };
    match run(Path::new(&folder)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("{e}");
            ExitCode::FAILURE
        }
    }
}

fn run(folder: &Path) -> Result<(), PlaError> {
    let effort = match std::env::var("GLUEWRIGHT_EFFORT").as_deref() {
        Ok("thorough") => Effort::thorough(),
        Ok("quick") => Effort::quick(),
        Ok("unlisted") => Effort { primes: 0, ..Effort::default() },
        _ => Effort::default(),
    };
    let mut files: BTreeMap<String, Pla> = BTreeMap::new();
    let mut sizes: BTreeMap<u32, Tally> = BTreeMap::new();
    let mut slowest: Vec<(Duration, String)> = Vec::new();
    let path = folder.join("exact_single_output.csv");
    let mut table = csv::Reader::from_path(&path).map_err(|e| PlaError(format!("{}: {e}", path.display())))?;
    for row in table.records() {
        let row = row.map_err(|e| PlaError(format!("{}: {e}", path.display())))?;
        let number = |at: usize| -> usize { row.get(at).and_then(|f| f.parse().ok()).unwrap_or(usize::MAX) };
        let name = row.get(0).unwrap_or("").to_owned();
        if !files.contains_key(&name) {
            files.insert(name.clone(), Pla::read(&folder.join("pla").join(format!("{name}.pla")))?);
        }
        let function = files.get(&name).map(|f| f.output(number(1))).transpose()?;
        let Some(function) = function else { continue };

        let begin = Instant::now();
        let found = minimise_either(&function, &effort);
        let time = begin.elapsed();
        let low = found.low.as_ref().map_err(|e| PlaError(e.to_string()))?;
        let complement = function.complemented()?;
        let tally = sizes.entry(number(2) as u32).or_default();
        tally.time += time;
        slowest.push((time, format!("{name} output {}", number(1))));
        for (minimum, f, best, heuristic) in
            [(&found.high, &function, number(4), number(6)), (low, &complement, number(5), number(7))]
        {
            check(&name, minimum, f, best);
            tally.functions += 1;
            tally.terms += minimum.cover.len();
            let above = minimum.cover.len() > best;
            tally.at_minimum += usize::from(!above);
            tally.above += usize::from(above);
            tally.above_heuristic += usize::from(minimum.cover.len() > heuristic);
            tally.proved += usize::from(minimum.terms.is_proved());
            tally.literals_proved += usize::from(minimum.literals.is_proved());
            if above || !minimum.terms.is_proved() {
                let (found, proof) = (minimum.cover.len(), minimum.terms);
                println!(
                    "{name} output {}: {found} terms, {proof:?}, minimum {best}, heuristic {heuristic}",
                    number(1)
                );
            }
            let (terms, time) = other::minimise(f);
            tally.other_terms += terms;
            tally.other_at_minimum += usize::from(terms <= best);
            tally.other_time += time;
        }
    }

    println!(
        "inputs  functions at-minimum  above >heuristic proved literals   terms         ms | other: terms at-minimum         ms   ratio"
    );
    let mut all = Tally::default();
    for (size, tally) in &sizes {
        println!("{}", tally.line(&size.to_string()));
        all.add(tally);
    }
    println!("{}", all.line("all"));
    slowest.sort_by_key(|s| std::cmp::Reverse(s.0));
    for (time, name) in slowest.iter().take(8) {
        println!("slowest: {:8.1} ms {name}", time.as_secs_f64() * 1e3);
    }
    Ok(())
}

/// A wrong cover or a wrong claim is no figure: it stops the run.
fn check(name: &str, minimum: &Minimum, function: &Function, best: usize) {
    assert_eq!(function.difference(&minimum.cover), None, "{name}: not the function");
    assert!(minimum.cover.len() >= best, "{name}: {} terms where {best} are proved least", minimum.cover.len());
    match minimum.terms {
        Proof::Proved => assert_eq!(minimum.cover.len(), best, "{name}: proved, but {best} is the minimum"),
        Proof::Heuristic { lower_bound } => assert!(lower_bound <= best, "{name}: bound {lower_bound} above {best}"),
    }
}
