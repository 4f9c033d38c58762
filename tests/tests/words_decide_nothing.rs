//! No branch of the job or the report hangs on the words of a message or of a name: whoever rewords one changes no decision.
//! Looked for in the sources themselves, tests left out.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::fs;
use std::path::{Path, PathBuf};

/// The ways in which the standard library looks into a text for a given one.
const LOOKS: [&str; 9] = [
    ".contains(\"",
    ".contains(&format!",
    ".starts_with(\"",
    ".ends_with(\"",
    ".strip_prefix(\"",
    ".strip_suffix(\"",
    ".split_once(\"",
    ".find(\"",
    ".to_string() ==",
];

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display())) {
        let path = entry.expect("readable").path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("tests.rs") {
            into.push(path);
        }
    }
}

/// The places where a text looks into a text, with their lines.
fn looks(source: &str) -> Vec<(usize, &str)> {
    let program = source.split("#[cfg(test)]").next().unwrap_or_default();
    let lines = program.lines().enumerate().map(|(at, line)| (at + 1, line.trim()));
    lines.filter(|(_, line)| !line.starts_with("//") && LOOKS.iter().any(|look| line.contains(look))).collect()
}

#[test]
fn job_and_report_look_into_no_text() {
    let core = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core");
    let mut all = Vec::new();
    for room in ["command/src", "report/src"] {
        sources(&core.join(room), &mut all);
    }
    assert!(all.len() > 40, "{all:?}");
    let found: Vec<String> = all
        .iter()
        .flat_map(|path| {
            let source = fs::read_to_string(path).expect("readable");
            let said = |(line, text): (usize, &str)| format!("{}:{line}: {text}", path.display());
            looks(&source).into_iter().map(said).collect::<Vec<_>>()
        })
        .collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn a_look_into_a_text_is_found() {
    assert_eq!(looks("fn f(s: &str) -> bool {\n    s.contains(\"refuted\")\n}").len(), 1);
    assert_eq!(looks("let a = [1].contains(&1);\n#[cfg(test)]\nmod tests { \"a\".contains(\"a\"); }").len(), 0);
}
