//! Refines the correspondence classes: both sides run from a start that the classes exclude, and bits that differ are
//! separated. (Partition refinement by counterexamples: van Eijk, "Sequential equivalence checking based on structural
//! similarities", 2000.)
use std::collections::BTreeMap;
use std::sync::Arc;

use crate::solver::Effort;

use super::candidates::{self, Partner};
use super::draw::Draw;
use super::matching::Class;
use super::pair::Pair;
use super::run::{Explained, Run};
use super::start::Unmatched;

/// Events of each run that the original must explain.
const RUN: usize = 60;

/// How many runs from one start it must explain together.
const RUNS: usize = 6;

/// What runs from a start that no start of the original matches say of the classes.
pub(super) enum Refined {
    /// Bits that they tell apart are in classes of their own.
    Classes(Vec<Class>),
    /// Nothing explains this run.
    Refuted(Run),
    /// Nothing new.
    Same,
}

/// Runs both sides from a start that the classes leave out.
pub(super) fn refine(
    pair: &Arc<Pair>,
    classes: &[Class],
    unmatched: Unmatched,
    (partners, draw): (&[Partner], &mut Draw),
    effort: Effort,
) -> Refined {
    let word = |b: &bool| if *b { u64::MAX } else { 0 };
    let levels: Vec<u64> = unmatched.levels.iter().map(word).collect();
    let runs = drawn(pair, (&unmatched.levels, &unmatched.cells), draw);
    let Some(run) = runs.first() else { return Refined::Same };
    let wishes = candidates::wishes(partners, &run.cells);
    let start = match Run::explain_together(&runs.iter().collect::<Vec<_>>(), &wishes, effort) {
        Some(start) => start,
        None => match run.explain(effort) {
            Explained::From(start) => start,
            Explained::Not => return Refined::Refuted(run.clone()),
            Explained::Unknown(_) => return Refined::Same,
        },
    };
    let cells = [start.iter().map(word).collect(), run.cells.iter().map(word).collect()];
    let both = meet(classes, &candidates::guess(pair, &levels, &cells, draw));
    let constant = |classes: &[Class]| classes.iter().filter(|c| c.is_constant).map(|c| c.bits.len()).sum::<usize>();
    let told = both.len() > classes.len() || constant(&both) < constant(classes);
    if told { Refined::Classes(both) } else { Refined::Same }
}

/// Runs of the replacement from one start.
pub(super) fn drawn(pair: &Arc<Pair>, (levels, cells): (&[bool], &[bool]), draw: &mut Draw) -> Vec<Run> {
    let words: Vec<u64> = levels.iter().map(|&b| if b { u64::MAX } else { 0 }).collect();
    let mut run = || {
        let events = draw.events(pair, &words, cells, RUN);
        Run::record(pair, levels.to_vec(), cells.to_vec(), events)
    };
    (0..RUNS).map_while(|_| run()).collect()
}

/// Bits that correspond by both: together in a class of each, with the same polarity to each other.
fn meet(one: &[Class], other: &[Class]) -> Vec<Class> {
    let mut of = BTreeMap::new();
    for (i, class) in other.iter().enumerate() {
        of.extend(class.bits.iter().map(|&(bit, opposite)| (bit, (i, opposite))));
    }
    let mut all = Vec::new();
    for class in one {
        // by the class of the other, and whether the two turn the bit the same way
        let mut parts: BTreeMap<(Option<usize>, bool), Vec<_>> = BTreeMap::new();
        for &(bit, opposite) in &class.bits {
            let (there, turned) = of.get(&bit).map_or((None, false), |&(i, o)| (Some(i), o));
            parts.entry((there, turned != opposite)).or_default().push((bit, opposite));
        }
        for ((there, turned), bits) in parts {
            let still = there.and_then(|i| other.get(i)).is_some_and(|c| c.is_constant);
            all.push(Class { bits, is_constant: class.is_constant && still && !turned });
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bits_correspond_only_if_both_partitions_say_so() {
        let class = |is_constant: bool, bits: &[(usize, bool)]| Class {
            bits: bits.iter().map(|&(c, opposite)| ((0, c), opposite)).collect(),
            is_constant,
        };
        let one =
            [class(true, &[(0, false), (1, true), (2, false)]), class(false, &[(3, false), (4, true), (5, false)])];
        // 0 is low and 1 is high in both; 2 is low in one and high in the other; 5 moves with 3 turned round
        let other =
            [class(true, &[(0, false), (1, true), (2, true)]), class(false, &[(3, true), (4, false), (5, true)])];
        let both = meet(&one, &other);
        assert_eq!(both.len(), 3, "{both:?}");
        assert!(both.contains(&class(true, &[(0, false), (1, true)])));
        assert!(both.contains(&class(false, &[(2, false)])));
        assert!(both.contains(&one[1]), "all three are turned alike");
        let other =
            [class(true, &[(0, false), (1, true), (2, false)]), class(false, &[(3, false), (4, true), (5, true)])];
        assert_eq!(meet(&one, &other).len(), 3);
    }
}
