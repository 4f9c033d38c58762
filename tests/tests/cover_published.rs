//! Functions whose minimum is known from outside.
use gluewright_devices::cover::{Effort, Function, Proof, Value, minimise, minimise_either};
use gluewright_tests::gates::Numbers;
use quine_mc_cluskey::Bool;

/// Terms high and low, all proved.
fn minima(inputs: u32, high: impl Fn(u64) -> bool) -> (usize, usize) {
    let function = Function::from_fn(inputs, |m| if high(m) { Value::High } else { Value::Low }).unwrap();
    let found = minimise_either(&function, &Effort::default());
    let low = found.low.unwrap();
    assert_eq!((found.high.terms, low.terms), (Proof::Proved, Proof::Proved));
    assert_eq!(function.difference(&found.high.cover), None);
    assert_eq!(function.complemented().unwrap().difference(&low.cover), None);
    (found.high.cover.len(), low.cover.len())
}

fn ones(m: u64) -> u32 {
    m.count_ones()
}

/// 9sym of the Berkeley PLA set (R. Rudell 1986): high for three to six of nine inputs. 84 terms are the minimum
/// (from memory: O. Coudert, "Two-level logic minimization: an overview", Integration 1994); there are no fewer, since
/// each of the 84 minterms of three ones is in primes of its own. Low, each of the 36 + 36 minterms of two and of seven
/// ones is in one prime of its own.
#[test]
fn nine_sym() {
    assert_eq!(minima(9, |m| (3..=6).contains(&ones(m))), (84, 72));
}

/// rd53 and rd84 of the same set: the bits of the number of ones. Minima of the single outputs by the same argument,
/// minterms that share no prime: for bit 1 of rd53 the ten of two ones (high), for bit 2 of it those of four ones
/// (high) and of three (low), for the parity every minterm.
#[test]
fn counts_of_ones() {
    assert_eq!(minima(5, |m| ones(m) & 1 == 1), (16, 16));
    assert_eq!(minima(5, |m| ones(m) & 2 == 2), (10, 10));
    assert_eq!(minima(5, |m| ones(m) & 4 == 4), (5, 10));
    assert_eq!(minima(8, |m| ones(m) & 1 == 1), (128, 128));
    assert_eq!(minima(8, |m| ones(m) & 2 == 2).0, 84);
    assert_eq!(minima(8, |m| ones(m) & 4 == 4).0, 70);
    assert_eq!(minima(8, |m| ones(m) == 8), (1, 8));
}

/// Whoever only wants to know whether a macrocell's sixteen terms suffice needn't wait for the minimum.
#[test]
fn more_terms_than_are_useful_are_not_searched() {
    let nine_sym = Function::from_fn(9, |m| if (3..=6).contains(&ones(m)) { Value::High } else { Value::Low }).unwrap();
    let found = minimise(&nine_sym, &Effort::default().within(16));
    assert_eq!(nine_sym.difference(&found.cover), None);
    assert!(matches!(found.terms, Proof::Heuristic { lower_bound: 17..=84 }), "{:?}", found.terms);
    assert_eq!(minimise(&nine_sym, &Effort::default().within(84)).terms, Proof::Proved);
}

/// Any textbook: no two minterms of a parity share an implicant, so n inputs need 2ⁿ⁻¹ terms in both polarities.
#[test]
fn parity() {
    for inputs in 1..=12 {
        assert_eq!(minima(inputs, |m| ones(m) & 1 == 1), (1 << (inputs - 1), 1 << (inputs - 1)));
    }
}

/// Any textbook: k of n needs one term for each choice of k inputs, its complement one for each choice of n − k + 1.
#[test]
fn thresholds() {
    assert_eq!(minima(3, |m| ones(m) >= 2), (3, 3));
    assert_eq!(minima(7, |m| ones(m) >= 4), (35, 35));
    assert_eq!(minima(8, |m| ones(m) >= 3), (56, 28));
}

/// Function tables of the data sheets: one line of a 74LS138, one output of a 74LS153 and of a 74LS157, and the
/// carry out of the two-bit adder 7482 stand for the trade's everyday functions.
#[test]
fn lines_of_the_trade() {
    let bit = |m: u64, i: u32| m >> i & 1 == 1;
    // output 5 is low for address 5 while G1 is high and both others are low
    assert_eq!(minima(6, |m| m & 7 != 5 || !bit(m, 3) || bit(m, 4) || bit(m, 5)), (6, 1));
    // four data inputs, two of address, a low enable
    assert_eq!(minima(7, |m| !bit(m, 6) && bit(m, (m >> 4 & 3) as u32)), (4, 5));
    assert_eq!(minima(4, |m| !bit(m, 3) && bit(m, u32::from(bit(m, 2)))), (2, 3));
    // carry of a1 a0 + b1 b0 + c: seven terms either way, the carry is self-dual
    assert_eq!(minima(5, |m| (m & 3) + (m >> 2 & 3) + (m >> 4) > 3), (7, 7));
}

/// The classic method in a general-purpose library (all minimal sums by W. V. Quine, E. J. McCluskey and S. R. Petrick)
/// finds as many terms.
#[test]
fn the_classic_method_agrees() {
    let mut numbers = Numbers(1956);
    for round in 0..400 {
        let inputs = 2 + round % 3;
        let table = numbers.below((1 << (1 << inputs)) - 1) as u64 + 1;
        let literal = |m: u64, i: u32| {
            let input = Bool::Term(i as u8);
            if m >> i & 1 == 1 { input } else { Bool::Not(Box::new(input)) }
        };
        let minterm = |m: u64| Bool::And((0..inputs).map(|i| literal(m, i)).collect());
        // a list of one is no sum for that library: the first minterm stands twice
        let mut sum: Vec<Bool> = (0..1 << inputs).filter(|m| table >> m & 1 == 1).map(minterm).collect();
        sum.extend(sum.first().cloned());
        let terms = |b: &Bool| if let Bool::Or(terms) = b { terms.len() } else { 1 };
        let classic = Bool::Or(sum).simplify().iter().map(terms).min().unwrap();
        assert_eq!(minima(inputs, |m| table >> m & 1 == 1).0, classic, "{table:x} of {inputs} inputs");
    }
}
