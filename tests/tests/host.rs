//! What is known of the board around a card: currents, levels and times against sums made by hand, each figure named, and
//! files that can't be read.
#![allow(clippy::unwrap_used, clippy::panic, reason = "cards, parts and devices are those of this file")]
use gluewright::board::Board;
use gluewright::device::{Device, Grade, find};
use gluewright::fit::{Fitted, Wishes, fit};
use gluewright::host::{Host, HostError};
use gluewright::loading::{Aspect, Check, Known, Loading, Verdict, loading_together};
use gluewright::prelude::*;
use gluewright::timing::{Budget, Comparison, Edge, Judgement, Kind, compare, original, replacement};
use gluewright_parts::ttl;

/// The card of a harbour bell: a register takes the rope's contact up, a bus driver shows it, an inverter calls the keeper.
fn card() -> Board {
    let mut rows = String::from("ref,part,pin,net\nJ1,contacts,20,VCC\nJ1,contacts,10,GND\n");
    for (label, net) in [(1, "clk"), (2, "oe_n"), (3, "rope"), (4, "rung"), (5, "bus"), (6, "call_n")] {
        rows += &format!("J1,contacts,{label},{net}\n");
    }
    rows += "U1,74LS74,2,rope\nU1,74LS74,3,clk\nU1,74LS74,5,rung\nU1,74LS74,1,VCC\nU1,74LS74,4,VCC\n\
        U2,74LS244,1,oe_n\nU2,74LS244,2,rung\nU2,74LS244,18,bus\n\
        U3,74LS05,1,rung\nU3,74LS05,2,call_n\n";
    for (reference, part, vcc, gnd) in [("U1", "74LS74", 14, 7), ("U2", "74LS244", 20, 10), ("U3", "74LS05", 14, 7)] {
        rows +=
            &format!("{reference},{part},{vcc},VCC\n{reference},{part},{gnd},GND\n{reference},{part},others,open\n");
    }
    Board::from_csv("bell.csv", rows, ttl()).unwrap()
}

#[derive(Circuit)]
#[rustfmt::skip]
struct Bell {
    #[contact(1)] clock: Input<Clock>,
    #[contact(2)] oe:    Input<ActiveLow>,
    #[contact(3)] rope:  Input<Data>,
    #[contact(4)] rung:  Output<Data>,
    #[contact(5)] bus:   Output<Data, ThreeState>,
    #[contact(6)] call:  Output<ActiveLow, OpenCollector>,
}

impl Wiring for Bell {
    fn wire(&self) -> BellWiring {
        let rung = self.rung.level();
        BellWiring {
            rung: on(self.clock.rises()).load(self.rope.level()),
            bus: follow(rung).drive_while(self.oe.asserted()),
            call: assert_while(rung.is_high()),
        }
    }
}

const HEAD: &str = "contact,what,value,part,edge,known_from\n";

fn host(rows: &str) -> Host {
    Host::from_csv("host.csv", format!("{HEAD}{rows}"), &card()).unwrap_or_else(|e| panic!("{e}"))
}

fn fitted() -> (Fitted, &'static Device, &'static Grade) {
    let device = find("22V10").unwrap();
    let fitted = fit(&gluewright::circuit_of::<Bell>().unwrap(), device, &Wishes::none()).unwrap();
    (fitted, device, device.grades.iter().find(|g| g.name == "-15").unwrap())
}

fn times(host: &Host) -> Comparison {
    let (fitted, device, grade) = fitted();
    compare(&original(&card()), &replacement(&fitted, device, grade), &Budget::as_original().with_host(host))
}

fn loads(host: &Host) -> Loading {
    let (fitted, device, grade) = fitted();
    let times = times(host);
    loading_together(&card(), &[], &[(&fitted, device, Some(grade))], Some(Known { host, times: &times }))
}

fn check(loading: &Loading, label: &str, aspect: Aspect) -> Check {
    let contact = loading.contacts.iter().find(|c| c.at.label == label).unwrap();
    let found = contact.checks.iter().find(|c| c.aspect == aspect);
    found.unwrap_or_else(|| panic!("{label}: {:?}", contact.checks)).clone()
}

fn near(value: Option<f64>, expected: f64) {
    assert!(value.is_some_and(|v| (v - expected).abs() < 1e-6), "{value:?}, not {expected}");
}

