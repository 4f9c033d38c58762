//! Both sides with their contacts joined: levels outside, kinds of events, what the board may do, what is compared.
use std::collections::BTreeSet;

use crate::certificate::{Claim, Formula, Way};
use crate::graph::{Graph, Lit};
use crate::machine::{Machine, Point, Values, View};
use crate::model::Pull;

/// A contact of either side.
#[derive(Debug)]
pub struct Contact {
    /// Its label.
    pub label: String,
    /// Where it is on each side.
    pub on: [Option<usize>; 2],
    /// Whether the board's level on it matters: a side reads it, or an assumption, a restriction or a group names it.
    pub is_read: bool,
    /// Whether a side may drive it.
    pub is_driven: bool,
    /// Whether only settled levels are compared.
    pub only_settled: bool,
    /// Whether it is compared at all.
    pub is_compared: bool,
    /// Whether both sides pull it the same way while nobody drives it.
    pub same_pull: bool,
}

/// The two sides: the original and the replacement.
#[derive(Debug)]
pub struct Pair<'c> {
    /// Both circuits.
    pub machines: [Machine; 2],
    /// All contacts.
    pub contacts: Vec<Contact>,
    /// Kinds of events: the contacts that change.
    pub events: Vec<Vec<usize>>,
    claim: &'c Claim,
}

