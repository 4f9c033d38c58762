//! What runs of an original show: drawn runs first, then those that the solver says are there; of each row the longest time
//! that one of them shows.
use std::collections::{BTreeMap, BTreeSet};

use super::arcs::{Arcs, Sampling, step};
use super::ask::{Asked, Questions};
use super::influence::Way;
use super::original::contacts;
use super::paths::after;
use super::timed::{Change, Picoseconds, Sample, Timed};
use super::witness::{Held, Put, Run, Witness};
use super::{At, Edge, Kind, Row, Time, Timing};
use gluewright_kernel::board::{Board, Netlist, PinRole};
use gluewright_kernel::circuit::Stage;
use gluewright_kernel::random::SplitMix;

/// Drawn runs: so many times 64, each of so many events.
const ROUNDS: usize = 2;
const EVENTS: usize = 60;

/// Nothing is measured before so many events: what only a start holds is not what a board is built for.
const FIRST: usize = 6;

/// A change of a contact, by its number.
type Moved = (usize, Edge);

/// What a row is about.
type About = (Kind, Moved, Moved);

/// A time that was seen.
struct Seen {
    ps: Picoseconds,
    time: Time,
    round: usize,
    lane: u32,
    event: usize,
}

/// The original's times: each row of the bound by the longest time that is shown, or not known, or left out because no state
/// allows it.
pub(super) fn shown(board: &Board, netlist: &Netlist, arcs: &Arcs, bound: Timing) -> Timing {
    let mut walk = Walk::new(netlist, arcs);
    for round in 0..ROUNDS {
        walk.draw(round as u64);
    }
    let about = |walk: &Walk<'_>, row: &Row| {
        let at = |at: &At| walk.contacts.iter().position(|(own, _)| own == at);
        Some((row.kind, (at(&row.from)?, row.from_edge?), (at(&row.to)?, row.to_edge?)))
    };
    let mut questions = Questions::new(board, netlist);
    let (mut never, mut starts) = (BTreeSet::new(), Vec::new());
    for row in &bound.rows {
        let Some(about) = about(&walk, row).filter(|about| !walk.seen.contains_key(about)) else { continue };
        match questions.as_mut().map_or(Asked::NotKnown, |q| q.ask(row)) {
            Asked::Never => {
                never.insert(about);
            }
            Asked::Start(start) => starts.push(start),
            Asked::NotKnown => {}
        }
    }
    for some in starts.chunks(64) {
        walk.follow(some);
    }
    let mut timing = Timing { of: bound.of, notes: bound.notes, gap: bound.gap, ..Timing::default() };
    let mut runs = Runs::default();
    for row in bound.rows {
        let Some(about) = about(&walk, &row) else {
            timing.rows.push(row);
            continue;
        };
        if !walk.seen.contains_key(&about) && !never.contains(&about) {
            let most = row.time.ns;
            let missing = vec![format!("no run was found that shows it; the longest path would be {most} ns")];
            timing.rows.push(Row { time: Time { missing, ..Time::default() }, ..row });
        }
    }
    for ((kind, (from, from_edge), (to, to_edge)), seen) in &walk.seen {
        let (Some((from, _)), Some((to, _))) = (walk.contacts.get(*from), walk.contacts.get(*to)) else { continue };
        let (from, to, time) = (from.clone(), to.clone(), seen.time.clone());
        let witness = Some(Witness { run: runs.number(seen), event: seen.event });
        timing.rows.push(Row {
            kind: *kind,
            from,
            from_edge: Some(*from_edge),
            to,
            to_edge: Some(*to_edge),
            time,
            least: None,
            witness,
        });
    }
    timing.runs = runs.all.iter().map(|&(round, lane, events)| walk.run(round, lane, events)).collect();
    timing.finish()
}

/// The runs that witnesses name, each once.
#[derive(Default)]
struct Runs {
    /// Round, lane, and how many events of it are needed.
    all: Vec<(usize, u32, usize)>,
}

