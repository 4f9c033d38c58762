//! A traced card of several parts that have nothing in common but inputs, against its plain rewriting: what is hard in one
//! part must not be multiplied by the states of the others.
use gluewright::board::Board;
use gluewright::prelude::*;
use gluewright::prove::{Method, Question};
use gluewright_tests::checked::{certificate, checked};

/// Hoist control of a warehouse lift: a delay line, a latch that remembers start and stop, a selector for the lamp, and a
/// bell on a common line.
const HOIST: &str = "\
ref,part,pin,net
J1,contacts,1,tick
J1,contacts,2,sensed
J1,contacts,3,go_n
J1,contacts,4,halt_n
J1,contacts,5,test
J1,contacts,6,spare_lamp
J1,contacts,7,cabin_lamp
J1,contacts,8,ring
J1,contacts,9,armed
J1,contacts,12,GND
J1,contacts,13,late
J1,contacts,17,moving
J1,contacts,18,lamp
J1,contacts,19,bell_n
J1,contacts,24,VCC
U1,74LS164,1,sensed
U1,74LS164,2,armed
U1,74LS164,8,tick
U1,74LS164,9,halt_n
U1,74LS164,7,GND
U1,74LS164,14,VCC
U1,74LS164,13,late
U1,74LS164,others,open
U2,74LS00,1,go_n
U2,74LS00,2,still
U2,74LS00,3,moving
U2,74LS00,4,halt_n
U2,74LS00,5,moving
U2,74LS00,6,still
U2,74LS00,7,GND
U2,74LS00,9,GND
U2,74LS00,10,GND
U2,74LS00,12,GND
U2,74LS00,13,GND
U2,74LS00,14,VCC
U2,74LS00,others,open
U3,74LS157,1,test
U3,74LS157,2,cabin_lamp
U3,74LS157,3,spare_lamp
U3,74LS157,4,lamp
U3,74LS157,5,GND
U3,74LS157,6,GND
U3,74LS157,10,GND
U3,74LS157,11,GND
U3,74LS157,13,GND
U3,74LS157,14,GND
U3,74LS157,15,GND
U3,74LS157,8,GND
U3,74LS157,16,VCC
U3,74LS157,others,open
U4,74LS03,1,ring
U4,74LS03,2,armed
U4,74LS03,3,bell_n
U4,74LS03,4,GND
U4,74LS03,5,GND
U4,74LS03,9,GND
U4,74LS03,10,GND
U4,74LS03,12,GND
U4,74LS03,13,GND
U4,74LS03,7,GND
U4,74LS03,14,VCC
U4,74LS03,others,open
";

#[derive(Circuit)]
#[circuit(vcc = 24, gnd = 12)]
#[rustfmt::skip]
struct Hoist {
    #[contact(1)]  tick:       Input<Clock>,
    #[contact(2)]  sensed:     Input<Data>,
    #[contact(3)]  go:         Input<ActiveLow>,
    #[contact(4)]  halt:       Input<ActiveLow>,
    #[contact(5)]  test:       Input<ActiveHigh>,
    #[contact(6)]  spare_lamp: Input<Data>,
    #[contact(7)]  cabin_lamp: Input<Data>,
    #[contact(8)]  ring:       Input<ActiveHigh>,
    #[contact(9)]  armed:      Input<ActiveHigh>,
    #[contact(13)] late:       Output<Data>,
    #[contact(17)] moving:     Output<ActiveHigh>,
    #[contact(18)] lamp:       Output<Data>,
    #[contact(19)] bell:       Output<ActiveLow, OpenCollector>,
    stages: [Buried<Register>; 7],
}

impl Wiring for Hoist {
    fn wire(&self) -> HoistWiring {
        let tick = self.tick.rises();
        let halt = self.halt.asserted();
        let armed = self.armed.asserted();
        let first = high_while(self.sensed.level().is_high() & armed);
        HoistWiring {
            stages: each(|i| {
                let fed = if i == 0 { first } else { self.stages[i - 1].q() };
                on(tick).load(fed).clear_while(halt)
            }),
            late: on(tick).load(self.stages[6].q()).clear_while(halt),
            moving: assert_while(self.go.asserted() | (self.moving.asserted() & !halt)),
            lamp: follow(choose(self.test.asserted(), self.spare_lamp.level(), self.cabin_lamp.level())),
            bell: assert_while(self.ring.asserted() & armed),
        }
    }
}

fn board(rows: &str) -> Board {
    Board::from_csv("hoist.csv", rows, gluewright_parts::ttl()).expect("the trace is sound")
}

fn circuit(rows: &str) -> gluewright::circuit::Circuit {
    board(rows).circuit().expect("it has logic")
}

#[test]
fn a_latch_of_gates_beside_a_delay_line_is_proved_without_visiting_states() {
    let proof = prove::<Hoist>().against(&board(HOIST)).run().unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(proof.method, Method::Induction, "{proof}");
    // work, not time: a walk over all states asks nothing, and a search asks again and again
    assert!(proof.figures.questions <= 60, "{proof}");
    println!("{proof}");
}

