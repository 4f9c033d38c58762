//! Worst-case times against sums made by hand from data-sheet figures, each named beside its sum.
#![allow(clippy::unwrap_used, reason = "cards, parts and devices are those of this file")]
use gluewright::board::Board;
use gluewright::device::find;
use gluewright::fit::{Fitted, Wishes, fit};
use gluewright::prelude::*;
use gluewright::timing::{
    Budget, Compared, Edge, Judgement, Kind, Timing, choose_grade, compare, original, replacement, together,
};
use gluewright_parts::ttl;

const SUPPLIES: &str = "J1,contacts,20,VCC\nJ1,contacts,10,GND\n";

fn card(rows: &str) -> Board {
    Board::from_csv("card.csv", format!("ref,part,pin,net\n{SUPPLIES}{rows}"), ttl()).unwrap()
}

fn power(reference: &str, part: &str, vcc: u16, gnd: u16) -> String {
    format!("{reference},{part},{vcc},VCC\n{reference},{part},{gnd},GND\n{reference},{part},others,open\n")
}

fn ns(timing: &Timing, kind: Kind, from: &str, to: &str) -> Option<f64> {
    timing.find(kind, from, to).map(|row| {
        assert!(row.time.is_complete(), "{kind} {from} to {to}: {:?}", row.time.missing);
        let sum: f64 = row.time.path.iter().filter_map(|s| s.ns).sum();
        assert!((sum - row.time.ns).abs() < 1e-9, "the path is what the time is made of");
        row.time.ns
    })
}

/// Two inverting gates in a row: a rise of the first is a fall of the second, so that unequal delays don't add up twice.
///
/// Motorola, FAST and LS TTL Data, SN54/74LS74A p.5-72; 74LS05 and 74LS04: limits as in their data files.
#[test]
fn a_chain_of_inverters_alternates() {
    let board = card(&format!(
        "J1,contacts,1,a\nJ1,contacts,2,y\nU1,74LS05,1,a\nU1,74LS05,2,m\nR1,resistor 4k7,1,VCC\nR1,resistor 4k7,2,m\n\
         U2,74LS05,1,m\nU2,74LS05,2,y\nR2,resistor 4k7,1,VCC\nR2,resistor 4k7,2,y\n{}{}",
        power("U1", "74LS05", 14, 7),
        power("U2", "74LS05", 14, 7)
    ));
    // 74LS05: tPLH 32 ns, tPHL 28 ns (from memory): 32 + 28, not 32 + 32
    assert_eq!(ns(&original(&board), Kind::Propagation, "1", "2"), Some(60.0));
}

fn sampler() -> Board {
    card(&format!(
        "J1,contacts,1,clk\nJ1,contacts,2,d\nJ1,contacts,3,g\nJ1,contacts,4,clear\nJ1,contacts,5,q\nJ1,contacts,6,bus\n\
         J1,contacts,7,oe\n\
         U1,74LS08,1,d\nU1,74LS08,2,g\nU1,74LS08,3,dg\n\
         U2,74LS74,1,clear\nU2,74LS74,2,dg\nU2,74LS74,3,clk\nU2,74LS74,4,VCC\nU2,74LS74,5,q\n\
         U3,74LS125,1,oe\nU3,74LS125,2,q\nU3,74LS125,3,bus\n{}{}{}",
        power("U1", "74LS08", 14, 7),
        power("U2", "74LS74", 14, 7),
        power("U3", "74LS125", 14, 7)
    ))
}

/// 74LS74A: clock to Q 25/40 ns, setup 20 ns, hold 5 ns, clock pulse 25 ns, clear pulse 25 ns (Fairchild DM74LS74A, DS006373
/// p.3, and TI as recalled); 74LS08: 15/20 ns; 74LS125A: data 15/18 ns, enable 20/25 ns, disable 20 ns (limits of their
/// data files, each with its sheet or from memory).
#[test]
fn times_of_a_sampler_are_the_sums_of_its_sheets() {
    let timing = original(&sampler());
    assert_eq!(ns(&timing, Kind::ClockToOutput, "1", "5"), Some(40.0));
    assert_eq!(ns(&timing, Kind::ClockToOutput, "1", "6"), Some(40.0 + 18.0));
    // the clear makes Q fall only
    assert_eq!(ns(&timing, Kind::Propagation, "4", "5"), Some(40.0));
    assert_eq!(ns(&timing, Kind::Setup, "2", "1"), Some(20.0 + 20.0));
    assert_eq!(ns(&timing, Kind::Hold, "3", "1"), Some(5.0));
    assert_eq!(ns(&timing, Kind::HighPulse, "1", "1"), Some(25.0));
    assert_eq!(ns(&timing, Kind::LowPulse, "4", "4"), Some(25.0));
    assert_eq!(ns(&timing, Kind::Enable, "7", "6"), Some(25.0));
    assert_eq!(ns(&timing, Kind::Disable, "7", "6"), Some(20.0));
    // data don't pass a register, and a clock does not set itself up
    assert_eq!(ns(&timing, Kind::Propagation, "2", "5"), None);
    assert_eq!(ns(&timing, Kind::Period, "1", "1"), None);
    assert_eq!(timing.notes, [] as [&str; 0]);
}

