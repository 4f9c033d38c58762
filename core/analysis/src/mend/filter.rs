//! Simulation filter: runs that any mended pair must explain. A change that leaves one unexplained is dropped without a
//! query.
use std::collections::{BTreeMap, BTreeSet};

use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_kernel::limit::Limit;
use gluewright_kernel::machine::known::Known;
use gluewright_kernel::machine::{Limits, Machine};
use gluewright_kernel::prove::{Moves, Question, Refutation};
use gluewright_kernel::solver::Effort;

use super::follow::{Shown, Walk, careful, same, shown_at};

/// Originals with more free bits than this are not run from every start: only what all starts agree on is compared.
const MOST_BITS: usize = 12;
/// Runs that are drawn, and their length.
const DRAWN: u64 = 6;
const LENGTH: usize = 200;
/// Runs that are drawn at most, if changes pass those that can't be proved.
const MOST_DRAWN: u64 = 30;
/// The number of these that the solver is asked about where there are too many starts to run.
const DRAWN_AND_ASKED: usize = 2;

/// Runs in which two replacements are compared.
const DRAWN_AND_COMPARED: usize = 3;

/// One run: what the board does, and what a replacement may hold at power-up.
#[derive(Clone, Debug)]
pub(super) struct Run {
    pub(super) moves: Moves,
    /// By name; where nothing is said, drawn bits.
    held: BTreeMap<String, bool>,
    drawn: u64,
}

impl Run {
    /// What a cell holds at power-up.
    pub(super) fn held(&self, cell: usize, name: &str) -> bool {
        self.held.get(name).copied().unwrap_or((self.drawn >> (cell % 64)) & 1 == 1)
    }
}

/// What an original may show in one run.
enum Expected {
    /// From each of its starts, 64 at a time.
    Starts(Vec<Block>),
    /// At each moment and contact whether it drives, and to what level, as far as all its starts agree.
    Agreed(Vec<Vec<Agreed>>),
}

/// Whether a contact is driven, to what level, and what pulls it.
pub(super) type Agreed = (Option<bool>, Option<bool>, gluewright_kernel::circuit::Pull);

/// Sixty-four starts of an original over one run.
struct Block {
    starts: u64,
    /// For each moment: where it rests, where it met an unknown, what it shows.
    moments: Vec<(u64, u64, Vec<Shown>)>,
}

/// A run that shows at a moment that a replacement differs at a contact.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shows {
    contact: usize,
    run: usize,
    moment: usize,
}

/// The runs, and what the original of the question shows in them.
pub(super) struct Filter {
    question: Question,
    original: Machine,
    runs: Vec<Run>,
    labels: Vec<Label>,
    expected: Vec<Expected>,
    /// What the replacement of the question shows in each run.
    shown: Vec<Option<Vec<Vec<Shown>>>>,
    /// Runs that were drawn.
    drawn: u64,
}

impl Filter {
    pub(super) fn new(question: &Question, refutation: &Refutation, effort: Effort) -> Filter {
        let mut labels: Vec<Label> = [question.original(), question.replacement()]
            .into_iter()
            .flat_map(|c| c.contacts().iter().map(|c| c.label.clone()))
            .collect();
        labels.sort();
        labels.dedup();
        let mut filter = Filter {
            question: question.clone().within(effort),
            original: Machine::new(question.original()),
            runs: Vec::new(),
            labels,
            expected: Vec::new(),
            shown: Vec::new(),
            drawn: 0,
        };
        filter.learn(refutation);
        filter.draw(DRAWN);
        filter
    }

    /// Draws more runs, up to this number.
    fn draw(&mut self, most: u64) {
        for seed in self.drawn..most {
            if let Some(moves) = self.question.drawn(seed, LENGTH, seed >= DRAWN) {
                // the odd bits of one run are the even ones of the next
                let drawn = if seed % 2 == 0 { 0x5a5a_3c3c_6996_c33c } else { 0xa5a5_c3c3_9669_3cc3 };
                self.add(Run { moves, held: BTreeMap::new(), drawn });
            }
        }
        self.drawn = self.drawn.max(most);
    }

    /// Draws more runs until one shows that this change is none; whether one did.
    pub(super) fn draws_against(&mut self, limit: &Limit, is_refuted: impl Fn(&Filter) -> bool) -> bool {
        while !is_refuted(self) {
            if self.drawn >= MOST_DRAWN || limit.over().is_some() {
                return false;
            }
            self.draw(self.drawn + DRAWN);
        }
        true
    }

