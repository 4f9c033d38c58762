//! What the vectors would find: every single fuse in the wrong state, counted.
use std::fmt;

use super::campaign::Campaign;
use super::flip::Flips;
use crate::device::{Device, Meaning};
use crate::fusefile::Fuses;
use crate::prove::{Failure, Question};
use crate::solver::Effort;

/// Every fuse of a device in the wrong state, alone, and what becomes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coverage {
    /// Fuses in all. The lists below hold fuse numbers in rising order.
    pub fuses: usize,
    /// Those that would change nothing that can be seen once the device is at rest: unused rows, the signature, terms
    /// that others hold anyway.
    pub silent: Vec<usize>,
    /// Those of which a proof says that they change nothing, though their term or setting is used.
    pub proved_silent: Vec<usize>,
    /// Those that would set the device up as no data sheet defines: nobody knows what it does then.
    pub undefined: Vec<usize>,
    /// Those that the vectors find.
    pub found: Vec<usize>,
    /// Those that they don't, in rising order.
    pub missed: Vec<Miss>,
}

/// A flip that no vector finds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Miss {
    /// The fuse.
    pub fuse: usize,
    /// What it is for.
    pub meaning: Meaning,
    /// What is known about it.
    pub known: Known,
}

/// What is known about a flip that no vector finds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// A pin floats that ought to be high, and never one that ought to be low: a tester finds it if its open inputs read
    /// low.
    FloatsWhereHigh,
    /// The other way round.
    FloatsWhereLow,
    /// What a pin then shows depends on delays inside the device, or on what a floating pin is read as, so a tester may
    /// find it.
    Vague,
    /// It does change what the device does: a sequence of this many changes at the pins shows it, but no vector may make
    /// them, or the state in which they count isn't reached by vectors.
    Changes {
        /// Single changes at pins.
        events: usize,
    },
    /// No difference was found in this many vectors; that there is none is not proved.
    NothingFound {
        /// How many vectors were tried in search of it and of the other missed ones.
        tried: usize,
    },
}

impl fmt::Display for Known {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Known::FloatsWhereHigh => {
                f.write_str("a pin floats where it ought to be high: found if open inputs of the tester read low")
            }
            Known::FloatsWhereLow => {
                f.write_str("a pin floats where it ought to be low: found if open inputs of the tester read high")
            }
            Known::Vague => {
                f.write_str("what a pin shows then depends on delays or on a floating pin: it may be found")
            }
            Known::Changes { events } => {
                write!(f, "{events} changes at the pins show it, but not as vectors may make them")
            }
            Known::NothingFound { tried } => write!(f, "no difference found in {tried} vectors"),
        }
    }
}

impl Coverage {
    pub(super) fn new(device: &Device, fuses: &Fuses, flips: &Flips, campaign: &Campaign, tried: usize) -> Coverage {
        let known = |flip: usize| match campaign.state_of(flip).map(|(_, hint)| hint).unwrap_or_default() {
            hint if hint.down => Known::FloatsWhereHigh,
            hint if hint.up => Known::FloatsWhereLow,
            hint if hint.vague => Known::Vague,
            _ => Known::NothingFound { tried },
        };
        let all = flips.list.iter().zip(&campaign.found).enumerate();
        let missed = all.filter(|(_, (_, found))| !**found).map(|(index, (flip, _))| Miss {
            fuse: flip.fuse,
            meaning: device.meaning(fuses, flip.fuse),
            known: known(index),
        });
        Coverage {
            fuses: fuses.len(),
            silent: flips.silent.clone(),
            proved_silent: Vec::new(),
            undefined: flips.undefined.clone(),
            found: flips.list.iter().zip(&campaign.found).filter(|(_, found)| **found).map(|(f, _)| f.fuse).collect(),
            missed: missed.collect(),
        }
    }

    /// Asks the prover about up to `most` of the missed flips of which nothing is known: those proved to change nothing
    /// are counted as such and leave the list.
    pub fn ask(&mut self, device: &Device, fuses: &Fuses, most: usize, effort: Effort) {
        let Ok(good) = device.lift(fuses) else { return };
        let mut asked = 0;
        let mut proved = Vec::new();
        self.missed.retain_mut(|miss| {
            if asked >= most || !matches!(miss.known, Known::NothingFound { .. }) {
                return true;
            }
            asked += 1;
            let mut other = fuses.clone();
            other.set(miss.fuse, fuses.get(miss.fuse) == Some(false));
            let Ok(bad) = device.lift(&other) else { return true };
            match Question::new(good.clone(), bad).within(effort).ask() {
                Ok(_) => {
                    proved.push(miss.fuse);
                    false
                }
                Err(Failure::Refuted(refutation)) => {
                    miss.known = Known::Changes { events: refutation.events.len() };
                    true
                }
                Err(_) => true,
            }
        });
        self.proved_silent.extend(proved);
    }

    /// How many more are found by a tester whose open inputs read high, or low.
    pub fn more_if_open_reads(&self, high: bool) -> usize {
        let known = if high { Known::FloatsWhereLow } else { Known::FloatsWhereHigh };
        self.missed.iter().filter(|m| m.known == known).count()
    }

    /// The share that is found by a tester whose open inputs read high, or low.
    pub fn share_if_open_reads(&self, high: bool) -> f64 {
        let all = self.found.len() + self.missed.len();
        if all == 0 { 1.0 } else { (self.found.len() + self.more_if_open_reads(high)) as f64 / all as f64 }
    }

    /// The share of flips that are found among those that may change what the device does; 1 if there are none.
    pub fn share(&self) -> f64 {
        let all = self.found.len() + self.missed.len();
        if all == 0 { 1.0 } else { self.found.len() as f64 / all as f64 }
    }
}

impl fmt::Display for Coverage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "of {} fuses, {} would change what the device does if in the wrong state: {} are found ({:.1} %), {} more by a tester whose open inputs read high or {} if they read low, {} are not; {} change nothing that can be seen ({} of them by a proof), {} set it up as no data sheet defines",
            self.fuses,
            self.found.len() + self.missed.len(),
            self.found.len(),
            self.share() * 100.0,
            self.more_if_open_reads(true),
            self.more_if_open_reads(false),
            self.missed.len() - self.more_if_open_reads(true) - self.more_if_open_reads(false),
            self.silent.len() + self.proved_silent.len(),
            self.proved_silent.len(),
            self.undefined.len()
        )
    }
}
