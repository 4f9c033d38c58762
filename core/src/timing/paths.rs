//! The longest way from one net to all others over delay arcs; a loop is gone round once.
use std::collections::BTreeSet;

use super::arcs::{Arcs, DelayArc, step};
use super::influence::{Sense, Way};
use super::{Step, Time};
use crate::figures::Figure;

/// A change of a net: which way, and whether it comes out of a register.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) net: usize,
    pub(super) registered: bool,
    pub(super) falls: bool,
}

impl Place {
    fn index(self) -> usize {
        self.net * 4 + usize::from(self.registered) * 2 + usize::from(self.falls)
    }

    /// All changes of a net.
    pub(super) fn of(net: usize) -> [Place; 4] {
        [(false, false), (false, true), (true, false), (true, true)].map(|(registered, falls)| Place {
            net,
            registered,
            falls,
        })
    }
}

/// When a change arrives at the latest.
#[derive(Clone, Debug, Default)]
struct Arrival {
    ns: f64,
    /// The arc over which, and from where.
    last: Option<(usize, Place)>,
    /// Arcs without a figure on any way here, a few of them.
    missing: BTreeSet<usize>,
}

/// The arcs that leave each net.
pub(super) struct Graph<'a> {
    arcs: &'a Arcs,
    leaving: Vec<Vec<usize>>,
    nets: usize,
}

/// More names than this help nobody.
const MOST_MISSING: usize = 6;

impl DelayArc {
    /// Where a change at its input leads, with the figure for that.
    pub(super) fn stretches(&self, at: Place) -> impl Iterator<Item = (Place, Option<&Figure>)> {
        let registered = at.registered || self.way == Way::Clocked;
        let follows = move |falls: bool| match (self.way, self.sense) {
            (Way::Clocked | Way::Enabled, _) | (_, Sense::Either) => true,
            (Way::Through, Sense::Same) => falls == at.falls,
            (Way::Through, Sense::Opposite) => falls != at.falls,
        };
        let possible = |falls: bool| self.only.is_none_or(|rises| rises != falls);
        let changes = [(false, &self.rise), (true, &self.fall)].into_iter().filter(move |&(falls, _)| possible(falls));
        let there = move |falls| Place { net: self.to, registered, falls };
        changes.filter(move |&(falls, _)| follows(falls)).map(move |(falls, f)| (there(falls), f.as_ref()))
    }
}

impl<'a> Graph<'a> {
    pub(super) fn new(arcs: &'a Arcs, nets: usize) -> Self {
        let mut leaving = vec![Vec::new(); nets];
        for (i, arc) in arcs.delays.iter().enumerate() {
            if let Some(from) = leaving.get_mut(arc.from) {
                from.push(i);
            }
        }
        Graph { arcs, leaving, nets }
    }

    fn next(&self, at: Place) -> Vec<(usize, Place, Option<&'a Figure>)> {
        let leaving = self.leaving.get(at.net).map_or(&[][..], |l| l);
        let with_arcs = leaving.iter().filter_map(|&i| Some((i, self.arcs.delays.get(i)?)));
        let with_arcs = with_arcs.filter(|(_, arc)| !arc.is_end);
        with_arcs.flat_map(|(i, arc)| arc.stretches(at).map(move |(p, f)| (i, p, f))).collect()
    }

    /// What changes of a net reach, each before what follows it, but for what closes a loop; and the place of each.
    fn order(&self, net: usize) -> (Vec<Place>, Vec<usize>) {
        let mut seen = vec![false; self.nets * 4];
        let mut finished = Vec::new();
        for root in Place::of(net).into_iter().filter(|p| !p.registered && p.net < self.nets) {
            if std::mem::replace(&mut seen[root.index()], true) {
                continue;
            }
            // depth first, with a stack of its own
            let mut stack = vec![(root, self.next(root))];
            while let Some((at, rest)) = stack.last_mut() {
                let (at, next) = (*at, rest.pop());
                match next {
                    Some((_, next, _)) => {
                        if next.net != net && !std::mem::replace(&mut seen[next.index()], true) {
                            stack.push((next, self.next(next)));
                        }
                    }
                    None => {
                        finished.push(at);
                        stack.pop();
                    }
                }
            }
        }
        finished.reverse();
        let mut position = vec![0; self.nets * 4];
        for (i, place) in finished.iter().enumerate() {
            position[place.index()] = i;
        }
        (finished, position)
    }

