//! What a real board holds beside its logic, with the parts of the drawer: each rule proved, and a mutant of each refuted.
// a check may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

use gluewright::board::{Board, FindingKind, Library, Reading, Severity};
use gluewright::choose::clusters;
use gluewright::circuit::Circuit;
use gluewright::drawer::Drawer;
use gluewright::fit::Wishes;
use gluewright::prove::{Failure, Question};
use gluewright_parts::ttl;

fn circuit(name: &str, rows: &str) -> Circuit {
    board(name, rows).circuit().unwrap_or_else(|e| panic!("{e}"))
}

/// The board of these rows; pins that have none are left out, and supply pins are where the sheets print them.
fn board(name: &str, rows: &str) -> Board {
    let rows: String = rows.lines().filter(|l| !l.ends_with(",others,open")).map(|l| format!("{l}\n")).collect();
    let content = format!("ref,part,pin,net\n{rows}");
    let board = Reading::new().others_stay().printed_supplies().csv(name, content, ttl());
    board.unwrap_or_else(|e| panic!("{e}"))
}

/// Whether what the second trace describes stands in for the first.
#[track_caller]
fn stands_in(original: &str, replacement: &str) -> bool {
    match Question::new(circuit("original.csv", original), circuit("replacement.csv", replacement)).ask() {
        Ok(_) => true,
        Err(Failure::Refuted(_)) => false,
        Err(other) => panic!("{other}"),
    }
}

/// An inverter of this type from one net to another.
fn inverter(part: &str, from: &str, to: &str) -> String {
    format!(
        "U1,{part},1,{from}\nU1,,2,{to}\nU1,,3,GND\nU1,,5,GND\nU1,,9,GND\nU1,,11,GND\nU1,,13,GND\nU1,,others,open\n"
    )
}

#[test]
fn a_part_that_stays_leaves_its_pins_free() {
    let original = format!("J1,contacts,2,y\nU9,27C128,11,a\n{}", inverter("74LS04", "a", "y"));
    let same = format!("J1,contacts,2,y\nJ2,contacts,U9-11,a\n{}", inverter("74LS04", "a", "y"));
    assert!(stands_in(&original, &same));
    // what counts on the memory's output to stand still
    for stuck in ["GND", "VCC"] {
        let mutant = format!("J1,contacts,2,y\nJ2,contacts,U9-11,a\n{}", inverter("74LS04", stuck, "y"));
        assert!(!stands_in(&original, &mutant), "{stuck}");
    }
    // what the part that stays reads is compared as well
    let original = format!("J1,contacts,1,a\nU9,27C128,10,y\n{}", inverter("74LS04", "a", "y"));
    let same = format!("J1,contacts,1,a\nJ2,contacts,U9-10,y\n{}", inverter("74LS04", "a", "y"));
    let mutant = format!("J1,contacts,1,a\nJ2,contacts,U9-10,y\n{}", inverter("74LS04", "a", "z"));
    assert!(stands_in(&original, &same));
    assert!(!stands_in(&original, &mutant));
}

#[test]
fn contacts_on_one_wire_are_driven_alike_and_read_either() {
    let original = format!("J1,contacts,1,a\nJ1,,9,a\nJ1,,2,y\nJ1,,10,y\n{}", inverter("74LS04", "a", "y"));
    let with = |from: &str, second: &str| {
        format!("J1,contacts,1,a\nJ1,,9,b\nJ1,,2,y\nJ1,,10,{second}\n{}", inverter("74LS04", from, "y"))
    };
    let drives_both =
        "U2,74LS04,1,b\nU2,,2,y2\nU2,,3,GND\nU2,,5,GND\nU2,,9,GND\nU2,,11,GND\nU2,,13,GND\nU2,,others,open\n";
    assert!(stands_in(&original, &original));
    for read in ["a", "b"] {
        assert!(stands_in(&original, &(with(read, "y2") + drives_both)), "{read}");
        assert!(!stands_in(&original, &with(read, "y2")), "contact 10 is left open");
        assert!(!stands_in(&original, &(with(read, "b2") + drives_both)), "contact 10 is left open");
    }
    let inverted =
        drives_both.replace("U2,74LS04,1,b\nU2,,2,y2\nU2,,3,GND", "U2,74LS04,1,b\nU2,,2,n\nU2,,3,n\nU2,,4,y2");
    assert!(!stands_in(&original, &(with("a", "y2") + &inverted)));
    // contacts that no wire joins are no such thing
    let apart = with("a", "y2") + drives_both;
    assert!(stands_in(&apart, &apart));
    assert!(!stands_in(&apart, &(with("b", "y2") + drives_both)));
}

