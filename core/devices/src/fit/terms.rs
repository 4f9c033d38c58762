//! Product terms of one macrocell: the fewest, and for what is read between clock edges those that keep it steady.
use std::collections::BTreeSet;

use crate::cover::{
    Cover, CoverError, Cube, Effort, Function, MAX_INPUTS, Steady, hazard::not_needed, minimise, minimise_steady,
    static_hazards,
};
use crate::logic::{Diagram, Diagrams, Logic, Product, Register};

/// Groups of signals up to this size are checked for every way in which part of them changes together; of larger ones
/// each signal alone, each pair and all at once.
const EVERY_SUBSET: usize = 6;

/// Terms beyond this are of no use on any device: all macrocells of a 22V10 together have 120.
const USEFUL: usize = 120;

/// A product term of a sum.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SumTerm {
    /// The term.
    pub product: Product,
    /// The variables during whose change this term alone keeps the sum true. Empty for a term that the sum needs
    /// anyway: what it holds, no other term does.
    pub steadies: Vec<usize>,
}

/// The terms of a sum.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Sum {
    /// The terms.
    pub(super) terms: Vec<SumTerm>,
    /// Whether fewer are proved impossible.
    pub(super) fewest: bool,
}

/// What a sum costs: its terms, then its literals.
pub(super) fn cost(terms: &[SumTerm]) -> (usize, usize) {
    (terms.len(), terms.iter().map(|t| t.product.len()).sum())
}

/// The sum that costs less, the first if they are equal; `true` for the second.
pub(super) fn better(first: Sum, second: Sum) -> (bool, Sum) {
    if cost(&second.terms) < cost(&first.terms) { (true, second) } else { (false, first) }
}

/// The better polarity of a level that is read at all times: its terms, or (`true`) those of its complement. `plain` is
/// whether the device can show a sum as it is.
pub(super) fn steady_either(logic: &mut Logic, level: Diagram, plain: bool) -> (bool, Sum) {
    let changes = changes(logic, level);
    let complement = logic.diagrams.not(level);
    let low = steady(&mut logic.diagrams, complement, &changes);
    if !plain {
        return (true, low);
    }
    better(steady(&mut logic.diagrams, level, &changes), low)
}

/// Sets of variables that may change within one settling step, as far as this function reads them.
pub(super) fn changes(logic: &Logic, function: Diagram) -> Vec<BTreeSet<usize>> {
    let support: BTreeSet<usize> = logic.diagrams.support(function).into_iter().collect();
    let mut sets = BTreeSet::new();
    // what the board drives, at least at times
    let always = |v: usize| logic.outputs.iter().any(|o| o.read_as == Some(v) && o.enable == Diagram::HIGH);
    let outside = |v: &usize| logic.signals.get(*v).is_some_and(|s| s.label.is_some()) && !always(*v);
    for source in (0..logic.signals.len()).filter(outside) {
        let moved = logic.follow_up(source);
        let group: Vec<usize> = moved.intersection(&support).copied().collect();
        sets.extend(subsets(&group).into_iter().filter(|s| !support.contains(&source) || s.contains(&source)));
    }
    for sources in &logic.together {
        let moved: BTreeSet<usize> = sources.iter().flat_map(|&v| logic.follow_up(v)).collect();
        let group: Vec<usize> = moved.intersection(&support).copied().collect();
        sets.extend(subsets(&group));
    }
    let mut clocked = BTreeSet::new();
    for register in &logic.registers {
        clocked.extend(logic.follow_up(register.variable));
    }
    let group: Vec<usize> = clocked.intersection(&support).copied().collect();
    sets.extend(subsets(&group));
    sets.into_iter().collect()
}

fn subsets(group: &[usize]) -> Vec<BTreeSet<usize>> {
    if group.len() <= EVERY_SUBSET {
        let member = |set: usize| group.iter().enumerate().filter(move |(i, _)| set >> i & 1 == 1).map(|(_, &v)| v);
        return (1..1usize << group.len()).map(|set| member(set).collect()).collect();
    }
    let mut sets: Vec<BTreeSet<usize>> = vec![group.iter().copied().collect()];
    for (i, &a) in group.iter().enumerate() {
        sets.extend(group.iter().skip(i).map(|&b| BTreeSet::from([a, b])));
    }
    sets
}

/// The fewest terms of a sum that a register loads. While its clear or preset holds it, it loads nothing, whatever the
/// sum says.
pub(super) fn loaded_while_free(diagrams: &mut Diagrams, register: &Register, sum: Diagram) -> Sum {
    let held = diagrams.or(register.clear, register.preset);
    let free = diagrams.not(held);
    let (at_least, at_most) = (diagrams.and(sum, free), diagrams.or(sum, held));
    loaded(diagrams, at_least, at_most)
}

/// The fewest terms whose sum lies between two functions: for what a clock edge loads, where it doesn't matter how the
/// sum gets from one value to the next.
fn loaded(diagrams: &mut Diagrams, at_least: Diagram, at_most: Diagram) -> Sum {
    let frame = Frame::of(diagrams, &[at_least, at_most]);
    let outside = diagrams.not(at_least);
    let free = diagrams.and(at_most, outside);
    let minimum = frame.cover(diagrams, at_least).and_then(|on| {
        let function = Function::new(on, frame.cover(diagrams, free)?)?;
        Ok(minimise(&function, &effort(diagrams)))
    });
    match minimum {
        Ok(m) => Sum {
            terms: m.cover.cubes().iter().map(|&c| frame.term(c, Vec::new())).collect(),
            fewest: m.terms.is_proved(),
        },
        Err(_) => plain(diagrams, at_least, at_most),
    }
}