/// An output that is never off is read inside the card too: nobody outside changes it, so no time begins there and nobody has to
/// keep it steady.
#[test]
fn a_contact_that_the_card_always_drives_begins_no_time() {
    let board = card(&format!(
        "J1,contacts,1,clk\nJ1,contacts,2,d\nJ1,contacts,3,n\nJ1,contacts,4,q\nJ1,contacts,5,oc\nJ1,contacts,6,y\n\
         U1,74LS04,1,d\nU1,74LS04,2,n\nU1,74LS04,3,oc\nU1,74LS04,4,y\nU2,74LS74,1,VCC\nU2,74LS74,2,n\nU2,74LS74,3,clk\n\
         U2,74LS74,4,VCC\nU2,74LS74,5,q\nU3,74LS05,1,d\nU3,74LS05,2,oc\nR1,resistor 4k7,1,VCC\nR1,resistor 4k7,2,oc\n{}{}{}",
        power("U1", "74LS04", 14, 7),
        power("U2", "74LS74", 14, 7),
        power("U3", "74LS05", 14, 7)
    ));
    let timing = original(&board);
    assert!(timing.rows.iter().all(|row| !["3", "4", "6"].contains(&row.from.label.as_str())), "{:?}", timing.rows);
    // what leads through it is still there, and an open collector leaves the line to others
    assert!(timing.find(Kind::Setup, "2", "1").is_some() && timing.find(Kind::Hold, "2", "1").is_some());
    assert!(timing.find(Kind::Propagation, "5", "6").is_some());
}

#[test]
fn what_no_sheet_gives_is_said_and_not_counted_as_nought() {
    let board = card(&format!(
        "J1,contacts,1,a\nJ1,contacts,2,y\nU1,74F04,1,a\nU1,74F04,2,m\nU1,74F04,3,m\nU1,74F04,4,y\n{}",
        power("U1", "74F04", 14, 7)
    ));
    let timing = original(&board);
    let row = timing.find(Kind::Propagation, "1", "2").unwrap();
    assert!(!row.time.is_complete());
    assert!(row.time.missing.iter().any(|m| m.contains("U1 (74F04) pin 1 to 2")), "{:?}", row.time.missing);
    assert!(timing.notes[0].contains("no figures are known for U1 (74F04)"), "{:?}", timing.notes);
    assert_eq!(row.time.to_string(), "0 ns and more");
}

/// A latch of gates is a loop: it ends, and says where.
#[test]
fn a_loop_is_gone_round_once() {
    let board = card(&format!(
        "J1,contacts,1,s\nJ1,contacts,2,r\nJ1,contacts,3,q\n\
         U1,74LS00,1,s\nU1,74LS00,2,nq\nU1,74LS00,3,q\nU1,74LS00,4,r\nU1,74LS00,5,q\nU1,74LS00,6,nq\n{}",
        power("U1", "74LS00", 14, 7)
    ));
    let timing = original(&board);
    // 74LS00: 15 ns each way (from memory); reset goes through both gates
    assert_eq!(ns(&timing, Kind::Propagation, "1", "3"), Some(15.0));
    assert_eq!(ns(&timing, Kind::Propagation, "2", "3"), Some(30.0));
    assert!(timing.notes.iter().any(|n| n.contains("goes round each once")), "{:?}", timing.notes);
}

