//! Event-driven simulation of a board with its sheets' longest delays, 64 runs side by side, each output with one scheduled
//! change (inertial delay): arrival times are observed, not summed.
use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::Edge;
use super::arcs::Arcs;
use super::influence::Way;
use super::level::{Level, Levels};
use super::output::{Output, Pending, in_picoseconds};
use gluewright_kernel::board::{Behaviour, Netlist, PinRole};
use gluewright_kernel::circuit::{Direction, Label, Stage};
use gluewright_kernel::figures::{Figure, OpenInput};
use gluewright_kernel::graph::Graph;
use gluewright_kernel::machine::{Limits, Machine, Point};
use gluewright_kernel::random::SplitMix;

/// The most changes of outputs after one event; a board with more does not come to rest.
const MOST_CHANGES: usize = 4_000;

/// The most rounds until everything is at rest at power-up.
const MOST_ROUNDS: usize = 128;

/// Nothing moves any more.
const REST: Picoseconds = Picoseconds::MAX / 2;

/// Picoseconds: sums of printed figures are exact in them.
pub(super) type Picoseconds = i64;

/// What made an output change.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cause {
    /// The arc's number.
    pub(super) arc: usize,
    /// When its input changed.
    pub(super) when: Picoseconds,
}

/// A net changes in some of the runs.
#[derive(Clone, Debug)]
pub(super) struct Change {
    pub(super) at: Picoseconds,
    pub(super) net: usize,
    pub(super) lanes: u64,
    /// Whether it is driven by the board, before and after, and its level.
    pub(super) driven: [u64; 2],
    pub(super) level: [u64; 2],
    /// Through a register, since the event.
    pub(super) clocked: u64,
    /// Nothing where the event itself changes it, or nobody knows.
    pub(super) cause: Option<Cause>,
}

/// A part loaded or held its data at an edge, and would have done otherwise had one input been different; or an edge came
/// shortly before which a clear must not be released.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    /// The sampling's number.
    pub(super) sampling: usize,
    pub(super) at: Picoseconds,
    pub(super) lanes: u64,
}

struct Chip {
    machine: Machine,
    point: Point<Level>,
    /// Port and net of what it reads.
    inputs: Vec<(usize, usize)>,
    /// Levels of ports that are on no net.
    fixed: Vec<(usize, Level)>,
    outputs: Vec<Output>,
    /// Samplings with the ports of data and clock.
    samplings: Vec<(usize, usize, usize)>,
    /// What changed at its inputs since it was last looked at: port, runs, and whether there is anything new besides.
    changed: Vec<(usize, u64, bool)>,
}

struct Wire {
    readers: Vec<(usize, usize)>,
    drivers: Vec<(usize, usize)>,
    /// What the host puts there, or a resistor.
    outside: u64,
    driven: u64,
    level: u64,
    /// Whether and where it is driven, or its level, depends on what power-up gave: now, and at any time since the event.
    any: u64,
    was_any: u64,
    /// One driver has it high, another low.
    fights: u64,
    clocked: u64,
}

impl Wire {
    fn level(&self) -> Level {
        Level { high: self.level, any: self.any }
    }
}

/// A board under power.
pub(super) struct Timed<'a> {
    arcs: &'a Arcs,
    chips: Vec<Option<Chip>>,
    wires: Vec<Wire>,
    due: BinaryHeap<Reverse<(Picoseconds, usize, usize)>>,
    /// What the last event changed, in order.
    pub(super) log: Vec<Change>,
    pub(super) samples: Vec<Sample>,
    /// It did not come to rest: nothing after that counts.
    pub(super) lost: bool,
    unsure: Vec<u64>,
}

