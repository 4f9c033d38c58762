//! What runs of an original show: drawn runs first, then runs to what the solver says is there; of each row the longest time
//! that shows whatever registers came up as.
use std::collections::{BTreeMap, BTreeSet};

use super::arcs::Arcs;
use super::ask::{Asked, Questions, Start, Wanted};
use super::find_state::{Goal, Standing};
use super::influence::Way;
use super::level::Level;
use super::look::Event;
use super::original::contacts;
use super::timed::{Picoseconds, Timed};
use super::witness::{Held, Put, Run, Witness};
use super::{At, Edge, Kind, Row, Time, Timing};
use gluewright_kernel::board::{Board, Netlist, PinRole};
use gluewright_kernel::circuit::Stage;
use gluewright_kernel::random::SplitMix;

/// Batches of 64 drawn runs; events per run.
const ROUNDS: u64 = 3;
const EVENTS: usize = 60;

/// The most contacts that move for a while, and the most changes that this lasts.
const FEW: usize = 3;
const WHILE: usize = 16;

/// Number of runs that are tried towards each state that the solver asks for.
const TRIES: usize = 32;

/// The most bits that no input can set and that are simulated from both levels.
const MOST_FREE: usize = 6;

/// A change of a contact, by its number.
pub(super) type Moved = (usize, Edge);

/// What a row is about.
pub(super) type About = (Kind, Moved, Moved);

/// A place in a run: the round, the run's lane, the event.
type Place = (usize, u32, usize);

/// A bit of a part: the part by position, the bit by its place in it.
type Bit = (usize, usize);

