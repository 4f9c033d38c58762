//! Arithmetic parts against arithmetic itself, over all inputs.
use crate::bench::{Bench, Combinations};

/// Calls `check` for every combination of inputs, with the level of each pin by name and what each output reads.
fn for_all(part: &str, mut check: impl FnMut(&dyn Fn(&str) -> u32, &dyn Fn(&str) -> u32)) {
    let bench = Bench::new(part);
    let inputs = bench.inputs();
    for bits in Combinations::of(inputs.len()) {
        let mut outside = vec![0; bench.machine.ports().len()];
        for (name, &bits) in inputs.iter().zip(&bits) {
            outside[bench.port(name)] = bits;
        }
        let (point, _) = bench.start(&outside, &[]);
        for lane in 0..64 {
            let input = |name: &str| u32::from(outside[bench.port(name)] >> lane & 1 == 1);
            let output = |name: &str| u32::from(bench.shows(&point, name).reads_high() >> lane & 1 == 1);
            check(&input, &output);
        }
    }
}

/// The number on pins A0 to A3, for instance.
fn number(level: &dyn Fn(&str) -> u32, name: char, from: u32, bits: u32) -> u32 {
    (0..bits).map(|i| level(&format!("{name}{}", from + i)) << i).sum()
}

#[test]
fn adders_add() {
    for part in ["74LS83", "74LS283"] {
        for_all(part, |input, output| {
            let sum = number(input, 'A', 1, 4) + number(input, 'B', 1, 4) + input("C0");
            assert_eq!(number(output, 'S', 1, 4) + 16 * output("C4"), sum, "{part}");
        });
    }
}

#[test]
fn the_comparator_compares() {
    for_all("74LS85", |input, output| {
        let (a, b) = (number(input, 'A', 0, 4), number(input, 'B', 0, 4));
        let below = (input("AGTB_IN"), input("AEQB_IN"), input("ALTB_IN"));
        let expected = match (a.cmp(&b), below) {
            (std::cmp::Ordering::Greater, _) => (1, 0, 0),
            (std::cmp::Ordering::Less, _) => (0, 0, 1),
            (std::cmp::Ordering::Equal, (_, 1, _)) => (0, 1, 0),
            // Motorola MC54/74F85 p.4-37, last rows of the table
            (std::cmp::Ordering::Equal, (g, _, l)) => (1 - l, 0, 1 - g),
        };
        assert_eq!((output("AGTB"), output("AEQB"), output("ALTB")), expected, "{a} and {b} after {below:?}");
    });
}

#[test]
fn the_identity_comparator_compares() {
    for_all("74LS688", |input, output| {
        let equal = number(input, 'P', 0, 8) == number(input, 'Q', 0, 8);
        assert_eq!(output("PEQQ") == 0, equal && input("G") == 0);
    });
}

#[test]
fn parity_is_counted() {
    for_all("74LS280", |input, output| {
        let highs: u32 = "ABCDEFGHI".chars().map(|c| input(&c.to_string())).sum();
        assert_eq!((output("SODD"), output("SEVEN")), (highs % 2, 1 - highs % 2));
    });
    for_all("74180", |input, output| {
        let odd = "ABCDEFGH".chars().map(|c| input(&c.to_string())).sum::<u32>() % 2;
        let (even_in, odd_in) = (input("EVEN"), input("ODD"));
        let expected = match (even_in, odd_in) {
            (1, 0) => (1 - odd, odd),
            (0, 1) => (odd, 1 - odd),
            (same, _) => (1 - same, 1 - same),
        };
        assert_eq!((output("SEVEN"), output("SODD")), expected);
    });
}

/// Active-high data: 16 functions of each kind, selected by S3 to S0; from memory of the 74181's function table, in which
/// the arithmetic ones stand for CN high and one more is added while CN is low. CN4 is low while there is a carry.
#[test]
fn the_arithmetic_logic_unit_has_its_32_functions() {
    for_all("74LS181", |input, output| {
        let (a, b, select) = (number(input, 'A', 0, 4), number(input, 'B', 0, 4), number(input, 'S', 0, 4));
        let not = |n: u32| 15 - n;
        let f = number(output, 'F', 0, 4);
        if input("M") == 1 {
            let expected = match select {
                0 => not(a),
                1 => not(a | b),
                2 => not(a) & b,
                3 => 0,
                4 => not(a & b),
                5 => not(b),
                6 => a ^ b,
                7 => a & not(b),
                8 => not(a) | b,
                9 => not(a ^ b),
                10 => b,
                11 => a & b,
                12 => 15,
                13 => a | not(b),
                14 => a | b,
                _ => a,
            };
            assert_eq!(f, expected, "logic function {select} of {a} and {b}");
        } else {
            // minus 1 is plus 15 in four bits, and then the carry means no borrow
            let sum = match select {
                0 => a,
                1 => a | b,
                2 => a | not(b),
                3 => 15,
                4 => a + (a & not(b)),
                5 => (a | b) + (a & not(b)),
                6 => a + not(b),
                7 => (a & not(b)) + 15,
                8 => a + (a & b),
                9 => a + b,
                10 => (a | not(b)) + (a & b),
                11 => (a & b) + 15,
                12 => a + a,
                13 => (a | b) + a,
                14 => (a | not(b)) + a,
                _ => a + 15,
            } + (1 - input("CN"));
            assert_eq!(f, sum % 16, "arithmetic function {select} of {a} and {b}");
            assert_eq!(output("CN4"), u32::from(sum < 16), "carry of function {select} of {a} and {b}");
        }
        assert_eq!(output("AEQB"), u32::from(f == 15));
    });
}
