//! What an original is shown to take: figures added up by hand from the data files' sheets along the one path that can be
//! sensitised, beside the longer path that can't.
#![allow(clippy::unwrap_used, reason = "cards are those of this file")]
use gluewright::board::Board;
use gluewright::timing::{Edge, Kind, Row, Timing, original};
use gluewright_parts::ttl;

use Edge::{Fall, Rise};

fn times(name: &str, trace: &str) -> Timing {
    original(&Board::from_csv(name, trace, ttl()).unwrap())
}

fn row<'t>(timing: &'t Timing, kind: Kind, from: (&str, Edge), to: (&str, Edge)) -> Option<&'t Row> {
    timing.between(kind, from, to)
}

/// The figure of a row that is shown by a run; nothing if no state lets it happen.
fn ns(timing: &Timing, kind: Kind, from: (&str, Edge), to: (&str, Edge)) -> Option<f64> {
    row(timing, kind, from, to).map(|row| {
        assert!(row.time.is_known(), "{kind} {from:?} {to:?} is not known: {:?}", row.time.missing);
        assert!(row.witness.is_some_and(|w| w.run < timing.runs.len()), "{kind} {from:?} {to:?}");
        row.time.ns
    })
}

fn bridge() -> Timing {
    times("loom_bridge.csv", include_str!("../../examples/src/loom_bridge.csv"))
}

fn sample_card() -> Timing {
    times("sample_card.csv", include_str!("../../examples/src/sample_card.csv"))
}

/// `a0` reaches its latch at once: setup 5 ns of a 74LS373. The way through both latches, 18 + 5 ns, has two holds that
/// exclude each other.
#[test]
fn two_latches_that_are_never_open_together_make_no_path() {
    let bridge = bridge();
    for edge in Edge::BOTH {
        assert_eq!(ns(&bridge, Kind::Setup, ("10", edge), ("5", Rise)), Some(5.0));
        assert_eq!(ns(&bridge, Kind::Setup, ("20", edge), ("5", Rise)), Some(5.0));
    }
}

/// Strobe, 74LS04 15 ns, 74LS08 15 ns, 74LS373 enable to output 30 ns. Another 18 ns go through the second latch only if both
/// are open.
#[test]
fn a_strobe_opens_one_latch_only() {
    let bridge = bridge();
    let all = Edge::BOTH.map(|edge| ns(&bridge, Kind::Propagation, ("5", Fall), ("10", edge)));
    assert_eq!(all, [Some(60.0); 2]);
    assert_eq!(Edge::BOTH.map(|edge| ns(&bridge, Kind::Propagation, ("5", Rise), ("10", edge))), [None; 2]);
}

/// Clock, 74LS74 to the inverted output 40 ns falling, 74LS08 20 ns: both drivers are never on at once, so that what watches
/// for that never moves `fault_n`.
#[test]
fn drivers_that_never_clash_show_no_fault() {
    let bridge = bridge();
    assert_eq!(ns(&bridge, Kind::ClockToOutput, ("1", Rise), ("7", Fall)), Some(60.0));
    for edges in [(Rise, Rise), (Rise, Fall), (Fall, Rise), (Fall, Fall)] {
        assert_eq!(ns(&bridge, Kind::Propagation, ("4", edges.0), ("7", edges.1)), None, "{edges:?}");
    }
}

/// A release of the reset: 74LS00 15 ns and the 74LS173's recovery of 10 ns. What the assertion clears, all of it is held
/// cleared, so nothing has to be set up.
#[test]
fn a_reset_has_a_recovery_and_nothing_to_set_up() {
    let card = sample_card();
    assert_eq!(ns(&card, Kind::Recovery, ("6", Rise), ("1", Rise)), Some(25.0));
    for edge in Edge::BOTH {
        assert_eq!(ns(&card, Kind::Setup, ("6", edge), ("1", Rise)), None);
    }
    assert_eq!(ns(&card, Kind::Recovery, ("6", Fall), ("1", Rise)), None);
}

/// Clock, 74LS74 40 ns, 74LS02 15 ns, 74LS00 15 ns, 74LS173 setup of its enable 35 ns; through one more gate to the 74LS109
/// it is longer. What is taken up changes again with the very edge that takes it up.
#[test]
fn a_pulse_of_one_clock_is_taken_up_in_time() {
    let period = sample_card().find(Kind::Period, "1", "1").map(|row| row.time.ns).unwrap();
    assert!((105.0..=120.0).contains(&period), "{period}");
}

/// An enable's off takes the edge that turns off: 83 ns were the longer edge's. The 74LS138's sheet has figures for two and
/// for three levels of gates; the least of them is certain, and 69 ns are what the larger would come to.
#[test]
fn turning_off_takes_the_edge_that_turns_off() {
    let pistons = times("organ_pistons.csv", include_str!("../../examples/src/organ_pistons.csv"));
    let longest = pistons.rows.iter().filter(|r| r.kind == Kind::Disable).map(|r| r.time.ns).fold(0.0, f64::max);
    assert!((60.0..=69.0).contains(&longest), "{longest}");
}