impl<'c> Pair<'c> {
    /// Joins two circuits at their contacts.
    ///
    /// # Errors
    /// If the claim names a contact that there is not.
    pub fn new(machines: [Machine; 2], claim: &'c Claim) -> Result<Pair<'c>, String> {
        let labels: BTreeSet<&String> =
            machines.iter().flat_map(|m| m.model.contacts.iter().map(|c| &c.label)).collect();
        let mut named: Vec<&String> = claim.groups.iter().flatten().collect();
        claim.assumptions.iter().for_each(|a| a.holds.contacts(&mut named));
        for r in &claim.restrictions {
            named.extend(&r.contacts);
            r.only_while.contacts(&mut named);
        }
        let mut contacts: Vec<Contact> = labels
            .into_iter()
            .map(|label| {
                let on = [0, 1].map(|s: usize| machines[s].model.contacts.iter().position(|c| c.label == *label));
                let pull = |s: usize| {
                    let contact = on[s].and_then(|c| machines[s].model.contacts.get(c));
                    contact.and_then(|c| machines[s].model.nets.get(c.net)).map_or(Pull::None, |n| n.pull)
                };
                Contact {
                    label: label.clone(),
                    on,
                    is_read: (0..2).any(|s| on[s].is_some_and(|c| machines[s].reads_contact(c)))
                        || named.contains(&label)
                            && !(0..2).any(|s| on[s].is_some_and(|c| machines[s].drives(c, true))),
                    is_driven: (0..2).any(|s| on[s].is_some_and(|c| machines[s].drives(c, false))),
                    only_settled: claim.settled_contacts.contains(label),
                    is_compared: !claim.left_out.contains(label),
                    same_pull: pull(0) == pull(1),
                }
            })
            .collect();
        let at = |label: &String| {
            let found = contacts.iter().position(|c| c.label == *label);
            found.ok_or_else(|| format!("the claim names a contact {label}, and there is none"))
        };
        let mut events = Vec::new();
        for group in &claim.groups {
            events.push(group.iter().map(&at).collect::<Result<Vec<_>, _>>()?);
        }
        for label in named.iter().copied().chain(&claim.settled_contacts) {
            at(label)?;
        }
        for group in &events {
            let is_read = group.iter().any(|&c| contacts[c].is_read);
            group.iter().for_each(|&c| contacts[c].is_read |= is_read);
        }
        let grouped: Vec<usize> = events.iter().flatten().copied().collect();
        events.extend((0..contacts.len()).filter(|&c| contacts[c].is_read && !grouped.contains(&c)).map(|c| vec![c]));
        Ok(Pair { machines, contacts, events, claim })
    }

    /// A level for each contact; one that nobody reads needs none.
    pub fn levels(&self, g: &mut Graph) -> Vec<Lit> {
        self.contacts.iter().map(|c| if c.is_read { g.free() } else { Lit::FALSE }).collect()
    }

    /// The levels as one side's circuit counts its contacts.
    pub fn outside(&self, side: usize, levels: &[Lit]) -> Vec<Lit> {
        let mut outside = vec![Lit::FALSE; self.machines[side].model.contacts.len()];
        for (c, &level) in self.contacts.iter().zip(levels) {
            if let Some(at) = c.on[side] {
                outside[at] = level;
            }
        }
        outside
    }

    /// What becomes of the levels in one kind of event: a single contact changes, those of a group may.
    pub fn next(&self, g: &mut Graph, event: &[usize], levels: &[Lit]) -> Vec<Lit> {
        let mut next = levels.to_vec();
        for &c in event.iter().filter(|&&c| self.contacts[c].is_read) {
            next[c] = if event.len() == 1 { !levels[c] } else { g.free() };
        }
        next
    }

    /// The change of an event as one side counts its contacts.
    pub fn change(&self, side: usize, event: &[usize], next: &[Lit]) -> Vec<(usize, Lit)> {
        event.iter().filter_map(|&c| self.contacts[c].on[side].map(|at| (at, next[c]))).collect()
    }

    fn holds(&self, g: &mut Graph, formula: &Formula, levels: &[Lit]) -> Lit {
        match formula {
            Formula::Constant(v) => Lit::from(*v),
            Formula::High(label) => {
                self.contacts.iter().position(|c| c.label == *label).map_or(Lit::FALSE, |c| levels[c])
            }
            Formula::Not(a) => !self.holds(g, a, levels),
            Formula::And(a, b) => {
                let (a, b) = (self.holds(g, a, levels), self.holds(g, b, levels));
                g.and(a, b)
            }
            Formula::Or(a, b) => {
                let (a, b) = (self.holds(g, a, levels), self.holds(g, b, levels));
                g.or(a, b)
            }
            Formula::Xor(a, b) => {
                let (a, b) = (self.holds(g, a, levels), self.holds(g, b, levels));
                g.xor(a, b)
            }
        }
    }

    /// Whether an assumption bears on what the card may drive: then it is what the board never makes untrue.
    fn reacts(&self, formula: &Formula) -> bool {
        let mut named = Vec::new();
        formula.contacts(&mut named);
        self.contacts.iter().any(|c| c.is_driven && named.contains(&&c.label))
    }

    /// Whether the assumptions allow these levels.
    pub fn allowed(&self, g: &mut Graph, levels: &[Lit]) -> Lit {
        let stand = self.claim.assumptions.iter().filter(|a| !self.reacts(&a.holds));
        let all: Vec<Lit> = stand.map(|a| self.holds(g, &a.holds, levels)).collect();
        g.all(all)
    }

    /// What the replacement shows at each contact.
    pub fn card(&self, values: &Values) -> View {
        let at = |c: &Contact| c.on[1].map(|at| self.machines[1].shows(values, at));
        self.contacts.iter().map(|c| at(c).unwrap_or_default()).collect()
    }

    /// Whether one event may lead from these levels to those, `card` being what the card showed before it.
    pub fn may(&self, g: &mut Graph, before: &[Lit], after: &[Lit], card: &View) -> Lit {
        let mut all = self.allowed(g, after);
        let wires = [before, after].map(|levels| {
            levels
                .iter()
                .zip(card)
                .map(|(&outside, &(drive, level))| g.mux(drive, level, outside))
                .collect::<Vec<Lit>>()
        });
        let both = |g: &mut Graph, f: &Formula| [self.holds(g, f, &wires[0]), self.holds(g, f, &wires[1])];
        for a in self.claim.assumptions.iter().filter(|a| self.reacts(&a.holds)) {
            let [held, holds] = both(g, &a.holds);
            let keeps = g.or(!held, holds);
            all = g.and(all, keeps);
        }
        for r in &self.claim.restrictions {
            let mut changes = Lit::FALSE;
            for c in self.contacts.iter().enumerate().filter(|(_, c)| r.contacts.contains(&c.label)).map(|(c, _)| c) {
                let change = match r.way {
                    Way::Either => g.xor(before[c], after[c]),
                    Way::Up => g.and(!before[c], after[c]),
                    Way::Down => g.and(before[c], !after[c]),
                };
                changes = g.or(changes, change);
            }
            let [b, a] = both(g, &r.only_while);
            let during = g.and(b, a);
            let keeps = g.or(!changes, during);
            all = g.and(all, keeps);
        }
        all
    }

    /// What a contact shows on one side: before the event, then phase by phase, without repetitions.
    fn seen(&self, side: usize, contact: usize, before: &Values, views: &[View]) -> View {
        let Some(at) = self.contacts[contact].on[side] else { return vec![(Lit::FALSE, Lit::FALSE)] };
        let mut seen = vec![self.machines[side].shows(before, at)];
        for view in views {
            if seen.last() != Some(&view[at]) {
                seen.push(view[at]);
            }
        }
        if self.contacts[contact].only_settled && seen.len() > 2 {
            seen.drain(1..seen.len() - 1);
        }
        seen
    }

    fn same(&self, g: &mut Graph, contact: usize, a: (Lit, Lit), b: (Lit, Lit)) -> Lit {
        let drive = g.xor(a.0, b.0);
        let level = g.xor(a.1, b.1);
        let driven = g.and(a.0, !level);
        let shown = if self.contacts[contact].same_pull { g.or(!a.0, driven) } else { driven };
        g.and(!drive, shown)
    }

    /// Where a contact shows another sequence on the two sides: no way of pairing the two, step by step, is equal throughout.
    pub fn differs(&self, g: &mut Graph, contact: usize, before: [&Values; 2], views: [&[View]; 2]) -> Lit {
        if !self.contacts[contact].is_compared {
            return Lit::FALSE;
        }
        let [a, b] = [0, 1].map(|s| self.seen(s, contact, before[s], views[s]));
        let mut reached = vec![vec![Lit::FALSE; b.len()]; a.len()];
        for i in 0..a.len() {
            for j in 0..b.len() {
                let same = self.same(g, contact, a[i], b[j]);
                let mut from = Vec::new();
                if i == 0 && j == 0 {
                    from.push(Lit::TRUE);
                }
                if i > 0 {
                    from.push(reached[i - 1][j]);
                }
                if j > 0 {
                    from.push(reached[i][j - 1]);
                }
                if i > 0 && j > 0 {
                    from.push(reached[i - 1][j - 1]);
                }
                let came = g.any(from);
                reached[i][j] = g.and(came, same);
            }
        }
        !reached[a.len() - 1][b.len() - 1]
    }

    /// An event in words.
    pub fn words(&self, event: &[usize]) -> String {
        let labels: Vec<&str> = event.iter().map(|&c| self.contacts[c].label.as_str()).collect();
        match labels.as_slice() {
            [one] => format!("contact {one} changes"),
            all => format!("contacts {} change together", all.join(", ")),
        }
    }

    /// A point of one side with everything free, but for what floats in the original: it reads high.
    pub fn floats(&self, g: &mut Graph, side: usize) -> Vec<Lit> {
        self.machines[side].floating.iter().map(|_| if side == 0 { Lit::TRUE } else { g.free() }).collect()
    }

    /// A bit by its name; nothing if the side has none.
    pub fn bit(&self, side: usize, name: &str) -> Option<Place> {
        let m = &self.machines[side];
        if let Some(e) = m.model.elements.iter().position(|e| e.name == name) {
            return Some(Place::Held(e));
        }
        if let Some(e) =
            name.strip_suffix(" (clear and preset)").and_then(|n| m.model.elements.iter().position(|e| e.name == n))
        {
            return Some(if m.marked[e] { Place::Mark(e) } else { Place::Never });
        }
        m.model.find_net(name).map(|n| m.cuts.iter().position(|&c| c == n).map_or(Place::Net(n), Place::Cut))
    }

    /// The value of a bit at a point.
    pub fn at(&self, side: usize, place: Place, point: &Point, values: &Values) -> Lit {
        match place {
            Place::Held(e) => point.held[e],
            Place::Mark(e) => point.mark[e],
            Place::Cut(c) => point.cut[c],
            Place::Net(n) => self.machines[side].net(values, n),
            Place::Never => Lit::FALSE,
        }
    }
}

/// Where a bit of a relation is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// What an element holds.
    Held(usize),
    /// The mark of an element.
    Mark(usize),
    /// A cut net.
    Cut(usize),
    /// A net that follows from others.
    Net(usize),
    /// A mark that can't come.
    Never,
}
