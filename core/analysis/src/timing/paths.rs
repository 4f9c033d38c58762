//! The longest way from one net to all others over delay arcs; no way comes to a net twice.
use std::collections::BTreeSet;
use std::rc::Rc;

use super::arcs::{Arcs, DelayArc, step};
use super::influence::Way;
use super::{Edge, Step, Time};
use gluewright_kernel::figures::Figure;

/// A change of a net: which way, and whether it comes out of a register.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) net: usize,
    pub(super) registered: bool,
    pub(super) edge: Edge,
}

impl Place {
    fn index(self) -> usize {
        self.net * 4 + usize::from(self.registered) * 2 + self.edge.index()
    }

    /// All changes of a net.
    pub(super) fn of(net: usize) -> [Place; 4] {
        let both = |registered| Edge::BOTH.map(|edge| Place { net, registered, edge });
        let ([a, b], [c, d]) = (both(false), both(true));
        [a, b, c, d]
    }
}

/// When a change arrives at the latest.
#[derive(Clone, Debug, Default)]
struct Arrival {
    ns: f64,
    /// The way here; nothing where it begins.
    way: Option<Rc<Leg>>,
    /// Arcs without a figure on any way here, a few of them.
    missing: BTreeSet<usize>,
}

/// The last stretch of a way, and what was before it.
#[derive(Debug)]
struct Leg {
    arc: usize,
    edge: Edge,
    before: Option<Rc<Leg>>,
}

/// The arcs that leave each net.
pub(super) struct Graph<'a> {
    arcs: &'a Arcs,
    leaving: Vec<Vec<usize>>,
    /// The nets in groups, each before those that it leads to; nets of a loop are one group.
    groups: Vec<Vec<usize>>,
    /// The group of each net.
    group: Vec<usize>,
}

/// The most arcs within loops that are followed from one net.
const MOST_STRETCHES: usize = 50_000;

/// More names than this help nobody.
const MOST_MISSING: usize = 6;

impl DelayArc {
    /// Where a change at its input leads, with the figure for that.
    pub(super) fn stretches(&self, at: Place) -> impl Iterator<Item = (Place, Option<&Figure>)> {
        let registered = at.registered || self.way == Way::Clocked;
        let follows = Edge::BOTH.into_iter().zip(&self.most).filter(move |&(to, _)| self.edges.has(at.edge, to));
        follows.map(move |(edge, figure)| (Place { net: self.to, registered, edge }, figure.as_ref()))
    }
}

impl<'a> Graph<'a> {
    pub(super) fn new(arcs: &'a Arcs, nets: usize) -> Self {
        let mut leaving = vec![Vec::new(); nets];
        let (mut leads, mut comes) = (vec![Vec::new(); nets], vec![Vec::new(); nets]);
        for (i, arc) in arcs.delays.iter().enumerate().filter(|(_, a)| a.from < nets && a.to < nets) {
            leaving[arc.from].push(i);
            if !arc.is_end {
                leads[arc.from].push(arc.to);
                comes[arc.to].push(arc.from);
            }
        }
        // strongly connected nets: those from which the last finished one is reached (S. R. Kosaraju, from memory)
        let mut finished = Vec::with_capacity(nets);
        let mut seen = vec![false; nets];
        for root in 0..nets {
            walk(root, &leads, &mut seen, |net| finished.push(net));
        }
        let (mut groups, mut group) = (Vec::new(), vec![0; nets]);
        let mut seen = vec![false; nets];
        for &root in finished.iter().rev() {
            let mut members = Vec::new();
            walk(root, &comes, &mut seen, |net| members.push(net));
            if !members.is_empty() {
                members.iter().for_each(|&net| group[net] = groups.len());
                groups.push(members);
            }
        }
        Graph { arcs, leaving, groups, group }
    }

    fn next(&self, at: Place) -> Vec<(usize, Place, Option<&'a Figure>)> {
        let leaving = self.leaving.get(at.net).map_or(&[][..], |l| l);
        let with_arcs = leaving.iter().filter_map(|&i| Some((i, self.arcs.delays.get(i)?)));
        let with_arcs = with_arcs.filter(|(_, arc)| !arc.is_end);
        with_arcs.flat_map(|(i, arc)| arc.stretches(at).map(move |(p, f)| (i, p, f))).collect()
    }