/// A contact that enters a loop at both its gates goes through both, whichever is looked at first.
#[test]
fn a_loop_is_entered_everywhere() {
    let board = card(&format!(
        "J1,contacts,1,x\nJ1,contacts,2,q\nJ1,contacts,3,nq\n\
         U1,74LS00,1,x\nU1,74LS00,2,nq\nU1,74LS00,3,q\nU1,74LS00,4,x\nU1,74LS00,5,q\nU1,74LS00,6,nq\n{}",
        power("U1", "74LS00", 14, 7)
    ));
    let all: Vec<String> = board.chips().map(|(reference, _)| reference.to_owned()).collect();
    let timing = together(&board, &all, &[]);
    // 74LS00: 15 ns each way (from memory)
    assert_eq!(ns(&timing, Kind::Propagation, "1", "2"), Some(30.0));
    assert_eq!(ns(&timing, Kind::Propagation, "1", "3"), Some(30.0));
}

/// Gates that all read each other have too many ways through them: no time is claimed, and no grade is safe.
#[test]
fn a_tangle_of_loops_has_no_times() {
    let mut rows = String::from("J1,contacts,1,x\nJ1,contacts,2,n0\n");
    let packages = 8;
    for k in 0..packages {
        // each 74LS30 reads the others' outputs, and x
        for (pin, other) in [1, 2, 3, 4, 5, 6, 11].into_iter().zip((0..packages).filter(|&other| other != k)) {
            rows.push_str(&format!("U{k},74LS30,{pin},n{other}\n"));
        }
        rows.push_str(&format!("U{k},74LS30,12,x\nU{k},74LS30,8,n{k}\n{}", power(&format!("U{k}"), "74LS30", 14, 7)));
    }
    let timing = original(&card(&rows));
    assert!(timing.gap.as_ref().is_some_and(|g| g.contains("more ways round")), "{:?}", timing.gap);
    let device = find("22V10").unwrap();
    assert!(choose_grade(&timing, &fitted(), device, &Budget::as_original()).chosen().is_none());
}

/// The sampler's replacement, with a buried copy of what it holds so that a pass over a register's feedback is there too.
#[derive(Circuit)]
#[rustfmt::skip]
struct Sampler {
    #[contact(1)] clk:   Input<Clock>,
    #[contact(2)] d:     Input<Data>,
    #[contact(3)] g:     Input<ActiveHigh>,
    #[contact(4)] clear: Input<ActiveLow>,
    #[contact(5)] q:     Output<Data>,
    #[contact(6)] bus:   Output<Data, ThreeState>,
    #[contact(7)] oe:    Input<ActiveLow>,
}

impl Wiring for Sampler {
    fn wire(&self) -> SamplerWiring {
        let next = high_while(self.d.level().is_high() & self.g.asserted());
        SamplerWiring {
            q: on(self.clk.rises()).load(next).clear_while(self.clear.asserted()),
            bus: follow(self.q.level()).drive_while(self.oe.asserted()),
        }
    }
}

fn fitted() -> Fitted {
    fit(&gluewright::circuit_of::<Sampler>().unwrap(), find("22V10").unwrap(), &Wishes::none()).unwrap()
}

/// Lattice "Specifications GAL22V10" p.7, grade -7: tpd 7.5, tco 4.5, tcf 3, tsu 4.5, th 0, ten 7.5, tdis 7.5, tar 9, tarr 5,
/// twh 3, tarw 7 ns.
#[test]
fn times_of_a_device_are_those_of_its_grade() {
    let device = find("22V10").unwrap();
    let grade = device.grades.iter().find(|g| g.name == "-7").unwrap();
    let timing = replacement(&fitted(), device, grade);
    assert_eq!(ns(&timing, Kind::ClockToOutput, "1", "5"), Some(4.5));
    assert_eq!(ns(&timing, Kind::ClockToOutput, "1", "6"), Some(3.0 + 7.5));
    assert_eq!(ns(&timing, Kind::Propagation, "4", "5"), Some(9.0));
    // a clear goes on from the register through the array: no sheet gives it alone, so tar and a pass
    assert_eq!(ns(&timing, Kind::Propagation, "4", "6"), Some(9.0 + 7.5));
    assert_eq!(ns(&timing, Kind::Setup, "2", "1"), Some(4.5));
    assert_eq!(ns(&timing, Kind::Hold, "2", "1"), Some(0.0));
    assert_eq!(ns(&timing, Kind::Recovery, "4", "1"), Some(5.0));
    assert_eq!(ns(&timing, Kind::Setup, "4", "1"), None);
    assert_eq!(ns(&timing, Kind::Enable, "7", "6"), Some(7.5));
    assert_eq!(ns(&timing, Kind::Disable, "7", "6"), Some(7.5));
    assert_eq!(ns(&timing, Kind::HighPulse, "1", "1"), Some(3.0));
    assert_eq!(ns(&timing, Kind::LowPulse, "4", "4"), Some(7.0));
    clears_and_lets_go(&timing);
}

