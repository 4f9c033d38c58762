//! Sheets as they come: spreadsheets' habits, broken rows, and files that are no trace at all.
use proptest::prelude::*;

use super::stub::Drawer;
use super::*;

fn same(a: &Board, b: &Board) -> bool {
    let text = |board: &Board| {
        let circuit = board.circuit().expect("a circuit");
        let nets: Vec<_> = circuit
            .nets()
            .iter()
            .map(|n| {
                (
                    n.name.clone(),
                    n.pull,
                    n.drivers.iter().map(|d| (d.by.to_string(), d.level, d.enable)).collect::<Vec<_>>(),
                )
            })
            .collect();
        let contacts: Vec<_> =
            circuit.contacts().iter().map(|c| (c.label.clone(), c.name.clone(), c.net, c.direction)).collect();
        let ops: Vec<_> = (0..circuit.expression_count()).map(|i| circuit.op(crate::circuit::Expr::at(i))).collect();
        let elements: Vec<_> = circuit.elements().iter().map(|e| (e.name.clone(), e.kind)).collect();
        format!("{nets:?} {contacts:?} {:?} {ops:?} {elements:?}", circuit.supplies())
    };
    text(a) == text(b)
}

#[test]
fn spreadsheets_habits_change_nothing() {
    let plain = board(INVERTER);
    let reordered: String = INVERTER
        .lines()
        .map(|line| {
            let [r, part, pin, net] = line.split(',').collect::<Vec<_>>()[..] else { panic!("{line}") };
            format!(" \"{net}\" ; 0{pin} ;; {r};\"{part}\"\r\n").replace("0others", "OTHERS")
        })
        .collect();
    let odd = format!("\u{feff}# traced on a Sunday\r\n\r\nNet; PIN ;notes; \"ref\";Part\r\n;;;;\r\n{reordered}");
    let odd = Board::from_csv("card.csv", odd, &Drawer).unwrap_or_else(|e| panic!("{e}"));
    assert!(same(&plain, &odd));
    let tabs = format!("ref\tpart\tpin\tnet\n{}", INVERTER.replace(',', "\t"));
    assert!(same(&plain, &Board::from_csv("card.csv", tabs, &Drawer).expect("tabs")));
    let old = format!("ref,part,pin,net\r{}", INVERTER.replace('\n', "\r"));
    assert!(same(&plain, &Board::from_csv("card.csv", old, &Drawer).expect("carriage returns")));
    let once =
        INVERTER.replace("U1,74LS04,2", "u1,,2").replace("J1,contacts,2", "J1,,2").replace("74LS04,3", "74ls04,3");
    assert!(same(&plain, &board(&once)));
}

#[test]
fn the_builder_gives_the_same_board() {
    let built = Board::builder("card")
        .contacts("J1", [(1, "a"), (2, "y"), (7, "GND"), (14, "VCC")])
        .chip("U1", "74LS04", [(1, "a"), (2, "y"), (7, "GND"), (14, "VCC")])
        .chip("U1", "74LS04", [3, 5, 9, 11, 13].map(|pin: u16| (pin, "GND")))
        .chip("U1", "74LS04", [("others", "open")])
        .finish(&Drawer)
        .unwrap_or_else(|error| panic!("{error}"));
    assert!(same(&board(INVERTER), &built));
    assert_eq!(built.name(), "card");
}

#[test]
fn a_finding_of_the_builder_names_its_call() {
    let error = Board::builder("card").chip("U1", "74LS04", [(15, "a")]).finish(&Drawer).expect_err("no pin 15");
    let line = line!() - 1;
    let first = error.errors().find(|f| f.kind == FindingKind::UnknownPin).expect("the pin");
    assert!(first.to_string().contains(&format!("reading.rs:{line}")), "{first}");
}

#[test]
fn lines_are_counted_as_an_editor_counts_them() {
    let text = "# one\n\n# \"three\nref,part,pin,net\n\n# six\n,,,\nU1,74LS99,1,a\n\n\n# eleven\nU2,74LS98,1,b\n";
    for text in [text.to_owned(), text.replace('\n', "\r\n"), text.replace('\n', "\r")] {
        let error = Board::from_csv("card.csv", &text, &Drawer).expect_err("unknown parts");
        let places: Vec<String> = error.errors().map(|f| f.origin.to_string()).collect();
        assert_eq!(places, ["card.csv:8", "card.csv:12"], "{text:?}");
    }
}

#[test]
fn a_header_that_lacks_columns_is_told_which() {
    let error = Board::from_csv("card.csv", "ref,part,pin\nU1,74LS04,1\n", &Drawer).expect_err("no net");
    assert!(error.to_string().contains("card.csv:1: error: the header has no column `net`"), "{error}");
    let error = Board::from_csv("card.csv", "ref,part,pin,net,NET\n", &Drawer).expect_err("two nets");
    assert!(error.to_string().contains("column `net` twice"), "{error}");
    for empty in ["", "\n\n", "# nothing\n", ",,,\n"] {
        let error = Board::from_csv("card.csv", empty, &Drawer).expect_err("nothing in it");
        assert_eq!(error.findings.len(), 1);
        assert!(error.to_string().contains("the file has no rows"), "{error}");
    }
}

#[test]
fn broken_rows_are_named_and_the_rest_is_read() {
    let rows = "U1,74LS04,1\nU1,74LS04,,a\n,74LS04,2,b\nU1,74LS04,3,\nU1,74LS04,4,NC\nU2,,1,a\nU1,74LS04,77,a\n";
    let error = sheet(rows).expect_err("broken");
    for (line, words) in [
        (2, "ends before the column `net`"),
        (3, "names no pin"),
        (4, "no reference"),
        (5, "no net"),
        (6, "`NC`, which says nothing"),
        (7, "names no part"),
        (8, "has no pin `77`; it has pins 1 to 14"),
    ] {
        let place = format!("card.csv:{line}");
        let found = error
            .errors()
            .any(|f| f.origin.to_string() == place && f.to_string().contains(words) && !f.mend.is_empty());
        assert!(found, "{place} {words} in {error}");
    }
}