    /// Adds the run that refuted a change.
    pub(super) fn learn(&mut self, refutation: &Refutation) {
        let held = refutation.start.iter().cloned().collect();
        let levels = refutation.levels.iter().map(|(l, _, high)| (l.clone(), *high)).collect();
        let events = refutation.events.iter();
        let events = events.map(|e| e.changes.iter().map(|(l, _, high)| (l.clone(), *high)).collect()).collect();
        self.add(Run { moves: (levels, events), held, drawn: 0 });
    }

    fn add(&mut self, run: Run) {
        let expected = match blocks(&self.original) {
            Some(starts) => {
                Expected::Starts(starts.iter().map(|s| block(&self.original, &run, &self.labels, s)).collect())
            }
            None => {
                let mut all = Vec::new();
                careful(&self.original, &run, &self.labels, |agreed| {
                    all.push(agreed);
                    true
                });
                Expected::Agreed(all)
            }
        };
        self.expected.push(expected);
        self.shown.push(follow(&Machine::new(self.question.replacement()), &run, &self.labels));
        self.runs.push(run);
    }

    /// Whether a run shows that this replacement does what the original never would.
    pub(super) fn refutes_replacement(&self, replacement: &Circuit) -> bool {
        let machine = Machine::new(replacement);
        self.runs.iter().zip(&self.expected).any(|(run, expected)| self.fails(&machine, run, expected))
    }

    /// All contacts, by their numbers here.
    pub(super) fn contacts(&self) -> Vec<usize> {
        (0..self.labels.len()).collect()
    }

    /// The contacts of these numbers.
    pub(super) fn called(&self, contacts: &[usize]) -> Vec<Label> {
        contacts.iter().filter_map(|&c| self.labels.get(c)).cloned().collect()
    }

    /// Of these contacts the ones where, each looked at by itself, a run shows that this replacement does what the original
    /// never would; not where only starts from which the original does not come to rest could show the same. And whether the
    /// replacement comes to rest in all of the runs: what swings says nothing of where it would differ.
    pub(super) fn failing(&self, replacement: &Circuit, among: &[usize]) -> (Vec<usize>, bool) {
        let machine = Machine::new(replacement);
        let (mut left, mut rests_always) = (among.to_vec(), true);
        for at in 0..self.runs.len() {
            let (parts, rests) = self.parts(&machine, at, &left, usize::MAX);
            rests_always &= rests;
            left.retain(|c| !parts.contains_key(c));
            if left.is_empty() {
                break;
            }
        }
        (among.iter().copied().filter(|c| !left.contains(c)).collect(), rests_always)
    }

    /// For each contact the run that shows soonest that this replacement differs there, and at which moment.
    pub(super) fn soonest(&self, replacement: &Circuit, contacts: &[usize]) -> Vec<Shows> {
        let machine = Machine::new(replacement);
        let mut all: Vec<Shows> = Vec::new();
        for at in 0..self.runs.len() {
            for (contact, moment) in self.parts(&machine, at, contacts, usize::MAX).0 {
                match all.iter_mut().find(|s| s.contact == contact) {
                    Some(known) if known.moment <= moment => {}
                    Some(known) => (known.run, known.moment) = (at, moment),
                    None => all.push(Shows { contact, run: at, moment }),
                }
            }
        }
        all
    }

    /// The contacts at which this replacement agrees in every run, of those that `soonest` says of another where it does not;
    /// none if it must come to rest and does not.
    pub(super) fn agreeing(&self, replacement: &Circuit, soonest: &[Shows], must_rest: bool) -> Vec<usize> {
        let machine = Machine::new(replacement);
        let mut left: Vec<usize> = Vec::new();
        for at in 0..self.runs.len() {
            let told: Vec<&Shows> = soonest.iter().filter(|s| s.run == at).collect();
            let contacts: Vec<usize> = told.iter().map(|s| s.contact).collect();
            let Some(until) = told.iter().map(|s| s.moment).max() else { continue };
            let (parts, rests) = self.parts(&machine, at, &contacts, until);
            if must_rest && !rests {
                return Vec::new();
            }
            left.extend(contacts.into_iter().filter(|c| !parts.contains_key(c)));
        }
        for at in 0..self.runs.len() {
            if left.is_empty() {
                return left;
            }
            let (parts, rests) = self.parts(&machine, at, &left, usize::MAX);
            left.retain(|c| (rests || !must_rest) && !parts.contains_key(c));
        }
        left
    }