impl<'a> Timed<'a> {
    pub(super) fn new(netlist: &Netlist, arcs: &'a Arcs) -> Self {
        let wire = |net: &gluewright_kernel::board::Net| Wire {
            readers: Vec::new(),
            drivers: Vec::new(),
            outside: if net.pulls.iter().any(|(up, _)| !up) { 0 } else { u64::MAX },
            driven: 0,
            level: 0,
            any: 0,
            was_any: 0,
            fights: 0,
            clocked: 0,
        };
        let mut wires: Vec<Wire> = netlist.nets.iter().map(wire).collect();
        let chips = netlist.chips.iter().enumerate().map(|(at, chip)| {
            if *chip.part.behaviour() != Behaviour::Logic {
                return None;
            }
            let machine = Machine::new(chip.part.circuit());
            let port = |pin: &Label| machine.port(pin);
            let (mut inputs, mut fixed, mut outputs) = (Vec::new(), Vec::new(), Vec::new());
            for (number, contact) in chip.part.circuit().contacts().iter().enumerate() {
                let net = chip.net(&contact.label);
                let rail = net.and_then(|n| netlist.nets.get(n)).filter(|n| n.is_rail);
                let on = net.filter(|_| rail.is_none()).and_then(|n| Some((n, wires.get_mut(n)?)));
                if contact.direction != Direction::Input {
                    let stage = chip.part.pin(&contact.label);
                    let pulls = matches!(
                        stage,
                        Some(PinRole::Output(Stage::OpenCollector) | PinRole::InOut(Stage::OpenCollector))
                    );
                    let net = on.as_ref().map(|(n, _)| *n);
                    let own = |pins: &super::arcs::Pins| pins.chip == at && pins.to == contact.label;
                    let its = arcs.delays.iter().enumerate().filter(|(_, a)| a.pins.as_ref().is_some_and(own));
                    let its = its.filter_map(|(i, a)| Some((i, port(&a.pins.as_ref()?.from)?)));
                    if let Some(net) = net {
                        let (arcs, pending) = (its.collect(), Vec::new());
                        outputs.push(Output { port: number, net, pulls, arcs, drive: 0, level: 0, any: 0, pending });
                    }
                }
                match (on, rail) {
                    (Some((net, wire)), _) => {
                        if contact.direction != Direction::Output {
                            inputs.push((number, net));
                            wire.readers.push((at, number));
                        }
                        if contact.direction != Direction::Input {
                            wire.drivers.push((at, outputs.len() - 1));
                        }
                    }
                    (None, rail) => {
                        let high = rail.map_or(chip.part.open_inputs() != OpenInput::Low, |rail| rail.rail_is_high);
                        fixed.push((number, Level::sure(if high { u64::MAX } else { 0 })));
                    }
                }
            }
            let own = arcs.samplings.iter().enumerate().filter_map(|(i, s)| {
                let pins = s.pins.as_ref().filter(|pins| pins.chip == at)?;
                Some((i, port(&pins.from)?, port(&pins.to)?))
            });
            let samplings = own.collect();
            let point = machine.point(&mut Levels, &[], &[]);
            Some(Chip { machine, point, inputs, fixed, outputs, samplings, changed: Vec::new() })
        });
        let chips = chips.collect();
        Timed {
            arcs,
            chips,
            wires,
            due: BinaryHeap::new(),
            log: Vec::new(),
            samples: Vec::new(),
            lost: false,
            unsure: Vec::new(),
        }
    }

    /// The names of what the parts hold: part by position, names.
    pub(super) fn cells(&self) -> impl Iterator<Item = (usize, Vec<String>)> {
        let named = |chip: &Chip| chip.machine.cells().iter().map(|c| c.name.clone()).collect();
        self.chips.iter().enumerate().filter_map(move |(at, chip)| Some((at, named(chip.as_ref()?))))
    }

    /// Puts it under power with these levels outside, by net, and these bits in the parts.
    pub(super) fn power_up(&mut self, outside: &[(usize, u64)], held: &[Vec<Level>]) {
        for &(net, word) in outside {
            if let Some(wire) = self.wires.get_mut(net) {
                wire.outside = word;
            }
        }
        self.due.clear();
        self.lost = false;
        // nothing is sure of what the board drives before the parts say so
        self.wires.iter_mut().for_each(|wire| wire.any = if wire.drivers.is_empty() { 0 } else { u64::MAX });
        // parts and nets in turn, until nothing changes: no edge counts before everything is at rest
        let mut random = SplitMix::new(0x5e77);
        for round in 0..MOST_ROUNDS {
            for at in 0..self.chips.len() {
                let levels: Vec<Level> = self.wires.iter().map(Wire::level).collect();
                let Some(Some(chip)) = self.chips.get_mut(at) else { continue };
                let mut all = vec![Level::default(); chip.machine.ports().len()];
                let read = chip.inputs.iter().map(|&(port, net)| (port, levels.get(net).copied().unwrap_or_default()));
                for (port, word) in read.chain(chip.fixed.iter().copied()) {
                    if let Some(slot) = all.get_mut(port) {
                        *slot = word;
                    }
                }
                let mut lanes = Levels;
                let cells = held.get(at).map_or(&[][..], |h| h);
                let point = chip.machine.point(&mut lanes, &all, cells);
                let limits = Limits::ample(&chip.machine);
                chip.point = chip.machine.rest(&mut lanes, &point, limits).point;
                chip.changed.clear();
                for output in &mut chip.outputs {
                    (output.drive, output.level, output.any) = output.shown(&chip.machine, &chip.point);
                    output.pending.clear();
                }
            }
            let mut moved = false;
            for net in 0..self.wires.len() {
                let (driven, level, any, fights) = self.resolve(net);
                // gates that race settle when one of them is late
                let follows = if round < MOST_ROUNDS / 4 { u64::MAX } else { random.word() };
                if let Some(wire) = self.wires.get_mut(net) {
                    moved |= (wire.driven, wire.level, wire.any) != (driven, level, any);
                    wire.driven = (wire.driven & !follows) | (driven & follows);
                    wire.level = (wire.level & !follows) | (level & follows);
                    wire.any = (wire.any & !follows) | (any & follows);
                    wire.fights = fights;
                }
            }
            if !moved {
                return;
            }
        }
        self.lost = true;
    }

