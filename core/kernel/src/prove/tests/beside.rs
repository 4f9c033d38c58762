//! Cards of several parts that have nothing in common but inputs: each is proved by itself.
use super::*;

/// What is wrong with a replacement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Slip {
    None,
    /// The last stage but one is skipped.
    Stage,
    /// Stop wins over start.
    Priority,
    /// The two inputs of the selector are exchanged.
    Selector,
    /// The line is pulled low while the latch is set, too.
    Line,
}

/// A shift register of so many stages, cleared while `stop_n` is low: contacts clock 1, serial 2, last stage 13.
fn stages(b: &mut Build, count: usize, stop_n: Expr, slip: Slip) -> Expr {
    let (clock, serial) = (b.input(1, "clock"), b.input(2, "serial"));
    let clear = b.c.not(stop_n);
    let mut level = serial;
    for i in 0..count {
        if slip == Slip::Stage && i + 1 == count {
            continue;
        }
        level = b.register(&format!("q{i}"), clock, level, clear, Start::Any).1;
    }
    b.output(13, "last", level);
    level
}

/// A selector of two lines with its own inputs, and a line that is pulled low: contacts 20 to 24.
fn more(b: &mut Build, run: Expr, slip: Slip) {
    let (pick, one, other, call) = (b.input(20, "pick"), b.input(21, "one"), b.input(22, "other"), b.input(24, "call"));
    let chosen = if slip == Slip::Selector { b.c.choose(pick, other, one) } else { b.c.choose(pick, one, other) };
    b.output(23, "chosen", chosen);
    let net = b.c.add_net("line", Origin::Nowhere);
    let pulls = if slip == Slip::Line { b.c.or(call, run) } else { call };
    b.c.drive(
        net,
        Driver {
            enable: pulls,
            level: Expr::LOW,
            stage: Stage::OpenCollector,
            by: By::signal("line"),
            origin: Origin::Nowhere,
        },
    );
    b.contact(25, "line", net, Direction::Output);
}

fn push_pull(b: &mut Build, net: NetId, level: Expr) {
    let (stage, origin) = (Stage::PushPull, Origin::Nowhere);
    b.c.drive(net, Driver { enable: Expr::HIGH, level, stage, by: By::signal("gate"), origin });
}

/// Two cross-coupled gates that remember which of `start_n` 3 and `stop_n` 4 was low last, shown at 17.
fn traced(count: usize, wide: bool) -> Circuit {
    let mut b = Build::new("winch, traced");
    let (start_n, stop_n) = (b.input(3, "start_n"), b.input(4, "stop_n"));
    let (run_n, run) = (b.c.add_net("run_n", Origin::Nowhere), b.c.add_net("run", Origin::Nowhere));
    for (net, input, from) in [(run_n, stop_n, run), (run, start_n, run_n)] {
        let from = b.c.net(from);
        let both = b.c.and(input, from);
        let level = b.c.not(both);
        push_pull(&mut b, net, level);
    }
    b.contact(17, "run", run, Direction::Output);
    stages(&mut b, count, stop_n, Slip::None);
    if wide {
        more(&mut b, Expr::LOW, Slip::None);
    }
    b.c
}

/// The same as somebody writes it: `run` while started, and while it ran and is not stopped.
fn written(count: usize, wide: bool, slip: Slip) -> Circuit {
    let mut b = Build::new("winch, written");
    let (start_n, stop_n) = (b.input(3, "start_n"), b.input(4, "stop_n"));
    let run = b.c.add_net("run", Origin::Nowhere);
    let (held, start) = (b.c.net(run), b.c.not(start_n));
    let kept = b.c.and(held, stop_n);
    let mut level = b.c.or(start, kept);
    if slip == Slip::Priority {
        level = b.c.and(level, stop_n);
    }
    push_pull(&mut b, run, level);
    b.contact(17, "run", run, Direction::Output);
    stages(&mut b, count, stop_n, slip);
    if wide {
        more(&mut b, held, slip);
    }
    b.c
}

#[test]
fn a_latch_of_gates_beside_a_shift_register_needs_no_walk() {
    for wide in [false, true] {
        let proof = Question::new(traced(8, wide), written(8, wide, Slip::None)).ask().unwrap();
        assert_eq!(proof.method, Method::Induction, "{proof}");
        assert!(proof.obligations().iter().all(|o| Solver::refutes(&o.text)), "{proof}");
        assert!(proof.figures.questions < 100, "{proof}");
    }
}

#[test]
fn a_slip_in_one_of_several_parts_is_refuted() {
    for (wide, slip) in [
        (false, Slip::Stage),
        (false, Slip::Priority),
        (true, Slip::Stage),
        (true, Slip::Priority),
        (true, Slip::Selector),
        (true, Slip::Line),
    ] {
        let r = refuted(traced(8, wide), written(8, wide, slip));
        assert!(r.shortest, "{r}");
    }
}
