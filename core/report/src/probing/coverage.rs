//! Which single faults of the adapter the sheet's steps find, and the further steps that find more of them.
use super::Sheet;
use super::action::Action;
use super::adapter::Fault;
use super::bench::Bench;
use super::faulty::Faulty;
use super::moves::{Contacts, Draw};
use gluewright_kernel::machine::ternary::Ternary;

/// So many steps at most are added for faults that the others don't find.
const MORE: usize = 80;
/// So many faults at most are looked for at a time.
const FEW: usize = 12;
/// So many things are done at most in a walk.
const LONGEST: usize = 64;
/// So many walks in a row may find nothing before no more is looked for.
const PATIENCE: usize = 16;

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
    /// Steps for faults that are not found yet: drawn walks with a few of these faults at a time, and of a walk that shows one
    /// of them what it takes to show it.
    pub(super) fn steps_for_faults(
        &self,
        contacts: &Contacts<'_>,
        resets: &[(usize, bool)],
        from: &Bench<'m>,
        faulty: &Faulty<'m>,
    ) -> Vec<Vec<Action>> {
        let (mut now, mut faulty) = (from.clone(), faulty.clone());
        let mut draw = Draw(0xD1B5_4A32_D192_ED03);
        let (mut steps, mut idle) = (Vec::new(), 0);
        while steps.len() < MORE && idle < PATIENCE && faulty.all().any(|(_, found)| !found) {
            let few = faulty.narrowed(FEW, &mut draw);
            let Some(walk) = self.walk(contacts, resets, &now, &few, &mut draw) else {
                idle += 1;
                continue;
            };
            let step = self.shortened(contacts, walk, &now, &few);
            if !contacts.try_whatever_comes(&step, &mut now) {
                break;
            }
            let seen = faulty.seen();
            step.iter().for_each(|action| self.play_and_read(action, &mut faulty));
            idle = if faulty.seen() > seen { 0 } else { idle + 1 };
            steps.push(step);
        }
        steps
    }

    /// A drawn walk up to the first reading that finds something.
    fn walk(
        &self,
        contacts: &Contacts<'_>,
        resets: &[(usize, bool)],
        from: &Bench<'m>,
        faulty: &Faulty<'m>,
        draw: &mut Draw,
    ) -> Option<Vec<Action>> {
        let (mut now, mut tried, mut walk) = (from.clone(), faulty.clone(), Vec::new());
        for _ in 0..LONGEST {
            let Some(action) = contacts.drawn_single(&now, resets, draw) else { continue };
            let mut bench = now.clone();
            if !contacts.try_whatever_comes(std::slice::from_ref(&action), &mut bench) {
                continue;
            }
            self.play_and_read(&action, &mut tried);
            walk.push(action);
            if tried.seen() > faulty.seen() {
                return Some(walk);
            }
            now = bench;
        }
        None
    }

    /// Its actions without what it does not take to see more than that: the last are left out first, so that what is before
    /// stands as it stood.
    fn shortened(
        &self,
        contacts: &Contacts<'_>,
        walk: Vec<Action>,
        from: &Bench<'m>,
        faulty: &Faulty<'m>,
    ) -> Vec<Action> {
        let mut stands = vec![(from.clone(), faulty.clone())];
        for action in &walk {
            let Some((mut now, mut tried)) = stands.last().cloned() else { break };
            self.play_and_read(action, &mut tried);
            contacts.try_whatever_comes(std::slice::from_ref(action), &mut now);
            stands.push((now, tried));
        }
        let mut kept: Vec<Action> = Vec::new();
        for (at, (action, (mut now, mut tried))) in walk.into_iter().zip(stands).enumerate().rev() {
            let finds = kept.iter().rev().all(|action| {
                self.play_and_read(action, &mut tried);
                contacts.try_whatever_comes(std::slice::from_ref(action), &mut now)
            });
            let is_last = at == 0 && kept.is_empty();
            if is_last || !finds || tried.seen() <= faulty.seen() {
                kept.push(action);
            }
        }
        kept.reverse();
        kept
    }

    /// The actions in pieces, each up to the next moment at which something new is found: where one package could lead another
    /// one astray, it is read before it does.
    pub(super) fn pieces(&self, actions: &[Action], faulty: &Faulty<'m>) -> Vec<Vec<Action>> {
        if !faulty.are_several() {
            return vec![actions.to_vec()];
        }
        let (mut faulty, mut pieces, mut piece) = (faulty.clone(), Vec::new(), Vec::new());
        for action in actions {
            let parts = action.parts();
            let mut done = 0;
            for (part, n) in parts.iter().zip(1..) {
                let seen = faulty.seen();
                self.play_and_read(part, &mut faulty);
                if faulty.seen() > seen {
                    piece.extend(parts.iter().take(n).skip(done).cloned());
                    pieces.push(std::mem::take(&mut piece));
                    done = n;
                }
            }
            // an action that nothing interrupts stays as it is worded
            match done {
                0 => piece.push(action.clone()),
                _ => piece.extend(parts.into_iter().skip(done)),
            }
        }
        if !piece.is_empty() {
            pieces.push(piece);
        }
        pieces
    }

    /// Does an action on the adapter; where there are several packages, everything is read after each event.
    fn play_and_read(&self, action: &Action, faulty: &mut Faulty<'_>) {
        for event in action.events() {
            self.event_on(&event, faulty);
            if faulty.are_several() {
                faulty.moment();
            }
        }
        faulty.moment();
    }

    /// Does the actions on the adapter.
    pub(super) fn play_faulty(&self, actions: &[Action], faulty: &mut Faulty<'_>) {
        for event in actions.iter().flat_map(Action::events) {
            self.event_on(&event, faulty);
        }
    }

    fn event_on(&self, event: &[(usize, Ternary)], faulty: &mut Faulty<'_>) {
        let port = |row: usize| faulty.bare().whole.port(&self.probing.rows.get(row)?.label);
        let change: Vec<_> = event.iter().filter_map(|&(row, level)| Some((port(row)?, level))).collect();
        faulty.event(&change);
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
