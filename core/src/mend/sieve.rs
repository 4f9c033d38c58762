//! Runs that any mended pair must explain: a change that leaves one unexplained is no mend, and no solver need say so.
use std::collections::BTreeMap;

use crate::circuit::{Circuit, Label, Pull};
use crate::machine::known::Known;
use crate::machine::{Lanes, Limits, Machine, Point};
use crate::prove::{Moves, Question, Refutation};
use crate::solver::Effort;

/// Originals with more free bits than this are not run from every start; the solver then says what a run says.
const MOST_BITS: usize = 12;

/// One run: what the board does, and what a replacement may hold at power-up.
#[derive(Clone, Debug)]
struct Run {
    moves: Moves,
    /// By name; where nothing is said, drawn bits.
    held: BTreeMap<String, bool>,
    drawn: u64,
}

impl Run {
    /// What a cell holds at power-up.
    fn held(&self, cell: usize, name: &str) -> bool {
        self.held.get(name).copied().unwrap_or((self.drawn >> (cell % 64)) & 1 == 1)
    }
}

/// What one contact shows: whether it is driven, to what level, and what pulls it while it is not; one bit a start.
type Shown = (u64, u64, Pull);

/// The runs, and what the original of the question shows in them.
pub(super) struct Sieve {
    question: Question,
    runs: Vec<Run>,
    labels: Vec<Label>,
    /// For each run the original from all its starts, 64 at a time; `None` if there are too many.
    originals: Option<Vec<Vec<Block>>>,
    /// What the replacement of the question shows in each run.
    shown: Vec<Option<Vec<Vec<Shown>>>>,
}

/// Sixty-four starts of an original over one run.
struct Block {
    starts: u64,
    /// For each moment: where it rests, where it met an unknown, what it shows.
    moments: Vec<(u64, u64, Vec<Shown>)>,
}

impl Sieve {
    pub(super) fn new(question: &Question, refutation: &Refutation) -> Sieve {
        let mut labels: Vec<Label> = [question.original(), question.replacement()]
            .into_iter()
            .flat_map(|c| c.contacts().iter().map(|c| c.label.clone()))
            .collect();
        labels.sort();
        labels.dedup();
        let mut sieve = Sieve {
            question: question.clone().within(Effort { milliseconds: 200, ..question.effort() }),
            runs: Vec::new(),
            labels,
            originals: Some(Vec::new()),
            shown: Vec::new(),
        };
        sieve.learn(refutation);
        for seed in 0..6u64 {
            if let Some(moves) = question.drawn(seed, 200) {
                // the odd bits of one run are the even ones of the next
                let drawn = if seed % 2 == 0 { 0x5a5a_3c3c_6996_c33c } else { 0xa5a5_c3c3_9669_3cc3 };
                let run = Run { moves, held: BTreeMap::new(), drawn };
                sieve.add(run, question.replacement());
            }
        }
        sieve
    }

    /// Takes up what refuted a change.
    pub(super) fn learn(&mut self, refutation: &Refutation) {
        let held = refutation.start.iter().cloned().collect();
        let levels = refutation.levels.iter().map(|(l, _, high)| (l.clone(), *high)).collect();
        let events = refutation.events.iter();
        let events = events.map(|e| e.changes.iter().map(|(l, _, high)| (l.clone(), *high)).collect()).collect();
        let run = Run { moves: (levels, events), held, drawn: 0 };
        let replacement = refutation.evidence.question.replacement().clone();
        self.add(run, &replacement);
    }

    fn add(&mut self, run: Run, replacement: &Circuit) {
        let machine = Machine::new(self.question.original());
        let blocks = blocks(&machine);
        match (&mut self.originals, blocks) {
            (Some(all), Some(starts)) => {
                all.push(starts.iter().map(|s| block(&machine, &run, &self.labels, s)).collect());
            }
            (originals, _) => *originals = None,
        }
        self.shown.push(follow(&Machine::new(replacement), &run, &self.labels));
        self.runs.push(run);
    }

