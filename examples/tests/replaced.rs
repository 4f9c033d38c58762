//! A job that replaces some packages of a larger board: contacts are those of the board and pins that stay, where nets leave
//! the packages.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use gluewright::board::{Board, TraceError};
use gluewright::job::JobError;
use gluewright::prelude::*;
use gluewright::prove::Failure;

/// A telephone exchange's line card: U1 receives the line and drives the lamp, U2 and U3 tell when the line changes.
fn line_card() -> Result<Board, TraceError> {
    let package = |reference: &str, part: &str, nets: &str| -> String {
        let rows = nets.split_whitespace().enumerate();
        rows.map(|(i, net)| format!("{reference},{part},{},{net}\n", i + 1)).collect()
    };
    let trace = [
        "ref,part,pin,net\n".to_owned(),
        package("J1", "contacts", "clk line lamp GND VCC"),
        package("U1", "74LS04", "line line_n lamp_n lamp GND open GND open GND open GND open GND VCC"),
        package("U2", "74LS74", "VCC line_n clk VCC taken open GND open open VCC GND GND VCC VCC"),
        package("U3", "74LS00", "taken line lamp_n GND GND open GND open GND GND open GND GND VCC"),
    ];
    Board::from_csv("line_card.csv", trace.concat(), gluewright_parts::ttl())
}

#[derive(Circuit)]
struct Watcher {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2)]
    line: Input<Data>,
    #[contact("U1-2")]
    line_n: Input<Data>,
    #[contact("U1-3")]
    lamp: Output<ActiveLow>,
    taken: Buried<Register>,
    /// Whether the line is taken as it comes from outside: a slip.
    #[parameter]
    slips: bool,
}

impl Wiring for Watcher {
    fn wire(&self) -> WatcherWiring {
        let line = if self.slips { self.line.level() } else { self.line_n.level() };
        WatcherWiring {
            taken: on(self.clk.rises()).load(line),
            lamp: assert_while(self.taken.q().is_high() & self.line.level().is_high()),
        }
    }
}

#[test]
fn two_packages_of_a_board_are_replaced_at_their_boundary() {
    let job = |slips: bool| {
        let job = gluewright::job::<Watcher>(line_card()).with(WatcherParameters { slips });
        job.replacing(["U2", "U3"]).fitting("22V10")
    };
    let made = job(false).make().expect("made");
    assert!(made.written.is_whole(), "{}", made.written);
    let file = |name: &str| String::from_utf8_lossy(made.file(name).expect("made")).into_owned();
    for contact in ["1", "2", "U1-2", "U1-3"] {
        assert!(file("wiring.csv").lines().any(|row| row.split(',').next() == Some(contact)), "{}", file("wiring.csv"));
    }
    // what stays is no part of it
    assert!(file("wiring.csv").lines().all(|row| row.split(',').nth(2) != Some("U1")), "{}", file("wiring.csv"));
    match job(true).make().expect_err("it loads the other level") {
        JobError::Proof { failure, .. } => assert!(matches!(failure, Failure::Refuted(_)), "{failure}"),
        other => panic!("{other}"),
    }
}

#[test]
fn a_package_that_is_not_there_is_named() {
    let job = gluewright::job::<Watcher>(line_card()).with(WatcherParameters { slips: false });
    let error = job.replacing(["U2", "U9"]).make().expect_err("there is no U9");
    assert_eq!(error.status(), 2);
    assert!(error.to_string().contains("U9"), "{error}");
}
