//! A judge from outside: both circuits written in Verilog (IEEE 1364-2001), side by side under a bench that counts the
//! starts of the original that show what the replacement shows, and run by Icarus Verilog.
//!
//! The netlists are written from the circuits alone and share nothing with the machine, the walk, or the netlists that
//! the product emits. What is unknown takes its usual value in both; a start that shows something else after an unknown of
//! its own counts neither way.
mod bench;
mod module;

use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

use gluewright::circuit::{Circuit, Label};

use crate::gates::Numbers;
use crate::walk::{Allowed, Sequence, Walk};
use module::Module;

/// One run of the replacement: levels, what it holds where it may choose, and events.
#[derive(Clone, Debug)]
pub struct Run {
    /// Levels and events.
    pub sequence: Sequence,
    /// Elements by name.
    pub start: Vec<(String, bool)>,
}

/// What became of the starts of the original over one run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counted {
    /// Starts that showed the same to the end; the bench may stop at the first.
    pub alive: u64,
    /// Starts that showed something else after an unknown of theirs, or never came to rest.
    pub open: u64,
    /// Starts that showed something else.
    pub dead: u64,
    /// Events over which it was compared: fewer than asked for if the replacement does not come to rest.
    pub events: u64,
    /// The replacement met an unknown: it took the usual value.
    pub guessed: bool,
    /// Something was neither low nor high.
    pub neither: bool,
}

/// Whether the simulator is there. A check without it fails where `CI` is set, and elsewhere says that it was left out.
pub fn is_there() -> bool {
    static THERE: OnceLock<bool> = OnceLock::new();
    *THERE.get_or_init(|| {
        let there = Command::new("iverilog").arg("-V").output().is_ok();
        if !there {
            assert!(std::env::var_os("CI").is_none(), "iverilog is missing: sudo apt-get install -y iverilog");
            eprintln!("LEFT OUT: nothing was run in a simulator from outside: sudo apt-get install -y iverilog");
        }
        there
    })
}

/// A pair in the simulator.
#[derive(Debug)]
pub struct Pair {
    modules: [Module; 2],
    labels: Vec<Label>,
    /// For each label, whether the two sides pull it differently while nobody drives it.
    pulls_differ: Vec<bool>,
}

impl Pair {
    /// Nothing if there are more starts than 2 to this many.
    pub fn new(original: &Circuit, replacement: &Circuit, most_free: usize) -> Option<Pair> {
        let circuits = [original, replacement];
        let labels: std::collections::BTreeSet<Label> =
            circuits.iter().flat_map(|c| c.contacts().iter().map(|c| c.label.clone())).collect();
        let labels: Vec<Label> = labels.into_iter().collect();
        let pull = |c: &Circuit, l: &Label| {
            c.contacts().iter().find(|k| k.label == *l).map(|k| c.nets()[k.net.index()].pull).unwrap_or_default()
        };
        let pulls_differ = labels.iter().map(|l| pull(original, l) != pull(replacement, l)).collect();
        let modules = [Module::new(original, "original", &labels), Module::new(replacement, "replacement", &labels)];
        (modules[0].free().len() <= most_free).then_some(Pair { modules, labels, pulls_differ })
    }

    /// What it is, without the names: equal for pairs that do the same by the same logic.
    pub fn key(&self) -> String {
        format!(
            "{}{}{:?}{:?}",
            self.modules[0].text,
            self.modules[1].text,
            self.pulls_differ,
            self.modules.each_ref().map(Module::fixed)
        )
    }

    /// Runs them. `all`: every start is tried, also after one that shows the same.
    pub fn count(&self, runs: &[Run], all: bool) -> Result<Vec<Counted>, String> {
        let room = tempfile::tempdir().map_err(|e| e.to_string())?;
        for (name, text) in bench::files(self, runs, all) {
            fs::write(room.path().join(name), text).map_err(|e| e.to_string())?;
        }
        called(room.path(), "iverilog", &["-g2001", "-o", "bench", "original.v", "replacement.v", "bench.v"])?;
        let printed = called(room.path(), "vvp", &["-n", "bench"])?;
        let counted: Vec<Counted> = printed.lines().filter_map(bench::counted).collect();
        if counted.len() != runs.len() {
            return Err(format!("{} runs of {} came to an end: {printed}", counted.len(), runs.len()));
        }
        Ok(counted)
    }
}

fn called(room: &Path, program: &str, arguments: &[&str]) -> Result<String, String> {
    let output = Command::new("timeout").arg("120").arg(program).args(arguments).current_dir(room).output();
    let output = output.map_err(|e| format!("{program}: {e}"))?;
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    match output.status.success() {
        true => Ok(said),
        false => Err(format!("{program}: {}{said}", String::from_utf8_lossy(&output.stderr))),
    }
}

/// Drawn runs of the replacement: any levels and any start that are allowed, one contact after another, many of them
/// twice in a row, as clocks and strobes do.
pub fn drawn(walk: &Walk<'_>, runs: usize, events: usize, numbers: &mut Numbers) -> Vec<Run> {
    let inputs = walk.inputs();
    let free: Vec<String> = walk.replacement.elements().iter().map(|e| e.name.clone()).collect();
    let fits = |levels: &[bool], allowed: &Allowed| {
        allowed(&|label| inputs.iter().position(|l| l.as_str() == label).is_some_and(|i| levels[i]))
    };
    let mut all = Vec::new();
    for _ in 0..runs {
        let mut now: Vec<bool> = Vec::new();
        for _ in 0..200 {
            now = inputs.iter().map(|_| numbers.below(2) == 1).collect();
            if fits(&now, walk.allowed) {
                break;
            }
        }
        if !fits(&now, walk.allowed) || inputs.is_empty() {
            continue;
        }
        let levels = inputs.iter().cloned().zip(now.iter().copied()).collect();
        let (mut list, mut last) = (Vec::new(), 0);
        for _ in 0..events {
            let i = if numbers.below(5) < 2 { last } else { numbers.below(inputs.len()) };
            now[i] = !now[i];
            if !fits(&now, walk.allowed) {
                now[i] = !now[i];
                continue;
            }
            last = i;
            list.push(vec![(inputs[i].clone(), now[i])]);
        }
        let start = free.iter().map(|name| (name.clone(), numbers.below(2) == 1)).collect();
        all.push(Run { sequence: Sequence { levels, events: list }, start });
    }
    all
}

#[cfg(test)]
mod tests;
