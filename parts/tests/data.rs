//! The drawer's data are complete and plausible, and agree with the logic pin by pin.
use gluewright_parts::{Sheet, ttl};

const LS138: &str = include_str!("../data/74ls138.toml");

#[test]
fn every_data_file_can_be_read_and_every_logic_built() {
    assert_eq!(ttl().faults(), [] as [&str; 0]);
    assert!(ttl().types().count() >= 120, "{} types", ttl().types().count());
}

#[test]
fn every_sheet_is_complete_and_agrees_with_its_logic() {
    let mut report = String::new();
    for kind in ttl().types() {
        for sheet in kind.sheets() {
            for problem in sheet.problems(kind.logic().map(|l| &**l)) {
                report += &format!("data/{}.toml: {problem}\n", sheet.type_number.to_lowercase());
            }
        }
    }
    assert!(report.is_empty(), "\n{report}");
}

/// What the check says of the 74LS138 after something in its data file was replaced.
#[allow(clippy::unwrap_used, reason = "the drawer has a 138")]
fn said(from: &str, to: &str) -> String {
    assert!(LS138.contains(from), "nothing to replace: {from}");
    let logic = ttl().function("138").and_then(|t| t.logic()).unwrap();
    match Sheet::from_toml("74ls138", &LS138.replacen(from, to, 1)) {
        Ok(sheet) => sheet.problems(Some(logic)).iter().map(|p| format!("{p}\n")).collect(),
        Err(error) => error.to_string(),
    }
}

#[test]
fn what_is_missing_or_wrong_is_said_with_its_mend() {
    let cases = [
        ("package = 16", "package = 20", "pin 17 stands 0 times in `pins`: a package of 20 has each pin once"),
        (
            r#"    { pin = 6, name = "G1", is = "input", carries = "high" },"#,
            "",
            "`G1` in [[delay]] is no pin of this type; its pins are A, B, C, G2A, G2B",
        ),
        (r#"name = "VCC", is = "vcc""#, r#"name = "VCC", is = "nc""#, "no pin carries the supply: give the supply pin"),
        (
            r#"is = "vcc""#,
            r#"is = "gnd""#,
            "the supply pins are gnd 8, gnd 16 in `pins` and gnd 8, vcc 16 in #[circuit(…)]",
        ),
        (
            r#"carries = "high""#,
            r#"carries = "low""#,
            "pin 6 (G1) polarity is active low in `pins` and active high in its logic",
        ),
        (r#"name = "Y6", is = "output""#, r#"name = "Y6", is = "three_state""#, "pin 9 (Y6) direction is"),
        (r#"name = "A", is"#, r#"name = "D", is"#, "`A` in [[delay]] is no pin of this type; its pins are D, B, C"),
        (
            r#"pin = 15, name = "Y0""#,
            r#"pin = 15, name = "Y9""#,
            "pin 15 is called Y9 in `pins` and `y[0]` in its logic",
        ),
        ("from = \"G1\"", "from = \"G2A\"", "no delay from G1 to Y0: add a [[delay]] or [[enable]], or a [[no_delay]]"),
        (
            "icc_ma = 10",
            "icc_ma = 1000",
            "supply current in mA of the package is 1000: it should lie between 0.1 and 150",
        ),
        ("iil_ma = -0.4", "", "pin A has no input current at a low level (iil_ma): add it to an [[input]]"),
        ("iol_ma = 8", "iol_mA = 8", "unknown field `iol_mA`"),
        ("rise = 20", "", "`from_memory` in [[delay]] names `rise`, which stands for nothing there"),
        ("to = \"Yn\"", "to = \"Zn\"", "`Zn` in [[delay]] is no pin of this type; its pins are Y7"),
    ];
    for (from, to, what) in cases {
        let said = said(from, to);
        assert!(said.contains(what), "{from} replaced by {to}: expected {what}, but it says:\n{said}");
    }
    assert_eq!(said("title", "title"), "", "and nothing about the file as it stands");
}