#[test]
fn a_quotation_mark_that_stays_open_is_named() {
    let error = sheet("U1,74LS04,1,a\nU1,\"74LS04,2,b\nU1,74LS04,3,c\n").expect_err("open quotation mark");
    let first = error.errors().find(|f| f.kind == FindingKind::Row).expect("the row");
    assert_eq!(first.origin.to_string(), "card.csv:3");
    assert!(first.message.contains("quotation mark"), "{first}");
}

#[test]
fn text_that_is_not_utf8_is_told_so() {
    let error = Board::from_csv("card.csv", b"ref,part,pin,net\nU1,74LS04,1,\xfcber\n", &Drawer).expect_err("latin 1");
    assert!(
        error.to_string().contains("card.csv:2: error: this line holds a character that is not in UTF-8"),
        "{error}"
    );
    let wide: Vec<u8> = [0xff, 0xfe].into_iter().chain("ref,part".encode_utf16().flat_map(u16::to_le_bytes)).collect();
    let error = Board::from_csv("card.csv", wide, &Drawer).expect_err("UTF-16");
    assert!(error.to_string().contains("UTF-16"), "{error}");
}

#[test]
fn a_million_rows_are_refused_and_not_kept() {
    let text: String = std::iter::once("ref,part,pin,net\n".to_owned())
        .chain((0..1_000_000u32).map(|i| format!("U{},74LS04,{},n{i}\n", i / 14, i % 14 + 1)))
        .collect();
    let error = Board::from_csv("card.csv", text, &Drawer).expect_err("too many");
    assert_eq!(error.findings.len(), 1);
    assert!(error.to_string().contains("card.csv:100002: error: more than 100000 rows"), "{error}");
}

#[test]
fn as_many_rows_as_allowed_give_bounded_findings() {
    let rows = |each: u32| -> String {
        (0..sheet::MOST_ROWS as u32)
            .map(|i| format!("U{},74LS0{},{},n{i}\n", i / each, i / each % 10, i % 99))
            .collect()
    };
    for each in [1, 14, 100_000] {
        let error = sheet(&rows(each)).expect_err("nonsense");
        assert!(error.findings.len() <= 3 * finding::MOST_FINDINGS + 3);
        assert!(error.to_string().lines().count() <= 52);
    }
}

#[test]
fn findings_can_be_written_as_json() {
    let error = sheet("U1,74LS40,1,a\n").expect_err("unknown part");
    let json = serde_json::to_value(&error).expect("json");
    assert_eq!(json["findings"][1]["origin"], "card.csv:2");
    assert_eq!(json["findings"][1]["severity"], "error");
    assert_eq!(json["findings"][1]["kind"], "unknown_part");
}

/// Fields that stand near what a trace holds, so that random sheets get past the reader.
fn field() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => prop::sample::select(vec![
            "U1", "U2", "J1", "R1", "C1", "74LS00", "74LS04", "74LS05", "74LS245", "74LS123", "contacts", "empty", "unknown",
            "untraced", "open", "others", "resistor 4k7", "resistor", "resistor 0", "resistor network 3x1k common 2",
            "resistor network 2x1k adjacent", "resistor network 2x330 opposite", "jumper", "jumper 1-3", "jumper open",
            "capacitor 1n", "capacitor 1n ignored", "diode x", "switch", "VCC", "GND", "+12V", "-5V", "a", "A", "b", "y", "nc",
            "1", "2", "3", "4", "5", "6", "7", "8", "14", "16", "", "\"", "#",
        ]).prop_map(str::to_owned),
        1 => ".{0,8}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 512, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = Board::from_csv("card.csv", bytes, &Drawer);
    }

    #[test]
    fn no_sheet_makes_it_panic(rows in prop::collection::vec([field(), field(), field(), field()], 0..40)) {
        let text: String = rows.iter().map(|row| row.join(",") + "\n").collect();
        no_panic(sheet(&text));
    }

    #[test]
    fn no_plausible_sheet_makes_it_panic(rows in prop::collection::vec((0..14usize, 1..17u16, field()), 0..60)) {
        let parts = ["74LS00", "74LS04", "74LS05", "74LS245", "74LS123", "contacts", "empty", "unknown", "resistor 4k7",
            "resistor network 3x1k common 2", "jumper", "capacitor 1n", "diode", "resistor 0"];
        let text: String = rows.iter().map(|(k, pin, net)| format!("X{k},{},{pin},{net}\n", parts[*k])).collect();
        no_panic(sheet(&text));
    }
}

fn no_panic(read: Result<Board, TraceError>) {
    match read {
        Ok(board) => {
            let untraced = board.untraced();
            let circuit = board.circuit();
            if let Ok(circuit) = circuit {
                let mut names: Vec<&str> = circuit.nets().iter().map(|n| n.name.as_str()).collect();
                names.sort_unstable();
                assert!(names.windows(2).all(|pair| pair[0] != pair[1]), "a name twice: {names:?}");
                assert!(untraced.iter().filter_map(|u| u.net.as_ref()).all(|n| circuit.find_net(n).is_some()));
            }
        }
        Err(error) => {
            assert!(error.errors().count() > 0);
            assert!(error.errors().all(|f| !f.message.is_empty() && !f.mend.is_empty()), "{error}");
            assert!(!error.to_string().is_empty());
        }
    }
}
