//! States counted one by one, against small circuits whose states anybody can count.
use std::collections::BTreeSet;

use crate::circuit::{Direction, Expr, Origin};
use crate::machine::known::Known;
use crate::machine::{Desk, Film, Lanes, Limits, Machine};
use crate::simulate::tests::Bench;

/// What the cells hold in each lane that is in use.
fn held(machine: &Machine, known: &Known) -> Vec<Vec<bool>> {
    let mut all = Vec::new();
    for block in &known.blocks {
        let words: Vec<u64> =
            machine.held(&block.point).into_iter().chain(machine.floating_levels(&block.point)).collect();
        for lane in (0..64).filter(|lane| (block.alive >> lane) & 1 == 1) {
            all.push(words.iter().map(|w| (w >> lane) & 1 == 1).collect());
        }
    }
    all
}

fn registers(count: usize) -> Bench {
    let mut b = Bench::new("registers");
    let (clock, mut data) = (b.input("clock"), b.input("d"));
    for i in 0..count {
        data = b.register(&format!("q{i}"), clock, data, Expr::LOW, Expr::LOW).1;
    }
    b.output("q", data);
    b
}

#[test]
fn every_start_is_begun_with_once_up_to_a_number_of_bits() {
    for bits in [1, 5, 6, 7, 12] {
        let machine = Machine::new(&registers(bits).c);
        let known = Known::begin(&machine, &[false, false], Limits::ample(&machine)).unwrap();
        let states = held(&machine, &known);
        assert_eq!((states.len(), BTreeSet::from_iter(&states).len()), (1 << bits, 1 << bits));
    }
    let machine = Machine::new(&registers(13).c);
    assert!(Known::begin(&machine, &[false, false], Limits::ample(&machine)).is_none());
    // a net that floats doubles the states
    let mut b = registers(12);
    let net = b.c.add_net("floats", Origin::Nowhere);
    b.c.net_mut(net).unwrap().open_read = crate::figures::OpenInput::Unknown;
    let read = b.c.net(net);
    b.output("read", read);
    let machine = Machine::new(&b.c);
    assert!(Known::begin(&machine, &[false; 3], Limits::ample(&machine)).is_none());
}

#[test]
fn what_floats_may_read_either_level_up_to_a_number_of_ways() {
    for (nets, ways) in [(1, Some(2)), (6, Some(64)), (7, None)] {
        let mut b = Bench::new("floating");
        for i in 0..nets {
            let net = b.c.add_net(format!("n{i}"), Origin::Nowhere);
            b.c.net_mut(net).unwrap().open_read = crate::figures::OpenInput::Unknown;
            let read = b.c.net(net);
            b.output(&format!("y{i}"), read);
        }
        let machine = Machine::new(&b.c);
        assert_eq!(machine.floating().len(), nets);
        let known = Known::begin(&machine, &vec![false; nets], Limits::ample(&machine));
        assert_eq!(known.map(|k| BTreeSet::from_iter(held(&machine, &k)).len()), ways);
    }
}

#[test]
fn what_never_rests_is_no_state() {
    let mut b = Bench::new("ring");
    let inverted = b.c.add_net("ring", Origin::Nowhere);
    let level = b.c.net(inverted);
    let level = b.c.not(level);
    b.drive(inverted, Expr::HIGH, level);
    let machine = Machine::new(&b.c);
    let known = Known::begin(&machine, &[], Limits::ample(&machine)).unwrap();
    assert_eq!(held(&machine, &known), Vec::<Vec<bool>>::new());
}

#[test]
fn every_order_and_every_outcome_of_a_race_is_followed() {
    let machine = Machine::new(&registers(1).c);
    let limits = Limits::ample(&machine);
    let start = [(vec![false], vec![false, false])];
    let (clock, data) = (vec![(0, true)], vec![(1, true)]);
    let after = |orders: &[Vec<Vec<(usize, bool)>>]| {
        let mut known = Known::of(&machine, &start).unwrap();
        assert!(known.step(&machine, orders, limits));
        BTreeSet::from_iter(held(&machine, &known))
    };
    let (low, high) = (vec![false], vec![true]);
    assert_eq!(after(&[vec![clock.clone(), data.clone()]]), BTreeSet::from([low.clone()]));
    assert_eq!(after(&[vec![data.clone(), clock.clone()]]), BTreeSet::from([high.clone()]));
    let both = after(&[vec![clock.clone(), data.clone()], vec![data.clone(), clock.clone()]]);
    assert_eq!(both, BTreeSet::from([low.clone(), high.clone()]));
    // at one moment the two race
    assert_eq!(after(&[vec![[clock, data].concat()]]), BTreeSet::from([low, high]));
}

