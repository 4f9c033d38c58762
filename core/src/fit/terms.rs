//! Product terms of one macrocell: the fewest, and for what is read between clock edges those that keep it steady.
use std::collections::BTreeSet;

use crate::cover::{Cube, Effort, Function, Value, minimise};
use crate::logic::{Diagram, Diagrams, Logic, Product};

/// Groups of signals up to this size are checked for every way in which part of them changes together; of larger ones
/// each signal alone, each pair and all at once.
const EVERY_SUBSET: usize = 6;

/// A product term of a sum.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SumTerm {
    /// The term.
    pub product: Product,
    /// The variables during whose change this term alone keeps the sum true. Empty for a term that the sum needs
    /// anyway: what it holds, no other term does.
    pub steadies: Vec<usize>,
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

/// The most signals for which the fewest terms are looked for among all covers.
const EXACT: usize = 14;

/// The fewest product terms whose sum lies between two functions; of functions that read very many signals, few.
pub(super) fn fewest(diagrams: &mut Diagrams, at_least: Diagram, at_most: Diagram) -> Vec<Product> {
    let mut support = diagrams.support(at_least);
    support.extend(diagrams.support(at_most));
    support.sort_unstable();
    support.dedup();
    if let Some(products) = minimum(diagrams, &support, at_least, at_most) {
        return products;
    }
    let products = diagrams.products(at_least, at_most);
    let mut wide: Vec<Product> = products.into_iter().map(|p| widen(diagrams, p, at_most)).collect();
    wide.sort_by_key(|p| (p.len(), p.clone()));
    wide.dedup();
    wide
}

/// What the cover room finds, in the variables of the diagrams; `None` where the function reads too many signals.
fn minimum(diagrams: &Diagrams, support: &[usize], at_least: Diagram, at_most: Diagram) -> Option<Vec<Product>> {
    if support.len() > EXACT {
        return None;
    }
    let function = Function::from_fn(support.len() as u32, |minterm| {
        let at = |variable: usize| support.binary_search(&variable).is_ok_and(|i| (minterm >> i) & 1 == 1);
        match (diagrams.value(at_least, at), diagrams.value(at_most, at)) {
            (true, _) => Value::High,
            (false, true) => Value::DontCare,
            (false, false) => Value::Low,
        }
    });
    let minimum = minimise(&function.ok()?, &Effort::default());
    let product = |cube: &Cube| {
        let reads = |i: &usize| (cube.care() >> i) & 1 == 1;
        (0..support.len()).filter(reads).map(|i| (support[i], (cube.value() >> i) & 1 == 1)).collect()
    };
    let mut products: Vec<Product> = minimum.cover.cubes().iter().map(product).collect();
    products.sort_by_key(|p| (p.len(), p.clone()));
    Some(products)
}

/// Terms without any condition on how the sum gets from one value to the next: for what a clock edge loads.
pub(super) fn loaded(diagrams: &mut Diagrams, at_least: Diagram, at_most: Diagram) -> Vec<SumTerm> {
    let terms = fewest(diagrams, at_least, at_most);
    terms.into_iter().map(|product| SumTerm { product, steadies: Vec::new() }).collect()
}

/// Terms whose sum is the function and stays true while signals change between two points of which, and of all points
/// between which, the function is true: for each set of signals that change together, what is true whatever they are
/// must be held by terms that read none of them.
pub(super) fn steady(diagrams: &mut Diagrams, function: Diagram, changes: &[BTreeSet<usize>]) -> Vec<SumTerm> {
    let mut demands = vec![(BTreeSet::new(), function)];
    for set in changes {
        let throughout = set.iter().fold(function, |f, &v| {
            let (low, high) = (diagrams.cofactor(f, v, false), diagrams.cofactor(f, v, true));
            diagrams.and(low, high)
        });
        demands.push((set.clone(), throughout));
    }
    demands.retain(|(set, throughout)| set.is_empty() || *throughout != Diagram::LOW);
    let minimum = fewest(diagrams, function, function);
    let mut terms = built(diagrams, minimum);
    let minimal = terms.len();
    for (set, throughout) in &demands {
        let missing = missing(diagrams, &terms, &[], set, *throughout);
        if missing != Diagram::LOW {
            let more = fewest(diagrams, missing, *throughout);
            terms.extend(built(diagrams, more));
        }
    }
    if terms.len() == minimal {
        return terms.into_iter().map(|t| SumTerm { product: t.product, steadies: Vec::new() }).collect();
    }
    // a term that was added may make another one needless: long ones go first
    let mut order: Vec<usize> = (0..terms.len()).collect();
    order.sort_by_key(|&i| std::cmp::Reverse(terms.get(i).map_or(0, |t| t.product.len())));
    let mut gone = Vec::new();
    for i in order {
        gone.push(i);
        let holds = |(set, throughout): &(BTreeSet<usize>, Diagram), diagrams: &mut Diagrams| {
            missing(diagrams, &terms, &gone, set, *throughout) == Diagram::LOW
        };
        if !demands.iter().all(|d| holds(d, diagrams)) {
            gone.pop();
        }
    }
    let terms: Vec<Built> = terms.into_iter().enumerate().filter(|(i, _)| !gone.contains(i)).map(|(_, t)| t).collect();
    explain(diagrams, &terms, &demands)
}

/// A term with its function.
#[derive(Clone, Debug)]
struct Built {
    product: Product,
    function: Diagram,
}

fn built(diagrams: &mut Diagrams, products: Vec<Product>) -> Vec<Built> {
    let one = |product: Product| Built { function: diagrams.product(product.iter().copied()), product };
    products.into_iter().map(one).collect()
}

/// Says of each term whether it is there only to keep the sum steady, and while what changes.
fn explain(diagrams: &mut Diagrams, terms: &[Built], demands: &[(BTreeSet<usize>, Diagram)]) -> Vec<SumTerm> {
    let mut explained = Vec::with_capacity(terms.len());
    for (i, term) in terms.iter().enumerate() {
        let failing: Vec<&BTreeSet<usize>> = demands
            .iter()
            .filter(|(set, throughout)| missing(diagrams, terms, &[i], set, *throughout) != Diagram::LOW)
            .map(|(set, _)| set)
            .collect();
        let plain = failing.iter().any(|set| set.is_empty());
        let smallest = failing.iter().map(|s| s.len()).min().unwrap_or(0);
        let steadies: BTreeSet<usize> =
            failing.iter().filter(|s| !plain && s.len() == smallest).flat_map(|s| s.iter().copied()).collect();
        explained.push(SumTerm { product: term.product.clone(), steadies: steadies.into_iter().collect() });
    }
    explained
}

/// What of `throughout` no term but those left out holds without reading a signal of the set.
fn missing(
    diagrams: &mut Diagrams,
    terms: &[Built],
    without: &[usize],
    set: &BTreeSet<usize>,
    throughout: Diagram,
) -> Diagram {
    let mut left = throughout;
    for (i, term) in terms.iter().enumerate() {
        if !without.contains(&i) && term.product.iter().all(|(v, _)| !set.contains(v)) {
            left = diagrams.choose(term.function, Diagram::LOW, left);
        }
    }
    left
}

/// Drops literals as long as the term stays within the function.
fn widen(diagrams: &mut Diagrams, mut product: Product, within: Diagram) -> Product {
    let mut at = 0;
    while at < product.len() {
        let mut shorter = product.clone();
        shorter.remove(at);
        let function = diagrams.product(shorter.iter().copied());
        if diagrams.and(function, within) == function {
            product = shorter;
        } else {
            at += 1;
        }
    }
    product
}
