//! A jury that can object: a simulator with drawn delays, written apart from the semantics, against what is proved. Hiding is
//! on, assumptions, restrictions and groups are drawn, and boards are drawn by the statistics of published ones.
//!
//! A run of the replacement with delays of its own is held against every start of the original, each with many draws of
//! delays, none longer than the sheets of its parts allow: if what was proved holds, some of them shows the same at rest after
//! every event. A sample runs by default.
//!
//! `GLUEWRIGHT_COUNT=12500 GLUEWRIGHT_SEEDS=1,2,3,4 cargo test -p gluewright-tests --release --test checks timed_jury:: -- --ignored --nocapture`
//! asks two questions about each of so many boards of each seed, 100,000 in all, and prints the table by seed and kind, every
//! question that stayed open with its cause, and the rate. `GLUEWRIGHT_SHARD=3/16` asks every sixteenth of them, the third, so
//! that the rest can run elsewhere or later: the rows of the shards add up. `GLUEWRIGHT_MINUTES=30` stops in time and says
//! where to go on with `GLUEWRIGHT_FROM`. What four seconds don't decide is asked again as a user asks it, for a minute at most:
//! `GLUEWRIGHT_AGAIN` says how many seconds, 0 for never.
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::sync::Arc;
use std::time::{Duration, Instant};

use gluewright::circuit::{Circuit, Direction, Label};
use gluewright::edit::edits;
use gluewright::prove::{Assumption, Failure, Formula, Proof, Question, Restriction, Way, Why};
use gluewright_kernel::solver::Effort;
use gluewright_tests::boards::{board, rewritten};
use gluewright_tests::gates::Numbers;
use gluewright_tests::timed::{State, Timed, start};
use gluewright_tests::{boards, published, sheets};

/// Starts of the original that are tried at most: boards with more are counted apart.
const MOST_STARTS: u32 = 8;

/// States of the original that are followed at most.
const MOST_STATES: usize = 40;

/// Draws in a row without a state that was not known, after which no more are made.
const IDLE: usize = 12;

fn from_environment(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|s| s.parse().ok()).unwrap_or(otherwise)
}

/// What the board is taken to do, drawn.
#[derive(Clone, Debug, Default)]
struct Habits {
    /// Never both high.
    never: Option<(Label, Label)>,
    /// The first changes only while the second is low.
    only: Option<(Label, Label)>,
    /// Change together.
    together: Option<(Label, Label)>,
}

impl Habits {
    fn drawn(n: &mut Numbers, inputs: &[Label]) -> Habits {
        let mut pair = |one_in: usize| {
            let (a, b) = (n.below(inputs.len()), n.below(inputs.len()));
            (n.below(one_in) == 0 && a != b).then(|| (inputs[a].clone(), inputs[b].clone()))
        };
        Habits { never: pair(3), only: pair(3), together: pair(4) }
    }

    fn asked(&self, mut question: Question) -> Question {
        let high = |l: &Label| Arc::new(Formula::High(l.clone()));
        if let Some((a, b)) = &self.never {
            let holds = Formula::Not(Arc::new(Formula::And(high(a), high(b))));
            question = question.assuming(Assumption { text: format!("never {a} and {b}"), holds });
        }
        if let Some((a, b)) = &self.only {
            let only_while = Formula::Not(high(b));
            let text = format!("{a} only while {b} is low");
            question =
                question.restricted(Restriction { text, contacts: vec![a.clone()], way: Way::Either, only_while });
        }
        match &self.together {
            Some((a, b)) => question.together([a.clone(), b.clone()]),
            None => question,
        }
    }

    fn allows(&self, level: &dyn Fn(&Label) -> bool) -> bool {
        !self.never.as_ref().is_some_and(|(a, b)| level(a) && level(b))
    }

    fn does(&self, before: &dyn Fn(&Label) -> bool, after: &dyn Fn(&Label) -> bool) -> bool {
        let keeps = self.only.as_ref().is_none_or(|(a, b)| before(a) == after(a) || !before(b) && !after(b));
        self.allows(after) && keeps
    }
}

