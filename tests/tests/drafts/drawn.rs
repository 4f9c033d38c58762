//! Drafts of drawn boards, and of a folder of published ones, compiled and asked for.
//!
//! `cargo test --workspace --test checks drafts:: -- --ignored --nocapture` takes minutes; `GLUEWRIGHT_BOARDS` names a folder of
//! traces, `GLUEWRIGHT_COUNT` says how many are drawn.
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use gluewright::board::Reading;
use gluewright::draft::{Form, draft};
use gluewright_parts::ttl;
use gluewright_tests::boards::trace;
use gluewright_tests::gates::Numbers;

/// The newest library of this name beside this test.
fn library(deps: &Path, name: &str) -> PathBuf {
    let start = format!("lib{name}-");
    let all = std::fs::read_dir(deps).unwrap().map(|f| f.unwrap().path());
    let all = all.filter(|p| p.extension().is_some_and(|e| e == "rlib"));
    let all = all.filter(|p| p.file_name().is_some_and(|n| n.to_string_lossy().starts_with(&start)));
    all.max_by_key(|p| p.metadata().unwrap().modified().unwrap()).unwrap()
}

#[test]
#[ignore = "compiles hundreds of drafts: minutes"]
fn drawn_and_published_boards_prove_at_the_first_go() {
    let count: u64 = std::env::var("GLUEWRIGHT_COUNT").ok().and_then(|n| n.parse().ok()).unwrap_or(300);
    let folder = tempfile::tempdir().unwrap();
    let reading = Reading::new().others_stay().printed_supplies();
    let (mut source, mut asked, mut refused) = (String::new(), String::new(), Vec::new());
    let mut with_idioms = std::collections::BTreeSet::new();
    let mut modules = 0;
    let mut add = |name: String, trace: &str, seconds: u32| {
        let Ok(Ok(circuit)) = reading.csv(&name, trace, ttl()).map(|b| b.circuit()) else { return false };
        let mut form = Form::of_trace(&format!("{name}.csv"));
        form.name = "Card".to_owned();
        form.others_stay = true;
        form.printed_supplies = true;
        match draft(&circuit, &form) {
            Err(e) => refused.push(format!("{name}: {e}")),
            Ok(draft) => {
                std::fs::write(folder.path().join(format!("{name}.csv")), trace).unwrap();
                if draft.source.contains("use gluewright::idioms") {
                    with_idioms.insert(name.clone());
                }
                let module = draft.source.replace("//!", "//").replace("#[cfg(test)]", "#[cfg(any())]");
                std::fs::write(folder.path().join(format!("{name}.rs")), module).unwrap();
                let _ = writeln!(source, "mod {name};");
                let _ = writeln!(
                    asked,
                    "ask(\"{name}\", {name}::traced_card, |b| verdict(prove::<{name}::Card>().in_time(Duration::from_secs({seconds})).against(b).run()));"
                );
                modules += 1;
            }
        }
        true
    };
    for number in 0..count {
        let mut n = Numbers(number.wrapping_mul(1_000_003).wrapping_add(17));
        let packages = 3 + (number as usize * 7) % 18;
        for _ in 0..1000 {
            let most_bits = 3 + n.below(7);
            if add(format!("drawn_{number}"), &trace(&mut n, packages, most_bits), 10) {
                break;
            }
        }
    }
    if let Ok(boards) = std::env::var("GLUEWRIGHT_BOARDS") {
        let mut files: Vec<_> = std::fs::read_dir(boards).unwrap().map(|f| f.unwrap().path()).collect();
        files.sort();
        for path in files.iter().filter(|p| p.to_string_lossy().ends_with(".cut.csv")) {
            let name = path.file_name().unwrap().to_string_lossy().replace(['.', '-'], "_");
            let trace = std::fs::read_to_string(path).unwrap();
            if !add(name.clone(), &trace, 120) {
                println!("{name}: refused as a trace");
            }
        }
    }
    let main = format!(
        "#![allow(dead_code, unused)]\nuse gluewright::prelude::*;\nuse gluewright::board::Board;\nuse gluewright::prove::{{Proof, Question}};\n\
         use std::time::Duration;\n{source}\n\
         fn verdict(a: Result<Proof, Failure>) -> String {{ match a {{ Ok(_) => \"proved\".into(), Err(Failure::Refuted(_)) => \"refuted\".into(), \
         Err(Failure::Withheld(w)) => format!(\"withheld {{}}\", w.hidden.iter().map(|h| h.call.clone()).collect::<Vec<_>>().join(\"; \")), \
         Err(e) => format!(\"other {{}}\", e.to_string().lines().next().unwrap_or_default()) }} }}\n\
         fn itself(b: &Board) -> String {{ match b.circuit() {{ Err(e) => e.to_string(), \
         Ok(c) => verdict(Question::new(c.clone(), c).in_time(Duration::from_secs(10)).ask()) }} }}\n\
         fn ask<E: std::fmt::Display>(name: &str, b: impl Fn() -> Result<Board, E>, f: impl Fn(&Board) -> String) {{ \
         let b = match b() {{ Ok(b) => b, Err(e) => return println!(\"VERDICT {{name}} trace {{e}}\") }};\n\
         let v = f(&b); println!(\"VERDICT {{name}} {{v}}\");\n\
         if !v.starts_with(\"proved\") && !v.starts_with(\"withheld\") {{ println!(\"ITSELF {{name}} {{}}\", itself(&b)); }} }}\n\
         fn main() {{\n{asked}}}\n"
    );
    std::fs::write(folder.path().join("main.rs"), main).unwrap();
    let exe = std::env::current_exe().unwrap();
    let deps = exe.parent().unwrap();
    let program = folder.path().join("drafts");
    let compiled = Command::new("rustc")
        .current_dir(folder.path())
        .args(["--edition", "2024", "main.rs", "-o"])
        .arg(&program)
        .arg("-L")
        .arg(format!("dependency={}", deps.display()))
        .arg("--extern")
        .arg(format!("gluewright={}", library(deps, "gluewright").display()))
        .arg("--extern")
        .arg(format!("gluewright_parts={}", library(deps, "gluewright_parts").display()))
        .output()
        .unwrap();
    let errors = String::from_utf8_lossy(&compiled.stderr);
    assert!(compiled.status.success(), "{errors}");
    assert!(!errors.contains("warning"), "{errors}");
    let run = Command::new(&program).output().unwrap();
    let said = String::from_utf8_lossy(&run.stdout).into_owned();
    let verdicts: Vec<&str> = said.lines().filter_map(|l| l.strip_prefix("VERDICT ")).collect();
    // the name, the verdict, and what is said of it
    let count = |verdict: &str| verdicts.iter().filter(|v| v.split(' ').nth(1) == Some(verdict)).count();
    let (proved, withheld, refuted) = (count("proved"), count("withheld"), count("refuted"));
    let idioms = verdicts.iter().filter(|v| v.split(' ').next().is_some_and(|n| with_idioms.contains(n)));
    let mut of_idioms = std::collections::BTreeMap::<&str, usize>::new();
    for verdict in idioms.filter_map(|v| v.split(' ').nth(1)) {
        *of_idioms.entry(verdict).or_default() += 1;
    }
    // a board that swings, or races itself, is proved by nothing, not even beside itself
    let beside: Vec<&str> = said.lines().filter_map(|l| l.strip_prefix("ITSELF ")).collect();
    let sound = |v: &&&str| matches!(v.split(' ').nth(1), Some("proved" | "withheld"));
    let (own, boards) = (beside.iter().filter(sound).count(), beside.len());
    println!("{said}");
    refused.iter().for_each(|r| println!("no draft: {r}"));
    println!(
        "{modules} drafts: {proved} proved at the first go, {withheld} once what the board leaves open is acknowledged, \
         {refuted} refuted; {} without a draft; with idioms: {of_idioms:?}; of the {boards} boards whose draft is not proved {own} \
         are proved beside themselves",
        refused.len()
    );
    assert_eq!(verdicts.len(), modules);
    // drawn boards race and swing: a race that typical delays decide in the board is against its draft, which has none
    assert!(refuted * 20 <= modules, "{refuted} refuted");
    let can_be = modules - (boards - own);
    assert!((proved + withheld) * 100 >= can_be * 95, "{proved} and {withheld} of {can_be}");
}
