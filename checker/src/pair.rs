//! Both sides with their contacts joined: levels outside, kinds of events, what the board may do, what is compared.
use std::collections::{BTreeSet, HashSet};

use anyhow::{Context, Result, ensure};

use crate::certificate::{Assumption, Claim, Formula, Restriction};
use crate::graph::{Graph, Lit};
use crate::machine::{Bit, Machine, Point, Values, View};
use crate::model::Model;

/// A contact of both sides.
#[derive(Clone, Debug)]
pub struct Contact {
    /// Its label.
    pub label: String,
    /// Whether the board's level on it matters: a side reads it, or an assumption, a restriction or a group names it.
    pub is_read: bool,
    /// Whether one of these names it.
    pub is_told: bool,
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
    assumptions: Vec<&'c Assumption>,
    restrictions: Vec<&'c Restriction>,
}

impl<'c> Pair<'c> {
    /// Joins two circuits at their contacts; for each side nets to be cut first, and elements that count.
    ///
    /// # Errors
    /// If the claim names a contact that there is not.
    pub fn new(mut models: [Model; 2], [cuts, named]: [[HashSet<String>; 2]; 2], claim: &'c Claim) -> Result<Pair<'c>> {
        // both sides have the same contacts in the same order; one that a side lacks is on a net of its own there
        let labels = models.iter().flat_map(|m| m.contacts.iter().map(|c| c.label.clone()));
        let labels: BTreeSet<String> = labels.collect();
        for model in &mut models {
            for label in &labels {
                if model.find_contact(label).is_none() {
                    let net = model.net(format!("no contact {label}"));
                    model.contact(label, net);
                }
            }
            model.contacts.sort_by(|a, b| a.label.cmp(&b.label));
        }
        let [original, replacement] = models;
        let all = |_: &str| true;
        let machines =
            [Machine::new(original, all, &cuts[0], &named[0]), Machine::new(replacement, all, &cuts[1], &named[1])];
        let mut told: Vec<String> = claim.groups.concat();
        told.extend(claim.assumptions.iter().flat_map(|a| a.holds.contacts()));
        told.extend(claim.restrictions.iter().flat_map(all_of));
        let other = told.iter().chain(&claim.settled_contacts).find(|l| !labels.contains(*l));
        ensure!(other.is_none(), "the claim names a contact {}, and there is none", other.map_or("", |l| l));
        let contact = |(c, label): (usize, &String)| {
            let any = |is: &dyn Fn(&Machine) -> bool| machines.iter().any(is);
            let pull = |m: &Machine| m.model.nets[m.model.contacts[c].net].pull;
            Contact {
                label: label.clone(),
                is_read: any(&|m| m.reads_contact(c)) || told.contains(label) && !any(&|m| m.drives(c, true)),
                is_told: told.contains(label),
                is_driven: any(&|m| m.drives(c, false)),
                only_settled: claim.settled_contacts.contains(label),
                is_compared: !claim.left_out.contains(label),
                same_pull: pull(&machines[0]) == pull(&machines[1]),
            }
        };
        let mut contacts: Vec<Contact> = labels.iter().enumerate().map(contact).collect();
        let at = |label: &String| contacts.iter().position(|c| c.label == *label);
        let mut events: Vec<Vec<usize>> =
            claim.groups.iter().map(|group| group.iter().filter_map(at).collect()).collect();
        for group in &events {
            let is_read = group.iter().any(|&c| contacts[c].is_read);
            group.iter().for_each(|&c| contacts[c].is_read |= is_read);
        }
        let grouped: Vec<usize> = events.iter().flatten().copied().collect();
        events.extend((0..contacts.len()).filter(|&c| contacts[c].is_read && !grouped.contains(&c)).map(|c| vec![c]));
        let (assumptions, restrictions) = (claim.assumptions.iter().collect(), claim.restrictions.iter().collect());
        Ok(Pair { machines, contacts, events, assumptions, restrictions })
    }

    /// The same events, but only these contacts are compared. What the board is taken to do bears on it as far as it names no
    /// other contact that the card drives: less is taken for granted, never more.
    pub fn part(&self, labels: &[String], [cuts, named]: &[[HashSet<String>; 2]; 2]) -> Pair<'c> {
        let within = |label: &str| labels.iter().any(|l| l == label);
        let sees = |names: Vec<String>| {
            self.contacts.iter().all(|c| !c.is_driven || within(&c.label) || !names.contains(&c.label))
        };
        let machine = |side: usize| Machine::new(self.machines[side].model.clone(), within, &cuts[side], &named[side]);
        let contact = |c: &Contact| Contact { is_compared: c.is_compared && within(&c.label), ..c.clone() };
        Pair {
            machines: [0, 1].map(machine),
            contacts: self.contacts.iter().map(contact).collect(),
            events: self.events.clone(),
            assumptions: self.assumptions.iter().copied().filter(|a| sees(a.holds.contacts())).collect(),
            restrictions: self.restrictions.iter().copied().filter(|r| sees(all_of(r))).collect(),
        }
    }

    /// A level for each contact; one that nobody reads needs none.
    pub fn levels(&self, g: &mut Graph) -> Vec<Lit> {
        self.contacts.iter().map(|c| if c.is_read { g.free() } else { Lit::FALSE }).collect()
    }

    /// The contact of this label.
    ///
    /// # Errors
    /// If there is none.
    pub fn contact(&self, label: &str) -> Result<usize> {
        let found = self.contacts.iter().position(|c| c.label == *label);
        found.with_context(|| format!("the certificate names contact {label}: there is none"))
    }

