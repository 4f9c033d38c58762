//! Runs tests, each in a process of its own: what it reaches, and whether it sees a change.
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::rooms::Program;

#[derive(Clone, Debug)]
pub struct Test {
    pub program: Program,
    pub name: String,
    pub takes: Duration,
    pub reaches: BTreeSet<usize>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// By this test.
    Killed(String),
    /// This test does not come to its end.
    Hung(String),
    Survived,
    Unreached,
}

pub struct Tests {
    pub programs: BTreeMap<Program, PathBuf>,
    pub source: PathBuf,
    pub all: Vec<Test>,
    /// The tests that are tried on one change take no longer than this together.
    pub budget: Duration,
}

impl Tests {
    /// Lists the tests whose names begin like this, and runs each to see which changes it reaches.
    pub fn measure(&mut self, wanted: &[(Program, &str)], is_asked: &dyn Fn(&str) -> bool, scratch: &PathBuf) {
        let mut names = BTreeSet::new();
        for (program, prefix) in wanted {
            let list = |more: &[&str]| {
                let out = self.command(*program).args(["--list", "--format", "terse"]).args(more).output();
                let text = String::from_utf8_lossy(&out.expect("a program of tests").stdout).into_owned();
                text.lines().filter_map(|l| Some(l.strip_suffix(": test")?.to_string())).collect::<BTreeSet<_>>()
            };
            let ignored = list(&["--ignored"]);
            names.extend(
                list(&[])
                    .difference(&ignored)
                    .filter(|n| n.starts_with(prefix) && is_asked(n))
                    .map(|n| (*program, n.clone())),
            );
        }
        fs::create_dir_all(scratch).expect("a folder");
        let names: Vec<_> = names.into_iter().collect();
        let found = two_at_a_time(names.len(), |i| {
            let (program, name) = names[i].clone();
            let path = scratch.join(format!("{i}"));
            let start = Instant::now();
            let ran = self.command(program).args([&name, "--exact"]).env("GLUEWRIGHT_REACHED", &path).output();
            let ran = ran.expect("a program of tests");
            let takes = start.elapsed();
            // what fails without any change can tell nothing
            if !ran.status.success() {
                eprintln!("left out, it fails without a change: {name}");
                return None;
            }
            let reached = fs::read_to_string(path).unwrap_or_default();
            let reaches = reached.lines().filter_map(|line| line.parse().ok()).collect();
            Some(Test { program, name, takes, reaches })
        });
        self.all.extend(found.into_iter().flatten());
    }

    fn command(&self, program: Program) -> Command {
        // a change may ask for all memory there is
        let mut command = Command::new("sh");
        let folder = self.source.join(program.package().1);
        command.args(["-c", "ulimit -v 8000000; exec \"$@\"", "sh"]).arg(&self.programs[&program]);
        command.current_dir(&folder).env("CARGO_MANIFEST_DIR", &folder).env("CI", "true");
        // the same draws for each change, and nothing kept of those that failed
        command.env("PROPTEST_RNG_SEED", "1").env("PROPTEST_MAX_SHRINK_ITERS", "0");
        command.env("PROPTEST_DISABLE_FAILURE_PERSISTENCE", "true");
        command
    }

    /// Runs those tests among `which` that reach the change, until one fails; those that saw others first.
    pub fn ask(&self, number: usize, which: &[usize], kills: &[AtomicUsize]) -> Outcome {
        let mut order: Vec<usize> = which.iter().copied().filter(|t| self.all[*t].reaches.contains(&number)).collect();
        if order.is_empty() {
            return Outcome::Unreached;
        }
        order.sort_by_key(|t| {
            let worth = (kills[*t].load(Ordering::Relaxed) + 1) as f64 / (self.all[*t].takes.as_secs_f64() + 0.02);
            std::cmp::Reverse(worth as u64)
        });
        let mut left = self.budget;
        for t in order {
            let test = &self.all[t];
            let Some(rest) = left.checked_sub(test.takes) else { continue };
            left = rest;
            let ends = match self.run(test, number) {
                Some(true) => continue,
                Some(false) => Outcome::Killed(test.name.clone()),
                None => Outcome::Hung(test.name.clone()),
            };
            kills[t].fetch_add(1, Ordering::Relaxed);
            return ends;
        }
        Outcome::Survived
    }

    /// Whether it passes; nothing if it takes far longer than it should.
    fn run(&self, test: &Test, number: usize) -> Option<bool> {
        let limit = Duration::from_secs(4) + test.takes * 4;
        let mut command = self.command(test.program);
        command.args([&test.name, "--exact"]).env("GLUEWRIGHT_MUTANT", number.to_string());
        let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("a program of tests");
        let start = Instant::now();
        loop {
            if let Some(status) = child.try_wait().expect("a child") {
                return Some(status.success());
            }
            if start.elapsed() > limit {
                child.kill().expect("a child");
                child.wait().expect("a child");
                return None;
            }
            std::thread::sleep(Duration::from_millis(if start.elapsed().as_millis() < 200 { 2 } else { 20 }));
        }
    }
}

/// What comes of each of so many, in their order.
pub fn two_at_a_time<T: Send>(count: usize, work: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let (next, done) = (AtomicUsize::new(0), Mutex::new(BTreeMap::new()));
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    if i >= count {
                        return;
                    }
                    let result = work(i);
                    done.lock().expect("no panic").insert(i, result);
                }
            });
        }
    });
    done.into_inner().expect("no panic").into_values().collect()
}
