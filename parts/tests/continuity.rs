//! Readings of a meter on published boards: drawn in random order, some of them wrong, until the trace is that of the board.
//!
//! The boards are data beside the project: `../shared/boards/published`, or the folder that GLUEWRIGHT_BOARDS names.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::path::{Path, PathBuf};

use gluewright::continuity::{Parts, Readings, Reason, Study, To, study};
use gluewright_parts::ttl;

/// SplitMix64 (Steele, Lea and Flood, 2014).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % n.max(1) as u64) as usize
    }

    /// Two of a hundred readings are wrong.
    fn is_wrong(&mut self) -> bool {
        self.below(100) < 2
    }

    fn shuffle<T>(&mut self, all: &mut [T]) {
        for i in (1..all.len()).rev() {
            all.swap(i, self.below(i + 1));
        }
    }
}

/// A board as somebody with a meter meets it.
struct Bench {
    parts: String,
    /// The net of each point that the readings can name; a pin that is joined to nothing is on a net of its own.
    net: BTreeMap<String, String>,
    rows: String,
    count: usize,
    /// Lines of readings that are wrong.
    wrong: BTreeSet<u64>,
    numbers: Numbers,
    again: usize,
    sweeps: usize,
}

impl Bench {
    fn of(csv: &str, seed: u64) -> Bench {
        let (mut parts, mut net) = (BTreeMap::new(), BTreeMap::new());
        let mut order = Vec::new();
        for row in csv.lines().skip(1) {
            let fields: Vec<&str> = row.split(',').collect();
            let &[reference, part, pin, on] = fields.as_slice() else { continue };
            // a meter knows no reference with a sign in it
            let reference: String = reference.chars().filter(char::is_ascii_alphanumeric).collect();
            let pins: &mut (String, BTreeSet<String>) = parts.entry(reference.clone()).or_insert_with(|| {
                order.push(reference.clone());
                (part.to_owned(), BTreeSet::new())
            });
            pins.1.insert(pin.to_owned());
            let point = format!("{reference}.{pin}");
            let on = if on == "open" { format!("open {point}") } else { on.to_owned() };
            net.insert(point, on);
        }
        let mut list = "ref,part,pins\n".to_owned();
        for reference in &order {
            let (part, pins) = &parts[reference];
            let labels = pins.iter().map(String::as_str).collect::<Vec<_>>().join(" ");
            // a single number would be a count
            let labels = if pins.len() == 1 { format!("{labels} {labels}") } else { labels };
            let _ = writeln!(list, "{reference},{part},{labels}");
        }
        let numbers = Numbers(seed);
        let rows = "from,to,ohms\n".to_owned();
        let mut bench =
            Bench { parts: list, net, rows, count: 0, wrong: BTreeSet::new(), numbers, again: 0, sweeps: 0 };
        // pins of known parts without a row are joined to nothing
        for pin in bench.study().open_pins {
            let pin = pin.to_string();
            bench.net.entry(pin.clone()).or_insert_with(|| format!("open {pin}"));
        }
        bench
    }

    fn study(&self) -> Study {
        let parts = Parts::from_csv("parts.csv", &self.parts, ttl()).unwrap_or_else(|e| panic!("{e}"));
        study(&Readings::from_csv("continuity.csv", &self.rows, parts).unwrap_or_else(|e| panic!("{e}")), ttl())
    }

    fn line(&self) -> u64 {
        self.count as u64 + 2
    }

    fn write(&mut self, from: &str, to: &str, joined: bool) {
        // two nets have the same between them wherever they are measured
        let net = |point: &str| self.net.get(point).map_or(0, |net| net.bytes().map(usize::from).sum());
        let shown = match (to, joined) {
            (_, true) => "0.3",
            ("others", _) => "open",
            _ => ["open", "4k7", "0.62V"][(net(from) + net(to)) % 3],
        };
        let _ = writeln!(self.rows, "{from},{to},{shown}");
        self.count += 1;
    }

    fn read(&mut self, from: &str, to: &str) {
        let is_joined = self.net[from] == self.net[to];
        let is_wrong = self.numbers.is_wrong();
        if is_wrong {
            self.wrong.insert(self.line());
        }
        self.write(from, to, is_joined != is_wrong);
    }

