//! One settling step: what every signal is before and after it, and what is watched meanwhile.
use std::collections::{BTreeMap, BTreeSet};

use super::ternary::Ternary;
use super::{Cause, Hazard, Hazards, Kind, Margin, Role};
use gluewright_devices::logic::{Diagram, Diagrams, Logic};
use gluewright_kernel::graph::post_order;

/// Rounds in which what follows has to come to rest.
const ROUNDS: usize = 12;

/// Something that is watched.
pub(super) struct Watched<'a> {
    pub(super) name: String,
    pub(super) role: Role,
    /// The variables that it reads.
    pub(super) reads: BTreeSet<usize>,
    /// The variable that is this level, if it holds itself.
    pub(super) own: Option<usize>,
    /// Whether it is a latch that the device or part has as such, with a gate and a data input.
    pub(super) silicon: bool,
    /// Its level from the levels of variables.
    #[allow(clippy::type_complexity, reason = "a name for it would say no more")]
    pub(super) level: Box<dyn Fn(&mut Diagrams, &dyn Fn(usize) -> Ternary) -> Ternary + 'a>,
    /// Of a latch, how far a cause is from its gate and from its data.
    pub(super) margin: Option<Ways<'a>>,
}

/// How many parts or macrocells lie on the ways from a cause, if it gets there.
pub(super) type Ways<'a> = Box<dyn Fn(&Cause) -> Option<Margin> + 'a>;

/// Goes through all steps and looks at everything that is watched.
pub(super) fn look(logic: &Logic, watched: &[Watched<'_>], on_device: bool) -> Hazards {
    let mut steps = Steps { d: logic.diagrams.clone(), logic, count: logic.signals.len() };
    let mut found = Hazards::default();
    for (cause, first) in steps.causes() {
        for watch in watched {
            let step = steps.step(&first, &watch.reads);
            steps.see(&step, watch, &cause, on_device, &mut found);
        }
    }
    if steps.d.overflowed() {
        found.left_out.push("the functions are too large to be searched for hazards: keep wide nodes".to_owned());
    }
    found
}

/// Before and after.
struct Step {
    /// Every variable that matters, with its levels.
    at: BTreeMap<usize, (Diagram, Diagram)>,
    /// Where what is before is at rest.
    settled: Diagram,
}

struct Steps<'a> {
    d: Diagrams,
    logic: &'a Logic,
    count: usize,
}

