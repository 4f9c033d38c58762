//! A pair that was refuted: whether its sequence replays elsewhere, and whether a shorter one does.
use std::collections::BTreeMap;

use gluewright::circuit::{Direction, Label};
use gluewright::prove::Refutation;

use super::case::Judging;
use crate::icarus;
use crate::slice::slices;
use crate::walk::{Found, Sequence};

/// A refutation's sequence, as the walk takes it.
pub fn sequence(r: &Refutation) -> Sequence {
    let plain = |l: &[(Label, String, bool)]| l.iter().map(|(label, _, high)| (label.clone(), *high)).collect();
    Sequence { levels: plain(&r.levels), events: r.events.iter().map(|e| plain(&e.changes)).collect() }
}

/// A sequence without one of its events; nothing if a later event would then change nothing, or one that takes several contacts
/// along would change only some of them.
fn without(whole: &Sequence, left_out: usize) -> Option<Sequence> {
    let mut less = whole.clone();
    less.events.remove(left_out);
    let mut now: BTreeMap<Label, bool> = less.levels.iter().cloned().collect();
    let changes = |now: &mut BTreeMap<Label, bool>, event: &[(Label, bool)]| {
        event.iter().all(|(label, high)| now.insert(label.clone(), *high) != Some(*high))
    };
    less.events.iter().all(|event| changes(&mut now, event)).then_some(less)
}

impl Judging<'_> {
    pub(super) fn refuted(&mut self, r: &Refutation) {
        self.t.refuted = 1;
        let sequence = sequence(r);
        let mut replayed = self.walk().replays(&sequence, &r.start);
        // a few contacts that nothing explains together are enough, and have fewer starts
        let mut few: Vec<Label> = r.differences.first().map(|d| d.label.clone()).into_iter().collect();
        if replayed.is_none() {
            let unexplained = self.few_contacts(r).into_iter().find(|labels| {
                let [original, replacement] = slices(self.case.original, self.case.replacement, labels.iter().cloned());
                self.walk_of(&original, &replacement).replays(&sequence, &r.start) == Some(true)
            });
            if let Some(labels) = unexplained {
                replayed = Some(true);
                few = labels;
            }
        }
        match replayed {
            Some(false) => {
                return self.wrong(&format!("refuted, but the walk explains it, {:?}: {r}", self.walk().run()));
            }
            None => {}
            Some(true) => {
                self.t.replayed = 1;
                match if self.bounds.shortest { self.walk().run() } else { Found::TooLarge } {
                    Found::Differs(s) if r.shortest && s.events.len() != r.events.len() => {
                        let (claimed, found) = (r.events.len(), s.events.len());
                        self.wrong(&format!("no shorter than {claimed} claimed, {found} found: {s:?} {r}"));
                    }
                    Found::Differs(s) => {
                        self.t.shortest = usize::from(r.shortest);
                        self.lengths(r, s.events.len());
                    }
                    Found::Refines(_) => self.wrong(&format!("refuted, but the walk finds nothing: {r}")),
                    _ => {}
                }
            }
        }
        let counts = r.replay();
        if let Some(counts) = &counts
            && counts.last() != Some(&0)
        {
            self.wrong(&format!("the simulator finds a start that explains {r}"));
        }
        if self.bounds.outside.0 > 0 {
            self.replays_outside(r, sequence, &few);
        }
        if self.t.replayed + self.t.replayed_outside == 0 {
            let starts = counts.map_or("too many starts or an unknown".to_owned(), |c| format!("{c:?} starts alive"));
            self.t.alone.push(format!("{}: {starts}: {r}", self.case.what));
        }
    }

    /// Beside an exhaustive search: how much longer than the shortest the sequence is, and whether an event could be left out.
    fn lengths(&mut self, r: &Refutation, shortest: usize) {
        self.t.searched = 1;
        let told = r.events.len();
        if told < shortest {
            return self.wrong(&format!("{told} events, and {shortest} are the fewest: {r}"));
        }
        if told > shortest {
            self.t.longer.push(format!("{}: {told} events, and {shortest} would do: {r}", self.case.what));
        }
        let whole = sequence(r);
        for k in 0..told {
            let Some(less) = without(&whole, k) else { continue };
            if self.walk().replays(&less, &r.start) == Some(true) {
                self.t.needless.push(format!("{}: event {} could be left out: {r}", self.case.what, k + 1));
                break;
            }
        }
    }

    /// Each contact that differs, then each beside one more that is driven: what can't be shown at some can't be at all.
    fn few_contacts(&self, r: &Refutation) -> Vec<Vec<Label>> {
        let differ = || r.differences.iter().map(|d| d.label.clone());
        let contacts = self.case.original.contacts().iter().filter(|c| c.direction != Direction::Input);
        let driven: Vec<Label> = contacts.map(|c| c.label.clone()).collect();
        let beside =
            |d: Label| driven.iter().filter(|l| **l != d).map(|l| vec![d.clone(), l.clone()]).collect::<Vec<_>>();
        let pairs = differ().flat_map(beside);
        differ().map(|d| vec![d]).chain(pairs).collect()
    }

    fn replays_outside(&mut self, r: &Refutation, sequence: Sequence, few: &[Label]) {
        if !icarus::is_there() {
            return;
        }
        let run = icarus::Run { sequence, start: r.start.clone() };
        let part = slices(self.case.original, self.case.replacement, few.iter().cloned());
        let whole = [self.case.original.clone(), self.case.replacement.clone()];
        for (of_all, [original, replacement]) in [(few.is_empty(), part), (true, whole)] {
            let Some(pair) = icarus::Pair::new(&original, &replacement, 12) else { continue };
            let counted = match pair.count(std::slice::from_ref(&run), true) {
                Ok(counted) => counted,
                Err(e) => {
                    println!("{}: {e}", self.case.what);
                    continue;
                }
            };
            // where it does not come to rest out there, nothing was compared any more
            let whole_run = |c: &&icarus::Counted| c.alive == 0 || c.events == run.sequence.events.len() as u64;
            let Some(c) = counted.first().filter(whole_run) else { continue };
            if of_all && c.alive > 0 && !c.guessed && !c.neither {
                return self.wrong(&format!("refuted, but a start of the original shows it outside: {c:?}: {r}"));
            }
            if c.alive == 0 && c.open == 0 && !c.neither {
                self.t.replayed_outside = 1;
                return;
            }
        }
    }
}