    /// One probe on a point, the other over the whole board. `known` is the group of each point so far.
    fn sweep(&mut self, from: &str, known: &BTreeMap<String, usize>) {
        self.sweeps += 1;
        let mut found: BTreeSet<usize> = known.get(from).copied().into_iter().collect();
        let mut missed = false;
        for (point, net) in self.net.clone() {
            let group = known.get(&point).copied().unwrap_or(usize::MAX);
            if point != from && net == self.net[from] && (group == usize::MAX || found.insert(group)) {
                // what is not noticed makes the end of the sweep wrong
                match self.numbers.is_wrong() {
                    true => missed = true,
                    false => self.write(from, &point, true),
                }
            }
        }
        if self.numbers.is_wrong() {
            let all: Vec<&String> = self.net.keys().filter(|p| self.net[*p] != self.net[from]).collect();
            let other = all[self.numbers.below(all.len())].clone();
            self.wrong.insert(self.line());
            self.write(from, &other, true);
        }
        if missed {
            self.wrong.insert(self.line());
        }
        self.write(from, "others", false);
    }

    /// The joints of the board, drawn: a tree for each net, in random order.
    fn joints(&mut self) -> usize {
        let mut nets: BTreeMap<&String, Vec<&String>> = BTreeMap::new();
        self.net.iter().for_each(|(point, net)| nets.entry(net).or_default().push(point));
        let mut trees: Vec<(String, String)> = Vec::new();
        for points in nets.values() {
            for (i, point) in points.iter().enumerate().skip(1) {
                trees.push(((*point).clone(), points[self.numbers.below(i)].clone()));
            }
        }
        self.numbers.shuffle(&mut trees);
        for (a, b) in &trees {
            self.read(a, b);
        }
        trees.len()
    }

    /// Does what the tool proposes until it is satisfied.
    fn settle(&mut self) -> (Study, BTreeSet<u64>) {
        let mut named = BTreeSet::new();
        for _ in 0..200 {
            let study = self.study();
            named.extend(study.contradictions.iter().flat_map(|c| c.apart.iter().chain(&c.joined).copied()));
            named.extend(study.overruled.iter().chain(study.both_ways.iter().flatten()).copied());
            if study.is_settled() {
                return (study, named);
            }
            let mut known = BTreeMap::new();
            for (i, net) in study.nets.iter().enumerate() {
                known.extend(net.points.iter().map(|p| (p.to_string(), i)));
            }
            let next = study.next.clone();
            assert!(!next.is_empty(), "nothing to measure, and not settled:\n{study}");
            for next in next {
                match &next.to {
                    To::Others => self.sweep(&next.from.to_string(), &known),
                    To::Point(to) => {
                        self.again += usize::from(next.reason != Reason::Neighbours);
                        self.read(&next.from.to_string(), &to.to_string());
                    }
                }
            }
        }
        panic!("never settled:\n{}", self.study());
    }

    /// Wrong readings that right ones contradict: two points that right joints join were read as apart, or two were read as joined
    /// that right readings and sweeps before keep apart.
    fn contradicted(&self) -> BTreeSet<u64> {
        let rows: Vec<Vec<&str>> = self.rows.lines().map(|row| row.split(',').collect()).collect();
        let mut group: BTreeMap<&str, &str> = self.net.keys().map(|p| (p.as_str(), p.as_str())).collect();
        let right = |line: usize| !self.wrong.contains(&(line as u64 + 1));
        for (_, row) in rows.iter().enumerate().skip(1).filter(|(line, row)| right(*line) && row[2] == "0.3") {
            let (from, to) = (group[row[0]], group[row[1]]);
            group.values_mut().filter(|g| **g == from).for_each(|g| *g = to);
        }
        let keeps = |a: &str, b: &str, before: usize| {
            rows.iter().enumerate().skip(1).filter(|(line, row)| right(*line) && row[2] != "0.3").any(|(line, row)| {
                let from = group[row[0]];
                match row[1] {
                    "others" => line < before && (from == group[a] || from == group[b]),
                    to => [[from, group[to]], [group[to], from]].contains(&[group[a], group[b]]),
                }
            })
        };
        let is_contradicted = |line: &&u64| {
            let at = **line as usize - 1;
            let row = &rows[at];
            match (row[1], row[2]) {
                ("others", _) => false,
                (to, "0.3") => keeps(row[0], to, at),
                (to, _) => group[row[0]] == group[to],
            }
        };
        self.wrong.iter().filter(is_contradicted).copied().collect()
    }