/// 22V10: IOL 16 mA at 0.5 V, IOH 3.2 mA at 2.4 V (from memory). 74LS00: IIL 0.4 mA, IIH 20 µA (Motorola, FAST and LS TTL Data,
/// p.5-2). A resistor takes (5.25 - 0.5) V at a low level.
#[test]
fn what_hangs_on_an_output_passes_with_its_margin() {
    let all = loads(&host("4,pin,1,74LS00,,schematic\n4,pin,2,74LS00,,schematic\n4,pull_up,4k7,,,schematic\n"));
    let low = check(&all, "4", Aspect::SinksLow);
    assert_eq!(low.verdict, Verdict::Pass);
    near(low.margin, 16.0 - 0.8 - 4.75 / 4.7);
    near(check(&all, "4", Aspect::SourcesHigh).margin, 3.2 - 0.04);
    // TTL inputs: 0.8 V and 2.0 V; the resistor lifts the high level: 4.75 V less 50 µA through 4.7 kΩ
    near(check(&all, "4", Aspect::LowLevel).margin, 0.3);
    assert!(check(&all, "4", Aspect::HighLevel).margin.is_some_and(|v| v > 2.0));
    let contact = all.contacts.iter().find(|c| c.at.label == "4").unwrap();
    let advice = |f: &&String| !f.contains("Schmitt");
    assert_eq!(contact.findings.iter().find(advice), None, "checks stand in the place of advice");
}

/// A terminator of 220 Ω to the supply takes (5.25 - 0.5) V / 220 Ω = 21.6 mA.
#[test]
fn too_much_on_an_output_fails() {
    let all = loads(&host("4,pull_up,220,,,schematic\n"));
    let low = check(&all, "4", Aspect::SinksLow);
    assert_eq!(low.verdict, Verdict::Fail);
    near(low.margin, 16.0 - 4.75 / 0.22);
    assert_eq!(all.checked(Verdict::Fail).count(), 1, "{all}");
    assert!(all.to_string().contains("sinks: FAIL, 5.59 mA too much"), "{all}");
}

/// 330 Ω to ground and 220 Ω to the supply, a usual terminator: at 2.4 V the one takes 7.3 mA, the other gives 10.7 mA.
#[test]
fn a_divider_is_not_taken_for_its_lower_half() {
    let all = loads(&host("4,pull_up,2k2,,,schematic\n4,pull_down,3k3,,,schematic\n"));
    near(check(&all, "4", Aspect::SourcesHigh).margin, 3.2);
    let all = loads(&host("4,pull_down,330,,,schematic\n"));
    near(check(&all, "4", Aspect::SourcesHigh).margin, 3.2 - 2.4 / 0.33);
}

#[test]
fn an_open_collector_needs_what_pulls_it_high() {
    let all = loads(&host("6,pin,1,74LS00,,schematic\n"));
    assert_eq!(check(&all, "6", Aspect::PulledHigh).verdict, Verdict::Fail);
    // 20 µA of the 74LS00 and 10 µA of the device's own pin through 1 kΩ
    let all = loads(&host("6,pin,1,74LS00,,schematic\n6,pull_up,1k,,,schematic\n"));
    let high = check(&all, "6", Aspect::PulledHigh);
    assert_eq!(high.verdict, Verdict::Pass);
    near(high.margin, 4.75 - 0.03 - 2.4);
}

#[test]
fn outputs_that_drive_against_each_other_are_told() {
    let fight = |rows: &str, label: &str| check(&loads(&host(rows)), label, Aspect::Fight);
    assert_eq!(fight("5,driver,push-pull,,,schematic\n", "5").verdict, Verdict::Fail);
    assert_eq!(fight("4,pin,18,74LS244,,schematic\n", "4").verdict, Verdict::Fail, "the card drives 4 always");
    // both let go: the time in which the device must decides. 74LS244: off in 18 and 25 ns; 22V10-15: 15 ns
    let held = fight("5,pin,18,74LS244,,schematic\n", "5");
    let times = times(&host("5,pin,18,74LS244,,schematic\n"));
    let lets_go: Vec<_> = times.rows.iter().filter(|r| r.kind == Kind::Disable && r.to.label == "5").collect();
    assert!(!lets_go.is_empty());
    let margin = lets_go.iter().filter_map(|r| r.margin()).reduce(f64::min).unwrap();
    near(held.margin, margin);
    // an output that only pulls low may share the wire of another
    let call = loads(&host("6,pin,2,74LS05,,schematic\n6,pull_up,1k,,,schematic\n"));
    let contact = call.contacts.iter().find(|c| c.at.label == "6").unwrap();
    assert!(contact.checks.iter().all(|c| c.aspect != Aspect::Fight), "{:?}", contact.checks);
}