fn card(rows: &str, parts: &[(&str, &str, u16)]) -> Timing {
    let mut all = format!("ref,part,pin,net\nJ1,contacts,40,VCC\nJ1,contacts,20,GND\n{rows}");
    for (reference, part, pins) in parts {
        all += &format!("{reference},{part},{pins},VCC\n{reference},{part},{},GND\n", pins / 2);
        all += &format!("{reference},{part},others,open\n");
    }
    times("card.csv", &all)
}

/// 74LS173: recovery 10 ns. While it is cleared it loads nothing, so the way from its clear over its own output and a gate
/// back to its data, 35 + 22 + 17 ns, asks for nothing.
#[test]
fn a_cleared_register_needs_its_recovery_only() {
    let timing = card(
        "J1,contacts,1,clk\nJ1,contacts,2,clear\nJ1,contacts,3,d\nJ1,contacts,4,q\n\
         U1,74LS32,1,d\nU1,74LS32,2,q\nU1,74LS32,3,m\n\
         U2,74LS173,1,GND\nU2,74LS173,2,GND\nU2,74LS173,9,GND\nU2,74LS173,10,GND\nU2,74LS173,14,m\nU2,74LS173,3,q\n\
         U2,74LS173,7,clk\nU2,74LS173,15,clear\n",
        &[("U1", "74LS32", 14), ("U2", "74LS173", 16)],
    );
    assert_eq!(ns(&timing, Kind::Recovery, ("2", Fall), ("1", Rise)), Some(10.0));
    for edge in Edge::BOTH {
        assert_eq!(ns(&timing, Kind::Setup, ("2", edge), ("1", Rise)), None);
    }
}

/// 74LS157: data to output 14 ns. Its select, behind a 74LS86, chooses between two inputs that are one net.
#[test]
fn a_choice_between_equals_is_no_path() {
    let timing = card(
        "J1,contacts,1,a\nJ1,contacts,2,b\nJ1,contacts,3,y\n\
         U1,74LS86,1,a\nU1,74LS86,2,b\nU1,74LS86,3,s\n\
         U2,74LS157,1,s\nU2,74LS157,2,b\nU2,74LS157,3,b\nU2,74LS157,4,y\nU2,74LS157,15,GND\n",
        &[("U1", "74LS86", 14), ("U2", "74LS157", 16)],
    );
    for edge in Edge::BOTH {
        assert_eq!(ns(&timing, Kind::Propagation, ("2", edge), ("3", edge)), Some(14.0));
        assert_eq!(ns(&timing, Kind::Propagation, ("2", edge), ("3", edge.other())), None);
        assert_eq!(ns(&timing, Kind::Propagation, ("1", edge), ("3", edge)), None);
    }
}

/// 74LS74: no sheet gives a recovery of its clear. It is not nought: what is known of the row is less than what it takes.
#[test]
fn a_recovery_that_no_sheet_gives_is_not_nought() {
    let timing = card(
        "J1,contacts,1,clk\nJ1,contacts,2,clear\nJ1,contacts,3,d\nJ1,contacts,4,q\n\
         U1,74LS74,1,clear\nU1,74LS74,2,d\nU1,74LS74,3,clk\nU1,74LS74,4,VCC\nU1,74LS74,5,q\n",
        &[("U1", "74LS74", 14)],
    );
    let row = row(&timing, Kind::Recovery, ("2", Rise), ("1", Rise)).unwrap();
    assert!(!row.time.is_complete(), "{row:?}");
}

/// 74LS374: the net that clocks it is its data too. Whether it takes up what stood before or what comes is in no sheet, so
/// that nothing that follows is shown.
#[test]
fn data_that_move_with_their_clock_show_nothing() {
    let timing = card(
        "J1,contacts,1,clk\nJ1,contacts,2,q\nU1,74LS374,1,GND\nU1,74LS374,3,clk\nU1,74LS374,11,clk\nU1,74LS374,2,q\n",
        &[("U1", "74LS374", 20)],
    );
    for edge in Edge::BOTH {
        let row = row(&timing, Kind::ClockToOutput, ("1", Rise), ("2", edge));
        assert!(row.is_none_or(|row| !row.time.is_known()), "{row:?}");
    }
}

/// 74LS04, 15 ns: the data come 15 ns before the edge that two gates delay by 30 ns, and the 74LS74's sheet asks for 20.
#[test]
fn data_that_come_too_late_for_their_clock_show_nothing() {
    let timing = card(
        "J1,contacts,1,a\nJ1,contacts,2,q\nU1,74LS04,1,a\nU1,74LS04,2,n\nU1,74LS04,3,n\nU1,74LS04,4,clk\n\
         U2,74LS74,1,VCC\nU2,74LS74,4,VCC\nU2,74LS74,2,n\nU2,74LS74,3,clk\nU2,74LS74,5,q\n",
        &[("U1", "74LS04", 14), ("U2", "74LS74", 14)],
    );
    for (from, to) in [(Rise, Rise), (Rise, Fall), (Fall, Rise), (Fall, Fall)] {
        let row = row(&timing, Kind::ClockToOutput, ("1", from), ("2", to));
        assert!(row.is_none_or(|row| !row.time.is_known()), "{row:?}");
    }
}