#[test]
fn a_contact_strapped_to_a_supply_is_driven() {
    let card = |strap: &str| format!("J1,contacts,1,a\nJ1,,2,y\nJ1,,5,VCC\n{strap}{}", inverter("74LS04", "a", "y"));
    let original = card("J1,,3,GND\nJ1,,4,VCC\n");
    assert!(stands_in(&original, &original));
    assert!(!stands_in(&original, &card("J1,,3,GND\n")), "contact 4 is left open");
    assert!(!stands_in(&original, &card("J1,,3,GND\nJ1,,4,open\n")), "contact 4 only reads");
    let driven = card("J1,,3,GND\nJ1,,4,y4\n") + "U1,,4,y4\n";
    assert!(stands_in(&original, &driven), "an inverter of ground drives it high");
    assert!(!stands_in(&original, &driven.replace("U1,,3,GND", "U1,,3,VCC")));
}

#[test]
fn a_keeper_holds_what_was_driven() {
    let others = "U1,,9,GND\nU1,,11,GND\nU1,,13,GND\nU1,,others,open\nU2,,others,open\n";
    let ground: String = [4, 6, 8, 11, 13, 15, 17, 19].map(|pin| format!("U2,74LS244,{pin},GND\n")).concat();
    let keeper = |resistor: &str| {
        format!(
            "J1,contacts,1,d\nJ1,,2,en\nJ1,,3,y\nU2,74LS244,2,d\nU2,,18,bus\nU2,,1,en\n{ground}\
             U1,74LS04,1,bus\nU1,,2,y\nU1,,3,y\nU1,,4,back\nU1,,5,GND\n{resistor}{others}"
        )
    };
    let original = keeper("R1,resistor 10k,1,back\nR1,,2,bus\n");
    // a latch that is open while the driver is on
    let data: String = [4, 7, 8, 13, 14, 17, 18].map(|pin| format!("U2,,{pin},GND\n")).concat();
    let latch = |open: &str| {
        format!(
            "J1,contacts,1,d\nJ1,,2,en\nJ1,,3,y\nU2,74LS373,3,d\nU2,,2,q\nU2,,1,GND\nU2,,11,{open}\n{data}\
             U1,74LS04,1,q\nU1,,2,y\nU1,,3,en\nU1,,4,on\nU1,,5,GND\n{others}"
        )
    };
    assert!(stands_in(&original, &latch("on")));
    assert!(!stands_in(&original, &latch("en")), "open while the driver is off");
    assert!(!stands_in(&original, &keeper("")), "nothing holds the bus");
    assert!(!stands_in(&original, &keeper("R1,resistor 10k,1,VCC\nR1,,2,bus\n")), "a pull-up is no keeper");
}

#[test]
fn an_open_input_of_cmos_is_unknown() {
    let open = |part: &str| format!("J1,contacts,2,y\n{}", inverter(part, "open", "y"));
    let fixed = |level: &str| format!("J1,contacts,2,y\n{}", inverter("74LS04", level, "y"));
    assert!(stands_in(&open("74LS04"), &fixed("VCC")) && !stands_in(&open("74LS04"), &fixed("GND")));
    // either may have been there, but nobody may count on it
    assert!(stands_in(&open("74HC04"), &fixed("VCC")) && stands_in(&open("74HC04"), &fixed("GND")));
    assert!(!stands_in(&fixed("VCC"), &open("74HC04")));
    assert!(!stands_in(&open("74LS04"), &open("74HCT04")));
    // one such input on a net is enough
    let mixed = |second: &str| {
        format!("J1,contacts,2,y\n{}U2,{second},1,n\nU2,,others,GND\n", inverter("74LS04", "n", "y"))
            .replace("U2,,others,GND\n", "")
    };
    assert!(!stands_in(&fixed("VCC"), &mixed("74HC04")));
    assert!(stands_in(&fixed("VCC"), &mixed("74LS04")));
}

/// The published boards beside the project, or the traces of the folder that GLUEWRIGHT_BOARDS names; `stays.txt` and
/// `house.csv` in it are taken as such lists.
fn published() -> Option<(Vec<PathBuf>, Reading)> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/boards/published");
    let folder = std::env::var_os("GLUEWRIGHT_BOARDS").map_or(beside, PathBuf::from);
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder).ok()?.filter_map(|f| Some(f.ok()?.path())).collect();
    files.retain(|p| p.extension().is_some_and(|e| e == "csv") && !p.ends_with("house.csv"));
    files.sort();
    let mut reading = Reading::new().others_stay().printed_supplies();
    if let Ok(list) = std::fs::read(folder.join("stays.txt")) {
        reading = reading.staying_list("stays.txt", list).expect("a list");
    }
    if let Ok(list) = std::fs::read(folder.join("house.csv")) {
        reading = reading.house_numbers("house.csv", list).expect("a list");
    }
    Some((files, reading))
}

