//! What each resistor of a card does: it pulls a net to a rail, joins two nets into one, holds a net while nobody drives it,
//! or stays on the card with its ends as the outside.
use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::finding::{Finding, FindingKind, Findings, Subject, list, shown};
use super::join::{HoldResistor, Joining, ends};
use super::nets::{Role, role};
use super::package::{Fitted, Package};
use super::vocabulary::{Passive, Stay, Wire};
use crate::circuit::{Origin, Stage};

/// From this many ohms on a resistor is weak: an output at its other end does not decide a level against one that drives.
/// An output of the LS family sinks 8 mA (Motorola, FAST and LS TTL Data, p.5-563), as much as 625 Ω from 5 V give; the
/// resistors that damp a line are below, those that hold one above (common practice, no source).
const WEAK: f64 = 1_000.0;

/// Up to this many ohms nothing overrides an output behind the resistor: it damps the line (common practice, no source).
const DAMPING: f64 = 100.0;

/// What is on a net, as far as it decides what a resistor to it does.
#[derive(Clone, Copy, Debug, Default)]
struct Facts {
    /// An output that can't let go.
    holds_on: bool,
    /// An output that can.
    lets_go: bool,
    /// A contact, or a digital part that stays.
    outside: bool,
    /// A pin that may stand between the levels.
    analog: bool,
    reads: bool,
}

impl Facts {
    fn is_driven(self) -> bool {
        self.holds_on || self.lets_go
    }

    fn is_logic(self) -> bool {
        self.is_driven() || self.reads
    }

    fn is_free(self) -> bool {
        self.outside || self.analog
    }
}

/// A resistor between two nets that are no rails.
struct Series {
    ends: [usize; 2],
    reference: String,
    /// Positions of the package and of its two pins.
    package: usize,
    pins: [usize; 2],
    ohms: Option<f64>,
    who: String,
    origin: Origin,
}

impl Series {
    fn is_weak(&self) -> bool {
        self.ohms.is_some_and(|ohms| ohms >= WEAK)
    }

    fn is_damping(&self) -> bool {
        self.ohms.is_some_and(|ohms| ohms <= DAMPING)
    }
}

/// A weak resistor from an output to a net whose other outputs can let go.
struct Hold {
    resistor: Series,
    net: usize,
    by: usize,
}

impl Joining {
    /// Sorts the resistors, and joins what they join.
    pub(super) fn sort_resistors(&mut self, packages: &[Package], findings: &mut Findings) {
        let mut facts = self.facts(packages);
        let series = self.pulls_and_series(packages, &facts, findings);
        let (mut holds, mut left) = (Vec::new(), Vec::new());
        for resistor in series {
            let [x, y] = resistor.ends.map(|end| self.root(end));
            let at = |root: usize| facts.get(&root).copied().unwrap_or_default();
            if x == y {
                let message = format!("both ends of {} are on one net: logic does not see it", resistor.who);
                let note = Finding::note(FindingKind::Ignored, &resistor.origin, message, "");
                let note = note.about([Subject::Package(resistor.reference.clone())]);
                findings.push(note.folding(4, "resistors with both ends on one net, which logic does not see: ", ""));
            } else if at(x).is_driven() && at(y).is_driven() {
                let nets = [(x, at(x)), (y, at(y))];
                holds.extend(self.between_outputs(resistor, nets, &mut facts, findings));
            } else {
                left.push((resistor, [x, y]));
            }
        }
        self.beside_outputs(left, &mut facts, findings);
        self.settle_holds(holds, findings);
    }

    /// What is on each net, by the id that stands for it.
    fn facts(&mut self, packages: &[Package]) -> HashMap<usize, Facts> {
        let mut facts: HashMap<usize, Facts> = HashMap::new();
        for package in packages {
            for pin in &package.pins {
                let Wire::Net(name) = &pin.wire else { continue };
                let Some(id) = self.id(name) else { continue };
                let at = facts.entry(self.root(id)).or_default();
                let role = role(package, pin);
                at.reads |= role.reads();
                match role.stage() {
                    Some(Stage::PushPull) => at.holds_on = true,
                    Some(Stage::ThreeState | Stage::OpenCollector) => at.lets_go = true,
                    None => {}
                }
                at.outside |= role == Role::Contact || matches!(package.fitted, Fitted::Stays(Stay::Digital));
                at.analog |= role.is_analog()
                    || match &package.fitted {
                        Fitted::Stays(stay) => *stay == Stay::Analog,
                        Fitted::Passive(Passive::Foreign(_) | Passive::Capacitor { ignored: false, .. }) => true,
                        _ => false,
                    };
            }
        }
        facts
    }