    /// What becomes of the levels in one kind of event: a single contact changes, those of a group may.
    pub fn next(&self, g: &mut Graph, event: &[usize], levels: &[Lit]) -> Vec<Lit> {
        let mut next = levels.to_vec();
        for &c in event.iter().filter(|&&c| self.contacts[c].is_read) {
            next[c] = if event.len() == 1 { !levels[c] } else { g.free() };
        }
        next
    }

    fn holds(&self, g: &mut Graph, formula: &Formula, levels: &[Lit]) -> Lit {
        formula.of(g, &mut |label| self.contact(label).map_or(Lit::FALSE, |c| levels[c]))
    }

    /// Whether an assumption bears on what the card may drive: then it is what the board never makes untrue.
    fn reacts(&self, formula: &Formula) -> bool {
        let named = formula.contacts();
        self.contacts.iter().any(|c| c.is_driven && named.contains(&c.label))
    }

    /// Whether the assumptions allow these levels.
    pub fn allowed(&self, g: &mut Graph, levels: &[Lit]) -> Lit {
        let stand = self.assumptions.iter().filter(|a| !self.reacts(&a.holds));
        let all: Vec<Lit> = stand.map(|a| self.holds(g, &a.holds, levels)).collect();
        g.all(all)
    }

    /// Whether one event may lead from these levels to those, `card` being what the card showed before it.
    pub fn may(&self, g: &mut Graph, before: &[Lit], after: &[Lit], card: &View) -> Lit {
        let mut all = self.allowed(g, after);
        let wires = [before, after].map(|levels| -> Vec<Lit> {
            levels.iter().zip(card).map(|(&outside, &(drive, level))| g.mux(drive, level, outside)).collect()
        });
        for a in self.assumptions.iter().filter(|a| self.reacts(&a.holds)) {
            let [held, holds] = wires.each_ref().map(|levels| self.holds(g, &a.holds, levels));
            let keeps = g.or(!held, holds);
            all = g.and(all, keeps);
        }
        for r in &self.restrictions {
            let [b, a] = wires.each_ref().map(|levels| self.holds(g, &r.only_while, levels));
            let during = g.and(b, a);
            for (c, _) in self.contacts.iter().enumerate().filter(|(_, c)| r.contacts.contains(&c.label)) {
                for from in [false, true].into_iter().filter(|&from| if from { r.down } else { r.up }) {
                    let change = g.and(before[c].flip(!from), after[c].flip(from));
                    let keeps = g.or(!change, during);
                    all = g.and(all, keeps);
                }
            }
        }
        all
    }

    /// What a contact shows on one side: before the event, then phase by phase, without repetitions.
    fn seen(&self, side: usize, contact: usize, before: &Values, views: &[View]) -> View {
        let mut seen = vec![self.machines[side].shows(before, contact)];
        seen.extend(views.iter().map(|view| view[contact]));
        seen.dedup();
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
                let mut came = if i == 0 && j == 0 { Lit::TRUE } else { Lit::FALSE };
                for (back, along) in [(1, 0), (0, 1), (1, 1)] {
                    if let (Some(i), Some(j)) = (i.checked_sub(back), j.checked_sub(along)) {
                        came = g.or(came, reached[i][j]);
                    }
                }
                reached[i][j] = g.and(came, same);
            }
        }
        !reached[a.len() - 1][b.len() - 1]
    }

    /// An event in words.
    pub fn words(&self, event: &[usize]) -> String {
        let labels: Vec<&str> = event.iter().map(|&c| self.contacts[c].label.as_str()).collect();
        format!("a change at {}", labels.join(", "))
    }

    /// A point of one side with these levels outside and everything else free, but for what floats in the original: it
    /// reads high.
    pub fn point(&self, g: &mut Graph, side: usize, levels: &[Lit]) -> Point {
        let high = |bit: &Bit| side == 0 && matches!(bit, Bit::Float(_));
        let bits = self.machines[side].bits.iter();
        let bits = bits.map(|bit| if high(bit) { Lit::TRUE } else { g.free() }).collect();
        Point { bits, outside: levels.to_vec() }
    }

    /// A start of one side, before it has come to rest: what is known of it, and else what stands in the point.
    pub fn started(&self, side: usize, mut point: Point) -> Point {
        let m = &self.machines[side];
        for (bit, value) in m.bits.iter().zip(&mut point.bits) {
            match *bit {
                Bit::Held(e) => *value = m.model.elements[e].start.map_or(*value, Lit::from),
                Bit::Mark(_) if side == 1 => *value = Lit::FALSE,
                _ => {}
            }
        }
        point
    }

    /// A bit by its name; nothing if the side has none.
    pub fn bit(&self, side: usize, name: &str) -> Option<Place> {
        let m = &self.machines[side];
        let element = |name: &str| m.model.elements.iter().position(|e| e.name == name);
        if let Some(e) = element(name) {
            return m.find(Bit::Held(e)).map(Place::Bit);
        }
        if let Some(e) = name.strip_suffix(" (clear and preset)").and_then(element) {
            return Some(m.find(Bit::Mark(e)).map_or(Place::Never, Place::Bit));
        }
        m.model.find_net(name).map(|n| m.find(Bit::Cut(n)).map_or(Place::Net(n), Place::Bit))
    }
}

/// All contacts that a restriction names.
fn all_of(of: &Restriction) -> Vec<String> {
    [of.contacts.clone(), of.only_while.contacts()].concat()
}

/// Where a bit of a relation is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// A bit that the circuit holds.
    Bit(usize),
    /// A net that follows from others.
    Net(usize),
    /// A mark that can't come.
    Never,
}

impl Place {
    /// Its value at a point.
    pub fn at(self, point: &Point, values: &Values) -> Lit {
        match self {
            Place::Bit(i) => point.bits[i],
            Place::Net(n) => values.net[n],
            Place::Never => Lit::FALSE,
        }
    }
}
