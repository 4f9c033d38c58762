//! What a verdict says: proofs and refutations, put together for a person.
use std::collections::BTreeSet;
use std::sync::Arc;

use crate::machine::{Lanes, Machine, Unknown};
use crate::simulate::Shown;
use crate::solver::Solver;

use super::attempt::{Attempt, PATIENCE};
use super::candidates;
use super::certificate::Ground;
use super::generalise::Evidence;
use super::hidden::{Hidden, Of, Why};
use super::matching::{Closed, Relation};
use super::obligations::Certificate;
use super::pair::{ORIGINAL, Pair, REPLACEMENT};
use super::run::Run;
use super::start::Begin;
use super::walk::Facts;
use super::{Difference, Figures, Happening, Method, Proof, Refutation, SIDES, start};

impl Attempt<'_> {
    /// A run in words.
    pub(super) fn way(&self, run: &Run) -> String {
        let named = |c: usize, high: bool| {
            let contact = &self.pair.contacts[c];
            format!("{} {} {}", contact.label, contact.name, if high { "high" } else { "low" })
        };
        let levels: Vec<_> = (0..self.pair.contacts.len())
            .filter(|&c| self.pair.contacts[c].is_free)
            .map(|c| named(c, run.levels[c]))
            .collect();
        let mut way = match levels.as_slice() {
            [] => "at power-up".to_owned(),
            _ => format!("at power-up with {}", levels.join(", ")),
        };
        for event in &run.events {
            let changes: Vec<_> = event.iter().map(|&(c, high)| named(c, high)).collect();
            way.push_str(&format!(", then {}", changes.join(" and ")));
        }
        way
    }

    pub(super) fn walked(&self, facts: Facts) -> Proof {
        let mut proof = self.proved(Method::Walk { places: facts.places }, &facts.unknowns, &facts.fights);
        proof.ground.table = facts.table;
        proof
    }

    /// What every proof says, however it was found.
    pub(super) fn proved(&self, method: Method, met: &[(usize, Unknown)], fights: &[Vec<usize>; 2]) -> Proof {
        Proof {
            original: self.question.original.name.clone(),
            replacement: self.question.replacement.name.clone(),
            assumptions: self.assumptions(),
            method,
            matches: Vec::new(),
            unknowns: self.unknowns(met),
            races: self.races(met),
            acknowledged: Vec::new(),
            orders: Vec::new(),
            left_out: Vec::new(),
            untraced: Vec::new(),
            typical: Vec::new(),
            findings: self.findings(fights),
            figures: Figures {
                events: self.pair.events.len(),
                time: self.began.elapsed(),
                solver: Solver::version(),
                ..Figures::default()
            },
            parts: Vec::new(),
            certificate: None,
            ground: Ground {
                asked: Arc::new(self.asked.clone()),
                pair: Arc::new(self.pair.unlimited()),
                table: None,
                apart: Vec::new(),
            },
        }
    }

    pub(super) fn proof(&self, relation: Relation, begins: Vec<Vec<Begin>>, closed: &Closed) -> Proof {
        let pair = &self.pair;
        let circuits = [&self.question.original, &self.question.replacement];
        let name = |&((s, c), opposite): &((usize, usize), bool)| {
            let of = ["original", "replacement"][s];
            let cell = &pair.machines[s].cells()[c];
            let name = cell.net().map_or(cell.name.as_str(), |net| circuits[s].called(net));
            format!("{}{name} ({of})", if opposite { "¬" } else { "" })
        };
        let mut matches: Vec<String> = relation
            .classes
            .iter()
            .map(|class| {
                // the first bit of a class stands upright, and constants as what they are opposite to
                let turned = !class.is_constant && class.bits.first().is_some_and(|&(_, opposite)| opposite);
                let bits: Vec<_> = class.bits.iter().map(|&(bit, opposite)| name(&(bit, opposite != turned))).collect();
                match (class.is_constant, bits.len()) {
                    (true, _) => format!("always low: {}", bits.join(", ")),
                    (false, 1) => format!("on its own: {}", bits.join("")),
                    (false, _) => format!("same: {}", bits.join(" = ")),
                }
            })
            .collect();
        for cluster in &relation.clusters {
            if let Some(points) = cluster.points.as_ref().filter(|_| cluster.bits.len() > 1) {
                let bits: Vec<_> = cluster.bits.iter().map(|&(bit, _)| name(&(bit, false))).collect();
                matches.push(format!("in another code, {} combinations: {}", points.len(), bits.join(", ")));
            }
        }
        if !relation.alike.is_empty() {
            let contacts = relation.alike.iter().filter_map(|&c| pair.contacts.get(c));
            let names: Vec<_> = contacts.map(|c| format!("{} {}", c.label, c.name)).collect();
            matches.push(format!("held elsewhere, the same as far as contacts show it at rest: {}", names.join(", ")));
        }
        let proof = self.proved(Method::Induction, &closed.unknowns, &closed.fights);
        Proof {
            matches,
            figures: Figures {
                rounds: closed.rounds,
                questions: closed.questions,
                tables: closed.tables,
                structural: closed.structural,
                ..proof.figures
            },
            certificate: Some(Certificate { pair: Arc::new(self.pair.unlimited()), relation, begins }),
            ..proof
        }
    }

    fn findings(&self, fights: &[Vec<usize>; 2]) -> Vec<String> {
        let mut findings = self.unchecked.clone();
        match start::original_rests(&self.pair, self.question.effort) {
            Some(true) => {}
            Some(false) => findings.push("from some starts the original may not come to rest".to_owned()),
            None => findings.push("whether the original rests from every start: the solver gave up".to_owned()),
        }
        // for the whole pair this is asked once
        findings.extend((!self.is_part).then(|| self.unseen_restless()).flatten());
        for (side, of) in SIDES.iter().enumerate() {
            for &f in &fights[side] {
                let fight = &self.pair.machines[side].fights()[f];
                findings.push(format!(
                    "drivers of `{}` in the {} may fight: {}",
                    fight.net,
                    of,
                    fight.drivers.join(", ")
                ));
            }
        }
        findings
    }

    /// Logic of the original that no contact shows and that may never come to rest: no obstacle to a proof, but worth a
    /// look. Logic that is shown is asked about by itself.
    fn unseen_restless(&self) -> Option<String> {
        let original = &self.asked.original;
        let unseen = original.feedback_unseen();
        if unseen.is_empty() {
            return None;
        }
        let mut pair = Pair::new(
            Machine::new(&original.live_and_restless()),
            self.pair.machines[REPLACEMENT].clone(),
            self.pair.assumptions.clone(),
            self.pair.restrictions.clone(),
            &[],
        );
        pair.limits = self.pair.limits;
        let names = unseen.iter().map(|n| format!("`{n}`")).collect::<Vec<_>>().join(", ");
        for _ in 0..PATIENCE {
            match start::original_rests(&pair, self.question.effort) {
                Some(true) => return None,
                Some(false) => {
                    pair.limits.phases *= 2;
                    pair.limits.iterations *= 2;
                }
                None => {
                    return Some(format!(
                        "whether the part of the original that no contact shows rests from every start: the solver gave up; \
                         what chases itself there: {names}"
                    ));
                }
            }
        }
        // what is shown may be all that does not rest
        (start::original_rests(&self.pair, self.question.effort) == Some(true)).then(|| {
            format!(
                "from some starts a part of the original that no contact shows may not come to rest; what chases itself \
                 there: {names}"
            )
        })
    }

    /// The original's unknowns in words.
    fn unknowns(&self, met: &[(usize, Unknown)]) -> Vec<String> {
        let of = met.iter().filter(|&&(side, _)| side == ORIGINAL);
        of.map(|&(_, u)| self.pair.machines[ORIGINAL].describe(u)).collect()
    }

    /// Registers whose data, clear or preset can change in the moment of their clock, or depend on a net that floats then.
    fn races(&self, met: &[(usize, Unknown)]) -> Vec<Hidden> {
        let races = met.iter().filter(|(_, u)| matches!(u, Unknown::Race(_) | Unknown::Recovery(_)));
        let all: BTreeSet<Hidden> = races
            .filter_map(|&(side, u)| {
                let of = if side == ORIGINAL { Of::Original } else { Of::Replacement };
                let name = self.pair.machines[side].cell_of(u)?.name.clone();
                // floating nets that were met, and on which the data of this register depend
                let machine = &self.pair.machines[side];
                let floats =
                    machine.floats_behind(u).into_iter().filter(|&n| met.contains(&(side, Unknown::Floating(n))));
                let nets: Vec<String> = floats.filter_map(|n| machine.floating().get(n as usize)).cloned().collect();
                let why = if nets.is_empty() { Why::Race } else { Why::Floats { nets } };
                Some(Hidden { of, call: name.clone(), name, others: Vec::new(), why, reaches: Vec::new() })
            })
            .collect();
        all.into_iter().collect()
    }

    fn assumptions(&self) -> Vec<String> {
        let levels = self.question.assumptions.iter().map(|a| a.text.clone());
        levels.chain(self.question.restrictions.iter().map(|r| r.text.clone())).collect()
    }

    pub(super) fn refutation(&self, run: Run, shortest: bool) -> Refutation {
        let differs = |run: &Run| {
            let start = run.explain_most(&candidates::wishes(&self.partners, &run.cells), self.question.effort);
            let all = self.differences(run, &start);
            let labels = self.pair.contacts.iter().enumerate();
            labels.filter(|(_, c)| all.iter().any(|d| d.label == c.label)).map(|(c, _)| c).collect()
        };
        self.in_words(run.simplified(shortest, self.question.effort, differs), shortest)
    }

    /// The same of a run as it stands.
    pub(super) fn in_words(&self, mut run: Run, shortest: bool) -> Refutation {
        let pair = &self.pair;
        let named = |&(c, high): &(usize, bool)| (pair.contacts[c].label.clone(), pair.contacts[c].name.clone(), high);
        let levels = (0..pair.contacts.len())
            .filter(|&c| pair.contacts[c].is_free)
            .map(|c| named(&(c, run.levels[c])))
            .collect();
        let start = pair.machines[REPLACEMENT]
            .cells()
            .iter()
            .zip(&run.cells)
            .filter(|(c, _)| c.start.is_none())
            .map(|(c, &b)| (c.name.clone(), b))
            .collect();
        let events = run.events.iter().map(|e| Happening { changes: e.iter().map(named).collect() }).collect();
        let wishes = candidates::wishes(&self.partners, &run.cells);
        let explains = run.explain_most(&wishes, self.question.effort);
        let differences = self.differences(&run, &explains);
        run.pair = Arc::new(run.pair.unlimited());
        let evidence = Evidence {
            circuits: [&self.question.original, &self.question.replacement].map(|c| Arc::new(c.clone())),
            starts: [explains, run.cells.clone()],
            question: Arc::new(self.asked.clone()),
        };
        Refutation {
            orders: Vec::new(),
            original: self.question.original.name.clone(),
            replacement: self.question.replacement.name.clone(),
            assumptions: self.assumptions(),
            levels,
            start,
            events,
            differences,
            shortest,
            evidence,
            run,
        }
    }

    /// What the original shows in the last event from a start that explains all before it, beside the replacement.
    fn differences(&self, run: &Run, start: &[bool]) -> Vec<Difference> {
        let pair = &self.pair;
        let word = |b: &bool| if *b { u64::MAX } else { 0 };
        let levels: Vec<u64> = run.levels.iter().map(word).collect();
        let mut point = pair.awake(ORIGINAL, &levels, &start.iter().map(word).collect::<Vec<_>>()).point;
        let mut last = (point.clone(), Vec::new());
        for event in &run.events {
            let change: Vec<_> = event.iter().map(|(c, b)| (*c, word(b))).collect();
            let stepped = pair.step(&mut Lanes::default(), ORIGINAL, &point, &change, pair.ample());
            last = (std::mem::replace(&mut point, stepped.point), stepped.views);
        }
        let Some(shown) = run.shown.last() else { return Vec::new() };
        let mut differences = Vec::new();
        for (c, joined) in pair.contacts.iter().enumerate() {
            let show = |side: usize, seen: Vec<(bool, bool)>| {
                let pull = joined.ports[side].map_or_else(Default::default, |p| pair.machines[side].ports()[p].pull);
                let mut all: Vec<Shown> = seen.into_iter().map(|(d, l)| Shown::new(d, l, pull)).collect();
                all.dedup();
                all
            };
            let seen = pair.seen(ORIGINAL, c, &last.0, &last.1, 0).into_iter().map(|(d, l)| (d & 1 == 1, l & 1 == 1));
            let (original, replacement) = (show(ORIGINAL, seen.collect()), show(REPLACEMENT, shown[c].clone()));
            if original != replacement {
                differences.push(Difference {
                    label: joined.label.clone(),
                    name: joined.name.clone(),
                    pulse_only: original.last() == replacement.last(),
                    original,
                    replacement,
                });
            }
        }
        differences
    }
}