    fn pulls_and_series(
        &mut self,
        packages: &[Package],
        facts: &HashMap<usize, Facts>,
        findings: &mut Findings,
    ) -> Vec<Series> {
        let mut series = Vec::new();
        for (at, package) in packages.iter().enumerate() {
            let Fitted::Passive(Passive::Resistors { ohms, links, .. }) = &package.fitted else { continue };
            if *ohms == Some(0.0) {
                continue;
            }
            for &link in links {
                let Some([a, b]) = ends(package, link, links, findings) else { continue };
                let Some((x, y)) = self.nets(package, a, b) else { continue };
                let (net, rail, pin) = match (self.supply(x), self.supply(y)) {
                    (None, None) => {
                        let place = |pin: &super::package::Pin| package.index.get(&pin.label).copied();
                        let (Some(first), Some(second)) = (place(a), place(b)) else { continue };
                        series.push(Series {
                            ends: [x, y],
                            reference: package.reference.clone(),
                            package: at,
                            pins: [first, second],
                            ohms: *ohms,
                            who: package.called(),
                            origin: b.origin.clone(),
                        });
                        continue;
                    }
                    (Some(rail), None) => (y, rail, b),
                    (None, Some(rail)) => (x, rail, a),
                    (Some(_), Some(_)) => {
                        let message = format!("{} goes from rail to rail: logic does not see it", package.called());
                        let note = Finding::note(FindingKind::Ignored, &a.origin, message, "");
                        let note = note.about([Subject::Package(package.reference.clone())]);
                        findings.push(note.folding(4, "resistors from rail to rail, which logic does not see: ", ""));
                        continue;
                    }
                };
                let root = self.root(net);
                let is_logic = facts.get(&root).is_some_and(|facts| facts.is_logic());
                self.pull(package, net, rail, *ohms, (&pin.origin, is_logic), findings);
            }
        }
        series
    }

    /// A resistor with outputs on both its nets.
    fn between_outputs(
        &mut self,
        resistor: Series,
        [(x, of_x), (y, of_y)]: [(usize, Facts); 2],
        facts: &mut HashMap<usize, Facts>,
        findings: &mut Findings,
    ) -> Option<Hold> {
        if !resistor.is_weak() {
            // a line that is damped: one net, and whoever fights on it fights
            self.join(&resistor, facts, findings);
            return None;
        }
        match (of_x.holds_on, of_y.holds_on) {
            (true, true) => {
                let who = &resistor.who;
                let message = format!("{who} lies between two outputs that never let go: logic does not see it");
                findings.push(Finding::note(FindingKind::Ignored, &resistor.origin, message, ""));
                None
            }
            (true, false) if !of_y.is_free() => Some(Hold { resistor, net: y, by: x }),
            (false, true) if !of_x.is_free() => Some(Hold { resistor, net: x, by: y }),
            _ => {
                self.stay(&[resistor], "between nets that others drive too", findings);
                None
            }
        }
    }

    /// A net that one resistor alone holds is at the level of the output behind it; if several hold or pull it, only their
    /// values tell its level, and they stay.
    fn settle_holds(&mut self, holds: Vec<Hold>, findings: &mut Findings) {
        let roots: Vec<usize> = holds.iter().map(|hold| self.root(hold.net)).collect();
        let pulled: Vec<usize> = self.pulls().iter().map(|pull| pull.net).collect();
        let pulled: BTreeSet<usize> = pulled.into_iter().map(|net| self.root(net)).collect();
        for (hold, root) in holds.into_iter().zip(&roots) {
            let alone = roots.iter().filter(|other| *other == root).count() == 1 && !pulled.contains(root);
            let Hold { resistor, net, by } = hold;
            if !alone {
                self.stay(&[resistor], "to a net that others hold or pull too", findings);
                continue;
            }
            let (held, holder) = (shown(&self.name(net)), shown(&self.name(by)));
            let message =
                format!("{} holds {held} at the level of {holder} while nothing else drives it", resistor.who);
            findings.push(Finding::note(FindingKind::Held, &resistor.origin, message, ""));
            self.holds.push(HoldResistor { net, by, package: resistor.package, origin: resistor.origin });
        }
    }

