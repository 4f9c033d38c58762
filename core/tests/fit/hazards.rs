//! No logic hazard: by brute force over all points, for the polarity that the device stores.
use std::collections::BTreeSet;

use proptest::prelude::*;

use super::bench::Bench;
use gluewright::circuit::{Expr, Kind, Start};
use gluewright::fit::{Fitted, FittedCell, SumTerm, Wishes};
use gluewright_devices::logic::Product;

fn holds(product: &Product, point: u32) -> bool {
    product.iter().all(|&(v, value)| (point >> v & 1 == 1) == value)
}

/// Whether the sum stays true whenever these variables change together between two points and it is true at both and
/// at every point between. By Eichelberger, "Hazard detection in combinational and sequential switching circuits",
/// 1965 (from memory), that is so when one term holds at all of them.
fn is_steady(terms: &[&Product], variables: usize, group: &BTreeSet<usize>) -> bool {
    let sum = |point: u32| terms.iter().any(|t| holds(t, point));
    let mask = group.iter().fold(0u32, |m, v| m | 1 << v);
    (0..1u32 << variables).all(|from| {
        (0..1u32 << variables).filter(|to| (from ^ to) & !mask == 0).all(|to| {
            let moved = from ^ to;
            let between: Vec<u32> = (0..1u32 << variables).filter(|p| (p ^ from) & !moved == 0).collect();
            !between.iter().all(|&p| sum(p)) || terms.iter().any(|t| between.iter().all(|&p| holds(t, p)))
        })
    })
}

/// The fewest terms that hold a function of four inputs and bridge every two points next to each other at which it is
/// true, by trying all sets of prime implicants.
fn smallest(table: u16) -> usize {
    let of_cube = |cube: usize| {
        let digits: Vec<usize> = (0..4).map(|i| cube / 3usize.pow(i) % 3).collect();
        let inside = |p: u32| digits.iter().enumerate().all(|(i, &d)| d == 2 || (p >> i & 1) as usize == d);
        (0..16u32).filter(|&p| inside(p)).fold(0u16, |set, p| set | 1 << p)
    };
    let implicants: Vec<u16> = (0..81).map(of_cube).filter(|c| c & !table == 0).collect();
    let primes: Vec<u16> =
        implicants.iter().copied().filter(|c| implicants.iter().all(|d| c == d || c & !d != 0)).collect();
    let points = (0..16u16).filter(|p| table >> p & 1 == 1);
    let bridges = points.flat_map(|p| {
        let next = (0..4).map(move |i| p | 1 << i).filter(move |&q| q != p && table >> q & 1 == 1);
        next.map(move |q| 1u16 << p | 1 << q).chain([1u16 << p])
    });
    let asked: Vec<u16> = bridges.collect();
    let enough = |set: u32| {
        let chosen = || primes.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1).map(|(_, &c)| c);
        asked.iter().all(|a| chosen().any(|c| a & !c == 0))
    };
    let sizes = (0..1u32 << primes.len()).filter(|&set| enough(set)).map(u32::count_ones);
    sizes.min().unwrap_or(0) as usize
}

fn cell<'a>(fitted: &'a Fitted, name: &str) -> &'a FittedCell {
    fitted.cells.iter().find(|c| c.name == name).unwrap()
}

fn products(terms: &[SumTerm], without: Option<usize>) -> Vec<&Product> {
    terms.iter().enumerate().filter(|(i, _)| Some(*i) != without).map(|(_, t)| &t.product).collect()
}

fn of_table(b: &mut Bench, inputs: &[Expr], table: u32) -> Expr {
    let rows = (0..1u32 << inputs.len()).filter(|r| table >> r & 1 == 1).collect::<Vec<_>>();
    rows.into_iter().fold(Expr::LOW, |sum, row| {
        let literals: Vec<Expr> =
            inputs.iter().enumerate().map(|(i, &x)| if row >> i & 1 == 1 { x } else { b.c.not(x) }).collect();
        let term = b.c.all(literals);
        b.c.or(sum, term)
    })
}

#[test]
fn without_its_consensus_term_a_latch_is_not_steady() {
    for inverted in [false, true] {
        let mut b = Bench::new();
        let (data, open) = (b.input("data"), b.input("open"));
        let latch = b.element("held", Kind::Latch { open, data });
        let q = b.c.q(latch);
        let level = if inverted { b.c.not(q) } else { q };
        b.output("y", level);
        let fitted = b.fit(&Wishes::none()).unwrap();
        let terms = &cell(&fitted, "y").terms;
        let gate = fitted.logic.inputs.iter().find(|i| i.name == "open").unwrap().variable;
        let group = BTreeSet::from([gate]);
        assert!(is_steady(&products(terms, None), 3, &group));
        let extra = terms.iter().position(|t| !t.steadies.is_empty());
        assert!(!is_steady(&products(terms, extra), 3, &group));
    }
}

proptest! {
    #[test]
    fn every_combinational_macrocell_is_steady(table in any::<u16>()) {
        let mut b = Bench::new();
        let inputs: [Expr; 4] = b.inputs("i");
        let level = of_table(&mut b, &inputs, table.into());
        b.output("y", level);
        let fitted = b.fit(&Wishes::none()).unwrap();
        let terms = &cell(&fitted, "y").terms;
        for variable in 0..4 {
            prop_assert!(is_steady(&products(terms, None), 4, &BTreeSet::from([variable])));
        }
        // and no term is there for nothing
        for (i, term) in terms.iter().enumerate() {
            let rest = products(terms, Some(i));
            let shown = |p: u32| terms.iter().any(|t| holds(&t.product, p));
            let same = (0..16).all(|p| rest.iter().any(|t| holds(t, p)) == shown(p));
            prop_assert_eq!(same, !term.steadies.is_empty());
            let steady = (0..4).all(|v| is_steady(&rest, 4, &BTreeSet::from([v])));
            prop_assert!(!same || !steady);
        }
    }

    #[test]
    fn no_smaller_sum_is_as_steady(table in any::<u16>()) {
        let mut b = Bench::new();
        let inputs: [Expr; 4] = b.inputs("i");
        let level = of_table(&mut b, &inputs, table.into());
        b.output("y", level);
        let fitted = b.fit(&Wishes::none()).unwrap();
        let y = cell(&fitted, "y");
        prop_assert!(y.fewest);
        prop_assert_eq!(y.terms.len(), smallest(table).min(smallest(!table)));
    }

    #[test]
    fn registers_that_change_together_leave_it_steady(table in any::<u16>()) {
        let mut b = Bench::new();
        let (clock, x) = (b.input("clock"), b.input("x"));
        let mut signals = vec![x];
        for i in 0..3 {
            let r = b.register(&format!("r{i}"), clock, x, Expr::LOW, Start::Any);
            signals.push(b.c.q(r));
        }
        let level = of_table(&mut b, &signals, table.into());
        b.output("y", level);
        let fitted = b.fit(&Wishes::none()).unwrap();
        let terms = &cell(&fitted, "y").terms;
        let variables = fitted.logic.signals.len();
        let group = fitted.logic.registers.iter().map(|r| r.variable).collect();
        if cell(&fitted, "y").function == gluewright::device::Function::Combinational {
            prop_assert!(is_steady(&products(terms, None), variables, &group));
        }
    }
}