/// 74LS244: IOL 24 mA, IOH 15 mA (its data file); the device takes 0.1 mA low and 10 µA high.
#[test]
fn outputs_of_the_board_carry_the_replacement_and_the_rest() {
    let all = loads(&host("3,pin,18,74LS244,,schematic\n3,load_low,2.5,,,measured\n3,load_high,0.1,,,measured\n"));
    near(check(&all, "3", Aspect::DrivenLow).margin, 24.0 - 2.5 - 0.1);
    near(check(&all, "3", Aspect::DrivenHigh).margin, 15.0 - 0.1 - 0.01);
    near(check(&all, "3", Aspect::ReadsLow).margin, 0.3);
    near(check(&all, "3", Aspect::ReadsHigh).margin, 0.4);
}

#[test]
fn the_regulator_is_asked() {
    let all = loads(&host(",regulator,300,,,its sheet\n,others,150,,,measured\n"));
    let supply = all.supply_check.clone().unwrap();
    // 22V10-15: 90 mA (from memory)
    near(supply.margin, 300.0 - 150.0 - 90.0);
    let all = loads(&host(",regulator,200,,,its sheet\n,others,150,,,measured\n"));
    assert_eq!(all.supply_check.unwrap().verdict, Verdict::Fail);
    let all = loads(&host(",regulator,200,,,its sheet\n"));
    assert_eq!(all.supply_check.unwrap().verdict, Verdict::Open);
}

#[test]
fn what_the_board_gives_is_the_limit() {
    let before = times(&Host::default());
    let row = |times: &Comparison, kind, from: &str, to: &str| {
        times.rows.iter().find(|r| r.kind == kind && r.from.label == from && r.to.label == to).unwrap().clone()
    };
    let setup = row(&before, Kind::Setup, "3", "1");
    let needs = setup.replacement.as_ref().unwrap().ns;
    assert_eq!(setup.given, None);
    let gives = |ns: f64| times(&host(&format!("rope,stable_before,{ns},,clk rises,manual p.4\n")));
    let pass = row(&gives(needs + 7.0), Kind::Setup, "3", "1");
    assert_eq!((pass.judgement, pass.margin()), (Judgement::Within, Some(7.0)));
    assert_eq!(pass.given.as_ref().unwrap().known_from, "manual p.4");
    let fail = row(&gives(needs - 1.0), Kind::Setup, "3", "1");
    assert_eq!(fail.judgement, Judgement::Over(1.0), "less than the device needs, whatever the original took");
    // of two sayings the shorter
    let both =
        format!("3,stable_before,{},,1 rises,a\n3 rises,stable_before,{},,1 rises,b\n", needs + 9.0, needs + 2.0);
    let both = times(&host(&both));
    let margins: Vec<_> = both
        .rows
        .iter()
        .filter(|r| r.kind == Kind::Setup && r.from.label == "3")
        .map(|r| (r.from_edge, r.margin()))
        .collect();
    assert!(
        margins.contains(&(Some(Edge::Rise), Some(2.0))) && margins.contains(&(Some(Edge::Fall), Some(9.0))),
        "{margins:?}"
    );
    // a falling edge is not the rising one
    let other = times(&host("3,stable_before,1,,1 falls,a\n"));
    assert_eq!(row(&other, Kind::Setup, "3", "1").given, None);
    // an output that the board looks at is named first
    let waits = times(&host("4,waits,200,,1 rises,a\n"));
    assert_eq!(row(&waits, Kind::ClockToOutput, "1", "4").limit, Some(200.0));
}

/// GAL22V10D, -7: tco 1 ns at least (Lattice, GAL22V10D, p.7, min columns); for 22V10-15 no sheet gives one here.
#[test]
fn what_the_board_holds_is_judged_by_shortest_delays() {
    let drawer = gluewright::drawer::Drawer::from_csv("d.csv", "maker,type,count\nLattice,GAL22V10D-7LP,1\n").unwrap();
    let part = drawer.entries[0].part().clone();
    let (fitted, generic, slow) = fitted();
    let held = |ns: f64, device: &Device, grade: &Grade| {
        let host = host(&format!("4,needs_after,{ns},,1 rises,74LS374 on the main board\n"));
        let budget = Budget::as_original().with_host(&host);
        let c = compare(&original(&card()), &replacement(&fitted, device, grade), &budget);
        c.early.iter().find(|e| e.to.label == "4" && e.from.label == "1").unwrap().is_held()
    };
    assert_eq!(held(0.5, &part, &part.grades[0]), Some(true));
    assert_eq!(held(2.0, &part, &part.grades[0]), None, "at least 1 ns, at most 5: nobody knows");
    assert_eq!(held(20.0, &part, &part.grades[0]), Some(false));
    assert_eq!(held(0.5, generic, slow), None);
}

