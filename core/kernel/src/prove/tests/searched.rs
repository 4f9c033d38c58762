//! Runs that are found by search: how many starts of the original one look stands for.
use super::*;

/// Registers that take what stands at their contacts while they were asked: contacts clock 1, request 2, reset 3, data
/// from 4, shown from 24. All that the search sees at power-up may hold anything.
fn store(width: u16, is_cleared: bool) -> Circuit {
    let mut b = Build::new("store");
    let (clock, request, reset) = (b.input(1, "clock"), b.input(2, "request"), b.input(3, "reset"));
    let clear = if is_cleared { reset } else { Expr::LOW };
    let (_, asked) = b.register("asked", clock, request, clear, Start::Any);
    for i in 0..width {
        let data = b.input(4 + i, &format!("d{i}"));
        let (e, held) = b.register(&format!("held{i}"), clock, Expr::LOW, Expr::LOW, Start::Any);
        let next = b.c.choose(asked, data, held);
        b.feed(e, next);
        b.output(24 + i, &format!("y{i}"), held);
    }
    b.c
}

#[test]
fn a_clear_that_is_lost_beside_many_bits_that_may_start_anyhow_is_refuted() {
    // one start of the original at a time, there would be 2^18 to be refuted
    let question = Question::new(store(18, true), store(18, false)).in_time(Duration::from_secs(60));
    let Err(Failure::Refuted(r)) = question.ask() else { panic!("{:?}", question.ask()) };
    assert!(r.shortest && r.events.len() == 1, "{r}");
    assert_eq!(r.replay().and_then(|left| left.last().copied()), Some(0), "{r}");
    assert!(Question::new(store(18, true), store(18, true)).ask().is_ok());
}
