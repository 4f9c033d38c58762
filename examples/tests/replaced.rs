//! A job that replaces some packages of a larger board: contacts are those of the board and pins that stay, where nets leave
//! the packages.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use gluewright::board::{Board, TraceError};
use gluewright::job::{Finding, JobError, Of};
use gluewright::prelude::*;
use gluewright::prove::Failure;

/// A telephone exchange's line card: U1 receives the line and drives the lamp, U2 and U3 tell when the line changes.
fn line_card() -> Result<Board, TraceError> {
    card_with("U3,74LS00,4,GND\nU3,,5,GND\nU3,,6,open\n")
}

/// The same with a memory that stays: it says which lines may ring, and nobody knows what it holds at first.
fn with_memory() -> Result<Board, TraceError> {
    card_with(
        "J2,contacts,11,d\nJ2,,12,write_n\nJ2,,13,at\nJ2,,14,ring_n\n\
         U4,74LS670,15,d\nU4,,1,GND\nU4,,2,GND\nU4,,3,GND\nU4,,5,at\nU4,,4,GND\nU4,,14,at\nU4,,13,GND\nU4,,12,write_n\n\
         U4,,11,GND\nU4,,10,may\nU4,,9,open\nU4,,7,open\nU4,,6,open\nU4,,8,GND\nU4,,16,VCC\n\
         U3,74LS00,4,may\nU3,,5,taken\nU3,,6,ring_n\n",
    )
}

/// The rows of a package whose pins are on these nets.
fn package(reference: &str, part: &str, nets: &str) -> String {
    let rows = nets.split_whitespace().enumerate();
    rows.map(|(i, net)| format!("{reference},{part},{},{net}\n", i + 1)).collect()
}

