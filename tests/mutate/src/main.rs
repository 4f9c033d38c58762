//! Mutation test of the prover: changes machine, terms, solver, prove and the readers of devices in one place at a time, and
//! asks whether the tests of the changed room see it.
//!
//! `cargo run -p gluewright-mutate` tries all rooms, `-- machine terms` those; what no test saw the last time is tried again.
//! `--elsewhere` tries that with the tests of other rooms. `GLUEWRIGHT_SEED=2` draws other samples, `GLUEWRIGHT_WITHIN=4` leaves out tests of
//! a change that take more seconds together, `GLUEWRIGHT_TESTS=a::,b::` all whose names begin otherwise, `GLUEWRIGHT_FILES=either.rs`
//! changes of other files. All changes are built into one
//! copy of the workspace (in `target/mutated`), and an environment variable says which of them counts, so nothing is built for a
//! change alone. A table goes to the standard output, each change's line to `target/mutated/tried.csv`: without that file, all
//! begins afresh. The guide's page `mutants` says what came of it.
mod ask;
mod copy;
mod points;
mod rooms;
mod weave;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicUsize;
use std::time::Duration;

use ask::{Outcome, Tests, two_at_a_time};
use copy::{Change, Copy};
use rooms::{ROOMS, Room};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let by_others = arguments.iter().any(|a| a == "--elsewhere");
    let named: Vec<&String> = arguments.iter().filter(|a| !a.starts_with("--")).collect();
    let wanted: Vec<usize> =
        (0..ROOMS.len()).filter(|r| named.is_empty() || named.iter().any(|n| ROOMS[*r].name == **n)).collect();
    assert!(!wanted.is_empty(), "rooms are {:?}", ROOMS.map(|r| r.name));
    let number = |name: &str, usual: u64| std::env::var(name).map_or(usual, |text| text.parse().expect(name));
    let seed = number("GLUEWRIGHT_SEED", 1);
    let budget = Duration::from_secs(number("GLUEWRIGHT_WITHIN", 60));

    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().expect("the workspace");
    let target = root.join("target/mutated");
    // all rooms, whichever are asked: one build serves them all
    let changes: Vec<Change> = (0..ROOMS.len()).flat_map(|r| drawn(&root, r, seed)).collect();
    let keys: Vec<String> = changes.iter().map(Change::key).collect();
    let mut copy = Copy { root, target, changes, broken: BTreeSet::new() };
    let (broken_file, tried_file) = (copy.target.join("broken.txt"), copy.target.join("tried.csv"));
    let mut broken: BTreeSet<String> = lines(&broken_file).collect();
    copy.broken = (0..keys.len()).filter(|n| broken.contains(&keys[*n])).collect();
    let programs = copy.build();
    broken.extend(copy.broken.iter().map(|n| keys[*n].clone()));
    fs::write(&broken_file, broken.into_iter().collect::<Vec<_>>().join("\n")).expect("a file in target");

    // the last line about a change counts
    let mut tried: BTreeMap<String, String> = lines(&tried_file)
        .filter_map(|line| line.split_once(';').map(|(how, key)| (key.to_string(), how.to_string())))
        .collect();
    let log = fs::OpenOptions::new().create(true).append(true).open(&tried_file).expect("a file in target");
    let mut tests = Tests { programs, source: copy.source(), all: Vec::new(), budget };
    let which = |room: &Room| if by_others { room.elsewhere } else { room.tests };
    let some = std::env::var("GLUEWRIGHT_TESTS").unwrap_or_default();
    let is_asked = |name: &str| some.split(',').any(|start| name.starts_with(start));
    let files = std::env::var("GLUEWRIGHT_FILES").unwrap_or_default();
    let is_wanted = |change: &Change| files.split(',').any(|end| change.file.ends_with(end));
    let all: BTreeSet<_> = wanted.iter().flat_map(|r| which(&ROOMS[*r])).copied().collect();
    tests.measure(&all.into_iter().collect::<Vec<_>>(), &is_asked, &copy.target.join("reached"));
    let kills: Vec<AtomicUsize> = tests.all.iter().map(|_| AtomicUsize::new(0)).collect();
    println!(
        "| room | tried | not compiled | killed by its own tests | of these by time | killed elsewhere | unreached | survived |"
    );
    for r in wanted {
        let room = &ROOMS[r];
        let of_room = |n: &usize| copy.changes[*n].room == r && is_wanted(&copy.changes[*n]);
        let all: Vec<usize> = (0..keys.len()).filter(of_room).collect();
        let asked: Vec<usize> = all.iter().copied().filter(|n| !copy.broken.contains(n)).collect();
        let is_open = |how: Option<&String>| how.is_none_or(|how| !how.starts_with("killed"));
        let open: Vec<usize> = asked.iter().copied().filter(|n| is_open(tried.get(&keys[*n]))).collect();
        let belongs = |t: &ask::Test| which(room).iter().any(|(p, start)| t.program == *p && t.name.starts_with(start));
        let of_room: Vec<usize> = (0..tests.all.len()).filter(|t| belongs(&tests.all[*t])).collect();
        let how = two_at_a_time(open.len(), |i| {
            let before = tried.get(&keys[open[i]]).filter(|_| by_others || !some.is_empty()).cloned();
            let is_own = |test: &str| room.tests.iter().any(|(_, start)| test.starts_with(start));
            let place = |test: &str| if is_own(test) { "here" } else { "elsewhere" };
            let said = match tests.ask(open[i], &of_room, &kills) {
                Outcome::Killed(test) => format!("killed {}, {test}", place(&test)),
                Outcome::Hung(test) => format!("killed {}, by time, {test}", place(&test)),
                // some tests or those of others say nothing of what the room's own reach
                Outcome::Survived => before.unwrap_or("survived".into()),
                Outcome::Unreached => before.unwrap_or("unreached".into()),
            };
            (&log).write_all(format!("{said};{}\n", keys[open[i]]).as_bytes()).expect("a file in target");
            said
        });
        tried.extend(open.iter().map(|n| keys[*n].clone()).zip(how));
        let count = |start: &str| asked.iter().filter(|n| tried[&keys[**n]].starts_with(start)).count();
        println!(
            "| {} | {} | {} | {} | {} | {} | {} | {} |",
            room.name,
            asked.len(),
            all.len() - asked.len(),
            count("killed here"),
            count("killed here, by time"),
            count("killed elsewhere"),
            count("unreached"),
            count("survived"),
        );
    }
}

