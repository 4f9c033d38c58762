//! What one event of 64 runs shows: outputs that change, data that are taken up, with the ways over which that came.
use std::collections::BTreeMap;

use super::arcs::{Sampling, step};
use super::influence::Way;
use super::paths::after;
use super::timed::{Change, Picoseconds, Sample, Timed};
use super::walk::{About, Moved, Walk};
use super::{Edge, Kind, Time};

/// One event of 64 runs.
#[derive(Default)]
pub(super) struct Event {
    /// The contact that changed in each run, and how; nothing in a run that stood still.
    moved: Vec<Option<Moved>>,
    log: Vec<Change>,
    samples: Vec<Sample>,
    /// The places in the log of each net.
    by_net: BTreeMap<usize, Vec<usize>>,
    /// Of each net, the runs in which it depends on what power-up gave.
    unsure: Vec<u64>,
}

impl Event {
    pub(super) fn new(moved: Vec<Option<Moved>>, timed: &mut Timed<'_>) -> Event {
        let (log, samples) = (std::mem::take(&mut timed.log), std::mem::take(&mut timed.samples));
        let mut by_net: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (at, change) in log.iter().enumerate() {
            by_net.entry(change.net).or_default().push(at);
        }
        Event { moved, log, samples, by_net, unsure: timed.unsure() }
    }

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

    /// The only change of a net in a run; nothing if there are several, or if power-up decides.
    fn only(&self, net: usize, lane: u32) -> Option<&Change> {
        let is_sure = self.unsure.get(net).is_none_or(|lanes| lanes >> lane & 1 == 0);
        let mut all = self.changes(net, lane);
        all.next().filter(|_| is_sure && all.next().is_none())
    }
}

impl Walk<'_> {
    /// What contacts show after an event.
    pub(super) fn outputs(&mut self, now: &Event, number: usize) {
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
                for lane in bits_of_word(lanes & change.lanes) {
                    let Some(from) = now.moved(lane).filter(|(at, _)| self.net(*at) != change.net) else { continue };
                    for &to in &targets {
                        let about = (kind, from, (to, edge));
                        if self.is_longer(&about, lane, change.at)
                            && let Some(time) = self.path(now, change.net, lane)
                        {
                            self.take(about, change.at, time, lane, number);
                        }
                    }
                }
            }
        }
    }

    /// Records how long before the edges of an event data must arrive.
    pub(super) fn samples(&mut self, before: &Event, last: &Event, now: &Event, number: usize) {
        for sample in &now.samples {
            let Some(s) = self.arcs.samplings.get(sample.sampling) else { continue };
            for lane in bits_of_word(sample.lanes) {
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
        // an arc that data and clock share can't be slow for one and fast for the other
        if ps < 0
            || is_period && ps == 0
            || !self.is_longer(&about, lane, ps)
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
    pub(super) fn holds(&mut self, last: &Event, now: &Event, number: usize) {
        for sample in &last.samples {
            let Some(s) = self.arcs.samplings.get(sample.sampling).filter(|s| !s.is_recovery) else { continue };
            for lane in bits_of_word(sample.lanes) {
                let (Some(clock), Some(data)) = (last.moved(lane), now.moved(lane)) else { continue };
                let about = (Kind::Hold, data, clock);
                let hold = s.hold[1].as_ref();
                let ps = sample.at + hold.map_or(0, |f| (f.value * 1000.0).round() as Picoseconds);
                let direct = now.only(s.data, lane).is_some_and(|c| c.clocked >> lane & 1 == 0);
                if data.0 == clock.0 || !direct || last.has_changed(s.data, lane) || !self.is_longer(&about, lane, ps) {
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
}

/// The runs that are in a word.
fn bits_of_word(mut word: u64) -> impl Iterator<Item = u32> {
    std::iter::from_fn(move || {
        let lane = (word != 0).then(|| word.trailing_zeros())?;
        word &= word - 1;
        Some(lane)
    })
}
