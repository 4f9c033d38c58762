//! The board's tests: what each check says about an offending row, and what a whole card becomes.
mod composing;
mod joining;
mod marks;
mod reading;
mod replacing;
mod resistors;
mod slips;
mod staying;
mod stub;
mod traces;

use super::*;
use stub::Drawer;

/// A trace of these rows under the usual header; the first row is line 2.
fn sheet(rows: &str) -> Result<Board, TraceError> {
    Board::from_csv("card.csv", format!("ref,part,pin,net\n{rows}"), &Drawer)
}

/// The board of a trace without errors.
fn board(rows: &str) -> Board {
    sheet(rows).unwrap_or_else(|error| panic!("{error}"))
}

/// Everything that was found in a trace, with or without errors.
fn findings(rows: &str) -> Vec<Finding> {
    match sheet(rows) {
        Ok(board) => board.findings().to_vec(),
        Err(error) => error.findings,
    }
}

/// All findings of one kind, as texts.
fn said(rows: &str, kind: FindingKind) -> Vec<String> {
    findings(rows).iter().filter(|f| f.kind == kind).map(Finding::to_string).collect()
}

/// The only finding of one kind, which holds these words.
#[track_caller]
fn says(rows: &str, kind: FindingKind, words: &[&str]) {
    let said = said(rows, kind);
    let [only] = &said[..] else { panic!("{kind:?}: {said:#?} of {:#?}", findings(rows)) };
    for word in words {
        assert!(only.contains(word), "no {word:?} in: {only}");
    }
}

/// A 74LS04 whose first gate goes from contact `a` to contact `y`, all else open.
const INVERTER: &str = "\
J1,contacts,1,a
J1,contacts,2,y
J1,contacts,7,GND
J1,contacts,14,VCC
U1,74LS04,1,a
U1,74LS04,2,y
U1,74LS04,7,GND
U1,74LS04,14,VCC
U1,74LS04,3,GND
U1,74LS04,5,GND
U1,74LS04,9,GND
U1,74LS04,11,GND
U1,74LS04,13,GND
U1,74LS04,others,open
";

#[test]
fn a_clean_card_has_no_findings() {
    assert_eq!(findings(INVERTER), []);
}
