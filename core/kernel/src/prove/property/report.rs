//! A run that was found, put together for a person: waveform, events, and why each condition is what it is in the end.
use crate::circuit::{Circuit, Label};
use crate::explain::{Card, why};
use crate::machine::Machine;
use crate::prove::Happening;
use crate::simulate::Shown;

use super::bounded::Found;
use super::monitor::Watched;
use super::unroll::{Run, Subject};
use super::verdict::{Condition, Sequence};

/// The run as a sequence for a person.
pub(super) fn sequence(
    of: &Subject<'_>,
    watched: &Watched,
    found: &Found,
    (property, name, assumptions, shortest): (&str, &str, &[String], bool),
) -> Sequence {
    let pair = of.pair;
    let machine = &pair.machines[of.side];
    let run = &found.run;
    let named = |&(c, high): &(usize, bool)| {
        let contact = &pair.contacts[c];
        (contact.label.clone(), contact.name.clone(), high)
    };
    let levels = (0..pair.contacts.len()).filter(|&c| pair.contacts[c].is_free).map(|c| named(&(c, run.levels[c])));
    let starts = machine.cells().iter().zip(&run.cells).filter(|(c, _)| c.start.is_none());
    let events: Vec<Happening> =
        run.events.iter().map(|e| Happening { changes: e.iter().map(named).collect() }).collect();
    let chances = found.met.iter().map(|&(step, unknown)| (step, machine.describe(unknown))).collect();
    Sequence {
        property: property.to_owned(),
        circuit: name.to_owned(),
        assumptions: assumptions.to_vec(),
        levels: levels.collect(),
        start: starts.map(|(c, &high)| (c.name.clone(), high)).collect(),
        waveform: waveform(of, watched, found),
        conditions: conditions(of, watched, found),
        events,
        chances,
        shortest,
    }
}

fn waveform(of: &Subject<'_>, watched: &Watched, found: &Found) -> crate::explain::Waveform {
    let (pair, count) = (of.pair, watched.monitor.count());
    let machine = &pair.machines[of.side];
    let mut card = Card::default();
    let own = machine.ports().len().saturating_sub(count);
    let levels = levels(&found.run);
    for (port, p) in machine.ports().iter().enumerate().take(own) {
        let Some(contact) = pair.contact_at(&p.label) else { continue };
        let is_free = pair.contacts[contact].is_free;
        let may_drive = machine.may_drive(port);
        if !is_free && !may_drive {
            continue;
        }
        let shown = found.shown.iter().zip(&levels).map(|(ports, levels)| {
            let (drive, level) = ports.get(port).copied().unwrap_or((false, false));
            match (drive, is_free) {
                (false, true) => {
                    if levels[contact] {
                        Shown::High
                    } else {
                        Shown::Low
                    }
                }
                _ => Shown::new(drive, level, p.pull),
            }
        });
        card.row(&p.label, &p.name, !may_drive, shown.collect());
    }
    // what the property reads, high where it holds
    for (row, (i, words)) in watched.said.iter().enumerate() {
        let shown = found
            .shown
            .iter()
            .map(|ports| if ports.get(own + i).is_some_and(|p| p.1) { Shown::High } else { Shown::Low });
        card.row(&Label::new(format!("({})", row + 1)), &short(words), false, shown.collect());
    }
    card.waveform((0..found.shown.len()).map(|step| (step, false)))
}

/// A condition's words, if they are few enough for a row.
fn short(words: &str) -> String {
    const MOST: usize = 32;
    let inner = words.strip_prefix('(').and_then(|w| w.strip_suffix(')')).filter(|w| !w.contains(['(', ')']));
    let words = inner.unwrap_or(words);
    if words.chars().count() <= MOST {
        return words.to_owned();
    }
    words.chars().take(MOST - 1).chain(['…']).collect()
}

/// The board's levels at each point.
fn levels(run: &Run) -> Vec<Vec<bool>> {
    let mut all = vec![run.levels.clone()];
    for event in &run.events {
        let mut next = all.last().cloned().unwrap_or_default();
        for &(c, high) in event {
            if let Some(level) = next.get_mut(c) {
                *level = high;
            }
        }
        all.push(next);
    }
    all
}

fn conditions(of: &Subject<'_>, watched: &Watched, found: &Found) -> Vec<Condition> {
    let machine: &Machine = &of.pair.machines[of.side];
    let first = machine.ports().len().saturating_sub(watched.monitor.count());
    let at = |step: usize, i: usize| found.shown.get(step).and_then(|s| s.get(first + i)).is_some_and(|s| s.1);
    let last = found.shown.len().saturating_sub(1);
    let labels: Vec<Label> =
        watched.said.iter().filter_map(|&(i, _)| machine.ports().get(first + i)).map(|p| p.label.clone()).collect();
    // a run that an unusual outcome led to is not the one that is replayed: it has no chain
    let chains = if of.replay(&found.run) { chains(of, &watched.circuit, found, &labels) } else { Vec::new() };
    let mut chains = chains.into_iter();
    let all = watched.said.iter().map(|(i, words)| Condition {
        words: words.clone(),
        before: last.checked_sub(1).map(|before| at(before, *i)),
        holds: at(last, *i),
        why: chains.next().unwrap_or_default(),
    });
    all.collect()
}

fn chains(of: &Subject<'_>, circuit: &Circuit, found: &Found, labels: &[Label]) -> Vec<Vec<crate::explain::Cause>> {
    let pair = of.pair;
    let label = |&(c, high): &(usize, bool)| (pair.contacts[c].label.clone(), high);
    let levels: Vec<(Label, bool)> = found.run.levels.iter().copied().enumerate().map(|l| label(&l)).collect();
    let events: Vec<Vec<(Label, bool)>> = found.run.events.iter().map(|e| e.iter().map(label).collect()).collect();
    why(circuit, &pair.machines[of.side], &found.run.cells, (&levels, &events), labels)
}
