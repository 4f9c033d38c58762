//! Netlists as programs write them, what is wrong with some, and garbage.
use proptest::prelude::*;

use super::*;
use crate::board::{Finding, FindingKind, Library, Part};

/// No parts at all: everything stays.
struct Empty;

impl Library for Empty {
    fn part(&self, _: &str) -> Option<Part> {
        None
    }

    fn names(&self) -> Vec<String> {
        Vec::new()
    }
}

/// A record with its fields in their columns.
fn record(net: &str, reference: &str, pin: &str) -> String {
    format!("317{net:<14}   {reference:<6}-{pin:<4} D0350PA00X+012345Y+067890X0600Y0600R000S0\n")
}

fn rows(board: &Board) -> Vec<String> {
    let pins = |p: &super::super::package::Package| {
        let row = |pin: &super::super::package::Pin| format!("{} {} {} {:?}", p.reference, p.part, pin.label, pin.wire);
        p.pins.iter().map(row).collect::<Vec<_>>()
    };
    board.packages.iter().flat_map(pins).collect()
}

fn staying() -> Reading {
    Reading::new().others_stay()
}

const LIST: &str = "Designator,Value\n\"U1, U2\",74LS00\nR1,4k7\nC1,100n\nJ1,edge 2x22\n";

#[test]
fn a_netlist_for_the_bare_board_test_is_read() {
    let netlist = format!(
        "C  a remark\nP  JOB loom\nP  NNAME1 A_NET_WITH_A_VERY_LONG_NAME\n{}{}{}{}{}{}{}{}999\n",
        record("NNAME1", "U1", "1"),
        record("GND", "U1", "7"),
        record("GND", "U1", "7"),
        record("N/C", "U1", "2"),
        record("GND", "VIA", ""),
        record("GND", "R1", "1"),
        record("N/C", "R1", "2"),
        record("clk", "J1", "A1"),
    );
    let list = PartsList { file: "parts.csv", content: LIST.as_bytes() };
    let board = staying().ipc_d_356a("board.ipc", &netlist, list, &Empty).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(
        rows(&board),
        [
            "U1 74LS00 1 Net(\"A_NET_WITH_A_VERY_LONG_NAME\")",
            "U1 74LS00 7 Net(\"GND\")",
            "U1 74LS00 2 Open",
            "R1 resistor 4k7 1 Net(\"GND\")",
            "R1 resistor 4k7 2 Open",
            "J1 stays connector edge 2x22 A1 Net(\"clk\")",
        ],
    );
}

#[test]
fn what_a_bare_board_netlist_lacks_is_named_by_its_line() {
    let list = |content: &'static str| PartsList { file: "parts.csv", content: content.as_bytes() };
    let says = |netlist: &str, parts: &'static str, wanted: &str| {
        let error = staying().ipc_d_356a("board.ipc", netlist, list(parts), &Empty).expect_err(wanted);
        assert!(error.to_string().contains(wanted), "{error}");
    };
    says("hello\n", LIST, "board.ipc:1: the line starts with no kind of record");
    says("", LIST, "board.ipc:1: the file has no records");
    says(&record("a", "U1", ""), LIST, "board.ipc:1: the record lacks");
    says(&record("a", "U1", "1"), "what,where\n", "parts.csv:1: the header names no column");
    says(&record("a", "U1", "1"), "ref,part\nU1,a\nU1,b\n", "parts.csv:3: `U1` is listed twice");
    says(&record("a", "U1", "1"), "", "parts.csv:1: the list has no rows");
    // one pin on two nets is an error of the trace
    let twice = record("a", "U1", "1") + &record("b", "U1", "1");
    let error = staying().ipc_d_356a("board.ipc", &twice, list(LIST), &Empty).expect_err("a fault");
    let NetlistError::Trace(error) = error else { panic!("{error}") };
    let [only] = &error.errors().collect::<Vec<&Finding>>()[..] else { panic!("{error}") };
    assert_eq!((only.kind, only.origin.to_string().as_str()), (FindingKind::PinTwice, "board.ipc:2"));
}

const EDIF: &str = r#"(edif loom (edifVersion 2 0 0) (edifLevel 0) (keywordMap (keywordLevel 0))
  (library parts (edifLevel 0) (technology (numberDefinition))
    (cell (rename &74LS00 "74LS00") (cellType GENERIC)
      (view net (viewType NETLIST)
        (interface
          (port (rename A1 "1A") (direction INPUT) (designator "1"))
          (port &3 (direction OUTPUT)) (port GND (designator "7")))))
    (cell loom (cellType GENERIC)
      (view net (viewType NETLIST)
        (interface (port in (direction INPUT) (designator "A1")))
        (contents
          (instance (rename inst1 "U1") (viewRef net (cellRef &74LS00 (libraryRef parts))))
          (instance inst2 (viewRef net (cellRef &74LS00 (libraryRef parts))) (designator "U2"))
          (net (rename n1 "clk/4") (joined (portRef A1 (instanceRef inst1)) (portRef in)))
          (net GND (joined (portRef GND (instanceRef inst1)) (portRef &3 (instanceRef inst2))))))))
  (design loom (cellRef loom (libraryRef parts))))"#;