impl Runs {
    fn number(&mut self, seen: &Seen) -> usize {
        let events = seen.event + 1;
        match self.all.iter_mut().position(|(round, lane, _)| (*round, *lane) == (seen.round, seen.lane)) {
            Some(at) => {
                if let Some((_, _, most)) = self.all.get_mut(at) {
                    *most = events.max(*most);
                }
                at
            }
            None => {
                self.all.push((seen.round, seen.lane, events));
                self.all.len() - 1
            }
        }
    }
}

/// One event of 64 runs.
#[derive(Default)]
struct Event {
    /// The contact that changed in each run, and how; nothing in a run that stood still.
    moved: Vec<Option<Moved>>,
    log: Vec<Change>,
    samples: Vec<Sample>,
    /// The places in the log of each net.
    by_net: BTreeMap<usize, Vec<usize>>,
}

impl Event {
    fn moved(&self, lane: u32) -> Option<Moved> {
        self.moved.get(lane as usize).copied().flatten()
    }

    fn has_changed(&self, net: usize, lane: u32) -> bool {
        self.changes(net, lane).next().is_some()
    }

    fn changes(&self, net: usize, lane: u32) -> impl Iterator<Item = &Change> {
        let places = self.by_net.get(&net).map_or(&[][..], |p| p);
        places.iter().filter_map(|&at| self.log.get(at)).filter(move |c| c.lanes >> lane & 1 == 1)
    }

    /// The only change of a net in a run; nothing if there are several.
    fn only(&self, net: usize, lane: u32) -> Option<&Change> {
        let mut all = self.changes(net, lane);
        all.next().filter(|_| all.next().is_none())
    }
}

/// What 64 runs begin with.
struct Round {
    outside: Vec<(usize, u64)>,
    held: Vec<Vec<u64>>,
    /// Nets in loops of gates.
    loops: Vec<(usize, u64)>,
    /// What changes in each run, event by event.
    events: Vec<Vec<Option<Moved>>>,
}

/// A start that the solver found: levels of contacts, bits of parts by chip and name, the events.
pub(super) struct Start {
    pub(super) levels: Vec<(String, bool)>,
    pub(super) bits: Vec<(usize, String, bool)>,
    pub(super) events: Vec<(String, bool)>,
}

struct Walk<'a> {
    netlist: &'a Netlist,
    arcs: &'a Arcs,
    contacts: Vec<(At, usize)>,
    /// The contacts that the host may change, and those of them that reach a clock.
    inputs: Vec<usize>,
    clocks: Vec<usize>,
    /// The contacts of each net.
    of_net: BTreeMap<usize, Vec<usize>>,
    timed: Timed<'a>,
    cells: Vec<(usize, Vec<String>)>,
    rounds: Vec<Round>,
    seen: BTreeMap<About, Seen>,
}

impl<'a> Walk<'a> {
    fn new(netlist: &'a Netlist, arcs: &'a Arcs) -> Self {
        let contacts = contacts(netlist);
        let mut of_net: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (at, &(_, net)) in contacts.iter().enumerate() {
            of_net.entry(net).or_default().push(at);
        }
        let is_input = |net: usize| {
            let pins = netlist.nets.get(net).map_or(&[][..], |n| &n.pins);
            let drives = |role: &PinRole| matches!(role, PinRole::Output(_) | PinRole::InOut(_));
            let holds = |role: &PinRole| *role == PinRole::Output(Stage::PushPull);
            let reads = |role: &PinRole| matches!(role, PinRole::Input | PinRole::InOut(_));
            !pins.iter().any(|(.., role)| holds(role))
                && (pins.iter().any(|(.., role)| reads(role)) || !pins.iter().any(|(.., role)| drives(role)))
        };
        // one contact stands for all of its net
        let first = |at: usize, net: usize| of_net.get(&net).and_then(|all| all.first()) == Some(&at);
        let inputs: Vec<usize> = contacts
            .iter()
            .enumerate()
            .filter(|&(at, &(_, net))| first(at, net) && is_input(net))
            .map(|(at, _)| at)
            .collect();
        let mut clocking: BTreeSet<usize> = arcs.samplings.iter().map(|s| s.clock).collect();
        loop {
            let more: Vec<usize> = arcs
                .delays
                .iter()
                .filter(|arc| arc.way == Way::Through && clocking.contains(&arc.to) && !clocking.contains(&arc.from))
                .map(|arc| arc.from)
                .collect();
            if more.is_empty() {
                break;
            }
            clocking.extend(more);
        }
        let reaches = |&at: &usize| contacts.get(at).is_some_and(|(_, net)| clocking.contains(net));
        let clocks = inputs.iter().copied().filter(reaches).collect();
        let timed = Timed::new(netlist, arcs);
        let cells = timed.cells().collect();
        Walk {
            netlist,
            arcs,
            contacts,
            inputs,
            clocks,
            of_net,
            timed,
            cells,
            rounds: Vec::new(),
            seen: BTreeMap::new(),
        }
    }