/// Levels by the contacts of one circuit from levels by label.
fn outside(circuit: &Circuit, levels: &BTreeMap<Label, bool>) -> Vec<bool> {
    circuit.contacts().iter().map(|c| levels.get(&c.label).copied().unwrap_or(false)).collect()
}

fn by_label(circuit: &Circuit, shown: &[Option<bool>]) -> BTreeMap<Label, Option<bool>> {
    circuit.contacts().iter().map(|c| c.label.clone()).zip(shown.iter().copied()).collect()
}

enum Heard {
    /// Every run was explained.
    Agrees,
    /// Nothing that was tried shows what the replacement showed.
    Objects(String),
    /// Too many starts, or it never rests.
    Silent,
}

fn heard(text: &str, original: &Circuit, replacement: &Circuit, habits: &Habits, n: &mut Numbers) -> Heard {
    let longest = sheets::longest(original, text);
    let free = original.elements().iter().filter(|e| e.start.level().is_none()).count() as u32;
    if free > MOST_STARTS {
        return Heard::Silent;
    }
    let inputs: Vec<Label> = original
        .contacts()
        .iter()
        .chain(replacement.contacts())
        .filter(|c| c.direction != Direction::Output)
        .map(|c| c.label.clone())
        .collect::<std::collections::BTreeSet<_>>()
        .into_iter()
        .collect();
    let mut rested = false;
    for _ in 0..3 {
        // more states than are followed: what is not explained then may be by another
        let mut cut = false;
        let timed = Timed::drawn(replacement, &sheets::any(replacement), n);
        let mut levels: BTreeMap<Label, bool> = BTreeMap::new();
        for _ in 0..20 {
            levels = inputs.iter().map(|l| (l.clone(), n.below(2) == 1)).collect();
            if habits.allows(&|l| levels.get(l).copied().unwrap_or(false)) {
                break;
            }
        }
        let word = n.below(1 << 30) as u64;
        let Some(mut state) = timed.wake(&start(replacement, word), &outside(replacement, &levels), n) else {
            continue;
        };
        let mut told = vec![format!("power-up {levels:?}")];
        let shown = by_label(replacement, &timed.shown(&state));
        let alike = |t: &Timed<'_>, s: &State, shown: &BTreeMap<Label, Option<bool>>| {
            let mine = by_label(original, &t.shown(s));
            shown.iter().all(|(label, v)| mine.get(label).copied().flatten() == *v)
        };
        let mut states: HashSet<State> = HashSet::new();
        let mut idle = 0;
        for draw in 0..40 {
            let known = states.len();
            let t = Timed::drawn(original, &longest, n);
            for word in 0..1u64 << free {
                let woken = t.wake(&start(original, word), &outside(original, &levels), n);
                states.extend(woken.filter(|s| alike(&t, s, &shown)));
            }
            // a part that no contact shows may swing for ever, and a swinging board is at rest nowhere
            cut |= t.swings();
            idle = if states.len() == known { idle + 1 } else { 0 };
            if draw >= 2 && !states.is_empty() && (!t.drew() || idle > IDLE) {
                break;
            }
        }
        if states.is_empty() && cut {
            return Heard::Silent;
        }
        if states.is_empty() {
            return Heard::Objects(format!("{}: {shown:?}", told.join("; ")));
        }
        for _ in 0..25 {
            let mut next = levels.clone();
            let label = &inputs[n.below(inputs.len())];
            let group: Vec<&Label> = match &habits.together {
                Some((a, b)) if label == a || label == b => vec![a, b],
                _ => vec![label],
            };
            for l in &group {
                if group.len() == 1 || n.below(3) > 0 {
                    next.entry((*l).clone()).and_modify(|v| *v = !*v);
                }
            }
            let at = |levels: &BTreeMap<Label, bool>, l: &Label| levels.get(l).copied().unwrap_or(false);
            if next == levels || !habits.does(&|l| at(&levels, l), &|l| at(&next, l)) {
                continue;
            }
            told.push(format!("{group:?} change to {:?}", group.iter().map(|l| at(&next, l)).collect::<Vec<_>>()));
            levels = next;
            let Some(after) = timed.change(&state, &outside(replacement, &levels), n) else { break };
            state = after;
            rested = true;
            let shown = by_label(replacement, &timed.shown(&state));
            let mut reached: HashSet<State> = HashSet::new();
            for draw in 0..60 {
                let t = Timed::drawn(original, &longest, n);
                for s in &states {
                    let moved = t.change(s, &outside(original, &levels), n);
                    reached.extend(moved.filter(|s| alike(&t, s, &shown)));
                }
                cut |= t.swings();
                // a level that was drawn may be the one that explains nothing later on
                if draw >= 3 && !reached.is_empty() && !t.drew() || reached.len() > MOST_STATES {
                    break;
                }
            }
            if reached.is_empty() && cut {
                return Heard::Silent;
            }
            if reached.is_empty() {
                return Heard::Objects(format!("{}: {shown:?}", told.join("; ")));
            }
            cut |= reached.len() > MOST_STATES;
            states = reached.into_iter().take(MOST_STATES).collect();
        }
    }
    if rested { Heard::Agrees } else { Heard::Silent }
}