    /// The longest ways from a net.
    pub(super) fn from(&self, net: usize) -> Arrivals<'_> {
        let (order, position) = self.order(net);
        let mut all: Vec<Option<Arrival>> = vec![None; self.nets * 4];
        for place in Place::of(net).into_iter().filter(|p| !p.registered && p.net < self.nets) {
            all[place.index()] = Some(Arrival::default());
        }
        let mut closing = BTreeSet::new();
        for at in order {
            let Some(here) = all[at.index()].clone() else { continue };
            for (arc, to, figure) in self.next(at) {
                if to.net == net {
                    continue;
                }
                if position[to.index()] <= position[at.index()] {
                    closing.insert(arc);
                    continue;
                }
                let there = all[to.index()].get_or_insert_with(|| Arrival { ns: -1.0, ..Arrival::default() });
                let ns = here.ns + figure.map_or(0.0, |f| f.value);
                if ns > there.ns {
                    there.ns = ns;
                    there.last = Some((arc, at));
                }
                let unknown = figure.is_none().then_some(arc);
                there.missing.extend(here.missing.iter().copied().chain(unknown));
                while there.missing.len() > MOST_MISSING {
                    there.missing.pop_last();
                }
            }
        }
        Arrivals { graph: self, all, closing }
    }
}

/// When changes of one net arrive everywhere else.
pub(super) struct Arrivals<'g> {
    graph: &'g Graph<'g>,
    all: Vec<Option<Arrival>>,
    closing: BTreeSet<usize>,
}

impl Arrivals<'_> {
    /// The arcs at which a loop was left.
    pub(super) fn loops(&self) -> impl Iterator<Item = &DelayArc> {
        self.closing.iter().filter_map(|&i| self.graph.arcs.delays.get(i))
    }

    /// When a change of this kind arrives at the latest, and over what.
    pub(super) fn at(&self, place: Place) -> Option<Time> {
        let arrival = self.all.get(place.index())?.as_ref()?;
        let mut path: Vec<Step> = Vec::new();
        let mut here = arrival;
        let mut to = place;
        while let Some((arc, from)) = here.last {
            let arc = self.graph.arcs.delays.get(arc)?;
            path.push(step(&arc.through, if to.falls { arc.fall.as_ref() } else { arc.rise.as_ref() }));
            to = from;
            here = self.all.get(from.index())?.as_ref()?;
        }
        path.reverse();
        let missing = arrival.missing.iter().filter_map(|&i| self.graph.arcs.delays.get(i));
        let missing = missing.map(|arc| format!("no delay of {}", arc.through)).collect();
        Some(Time { ns: arrival.ns, path, missing })
    }

    /// The latest of several kinds of change; what is missing for one is missing.
    pub(super) fn latest(&self, places: impl IntoIterator<Item = Place>) -> Option<Time> {
        places.into_iter().filter_map(|p| self.at(p)).reduce(|a, b| {
            let (mut later, other) = if b.ns > a.ns { (b, a) } else { (a, b) };
            later.missing.extend(other.missing);
            later.missing.sort();
            later.missing.dedup();
            later
        })
    }
}

/// A time and one stretch more.
pub(super) fn after(mut time: Time, through: &str, what: &str, figure: Option<&Figure>) -> Time {
    time.path.push(step(through, figure));
    match figure {
        Some(figure) => time.ns += figure.value,
        None => time.missing.push(format!("no {what} of {through}")),
    }
    time
}
