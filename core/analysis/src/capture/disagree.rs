//! What contacts were seen to do that no state explains, wire by wire.
use gluewright_kernel::machine::known::Block;
use gluewright_kernel::solver::Answer;
use gluewright_kernel::terms::Term;

use super::moments::Moment;
use super::record::Sample;
use super::track::{State, Track};

/// What one wire disagrees about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Disagreement {
    pub(super) wire: usize,
    pub(super) seen: Sample,
    /// What the circuit would show there, if that is one thing.
    pub(super) would: Option<Sample>,
}

impl Track<'_> {
    /// [`disagreements`](Track::disagreements) of states that were counted.
    pub(super) fn disagreements_of(&self, blocks: &[Block], moment: &Moment) -> Vec<Disagreement> {
        let wires = self.wired.wires.len();
        let fits = |wire: usize| blocks.iter().any(|b| b.alive & self.alike_lanes(b, wire, moment) != 0);
        let mut wrong: Vec<usize> = (0..wires).filter(|&wire| !fits(wire)).collect();
        if wrong.is_empty() {
            for block in blocks {
                let mut left = block.alive;
                wrong.extend((0..wires).find(|&wire| {
                    left &= self.alike_lanes(block, wire, moment);
                    left == 0
                }));
            }
            wrong.sort_unstable();
            wrong.dedup();
        }
        let would = |wire: usize| {
            let port = self.ports.get(wire).copied().flatten()?;
            let mut all = blocks.iter().map(|b| {
                let (drive, level) = self.machine.shown(&b.point, port);
                let (drive, high) = (drive & b.alive, drive & level & b.alive);
                match (drive == 0, drive == b.alive) {
                    (true, _) => Some(Sample::Floating),
                    (_, true) if high == drive => Some(Sample::High),
                    (_, true) if high == 0 => Some(Sample::Low),
                    _ => None,
                }
            });
            let first = all.next().flatten()?;
            all.all(|s| s == Some(first)).then_some(first)
        };
        let seen = |wire: usize| moment.seen.get(wire).copied().unwrap_or(Sample::Unknown);
        wrong.into_iter().map(|wire| Disagreement { wire, seen: seen(wire), would: would(wire) }).collect()
    }

    /// The contacts that no state gets right, or, if each is right in some state, those that don't go together.
    pub(super) fn disagreements(&mut self, states: &[State], moment: &Moment) -> Vec<Disagreement> {
        let wires = self.wired.wires.len();
        let mut wrong = Vec::new();
        for wire in 0..wires {
            let fits = states.iter().any(|s| {
                let alike = self.alike(&s.point, wire, moment);
                let both = self.terms.and(s.when, alike);
                both != Term::FALSE && !matches!(self.ask(&[both]), Answer::No)
            });
            if !fits {
                wrong.push(wire);
            }
        }
        if wrong.is_empty() {
            for s in states {
                let mut when = s.when;
                let at = (0..wires).find(|&wire| {
                    let alike = self.alike(&s.point, wire, moment);
                    when = self.terms.and(when, alike);
                    when == Term::FALSE || matches!(self.ask(&[when]), Answer::No)
                });
                wrong.extend(at);
            }
            wrong.sort_unstable();
            wrong.dedup();
        }
        let would = |wire: usize| {
            let port = self.ports.get(wire).copied().flatten()?;
            let mut all = states.iter().map(|s| {
                let (drive, level) = self.machine.shown(&s.point, port);
                match (drive.as_constant(), level.as_constant()) {
                    (Some(false), _) => Some(Sample::Floating),
                    (Some(true), Some(high)) => Some(if high { Sample::High } else { Sample::Low }),
                    _ => None,
                }
            });
            let first = all.next().flatten()?;
            all.all(|s| s == Some(first)).then_some(first)
        };
        wrong
            .into_iter()
            .map(|wire| Disagreement {
                wire,
                seen: moment.seen.get(wire).copied().unwrap_or(Sample::Unknown),
                would: would(wire),
            })
            .collect()
    }
}
