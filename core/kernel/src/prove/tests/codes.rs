//! Large pairs whose sequencers stand in different codes, with registers beside them that both have: too many states for
//! a walk.
use super::*;

#[derive(Clone, Copy, Default)]
struct Slip {
    /// The last step but one goes to the first.
    skips: bool,
    /// The top bit is loaded and not added.
    loads: bool,
}

/// Two to this power of steps: in step 2 some bits are taken from the contacts, in step 4 they are added bit by bit to a sum, which is
/// shown; the last step is shown. Contacts: clock 1, clear 2, data from 3, sum from 11, last step 19.
fn sequencer(in_ring: bool, (bits, width): (usize, u16), start: Start, slip: Slip) -> Circuit {
    let count = 1 << bits;
    let mut b = Build::new(if in_ring { "ring of steps" } else { "counter of steps" });
    let (clock, clear) = (b.input(1, "clock"), b.input(2, "clear"));
    let steps: Vec<Expr> = if in_ring {
        let cells: Vec<_> = (0..count)
            .map(|i| b.register(&format!("r{i}"), clock, Expr::LOW, if i == 0 { Expr::LOW } else { clear }, start))
            .collect();
        b.c.element_mut(cells[0].0).unwrap().preset = clear;
        for i in 0..count {
            b.feed(cells[i].0, cells[(i + count - 1) % count].1);
        }
        cells.iter().map(|c| c.1).collect()
    } else {
        let cells: Vec<_> = (0..bits).map(|i| b.register(&format!("c{i}"), clock, Expr::LOW, clear, start)).collect();
        let steps: Vec<Expr> = (0..count)
            .map(|k| {
                (0..bits).fold(Expr::HIGH, |all, i| {
                    let bit = if (k >> i) & 1 == 1 { cells[i].1 } else { b.c.not(cells[i].1) };
                    b.c.and(all, bit)
                })
            })
            .collect();
        let keep = if slip.skips { b.c.not(steps[count - 2]) } else { Expr::HIGH };
        let mut carry = Expr::HIGH;
        for &(e, q) in &cells {
            let sum = b.c.xor(q, carry);
            carry = b.c.and(carry, q);
            let data = b.c.and(sum, keep);
            b.feed(e, data);
        }
        steps
    };
    let take = steps[2];
    for i in 0..width {
        let data = b.input(3 + i, &format!("d{i}"));
        let (taken, t) = b.register(&format!("t{i}"), clock, Expr::LOW, Expr::LOW, Start::Any);
        let next = b.c.choose(take, data, t);
        b.feed(taken, next);
        let (sum, s) = b.register(&format!("s{i}"), clock, Expr::LOW, clear, Start::Any);
        let added = if slip.loads && i + 1 == width { t } else { b.c.xor(s, t) };
        let next = b.c.choose(steps[4], added, s);
        b.feed(sum, next);
        b.output(11 + i, &format!("s{i}"), s);
    }
    b.output(19, "last", steps[count - 1]);
    b.c
}

#[test]
fn a_counter_replaces_a_ring_beside_registers_that_both_have() {
    for start in [Start::Low, Start::Any] {
        let ring = sequencer(true, (3, 8), Start::Any, Slip::default());
        let proof = Question::new(ring, sequencer(false, (3, 8), start, Slip::default())).ask().unwrap();
        assert!(matches!(proof.method, Method::Induction), "{proof}");
        assert!(proof.matches.iter().any(|m| m.starts_with("in another code")), "{proof}");
        // the obligations say the same to another reader
        let mut obligations = proof.obligations();
        obligations.retain(|o| o.never.contains("none of the combinations"));
        assert!(!obligations.is_empty() && obligations.iter().all(|o| Solver::refutes(&o.text)), "{proof}");
    }
}

#[test]
fn a_slip_in_a_sequencer_of_another_code_is_refuted() {
    let slips = [Slip { skips: true, ..Slip::default() }, Slip { loads: true, ..Slip::default() }];
    for slip in slips {
        let ring = sequencer(true, (3, 3), Start::Any, Slip::default());
        let r = refuted(ring, sequencer(false, (3, 3), Start::Any, slip));
        assert!(r.replay().is_none_or(|left| left.last() == Some(&0)), "{r}");
    }
}

#[test]
fn a_slip_against_a_long_ring_is_refuted() {
    for slip in [Slip { skips: true, ..Slip::default() }, Slip { loads: true, ..Slip::default() }] {
        let ring = sequencer(true, (4, 3), Start::Any, Slip::default());
        assert!(refuted(ring, sequencer(false, (4, 3), Start::Any, slip)).shortest);
    }
}