/// A time that was seen.
pub(super) struct Seen {
    pub(super) ps: Picoseconds,
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
        walk.draw(round);
        // what no event brings to a level is followed from both
        if round == 0 {
            walk.free = walk.never_sure();
        }
    }
    let about = |walk: &Walk<'_>, row: &Row| {
        let at = |at: &At| walk.contacts.iter().position(|(own, _)| own == at);
        Some((row.kind, (at(&row.from)?, row.from_edge?), (at(&row.to)?, row.to_edge?)))
    };
    let mut questions = Questions::new(board, netlist);
    let (mut never, mut starts) = (BTreeSet::new(), Vec::new());
    for row in &bound.rows {
        let Some(about) = about(&walk, row).filter(|about| walk.shown(about).is_none()) else { continue };
        match questions.as_mut().map_or(Asked::NotKnown, |q| q.ask(row)) {
            Asked::Never => {
                never.insert(about);
            }
            Asked::Start(start) => starts.push((about, start)),
            Asked::NotKnown => {}
        }
    }
    let from_power_up = walk.follow(&starts);
    starts.retain(|(about, _)| from_power_up.contains(about));
    questions.iter().for_each(|questions| walk.reach(questions, &starts));
    let mut timing = Timing { of: bound.of, notes: bound.notes, gap: bound.gap, ..Timing::default() };
    let mut runs = Runs::default();
    for row in bound.rows {
        let Some(about) = about(&walk, &row) else {
            timing.rows.push(row);
            continue;
        };
        if walk.shown(&about).is_none() && !never.contains(&about) {
            let most = row.time.ns;
            let why = match from_power_up.contains(&about) {
                true => "it shows only from a state that power-up may give, and no run to that was found",
                false => "no run was found that shows it",
            };
            let missing = vec![format!("{why}; the longest path would be {most} ns")];
            timing.rows.push(Row { time: Time { missing, ..Time::default() }, ..row });
        }
    }
    for about in walk.seen.keys().map(|(about, _)| about).collect::<BTreeSet<_>>() {
        let (kind, (from, from_edge), (to, to_edge)) = about;
        let Some(seen) = walk.shown(about) else { continue };
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

/// What 64 runs begin with.
struct Round {
    outside: Vec<(usize, u64)>,
    held: Vec<Vec<Level>>,
    /// Nets in loops of gates.
    loops: Vec<(usize, u64)>,
    /// What changes in each run, event by event, and what the parts hold after it.
    events: Vec<(Vec<Option<Moved>>, Vec<Vec<Level>>)>,
}

/// Draws changes: for a while either a few contacts change and the others stay, as on a board at work, or all change.
#[derive(Default)]
struct Draw {
    last: Option<usize>,
    moving: Vec<usize>,
    left: usize,
}

impl Draw {
    fn next(&mut self, walk: &Walk<'_>, random: &mut SplitMix) -> Option<usize> {
        let from = |all: &[usize], random: &mut SplitMix| all.get(random.below(all.len().max(1))).copied();
        if self.left == 0 {
            self.left = 1 + random.below(WHILE);
            self.moving = match random.below(2) {
                0 => walk.inputs.clone(),
                _ => (0..=random.below(FEW)).filter_map(|_| from(&walk.inputs, random)).collect(),
            };
        }
        self.left -= 1;
        self.last = match random.below(4) {
            // the same again, so that clocks tick
            0 if self.last.is_some() => self.last,
            1 if !walk.clocks.is_empty() => from(&walk.clocks, random),
            _ => from(&self.moving, random),
        };
        self.last
    }
}

pub(super) struct Walk<'a> {
    netlist: &'a Netlist,
    pub(super) arcs: &'a Arcs,
    contacts: Vec<(At, usize)>,
    /// The contacts that the host may change, and those of them that reach a clock.
    inputs: Vec<usize>,
    clocks: Vec<usize>,
    /// The contacts of each net.
    pub(super) of_net: BTreeMap<usize, Vec<usize>>,
    timed: Timed<'a>,
    cells: Vec<(usize, Vec<String>)>,
    rounds: Vec<Round>,
    /// Bits that are followed from both levels: a run is one of as many as there are ways to begin.
    free: Vec<Bit>,
    /// What was seen, by the initial levels of the free bits; nothing where these make no difference.
    seen: BTreeMap<(About, Option<u32>), Seen>,
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
            free: Vec::new(),
            seen: BTreeMap::new(),
        }
    }

    pub(super) fn net(&self, contact: usize) -> usize {
        self.contacts.get(contact).map_or(usize::MAX, |(_, net)| *net)
    }

    /// 64 drawn runs.
    fn draw(&mut self, seed: u64) {
        let mut random = SplitMix::new(seed ^ 0x7169);
        if self.inputs.is_empty() {
            return;
        }
        let outside = self.inputs.iter().map(|&at| (self.net(at), random.word())).collect();
        let held = self.held(|walk, bit| {
            let any = Level { high: random.word(), any: u64::MAX };
            walk.beginning_of(bit).unwrap_or(any)
        });
        let mut draws: Vec<Draw> = (0..64).map(|_| Draw::default()).collect();
        let mut event = || draws.iter_mut().map(|draw| draw.next(self, &mut random)).collect();
        let events: Vec<Vec<Option<usize>>> = (0..EVENTS).map(|_| event()).collect();
        self.play(outside, held, events);
    }

    /// What all bits of the parts begin with.
    fn held(&self, mut bit: impl FnMut(&Self, Bit) -> Level) -> Vec<Vec<Level>> {
        let mut held = vec![Vec::new(); self.netlist.chips.len()];
        for (chip, names) in &self.cells {
            if let Some(bits) = held.get_mut(*chip) {
                *bits = (0..names.len()).map(|at| bit(self, (*chip, at))).collect();
            }
        }
        held
    }

    /// The bits that depend on what power-up gave at the end of every run so far; none if they are too many.
    fn never_sure(&self) -> Vec<Bit> {
        let is_sure = |(chip, at): Bit| {
            let of = |held: &Vec<Vec<Level>>| held.get(chip)?.get(at).map(|level| level.any);
            let mut ends = self.rounds.iter().filter_map(|round| round.events.last());
            ends.any(|(_, held)| of(held).is_some_and(|any| any != u64::MAX))
        };
        let all = self.cells.iter().flat_map(|(chip, names)| (0..names.len()).map(move |at| (*chip, at)));
        let free: Vec<Bit> = all.filter(|bit| !is_sure(*bit)).collect();
        if free.len() > MOST_FREE { Vec::new() } else { free }
    }

    /// How the free bits began in a run.
    fn beginning(&self, lane: u32) -> Option<u32> {
        (!self.free.is_empty()).then(|| lane & ((1 << self.free.len()) - 1))
    }

    /// What a free bit begins with in each run.
    fn beginning_of(&self, bit: Bit) -> Option<Level> {
        let at = self.free.iter().position(|free| *free == bit)?;
        Some(Level::sure((0..64).filter(|lane| lane >> at & 1 == 1).fold(0, |all, lane| all | 1 << lane)))
    }

    /// Whether this is longer than what was seen before, so that its path is worth finding.
    pub(super) fn is_longer(&self, about: &About, lane: u32, ps: Picoseconds) -> bool {
        self.seen.get(&(*about, self.beginning(lane))).is_none_or(|seen| ps > seen.ps)
    }

    pub(super) fn take(&mut self, about: About, ps: Picoseconds, time: Time, lane: u32, event: usize) {
        let round = self.rounds.len() - 1;
        self.seen.insert((about, self.beginning(lane)), Seen { ps, time, round, lane, event });
    }

    /// What is shown of a row, however the registers came up: of the ways to begin the one that shows least.
    fn shown(&self, about: &About) -> Option<&Seen> {
        let each = (0..1 << self.free.len()).map(|began| self.seen.get(&(*about, Some(began))));
        let all: Option<Vec<&Seen>> = each.collect();
        let least = all.and_then(|all| all.into_iter().min_by_key(|seen| seen.ps));
        self.seen.get(&(*about, None)).into_iter().chain(least).max_by_key(|seen| seen.ps)
    }

    /// The contact that stands for all of the net of this one.
    fn first_of(&self, label: &str) -> Option<usize> {
        let at = self.contacts.iter().position(|(at, _)| at.label == label)?;
        self.of_net.get(&self.net(at))?.first().copied()
    }

    /// The levels outside that a start asks for, by contact.
    fn asked(&self, start: &Start) -> Vec<(usize, Wanted)> {
        let levels = start.levels.iter().filter_map(|(label, wanted)| Some((self.first_of(label)?, *wanted)));
        // what only the board drives has no level outside
        levels.filter(|(at, _)| self.inputs.contains(at)).collect()
    }

    /// The bits that a start asks for.
    fn bits_of(&self, start: &Start) -> Vec<(Bit, Wanted)> {
        let bit = |((chip, name), wanted): &((usize, String), Wanted)| {
            let (_, names) = self.cells.iter().find(|(at, _)| at == chip)?;
            Some(((*chip, names.iter().position(|own| own == name)?), *wanted))
        };
        start.bits.iter().filter_map(bit).collect()
    }

    /// The contacts that change after a start.
    fn events_of(&self, start: &Start) -> Vec<usize> {
        start.events.iter().filter_map(|label| self.first_of(label)).collect()
    }

    /// Runs from these states, as if power-up gave them; returns which rows they show.
    fn follow(&mut self, starts: &[(About, Start)]) -> BTreeSet<About> {
        let (seen, free) = (std::mem::take(&mut self.seen), std::mem::take(&mut self.free));
        let rounds = self.rounds.len();
        for some in starts.chunks(64) {
            let mut outside: BTreeMap<usize, u64> = BTreeMap::new();
            let mut held = self.held(|_, _| Level::default());
            for (lane, (_, start)) in some.iter().enumerate() {
                for (at, wanted) in self.asked(start) {
                    *outside.entry(self.net(at)).or_default() |= u64::from(wanted.high) << lane;
                }
                for ((chip, at), wanted) in self.bits_of(start) {
                    if let Some(level) = held.get_mut(chip).and_then(|bits| bits.get_mut(at)) {
                        level.high |= u64::from(wanted.high) << lane;
                    }
                }
            }
            let events: Vec<Vec<usize>> = some.iter().map(|(_, start)| self.events_of(start)).collect();
            self.play(outside.into_iter().collect(), held, side_by_side(&events));
        }
        self.rounds.truncate(rounds);
        self.free = free;
        std::mem::replace(&mut self.seen, seen).into_keys().map(|(about, _)| about).collect()
    }

    /// Runs to states that agree with the solver's starts, however the free bits begin: to the bits that count as the settled
    /// board goes, then the levels outside are put right one by one, and what is asked for is done.
    fn reach(&mut self, questions: &Questions, starts: &[(About, Start)]) {
        let mut random = SplitMix::new(0x7265);
        let mut wanted: Vec<Vec<(usize, u32, Vec<usize>)>> = Vec::new();
        for began in (0..1u32 << self.free.len()).take_while(|_| !starts.is_empty()) {
            let Some((place, standing)) = self.surest(began).and_then(|place| Some((place, self.standing(place)?)))
            else {
                return;
            };
            let counts = |bits: &[((usize, String), Wanted)]| -> Goal {
                bits.iter().filter(|(_, w)| w.counts).map(|(bit, w)| (bit.clone(), w.high)).collect()
            };
            let goals: Vec<Goal> = starts.iter().map(|(_, start)| counts(&start.bits)).collect();
            let mut draws: Vec<Draw> = Vec::new();
            let found = questions.find_state(&standing, &goals, |lane, is_first| {
                if is_first && lane == 0 {
                    draws = (0..64).map(|_| Draw::default()).collect();
                }
                let at = draws.get_mut(lane as usize)?.next(self, &mut random)?;
                Some(self.contacts.get(at)?.0.label.clone())
            });
            let before = self.moved_before(place);
            let mut own = Vec::new();
            for ((_, start), found) in starts.iter().zip(&found) {
                // the same number for every start, so that each combination of free bits keeps its place
                for at in 0..TRIES {
                    let on = found.get(at % found.len().max(1)).map_or(&[][..], |run| run);
                    let mut events = before.clone();
                    events.extend(on.iter().filter_map(|label| self.first_of(label)));
                    own.push((place.0, place.1, self.on_to(start, place, events, &mut random)));
                }
            }
            wanted.push(own);
        }
        let tries = wanted.first().map_or(0, Vec::len);
        let all: Vec<_> = (0..tries).flat_map(|at| wanted.iter().filter_map(move |own| own.get(at).cloned())).collect();
        for some in all.chunks(64) {
            self.run_on(some);
        }
    }

    /// Changes that bring the levels outside to a start's, after these, and what follows that.
    fn on_to(&self, start: &Start, place: Place, mut events: Vec<usize>, random: &mut SplitMix) -> Vec<usize> {
        let asked = self.asked(start).into_iter().filter(|(_, wanted)| wanted.counts);
        let stands = |at: usize| self.began_high(place, at) ^ (events.iter().filter(|e| **e == at).count() % 2 == 1);
        let mut change: Vec<usize> = asked.filter(|&(at, w)| stands(at) != w.high).map(|(at, _)| at).collect();
        while !change.is_empty() {
            events.push(change.swap_remove(random.below(change.len())));
        }
        events.extend(self.events_of(start));
        events
    }

    /// Whether the run of a place began with a contact high.
    fn began_high(&self, (number, lane, _): Place, at: usize) -> bool {
        let outside = self.rounds.get(number).map_or(&[][..], |round| &round.outside);
        outside.iter().any(|(net, word)| *net == self.net(at) && word >> lane & 1 == 1)
    }

    /// Where in the drawn runs, of those that began so, the most bits are sure, and after the fewest changes.
    fn surest(&self, began: u32) -> Option<Place> {
        let own = (0..64u32).filter(|lane| lane & ((1 << self.free.len()) - 1) == began);
        let all = self.rounds.iter().enumerate().flat_map(|(number, round)| {
            let events = round.events.iter().enumerate();
            events.map(move |(event, (_, held))| (number, event, held))
        });
        let sure = |held: &Vec<Vec<Level>>, lane: u32| held.iter().flatten().filter(|l| l.any >> lane & 1 == 0).count();
        let of = |(number, event, held): (usize, usize, &Vec<Vec<Level>>)| {
            let best = own.clone().max_by_key(|lane| (sure(held, *lane), 64 - lane))?;
            Some(((sure(held, best), EVENTS.saturating_sub(event)), (number, best, event)))
        };
        all.filter_map(of).max_by_key(|(worth, _)| *worth).map(|(_, place)| place)
    }

    /// How a board stands at a place in a run.
    fn standing(&self, (number, lane, event): Place) -> Option<Standing> {
        let moved = self.moved_before((number, lane, event));
        let levels = self.inputs.iter().map(|&at| {
            let toggled = moved.iter().filter(|moved| **moved == at).count() % 2 == 1;
            let label = self.contacts.get(at).map_or_else(String::new, |(at, _)| at.label.clone());
            (label, self.began_high((number, lane, event), at) ^ toggled)
        });
        let (_, held) = self.rounds.get(number)?.events.get(event)?;
        let bits = self.cells.iter().flat_map(|(chip, names)| {
            let levels = held.get(*chip).map_or(&[][..], |levels| levels);
            names.iter().zip(levels).map(|(name, level)| ((*chip, name.clone()), level.high >> lane & 1 == 1))
        });
        Some(Standing { levels: levels.collect(), bits: bits.collect() })
    }

    /// The contacts that changed in a run up to a place in it.
    fn moved_before(&self, (number, lane, event): Place) -> Vec<usize> {
        let events = self.rounds.get(number).map_or(&[][..], |round| &round.events);
        let moved = events.iter().take(event + 1).filter_map(|(m, _)| m.get(lane as usize).copied().flatten());
        moved.map(|(at, _)| at).collect()
    }

    /// Runs that begin as others did, by round and lane, each with changes of its own.
    fn run_on(&mut self, runs: &[(usize, u32, Vec<usize>)]) {
        let mut outside: BTreeMap<usize, u64> = BTreeMap::new();
        let mut begun = self.held(|_, _| Level { high: 0, any: u64::MAX });
        for (lane, &(number, of, _)) in runs.iter().enumerate() {
            let Some(round) = self.rounds.get(number) else { continue };
            for &(net, word) in &round.outside {
                *outside.entry(net).or_default() |= (word >> of & 1) << lane;
            }
            for (to, from) in begun.iter_mut().flatten().zip(round.held.iter().flatten()) {
                to.high |= (from.high >> of & 1) << lane;
            }
        }
        let held = self.held(|walk, (chip, at)| {
            let begun = begun.get(chip).and_then(|bits| bits.get(at)).copied().unwrap_or_default();
            walk.beginning_of((chip, at)).unwrap_or(begun)
        });
        let events: Vec<Vec<usize>> = runs.iter().map(|(.., events)| events.clone()).collect();
        self.play(outside.into_iter().collect(), held, side_by_side(&events));
    }

    /// Plays runs and looks at what they show.
    fn play(&mut self, outside: Vec<(usize, u64)>, held: Vec<Vec<Level>>, events: Vec<Vec<Option<usize>>>) {
        self.timed.power_up(&outside, &held);
        let loops = self.timed.loops();
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
            if self.timed.lost {
                return;
            }
            if let Some(round) = self.rounds.last_mut() {
                round.events.push((moved.clone(), self.timed.held()));
            }
            let now = Event::new(moved, &mut self.timed);
            self.outputs(&now, number);
            self.samples(&before, &last, &now, number);
            self.holds(&last, &now, number);
            before = std::mem::replace(&mut last, now);
        }
    }

    /// One run with its first events, so that it can be repeated elsewhere.
    fn run(&self, round: usize, lane: u32, events: usize) -> Run {
        let Some(round) = self.rounds.get(round) else {
            return Run { start: Vec::new(), loops: Vec::new(), levels: Vec::new(), events: Vec::new() };
        };
        let high = |word: u64| word >> lane & 1 == 1;
        // what depends on power-up shows in no time: only the bits that are followed from both levels count
        let start = self.cells.iter().filter_map(|(chip, names)| {
            let levels = round.held.get(*chip)?;
            let bits = names.iter().zip(levels).filter(|(_, level)| level.any >> lane & 1 == 0);
            let bits = bits.map(|(name, level)| Put { at: name.clone(), high: high(level.high) });
            Some(Held { part: self.netlist.chips.get(*chip)?.reference.clone(), bits: bits.collect() })
        });
        let label = |at: usize| self.contacts.get(at).map_or_else(String::new, |(at, _)| at.label.clone());
        let levels = round.outside.iter().filter_map(|&(net, word)| {
            let at = self.of_net.get(&net)?.first()?;
            Some(Put { at: label(*at), high: high(word) })
        });
        let named = |net: usize| self.netlist.nets.get(net).map(|net| net.name.clone());
        let loops = round.loops.iter().filter_map(|&(net, word)| Some(Put { at: named(net)?, high: high(word) }));
        let moved =
            round.events.iter().take(events).filter_map(|(moved, _)| moved.get(lane as usize).copied().flatten());
        let events = moved.map(|(at, edge)| Put { at: label(at), high: edge == Edge::Rise });
        Run {
            start: start.filter(|h| !h.bits.is_empty()).collect(),
            loops: loops.collect(),
            levels: levels.collect(),
            events: events.collect(),
        }
    }
}

/// Runs, each by what changes in it, as the changes of each event.
fn side_by_side(runs: &[Vec<usize>]) -> Vec<Vec<Option<usize>>> {
    let longest = runs.iter().map(Vec::len).max().unwrap_or(0);
    (0..longest).map(|event| runs.iter().map(|run| run.get(event).copied()).collect()).collect()
}