fn lines(path: &PathBuf) -> impl Iterator<Item = String> {
    let text = fs::read_to_string(path).unwrap_or_default();
    text.lines().map(str::to_string).collect::<Vec<_>>().into_iter()
}

/// The changes of a room, or so many of them.
fn drawn(root: &Path, room: usize, seed: u64) -> Vec<Change> {
    let Room { sources, drawn, .. } = &ROOMS[room];
    let mut files = Vec::new();
    sources.iter().for_each(|source| of_rust(&root.join(source), &mut files));
    let mut found = Vec::new();
    for path in files {
        let text = fs::read_to_string(&path).expect("a source");
        let file = path.strip_prefix(root).expect("below the root").to_string_lossy().into_owned();
        let points = points::all(&text).unwrap_or_else(|e| panic!("{file}: {e}"));
        found.extend(points.into_iter().map(|point| Change { room, file: file.clone(), point }));
    }
    eprintln!("{}: {} changes in all", ROOMS[room].name, found.len());
    if let Some(most) = drawn {
        found.sort_by_cached_key(|change| mixed(&change.key(), seed));
        found.truncate(*most);
    }
    found
}

/// FNV-1a and a finaliser: the same sample everywhere.
fn mixed(key: &str, seed: u64) -> u64 {
    let hash = key.bytes().fold(0xcbf2_9ce4_8422_2325 ^ seed, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3));
    (hash ^ (hash >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9) >> 7
}

fn of_rust(path: &Path, files: &mut Vec<PathBuf>) {
    let name = path.file_stem().and_then(|n| n.to_str()).unwrap_or_default();
    if path.is_dir() && name != "tests" {
        let mut entries: Vec<_> = fs::read_dir(path).expect("a folder").map(|e| e.expect("an entry").path()).collect();
        entries.sort();
        entries.iter().for_each(|entry| of_rust(entry, files));
    } else if path.is_file() && path.extension().is_some_and(|e| e == "rs") && name != "tests" {
        files.push(path.to_path_buf());
    }
}