#[test]
fn a_flat_netlist_of_edif_is_read() {
    let board = staying().edif("loom.edn", EDIF, None, &Empty).unwrap_or_else(|e| panic!("{e}"));
    let wanted = [
        "U1 74LS00 1 Net(\"clk/4\")",
        "U1 74LS00 7 Net(\"GND\")",
        "contacts contacts A1 Net(\"clk/4\")",
        "U2 74LS00 3 Net(\"GND\")",
    ];
    assert_eq!(rows(&board), wanted);
    let listed = PartsList { file: "parts.csv", content: b"ref,part\nU2,74LS08\n" };
    let board = staying().edif("loom.edn", EDIF, Some(listed), &Empty).unwrap_or_else(|e| panic!("{e}"));
    assert!(rows(&board).contains(&"U2 74LS08 3 Net(\"GND\")".to_owned()));
}

#[test]
fn what_edif_lacks_is_named_by_its_line() {
    let says = |text: &str, wanted: &str| {
        let error = staying().edif("loom.edn", text, None, &Empty).expect_err(wanted);
        assert!(error.to_string().contains(wanted), "{error}");
    };
    says("", "loom.edn:1: the file ends before its last parenthesis");
    says("(edif x\n(library", "loom.edn:2: the file ends");
    says("(edif x (y \"z", "a quotation mark is never closed");
    says(")", "a parenthesis closes that none opened");
    says("edif", "does not start with `(edif`");
    says("(other)", "does not start with `(edif`");
    says("(edif x)", "no cell of the design has contents");
    says(&EDIF.replace("2 0 0", "3 0 0"), "this is EDIF 3.0.0");
    says(&EDIF.replace("(instanceRef inst2)", "(instanceRef inst9)"), "loom.edn:15: there is no instance `inst9`");
    says(&"(".repeat(100_000), "nested more than");
    let nested = EDIF.replace("(interface\n", "(contents) (interface\n");
    says(&nested, "is a drawing of its own");
}

#[test]
fn the_columns_of_a_sheet_have_other_names() {
    for header in ["Net Name,Pin Number,Value,Reference", "SIGNAL,pad,Part,RefDes", "net,pin,part_type,ref_des"] {
        let text = format!("{header}\nclk,1,27C128,U9\n");
        let board = staying().csv("t.csv", text, &Empty).unwrap_or_else(|e| panic!("{header}: {e}"));
        assert_eq!(rows(&board), ["U9 27C128 1 Net(\"clk\")"]);
    }
    // the better name counts
    let board = staying()
        .csv("t.csv", "ref,part,value,pin,net\nU9,27C128,10k,1,clk\n", &Empty)
        .unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(rows(&board), ["U9 27C128 1 Net(\"clk\")"]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn garbage_is_an_error_and_no_panic(bytes in proptest::collection::vec(any::<u8>(), 0..600), text in "[()\" a-zA-Z0-9&\n]{0,300}") {
        let list = PartsList { file: "p.csv", content: LIST.as_bytes() };
        let _ = staying().ipc_d_356a("a", &bytes, list, &Empty);
        let _ = staying().ipc_d_356a("a", &text, PartsList { file: "p", content: &bytes }, &Empty);
        let _ = staying().edif("a", &bytes, None, &Empty);
        let _ = staying().edif("a", format!("(edif x {text}"), None, &Empty);
        let _ = staying().staying_list("a", &bytes);
        let _ = staying().house_numbers("a", &bytes);
    }

    #[test]
    fn a_netlist_with_a_wound_is_an_error_or_read(at in 0..EDIF.len(), with in "[()\" a&0-9]{0,3}", cut in 0usize..12) {
        let mut text = EDIF.to_owned();
        text.replace_range(at..(at + cut).min(EDIF.len()), &with);
        let _ = staying().edif("a", &text, None, &Empty);
        let mut netlist = record("clk", "U1", "1") + &record("GND", "U1", "7");
        let end = (at % netlist.len() + cut).min(netlist.len());
        netlist.replace_range(at % netlist.len()..end, &with);
        let _ = staying().ipc_d_356a("a", &netlist, PartsList { file: "p", content: LIST.as_bytes() }, &Empty);
    }
}
