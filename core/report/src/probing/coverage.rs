//! Which single faults of the adapter the sheet's steps find, and the further steps that find more of them.
use super::Sheet;
use super::action::Action;
use super::adapter::Fault;
use super::bench::Bench;
use super::faulty::Faulty;
use super::moves::{Contacts, Draw};

/// So many steps at most are added for faults that the others don't find.
const MORE: usize = 10;
/// So many changes are tried for one of them, alone and after another.
const TRIES: usize = 24;

/// What the steps of a sheet find of the single faults that an adapter's wires can have.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Coverage {
    /// Open wires, shorts of neighbours, exchanges of two wires; of each how many there are.
    pub of: [usize; 3],
    /// How many of them the steps find that show the card's work: without those that were added for the adapter's sake.
    pub by_first: [usize; 3],
    /// How many all steps find.
    pub found: [usize; 3],
    /// What no step finds, with how to check it while no supply is on.
    pub missed: Vec<Missed>,
}

/// A fault that no step finds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missed {
    /// The fault.
    pub fault: String,
    /// How to check that it is not there.
    pub check: String,
}

impl Coverage {
    /// What the sheet says of it before its steps.
    pub fn words(&self) -> String {
        let sum = |of: &[usize; 3]| of.iter().sum::<usize>();
        let [opens, shorts, exchanges] = self.found;
        format!(
            "These steps find {} of {} single faults of the adapter's wires ({opens} of {} open, {shorts} of {} neighbours \
             shorted, {exchanges} of {} exchanged); the steps that show the card's work alone find {}.",
            sum(&self.found),
            sum(&self.of),
            self.of[0],
            self.of[1],
            self.of[2],
            sum(&self.by_first)
        )
    }
}

/// The kind of a fault, as a place in the counts.
fn kind(fault: Fault) -> usize {
    match fault {
        Fault::OpenPin(_) | Fault::OpenContact(_) => 0,
        Fault::Short(..) => 1,
        Fault::Exchange(..) => 2,
    }
}

fn counted(faulty: &Faulty<'_>, wanted: impl Fn(bool) -> bool) -> [usize; 3] {
    let mut all = [0; 3];
    for (fault, _) in faulty.all().filter(|(_, found)| wanted(*found)) {
        if let Some(count) = all.get_mut(kind(fault)) {
            *count += 1;
        }
    }
    all
}

impl<'m> Sheet<'m> {
    /// Steps for faults that are not found yet.
    pub(super) fn steps_for_faults(
        &self,
        contacts: &Contacts<'_>,
        from: &Bench<'m>,
        faulty: &Faulty<'m>,
    ) -> Vec<Vec<Action>> {
        let (mut now, mut faulty) = (from.clone(), faulty.clone());
        let (mut draw, mut steps) = (Draw(0xD1B5_4A32_D192_ED03), Vec::new());
        while steps.len() < MORE && faulty.all().any(|(_, found)| !found) {
            let mut best: Option<(usize, Vec<Vec<Action>>, Bench<'m>, Faulty<'m>)> = None;
            let first = contacts.candidates(&now, &mut draw);
            for after in 0..2 {
                for _ in 0..TRIES {
                    let (mut bench, mut tried, mut way) = (now.clone(), faulty.clone(), Vec::new());
                    for at in 0..=after {
                        let further = if at > 0 { contacts.candidates(&bench, &mut draw) } else { Vec::new() };
                        let candidates = if at > 0 { &further } else { &first };
                        let Some(actions) = candidates.get(draw.below(candidates.len())).cloned() else { break };
                        let mut next = bench.clone();
                        if !contacts.try_all(&actions, &mut next) {
                            break;
                        }
                        self.play_faulty(&actions, &mut tried);
                        tried.moment();
                        (bench, way) = (next, [way, vec![actions]].concat());
                    }
                    let gain = tried.found().saturating_sub(faulty.found());
                    if gain > 0 && best.as_ref().is_none_or(|(most, ..)| gain > *most) {
                        best = Some((gain, way, bench, tried));
                    }
                }
                if best.is_some() {
                    break;
                }
            }
            let Some((_, way, bench, tried)) = best else { break };
            steps.extend(way);
            (now, faulty) = (bench, tried);
        }
        steps.truncate(MORE);
        steps
    }

    /// Does the actions on the adapter.
    pub(super) fn play_faulty(&self, actions: &[Action], faulty: &mut Faulty<'_>) {
        for event in actions.iter().flat_map(Action::events) {
            let change: Vec<_> = event
                .iter()
                .filter_map(|&(row, level)| {
                    Some((faulty.bare().whole.port(&self.probing.rows.get(row)?.label)?, level))
                })
                .collect();
            faulty.event(&change);
        }
    }
}

/// What was found after all steps, beside what the first ones found.
pub(super) fn coverage(faulty: &Faulty<'_>, by_first: [usize; 3]) -> Coverage {
    let bare = faulty.bare();
    let missed = faulty.all().filter(|(_, found)| !found);
    Coverage {
        of: counted(faulty, |_| true),
        by_first,
        found: counted(faulty, |found| found),
        missed: missed.map(|(fault, _)| Missed { fault: bare.words(fault), check: bare.cold_check(fault) }).collect(),
    }
}

/// How many of each kind are found so far.
pub(super) fn found(faulty: &Faulty<'_>) -> [usize; 3] {
    counted(faulty, |found| found)
}