    /// Whether a run shows that this replacement does what the original never would.
    pub(super) fn refutes_replacement(&self, replacement: &Circuit) -> bool {
        if let Some(originals) = &self.originals {
            let machine = Machine::new(replacement);
            let original = Machine::new(self.question.original());
            let refuted = self.runs.iter().zip(originals).any(|(run, blocks)| {
                let Some(shown) = follow(&machine, run, &self.labels) else { return false };
                blocks.iter().all(|b| survivors(b, &shown) == 0) || !may_show(&original, run, &self.labels, &shown)
            });
            if refuted {
                return true;
            }
        }
        self.unexplained([self.question.original(), replacement])
    }

    /// The same by the solver, which knows all that an unknown may become; pulses count too.
    fn unexplained(&self, pair: [&Circuit; 2]) -> bool {
        self.runs.iter().any(|run| self.question.unexplained(pair, &run.moves, |i, name| run.held(i, name)))
    }

    /// Whether a run shows that the replacement does what this original never would.
    pub(super) fn refutes_original(&self, original: &Circuit) -> bool {
        let machine = Machine::new(original);
        let mut runs = self.runs.iter().zip(&self.shown);
        let refuted = runs.any(|(run, shown)| match shown {
            Some(shown) => !may_show(&machine, run, &self.labels, shown),
            None => false,
        });
        if refuted {
            return true;
        }
        self.unexplained([original, self.question.replacement()])
    }
}

/// All starts of a machine, 64 at a time: the lanes that are starts, and a word for each cell.
fn blocks(machine: &Machine) -> Option<Vec<(u64, Vec<u64>)>> {
    let free: Vec<usize> =
        machine.cells().iter().enumerate().filter(|(_, c)| c.start.is_none()).map(|(i, _)| i).collect();
    if free.len() > MOST_BITS {
        return None;
    }
    let count = 1u64 << free.len();
    let all = (0..count.div_ceil(64)).map(|block| {
        let mut cells: Vec<u64> =
            machine.cells().iter().map(|c| if c.start == Some(true) { u64::MAX } else { 0 }).collect();
        for (k, &i) in free.iter().enumerate() {
            cells[i] = (0..64u64).fold(0, |w, lane| w | ((((block * 64 + lane) >> k) & 1) << lane));
        }
        (if count >= 64 { u64::MAX } else { (1 << count) - 1 }, cells)
    });
    Some(all.collect())
}

/// One machine on its way over a run.
struct Walk<'m> {
    machine: &'m Machine,
    ports: Vec<Option<usize>>,
    point: Point<u64>,
    limits: Limits,
}

impl<'m> Walk<'m> {
    /// Wakes the machine; gives where it rests.
    fn new(machine: &'m Machine, run: &Run, labels: &[Label], cells: &[u64]) -> (Self, u64) {
        let limits = limits(machine);
        let ports: Vec<_> = labels.iter().map(|l| machine.ports().iter().position(|p| p.label == *l)).collect();
        let mut outside = vec![0; machine.ports().len()];
        for (label, high) in &run.moves.0 {
            if let Some(p) = machine.ports().iter().position(|p| p.label == *label) {
                outside[p] = if *high { u64::MAX } else { 0 };
            }
        }
        let mut lanes = Lanes::default();
        let asleep = machine.point(&mut lanes, &outside, cells);
        let woken = machine.rest(&mut lanes, &asleep, limits);
        (Walk { machine, ports, point: woken.point, limits }, !woken.unsettled)
    }

    /// One event: where it rests, and where it met an unknown.
    fn step(&mut self, event: &[(Label, bool)]) -> (u64, u64) {
        let change: Vec<_> = event
            .iter()
            .filter_map(|(l, high)| {
                let p = self.machine.ports().iter().position(|p| p.label == *l)?;
                Some((p, if *high { u64::MAX } else { 0 }))
            })
            .collect();
        let mut lanes = Lanes::default();
        let stepped = self.machine.step(&mut lanes, &self.point, &change, self.limits);
        self.point = stepped.point;
        (!stepped.unsettled, lanes.met.iter().fold(0, |all, (_, when)| all | when))
    }