#[test]
fn given_states_are_those_and_what_is_kept_stays_as_it_was() {
    let machine = Machine::new(&registers(7).c);
    let all: Vec<(Vec<bool>, Vec<bool>)> =
        (0..128).map(|n| ((0..7).map(|k| (n >> k) & 1 == 1).collect(), vec![false, true])).collect();
    for count in [1, 63, 64, 65, 128] {
        let known = Known::of(&machine, &all[..count]).unwrap();
        let expected: Vec<Vec<bool>> = all[..count].iter().map(|s| s.0.clone()).collect();
        assert_eq!(held(&machine, &known), expected);
        for b in &known.blocks {
            let outside = machine.outside(&b.point);
            assert_eq!([outside[0] & b.alive, outside[1] & b.alive], [0, b.alive]);
        }
    }
    // what is not given is low
    let short = Known::of(&machine, &[(vec![true], vec![])]).unwrap();
    assert_eq!(held(&machine, &short), [all[1].0.clone()]);
    // twice the same is one
    let twice = Known::of(&machine, &[&all[..65], &all[..1]].concat()).unwrap();
    assert_eq!(held(&machine, &twice).len(), 65);
    let mut known = Known::of(&machine, &all).unwrap();
    known.keep(&machine, &[0b100, 0b1]);
    assert_eq!(held(&machine, &known), [all[2].0.clone(), all[64].0.clone()]);
    assert_eq!(known.blocks.len(), 1, "few states stand side by side");
    known.keep(&machine, &[0]);
    assert_eq!(held(&machine, &known), Vec::<Vec<bool>>::new());
}

#[test]
fn a_contact_that_floats_shows_what_the_board_puts_on_it() {
    let mut b = Bench::new("bus");
    let (enable, level) = (b.input("enable"), b.input("level"));
    let bus = b.c.add_net("bus", Origin::Nowhere);
    b.contact("bus", bus, Direction::InOut);
    b.drive(bus, enable, level);
    let read = b.c.net(bus);
    b.output("y", read);
    let machine = Machine::new(&b.c);
    let mut known = Known::begin(&machine, &[true, false, true, false], Limits::ample(&machine)).unwrap();
    let shown = |known: &Known| machine.shown(&known.blocks[0].point, 3).1 & 1;
    assert_eq!(shown(&known), 0);
    assert!(known.step(&machine, &[vec![vec![(0, false)]]], Limits::ample(&machine)));
    assert_eq!(shown(&known), 1);
}

/// A desk is used for one step after the other; whatever the last one left on it must not count.
#[test]
fn a_step_in_place_is_the_step_and_can_be_taken_back() {
    let mut b = registers(2);
    b.cross_coupled("s", "r");
    let (clear, preset) = (b.input("clear"), b.input("preset"));
    b.latch("latch", Expr::LOW, Expr::LOW, clear, preset);
    let machine = Machine::new(&b.c);
    let (limits, ports) = (Limits::ample(&machine), [0, 1, 3, 4, 5, 6]);
    let mut algebra = Lanes::default();
    let mut point = machine.power_up(&mut algebra, &[0; 7], &vec![0; machine.cells().len()], limits).point;
    let (mut desk, mut random) = (Desk::new(&machine), crate::random::SplitMix::new(7));
    desk.film = Some(Film::new());
    for _ in 0..200 {
        let some: Vec<usize> = ports.into_iter().filter(|_| random.below(3) == 0).collect();
        let change: Vec<(usize, u64)> = some.into_iter().map(|p| (p, random.word())).collect();
        let (mut at_once, mut in_place) = (Lanes::default(), Lanes::default());
        let expected = machine.step(&mut at_once, &point, &change, limits);
        let before = point.clone();
        for again in [true, false] {
            in_place.met.clear();
            let passed = machine.pass(&mut in_place, &mut desk, &mut point, &change, limits);
            assert_eq!(
                (&point, &passed.moved, passed.unsettled),
                (&expected.point, &expected.moved, expected.unsettled)
            );
            assert_eq!(in_place.met, at_once.met);
            assert_eq!(passed.views.len(), expected.views.len());
            assert_eq!(desk.film.as_ref().map(Vec::len), Some(passed.views.len()));
            let changed: Vec<usize> =
                (0..machine.cells().len()).filter(|&c| machine.holds(&before, c) != machine.holds(&point, c)).collect();
            assert!(changed.iter().all(|&c| passed.moved.contains(&(c as u32))), "{changed:?}");
            if again {
                desk.undo(&mut point);
                assert_eq!(point, before);
            }
        }
    }
}

#[test]
fn what_is_not_given_is_low() {
    let machine = Machine::new(&registers(2).c);
    let point = machine.point(&mut Lanes::default(), &[], &[]);
    assert_eq!((machine.held(&point), machine.outside(&point)), (vec![0; 2], vec![0; 3]));
}