/// What became of a question.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Became {
    /// Proved, and every timed run is explained.
    Explained,
    /// Proved by typical delays: other delays may decide otherwise, so that it is not heard.
    Typical,
    /// Proved, with too many starts to try.
    Silent,
    Refuted,
    Withheld,
    Undecided,
    Refused,
    /// Proved, and a timed run is not explained.
    Wrong,
}

const ALL: [Became; 8] = [
    Became::Explained,
    Became::Typical,
    Became::Silent,
    Became::Refuted,
    Became::Withheld,
    Became::Undecided,
    Became::Refused,
    Became::Wrong,
];

#[derive(Default)]
struct Table {
    /// By seed, by the kind of board, and whether the replacement is changed.
    rows: BTreeMap<(u64, &'static str, &'static str), BTreeMap<Became, usize>>,
    /// Why proofs were withheld and questions stayed open: in how many questions.
    causes: BTreeMap<String, usize>,
    objections: Vec<String>,
    /// For how long a question is asked again that ran out of time, if at all.
    again: Duration,
}

impl Table {
    fn total(&self, kinds: &[Became]) -> usize {
        self.rows.values().flatten().filter(|(became, _)| kinds.contains(became)).map(|(_, count)| count).sum()
    }

    fn print(&self, seconds: f64) {
        println!("{:>6} {:10} {:10} {:>9} {:?}", "seed", "boards", "replaced", "questions", ALL);
        for ((seed, kind, what), counts) in &self.rows {
            let of = |b: &Became| counts.get(b).copied().unwrap_or(0);
            let (all, each): (usize, Vec<usize>) = (counts.values().sum(), ALL.iter().map(of).collect());
            let share = |b: Became| 100.0 * of(&b) as f64 / all.max(1) as f64;
            let (withheld, undecided) = (share(Became::Withheld), share(Became::Undecided));
            println!(
                "{seed:6} {kind:10} {what:10} {all:9} {each:?}; withheld {withheld:.1} %, undecided {undecided:.1} %"
            );
        }
        for (why, count) in &self.causes {
            println!("{count:6} {why}");
        }
        let all = self.total(&ALL);
        println!("{all} questions in {seconds:.0} s, {:.1} a second", all as f64 / seconds.max(0.001));
    }
}

/// The rule behind a finding.
fn rule(why: &Why) -> String {
    match why {
        Why::Order { rule, .. } => format!("order of changes, {rule:?}"),
        Why::Constant(_) => "a net that may pulse".to_owned(),
        Why::Race => "data can change with its clock".to_owned(),
        Why::InTurn { .. } => "contacts in turn".to_owned(),
        Why::Fades { .. } => "a pulse at a contact that hangs on an order".to_owned(),
        Why::Ignored { .. } => "a contact that the replacement ignores".to_owned(),
        Why::Still { .. } => "a contact that the replacement never moves".to_owned(),
        Why::OpenAgain => "loads again and again what the sheet leaves open".to_owned(),
        Why::Floats { .. } => "loads from a floating net".to_owned(),
    }
}

struct Asked<'t> {
    table: &'t mut Table,
    row: (u64, &'static str, &'static str),
    what: String,
    text: &'t str,
}

