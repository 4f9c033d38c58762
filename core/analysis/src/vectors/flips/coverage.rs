//! What the vectors would find: every single fuse in the wrong state, counted.
use std::collections::BTreeSet;
use std::fmt;

use super::campaign::Campaign;
use super::flip::Flips;
use gluewright_devices::device::{Device, Meaning};
use gluewright_devices::fusefile::Fuses;

/// Every fuse of a device in the wrong state, alone, and what becomes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coverage {
    /// Fuses in all. The lists below hold fuse numbers in rising order.
    pub fuses: usize,
    /// Those that would change nothing that can be seen once the device is at rest, by the structure or by the function of
    /// their sum: unused rows, the signature, terms that others hold anyway.
    pub silent: Vec<usize>,
    /// Those that change a term or a setting in use, and nothing at any pin at rest all the same: every state that a board
    /// can bring the device to from power-up was gone through.
    pub harmless: Vec<usize>,
    /// Those that would set the device up as no data sheet defines: nobody knows what it does then.
    pub undefined: Vec<usize>,
    /// Those that the vectors find, with every tester of their strength.
    pub found: Vec<usize>,
    /// Those that they don't, in rising order.
    pub missed: Vec<Miss>,
}

/// A flip that no vector finds for certain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Miss {
    /// The fuse.
    pub fuse: usize,
    /// What it is for.
    pub meaning: Meaning,
    /// What is known about it.
    pub known: Known,
    /// Whether every vector from every state that vectors lead to was tried, so that none can find it for certain.
    pub all_tried: bool,
}

/// What the vectors show of a flip that they don't find for certain.
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
    /// A register's data comes to depend on its own clock. It shows nothing if the register holds what stood before the
    /// edge, as sheets promise with a hold time of 0.
    HeldByTime,
    /// Nothing: it changes what the device does, if at all, only as vectors can't show.
    Nothing,
}

impl fmt::Display for Known {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Known::FloatsWhereHigh => {
                "a pin floats where it ought to be high: found if open inputs of the tester read low"
            }
            Known::FloatsWhereLow => {
                "a pin floats where it ought to be low: found if open inputs of the tester read high"
            }
            Known::Vague => "a pin swings, or what it shows depends on delays or on a floating pin: it may be found",
            Known::HeldByTime => {
                "a register's data moves with its own clock: nothing shows if its hold time is 0, as sheets say"
            }
            Known::Nothing => "no pin shows it",
        })
    }
}

impl fmt::Display for Miss {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tried = if self.all_tried { "no vector can do better" } else { "not every vector was tried" };
        write!(f, "fuse {}: {}; {}; {tried}", self.fuse, self.meaning, self.known)
    }
}

/// What the search knows of flips beside what the vectors show.
pub(in crate::vectors) struct Tried {
    /// Fuses for which every vector was tried.
    pub(in crate::vectors) hidden: BTreeSet<usize>,
    /// Fuses that only a hold time makes harmless.
    pub(in crate::vectors) timed: BTreeSet<usize>,
}

impl Coverage {
    pub(in crate::vectors) fn new(
        device: &Device,
        fuses: &Fuses,
        flips: &Flips,
        campaign: &Campaign,
        harmless: Vec<usize>,
        tried: Tried,
    ) -> Coverage {
        let known = |flip: usize, fuse: usize| match campaign.state_of(flip).map(|(_, hint)| hint).unwrap_or_default() {
            hint if hint.down => Known::FloatsWhereHigh,
            hint if hint.up => Known::FloatsWhereLow,
            hint if hint.vague => Known::Vague,
            _ if tried.timed.contains(&fuse) => Known::HeldByTime,
            _ => Known::Nothing,
        };
        let all = flips.list.iter().zip(&campaign.found).enumerate();
        let missed = all.filter(|(_, (_, found))| !**found).map(|(index, (flip, _))| Miss {
            fuse: flip.fuse,
            meaning: device.meaning(fuses, flip.fuse),
            known: known(index, flip.fuse),
            all_tried: tried.hidden.contains(&flip.fuse),
        });
        Coverage {
            fuses: fuses.len(),
            silent: flips.silent.clone(),
            harmless,
            undefined: flips.undefined.clone(),
            found: flips.list.iter().zip(&campaign.found).filter(|(_, found)| **found).map(|(f, _)| f.fuse).collect(),
            missed: missed.collect(),
        }
    }

    /// How many may change what the device does: those that are found and those that are missed.
    pub fn of(&self) -> usize {
        self.found.len() + self.missed.len()
    }

    /// How many more are found by a tester whose open inputs read high, or low.
    pub fn more_if_open_reads(&self, high: bool) -> usize {
        self.known(if high { Known::FloatsWhereLow } else { Known::FloatsWhereHigh })
    }

    fn known(&self, known: Known) -> usize {
        self.missed.iter().filter(|m| m.known == known).count()
    }

    /// How many are missed though vectors that nobody tried may find them for certain.
    pub fn undecided(&self) -> usize {
        self.missed.iter().filter(|m| !m.all_tried).count()
    }

    /// The share that is found by every tester of the vectors' strength, among those that may change what the device does;
    /// 1 if there are none.
    pub fn share(&self) -> f64 {
        share(self.found.len(), self.of())
    }

    /// What they find in one line: wherever vectors are spoken of, they are counted in these words.
    pub fn brief(&self) -> String {
        let certain = self.found.len() + self.undecided();
        let found = format!(
            "they find {} of the {certain} single wrong fuses that vectors can find for certain",
            self.found.len()
        );
        match self.missed.len() - self.undecided() {
            0 => found,
            more => format!("{found}, and for {more} more it hangs on the tester, or nothing shows"),
        }
    }
}

fn share(of: usize, all: usize) -> f64 {
    if all == 0 { 1.0 } else { of as f64 / all as f64 }
}

impl fmt::Display for Coverage {
    /// [`brief`](Coverage::brief), and then what makes it up.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}. Of {} fuses, {} change nothing at any pin at rest if in the wrong state ({} of them shown so by going \
             through every state) and {} set the device up as no data sheet defines; of the other {}, {} are found by every \
             tester",
            self.brief(),
            self.fuses,
            self.silent.len() + self.harmless.len(),
            self.harmless.len(),
            self.undefined.len(),
            self.of(),
            self.found.len(),
        )?;
        let (high, low) = (self.more_if_open_reads(true), self.more_if_open_reads(false));
        let parts = [
            (high, "more by a tester whose open inputs read high"),
            (low, "more by one whose open inputs read low"),
            (self.known(Known::Vague), "may be found, because the pin then swings or shows what delays make of it"),
            (self.known(Known::HeldByTime), "show nothing unless a hold time is longer than the sheet's"),
            (self.known(Known::Nothing), "show nothing"),
        ];
        for (count, what) in parts.into_iter().filter(|(count, _)| *count > 0) {
            write!(f, ", {count} {what}")?;
        }
        if !self.missed.is_empty() {
            match self.undecided() {
                0 => write!(f, "; for each of these every vector was tried")?,
                some => write!(f, "; for {some} of these not every vector was tried")?,
            }
        }
        Ok(())
    }
}