    /// The longest ways from this change of a net. None comes to a net twice.
    pub(super) fn from(&self, net: usize, edge: Edge) -> Arrivals<'_> {
        let mut all =
            Arrivals { graph: self, all: vec![None; self.leaving.len() * 4], closing: BTreeSet::new(), stretches: 0 };
        all.take(Place { net, registered: false, edge }, &Arrival::default());
        let first = self.group.get(net).copied().unwrap_or(self.groups.len());
        for group in self.groups.iter().skip(first) {
            let places = group.iter().flat_map(|&net| Place::of(net));
            let entries: Vec<(Place, Arrival)> =
                places.filter_map(|p| Some((p, all.all.get(p.index())?.clone()?))).collect();
            for (place, arrival) in entries {
                all.follow(place, arrival, &mut vec![net]);
            }
            // what leaves a group goes by the latest of each change, whichever way it came
            for place in group.iter().flat_map(|&net| Place::of(net)) {
                let Some(Some(arrival)) = all.all.get(place.index()).cloned() else { continue };
                for (arc, to, figure) in self.next(place).into_iter().filter(|(_, to, _)| !self.together(place, *to)) {
                    all.take(to, &arrival.and(arc, to, figure));
                }
            }
        }
        all
    }

    fn together(&self, a: Place, b: Place) -> bool {
        self.group.get(a.net) == self.group.get(b.net)
    }
}

/// Everything that a root leads to and that was not visited yet, each after what it leads to (postorder).
fn walk(root: usize, leads: &[Vec<usize>], seen: &mut [bool], mut finished: impl FnMut(usize)) {
    if std::mem::replace(&mut seen[root], true) {
        return;
    }
    // with a stack of its own: chains may be long
    let mut stack = vec![(root, 0)];
    while let Some((at, tried)) = stack.last_mut() {
        match leads[*at].get(*tried) {
            Some(&next) => {
                *tried += 1;
                if !std::mem::replace(&mut seen[next], true) {
                    stack.push((next, 0));
                }
            }
            None => {
                finished(*at);
                stack.pop();
            }
        }
    }
}

impl Arrival {
    /// One stretch later.
    fn and(&self, arc: usize, to: Place, figure: Option<&Figure>) -> Arrival {
        let mut missing = self.missing.clone();
        missing.extend(figure.is_none().then_some(arc));
        while missing.len() > MOST_MISSING {
            missing.pop_last();
        }
        let way = Leg { arc, edge: to.edge, before: self.way.clone() };
        Arrival { ns: self.ns + figure.map_or(0.0, |f| f.value), way: Some(Rc::new(way)), missing }
    }
}

/// When changes of one net arrive everywhere else.
pub(super) struct Arrivals<'g> {
    graph: &'g Graph<'g>,
    all: Vec<Option<Arrival>>,
    closing: BTreeSet<usize>,
    /// How many stretches within loops were followed.
    stretches: usize,
}

impl Arrivals<'_> {
    /// Keeps the latest; what is missing anywhere stays missing.
    fn take(&mut self, place: Place, arrival: &Arrival) {
        let Some(slot) = self.all.get_mut(place.index()) else { return };
        match slot {
            None => *slot = Some(arrival.clone()),
            Some(known) => {
                if arrival.ns > known.ns {
                    (known.ns, known.way) = (arrival.ns, arrival.way.clone());
                }
                known.missing.extend(&arrival.missing);
                while known.missing.len() > MOST_MISSING {
                    known.missing.pop_last();
                }
            }
        }
    }

    /// Follows every way from a place that stays within its loop. `path` is where it has been.
    fn follow(&mut self, from: Place, arrival: Arrival, path: &mut Vec<usize>) {
        let graph = self.graph;
        let within = |at: Place| graph.next(at).into_iter().filter(move |(_, to, _)| graph.together(at, *to));
        let begin = path.len();
        path.push(from.net);
        // each step has what is still to be tried from there; a stack of its own, as chains may be long
        let mut stack = vec![(arrival, within(from).collect::<Vec<_>>())];
        while let Some((here, rest)) = stack.last_mut() {
            let Some((arc, to, figure)) = rest.pop() else {
                stack.pop();
                path.pop();
                continue;
            };
            if path.contains(&to.net) {
                self.closing.insert(arc);
                continue;
            }
            self.stretches += 1;
            if self.is_cut() {
                break;
            }
            let there = here.and(arc, to, figure);
            self.take(to, &there);
            path.push(to.net);
            stack.push((there, within(to).collect()));
        }
        path.truncate(begin);
    }

    /// Whether there were more ways round loops than are followed: then the times are too short.
    pub(super) fn is_cut(&self) -> bool {
        self.stretches > MOST_STRETCHES
    }

    /// The arcs at which a loop was left.
    pub(super) fn loops(&self) -> impl Iterator<Item = &DelayArc> {
        self.closing.iter().filter_map(|&i| self.graph.arcs.delays.get(i))
    }

    /// When a change of this kind arrives at the latest, and over what.
    pub(super) fn at(&self, place: Place) -> Option<Time> {
        let arrival = self.all.get(place.index())?.as_ref()?;
        let mut path: Vec<Step> = Vec::new();
        let mut last = &arrival.way;
        while let Some(way) = last {
            let arc = self.graph.arcs.delays.get(way.arc)?;
            path.push(step(&arc.through, arc.most[way.edge.index()].as_ref()));
            last = &way.before;
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
