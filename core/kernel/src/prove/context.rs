//! The induction step's symbolic context: two settled points that match, and where one kind of event leads from them.
use std::collections::{BTreeMap, HashMap};

use crate::machine::{Desk, Film, Freedom, Passed, Point, Symbolic, Unknown, View};
use crate::solver::{Answer, Solver};
use crate::terms::{Term, Terms};

use super::hypothesis::Hypothesis;
use super::invariant::Cluster;
use super::matching::{Bit, Class, Relation};
use super::pair::{Event, ORIGINAL, Pair, REPLACEMENT};

/// All that an induction step starts from.
#[derive(Clone)]
pub(super) struct Context {
    pub(super) terms: Terms,
    pub(super) levels: Vec<Term>,
    pub(super) points: [Point<Term>; 2],
    /// Both points are settled, and the assumptions hold.
    pub(super) hypothesis: Hypothesis,
    /// The number of parts of the hypothesis that stay whatever else is assumed.
    firm: usize,
    /// The variable of each class; false for one that is constant.
    pub(super) values: Vec<Term>,
    /// The class of each cell, by side.
    class_of: [Vec<usize>; 2],
    /// The classes in which a cell of the original may take what nobody knows.
    open: Vec<usize>,
    desks: [Desk<Term>; 2],
}

/// Where one kind of event leads.
pub(super) struct Case {
    /// The event is one that the board does.
    pub(super) may: Term,
    /// What the cells that moved hold after it, by side; the others hold what they held.
    next: [HashMap<u32, Term>; 2],
    /// Where a side does not come to rest.
    pub(super) unsettled: [Term; 2],
    /// Contacts at which the two may differ on the way, and where they do.
    pub(super) differ: Vec<(usize, Term)>,
    /// Classes whose bits may come apart, and where they do.
    pub(super) apart: Vec<(usize, Term)>,
    /// Unknowns that may occur, by side, and where they do.
    pub(super) met: Vec<(usize, Unknown, Term)>,
    /// What changed on the way, by side, if [`Context::films`] asks for it.
    pub(super) films: [Film<Term>; 2],
}

impl Case {
    /// Where any of these happens.
    pub(super) fn bad(&self, terms: &mut Terms) -> Term {
        let all = self.unsettled.iter().copied();
        let all = all.chain(self.apart.iter().map(|a| a.1)).chain(self.differ.iter().map(|d| d.1));
        terms.any(all)
    }
}

impl Context {
    pub(super) fn new(pair: &Pair, classes: &[Class]) -> Self {
        Context::with(pair, classes, false)
    }

    /// The same in which every cell has a variable of its own: that the classes hold is not assumed.
    pub(super) fn separate(pair: &Pair, classes: &[Class]) -> Self {
        Context::with(pair, classes, true)
    }

    fn with(pair: &Pair, classes: &[Class], separate: bool) -> Self {
        let mut terms = Terms::new();
        let levels: Vec<Term> =
            pair.contacts.iter().map(|c| if c.is_free { terms.variable() } else { Term::FALSE }).collect();
        let mut cells = [0, 1].map(|s| vec![Term::FALSE; pair.machines[s].cells().len()]);
        let mut class_of = [0, 1].map(|s| vec![usize::MAX; pair.machines[s].cells().len()]);
        let mut values = Vec::with_capacity(classes.len());
        for (i, class) in classes.iter().enumerate() {
            let value = if class.is_constant { Term::FALSE } else { terms.variable() };
            values.push(value);
            for &((s, c), opposite) in &class.bits {
                cells[s][c] = if separate { terms.variable() } else { value.inverted_if(opposite) };
                class_of[s][c] = i;
            }
        }
        let mut hypothesis = Vec::new();
        let points = [ORIGINAL, REPLACEMENT].map(|side| {
            // unknowns of a settled point: any that the hypothesis allows, on both sides
            let freedom = if side == ORIGINAL { Freedom::Usual } else { pair.against };
            let mut algebra = Symbolic::new(&mut terms, freedom);
            let outside = pair.outside(side, &levels, Term::FALSE);
            let point = pair.machines[side].point(&mut algebra, &outside, &cells[side]);
            for c in 0..pair.machines[side].cells().len() {
                let rests = pair.machines[side].rests(&mut algebra, &point, c);
                hypothesis.push(rests);
            }
            point
        });
        let mut algebra = Symbolic::new(&mut terms, Freedom::Usual);
        hypothesis.push(pair.allowed(&mut algebra, &levels));
        let may = |&((side, cell), _): &(Bit, bool)| {
            let machine = &pair.machines[ORIGINAL];
            side == ORIGINAL && (machine.may_load_unknown(cell) || machine.is_opened(cell))
        };
        let open = (0..classes.len()).filter(|&i| classes[i].bits.iter().any(may)).collect();
        let desks = [ORIGINAL, REPLACEMENT].map(|s| Desk::new(&pair.machines[s]));
        let hypothesis = Hypothesis::of(&terms, hypothesis);
        let firm = hypothesis.parts().len();
        Context { terms, levels, points, hypothesis, firm, values, class_of, open, desks }
    }

