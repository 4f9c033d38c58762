//! Arithmetic parts against arithmetic itself, over all inputs.
use gluewright::circuit::Circuit;

use super::bench::{Bench, Combinations, logic_of};

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

/// Every addition of two 4-bit numbers and a carry, one bit a group: what each group generates and propagates, and the
/// carries of the sum itself. A group that generates always propagates here; the equations cover the other inputs.
#[test]
fn the_look_ahead_generator_knows_the_carries_of_every_sum() {
    let mut sums = std::collections::BTreeSet::new();
    for_all("74S182", |input, output| {
        let bit = |name: char, i: u32| 1 - input(&format!("{name}{i}"));
        let (generates, propagates): (u32, u32) =
            (0..4).fold((0, 0), |(g, p), i| (g | (bit('G', i) << i), p | (bit('P', i) << i)));
        if generates & !propagates != 0 {
            return;
        }
        // a = p and b = g give these: a | b = p, a & b = g
        let (a, b, carry) = (propagates, generates, input("CN"));
        sums.insert((a, b, carry));
        let carry_after = |bits: u32, carry: u32| {
            let low = (1 << bits) - 1;
            ((a & low) + (b & low) + carry) >> bits & 1
        };
        assert_eq!(
            (output("CNX"), output("CNY"), output("CNZ")),
            (carry_after(1, carry), carry_after(2, carry), carry_after(3, carry)),
            "carries of {a} plus {b} plus {carry}"
        );
        assert_eq!(output("G") == 0, carry_after(4, 0) == 1, "group generate of {a} plus {b}");
        let (generate, propagate) = (1 - output("G"), 1 - output("P"));
        assert_eq!(generate | (propagate & carry), carry_after(4, carry), "carry out of {a} plus {b} plus {carry}");
    });
    // of each bit's four pairs of (generates, propagates) three are left
    assert_eq!(sums.len(), 3 * 3 * 3 * 3 * 2);
}

/// Four 74181 and a 74182 are a 16-bit adder, as the sheets of both show them (from memory): checked on numbers drawn.
#[test]
fn four_slices_and_the_generator_add_sixteen_bits() {
    // active-low data: a pin is low for a one; CN and CN4 are high for a carry
    let slice = &Bench::new("74LS181");
    let ahead = &Bench::new("74S182");
    let word = |high: bool| if high { u64::MAX } else { 0 };
    let mut seed = 1984u32;
    let mut draw = || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        seed >> 16
    };
    for _ in 0..300 {
        let (a, b, carry) = (draw(), draw() ^ (draw() & 0xF0F0), draw() & 1);
        let run = move |i: u32, carry_in: u32| {
            let mut outside = vec![0; slice.machine.ports().len()];
            for bit in 0..4 {
                outside[slice.port(&format!("A{bit}"))] = word(a >> (4 * i + bit) & 1 == 0);
                outside[slice.port(&format!("B{bit}"))] = word(b >> (4 * i + bit) & 1 == 0);
            }
            for (pin, high) in [("S0", true), ("S3", true), ("CN", carry_in == 1)] {
                outside[slice.port(pin)] = word(high);
            }
            let (point, _) = slice.start(&outside, &[]);
            move |name: &str| u32::from(slice.shows(&point, name).reads_high() & 1 == 1)
        };
        let mut outside = vec![0; ahead.machine.ports().len()];
        outside[ahead.port("CN")] = word(carry == 1);
        for i in 0..4 {
            let shows = run(i, 0);
            outside[ahead.port(&format!("P{i}"))] = word(shows("P") == 1);
            outside[ahead.port(&format!("G{i}"))] = word(shows("G") == 1);
        }
        let (point, _) = ahead.start(&outside, &[]);
        let carries = ["CNX", "CNY", "CNZ"].map(|c| u32::from(ahead.shows(&point, c).reads_high() & 1 == 1));
        let sum = (0..4).fold(0, |sum, i| {
            let shows = run(i, if i == 0 { carry } else { carries[i as usize - 1] });
            (0..4).fold(sum, |sum, bit| sum | ((1 - shows(&format!("F{bit}"))) << (4 * i + bit)))
        });
        assert_eq!(sum, (a + b + carry) & 0xFFFF, "{a} plus {b} plus {carry}");
    }
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