    fn shown(&self) -> Vec<Shown> {
        shown_at(self.machine, &self.ports, &self.point)
    }
}

/// A replacement over a run, from its declared start or the run's; `None` where nobody can say what it does.
fn follow(machine: &Machine, run: &Run, labels: &[Label]) -> Option<Vec<Vec<Shown>>> {
    let cells: Vec<u64> = machine
        .cells()
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let high = c.start.unwrap_or_else(|| run.held(i, &c.name));
            if high { u64::MAX } else { 0 }
        })
        .collect();
    let (mut walk, rests) = Walk::new(machine, run, labels, &cells);
    if rests != u64::MAX {
        return None;
    }
    let mut all = vec![walk.shown()];
    for event in &run.moves.1 {
        let (rests, _) = walk.step(event);
        if rests != u64::MAX {
            return None;
        }
        all.push(walk.shown());
    }
    Some(all)
}

fn block(machine: &Machine, run: &Run, labels: &[Label], (starts, cells): &(u64, Vec<u64>)) -> Block {
    let (mut walk, rests) = Walk::new(machine, run, labels, cells);
    let mut moments = vec![(rests, 0, walk.shown())];
    for event in &run.moves.1 {
        let (rests, unknown) = walk.step(event);
        moments.push((rests, unknown, walk.shown()));
    }
    Block { starts: *starts, moments }
}

/// Where two sides show the same, once settled.
fn same(a: &[Shown], b: &[Shown]) -> u64 {
    a.iter().zip(b).fold(u64::MAX, |all, (&(d, l, p), &(e, m, q))| {
        let floats = if p == q { !d & !e } else { 0 };
        all & (floats | (d & e & !(l ^ m)))
    })
}

/// The starts from which a block shows what was shown, or meets an unknown on the way.
fn survivors(block: &Block, shown: &[Vec<Shown>]) -> u64 {
    let (mut alive, mut wild) = (block.starts, 0);
    for ((rests, unknown, mine), wanted) in block.moments.iter().zip(shown) {
        wild |= alive & unknown;
        alive &= (rests & same(mine, wanted)) | wild;
        if alive == 0 {
            break;
        }
    }
    alive
}

/// Whether some start of an original, and some outcome where nobody knows it, shows what was shown; where they are too
/// many to try, it may.
fn may_show(machine: &Machine, run: &Run, labels: &[Label], shown: &[Vec<Shown>]) -> bool {
    let at = |label: &Label| machine.ports().iter().position(|p| p.label == *label);
    let ports: Vec<_> = labels.iter().map(at).collect();
    let mut outside = vec![false; machine.ports().len()];
    for (label, high) in &run.moves.0 {
        if let Some(slot) = at(label).and_then(|p| outside.get_mut(p)) {
            *slot = *high;
        }
    }
    let limits = limits(machine);
    let Some(mut known) = Known::begin(machine, &outside, limits) else { return true };
    for (k, wanted) in shown.iter().enumerate() {
        if let Some(event) = k.checked_sub(1).and_then(|e| run.moves.1.get(e)) {
            let change = event.iter().filter_map(|(l, high)| Some((at(l)?, *high))).collect();
            if !known.step(machine, &[vec![change]], limits) {
                return true;
            }
        }
        let left: Vec<u64> =
            known.blocks.iter().map(|b| b.alive & same(&shown_at(machine, &ports, &b.point), wanted)).collect();
        if left.iter().all(|&lanes| lanes == 0) {
            return false;
        }
        known.keep(machine, &left);
    }
    true
}

fn limits(machine: &Machine) -> Limits {
    let n = machine.cells().len();
    Limits { phases: 64 + 4 * n, iterations: 64 + 4 * n }
}

/// What each of these ports shows.
fn shown_at(machine: &Machine, ports: &[Option<usize>], point: &Point<u64>) -> Vec<Shown> {
    ports
        .iter()
        .map(|port| match port {
            None => (0, 0, Pull::None),
            Some(p) => {
                let (drive, level) = machine.shown(point, *p);
                (drive, level, machine.ports().get(*p).map_or(Pull::None, |p| p.pull))
            }
        })
        .collect()
}