    /// What the parts hold, by position.
    pub(super) fn held(&self) -> Vec<Vec<Level>> {
        let of = |chip: &Option<Chip>| chip.as_ref().map_or_else(Vec::new, |c| c.machine.held(&c.point));
        self.chips.iter().map(of).collect()
    }

    /// The nets in loops of gates, with their levels.
    pub(super) fn loops(&self) -> Vec<(usize, u64)> {
        let mut leads = vec![Vec::new(); self.wires.len()];
        for arc in self.arcs.delays.iter().filter(|arc| arc.way != Way::Clocked) {
            if let Some(leads) = leads.get_mut(arc.from) {
                leads.push(arc.to);
            }
        }
        let nets = Graph::new(leads).cycles().into_iter().flatten();
        nets.filter_map(|net| Some((net, self.wires.get(net)?.level))).collect()
    }

    /// What the host puts there.
    pub(super) fn outside(&self, net: usize) -> u64 {
        self.wires.get(net).map_or(0, |w| w.outside)
    }

    /// The runs in which a net depended on what power-up gave, at any time of the last event.
    pub(super) fn unsure(&self) -> Vec<u64> {
        self.unsure.clone()
    }

    /// Whether a net is driven, its level, whether that depends on power-up, and whether its drivers disagree on it; low is
    /// taken then.
    fn resolve(&self, net: usize) -> (u64, u64, u64, u64) {
        let Some(wire) = self.wires.get(net) else { return (0, 0, 0, 0) };
        let (mut high, mut low, mut holds) = (0, 0, 0);
        let (mut any, mut may_pull, mut pulled) = (0, 0, 0);
        for &(chip, output) in &wire.drivers {
            let output = self.chips.get(chip).and_then(Option::as_ref).and_then(|c| c.outputs.get(output));
            let Some(output) = output else { continue };
            low |= output.drive & !output.level;
            pulled |= output.drive & !output.level & !output.any;
            // an output that only pulls low lets go to a high level
            if output.pulls {
                holds |= output.drive;
                may_pull |= output.any;
            } else {
                high |= output.drive & output.level;
                any |= output.any;
            }
        }
        let driven = high | low | holds;
        // no sheet says what a net is on which drivers disagree
        let fights = high & low;
        (driven, !low & (high | wire.outside), any | (may_pull & !pulled) | fights, fights)
    }

    /// These contacts' nets change, each in these runs; the board comes to rest.
    pub(super) fn event(&mut self, toggled: &[(usize, u64)]) {
        self.log.clear();
        self.samples.clear();
        self.wires.iter_mut().for_each(|w| (w.clocked, w.was_any) = (0, w.any));
        for &(net, lanes) in toggled {
            if let Some(wire) = self.wires.get_mut(net) {
                wire.outside ^= lanes;
            }
            self.touch(net, 0, None, 0);
        }
        self.look(0);
        while let Some(&Reverse((now, ..))) = self.due.peek() {
            if self.log.len() > MOST_CHANGES {
                self.lost = true;
                self.due.clear();
                return;
            }
            while let Some(&Reverse((at, chip, output))) = self.due.peek()
                && at == now
            {
                self.due.pop();
                self.arrive(now, chip, output);
            }
            self.look(now);
        }
        self.unsure = self.wires.iter().map(|wire| wire.was_any).collect();
        self.come_to_rest();
    }

