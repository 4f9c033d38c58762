//! Several slips at once: for some of the contacts that differ first, then the changes together.
use std::collections::BTreeSet;
use std::fmt;

use gluewright_kernel::circuit::{Circuit, Label, Origin};
use gluewright_kernel::prove::Failure;
use gluewright_kernel::threads::side_by_side;

use super::filter::Filter;
use super::{Edit, Place, Said, Search};
use crate::edit::{edits_by_line, edits_from_near, effect};

/// A change that makes some contacts agree and others not: a part of a mend.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Part {
    /// The change in words, as it reads after it was made.
    pub words: String,
    /// The line of the source that it changes.
    pub origin: Origin,
    /// The contacts that agree with it and do not without.
    pub contacts: Vec<Label>,
    /// Whether it is proved that they do; else they agree in every run that was tried.
    pub proved: bool,
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let contacts: Vec<String> = self.contacts.iter().map(ToString::to_string).collect();
        let (how, agree) = if self.proved { ("", "are proved equal") } else { (", not proved", "would agree") };
        write!(f, "a part of a mend{how}: contacts {} {agree} if {}", contacts.join(", "), self.words)?;
        match &self.origin {
            Origin::Nowhere => Ok(()),
            Origin::Line { line, .. } => write!(f, " (line {line})"),
        }
    }
}

/// How far the two sides agree as they are, in the runs that were tried.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Agreement {
    /// The contacts that differ, each looked at by itself.
    pub differ: Vec<Label>,
    /// The contacts that the replacement drives.
    pub of: usize,
    /// Single changes that make some of them agree, for each contact the likelier ones first.
    pub parts: Vec<Part>,
}

/// The most parts for the same contacts that are reported.
const MOST_PARTS: usize = 3;
/// The most changes for the same contacts that are asked about, and that are combined with others.
const MOST_ASKED: usize = 8;
const MOST_KEPT: usize = 3;
/// The most combinations of changes that are simulated.
const MOST_TOGETHER: usize = 1000;
/// The most changes that pass all runs and are asked about at length, because of what another slip does wrong.
pub(super) const MOST_OPEN: usize = 3;
/// Lists of what stands nearby.
const STAGES: usize = 5;
/// The most changes for each of which another one is looked for that mends the rest.
const MOST_FIRST: usize = 2;
/// The most times that the search begins again because more contacts turn out to differ.
const MOST_ROUNDS: usize = 3;

/// What is known of a change for the contacts that it mends in all runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Known {
    Proved,
    Open,
    Refuted,
}

/// Changes of the same effect that make some contacts agree.
struct Help {
    ways: Vec<Edit>,
    effect: u64,
    contacts: BTreeSet<usize>,
    /// Whether it changes what other contacts show that differ.
    reaches_more: bool,
    known: Known,
}

impl Help {
    fn words(&self) -> String {
        self.ways.first().map_or_else(String::new, ToString::to_string)
    }
}

impl Search {
    /// Tries several changes together, each of which makes some of the contacts agree that differ.
    pub(super) fn several(&mut self, replacement: &Circuit, edits: &[Edit]) {
        let driven = |label: &Label| {
            let contact = replacement.find_contact(label).and_then(|id| replacement.contacts().get(id.index()));
            let net = contact.and_then(|c| replacement.nets().get(c.net.index()));
            net.is_some_and(|n| !n.drivers.is_empty())
        };
        let all = self.filter.contacts();
        let of = self.filter.called(&all).iter().filter(|l| driven(l)).count();
        // one slip may hide behind another: more runs than refuted this one
        let limit = self.limit;
        self.filter.draws_against(&limit, |_| false);
        for changed in std::mem::take(&mut self.open) {
            // right as far as can be seen: what it still does wrong is the other slip
            if self.limit.over().is_none() && !self.filter.refutes_replacement(&changed) {
                let question = self.ask_about(Place::Replacement, changed).in_time(self.work.hidden());
                if let Err(Failure::Refuted(r)) = question.ask() {
                    self.filter.learn(&r);
                }
            }
        }
        let mut differ: BTreeSet<usize> = BTreeSet::new();
        for _ in 0..MOST_ROUNDS {
            let (now, rests) = self.filter.failing(replacement, &all);
            let now: BTreeSet<usize> = now.into_iter().collect();
            if now == differ || !self.mends.found.is_empty() {
                break;
            }
            differ = now;
            let parts = self.round(replacement, edits, (&differ, rests));
            self.mends.agreement = Some(Agreement { differ: self.called(&differ), of, parts });
        }
    }

