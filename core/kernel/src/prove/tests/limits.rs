//! Limits of work: what has no time limit ends all the same.
use super::*;
use crate::solver::Effort;

/// More bits than any walk visits, each mixed with others: hard without a matching. Contacts clock 1, clear 2, data 4, and
/// the parity of what is held at 3.
fn tangle(count: usize) -> Circuit {
    let mut b = Build::new("tangle");
    let (clock, clear, data) = (b.input(1, "clock"), b.input(2, "clear"), b.input(4, "data"));
    let cells: Vec<_> = (0..count).map(|i| b.register(&format!("t{i}"), clock, Expr::LOW, clear, Start::Any)).collect();
    let mut carry = Expr::HIGH;
    let mut parity = Expr::LOW;
    for (i, &(e, q)) in cells.iter().enumerate() {
        let other = cells[(i * 7 + 3) % count].1;
        let mixed = b.c.and(other, carry);
        let before = if i == 0 { data } else { cells[i - 1].1 };
        let next = b.c.xor(before, mixed);
        b.feed(e, next);
        carry = b.c.xor(carry, q);
        parity = b.c.xor(parity, q);
    }
    b.output(3, "parity", parity);
    b.c
}

/// The same with its bits held as the exclusive or with their neighbours: nothing corresponds.
fn recoded(count: usize) -> Circuit {
    let mut b = Build::new("recoded");
    let (clock, clear, data) = (b.input(1, "clock"), b.input(2, "clear"), b.input(4, "data"));
    let cells: Vec<_> = (0..count).map(|i| b.register(&format!("s{i}"), clock, Expr::LOW, clear, Start::Low)).collect();
    // held bit i is the exclusive or of what the other holds from i on
    let mut values = vec![Expr::LOW; count];
    for i in 0..count {
        let above = if i + 1 < count { cells[i + 1].1 } else { Expr::LOW };
        values[i] = b.c.xor(cells[i].1, above);
    }
    let mut carry = Expr::HIGH;
    let mut next = Vec::new();
    for i in 0..count {
        let mixed = b.c.and(values[(i * 7 + 3) % count], carry);
        let before = if i == 0 { data } else { values[i - 1] };
        next.push(b.c.xor(before, mixed));
        carry = b.c.xor(carry, values[i]);
    }
    let parity = values.iter().fold(Expr::LOW, |parity, &value| b.c.xor(parity, value));
    let mut sum = Expr::LOW;
    for i in (0..count).rev() {
        sum = b.c.xor(sum, next[i]);
        b.feed(cells[i].0, sum);
    }
    b.output(3, "parity", parity);
    b.c
}

fn undecided(question: &Question) -> Undecided {
    match question.ask() {
        Err(Failure::Undecided(undecided)) => undecided,
        other => panic!("{other:?}"),
    }
}

#[test]
fn work_is_bounded_where_time_is_not() {
    let effort = Effort { steps: 20_000, ..Effort::default() };
    let question = Question::new(tangle(24), recoded(24)).within(effort).in_time(Duration::MAX).walking(1 << 10);
    let undecided = undecided(&question.to_depth(4));
    assert!(undecided.to_string().contains("runs over one event") || undecided.to_string().contains("starts"));
}