    /// Whether in a drawn run this replacement shows anything else at these contacts than the one of the question.
    pub(super) fn changes(&self, replacement: &Circuit, contacts: &BTreeSet<usize>) -> bool {
        let machine = Machine::new(replacement);
        let runs = self.runs.iter().zip(&self.shown).filter_map(|(run, shown)| Some((run, shown.as_ref()?)));
        let at = |shown: &[Shown]| contacts.iter().map(|&c| shown.get(c).copied()).collect::<Vec<_>>();
        runs.take(DRAWN_AND_COMPARED).any(|(run, known)| {
            let Some(mut walk) = Walk::of_replacement(&machine, run, &self.labels) else { return true };
            let mut events = run.moves.1.iter();
            known.iter().any(|known| {
                at(known) != at(&walk.shown()) || events.next().is_some_and(|event| walk.step(event).0 != u64::MAX)
            })
        })
    }

    /// The contacts at which this replacement shows what the original never would, each looked at by itself, with the first
    /// moment of one run, up to `until`; and whether it comes to rest throughout, or until all have differed.
    fn parts(&self, machine: &Machine, at: usize, among: &[usize], until: usize) -> (BTreeMap<usize, usize>, bool) {
        let mut parted = BTreeMap::new();
        let (Some(run), Some(expected)) = (self.runs.get(at), self.expected.get(at)) else { return (parted, true) };
        let Some(mut walk) = Walk::of_replacement(machine, run, &self.labels) else { return (parted, false) };
        let starts = |_: &usize| match expected {
            Expected::Starts(blocks) => blocks.iter().map(|b| (b.starts, 0)).collect(),
            Expected::Agreed(_) => Vec::new(),
        };
        let mut alive: Vec<(usize, Vec<(u64, u64)>)> = among.iter().map(|c| (*c, starts(c))).collect();
        for k in 0..=run.moves.1.len().min(until) {
            if let Some(event) = k.checked_sub(1).and_then(|e| run.moves.1.get(e))
                && walk.step(event).0 != u64::MAX
            {
                return (parted, false);
            }
            let now = walk.shown();
            alive.retain_mut(|(contact, alive)| {
                let Some(now) = now.get(*contact) else { return true };
                let agrees = match expected {
                    Expected::Starts(blocks) => {
                        for (block, (alive, wild)) in blocks.iter().zip(alive.iter_mut()) {
                            let Some((rests, unknown, theirs)) = block.moments.get(k) else { continue };
                            let Some(theirs) = theirs.get(*contact) else { continue };
                            // an original that met an unknown, or never comes to rest, may show anything here
                            *wild |= *alive & (unknown | !rests);
                            *alive &= same(&[*theirs], &[*now]) | *wild;
                        }
                        alive.iter().any(|&(alive, _)| alive != 0)
                    }
                    Expected::Agreed(moments) => {
                        let theirs = moments.get(k).and_then(|m| m.get(*contact));
                        !theirs.is_some_and(|theirs| disagree(theirs, now))
                    }
                };
                if !agrees {
                    parted.insert(*contact, k);
                }
                agrees
            });
            if alive.is_empty() {
                break;
            }
        }
        (parted, true)
    }