    fn called(&self, contacts: &BTreeSet<usize>) -> Vec<Label> {
        self.filter.called(&contacts.iter().copied().collect::<Vec<_>>())
    }

    /// Once, for these contacts that differ; gives the parts of a mend.
    fn round(&mut self, replacement: &Circuit, edits: &[Edit], (differ, rests): (&BTreeSet<usize>, bool)) -> Vec<Part> {
        let mut helps: Vec<Help> = Vec::new();
        // what is missing, or another signal, is looked for where nothing else has been found
        for stage in 0..=STAGES {
            if differ.len() < 2 || !self.mends.found.is_empty() {
                break;
            }
            let mended = helps.iter().filter(|help| help.known != Known::Refuted).flat_map(|help| &help.contacts);
            let mended: BTreeSet<usize> = mended.copied().collect();
            let left: BTreeSet<usize> = differ.difference(&mended).copied().collect();
            let list = match stage.checked_sub(1) {
                None => edits.to_vec(),
                Some(near) if left.is_empty() && near > 1 => break,
                Some(near) => {
                    let contacts = self.called(if left.is_empty() { differ } else { &left });
                    edits_from_near(replacement, &contacts).into_iter().nth(near).unwrap_or_default()
                }
            };
            self.take_up(replacement, &list, (differ, rests), &mut helps);
            self.ask_each(replacement, differ, &mut helps);
            self.together(replacement, differ, &helps);
        }
        if self.mends.found.is_empty() && covers(differ, &helps).is_empty() {
            self.one_after_the_other(replacement, edits, &helps);
        }
        let mut parts: Vec<Part> = Vec::new();
        // what mends most contacts is a part of the likeliest pair
        helps.sort_by_key(|help| (std::cmp::Reverse(help.contacts.len()), help.known, help.reaches_more));
        for help in helps.iter().filter(|help| help.known != Known::Refuted) {
            let contacts = self.called(&help.contacts);
            if let Some(edit) = help.ways.first()
                && parts.iter().filter(|p| p.contacts == contacts).count() < MOST_PARTS
            {
                let (words, origin) = (edit.words().to_owned(), edit.origin.clone());
                parts.push(Part { words, origin, contacts, proved: help.known == Known::Proved });
            }
        }
        parts
    }

    /// The changes of a list that make some contacts agree in every run.
    fn take_up(
        &mut self,
        replacement: &Circuit,
        list: &[Edit],
        (differ, rests): (&BTreeSet<usize>, bool),
        helps: &mut Vec<Help>,
    ) {
        let (filter, limit) = (&self.filter, self.limit);
        let soonest = filter.soonest(replacement, &differ.iter().copied().collect::<Vec<_>>());
        let right: Vec<usize> = filter.contacts().into_iter().filter(|c| !differ.contains(c)).collect();
        let agreeing = side_by_side(list, |edit| {
            limit.over().is_none().then(|| {
                let made = edit.apply(replacement);
                let contacts: BTreeSet<usize> = filter.agreeing(&made, &soonest, rests).into_iter().collect();
                // a change that makes another contact differ is no part of a mend
                if contacts.is_empty() || !filter.failing(&made, &right).0.is_empty() {
                    return None;
                }
                let others: BTreeSet<usize> = differ.difference(&contacts).copied().collect();
                Some((contacts, effect(&made), filter.changes(&made, &others)))
            })
        });
        for (edit, agreeing) in list.iter().zip(agreeing) {
            self.mends.cut_short |= agreeing.is_none();
            let Some((contacts, effect, reaches_more)) = agreeing.flatten() else { continue };
            match helps.iter_mut().find(|help| help.effect == effect) {
                Some(help) => help.ways.push(edit.clone()),
                None => {
                    helps.push(Help { ways: vec![edit.clone()], effect, contacts, reaches_more, known: Known::Open })
                }
            }
        }
        // of two for the same contacts the one that leaves the others alone is likelier
        helps.sort_by_key(|help| help.reaches_more);
    }