    /// Whether the cases are filmed phase by phase.
    pub(super) fn films(&mut self, wanted: bool) {
        self.desks.iter_mut().for_each(|d| d.film = wanted.then(Film::new));
    }

    /// Takes the clusters to have one of their combinations, and the contacts that are said to be alike to show the same at
    /// rest, instead of what was assumed before.
    pub(super) fn assume(&mut self, pair: &Pair, relation: &Relation) {
        self.hypothesis.truncate(self.firm);
        let mut more = Vec::new();
        for cluster in &relation.clusters {
            let values: Vec<Term> =
                cluster.classes.iter().map(|&i| self.values.get(i).copied().unwrap_or(Term::FALSE)).collect();
            more.push(cluster.holds(&mut self.terms, &values));
        }
        more.extend(self.contacts_differ(pair, &relation.alike, [&[]; 2]).into_iter().map(|(_, differs)| !differs));
        self.hypothesis.extend(&self.terms, more);
    }

    /// Where a cluster has none of its combinations after an event.
    pub(super) fn outside(&mut self, pair: &Pair, case: &Case, clusters: &[Cluster]) -> Term {
        let mut any = Term::FALSE;
        for cluster in clusters {
            let values: Vec<Term> =
                cluster.bits.iter().map(|&(bit, opposite)| self.after(pair, case, bit).inverted_if(opposite)).collect();
            let holds = cluster.holds(&mut self.terms, &values);
            any = self.terms.or(any, !holds);
        }
        any
    }

    /// Can this happen under the hypothesis?
    pub(super) fn ask(&self, solver: &mut Solver, goals: &[Term]) -> Answer {
        self.hypothesis.ask(solver, &self.terms, goals)
    }

    pub(super) fn contacts_differ(
        &mut self,
        pair: &Pair,
        contacts: &[usize],
        views: [&[View<Term>]; 2],
    ) -> Vec<(usize, Term)> {
        let mut differ = Vec::new();
        for &c in contacts {
            let seen = [0, 1].map(|s| pair.seen(s, c, &self.points[s], views[s], Term::FALSE));
            let alike = pair.alike(&mut self.terms, c, &seen[0], &seen[1]);
            if alike != Term::TRUE {
                differ.push((c, !alike));
            }
        }
        differ
    }

    /// What a cell holds after an event.
    pub(super) fn after(&self, pair: &Pair, case: &Case, (side, cell): Bit) -> Term {
        let moved = case.next[side].get(&(cell as u32)).copied();
        moved.unwrap_or_else(|| pair.machines[side].holds(&self.points[side], cell))
    }