/// Two halves of a 74LS125 that are always on drive one net: which of them wins, and when, is in no sheet.
#[test]
fn a_net_on_which_drivers_disagree_shows_nothing() {
    let timing = card(
        "J1,contacts,1,a\nJ1,contacts,2,b\nJ1,contacts,3,y\n\
         U1,74LS125,1,GND\nU1,74LS125,2,a\nU1,74LS125,3,y\nU1,74LS125,4,GND\nU1,74LS125,5,b\nU1,74LS125,6,y\n",
        &[("U1", "74LS125", 14)],
    );
    for (from, to) in [(Rise, Rise), (Rise, Fall), (Fall, Rise), (Fall, Fall)] {
        let row = row(&timing, Kind::Propagation, ("1", from), ("3", to));
        assert!(row.is_none_or(|row| !row.time.is_known()), "{row:?}");
    }
}

/// Two halves of a 74LS74 hand one mark to each other: a reset puts it into the first, and no clock brings it into both. Only
/// power-up may, and then the way from `x` to `y` is one gate longer: 74LS08 15 ns twice and 74LS32 22 ns, not 37 ns.
#[test]
fn a_state_that_only_power_up_gives_shows_nothing() {
    let timing = card(
        "J1,contacts,1,clk\nJ1,contacts,2,reset_n\nJ1,contacts,3,x\nJ1,contacts,4,c\nJ1,contacts,5,y\nJ1,contacts,6,n\n\
         U1,74LS74,1,VCC\nU1,74LS74,2,b\nU1,74LS74,3,clk\nU1,74LS74,4,reset_n\nU1,74LS74,5,a\n\
         U1,74LS74,13,reset_n\nU1,74LS74,12,a\nU1,74LS74,11,clk\nU1,74LS74,10,VCC\nU1,74LS74,9,b\n\
         U2,74LS08,1,x\nU2,74LS08,2,a\nU2,74LS08,3,m\nU2,74LS08,4,m\nU2,74LS08,5,b\nU2,74LS08,6,n\n\
         U2,74LS08,9,x\nU2,74LS08,10,c\nU2,74LS08,8,s\nU3,74LS32,1,n\nU3,74LS32,2,s\nU3,74LS32,3,y\n",
        &[("U1", "74LS74", 14), ("U2", "74LS08", 14), ("U3", "74LS32", 14)],
    );
    assert_eq!(ns(&timing, Kind::Propagation, ("3", Rise), ("5", Rise)), Some(37.0));
    let n = row(&timing, Kind::Propagation, ("3", Rise), ("6", Rise)).unwrap();
    assert!(!n.time.is_known() && n.witness.is_none(), "{n:?}");
    assert!(n.time.missing[0].contains("only from a state that power-up may give"), "{n:?}");
}

/// 74LS74, 25 ns rising and 40 ns falling: it divides by two and nothing ever clears it, so that it does both from either
/// level that it may come up with.
#[test]
fn what_nothing_clears_is_shown_from_both_levels() {
    let timing = card(
        "J1,contacts,1,clk\nJ1,contacts,2,q\nU1,74LS74,1,VCC\nU1,74LS74,2,q_n\nU1,74LS74,3,clk\nU1,74LS74,4,VCC\n\
         U1,74LS74,5,q\nU1,74LS74,6,q_n\n",
        &[("U1", "74LS74", 14)],
    );
    assert_eq!(
        Edge::BOTH.map(|edge| ns(&timing, Kind::ClockToOutput, ("1", Rise), ("2", edge))),
        [Some(25.0), Some(40.0)]
    );
}

/// The same, but its data is what it holds: it stays as it came up, and the way that asks it to be high is for no host to count on.
#[test]
fn what_never_changes_is_not_counted_on() {
    let timing = card(
        "J1,contacts,1,clk\nJ1,contacts,2,x\nJ1,contacts,3,y\nU1,74LS74,1,VCC\nU1,74LS74,2,q\nU1,74LS74,3,clk\nU1,74LS74,4,VCC\n\
         U1,74LS74,5,q\nU2,74LS08,1,x\nU2,74LS08,2,q\nU2,74LS08,3,y\n",
        &[("U1", "74LS74", 14), ("U2", "74LS08", 14)],
    );
    let row = row(&timing, Kind::Propagation, ("2", Rise), ("3", Rise)).unwrap();
    assert!(!row.time.is_known(), "{row:?}");
}
