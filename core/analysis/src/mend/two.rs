//! Two slips at once, where each spoils contacts of its own: contact by contact first, then the two changes together.
use std::fmt;

use gluewright_kernel::circuit::{Circuit, Label, Origin};
use gluewright_kernel::threads::side_by_side;

use super::{Edit, Place, Said, Search};
use crate::edit::edits_from_near;

/// Pairs at most that go through the runs.
const MOST_PAIRS: usize = 4000;

/// A change that makes some contacts agree in every run that was tried, and others not: it is a part of a mend, if it is
/// one. Nothing of it is proved.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Part {
    /// The change in words, as it reads after it was made.
    pub words: String,
    /// The line of the source that it changes.
    pub origin: Origin,
    /// The contacts that agree with it and do not without.
    pub contacts: Vec<Label>,
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let contacts: Vec<String> = self.contacts.iter().map(ToString::to_string).collect();
        write!(f, "a part of a mend, not proved: contacts {} would agree if {}", contacts.join(", "), self.words)?;
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

/// Parts for one contact that are told.
const MOST_PARTS: usize = 3;

impl Search {
    /// Tries pairs of these changes, one for some of the contacts that differ and one for the rest.
    pub(super) fn two(&mut self, replacement: &Circuit, edits: &[Edit]) {
        let driven = |label: &Label| {
            let contact = replacement.find_contact(label).and_then(|id| replacement.contacts().get(id.index()));
            let net = contact.and_then(|c| replacement.nets().get(c.net.index()));
            net.is_some_and(|n| !n.drivers.is_empty())
        };
        let sieve = &self.sieve;
        let (differ, rests) = sieve.failing(replacement, &sieve.contacts());
        let labels = sieve.called(&differ);
        let of = sieve.called(&sieve.contacts()).iter().filter(|l| driven(l)).count();
        let mut agreement = Agreement { differ: labels, of, parts: Vec::new() };
        if differ.len() < 2 {
            self.mends.agreement = Some(agreement);
            return;
        }
        // of what stands nearby, the whole formulas alone: there would be too many pairs
        let [near, ..] = edits_from_near(replacement, &agreement.differ);
        let all: Vec<&Edit> = edits.iter().chain(&near).collect();
        let limit = self.limit;
        let left = side_by_side(&all, |edit| {
            limit.over().is_none().then(|| {
                let (left, still_rests) = sieve.failing(&edit.apply(replacement), &differ);
                // a change that makes it swing mends nothing
                if rests && !still_rests { differ.clone() } else { left }
            })
        });
        let cut_short = left.iter().any(Option::is_none);
        let helps = all.into_iter().zip(left).filter_map(|(edit, left)| left.map(|left| (edit, left)));
        let helps: Vec<(&Edit, Vec<usize>)> = helps.filter(|(_, left)| left.len() < differ.len()).collect();
        for (edit, left) in &helps {
            let mended: Vec<usize> = differ.iter().copied().filter(|c| !left.contains(c)).collect();
            let contacts = sieve.called(&mended);
            if agreement.parts.iter().filter(|p| p.contacts == contacts).count() < MOST_PARTS {
                agreement.parts.push(Part { words: edit.words().to_owned(), origin: edit.origin.clone(), contacts });
            }
        }
        // what mends most contacts is a part of the likeliest pair
        agreement.parts.sort_by_key(|p| std::cmp::Reverse(p.contacts.len()));
        self.mends.agreement = Some(agreement);
        let mut pairs: Vec<(usize, usize)> = Vec::new();
        for (i, (_, a)) in helps.iter().enumerate() {
            for (j, (_, b)) in helps.iter().enumerate().skip(i + 1) {
                if a.iter().all(|contact| !b.contains(contact)) {
                    pairs.push((i, j));
                }
            }
        }
        pairs.sort_by_key(|(i, j)| i + j);
        self.mends.cut_short |= cut_short || pairs.len() > MOST_PAIRS;
        pairs.truncate(MOST_PAIRS);
        let both = |&(i, j): &(usize, usize)| helps.get(i).zip(helps.get(j)).map(|(a, b)| (a.0, b.0));
        let made = |pair: &(usize, usize)| both(pair).and_then(|(a, b)| a.apply_with(b, replacement));
        let said = |pair: &(usize, usize)| match both(pair) {
            Some((a, b)) => Said::of(&format!("{a}, and {b}"), &Origin::Nowhere),
            None => Said::of("", &Origin::Nowhere),
        };
        self.mends.pairs = self.through(Place::Replacement, &pairs, made, |_, c| Some(c), said);
    }
}