/// The assertion of a clear (contact 4, active low) makes its register fall, and what follows it; its end changes no output,
/// and is what recovers before the clock.
#[track_caller]
fn clears_and_lets_go(timing: &Timing) {
    let from_clear = |kind| {
        let rows = timing.rows.iter().filter(move |r| r.kind == kind && r.from.label == "4");
        rows.map(|r| (r.from_edge, r.to.label.as_str(), r.to_edge)).collect::<Vec<_>>()
    };
    let (falls, rises) = (Some(Edge::Fall), Some(Edge::Rise));
    assert_eq!(from_clear(Kind::Propagation), [(falls, "5", falls), (falls, "6", falls)]);
    assert_eq!(from_clear(Kind::Recovery), [(rises, "1", rises)]);
    assert!(from_clear(Kind::ClockToOutput).is_empty());
}

#[derive(Circuit)]
#[rustfmt::skip]
struct Quiet {
    #[contact(1)] clk:   Input<Clock>,
    #[contact(2)] d:     Input<Data>,
    #[contact(4)] clear: Input<ActiveLow>,
    #[contact(5)] quiet: Output<ActiveLow>,
}

impl Wiring for Quiet {
    fn wire(&self) -> QuietWiring {
        QuietWiring { quiet: on(self.clk.rises()).load(self.d.level().is_high()).release_while(self.clear.asserted()) }
    }
}

/// An active-low output that a clear releases rises, on devices that invert before the register and behind it.
#[test]
fn a_clear_of_an_inverted_output_makes_it_rise() {
    for name in ["22V10", "CPLD-32"] {
        let device = find(name).unwrap();
        let grade = device.grades.iter().find(|g| g.name == "-7").unwrap();
        let fit = fit(&gluewright::circuit_of::<Quiet>().unwrap(), device, &Wishes::none()).unwrap();
        let timing = replacement(&fit, device, grade);
        let cleared: Vec<_> =
            timing.rows.iter().filter(|r| r.kind == Kind::Propagation && r.from.label == "4").collect();
        let edges: Vec<_> = cleared.iter().map(|r| (r.from_edge, r.to_edge)).collect();
        assert_eq!(edges, [(Some(Edge::Fall), Some(Edge::Rise))], "{name}");
    }
}

#[test]
fn both_sides_stand_beside_each_other() {
    let device = find("22V10").unwrap();
    let grade = |name: &str| device.grades.iter().find(|g| g.name == name).unwrap();
    let (board, fit) = (original(&sampler()), fitted());
    let fast = compare(&board, &replacement(&fit, device, grade("-7")), &Budget::as_original());
    let row = |kind, from: &str, to: &str| {
        let falls = |r: &&Compared| r.to_edge == Some(Edge::Fall);
        let mut between = fast.rows.iter().filter(|r| r.kind == kind && r.from.label == from && r.to.label == to);
        between.find(falls).unwrap()
    };
    assert_eq!(row(Kind::ClockToOutput, "1", "5").slower_by(), Some(4.5 - 40.0));
    assert_eq!(row(Kind::ClockToOutput, "1", "5").judgement, Judgement::Within);
    // what got faster is named, and that nobody knows how early it may come
    assert!(fast.early.iter().any(|e| e.to.label == "5" && e.from.label == "1" && !e.is_violated));
    assert!(fast.to_string().contains("Where no sheet gives a shortest delay"), "{fast}");
    // a stated hold time that even the longest delay undercuts is a violation
    let held = compare(&board, &replacement(&fit, device, grade("-7")), &Budget::as_original().held("5", 5.0));
    assert!(held.early.iter().any(|e| e.is_violated && e.to.label == "5") && !held.is_safe());
    assert!(held.to_string().contains("TOO EARLY"), "{held}");
    // a budget that is tighter than the original
    let tight = Budget::as_original().at_most(Kind::ClockToOutput, None, Some("5"), 4.0);
    let tight = compare(&board, &replacement(&fit, device, grade("-7")), &tight);
    assert_eq!(tight.over().count(), 2, "a rise and a fall");
    assert!(tight.over().all(|row| row.judgement == Judgement::Over(0.5)));
}