#[test]
fn mistakes_are_told_with_their_line_and_the_mend() {
    let wrong = |text: &str| match Host::from_csv("host.csv", text, &card()) {
        Err(e @ HostError::Wrong(_)) => e.to_string(),
        other => panic!("{text}: {other:?}"),
    };
    for (rows, said) in [
        ("4,pin,1,74LS0O,,x\n", "host.csv:2: part: no part `74LS0O` is known: did you mean 74LS00"),
        (
            "4,pin,7,74LS00,,x\n",
            "host.csv:2: value: `7` is no pin of a 74LS00 that carries a signal: write one of 1, 2, 3,",
        ),
        (
            "\n# a remark\n4,pin,1,74LS00,,\n",
            "host.csv:4: known_from: the row says nothing here: say where it is known from",
        ),
        ("11..19,load_low,1,,,x\n", "the card has no contact `11..19`: write the lowest and the highest number"),
        ("ropes,load_low,1,,,x\n", "host.csv:2: contact: the card has no contact `ropes`: did you mean rope?"),
        (
            "4,load_lo,1,,,x\n",
            "host.csv:2: what: `load_lo` is none of the words for what hangs on a contact, or how it is timed: did you mean load_low or load_pf?",
        ),
        ("4,load_low,many,,,x\n", "host.csv:2: value: `many` is no current in mA: write a plain number"),
        ("4,load_low,-1,,,x\n", "`-1` is no current in mA"),
        ("4,pull_up,0,,,x\n", "`0` is no resistance: write it like `330`, `4k7` or `4700`"),
        (
            "4,waits,1,,,x\n",
            "host.csv:2: edge: the row says nothing here: write the contact and its change, such as `1 rises`",
        ),
        ("4,waits,1,,4 rises,x\n", "a contact stands in no relation to its own change"),
        ("4,period,1,,1 rises,x\n", "`1 rises` has no meaning in this row: leave it empty: `period` needs none"),
        ("20,load_low,1,,,x\n", "this contact carries a supply, no signal"),
        ("4,waits,1,,1 rises,x\n4,waits,2,,1 rises,y\n", "host.csv:3: value: line 2 says this already"),
        (
            "5,driver,strong,,,x\n",
            "`strong` is no kind of output: write `push-pull`, `three-state` or `open collector`",
        ),
        ("", "host.csv:1: contact: the file has no rows: start it with the header"),
    ] {
        let text = wrong(&format!("{HEAD}{rows}"));
        assert!(text.contains(said), "{rows:?}:\n{text}\nlacks\n{said}");
    }
    assert!(wrong("contact,what,value\n1,period,100\n").contains("the header has no column `known_from`"));
    assert!(wrong("contact,what,value,known_from,what\n").contains("the header has the column `what` twice"));
    let two = wrong(&format!("{HEAD}9,period,1,,,x\n4,perod,1,,,x\n"));
    assert_eq!(two.lines().count(), 2, "everything that is wrong is told: {two}");
    // a spreadsheet's own ways
    let sheet =
        Host::from_csv("h.csv", "\u{feff}Contact;What;Value;known_from\n# a remark\n1;period;250,5;manual\n", &card());
    assert_eq!(sheet.unwrap().times()[0].ns, 250.5);
}

/// A part of a type that the card itself lacks is looked up in the library with which the trace was read.
#[test]
fn parts_beside_the_card_are_looked_up() {
    assert_eq!(host("5,pin,2,SN74LS245N,,schematic\n").hung().len(), 1);
}

#[test]
fn a_range_is_all_contacts_between() {
    let all = host("3..5,load_low,1,,,measured\n4..6,waits,100,,1 rises,manual\n");
    let labels: Vec<&str> = all.hung().iter().map(|h| h.at.label.as_str()).collect();
    assert_eq!(labels, ["3", "4", "5"]);
    assert_eq!(all.times().len(), 3, "10 and 20 carry supplies");
}