/// Counters whose stages are too many for a table: what clocks them, what shows the count (a register's clock), and the pins
/// that show it, each with its place in the number.
pub(crate) const LONG_COUNTERS: [(&str, &str, Option<&str>, &[(&str, u32)]); 5] = [
    ("CD4024", "CLK", None, &[("Q1", 0), ("Q2", 1), ("Q3", 2), ("Q4", 3), ("Q5", 4), ("Q6", 5), ("Q7", 6)]),
    (
        "CD4020",
        "CLK",
        None,
        &[
            ("Q1", 0),
            ("Q4", 3),
            ("Q5", 4),
            ("Q6", 5),
            ("Q7", 6),
            ("Q8", 7),
            ("Q9", 8),
            ("Q10", 9),
            ("Q11", 10),
            ("Q12", 11),
            ("Q13", 12),
            ("Q14", 13),
        ],
    ),
    (
        "CD4040",
        "CLK",
        None,
        &[
            ("Q1", 0),
            ("Q2", 1),
            ("Q3", 2),
            ("Q4", 3),
            ("Q5", 4),
            ("Q6", 5),
            ("Q7", 6),
            ("Q8", 7),
            ("Q9", 8),
            ("Q10", 9),
            ("Q11", 10),
            ("Q12", 11),
        ],
    ),
    (
        "CD4060",
        "CLK",
        None,
        &[
            ("Q4", 3),
            ("Q5", 4),
            ("Q6", 5),
            ("Q7", 6),
            ("Q8", 7),
            ("Q9", 8),
            ("Q10", 9),
            ("Q12", 11),
            ("Q13", 12),
            ("Q14", 13),
        ],
    ),
    (
        "74LS590",
        "CCK",
        Some("RCK"),
        &[("QA", 0), ("QB", 1), ("QC", 2), ("QD", 3), ("QE", 4), ("QF", 5), ("QG", 6), ("QH", 7)],
    ),
];

/// Runs a counter from its reset through all its numbers and back to 0, and says where it shows another one. The counting
/// edge is the fall of a ripple counter and the rise of the one with a register.
pub(crate) fn miscount(part: &str, logic: &Circuit) -> Option<String> {
    let (_, clock, store, pins) = LONG_COUNTERS.into_iter().find(|(name, ..)| *name == part)?;
    let bench = Bench::of(part, logic);
    let reset = if store.is_some() { ("CCLR", 0, u64::MAX) } else { ("R", u64::MAX, 0) };
    let resting = if store.is_some() { 0 } else { u64::MAX };
    let mut outside = vec![0; bench.machine.ports().len()];
    outside[bench.port(reset.0)] = reset.1;
    outside[bench.port(clock)] = resting;
    let (mut point, _) = bench.start(&outside, &vec![u64::MAX; bench.machine.cells().len()]);
    (point, _) = bench.step(&point, &[(bench.port(reset.0), reset.2)]);
    let bits = pins.iter().map(|(_, place)| place + 1).max().unwrap_or(0);
    for count in 0..=1_u64 << bits {
        if let Some(store) = store {
            (point, _) = bench.step(&point, &[(bench.port(store), u64::MAX)]);
            (point, _) = bench.step(&point, &[(bench.port(store), 0)]);
            let full = count % 256 == 255;
            if (bench.shows(&point, "RCO").reads_low() & 1 == 1) != full {
                return Some(format!("{part}: carry at {count}"));
            }
        }
        for (pin, place) in pins {
            let shows = bench.shows(&point, pin);
            let high = count >> place & 1 == 1;
            if (shows.reads_high() & 1 == 1) != high || (shows.reads_low() & 1 == 1) == high {
                return Some(format!("{part}: {pin} at {count}"));
            }
        }
        (point, _) = bench.step(&point, &[(bench.port(clock), !resting)]);
        (point, _) = bench.step(&point, &[(bench.port(clock), resting)]);
    }
    None
}

/// Intersil CD4020BMS, CD4024BMS and CD4040BMS p.1; from memory of CD4060B; Hitachi HD74HC590 p.2: they count in binary.
#[test]
fn long_counters_count_in_binary() {
    for (part, ..) in LONG_COUNTERS {
        assert_eq!(miscount(part, &logic_of(part)), None);
    }
}