    /// Everything is at rest again: only what the parts show now depends on power-up.
    fn come_to_rest(&mut self) {
        for _ in 0..MOST_ROUNDS {
            let mut moved = Vec::new();
            for chip in self.chips.iter_mut().flatten() {
                for output in &mut chip.outputs {
                    let any = output.shown(&chip.machine, &chip.point).2;
                    if std::mem::replace(&mut output.any, any) != any {
                        moved.push(output.net);
                    }
                }
            }
            if moved.is_empty() {
                return;
            }
            moved.into_iter().for_each(|net| self.touch(net, REST, None, 0));
            self.look(REST);
        }
        self.lost = true;
    }

    /// A scheduled change arrives.
    fn arrive(&mut self, now: Picoseconds, chip: usize, output: usize) {
        let its = self.chips.get_mut(chip).and_then(Option::as_mut).and_then(|c| c.outputs.get_mut(output));
        let Some(its) = its else { return };
        let (ripe, rest) = std::mem::take(&mut its.pending).into_iter().partition(|p| p.at <= now);
        its.pending = rest;
        let net = its.net;
        for p in Vec::<Pending>::from_iter::<Vec<_>>(ripe) {
            let its = self.chips.get_mut(chip).and_then(Option::as_mut).and_then(|c| c.outputs.get_mut(output));
            if let Some(its) = its {
                its.drive = (its.drive & !p.lanes) | (p.drive & p.lanes);
                its.level = (its.level & !p.lanes) | (p.level & p.lanes);
            }
            self.touch(net, now, p.cause, p.clocked);
        }
    }

    /// A net may have changed.
    fn touch(&mut self, net: usize, at: Picoseconds, cause: Option<Cause>, clocked: u64) {
        let (driven, level, any, fights) = self.resolve(net);
        let Some(wire) = self.wires.get_mut(net) else { return };
        let (was_driven, was) = (wire.driven, wire.level);
        // nobody knows when a net takes its level on which drivers disagree
        let disagree = std::mem::replace(&mut wire.fights, fights) | fights;
        let lanes = (was_driven ^ driven) | (was ^ level);
        let is_news = std::mem::replace(&mut wire.any, any) != any;
        wire.was_any |= any;
        if lanes == 0 && !is_news {
            return;
        }
        (wire.driven, wire.level) = (driven, level);
        wire.clocked = (wire.clocked & !lanes) | (clocked & lanes);
        let clocked = wire.clocked;
        for (lanes, cause) in [(lanes & !disagree, cause), (lanes & disagree, None)] {
            if lanes != 0 {
                self.log.push(Change {
                    at,
                    net,
                    lanes,
                    driven: [was_driven, driven],
                    level: [was, level],
                    clocked,
                    cause,
                });
            }
        }
        if was == level && !is_news {
            return;
        }
        for &(chip, port) in &wire.readers {
            let Some(Some(chip)) = self.chips.get_mut(chip) else { continue };
            match chip.changed.iter_mut().find(|(p, ..)| *p == port) {
                Some((_, lanes, news)) => (*lanes, *news) = (*lanes ^ was ^ level, *news | is_news),
                None => chip.changed.push((port, was ^ level, is_news)),
            }
        }
    }

    /// All parts whose inputs changed, until none is left.
    fn look(&mut self, now: Picoseconds) {
        while self.look_once(now) {}
    }