fn card_with(more: &str) -> Result<Board, TraceError> {
    let trace = [
        "ref,part,pin,net\n".to_owned(),
        package("J1", "contacts", "clk line lamp GND VCC"),
        package("U1", "74LS04", "line line_n lamp_n lamp GND open GND open GND open GND open GND VCC"),
        package("U2", "74LS74", "VCC line_n clk VCC taken open GND open open VCC GND GND VCC VCC"),
        "U3,74LS00,1,taken\nU3,,2,line\nU3,,3,lamp_n\nU3,,7,GND\nU3,,8,open\nU3,,9,GND\nU3,,10,GND\nU3,,11,open\n\
         U3,,12,GND\nU3,,13,GND\nU3,,14,VCC\n"
            .to_owned(),
        more.to_owned(),
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

/// It takes the line and its complement for each other: on this board the one is always the other's complement, once settled.
#[derive(Circuit)]
#[contacts(clk: 1, line: 2, line_n: "U1-2", lamp: "U1-3")]
struct Crossed {
    clk: Input<Clock>,
    line: Input<Data>,
    line_n: Input<Data>,
    lamp: Output<ActiveLow>,
    taken: Buried<Register>,
    /// Whether the lamp is lit by the line at rest: a slip.
    #[parameter]
    slips: bool,
}

impl Wiring for Crossed {
    fn wire(&self) -> CrossedWiring {
        let lit = if self.slips { self.line_n.level().is_high() } else { self.line_n.level().is_low() };
        CrossedWiring {
            taken: on(self.clk.rises()).load(!self.line.level()),
            lamp: assert_while(self.taken.q().is_high() & lit),
        }
    }
}

/// The same beside the memory.
#[derive(Circuit)]
#[contacts(clk: 1, line: 2, line_n: "U1-2", lamp: "U1-3", may: "U4-10", ring: 14)]
struct Ringing {
    clk: Input<Clock>,
    line: Input<Data>,
    line_n: Input<Data>,
    lamp: Output<ActiveLow>,
    may: Input<Data>,
    ring: Output<ActiveLow>,
    taken: Buried<Register>,
    /// Whether every line may ring: a slip.
    #[parameter]
    slips: bool,
}

impl Wiring for Ringing {
    fn wire(&self) -> RingingWiring {
        let may = if self.slips { self.taken.q().is_high() } else { self.may.level().is_high() };
        RingingWiring {
            taken: on(self.clk.rises()).load(!self.line.level()),
            lamp: assert_while(self.taken.q().is_high() & self.line_n.level().is_low()),
            ring: assert_while(self.taken.q().is_high() & may),
        }
    }
}

/// What is made, or whose proof it is that fails.
fn in_whole_board<C: Wiring>(job: gluewright::job::Job<C>) -> Result<gluewright::job::Made, Of> {
    match job.replacing(["U2", "U3"]).fitting("22V10").make() {
        Ok(made) => Ok(made),
        Err(JobError::Proof { of, failure: Failure::Refuted(_) }) => Err(of),
        Err(other) => panic!("{other}"),
    }
}

/// The folder, as the checker sees it.
fn stands(made: &gluewright::job::Made) {
    let room = tempfile::tempdir().expect("a folder");
    made.write(room.path()).expect("written");
    let verdict = gluewright_checker::folder::check(room.path());
    assert!(verdict.stands(), "{verdict}");
}

#[test]
fn what_the_boundary_refutes_and_the_board_never_shows_is_proved_in_the_whole_board() {
    let crossed = |slips| gluewright::job::<Crossed>(line_card()).with(CrossedParameters { slips });
    let made = in_whole_board(crossed(false)).unwrap_or_else(|of| panic!("refuted: {of:?}"));
    let said = made.findings.iter().find(|f| matches!(f, Finding::InWholeBoard { .. })).expect("it is said");
    let Finding::InWholeBoard { replaced, staying, boundary } = said else { panic!("{said}") };
    assert_eq!(replaced.len(), 2, "{said}");
    assert_eq!(staying, &[("U1".to_owned(), "74LS04".to_owned())], "{said}");
    assert!(boundary.starts_with("Refuted"), "{said}");
    // the files are proved as the source is: beside what stays, which is wired as it was
    assert_eq!(made.kept(), staying);
    let wiring = String::from_utf8_lossy(made.file("wiring.csv").expect("made")).into_owned();
    assert!(wiring.lines().any(|row| row.split(',').nth(2) == Some("U1")), "{wiring}");
    stands(&made);
    let room = tempfile::tempdir().expect("a folder");
    made.write(room.path()).expect("written");
    let job = crossed(false).replacing(["U2", "U3"]).fitting("22V10");
    let file = room.path().join(&made.devices.first().expect("one").file);
    assert!(job.read_back(room.path(), &file).expect("read").is_good());
    assert_eq!(in_whole_board(crossed(true)).err(), Some(Of::Board));
}

/// What stays need not be traced to its end; then the whole board says nothing, and the boundary is reported with that.
#[test]
fn a_board_that_is_not_known_to_its_end_excuses_nothing() {
    let card = card_with("U3,74LS00,4,GND\nU3,,5,GND\nU3,,6,open\nU5,transistor,B,lamp\n");
    let job = gluewright::job::<Crossed>(card).with(CrossedParameters { slips: false });
    match in_whole_board(job).err() {
        Some(Of::Boundary(why)) => assert!(why.contains("U5"), "{why}"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_memory_that_stays_holds_the_same_on_both_sides() {
    let ringing = |slips| gluewright::job::<Ringing>(with_memory()).with(RingingParameters { slips });
    let made = in_whole_board(ringing(false)).unwrap_or_else(|of| panic!("refuted: {of:?}"));
    assert_eq!(made.kept().len(), 2);
    stands(&made);
    assert_eq!(in_whole_board(ringing(true)).err(), Some(Of::Board));
}

/// A register whose clock goes through gates that make a pulse when `mode` rises. On this board it never does: U1 drives it high.
fn gated_card() -> Result<Board, TraceError> {
    let trace = [
        "ref,part,pin,net\n".to_owned(),
        package("J1", "contacts", "clk line lamp GND VCC"),
        package("U1", "74LS04", "line line_n lamp_n lamp GND mode GND open GND open GND open GND VCC"),
        package("U2", "74LS74", "VCC line_n clock VCC lamp_n open GND open open VCC GND GND VCC VCC"),
        package("U3", "74LS00", "mode mode mode_n mode mode_n quiet GND clk_n clk quiet clock clk_n quiet VCC"),
    ];
    Board::from_csv("gated_card.csv", trace.concat(), gluewright_parts::ttl())
}

/// It has no such gates.
#[derive(Circuit)]
#[contacts(clk: 1, line_n: "U1-2", mode: "U1-6", lamp_n: "U1-3")]
struct Plain {
    clk: Input<Clock>,
    line_n: Input<Data>,
    mode: Input<Data>,
    lamp_n: Output<ActiveHigh>,
    taken: Buried<Register>,
    /// Whether it takes the other level: a slip.
    #[parameter]
    slips: bool,
}

impl Wiring for Plain {
    fn wire(&self) -> PlainWiring {
        let line = if self.slips { !self.line_n.level() } else { self.line_n.level() };
        PlainWiring { taken: on(self.clk.rises()).load(line), lamp_n: assert_while(self.taken.q().is_high()) }
    }
}

#[test]
fn what_is_withheld_at_the_boundary_and_no_doubt_on_the_board_is_proved_in_the_whole_board() {
    let plain = |slips| {
        let job = gluewright::job::<Plain>(gated_card()).with(PlainParameters { slips });
        job.replacing(["U2", "U3"]).fitting("22V10").make()
    };
    let made = plain(false).unwrap_or_else(|e| panic!("{e}"));
    let said = made.findings.iter().find(|f| matches!(f, Finding::InWholeBoard { .. })).expect("it is said");
    assert!(said.to_string().contains("Withheld"), "{said}");
    stands(&made);
    match plain(true).expect_err("the other level") {
        JobError::Proof { of: Of::Board | Of::Source, failure: Failure::Refuted(_) } => {}
        other => panic!("{other}"),
    }
}