#[test]
fn the_slowest_safe_grade_is_chosen() {
    let device = find("22V10").unwrap();
    let (board, fit) = (original(&sampler()), fitted());
    // no sheet gives a recovery of the 74LS74's clear, so that nothing is safe until somebody says how long the host waits
    let open = choose_grade(&board, &fit, device, &Budget::as_original());
    assert!(open.chosen().is_none());
    let waits = Budget::as_original().at_most(Kind::Recovery, Some("4"), Some("1"), 25.0);
    let all = choose_grade(&board, &fit, device, &waits);
    let names: Vec<&str> = all.grades.iter().map(|g| g.name.as_str()).collect();
    assert!(names.iter().position(|n| *n == "-25") < names.iter().position(|n| *n == "-7"), "{names:?}");
    let chosen = all.chosen().unwrap();
    assert!(chosen.is_safe && chosen.why.is_empty());
    for slower in all.grades.iter().take_while(|g| g.name != chosen.name) {
        assert!(!slower.why.is_empty(), "{} has nothing against it", slower.name);
    }
    // what is in the drawer decides
    let fast =
        all.clone().among(|of| of.grade != chosen.name && all.grades.iter().any(|g| g.name == of.grade && g.is_safe));
    assert!(fast.chosen().is_none_or(|g| g.is_safe && g.name != chosen.name));
    let slow = all.clone().among(|of| of.grade == "-25");
    assert!(slow.grades.len() == 1 && slow.grades[0].name == "-25");
    assert_eq!(all.clone().among(|_| false), all, "a grade without figures changes nothing");
    for words in all.exceeding_words() {
        let (name, why) = words.split_once(": ").unwrap();
        let grade = all.grades.iter().find(|g| g.name == name).unwrap();
        assert!(grade.exceeds() && grade.why.iter().any(|w| why.contains(w.as_str())), "{words}");
    }
    // nothing is fast enough for this
    let never = Budget::as_original().at_most(Kind::ClockToOutput, None, None, 1.0);
    let none = choose_grade(&board, &fit, device, &never);
    assert!(none.chosen.is_none() && none.to_string().contains("No speed grade"), "{none}");
    let words = none.exceeding_words();
    assert!(!words.is_empty() && words.iter().all(|w| w.contains("ns too long")), "{words:?}");
}

#[derive(Circuit)]
#[rustfmt::skip]
struct Holder {
    #[contact(1)] gate: Input<ActiveHigh>,
    #[contact(2)] d:    Input<Data>,
    #[contact(3)] e:    Input<Data>,
    #[contact(5)] q:    Output<Data>,
    #[contact(6)] both: Output<Data>,
    pair: Buried<Node>,
}

impl Wiring for Holder {
    fn wire(&self) -> HolderWiring {
        HolderWiring {
            q: open_while(self.gate.asserted()).follow(self.d.level()),
            pair: follow(high_while(self.d.level().is_high() & self.e.level().is_high())),
            both: follow(high_while(self.pair.level().is_high() & self.gate.asserted())),
        }
    }
}

