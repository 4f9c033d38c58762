//! Where a run of the machine ends it is at rest: following once more, with nothing changing outside, moves nothing. On drawn
//! boards, over drawn events, whatever is answered to what nobody knows.
use gluewright_kernel::machine::{Limits, Machine};
use gluewright_tests::answers::Answers;
use gluewright_tests::boards::{board, trace};
use gluewright_tests::gates::Numbers;

/// What moves once more, if anything does: the board's number, the cell, and the contact that changed before.
fn restless(number: u64) -> Option<String> {
    let mut n = Numbers(9_176 + number);
    n = Numbers(n.0.wrapping_mul(1_000_003));
    let (packages, bits) = (3 + n.below(6), 2 + n.below(5));
    let machine = Machine::new(&board(&trace(&mut n, packages, bits))?);
    let limits = Limits::ample(&machine);
    let mut all = Answers::drawn(Numbers(number));
    let mut outside: Vec<u64> = machine.ports().iter().map(|_| all.word()).collect();
    let cells: Vec<u64> = machine.cells().iter().map(|_| all.word()).collect();
    let woken = machine.power_up(&mut all, &outside, &cells, limits);
    let (mut point, mut settled) = (woken.point, !woken.unsettled);
    for _ in 0..60 {
        let port = all.draw.below(outside.len());
        outside[port] = !outside[port];
        let stepped = machine.step(&mut all, &point, &[(port, outside[port])], limits);
        settled &= !stepped.unsettled;
        let rested = machine.rest(&mut all, &stepped.point, limits).point;
        for (cell, (now, then)) in machine.held(&stepped.point).into_iter().zip(machine.held(&rested)).enumerate() {
            if (now ^ then) & settled != 0 {
                let (cell, contact) = (&machine.cells()[cell].name, &machine.ports()[port].label);
                return Some(format!("board {number}: `{cell}` after a change of contact {contact}"));
            }
        }
        point = stepped.point;
    }
    None
}

#[test]
fn what_has_come_to_rest_stays_at_rest() {
    let restless: Vec<String> = (1..400).filter_map(restless).collect();
    assert!(restless.is_empty(), "{restless:#?}");
}