impl Steps<'_> {
    /// Every cause, with the levels that it gives at first.
    fn causes(&mut self) -> Vec<(Cause, BTreeMap<usize, Diagram>)> {
        let logic = self.logic;
        let mut causes = Vec::new();
        let mut contacts: Vec<usize> = logic.inputs.iter().map(|i| i.variable).collect();
        // what is driven at times is the board's at others
        contacts.extend(logic.outputs.iter().filter(|o| o.enable != Diagram::HIGH).filter_map(|o| o.read_as));
        for variable in contacts {
            let before = self.before(variable);
            let after = self.d.not(before);
            causes.push((Cause::Contact(logic.name_of(variable).to_owned()), BTreeMap::from([(variable, after)])));
        }
        let mut groups: BTreeMap<Diagram, Vec<usize>> = BTreeMap::new();
        let mut resets: BTreeMap<Diagram, Vec<(usize, bool)>> = BTreeMap::new();
        for (index, register) in logic.registers.iter().enumerate() {
            groups.entry(register.clock).or_default().push(index);
            for (condition, high) in [(register.clear, false), (register.preset, true)] {
                if condition != Diagram::LOW {
                    resets.entry(condition).or_default().push((register.variable, high));
                }
            }
        }
        for group in groups.values() {
            let mut first = BTreeMap::new();
            for register in group.iter().filter_map(|&i| logic.registers.get(i)) {
                let data = self.rewritten(register.data, &|steps, v| steps.before(v));
                first.insert(register.variable, data);
            }
            let name = group.first().and_then(|&i| logic.registers.get(i)).map_or("", |r| r.name.as_str());
            causes.push((Cause::Load(name.to_owned()), first));
        }
        for group in resets.values() {
            let first = group.iter().map(|&(v, high)| (v, Diagram::constant(high))).collect();
            let name = group.first().map_or("", |&(v, _)| logic.name_of(v));
            causes.push((Cause::Reset(name.to_owned()), first));
        }
        causes
    }

    /// The level before the step.
    fn before(&mut self, variable: usize) -> Diagram {
        self.d.variable(self.count + variable)
    }

    /// A function with other levels for its variables.
    fn rewritten(&mut self, f: Diagram, level: &dyn Fn(&mut Self, usize) -> Diagram) -> Diagram {
        let (mut result, count) = (f, self.count);
        for v in self.d.support(f).into_iter().filter(|&v| v < count) {
            let by = level(self, v);
            result = self.d.compose(result, v, by);
        }
        result
    }

    /// What follows others without a clock: latch, node, or a wire with when it is driven.
    fn follows(&self, variable: usize) -> Option<(Diagram, Diagram)> {
        let logic = self.logic;
        let latch = logic.latches.iter().find(|l| l.variable == variable).map(|l| (l.follow, Diagram::HIGH));
        let node = || logic.nodes.iter().find(|n| n.variable == variable).map(|n| (n.level, Diagram::HIGH));
        let wire = || logic.outputs.iter().find(|o| o.read_as == Some(variable)).map(|o| (o.level, o.enable));
        latch.or_else(node).or_else(wire)
    }

    /// The variables that some others depend on without a clock in between, themselves included.
    fn behind(&self, reads: &BTreeSet<usize>) -> BTreeSet<usize> {
        let read = |(level, enable)| self.d.support(level).into_iter().chain(self.d.support(enable)).collect();
        post_order(reads.iter().copied(), |v| self.follows(v).map_or_else(Vec::new, read)).into_iter().collect()
    }

    fn step(&mut self, first: &BTreeMap<usize, Diagram>, reads: &BTreeSet<usize>) -> Step {
        let behind = self.behind(reads);
        let mut at: BTreeMap<usize, (Diagram, Diagram)> = BTreeMap::new();
        let mut settled = Diagram::HIGH;
        for &v in &behind {
            let before = self.before(v);
            at.insert(v, (before, first.get(&v).copied().unwrap_or(before)));
        }
        if !behind.iter().any(|v| first.contains_key(v)) {
            return Step { at, settled };
        }
        for &v in &behind {
            let Some((level, enable)) = self.follows(v) else { continue };
            let level = self.rewritten(level, &|s, v| s.before(v));
            let enable = self.rewritten(enable, &|s, v| s.before(v));
            let before = self.before(v);
            let differs = self.d.xor(before, level);
            let wrong = self.d.and(enable, differs);
            let right = self.d.not(wrong);
            settled = self.d.and(settled, right);
        }
        for round in 0..ROUNDS {
            let mut moved = false;
            for &v in &behind {
                let Some((level, enable)) = self.follows(v) else { continue };
                let now = at.clone();
                let after = |_: &mut Self, v: usize| now.get(&v).map_or(Diagram::LOW, |(_, after)| *after);
                let (level, on) = (self.rewritten(level, &after), self.rewritten(enable, &after));
                // released, a wire is the board's, whatever it says
                let was_on = self.rewritten(enable, &|s, v| s.before(v));
                let (before, unknown) = (self.before(v), self.d.variable(2 * self.count + v));
                let board = first.get(&v).copied().unwrap_or(before);
                let released = self.d.choose(was_on, unknown, board);
                let mut next = self.d.choose(on, level, released);
                if round + 1 == ROUNDS && at.get(&v).is_some_and(|(_, a)| *a != next) {
                    next = unknown;
                }
                if let Some(slot) = at.get_mut(&v).filter(|(_, after)| *after != next) {
                    slot.1 = next;
                    moved = true;
                }
            }
            if !moved {
                break;
            }
        }
        Step { at, settled }
    }

    fn see(&mut self, step: &Step, watch: &Watched<'_>, cause: &Cause, on_device: bool, found: &mut Hazards) {
        let moved: Vec<usize> =
            watch.reads.iter().copied().filter(|v| step.at.get(v).is_some_and(|(b, a)| b != a)).collect();
        if moved.is_empty() {
            return;
        }
        let mut ways: BTreeMap<usize, [Ternary; 4]> = BTreeMap::new();
        for &v in &watch.reads {
            let (before, after) = step.at.get(&v).copied().unwrap_or((Diagram::LOW, Diagram::LOW));
            let d = &mut self.d;
            let (high, low) = (d.and(before, after), d.or(before, after));
            let between = Ternary { high, low: d.not(low) };
            let middle = d.variable(v);
            let last = if watch.own == Some(v) { Ternary::OPEN } else { Ternary::certain(d, after) };
            let ways_of = [Ternary::certain(d, before), between, last, Ternary::certain(d, middle)];
            ways.insert(v, ways_of);
        }
        let way = |which: usize| {
            let ways = &ways;
            move |v: usize| ways.get(&v).and_then(|w| w.get(which)).copied().unwrap_or(Ternary::LOW)
        };
        let before = (watch.level)(&mut self.d, &way(0)).high;
        let between = (watch.level)(&mut self.d, &way(1));
        let after = {
            let ats = &step.at;
            let certain: BTreeMap<usize, Ternary> = watch
                .reads
                .iter()
                .map(|&v| (v, Ternary::certain(&mut self.d, ats.get(&v).map_or(Diagram::LOW, |(_, a)| *a))))
                .collect();
            (watch.level)(&mut self.d, &|v| certain.get(&v).copied().unwrap_or(Ternary::LOW)).high
        };
        let changes = self.d.xor(before, after);
        let same = self.d.not(changes);
        let open = between.open(&mut self.d);
        let open = self.d.and(open, same);
        let mut region = self.d.and(open, step.settled);
        if watch.own.is_some() {
            // what it holds is in danger only if it isn't taken up anew from what stands at the end
            let last = (watch.level)(&mut self.d, &way(2)).open(&mut self.d);
            region = self.d.and(region, last);
        }
        if region == Diagram::LOW {
            return;
        }
        let middle = (watch.level)(&mut self.d, &way(3)).high;
        let (mut always, mut never) = (middle, self.d.not(middle));
        for &v in &watch.reads {
            let (before, after) = step.at.get(&v).copied().unwrap_or((Diagram::LOW, Diagram::LOW));
            let d = &mut self.d;
            let changed = d.xor(before, after);
            for all in [&mut always, &mut never] {
                let [low, high] = [false, true].map(|level| d.cofactor(*all, v, level));
                let both = d.and(low, high);
                let still = d.choose(before, high, low);
                *all = d.choose(changed, both, still);
            }
        }
        let kept = self.d.or(always, never);
        let lost = self.d.not(kept);
        // gate and data of a latch of silicon race each other, whatever feeds them: no term can cure that
        let cured = if watch.silicon { Diagram::LOW } else { kept };
        let rest = if watch.silicon { Diagram::HIGH } else { lost };
        let parts = [(Kind::Logic, self.d.and(region, cured)), (Kind::Function, self.d.and(region, rest))];
        for (kind, region) in parts {
            // a level that only shows may leave it for a moment between two of its values
            if region == Diagram::LOW || (kind == Kind::Function && watch.role == Role::Level) {
                continue;
            }
            let margin = watch.margin.as_ref().and_then(|ways| ways(cause));
            let is_cause = |v: &&usize| Cause::Contact(self.logic.name_of(**v).to_owned()) == *cause;
            let moving = moved.iter().filter(|v| !is_cause(v) && watch.own != Some(**v));
            found.add(Hazard {
                signals: vec![watch.name.clone()],
                role: watch.role,
                kind,
                cause: cause.clone(),
                moving: moving.map(|&v| self.logic.name_of(v).to_owned()).collect(),
                margin: margin.filter(|_| kind == Kind::Function),
                on_device,
            });
        }
    }
}