/// The fewest terms whose sum is the function and stays true while signals change between two points of which, and of
/// all points between which, the function is true: for each set of signals that change together, what is true whatever
/// they are must be held by terms that read none of them.
pub(super) fn steady(diagrams: &mut Diagrams, function: Diagram, changes: &[BTreeSet<usize>]) -> Sum {
    let frame = Frame::of(diagrams, &[function]);
    let mut demands = Vec::new();
    for set in changes {
        let throughout = set.iter().fold(function, |f, &v| {
            let (low, high) = (diagrams.cofactor(f, v, false), diagrams.cofactor(f, v, true));
            diagrams.and(low, high)
        });
        if throughout != Diagram::LOW
            && let Ok(region) = frame.cover(diagrams, throughout)
        {
            demands.push(Steady { changing: frame.mask(set), region });
        }
    }
    let found = frame.cover(diagrams, function).and_then(|on| {
        let function = Function::from_cover(on);
        let minimum = minimise_steady(&function, &demands, &[], &effort(diagrams))?;
        let terms = explained(&frame, &minimum.cover, &function, &demands)?;
        Ok(Sum { terms, fewest: minimum.terms.is_proved() })
    });
    found.unwrap_or_else(|_| plain(diagrams, function, function))
}

fn effort(diagrams: &Diagrams) -> Effort {
    Effort::default().within(USEFUL).until(diagrams.limit())
}

/// Says of each term whether it is there only to keep the sum steady, and while what changes.
fn explained(
    frame: &Frame,
    cover: &Cover,
    function: &Function,
    demands: &[Steady],
) -> Result<Vec<SumTerm>, CoverError> {
    let mut terms = Vec::with_capacity(cover.len());
    for (index, (&cube, extra)) in cover.cubes().iter().zip(not_needed(cover, function)).enumerate() {
        let mut steadies = BTreeSet::new();
        if extra {
            let others = cover.cubes().iter().enumerate().filter(|(i, _)| *i != index).map(|(_, &c)| c).collect();
            let shaken = static_hazards(&Cover::new(cover.inputs(), others)?, demands);
            let fewest = shaken.iter().map(|h| h.changing.count_ones()).min();
            let smallest = shaken.iter().filter(|h| Some(h.changing.count_ones()) == fewest);
            steadies = smallest.flat_map(|h| frame.variables_of(h.changing)).collect();
        }
        terms.push(frame.term(cube, steadies.into_iter().collect()));
    }
    Ok(terms)
}

/// Terms as they come, for functions with more signals or terms than a cover may have: far beyond any device.
fn plain(diagrams: &mut Diagrams, at_least: Diagram, at_most: Diagram) -> Sum {
    let products = diagrams.products(at_least, at_most);
    let terms = products.into_iter().map(|product| SumTerm { product, steadies: Vec::new() }).collect();
    Sum { terms, fewest: false }
}

/// The inputs of a cover: the variables that some functions read.
#[derive(Debug)]
struct Frame {
    variables: Vec<usize>,
}

impl Frame {
    fn of(diagrams: &Diagrams, functions: &[Diagram]) -> Frame {
        let all: BTreeSet<usize> = functions.iter().flat_map(|&f| diagrams.support(f)).collect();
        Frame { variables: all.into_iter().collect() }
    }

    fn input(&self, variable: usize) -> Option<u32> {
        self.variables.binary_search(&variable).ok().map(|i| i as u32).filter(|&i| i < MAX_INPUTS)
    }

    fn mask<'a>(&self, variables: impl IntoIterator<Item = &'a usize>) -> u64 {
        variables.into_iter().filter_map(|&v| self.input(v)).fold(0, |mask, i| mask | 1 << i)
    }

    fn variables_of(&self, mask: u64) -> impl Iterator<Item = usize> {
        self.variables
            .iter()
            .enumerate()
            .filter(move |(i, _)| mask.checked_shr(*i as u32).unwrap_or(0) & 1 == 1)
            .map(|(_, &v)| v)
    }

    /// A sum of terms that stands for a function of these variables.
    fn cover(&self, diagrams: &mut Diagrams, function: Diagram) -> Result<Cover, CoverError> {
        let products = diagrams.products(function, function);
        let cube = |p: &Product| {
            p.iter().fold(Cube::ONE, |all, &(v, high)| {
                let one = self.input(v).map_or(Cube::ONE, |i| Cube::literal(i, high));
                all.intersection(one).unwrap_or(all)
            })
        };
        Cover::new(self.variables.len() as u32, products.iter().map(cube).collect())
    }

    fn term(&self, cube: Cube, steadies: Vec<usize>) -> SumTerm {
        let literal = |v: usize| self.input(v).map(|i| (v, cube.positive() >> i & 1 == 1));
        SumTerm { product: self.variables_of(cube.care()).filter_map(literal).collect(), steadies }
    }
}