    /// Each part whose inputs changed; returns whether what depends on power-up became more by that.
    fn look_once(&mut self, now: Picoseconds) -> bool {
        let mut spread = Vec::new();
        for at in 0..self.chips.len() {
            let levels = |chip: &Chip, wires: &[Wire]| -> Vec<(usize, Level)> {
                let port = |port: usize| chip.inputs.iter().find(|(p, _)| *p == port);
                let net = |p: usize| port(p).and_then(|&(_, net)| wires.get(net)).map_or(Level::default(), Wire::level);
                chip.changed.iter().map(|&(p, ..)| (p, net(p))).collect()
            };
            let Some(Some(chip)) = self.chips.get_mut(at) else { continue };
            chip.changed.retain(|&(_, lanes, is_news)| lanes != 0 || is_news);
            if chip.changed.is_empty() {
                continue;
            }
            let change = levels(chip, &self.wires);
            let changed = std::mem::take(&mut chip.changed);
            let limits = Limits::ample(&chip.machine);
            let mut algebra = Levels;
            let mut point = chip.machine.step(&mut algebra, &chip.point, &change, limits).point;
            let step = |point: &Point<Level>, change: &[(usize, Level)]| {
                chip.machine.step(&mut Levels, point, change, limits).point
            };
            // where no sheet says what a bit becomes, it may be either
            let mut spoilt = vec![0; chip.machine.cells().len()];
            for &(sampling, data, clock) in &chip.samplings {
                let Some(s) = self.arcs.samplings.get(sampling) else { continue };
                let of = |port: usize| changed.iter().find(|(p, ..)| *p == port).map_or(0, |&(_, lanes, _)| lanes);
                let within = |at: Picoseconds, figure: &Option<Figure>| at == now || at > now - in_picoseconds(figure);
                // data that change again before they may
                let held = self.samples.iter().filter(|x| x.sampling == sampling && within(x.at, &s.hold[0]));
                let torn = held.fold(0, |all, x| all | x.lanes & of(data));
                spoilt.iter_mut().for_each(|lanes| *lanes |= torn);
                let lanes = of(clock);
                let high = change.iter().find(|(p, _)| *p == clock).map_or(0, |&(_, level)| level.high);
                let acts = Edge::BOTH.into_iter().zip(s.clock_edges).filter(|(_, acts)| *acts);
                let acts = acts.fold(0, |all, (e, _)| all | if e == Edge::Rise { high } else { !high });
                if lanes & acts == 0 {
                    continue;
                }
                let outside = chip.machine.outside(&chip.point);
                let was = outside.get(data).copied().unwrap_or_default();
                let other = step(&chip.point, &[(data, Level { high: !was.high, ..was })]);
                let rest: Vec<_> = change.iter().copied().filter(|(port, _)| *port != data).collect();
                let other = step(&other, &rest);
                let [is, would] = [&point, &other].map(|p| chip.machine.held(p));
                // and data that come too late
                let late = self.log.iter().rev().take_while(|c| within(c.at, &s.setup[0]));
                let late = late.filter(|c| c.net == s.data).fold(0, |all, c| all | c.lanes & (c.level[0] ^ c.level[1]));
                let mut taken = 0;
                for ((a, b), spoilt) in is.iter().zip(&would).zip(&mut spoilt) {
                    let differs = lanes & acts & (a.high ^ b.high);
                    taken |= differs & !a.any & !b.any;
                    *spoilt |= late & differs;
                }
                // the sheet asks for recovery at every edge, and for setup and hold only where data are loaded
                let unsure =
                    [s.data, s.clock].iter().filter_map(|&net| self.wires.get(net)).fold(0, |all, w| all | w.was_any);
                let matters = if s.is_recovery { lanes & acts } else { taken } & !of(data) & !unsure & !late;
                if matters != 0 {
                    self.samples.push(Sample { sampling, at: now, lanes: matters });
                }
            }
            if spoilt.iter().any(|lanes| *lanes != 0) {
                let held = chip.machine.held(&point).into_iter().zip(&spoilt);
                let held: Vec<Level> = held.map(|(l, spoilt)| Level { any: l.any | spoilt, ..l }).collect();
                point = chip.machine.point(&mut algebra, &chip.machine.outside(&point), &held);
            }
            chip.point = point;
            let edges: Vec<(usize, [u64; 2])> = changed
                .iter()
                .zip(&change)
                .map(|(&(port, lanes, _), &(_, level))| (port, [lanes & level.high, lanes & !level.high]))
                .collect();
            let came = |net: usize| self.wires.get(net).map_or((0, 0), |w| (w.clocked, w.was_any));
            for (number, output) in chip.outputs.iter_mut().enumerate() {
                let (drive, level, any) = output.shown(&chip.machine, &chip.point);
                if any & !output.any != 0 {
                    output.any |= any;
                    spread.push(output.net);
                }
                let due = output.schedule(now, (drive, level), &edges, self.arcs, &came);
                self.due.extend(due.into_iter().map(|time| Reverse((time, at, number))));
            }
        }
        let more = !spread.is_empty();
        spread.into_iter().for_each(|net| self.touch(net, now, None, 0));
        more
    }
}
