//! Drawn pairs of several parts: the verdict part by part against a walk over all states of the whole, which knows of no
//! parts.
use super::*;
use crate::prove::draw::Draw;

/// A drawn part over these inputs: gates, one or two registers, sometimes a latch of two gates. `slip` turns one gate into
/// another.
fn part(b: &mut Build, seed: u64, inputs: &[Expr], label: u16, slip: bool) {
    let mut draw = Draw::new(seed);
    let mut pool = inputs.to_vec();
    let mut registers = Vec::new();
    for i in 0..1 + draw.below(2) {
        let clock = inputs[draw.below(inputs.len())];
        let clear = if draw.below(3) == 0 { inputs[draw.below(inputs.len())] } else { Expr::LOW };
        let (e, q) = b.register(&format!("r{label}_{i}"), clock, Expr::LOW, clear, Start::Any);
        registers.push(e);
        pool.push(q);
    }
    if draw.below(3) == 0 {
        let nets = ["one", "other"].map(|n| b.c.add_net(format!("{n}{label}"), Origin::Nowhere));
        for (i, net) in nets.into_iter().enumerate() {
            let (input, back) = (inputs[draw.below(inputs.len())], b.c.net(nets[1 - i]));
            let both = b.c.and(input, back);
            let level = b.c.not(both);
            let (stage, origin) = (Stage::PushPull, Origin::Nowhere);
            b.c.drive(net, Driver { enable: Expr::HIGH, level, stage, by: By::signal("gate"), origin });
        }
        // either of them: the other side may be cut at the other
        let shown = b.c.net(nets[draw.below(2)]);
        pool.push(shown);
    }
    let gates = 3 + draw.below(3);
    let slips = draw.below(gates);
    for i in 0..gates {
        let (x, y, kind) = (pool[draw.below(pool.len())], pool[draw.below(pool.len())], draw.below(3));
        let kind = if slip && i == slips { (kind + 1) % 3 } else { kind };
        pool.push(match kind {
            0 => b.c.and(x, y),
            1 => b.c.or(x, y),
            _ => {
                let x = b.c.not(x);
                b.c.xor(x, y)
            }
        });
    }
    for e in registers {
        let data = pool[pool.len() - 1 - draw.below(3)];
        b.feed(e, data);
    }
    let last = pool[pool.len() - 1];
    b.output(label, &format!("y{label}"), last);
}

/// Parts of these seeds beside each other, over three inputs that they share; one of them may have a slip.
fn card(seeds: &[u64], slip: Option<usize>) -> Circuit {
    let mut b = Build::new(if slip.is_some() { "drawn, changed" } else { "drawn" });
    let inputs = [(1, "a"), (2, "b"), (3, "c")].map(|(label, name)| b.input(label, name));
    // somebody reads every input
    let any = b.c.any(inputs);
    b.output(40, "any", any);
    for (i, &seed) in seeds.iter().enumerate() {
        part(&mut b, seed, &inputs, 10 + i as u16, slip == Some(i));
    }
    b.c
}

fn outcome(verdict: &Result<Proof, Failure>) -> Option<Option<usize>> {
    match verdict {
        Ok(_) => Some(None),
        Err(Failure::Refuted(r)) => Some(Some(r.events.len())),
        Err(Failure::Undecided(_)) => None,
        Err(other) => panic!("{other}"),
    }
}

#[test]
fn part_by_part_comes_to_the_same_as_a_walk_over_the_whole() {
    let mut draw = Draw::new(1974);
    let (mut proved, mut refuted, mut open) = (0, 0, 0);
    for round in 0..120 {
        let seeds: Vec<u64> = (0..2 + draw.below(2)).map(|_| draw.word()).collect();
        let slip = (round % 3 != 0).then(|| draw.below(seeds.len()));
        let mut question = Question::new(card(&seeds, None), card(&seeds, slip)).settled_only();
        if round % 4 == 0 {
            // over inputs that all parts share: it ties no states
            let high = |l: u16| Arc::new(Formula::High(l.into()));
            let holds = Formula::Not(Arc::new(Formula::And(high(1), high(2))));
            question = question.assuming(Assumption { text: "never a and b".into(), holds });
        }
        if round % 5 == 0 {
            question = question.together([2u16, 3].map(Label::from));
        }
        let Some(parts) = question.ask_in_parts() else { panic!("round {round} does not fall apart") };
        let (by_parts, usual, whole) = (outcome(&parts), outcome(&question.ask()), outcome(&question.ask_by_walk()));
        for found in [by_parts, usual] {
            match (found, whole) {
                (Some(a), Some(b)) => assert_eq!(a.is_some(), b.is_some(), "round {round}: {parts:?}"),
                _ => open += 1,
            }
        }
        if let (Err(Failure::Refuted(r)), Some(Some(events))) = (&parts, whole) {
            assert!(!r.shortest || r.events.len() == events, "round {round}: {events}: {r}");
            assert!(r.replay().is_none_or(|left| left.last() == Some(&0)), "{r}");
        }
        match whole {
            Some(None) => proved += 1,
            Some(Some(_)) => refuted += 1,
            None => {}
        }
    }
    println!("{proved} proved, {refuted} refuted, {open} of 240 open");
    assert!(proved >= 30 && refuted >= 30 && open <= 60, "{proved} proved, {refuted} refuted, {open} open");
}