/// How many packages of a sheet have a number of the TTL or CMOS series, and how many of these the library has.
fn share(content: &str) -> (usize, usize) {
    let types: BTreeMap<&str, &str> = content
        .lines()
        .skip(1)
        .filter_map(|row| {
            let mut fields = row.split(',');
            Some((fields.next()?, fields.next()?))
        })
        .collect();
    let of_series = |part: &&&str| {
        let number = part.trim_start_matches(|c: char| c.is_ascii_alphabetic());
        ["74", "54", "40", "45"].iter().any(|s| number.starts_with(s)) && number.len() >= 4
    };
    let all: Vec<&&str> = types.values().filter(of_series).collect();
    (all.iter().filter(|part| ttl().part(part).is_some()).count(), all.len())
}

const LEFT_OUT: &str = "left out: no published boards beside the project, and GLUEWRIGHT_BOARDS names none";

/// `cargo test -p gluewright-parts --test checks real_boards::published -- --nocapture` prints a row for each board.
#[test]
fn published_boards_load() {
    let Some((files, reading)) = published() else {
        println!("{LEFT_OUT}");
        return;
    };
    let verbose = std::env::var_os("GLUEWRIGHT_FINDINGS").is_some();
    println!("{:32} {:>8} {:>8} {:>8} {:>8} {:>9}  circuit", "board", "packages", "errors", "warnings", "notes", "ms");
    let mut bad = Vec::new();
    let (mut known, mut of) = (0, 0);
    for path in &files {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let content = std::fs::read_to_string(path).expect("a file");
        let (has, all) = share(&content);
        (known, of) = (known + has, of + all);
        let began = Instant::now();
        let read = reading.csv(&name, &content, ttl());
        let time = began.elapsed().as_secs_f64() * 1e3;
        let (findings, packages, whole) = match &read {
            Ok(board) => (
                board.findings(),
                board.chips().count(),
                match board.circuit() {
                    Ok(circuit) => format!("{} contacts", circuit.contacts().len()),
                    Err(error) => format!("refused: {}", error.findings.len()),
                },
            ),
            Err(error) => (&error.findings[..], 0, "-".to_owned()),
        };
        let count = |severity| findings.iter().filter(|f| f.severity == severity).count();
        let errors = count(Severity::Error);
        println!(
            "{name:32} {packages:>8} {errors:>8} {:>8} {:>8} {time:>9.2}  {whole}",
            count(Severity::Warning),
            count(Severity::Note)
        );
        if verbose {
            findings.iter().for_each(|f| println!("    {f}"));
        }
        if errors > 0 || findings.len() > 40 {
            bad.push(name);
        }
    }
    println!("packages of the TTL and CMOS series that the library has: {known} of {of}");
    assert!(bad.is_empty(), "errors, or more than a screen of findings: {bad:?}");
}

/// The clusters that are proposed; `-- --ignored --nocapture` prints them.
#[test]
#[ignore = "takes minutes: hundreds of fits for each board"]
fn published_boards_have_clusters() {
    let Some((files, reading)) = published() else {
        println!("{LEFT_OUT}");
        return;
    };
    println!("{:32} {:>9} {:>9}  first", "board", "clusters", "s");
    for path in &files {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let board = reading.csv(&name, std::fs::read(path).expect("a file"), ttl()).unwrap_or_else(|e| panic!("{e}"));
        let began = Instant::now();
        let found = clusters(&board, &Drawer::generic(), &Wishes::none());
        let first = found.first().map(ToString::to_string).unwrap_or_default();
        println!("{name:32} {:>9} {:>9.1}  {first}", found.len(), began.elapsed().as_secs_f64());
    }
}

/// Four packages between contacts, a processor and a flip-flop that stay: U1 and U2 are the cluster.
const BOARD: &str = "J1,contacts,1,clk\nJ1,,2,out\nJ1,,3,sel\n\
    U1,74LS00,1,sel\nU1,,2,q\nU1,,3,n\nU1,,4,n\nU1,,5,bus\nU1,,6,out\nU1,,9,GND\nU1,,10,GND\nU1,,12,GND\nU1,,13,GND\nU1,,others,open\n\
    U2,74LS04,1,n\nU2,,2,d\nU2,,3,GND\nU2,,5,GND\nU2,,9,GND\nU2,,11,GND\nU2,,13,GND\nU2,,others,open\n\
    U3,74LS74,1,VCC\nU3,,2,d\nU3,,3,clk\nU3,,4,VCC\nU3,,5,q\nU3,,10,VCC\nU3,,11,GND\nU3,,12,GND\nU3,,13,VCC\nU3,,others,open\n\
    U9,68000,1,bus\nU9,68000,2,d\nR1,resistor 4k7,1,bus\nR1,,2,VCC\nQ1,transistor 2N3904,B,out\nQ1,,E,GND\n";