    /// Asks about those that may be a part of the whole, for their own contacts alone.
    fn ask_each(&mut self, replacement: &Circuit, differ: &BTreeSet<usize>, helps: &mut [Help]) {
        let mut sets: Vec<BTreeSet<usize>> = covers(differ, helps).into_iter().flatten().collect();
        sets.sort_by_key(|set| std::cmp::Reverse(set.len()));
        sets.dedup();
        for set in sets {
            let (mut asked, mut kept) = (0, 0);
            for help in helps.iter_mut().filter(|help| help.contacts == set) {
                if help.known == Known::Open && asked < self.work.most(MOST_ASKED) && kept < self.work.most(MOST_KEPT) {
                    asked += 1;
                    help.known = self.agrees(replacement, differ, help);
                }
                kept += usize::from(help.known == Known::Proved);
            }
        }
    }

    /// Whether these contacts are equal with a change, whatever the others show that differ.
    fn agrees(&mut self, replacement: &Circuit, differ: &BTreeSet<usize>, help: &Help) -> Known {
        let Some(made) = help.ways.first().map(|edit| edit.apply(replacement)) else { return Known::Refuted };
        let contacts: Vec<usize> = help.contacts.iter().copied().collect();
        if self.limit.over().is_some() {
            return Known::Open;
        }
        let is_refuted = |filter: &Filter| !filter.failing(&made, &contacts).0.is_empty();
        if is_refuted(&self.filter) {
            return Known::Refuted;
        }
        self.mends.asked += 1;
        let others: Vec<usize> = differ.difference(&help.contacts).copied().collect();
        let original = self.question.original();
        let nets: Vec<String> = self
            .filter
            .called(&others)
            .iter()
            .filter_map(|label| original.find_contact(label))
            .filter_map(|id| original.contacts().get(id.index()))
            .map(|contact| original.called(contact.net).to_owned())
            .collect();
        let question = nets.into_iter().fold(self.ask_about(Place::Replacement, made.clone()), |question, net| {
            question.untraced(Some(net), "another change may be for it")
        });
        match question.in_part().to_depth(0).walking(0).ask() {
            Ok(_) => Known::Proved,
            Err(Failure::Refuted(r)) => {
                self.filter.learn(&r);
                Known::Refuted
            }
            Err(_) => Known::Open,
        }
    }

    /// Those of different contacts together.
    fn together(&mut self, replacement: &Circuit, differ: &BTreeSet<usize>, helps: &[Help]) {
        let mut all: Vec<Vec<usize>> = Vec::new();
        for sets in covers(differ, helps) {
            let mut together: Vec<Vec<usize>> = vec![Vec::new()];
            for set in sets {
                let of = helps.iter().enumerate().filter(|(_, h)| h.contacts == set && h.known != Known::Refuted);
                let mut kept: Vec<(Known, usize)> = of.map(|(k, h)| (h.known, k)).collect();
                kept.sort_unstable();
                if kept.iter().any(|k| k.0 == Known::Proved) {
                    kept.retain(|k| k.0 == Known::Proved);
                }
                kept.truncate(self.work.most(MOST_KEPT));
                let with = |more: &Vec<usize>| kept.iter().map(|k| [&more[..], &[k.1]].concat()).collect::<Vec<_>>();
                together = together.iter().flat_map(with).collect();
            }
            all.extend(together);
        }
        all.sort_by_key(|of| (of.len(), of.iter().sum::<usize>()));
        all.truncate(self.work.most(MOST_TOGETHER));
        let of = |several: &Vec<usize>| several.iter().filter_map(|&k| helps.get(k)).collect::<Vec<_>>();
        let made = |several: &Vec<usize>| ways(&of(several), replacement);
        let said = |several: &Vec<usize>| {
            let words: Vec<String> = of(several).iter().map(|help| help.words()).collect();
            Said::of(&words.join(", and "), &Origin::Nowhere)
        };
        self.mends.pairs += self.through(Place::Replacement, &all, made, |_, c| Some(c), said);
    }

