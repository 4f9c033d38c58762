//! The algebras, operation by operation, against what the levels may be.
use std::collections::BTreeSet;

use crate::machine::rails::Rails;
use crate::machine::ternary::{Careful, Ternary};
use crate::machine::{Algebra, Freedom, Lanes, Symbolic, Unknown};
use crate::terms::{Term, Terms};

#[test]
fn a_symbolic_unknown_is_usual_free_or_chosen_and_is_always_noted() {
    let mut terms = Terms::new();
    let (when, usual) = (terms.variable(), terms.variable());
    let (race, order) = (Unknown::Race(0), Unknown::Order(0));
    let mut algebra = Symbolic::new(&mut terms, Freedom::Usual);
    assert_eq!(algebra.unknown(race, when, usual), usual);
    assert_eq!(algebra.met, [(race, when, Term::FALSE)]);
    algebra.order = Some(Freedom::Free);
    let value = algebra.unknown(order, when, usual);
    let (site, at, any) = algebra.met[1];
    assert_eq!((site, at, any.as_constant()), (order, when, None));
    assert_eq!(value, algebra.terms.choose(when, any, usual));
    algebra.chosen.insert(race, !usual);
    assert_eq!(algebra.unknown(race, when, usual), algebra.terms.choose(when, !usual, usual));
    assert_eq!(algebra.met[2..], [(race, when, Term::FALSE)]);
}

#[test]
fn what_never_happens_is_no_unknown_and_a_loop_is_looked_at_more_closely() {
    let mut terms = Terms::new();
    let [a, b, c, usual] = [(); 4].map(|()| terms.variable());
    let pairs = [(a, b), (b, c), (a, c)].map(|(x, y)| terms.xor(x, y));
    let never = terms.all(pairs);
    assert_eq!(never.as_constant(), None, "of three levels two are equal, which folding does not see");
    let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
    assert_eq!(algebra.unknown(Unknown::Race(0), Term::FALSE, usual), usual);
    assert_eq!(algebra.unknown(Unknown::Loop(0), never, usual), usual);
    assert_eq!(algebra.met, []);
    assert_ne!(algebra.unknown(Unknown::Loop(0), a, usual), usual);
    assert_ne!(algebra.unknown(Unknown::Race(0), never, usual), usual);
    assert_eq!(algebra.met.len(), 2);
}

const TERNARY: [Ternary; 3] = [Ternary::Low, Ternary::High, Ternary::Either];

fn may_be(level: Ternary) -> Vec<bool> {
    level.known().map_or(vec![false, true], |known| vec![known])
}

/// What comes of every resolution.
fn all_of(levels: &[Ternary], of: impl Fn(&[bool]) -> bool) -> Ternary {
    let mut ways = vec![Vec::new()];
    for &level in levels {
        let longer = |way: &Vec<bool>| may_be(level).into_iter().map(|l| [way.as_slice(), &[l]].concat()).collect();
        ways = ways.iter().flat_map::<Vec<Vec<bool>>, _>(longer).collect();
    }
    let results: BTreeSet<bool> = ways.iter().map(|way| of(way)).collect();
    if results.len() == 2 { Ternary::Either } else { Ternary::of(results.contains(&true)) }
}

#[test]
fn careful_levels_are_known_where_all_resolutions_agree() {
    let mut careful = Careful::default();
    for a in TERNARY {
        assert_eq!(careful.not(a), all_of(&[a], |l| !l[0]));
        for b in TERNARY {
            assert_eq!(careful.and(a, b), all_of(&[a, b], |l| l[0] & l[1]), "{a:?} and {b:?}");
            assert_eq!(careful.or(a, b), all_of(&[a, b], |l| l[0] | l[1]), "{a:?} or {b:?}");
            assert_eq!(careful.xor(a, b), all_of(&[a, b], |l| l[0] ^ l[1]), "{a:?} xor {b:?}");
            for when in TERNARY {
                let expected = all_of(&[when, a, b], |l| if l[0] { l[1] } else { l[2] });
                assert_eq!(careful.choose(when, a, b), expected, "{when:?}, {a:?}, {b:?}");
            }
        }
    }
    assert_eq!(careful.unknown(Unknown::Race(0), Ternary::Low, Ternary::High), Ternary::High);
    assert_eq!(careful.unknown(Unknown::Floating(0), Ternary::High, Ternary::High), Ternary::Either);
    assert!(!careful.met, "a floating net is no race, and what never happens is none");
    assert_eq!(careful.unknown(Unknown::Race(0), Ternary::Either, Ternary::High), Ternary::Either);
    assert!(careful.met);
}

/// Every combination of three levels, a lane each.
fn lanes(known_alone: bool) -> ([Rails<u64>; 3], Vec<[Ternary; 3]>) {
    let some = if known_alone { &TERNARY[..2] } else { &TERNARY };
    let all: Vec<[Ternary; 3]> =
        some.iter().flat_map(|&a| some.iter().flat_map(move |&b| some.iter().map(move |&c| [a, b, c]))).collect();
    let word = |k: usize, level: bool| {
        all.iter().enumerate().fold(0, |w, (lane, l)| w | (u64::from(may_be(l[k]).contains(&level)) << lane))
    };
    // lanes that nobody looks at are determined
    let rest = !0 << all.len();
    ([0, 1, 2].map(|k| Rails { high: word(k, true), low: word(k, false) | rest }), all)
}

#[test]
fn rails_are_determined_where_all_resolutions_agree() {
    type Of<'f> = &'f dyn Fn(&[bool]) -> bool;
    for known_alone in [true, false] {
        let ([a, b, c], all) = lanes(known_alone);
        let g = &mut Lanes::default();
        let made: [(Rails<u64>, Of); 5] = [
            (a.not(), &|l| !l[0]),
            (a.and(g, b), &|l| l[0] & l[1]),
            (a.or(g, b), &|l| l[0] | l[1]),
            (a.xor(g, b), &|l| l[0] ^ l[1]),
            (a.choose(g, b, c), &|l| if l[0] { l[1] } else { l[2] }),
        ];
        for (n, (rails, of)) in made.into_iter().enumerate() {
            for (lane, levels) in all.iter().enumerate() {
                let expected = all_of(levels, of);
                let has = |word: u64| (word >> lane) & 1 == 1;
                let expected = (may_be(expected).contains(&true), may_be(expected).contains(&false));
                assert_eq!((has(rails.high), has(rails.low)), expected, "{n}: {levels:?}");
                assert_eq!(has(rails.open(g)), expected == (true, true));
            }
        }
        let joined = a.join(g, b);
        assert_eq!((joined.high, joined.low), (a.high | b.high, a.low | b.low));
    }
}