#[test]
fn a_cluster_is_proved_at_its_boundary() {
    let with_supplies = |rows: &str| board("board.csv", rows);
    let board = with_supplies(BOARD);
    let cluster = board.replacing(&["U1", "u2"]).expect("two packages of the board");
    let labels: Vec<String> = cluster.rest.contacts().iter().map(|c| c.label.to_string()).collect();
    assert_eq!(labels, ["2", "3", "U9-1", "U9-2", "U3-5"]);
    assert_eq!(cluster.rest.name, "board: U1 and U2");
    assert_eq!(cluster.replaced.len(), 2);
    let same = "J1,contacts,2,out\nJ1,,3,sel\nJ1,,U9-1,bus\nJ1,,U9-2,d\nJ1,,U3-5,q\n".to_owned();
    let packages: String =
        BOARD.lines().filter(|l| l.starts_with("U1") || l.starts_with("U2")).map(|l| format!("{l}\n")).collect();
    let replacement = |rows: &str| Question::new(cluster.rest.clone(), circuit("stand_in.csv", rows)).ask();
    assert!(replacement(&(same.clone() + &packages)).is_ok());
    for (from, to) in [("U1,,5,bus", "U1,,5,VCC"), ("U2,74LS04,1,n", "U2,74LS04,1,q"), ("U1,,2,q", "U1,,2,VCC")] {
        assert!(packages.contains(from));
        let mutant = same.clone() + &packages.replace(from, to);
        assert!(matches!(replacement(&mutant), Err(Failure::Refuted(_))), "{from} as {to}");
    }
    // parts that are no logic of the library can't be replaced, but may be on the board
    let plain = BOARD.replace("68000", "unknown");
    let plain = plain.lines().filter(|l| !l.starts_with("Q1")).map(|l| format!("{l}\n")).collect::<String>()
        + "Q1,transistor,B,out\n";
    let board = with_supplies(&plain);
    assert_eq!(board.replacing(&["U1", "U2"]).expect("a cluster").rest.contacts().len(), 5);
    assert!(board.replacing(&["U9"]).is_err() && board.replacing::<&str>(&[]).is_err());
}

#[test]
fn a_plain_reading_is_as_before() {
    let rows = "ref,part,pin,net\nU1,74LS04,1,a\nU9,27C128,1,a\n";
    let error = Board::from_csv("card.csv", rows, ttl()).expect_err("nothing stays by itself");
    assert!(error.errors().any(|f| f.kind == FindingKind::UnknownPart));
}

/// The cluster as a board of its own is what it is at its boundary, and so the original of a whole job.
#[test]
fn a_cluster_is_a_board_of_its_own() {
    let whole = board("board.csv", BOARD);
    let cut = whole.cut_to(&["U1", "U2"]).unwrap_or_else(|e| panic!("{e}"));
    let cluster = whole.replacing(&["U1", "U2"]).expect("two packages").rest;
    let labels = |c: &Circuit| {
        let mut all: Vec<String> = c.contacts().iter().map(|c| c.label.to_string()).collect();
        all.sort();
        all
    };
    let circuit = cut.circuit().unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(labels(&circuit), labels(&cluster));
    assert!(Question::new(cluster.clone(), circuit.clone()).ask().is_ok());
    assert!(Question::new(circuit, cluster.clone()).ask().is_ok());
    // the sheet that it is written as is the same board again
    let again =
        Reading::new().printed_supplies().csv("again.csv", cut.sheet(), ttl()).unwrap_or_else(|e| panic!("{e}"));
    let again = again.circuit().unwrap_or_else(|e| panic!("{e}"));
    assert!(Question::new(cluster.clone(), again).ask().is_ok());
    // a wire of the cluster that goes elsewhere is refuted
    let mutant = board("board.csv", &BOARD.replace("U2,74LS04,1,n", "U2,74LS04,1,q"));
    let mutant = mutant.cut_to(&["U1", "U2"]).unwrap_or_else(|e| panic!("{e}")).circuit().unwrap();
    assert!(matches!(Question::new(cluster, mutant).ask(), Err(Failure::Refuted(_))));
    assert!(whole.cut_to(&["U9"]).is_err() && whole.cut_to::<&str>(&[]).is_err());
}