    /// The groups of a trace and of the board, without the names of nets.
    fn is_the_board(&self, study: &Study) -> Result<(), String> {
        let trace = String::from_utf8(study.trace().to_vec()).unwrap();
        let mut of: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        let mut points: BTreeSet<String> = BTreeSet::new();
        for row in trace.lines().skip(1) {
            let fields: Vec<&str> = row.rsplitn(3, ',').collect();
            let (net, pin) = (fields[0], fields[1]);
            let reference = row.split(',').next().unwrap();
            let point = format!("{reference}.{pin}");
            let truth = self.net.get(&point).ok_or_else(|| format!("no {point}"))?;
            let net = if net == "open" { Box::leak(format!("open {point}").into_boxed_str()) } else { net };
            of.entry(net).or_default().insert(truth);
            points.insert(point);
        }
        let wrong: Vec<_> = of.iter().filter(|(_, nets)| nets.len() > 1).collect();
        let nets: usize = of.values().map(BTreeSet::len).sum();
        let truth: BTreeSet<&String> = self.net.values().collect();
        // a pin that is connected to nothing inside needs no row
        let left_out = self.net.len() - points.len();
        if wrong.is_empty() && nets + left_out == truth.len() && left_out < 20 {
            return Ok(());
        }
        let without: Vec<_> = self.net.keys().filter(|point| !points.contains(*point)).collect();
        Err(format!("{} nets of {}, mixed {wrong:?}, without a row {without:?}", of.len(), truth.len()))
    }
}

fn boards() -> Option<Vec<PathBuf>> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/boards/published");
    let folder = std::env::var_os("GLUEWRIGHT_BOARDS").map_or(beside, PathBuf::from);
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder).ok()?.filter_map(|f| Some(f.ok()?.path())).collect();
    files.retain(|path| path.extension().is_some_and(|e| e == "csv"));
    files.sort();
    Some(files)
}

#[test]
fn readings_of_published_boards_become_their_traces() {
    let Some(boards) = boards() else {
        println!("left out: no published boards beside the project, and GLUEWRIGHT_BOARDS names none");
        return;
    };
    let seeds: u64 = std::env::var("GLUEWRIGHT_SEEDS").ok().and_then(|s| s.parse().ok()).unwrap_or(3);
    println!(
        "{:28} {:>6} {:>8} {:>6} {:>6} {:>7} {:>6} {:>6} {:>6} {:>6}",
        "board", "joints", "readings", "ratio", "wrong", "against", "named", "again", "sweeps", "trace"
    );
    let (mut all, mut least, mut same, mut bad) = (0, 0, 0, Vec::new());
    let (mut against, mut unnamed) = (0, Vec::new());
    for path in &boards {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let csv = std::fs::read_to_string(path).unwrap();
        for seed in 1..=seeds {
            let mut bench = Bench::of(&csv, seed);
            let joints = bench.joints();
            let (study, named) = bench.settle();
            let trace = bench.is_the_board(&study);
            let contradicted = bench.contradicted();
            let silent: Vec<&str> = contradicted
                .difference(&named)
                .filter_map(|&line| bench.rows.lines().nth(usize::try_from(line).unwrap() - 1))
                .collect();
            println!(
                "{name:28} {joints:>6} {:>8} {:>6.2} {:>6} {:>7} {:>6} {:>6} {:>6} {:>6}",
                bench.count,
                bench.count as f64 / joints as f64,
                bench.wrong.len(),
                contradicted.len(),
                bench.wrong.intersection(&named).count(),
                bench.again,
                bench.sweeps,
                if trace.is_ok() { "same" } else { "OTHER" },
            );
            if let Err(why) = &trace {
                let rows = |lines: &mut dyn Iterator<Item = &u64>| {
                    let row = |line: &u64| bench.rows.lines().nth(usize::try_from(*line).unwrap() - 1);
                    lines.filter_map(|line| Some(format!("{line}: {}", row(line)?))).collect::<Vec<_>>().join("  ")
                };
                println!("  {why}\n  wrong and not named: {}", rows(&mut bench.wrong.difference(&named)));
                println!("  wrong and named: {}", rows(&mut bench.wrong.intersection(&named)));
            }
            against += contradicted.len();
            unnamed.extend(silent.iter().map(|row| format!("{name} {seed}: {row}")));
            match trace {
                Ok(()) => same += 1,
                // a wrong reading that nothing contradicts can't be found
                Err(_) if bench.wrong.iter().any(|line| !named.contains(line)) => {}
                Err(why) => bad.push(format!("{name} {seed}: {why}")),
            }
            all += bench.count;
            least += joints;
        }
    }
    let runs = boards.len() * usize::try_from(seeds).unwrap();
    println!(
        "{all} readings for {least} joints: {:.2}; {same} of {runs} traces are those of their boards",
        all as f64 / least as f64
    );
    println!("{against} wrong readings that right ones contradict; not named: {unnamed:?}");
    assert!(bad.is_empty(), "{}", bad.join("\n"));
    // where several wrong readings of one joint agree, the right one is the odd one
    assert!(50 * unnamed.len() <= against, "{unnamed:?}");
    assert!(2 * all <= 3 * least, "{all} readings for {least}");
    assert!(10 * same >= 9 * runs, "{same} of {runs}");
}