    /// What becomes of both sides over an event.
    pub(super) fn case(&mut self, pair: &Pair, classes: &[Class], event: &Event) -> Case {
        let mut next_levels = self.levels.clone();
        for &c in &event.contacts {
            next_levels[c] = if event.contacts.len() == 1 { !self.levels[c] } else { self.terms.variable() };
        }
        let change: Vec<_> = event.contacts.iter().map(|&c| (c, next_levels[c])).collect();
        let card = pair.card(REPLACEMENT, &self.points[REPLACEMENT]);
        let mut algebra = Symbolic::new(&mut self.terms, pair.against);
        let room = (&mut self.desks[REPLACEMENT], &mut self.points[REPLACEMENT]);
        let replacement = pair.pass(&mut algebra, REPLACEMENT, room, &change, pair.limits);
        let may = pair.may(&mut algebra, &self.levels, &next_levels, &card);
        let mut met: Vec<_> = algebra.met.iter().map(|&(site, when, _)| (REPLACEMENT, site, when)).collect();
        // where nobody knows what a cell of the original loads, it loads what keeps it equal to the replacement: any
        // resolution is allowed, so one that is a function of what the replacement does will do
        let chosen = self.in_favour(pair, classes);
        let moved = |point: &Point<Term>, side: usize, passed: &Passed<Term>| {
            let held = |&c: &u32| (c, pair.machines[side].holds(point, c as usize));
            passed.moved.iter().map(held).collect::<HashMap<u32, Term>>()
        };
        let after_replacement = moved(&self.points[REPLACEMENT], REPLACEMENT, &replacement);
        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Usual);
        algebra.chosen = chosen;
        algebra.order = pair.hostile.then_some(Freedom::Free);
        let room = (&mut self.desks[ORIGINAL], &mut self.points[ORIGINAL]);
        let original = pair.pass(&mut algebra, ORIGINAL, room, &change, pair.limits);
        met.extend(algebra.met.into_iter().map(|(site, when, _)| (ORIGINAL, site, when)));
        let after_original = moved(&self.points[ORIGINAL], ORIGINAL, &original);
        let films = self.desks.each_mut().map(|d| d.film.as_mut().map(std::mem::take).unwrap_or_default());
        for (desk, point) in self.desks.iter_mut().zip(&mut self.points) {
            desk.undo(point);
        }
        // in an event that the board does not do no unknown counts
        for (_, _, when) in &mut met {
            *when = self.terms.and(may, *when);
        }
        // bits that did not move are as the hypothesis has them
        let mut moved: Vec<usize> = [&original, &replacement]
            .iter()
            .enumerate()
            .flat_map(|(s, step)| step.moved.iter().map(move |&c| (s, c as usize)))
            .filter_map(|(s, c)| self.class_of[s].get(c).copied())
            .collect();
        moved.sort_unstable();
        moved.dedup();
        let next = [after_original, after_replacement];
        let points = &self.points;
        let held = |(s, c): Bit| {
            let moved = next[s].get(&(c as u32)).copied();
            moved.unwrap_or_else(|| pair.machines[s].holds(&points[s], c))
        };
        let apart = apart(&mut self.terms, moved.into_iter().filter_map(|i| Some((i, classes.get(i)?))), held);
        let views = [&original.views[..], &replacement.views[..]];
        let differ = self.contacts_differ(pair, &pair.touched(views), views);
        Case { may, next, unsettled: [original.unsettled, replacement.unsettled], differ, apart, met, films }
    }

    /// What a cell of the original takes where nobody knows what it loads: what its class has after the event, from the
    /// replacement, which has taken it.
    fn in_favour(&self, pair: &Pair, classes: &[Class]) -> BTreeMap<Unknown, Term> {
        let mut chosen = BTreeMap::new();
        for class in self.open.iter().filter_map(|&i| classes.get(i)) {
            let lead = match class.bits.iter().find(|((side, _), _)| *side == REPLACEMENT) {
                _ if class.is_constant => Some(Term::FALSE),
                Some(&((_, cell), opposite)) => {
                    Some(pair.machines[REPLACEMENT].holds(&self.points[REPLACEMENT], cell).inverted_if(opposite))
                }
                None => None,
            };
            let Some(lead) = lead else { continue };
            for &((side, cell), opposite) in &class.bits {
                if side == ORIGINAL {
                    chosen.insert(Unknown::Load(cell as u32), lead.inverted_if(opposite));
                    if !pair.hostile {
                        chosen.insert(Unknown::Order(cell as u32), lead.inverted_if(opposite));
                    }
                }
            }
        }
        chosen
    }
}

/// Classes whose bits may come apart, and where they do.
pub(super) fn apart<'c>(
    terms: &mut Terms,
    classes: impl IntoIterator<Item = (usize, &'c Class)>,
    held: impl Fn(Bit) -> Term,
) -> Vec<(usize, Term)> {
    let mut all = Vec::new();
    for (i, class) in classes {
        let (mut value, mut apart) = (class.is_constant.then_some(Term::FALSE), Term::FALSE);
        for &(bit, opposite) in &class.bits {
            let bit = held(bit).inverted_if(opposite);
            let differs = terms.xor(*value.get_or_insert(bit), bit);
            apart = terms.or(apart, differs);
        }
        if apart != Term::FALSE {
            all.push((i, apart));
        }
    }
    all
}