impl Asked<'_> {
    fn ask(&mut self, n: &mut Numbers, original: &Circuit, replacement: &Circuit) {
        let inputs: Vec<Label> =
            original.contacts().iter().filter(|c| c.direction == Direction::Input).map(|c| c.label.clone()).collect();
        let habits = if inputs.len() > 2 { Habits::drawn(n, &inputs) } else { Habits::default() };
        let question = habits.asked(Question::new(original.clone(), replacement.clone()));
        let quick = question.clone().to_depth(10).within(Effort { milliseconds: 3_000, ..Effort::default() });
        let again = |answer: &Result<Proof, Failure>| {
            matches!(answer, Err(Failure::Undecided(u)) if u.restless.is_none()) && !self.table.again.is_zero()
        };
        let mut answer = quick.in_time(Duration::from_secs(4)).ask();
        if again(&answer) {
            answer = question.in_time(self.table.again).ask();
            let now = if again(&answer) { "not decided either" } else { "decided" };
            self.because("asked again", [now.to_owned()].into());
        }
        let text = self.text;
        let mut heard = || heard(text, original, replacement, &habits, n);
        let became = match answer {
            Ok(proof) if !proof.typical.is_empty() => Became::Typical,
            Ok(_) => match heard() {
                Heard::Agrees => Became::Explained,
                Heard::Silent => Became::Silent,
                Heard::Objects(why) => {
                    println!("{}, {habits:?}: {why}\n{text}", self.what);
                    self.table.objections.push(format!("{}: {why}", self.what));
                    Became::Wrong
                }
            },
            Err(Failure::Withheld(w)) => {
                let rules: BTreeSet<String> = w.hidden.iter().map(|h| rule(&h.why)).collect();
                let names: Vec<&String> = w.hidden.iter().map(|h| &h.call).collect();
                println!("{}: withheld for {names:?}", self.what);
                self.because("withheld", rules);
                Became::Withheld
            }
            Err(Failure::Refuted(_)) => Became::Refuted,
            Err(Failure::Undecided(u)) => {
                println!("{}: undecided: {}: {}", self.what, u.obligation, u.tried.join("; "));
                let why = if u.restless.is_some() { "a side never comes to rest" } else { "time or budget ran out" };
                self.because("undecided", [why.to_owned()].into());
                Became::Undecided
            }
            Err(_) => Became::Refused,
        };
        *self.table.rows.entry(self.row).or_default().entry(became).or_default() += 1;
    }

    fn because(&mut self, what: &str, rules: BTreeSet<String>) {
        let drawn = self.row.1;
        let rules: Vec<String> = rules.into_iter().collect();
        *self.table.causes.entry(format!("{drawn} boards, {what}: {}", rules.join(", "))).or_default() += 1;
    }
}

/// Both questions about one board: the jury's own kind, or drawn by the statistics of published ones.
fn one_board(table: &mut Table, seed: u64, number: u64) {
    let mut n = Numbers(seed.wrapping_mul(104_729).wrapping_add(number).wrapping_mul(1_000_003));
    let (kind, text) = if number.is_multiple_of(2) {
        let (packages, inputs) = (1 + n.below(4), 6 + n.below(7));
        ("published", published::trace(&mut n, packages, inputs))
    } else {
        let (packages, bits) = (3 + n.below(6), 2 + n.below(5));
        ("jury", boards::trace(&mut n, packages, bits))
    };
    // a drawn trace may have an error
    let Some(original) = board(&text) else { return };
    let replacement = rewritten(&mut n, &original);
    let what = |change: &str| format!("seed {seed}, {kind} board {number} {change}");
    Asked { table, row: (seed, kind, "rewritten"), what: what("rewritten"), text: &text }.ask(
        &mut n,
        &original,
        &replacement,
    );
    let all = edits(&replacement);
    if let Some(edit) = all.get(n.below(all.len())) {
        let changed = edit.apply(&replacement);
        Asked { table, row: (seed, kind, "changed"), what: what(edit.words()), text: &text }
            .ask(&mut n, &original, &changed);
    }
}