    /// The resistors that have a net without an output at one end at least: such nets, and what they depend on, are decided
    /// together.
    fn beside_outputs(
        &mut self,
        resistors: Vec<(Series, [usize; 2])>,
        facts: &mut HashMap<usize, Facts>,
        findings: &mut Findings,
    ) {
        let known = facts.clone();
        let at = |root: usize| known.get(&root).copied().unwrap_or_default();
        // groups of nets without outputs that resistors connect
        let mut group: HashMap<usize, usize> = HashMap::new();
        for (_, ends) in &resistors {
            let passive: Vec<usize> = ends.iter().copied().filter(|&net| !at(net).is_driven()).collect();
            for &net in &passive {
                group.entry(net).or_insert(net);
            }
            if let [x, y] = passive[..] {
                let (from, to) = (find(&group, x), find(&group, y));
                group.insert(from.max(to), from.min(to));
            }
        }
        let mut clusters: BTreeMap<usize, Vec<(Series, [usize; 2])>> = BTreeMap::new();
        for (resistor, ends) in resistors {
            let passive = ends.iter().copied().find(|&net| !at(net).is_driven());
            let Some(net) = passive else { continue };
            clusters.entry(find(&group, net)).or_default().push((resistor, ends));
        }
        for cluster in clusters.into_values() {
            let nets: BTreeSet<usize> = cluster.iter().flat_map(|(_, ends)| *ends).collect();
            let (driven, passive): (Vec<usize>, Vec<usize>) = nets.into_iter().partition(|&net| at(net).is_driven());
            let driven: BTreeSet<usize> = driven.into_iter().map(|net| self.root(net)).collect();
            let free = passive.iter().filter(|&&net| at(net).is_free()).count();
            let analog = passive.iter().any(|&net| at(net).analog);
            let is_firm = cluster.iter().all(|(resistor, _)| !resistor.is_weak());
            let is_damping = cluster.iter().all(|(resistor, _)| resistor.is_damping());
            // where the outside may override the output, and logic reads it
            let is_contested = passive.iter().any(|&net| at(net).outside && at(net).reads);
            let all_let_go = driven.iter().all(|&net| !at(net).holds_on);
            let joins = match driven.len() {
                0 => free <= 1,
                1 => free == 0 || is_firm && !analog && (is_damping || !is_contested),
                _ => is_firm && all_let_go && !analog,
            };
            let resistors: Vec<Series> = cluster.into_iter().map(|(resistor, _)| resistor).collect();
            if joins {
                resistors.iter().for_each(|resistor| self.join(resistor, facts, findings));
            } else {
                let why = match driven.len() {
                    0 => "from one outside to another",
                    1 => "from an output to where others drive too, or to no level of logic",
                    _ => "from several outputs to one net, whose level is none of logic",
                };
                self.stay(&resistors, why, findings);
            }
        }
    }

    fn join(&mut self, resistor: &Series, facts: &mut HashMap<usize, Facts>, findings: &mut Findings) {
        let [x, y] = resistor.ends;
        let [one, other] = [x, y].map(|end| facts.get(&self.root(end)).copied().unwrap_or_default());
        let (a, b) = (shown(&self.name(x)), shown(&self.name(y)));
        let message = format!("{} joins {a} and {b} into one net", resistor.who);
        let note = Finding::note(FindingKind::Joined, &resistor.origin, message, "");
        let note = note.about([Subject::Package(resistor.reference.clone())]);
        findings.push(note.folding(4, "resistors that join the nets at their ends into one: ", ""));
        self.unite(x, y);
        let both = Facts {
            holds_on: one.holds_on || other.holds_on,
            lets_go: one.lets_go || other.lets_go,
            outside: one.outside || other.outside,
            analog: one.analog || other.analog,
            reads: one.reads || other.reads,
        };
        facts.insert(self.root(x), both);
    }

    /// Leaves resistors on the card: their ends are the outside.
    fn stay(&mut self, resistors: &[Series], why: &str, findings: &mut Findings) {
        let Some(first) = resistors.first() else { return };
        let mut names: Vec<String> = resistors.iter().map(|resistor| resistor.who.clone()).collect();
        names.dedup();
        let message =
            format!("{} {why}: what stands there stays on the card, and its ends are the outside", list(names));
        let note = Finding::note(FindingKind::Stays, &first.origin, message, "");
        let mut subjects: Vec<Subject> = resistors.iter().map(|r| Subject::Package(r.reference.clone())).collect();
        subjects.dedup();
        let after = format!(": {why}: these stay on the card, and their ends are the outside");
        findings.push(note.about(subjects).folding(3, "", after));
        for resistor in resistors {
            self.staying.extend(resistor.pins.map(|pin| (resistor.package, pin)));
        }
    }
}

/// The group that a net is in.
fn find(group: &HashMap<usize, usize>, net: usize) -> usize {
    let mut at = net;
    while let Some(&above) = group.get(&at).filter(|&&above| above != at) {
        at = above;
    }
    at
}