#[test]
fn a_slip_in_each_part_of_the_trace_is_refuted() {
    let slips = [
        ("the first stage instead of the last", HOIST.replace("U1,74LS164,13,late", "U1,74LS164,3,late")),
        (
            "start and stop exchanged",
            HOIST.replace("U2,74LS00,1,go_n", "U2,74LS00,1,halt_n").replace("U2,74LS00,4,halt_n", "U2,74LS00,4,go_n"),
        ),
        (
            "the lamps exchanged",
            HOIST
                .replace("U3,74LS157,2,cabin_lamp", "U3,74LS157,2,spare_lamp")
                .replace("U3,74LS157,3,spare_lamp", "U3,74LS157,3,cabin_lamp"),
        ),
        ("the bell does not wait", HOIST.replace("U4,74LS03,2,armed", "U4,74LS03,2,ring")),
    ];
    for (what, rows) in slips {
        match prove::<Hoist>().against(&board(&rows)).run() {
            Err(Failure::Refuted(r)) => {
                assert!(r.replay().is_none_or(|left| left.last() == Some(&0)), "{what}: {r}");
            }
            other => panic!("{what}: {other:?}"),
        }
    }
}

/// The same card traced from a later issue, whose latch is built of other gates.
fn later() -> String {
    let rows = HOIST.lines().filter(|row| !row.starts_with("U2,")).map(|row| format!("{row}\n"));
    let pins = [
        (
            "U5,74LS08",
            [
                (1, "moving"),
                (2, "halt_n"),
                (3, "kept"),
                (4, "GND"),
                (5, "GND"),
                (9, "GND"),
                (10, "GND"),
                (12, "GND"),
                (13, "GND"),
                (7, "GND"),
                (14, "VCC"),
            ],
        ),
        (
            "U6,74LS32",
            [
                (1, "kept"),
                (2, "go"),
                (3, "moving"),
                (4, "GND"),
                (5, "GND"),
                (9, "GND"),
                (10, "GND"),
                (12, "GND"),
                (13, "GND"),
                (7, "GND"),
                (14, "VCC"),
            ],
        ),
        (
            "U7,74LS04",
            [
                (1, "go_n"),
                (2, "go"),
                (3, "GND"),
                (5, "GND"),
                (9, "GND"),
                (11, "GND"),
                (13, "GND"),
                (7, "GND"),
                (14, "VCC"),
                (4, "NC4"),
                (6, "NC6"),
            ],
        ),
    ];
    let more = pins.iter().flat_map(|(part, pins)| {
        let wired = pins.iter().filter(|(_, net)| !net.starts_with("NC"));
        wired.map(move |(pin, net)| format!("{part},{pin},{net}\n")).chain([format!("{part},others,open\n")])
    });
    rows.chain(more).collect()
}

/// The whole has a certificate that holds without any word about parts, and it does not hold without what it says.
#[test]
fn the_certificate_says_what_both_latches_show_and_hold() {
    let later = later();
    let question = Question::new(circuit(HOIST), circuit(&later));
    let proof = question.ask().unwrap_or_else(|e| panic!("{e}"));
    let written = certificate(&proof, HOIST, &later);
    let mut json: serde_json::Value = serde_json::from_str(&written).unwrap();
    let verdict = checked(&written, HOIST, &later);
    assert!(verdict.stands(), "{verdict}");
    assert_eq!(json["proofs"][0]["relation"]["alike"], serde_json::json!(["17"]), "{proof}");
    // without that contact the relation is kept by no event
    json["proofs"][0]["relation"]["alike"] = serde_json::json!([]);
    let verdict = checked(&json.to_string(), HOIST, &later);
    assert!(!verdict.stands(), "{verdict}");
}

/// One of several starts must match; a list of which none does is objected to, and so is one that starts nothing.
#[test]
fn starts_that_match_nothing_are_objected_to() {
    let later = later();
    let proof = Question::new(circuit(HOIST), circuit(&later)).ask().unwrap();
    let written = certificate(&proof, HOIST, &later);
    let json: serde_json::Value = serde_json::from_str(&written).unwrap();
    let starts = json["proofs"][0]["relation"]["starts"].as_array().unwrap().clone();
    println!("{} starts", starts.len());
    let level = |level: bool| {
        let mut start = starts[0].clone();
        for bit in start.as_array_mut().unwrap() {
            bit["of"] = serde_json::json!([]);
            bit["high"] = if level { serde_json::json!([""]) } else { serde_json::json!([]) };
        }
        start
    };
    let with = |all: Vec<serde_json::Value>| {
        let mut json = json.clone();
        json["proofs"][0]["relation"]["starts"] = all.into();
        checked(&json.to_string(), HOIST, &later)
    };
    // the latch may start either way: one level for its gate matches half of the starts, both match all
    assert!(!with(vec![level(false)]).stands());
    assert!(!with(vec![level(true), level(true)]).stands());
    let both = with(vec![level(false), level(true)]);
    assert!(both.stands(), "{both}");
}
