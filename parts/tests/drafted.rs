//! Drafts from the command line, run as a user runs them.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "the files are those of this test")]
use std::process::{Command, Output};

const CARD: &str = "ref,part,pin,net\nJ1,contacts,1,clk\nJ1,,2,d\nJ1,,3,q\nJ1,,4,out_n\nJ1,,8,VCC\nJ1,,5,GND\n\
                    U1,74LS74,2,d\nU1,,3,clk\nU1,,5,q\nU1,,1,VCC\nU1,,4,VCC\nU1,,7,GND\nU1,,14,VCC\nU1,,others,open\n\
                    U2,74LS00,1,q\nU2,,2,d\nU2,,3,out_n\nU2,,7,GND\nU2,,14,VCC\nU2,,others,open\n";

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gluewright")).args(arguments).output().expect("it starts")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_trace_becomes_a_draft_a_package_and_a_list_of_findings() {
    let room = tempfile::tempdir().unwrap();
    let trace = room.path().join("key_card.csv");
    std::fs::write(&trace, CARD).unwrap();
    let trace = trace.to_str().unwrap();
    let draft = run(&["draft", trace]);
    let source = text(&draft.stdout);
    assert_eq!(draft.status.code(), Some(0), "{}", text(&draft.stderr));
    for line in [
        "pub struct KeyCard {",
        "clk: Input<Clock>,",
        "out: Output<ActiveLow>,",
        "q: on(self.clk.rises()).load(self.d.level())",
    ] {
        assert!(source.contains(line), "{line}: {source}");
    }
    let document: serde_json::Value = serde_json::from_slice(&run(&["draft", trace, "--json"]).stdout).unwrap();
    assert_eq!(document["draft"]["name"], "KeyCard");
    let package = room.path().join("key_card");
    let made = run(&["draft", trace, "--package", package.to_str().unwrap(), "--sources", "/gluewright"]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    let manifest = std::fs::read_to_string(package.join("Cargo.toml")).unwrap();
    assert!(manifest.contains("gluewright = { path = \"/gluewright/core\" }"), "{manifest}");
    assert_eq!(std::fs::read_to_string(package.join("src/key_card.csv")).unwrap(), CARD);
    assert!(std::fs::read_to_string(package.join("src/main.rs")).unwrap().contains("fn main() -> ExitCode"));
    // nothing that somebody wrote is lost
    let again = run(&["draft", trace, "--package", package.to_str().unwrap()]);
    assert_eq!(again.status.code(), Some(2));
    // a package whose source could not read its trace is not made
    let house = room.path().join("house.csv");
    std::fs::write(&house, "1820-1112,74LS74\n").unwrap();
    let other = room.path().join("other");
    let refused =
        run(&["draft", trace, "--house-numbers", house.to_str().unwrap(), "--package", other.to_str().unwrap()]);
    assert_eq!((refused.status.code(), other.exists()), (Some(2), false), "{}", text(&refused.stderr));
    let cluster = text(&run(&["draft", trace, "--replace", "U2"]).stdout);
    assert!(cluster.contains("original.cut_to(&[\"U2\"])"), "{cluster}");
    let part = room.path().join("part");
    let made = run(&["draft", trace, "--replace", "U2", "--package", part.to_str().unwrap()]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    assert!(std::fs::read_to_string(part.join("src/main.rs")).unwrap().contains(".replacing([\"U2\"]).run()"));
    assert_eq!(run(&["trace", trace]).status.code(), Some(0));
    assert_eq!(run(&["draft", "nowhere.csv"]).status.code(), Some(2));
    let broken = room.path().join("broken.csv");
    std::fs::write(&broken, CARD.replace("74LS74", "74LS7A")).unwrap();
    let refused = run(&["draft", broken.to_str().unwrap()]);
    assert_eq!(refused.status.code(), Some(2), "{}", text(&refused.stdout));
}

/// The flip-flop and the gate behind it go into one device; the drawer decides which.
#[test]
fn clusters_are_ranked_by_what_a_device_of_the_drawer_holds() {
    let room = tempfile::tempdir().unwrap();
    let path = room.path().join("card.csv");
    std::fs::write(&path, CARD).unwrap();
    let path = path.to_str().unwrap();
    let document: serde_json::Value = serde_json::from_slice(&run(&["clusters", path, "--json"]).stdout).unwrap();
    let clusters = document["clusters"].as_array().unwrap();
    assert_eq!(clusters.len(), 1, "{document}");
    let packages: Vec<&str> =
        clusters[0]["packages"].as_array().unwrap().iter().map(|p| p[0].as_str().unwrap()).collect();
    assert_eq!(packages, ["U1", "U2"]);
    assert_eq!(clusters[0]["contacts"], 4);
    // nothing registered in a drawer of devices without registers
    let drawer = room.path().join("drawer.csv");
    std::fs::write(&drawer, "maker,type,grade,count\n,16L8,,1\n").unwrap();
    let none = text(&run(&["clusters", path, "--drawer", drawer.to_str().unwrap()]).stdout);
    assert!(none.contains("no two packages"), "{none}");
}