fn campaign(mut table: Table, seeds: &[u64], boards: u64, (shard, of): (u64, u64), from: u64, time: Duration) -> Table {
    println!("{}", published::statistics());
    let began = Instant::now();
    let numbers = (0..boards).flat_map(|number| seeds.iter().map(move |&seed| (seed, number)));
    for (at, (seed, number)) in (0..).zip(numbers).filter(|(at, _)| at % of == shard && *at >= from) {
        if began.elapsed() > time {
            println!("stopped in time: go on with GLUEWRIGHT_FROM={at}");
            break;
        }
        one_board(&mut table, seed, number);
    }
    table.print(began.elapsed().as_secs_f64());
    table
}

#[test]
fn a_sample_of_proofs_is_explained_in_time() {
    let table = campaign(Table::default(), &[1], 12, (0, 1), 0, Duration::MAX);
    assert!(table.objections.is_empty(), "{:#?}", table.objections);
    assert!(table.total(&[Became::Explained]) > 3, "{:?}", table.rows);
}

#[test]
#[ignore = "a campaign: see the head of this file"]
fn every_proof_of_the_campaign_is_explained_in_time() {
    let seeds = std::env::var("GLUEWRIGHT_SEEDS").unwrap_or_else(|_| "1,2,3,4".to_owned());
    let seeds: Vec<u64> = seeds.split(',').filter_map(|seed| seed.trim().parse().ok()).collect();
    let shard = std::env::var("GLUEWRIGHT_SHARD").ok();
    let shard = shard.as_deref().and_then(|text| text.split_once('/'));
    let shard = shard.and_then(|(k, of)| Some((k.parse::<u64>().ok()?.checked_sub(1)?, of.parse().ok()?)));
    let minutes = from_environment("GLUEWRIGHT_MINUTES", u64::MAX / 60);
    let (boards, from) = (from_environment("GLUEWRIGHT_COUNT", 12_500), from_environment("GLUEWRIGHT_FROM", 0));
    let again = Duration::from_secs(from_environment("GLUEWRIGHT_AGAIN", 60));
    let table = Table { again, ..Table::default() };
    let table = campaign(table, &seeds, boards, shard.unwrap_or((0, 1)), from, Duration::from_secs(minutes * 60));
    assert!(table.objections.is_empty(), "{:#?}", table.objections);
}

/// What a loop of gates comes up as is drawn, and a start is easily missed: these four were, and objected to.
#[test]
fn a_start_that_is_seldom_drawn_is_not_missed() {
    let mut table = Table::default();
    for (seed, number) in [(4, 3_561), (1, 8_023), (1, 9_261), (2, 10_339)] {
        one_board(&mut table, seed, number);
    }
    assert!(table.objections.is_empty(), "{:#?}", table.objections);
    assert!(table.total(&[Became::Explained]) > 2, "{:?}", table.rows);
}

/// The jury must be able to object: of changes that the prover refutes it hears many without the prover, and of those that it
/// proves to change nothing it hears none.
#[test]
fn a_changed_card_is_objected_to() {
    let (mut refuted, mut heard_of_refuted, mut wronged) = (0, 0, Vec::new());
    for number in 0..40 {
        let mut n = Numbers(number * 7 + 3);
        let text = boards::trace(&mut n, 4, 4);
        let Some(original) = board(&text) else { continue };
        let replacement = rewritten(&mut n, &original);
        let all = edits(&replacement);
        let Some(edit) = all.get(n.below(all.len())) else { continue };
        let changed = edit.apply(&replacement);
        let objects = matches!(heard(&text, &original, &changed, &Habits::default(), &mut n), Heard::Objects(_));
        let question = Question::new(original, changed).to_depth(10).in_time(Duration::from_secs(4));
        match question.ask() {
            Err(Failure::Refuted(_)) => {
                refuted += 1;
                heard_of_refuted += usize::from(objects);
            }
            Ok(proof) if objects && proof.typical.is_empty() => wronged.push(number),
            _ => {}
        }
    }
    println!("of {refuted} changes that are refuted {heard_of_refuted} are objected to");
    assert!(wronged.is_empty(), "proved, and objected to: {wronged:?}");
    assert!(heard_of_refuted * 3 > refuted && refuted > 5, "{heard_of_refuted} of {refuted}");
}