/// A node that is kept costs a pass of the array more, and a latch of product terms reads its data and its gate in one:
/// tpd 7.5 ns each (Lattice "Specifications GAL22V10" p.7, -7).
#[test]
fn nodes_cost_a_pass_and_latches_of_terms_are_reckoned_with_one() {
    let device = find("22V10").unwrap();
    let grade = device.grades.iter().find(|g| g.name == "-7").unwrap();
    let fit = fit(&gluewright::circuit_of::<Holder>().unwrap(), device, &Wishes::none().keep("pair")).unwrap();
    let timing = replacement(&fit, device, grade);
    assert_eq!(ns(&timing, Kind::Propagation, "3", "6"), Some(15.0));
    assert_eq!(ns(&timing, Kind::Propagation, "1", "6"), Some(7.5));
    assert_eq!(ns(&timing, Kind::Propagation, "2", "5"), Some(7.5));
    assert!(timing.notes.iter().any(|n| n.contains("latches of product terms")), "{:?}", timing.notes);
    // setup and hold stand beside the original's, and nowhere else
    assert!(timing.find(Kind::Setup, "2", "1").is_none());
    let board = card(&format!(
        "J1,contacts,1,gate\nJ1,contacts,2,d\nJ1,contacts,3,e\nJ1,contacts,5,q\nJ1,contacts,6,both\n\
         U1,74LS373,1,GND\nU1,74LS373,11,gate\nU1,74LS373,3,d\nU1,74LS373,2,q\n\
         U2,74LS11,1,d\nU2,74LS11,2,e\nU2,74LS11,13,gate\nU2,74LS11,12,both\n{}{}",
        power("U1", "74LS373", 20, 10),
        power("U2", "74LS11", 14, 7)
    ));
    let both = compare(&original(&board), &timing, &Budget::as_original());
    let setup = both.rows.iter().find(|r| r.kind == Kind::Setup && r.from.label == "2").unwrap();
    // 74LS373: setup 5 ns, hold 20 ns before and after the enable falls (its data file)
    assert_eq!((setup.limit, setup.judgement), (Some(5.0), Judgement::Over(2.5)));
    let hold = both.rows.iter().find(|r| r.kind == Kind::Hold && r.from.label == "2").unwrap();
    assert_eq!((hold.limit, hold.replacement.as_ref().map(|t| t.ns)), (Some(20.0), Some(7.5)));
}

/// Two latches that read each other, each with a gate of its own.
#[derive(Circuit)]
#[rustfmt::skip]
struct Exchange {
    #[contact(1)] open_p: Input<ActiveHigh>,
    #[contact(2)] open_q: Input<ActiveHigh>,
    #[contact(3)] p:      Output<Data>,
    #[contact(4)] q:      Output<Data>,
}

impl Wiring for Exchange {
    fn wire(&self) -> ExchangeWiring {
        ExchangeWiring {
            p: open_while(self.open_p.asserted()).follow(self.q.level()),
            q: open_while(self.open_q.asserted()).follow(!self.p.level()),
        }
    }
}

/// A contact reaches its own latch at once and the other one a pass later, whichever is reckoned first: 7.5 ns a pass
/// (Lattice "Specifications GAL22V10" p.7, -7; CPLD-32 by its sheet, and 4.5 ns from a gate on a global pin to the output from
/// memory).
#[test]
fn a_change_goes_round_a_loop_as_far_as_its_last_output() {
    for (name, first) in [("22V10", 7.5), ("CPLD-32", 4.5)] {
        let device = find(name).unwrap();
        let grade = device.grades.iter().find(|g| g.name == "-7").unwrap();
        let fit = fit(&gluewright::circuit_of::<Exchange>().unwrap(), device, &Wishes::none()).unwrap();
        let timing = replacement(&fit, device, grade);
        for (from, to, longer) in [("1", "3", 0.0), ("1", "4", 7.5), ("2", "4", 0.0), ("2", "3", 7.5)] {
            assert_eq!(ns(&timing, Kind::Propagation, from, to), Some(first + longer), "{name} {from} to {to}");
        }
    }
}

/// CPLD-32, grade -7: pin to pin 7.5 ns by its sheet; clock to output 4.5 ns, setup 6 ns, hold 0 from memory.
#[test]
fn times_of_logic_blocks_are_put_together_from_few_figures() {
    let device = find("CPLD-32").unwrap();
    let grade = device.grades.iter().find(|g| g.name == "-7").unwrap();
    let fit = fit(&gluewright::circuit_of::<Sampler>().unwrap(), device, &Wishes::none()).unwrap();
    let timing = replacement(&fit, device, grade);
    assert_eq!(ns(&timing, Kind::ClockToOutput, "1", "5"), Some(4.5));
    assert_eq!(ns(&timing, Kind::ClockToOutput, "1", "6"), Some(4.5 + 7.5));
    assert_eq!(ns(&timing, Kind::Setup, "3", "1"), Some(6.0));
    assert_eq!(ns(&timing, Kind::Hold, "2", "1"), Some(0.0));
    // what the sheet doesn't give is missing, so that no grade passes for safe
    let clear = timing.find(Kind::Propagation, "4", "5").unwrap();
    assert!(clear.time.missing.iter().any(|m| m.contains("clear")), "{:?}", clear.time.missing);
    clears_and_lets_go(&timing);
    let choice = choose_grade(&original(&sampler()), &fit, device, &Budget::as_original());
    assert!(choice.chosen().is_none() && !choice.slower_but_open().is_empty());
}