    fn fails(&self, replacement: &Machine, run: &Run, expected: &Expected) -> bool {
        let Some(mut walk) = Walk::of_replacement(replacement, run, &self.labels) else { return false };
        let mut shown = Vec::new();
        let mut alive: Vec<(u64, u64)> = match expected {
            Expected::Starts(blocks) => blocks.iter().map(|b| (b.starts, 0)).collect(),
            Expected::Agreed(_) => Vec::new(),
        };
        for k in 0..=run.moves.1.len() {
            if let Some(event) = k.checked_sub(1).and_then(|e| run.moves.1.get(e))
                && walk.step(event).0 != u64::MAX
            {
                return false;
            }
            let now = walk.shown();
            match expected {
                Expected::Starts(blocks) => {
                    for (block, (alive, wild)) in blocks.iter().zip(&mut alive) {
                        let Some((rests, unknown, theirs)) = block.moments.get(k) else { continue };
                        *wild |= *alive & unknown;
                        *alive &= (rests & same(theirs, &now)) | *wild;
                    }
                    if alive.iter().all(|&(alive, _)| alive == 0) {
                        return true;
                    }
                }
                Expected::Agreed(moments) => {
                    // where the original may go on for ever nothing is agreed on
                    let Some(theirs) = moments.get(k) else { return false };
                    if theirs.iter().zip(&now).any(|(a, s)| disagree(a, s)) {
                        return true;
                    }
                }
            }
            shown.push(now);
        }
        // starts that met an unknown are followed again, with every outcome of it
        let sure = alive.iter().any(|&(alive, wild)| alive & !wild != 0) || alive.is_empty();
        !sure && !may_show(&self.original, run, &self.labels, &shown)
    }

    /// Whether by the solver, which knows all that an unknown may become and sees pulses, nothing explains what refuted
    /// the question itself, or a change before.
    pub(super) fn unexplained(&self, pair: [&Circuit; 2]) -> bool {
        let short = self.runs.iter().filter(|run| run.moves.1.len() < LENGTH / 2);
        short.rev().take(8).any(|run| self.question.unexplained(pair, &run.moves, |i, name| run.held(i, name)))
    }

    /// Whether by the solver nothing explains a run that refuted, or a drawn one. Only of an original with too many starts
    /// to be run from each: of others the runs have told all that they can.
    pub(super) fn nothing_explains_what_was_drawn(&self, pair: [&Circuit; 2]) -> bool {
        let [original, _] = pair;
        if Machine::new(original).cells().len() <= MOST_BITS {
            return false;
        }
        let drawn = self.runs.iter().filter(|run| run.moves.1.len() >= LENGTH / 2).take(DRAWN_AND_ASKED);
        self.unexplained(pair)
            || drawn.into_iter().any(|run| self.question.unexplained(pair, &run.moves, |i, name| run.held(i, name)))
    }

    /// Whether a run shows that the replacement does what this original never would.
    pub(super) fn refutes_original(&self, original: &Circuit) -> bool {
        let machine = Machine::new(original);
        let is_small = machine.cells().len() <= MOST_BITS;
        self.runs.iter().zip(&self.shown).any(|(run, shown)| match shown {
            None => false,
            Some(shown) if is_small => !may_show(&machine, run, &self.labels, shown),
            Some(shown) => {
                let (mut shown, mut refuted) = (shown.iter(), false);
                careful(&machine, run, &self.labels, |agreed| {
                    let Some(shown) = shown.next() else { return false };
                    refuted = agreed.iter().zip(shown).any(|(a, s)| disagree(a, s));
                    !refuted
                });
                refuted
            }
        })
    }
}

/// Whether what all starts agree on is not what was shown.
fn disagree((drives, level, pull): &Agreed, (drive, high, other): &Shown) -> bool {
    let (drive, high) = (drive & 1 == 1, high & 1 == 1);
    match drives {
        None => false,
        Some(drives) if *drives != drive => true,
        Some(true) => level.is_some_and(|level| level != high),
        Some(false) => pull != other,
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

/// A replacement over a run, from its declared start or the run's; `None` where nobody can say what it does.
fn follow(machine: &Machine, run: &Run, labels: &[Label]) -> Option<Vec<Vec<Shown>>> {
    let mut walk = Walk::of_replacement(machine, run, labels)?;
    let mut all = vec![walk.shown()];
    for event in &run.moves.1 {
        if walk.step(event).0 != u64::MAX {
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

/// Whether some start of an original, and some outcome where nobody knows it, shows what was shown; where they are too
/// many to try, it may.
fn may_show(machine: &Machine, run: &Run, labels: &[Label], shown: &[Vec<Shown>]) -> bool {
    let ports: Vec<_> = labels.iter().map(|label| machine.port(label)).collect();
    let outside = machine.outside_by_label(&run.moves.0, |high| high);
    let limits = Limits::ample(machine);
    let Some(mut known) = Known::begin(machine, &outside, limits) else { return true };
    for (k, wanted) in shown.iter().enumerate() {
        if let Some(event) = k.checked_sub(1).and_then(|e| run.moves.1.get(e)) {
            let change = machine.event_by_label(event, |high| high);
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