    /// With a change that is right for some contacts, another one for the rest, which it may bear on too.
    fn one_after_the_other(&mut self, replacement: &Circuit, edits: &[Edit], helps: &[Help]) {
        let mut first: Vec<&Help> = helps.iter().filter(|help| help.known != Known::Refuted).collect();
        first.sort_by_key(|help| (help.known, help.reaches_more, std::cmp::Reverse(help.contacts.len())));
        for help in first.into_iter().take(self.work.most(MOST_FIRST)) {
            let Some(edit) = help.ways.first() else { continue };
            let made = edit.apply(replacement);
            let (left, _) = self.filter.failing(&made, &self.filter.contacts());
            let [whole, inside, ..] = edits_from_near(&made, &self.filter.called(&left));
            let said = |other: &Edit| Said::of(&format!("{edit}, and {other}"), &Origin::Nowhere);
            for list in [edits_by_line(&made), whole, inside] {
                if self.mends.found.is_empty() {
                    let with = |other: &Edit| Some(other.apply(&made));
                    self.mends.pairs += self.through(Place::Replacement, &list, with, |_, c| Some(c), said);
                }
            }
            if self.mends.found.is_empty() {
                let written: Vec<&Edit> = edits.iter().filter(|e| e.is_of_source()).collect();
                let with = |other: &&Edit| Edit::apply_all(&[edit, other], replacement);
                self.mends.pairs +=
                    self.through(Place::Replacement, &written, with, |_, c| Some(c), |other: &&Edit| said(other));
            }
        }
    }
}

/// Two sets of contacts that some changes mend and that are all that differ together, or three of them if there are no two.
fn covers(differ: &BTreeSet<usize>, helps: &[Help]) -> Vec<Vec<BTreeSet<usize>>> {
    let mut sets: Vec<&BTreeSet<usize>> = Vec::new();
    for help in helps.iter().filter(|help| help.known != Known::Refuted && help.contacts.len() < differ.len()) {
        if !sets.contains(&&help.contacts) {
            sets.push(&help.contacts);
        }
    }
    let is_all = |of: &[&BTreeSet<usize>]| differ.iter().all(|c| of.iter().any(|set| set.contains(c)));
    let (mut two, mut three) = (Vec::new(), Vec::new());
    for (i, &a) in sets.iter().enumerate() {
        for (j, &b) in sets.iter().enumerate().skip(i + 1) {
            if is_all(&[a, b]) {
                two.push(vec![a.clone(), b.clone()]);
                continue;
            }
            let others = sets.iter().skip(j + 1).filter(|&&c| is_all(&[a, b, c]));
            three.extend(others.map(|&c| vec![a.clone(), b.clone(), c.clone()]));
        }
    }
    if two.is_empty() { three } else { two }
}

/// The circuit with a change of each of these.
fn ways(of: &[&Help], replacement: &Circuit) -> Option<Circuit> {
    let first: Vec<&Edit> = of.iter().filter_map(|help| help.ways.first()).collect();
    Edit::apply_all(&first, replacement).or_else(|| {
        // two of them may be made in different ways
        let plain = of.iter().map(|help| help.ways.iter().find(|edit| !edit.is_of_source()));
        Edit::apply_all(&plain.collect::<Option<Vec<_>>>()?, replacement)
    })
}