    fn net(&self, contact: usize) -> usize {
        self.contacts.get(contact).map_or(usize::MAX, |(_, net)| *net)
    }

    /// 64 drawn runs.
    fn draw(&mut self, seed: u64) {
        let mut random = SplitMix::new(seed ^ 0x7169);
        if self.inputs.is_empty() {
            return;
        }
        let outside = self.inputs.iter().map(|&at| (self.net(at), random.word())).collect();
        let mut held = vec![Vec::new(); self.netlist.chips.len()];
        for (chip, names) in &self.cells {
            if let Some(bits) = held.get_mut(*chip) {
                *bits = names.iter().map(|_| random.word()).collect();
            }
        }
        let mut last = [0; 64];
        let mut draw = |walk: &Walk<'_>| {
            let all = last.iter_mut().map(|last| {
                let from = |all: &[usize], random: &mut SplitMix| all.get(random.below(all.len())).copied();
                *last = match random.below(4) {
                    // the same again, so that clocks tick
                    0 => *last,
                    1 if !walk.clocks.is_empty() => from(&walk.clocks, &mut random)?,
                    _ => from(&walk.inputs, &mut random)?,
                };
                Some(*last)
            });
            all.collect::<Vec<Option<usize>>>()
        };
        let events: Vec<_> = (0..EVENTS).map(|_| draw(self)).collect();
        self.play(outside, held, events, FIRST);
    }

    /// Runs from the solver's starts.
    fn follow(&mut self, starts: &[Start]) {
        let label = |walk: &Walk<'_>, label: &str| walk.contacts.iter().position(|(at, _)| at.label == label);
        let mut outside: BTreeMap<usize, u64> = BTreeMap::new();
        let mut held: Vec<Vec<u64>> = vec![Vec::new(); self.netlist.chips.len()];
        for (chip, names) in &self.cells {
            if let Some(bits) = held.get_mut(*chip) {
                *bits = vec![0; names.len()];
            }
        }
        let longest = starts.iter().map(|s| s.events.len()).max().unwrap_or(0);
        let mut events = vec![vec![None; 64]; longest];
        for (lane, start) in starts.iter().enumerate() {
            for (contact, high) in &start.levels {
                // what only the board drives has no level outside
                let first = |at: usize| self.of_net.get(&self.net(at)).and_then(|all| all.first().copied());
                let input = label(self, contact).and_then(first).filter(|at| self.inputs.contains(at));
                let Some(at) = input else { continue };
                *outside.entry(self.net(at)).or_default() |= u64::from(*high) << lane;
            }
            for (chip, name, high) in &start.bits {
                let names = self.cells.iter().find(|(at, _)| at == chip).map(|(_, names)| names);
                let at = names.and_then(|names| names.iter().position(|own| own == name));
                if let Some(word) = at.and_then(|at| held.get_mut(*chip)?.get_mut(at)) {
                    *word |= u64::from(*high) << lane;
                }
            }
            for (slots, (contact, _)) in events.iter_mut().zip(&start.events) {
                if let (Some(slot), Some(at)) = (slots.get_mut(lane), label(self, contact)) {
                    *slot = self.of_net.get(&self.net(at)).and_then(|all| all.first().copied());
                }
            }
        }
        self.play(outside.into_iter().collect(), held, events, 0);
    }

    /// Plays runs and looks at what they show.
    fn play(&mut self, outside: Vec<(usize, u64)>, held: Vec<Vec<u64>>, events: Vec<Vec<Option<usize>>>, first: usize) {
        self.timed.power_up(&outside, &held);
        let (held, loops) = (self.timed.held(), self.timed.loops());
        self.rounds.push(Round { outside, held, loops, events: Vec::new() });
        let (mut before, mut last) = (Event::default(), Event::default());
        for (number, contacts) in events.into_iter().enumerate() {
            if self.timed.lost {
                return;
            }
            let mut toggled: BTreeMap<usize, u64> = BTreeMap::new();
            let moved: Vec<Option<Moved>> = (0u32..)
                .zip(contacts)
                .map(|(lane, at)| {
                    let at = at?;
                    *toggled.entry(self.net(at)).or_default() |= 1 << lane;
                    Some((at, Edge::to(self.timed.outside(self.net(at)) >> lane & 1 == 0)))
                })
                .collect();
            let toggled: Vec<(usize, u64)> = toggled.into_iter().collect();
            self.timed.event(&toggled);
            if let Some(round) = self.rounds.last_mut() {
                round.events.push(moved.clone());
            }
            if self.timed.lost {
                return;
            }
            let (mut log, mut samples) = (std::mem::take(&mut self.timed.log), std::mem::take(&mut self.timed.samples));
            // of what nobody knows no run is kept
            log.iter_mut().for_each(|change| change.lanes &= !self.timed.open);
            samples.iter_mut().for_each(|sample| sample.lanes &= !self.timed.open);
            let mut by_net: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
            for (at, change) in log.iter().enumerate() {
                by_net.entry(change.net).or_default().push(at);
            }
            let now = Event { moved, log, samples, by_net };
            if number >= first {
                self.outputs(&now, number);
                self.samples(&before, &last, &now, number);
                self.holds(&last, &now, number);
            }
            before = std::mem::replace(&mut last, now);
        }
    }

    /// Whether this is longer than what was seen; nothing is asked to be remembered before a path is there for it.
    fn is_longer(&self, about: &About, ps: Picoseconds) -> bool {
        self.seen.get(about).is_none_or(|seen| ps > seen.ps)
    }

    fn take(&mut self, about: About, ps: Picoseconds, time: Time, lane: u32, event: usize) {
        let round = self.rounds.len() - 1;
        self.seen.insert(about, Seen { ps, time, round, lane, event });
    }

    /// What contacts show after an event.
    fn outputs(&mut self, now: &Event, number: usize) {
        for change in &now.log {
            let Some(targets) = self.of_net.get(&change.net).cloned() else { continue };
            let [was_driven, driven] = change.driven;
            let [was, is] = change.level;
            let kinds = [
                (Kind::Propagation, Edge::Rise, was_driven & driven & !was & is & !change.clocked),
                (Kind::Propagation, Edge::Fall, was_driven & driven & was & !is & !change.clocked),
                (Kind::ClockToOutput, Edge::Rise, was_driven & driven & !was & is & change.clocked),
                (Kind::ClockToOutput, Edge::Fall, was_driven & driven & was & !is & change.clocked),
                (Kind::Enable, Edge::Rise, !was_driven & driven & is),
                (Kind::Enable, Edge::Fall, !was_driven & driven & !is),
                (Kind::Disable, Edge::Rise, was_driven & !driven & was),
                (Kind::Disable, Edge::Fall, was_driven & !driven & !was),
            ];
            for (kind, edge, lanes) in kinds {
                for lane in bits(lanes & change.lanes) {
                    let Some(from) = now.moved(lane).filter(|(at, _)| self.net(*at) != change.net) else { continue };
                    for &to in &targets {
                        let about = (kind, from, (to, edge));
                        if self.is_longer(&about, change.at)
                            && let Some(time) = self.path(now, change.net, lane)
                        {
                            self.take(about, change.at, time, lane, number);
                        }
                    }
                }
            }
        }
    }

    /// What data must precede the edges of an event by.
    fn samples(&mut self, before: &Event, last: &Event, now: &Event, number: usize) {
        for sample in &now.samples {
            let Some(s) = self.arcs.samplings.get(sample.sampling) else { continue };
            for lane in bits(sample.lanes) {
                let Some((clock, acts)) = now.moved(lane) else { continue };
                let Some((data, edge)) = last.moved(lane) else { continue };
                let moves = now.changes(s.data, lane).any(|change| change.at <= sample.at);
                if moves || now.only(s.clock, lane).is_none_or(|c| c.at != sample.at) {
                    continue;
                }
                let to = (clock, acts);
                if data != clock {
                    let kind = if s.is_recovery { Kind::Recovery } else { Kind::Setup };
                    self.precedes((kind, (data, edge), to), s, last, (now, lane), 0, number);
                } else if last.has_changed(s.data, lane) {
                    self.precedes((Kind::Period, (data, edge), to), s, last, (now, lane), sample.at, number);
                } else if before.moved(lane) == Some(to) {
                    self.precedes((Kind::Period, to, to), s, before, (now, lane), sample.at, number);
                }
            }
        }
    }

    /// A change of data in an earlier event, and an edge of now that takes it up, `late` after its contact's.
    fn precedes(
        &mut self,
        about: About,
        s: &Sampling,
        earlier: &Event,
        (now, lane): (&Event, u32),
        late: Picoseconds,
        number: usize,
    ) {
        let Some(change) = earlier.only(s.data, lane) else { return };
        let edge = Edge::to(change.level[1] >> lane & 1 == 1);
        let is_period = about.0 == Kind::Period;
        if !s.data_edges[edge.index()] || is_period && change.clocked >> lane & 1 == 0 {
            return;
        }
        let setup = s.setup[1].as_ref();
        let ps = change.at + setup.map_or(0, |f| (f.value * 1000.0).round() as Picoseconds) - late;
        // what the data share with the clock can't be slow for the one and fast for the other
        if ps < 0
            || is_period && ps == 0
            || !self.is_longer(&about, ps)
            || !is_period && self.share(earlier, s.data, now, s.clock, lane)
        {
            return;
        }
        let Some(time) = self.path(earlier, s.data, lane) else { return };
        let mut time = after(time, &s.through, s.before(), setup);
        time.ns -= late as f64 / 1000.0;
        self.take(about, ps, time, lane, number);
    }

    /// How long data must stay after an edge of the event before.
    fn holds(&mut self, last: &Event, now: &Event, number: usize) {
        for sample in &last.samples {
            let Some(s) = self.arcs.samplings.get(sample.sampling).filter(|s| !s.is_recovery) else { continue };
            for lane in bits(sample.lanes) {
                let (Some(clock), Some(data)) = (last.moved(lane), now.moved(lane)) else { continue };
                let about = (Kind::Hold, data, clock);
                let hold = s.hold[1].as_ref();
                let ps = sample.at + hold.map_or(0, |f| (f.value * 1000.0).round() as Picoseconds);
                let direct = now.only(s.data, lane).is_some_and(|c| c.clocked >> lane & 1 == 0);
                if data.0 == clock.0 || !direct || last.has_changed(s.data, lane) || !self.is_longer(&about, ps) {
                    continue;
                }
                let arrives = last.only(s.clock, lane).is_some_and(|c| c.at == sample.at);
                if !arrives || self.share(now, s.data, last, s.clock, lane) {
                    continue;
                }
                let Some(time) = self.path(last, s.clock, lane) else { continue };
                self.take(about, ps, after(time, &s.through, "hold time", hold), lane, number);
            }
        }
    }

    /// The arcs by which a change came to a net, the last first; nothing if one on the way changed more than once, if it
    /// turned a bus round, or if nobody knows.
    fn arcs_to(&self, event: &Event, net: usize, lane: u32) -> Option<Vec<(usize, Edge)>> {
        let mut all = Vec::new();
        let mut change = event.only(net, lane)?;
        while let Some(cause) = change.cause {
            let arc = self.arcs.delays.get(cause.arc)?;
            if arc.is_end && !all.is_empty() {
                return None;
            }
            let of = if arc.way == Way::Off { change.level[0] } else { change.level[1] };
            all.push((cause.arc, Edge::to(of >> lane & 1 == 1)));
            change = event.only(arc.from, lane).filter(|c| c.at == cause.when)?;
        }
        (change.at == 0).then_some(all)
    }

    fn path(&self, event: &Event, net: usize, lane: u32) -> Option<Time> {
        let mut time = Time::default();
        for (arc, edge) in self.arcs_to(event, net, lane)?.into_iter().rev() {
            let arc = self.arcs.delays.get(arc)?;
            let figure = arc.sure[edge.index()].as_ref();
            time.path.push(step(&arc.through, figure));
            match figure {
                Some(figure) => time.ns += figure.value,
                None => time.missing.push(format!("no delay of {}", arc.through)),
            }
        }
        Some(time)
    }

    /// Whether two changes came over an arc in common, or nobody knows.
    fn share(&self, a: &Event, to_a: usize, b: &Event, to_b: usize, lane: u32) -> bool {
        match (self.arcs_to(a, to_a, lane), self.arcs_to(b, to_b, lane)) {
            (Some(a), Some(b)) => a.iter().any(|(arc, _)| b.iter().any(|(other, _)| other == arc)),
            _ => true,
        }
    }

    /// One run with its first events, as somebody else can do it again.
    fn run(&self, round: usize, lane: u32, events: usize) -> Run {
        let Some(round) = self.rounds.get(round) else {
            return Run { start: Vec::new(), loops: Vec::new(), levels: Vec::new(), events: Vec::new() };
        };
        let high = |word: u64| word >> lane & 1 == 1;
        let start = self.cells.iter().filter_map(|(chip, names)| {
            let words = round.held.get(*chip)?;
            let bits = names.iter().zip(words).map(|(name, &word)| Put { at: name.clone(), high: high(word) });
            Some(Held { part: self.netlist.chips.get(*chip)?.reference.clone(), bits: bits.collect() })
        });
        let label = |at: usize| self.contacts.get(at).map_or_else(String::new, |(at, _)| at.label.clone());
        let levels = round.outside.iter().filter_map(|&(net, word)| {
            let at = self.of_net.get(&net)?.first()?;
            Some(Put { at: label(*at), high: high(word) })
        });
        let named = |net: usize| self.netlist.nets.get(net).map(|net| net.name.clone());
        let loops = round.loops.iter().filter_map(|&(net, word)| Some(Put { at: named(net)?, high: high(word) }));
        let moved = round.events.iter().take(events).filter_map(|moved| moved.get(lane as usize).copied().flatten());
        let events = moved.map(|(at, edge)| Put { at: label(at), high: edge == Edge::Rise });
        Run {
            start: start.filter(|h| !h.bits.is_empty()).collect(),
            loops: loops.collect(),
            levels: levels.collect(),
            events: events.collect(),
        }
    }
}

/// The runs that are in a word.
fn bits(mut word: u64) -> impl Iterator<Item = u32> {
    std::iter::from_fn(move || {
        let lane = (word != 0).then(|| word.trailing_zeros())?;
        word &= word - 1;
        Some(lane)
    })
}
