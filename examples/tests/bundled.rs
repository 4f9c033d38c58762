//! A bundle: everything that another keeper of the same board needs, in one archive; proved again by the checker from the archive
//! alone, and refused once the trace or a fuse in it is another one.
#![allow(clippy::expect_used, clippy::panic, clippy::indexing_slicing)] // a check stops at what it did not expect
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use gluewright_checker::folder::check;
use gluewright_checker::verdict::Verdict;
use sha2::{Digest, Sha256};

type Files = Vec<(String, Vec<u8>)>;

fn job(room: &Path, more: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_sample_card"));
    command.current_dir(room).args(["--without-vectors", "--out", "out", "--bundle", "card.tar"]).args(more);
    command.output().expect("it starts")
}

fn bundled(room: &Path, more: &[&str]) -> PathBuf {
    let output = job(room, more);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let told = String::from_utf8_lossy(&output.stdout);
    let archive = room.join("card.tar");
    assert!(told.contains(&format!("gluewright-checker -- {}", archive.display())), "{told}");
    archive
}

fn files(archive: &Path) -> Files {
    let mut archive = tar::Archive::new(fs::File::open(archive).expect("written"));
    let read = |entry: std::io::Result<tar::Entry<'_, fs::File>>| {
        let mut entry = entry.expect("whole");
        let name = entry.path().expect("a name").to_str().expect("text").to_owned();
        let mut bytes = Vec::new();
        entry.read_to_end(&mut bytes).expect("whole");
        (name, bytes)
    };
    archive.entries().expect("an archive").map(read).collect()
}

fn pack(archive: &Path, files: &Files) {
    let mut to = tar::Builder::new(fs::File::create(archive).expect("a file"));
    for (name, bytes) in files {
        let mut header = tar::Header::new_ustar();
        header.set_size(bytes.len() as u64);
        header.set_mode(0o644);
        to.append_data(&mut header, name, bytes.as_slice()).expect("packed");
    }
    to.into_inner().expect("packed");
}

fn of<'f>(files: &'f mut Files, name: &str) -> &'f mut Vec<u8> {
    let name = format!("sample_card/{name}");
    &mut files.iter_mut().find(|(n, _)| *n == name).expect("in the bundle").1
}

fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// The list and the certificate name the digests of the files as they are now.
fn tie(all: &mut Files) {
    let now: Vec<(String, String)> = all.iter().map(|(name, bytes)| (name.clone(), digest(bytes))).collect();
    for list in ["certificate.json", "bundle.json"] {
        let mut value: serde_json::Value = serde_json::from_slice(of(all, list)).expect("JSON");
        for file in value["files"].as_array_mut().expect("files") {
            let name = format!("sample_card/{}", file["name"].as_str().expect("a name"));
            let digest = match name.ends_with("/certificate.json") {
                true => digest(of(all, "certificate.json")),
                false => now.iter().find(|(n, _)| *n == name).expect("there").1.clone(),
            };
            file["sha256"] = digest.into();
        }
        *of(all, list) = value.to_string().into_bytes();
    }
}

fn changed(archive: &Path, name: &str, from: &str, to: &str, tied: bool) -> Verdict {
    let mut all = files(archive);
    let text = String::from_utf8(of(&mut all, name).clone()).expect("text");
    assert_eq!(text.matches(from).count(), 1, "{from}");
    *of(&mut all, name) = text.replace(from, to).into_bytes();
    if tied {
        tie(&mut all);
    }
    let other = archive.with_extension("changed.tar");
    pack(&other, &all);
    let verdict = check(&other);
    println!("{name}, tied {tied}: {:#?}", verdict.objections);
    verdict
}

#[test]
fn a_bundle_is_proved_again_from_the_archive_alone() {
    let room = tempfile::tempdir().expect("a folder");
    let archive = bundled(room.path(), &[]);
    fs::remove_dir_all(room.path().join("out")).expect("the folder");
    let verdict = check(&archive);
    assert!(verdict.stands(), "{verdict}");
    let mut all = files(&archive);
    assert_eq!(of(&mut all, "sample_card.rs").as_slice(), include_bytes!("../src/sample_card.rs"));
    let record: serde_json::Value = serde_json::from_slice(of(&mut all, "bundle.json")).expect("JSON");
    let date = record["date"].as_str().expect("a date");
    assert!(date.len() == 10 && date.as_bytes()[4] == b'-' && date.as_bytes()[7] == b'-', "ISO 8601: {date}");
    assert_eq!(record["devices"][0]["file"], "22v10.jed");
    assert!(record["devices"][0]["part"].is_null() && record["lacks"].as_array().is_some_and(|l| l.len() == 2));
    // packed again without a change it stands; so it is the change that the others are refused for
    pack(&archive, &all);
    assert!(check(&archive).stands());
}

#[test]
fn another_trace_or_another_fuse_is_refused() {
    let room = tempfile::tempdir().expect("a folder");
    let archive = bundled(room.path(), &[]);
    for tied in [false, true] {
        // two gauge lines exchanged in the trace
        let trace = changed(&archive, "trace.csv", "U1,74LS173,14,g0", "U1,74LS173,14,g1", tied);
        assert!(!trace.stands(), "{trace}");
        let source = changed(&archive, "sample_card.rs", "pin or not", "pin or none", tied);
        assert_eq!(source.stands(), tied, "the proof does not rest on the source, the digest is about it: {source}");
        let mut all = files(&archive);
        let text = String::from_utf8(of(&mut all, "22v10.jed").clone()).expect("text");
        let read = gluewright::fusefile::read("22v10.jed", text.as_bytes()).expect("a fuse file").0;
        // a link of the first product term that has a few: without it the term is true more often
        let links = |row: usize| (row * 44..row * 44 + 44).filter(|f| read.fuses.get(*f) == Some(false));
        let row = (1..132).find(|row| (2..8).contains(&links(*row).count())).expect("a term in use");
        let fuse = links(row).next().expect("a link");
        let mut file = read;
        file.fuses.set(fuse, true);
        *of(&mut all, "22v10.jed") = gluewright::fusefile::write(&file);
        if tied {
            tie(&mut all);
        }
        let other = archive.with_extension("changed.tar");
        pack(&other, &all);
        let verdict = check(&other);
        println!("fuse {fuse}, tied {tied}: {:#?}", verdict.objections);
        assert!(!verdict.stands(), "{verdict}");
    }
}

#[test]
fn the_form_of_the_bench_goes_into_the_bundle() {
    let room = tempfile::tempdir().expect("a folder");
    bundled(room.path(), &[]);
    let form = fs::read_to_string(room.path().join("out/sample_card/bring_up.csv")).expect("written");
    println!("{form}");
    let filled: Vec<String> = form
        .lines()
        .map(|line| match line {
            l if l.contains("without the device\",") && l.contains(",V,") && l.starts_with("3,") => {
                l.replace(",V,", ",V,5.02")
            }
            l if l.contains("level, driven low") => l.replace(",V,", ",V,0.7"),
            l => l.to_owned(),
        })
        .collect();
    let path = room.path().join("filled.csv");
    fs::write(&path, filled.join("\n")).expect("written");
    let archive = bundled(room.path(), &["--measured", "filled.csv"]);
    let mut all = files(&archive);
    let record: serde_json::Value = serde_json::from_slice(of(&mut all, "bundle.json")).expect("JSON");
    let outside = record["measured"]["outside"].as_array().expect("readings").len();
    assert!(outside > 0 && record["measured"]["filled"] == outside + 1, "0.7 V is no low of an output: {record}");
    assert_eq!(of(&mut all, "measured.csv").as_slice(), filled.join("\n").as_bytes());
    assert!(check(&archive).stands());
    // a form of another job, and one with a word for a reading
    let mut other = filled.clone();
    other.remove(2);
    let word = filled.join("\n").replace(",V,5.02", ",V,good");
    for (wrong, words) in [(other.join("\n"), "filled.csv:3"), (word, "is no number")] {
        fs::write(&path, wrong).expect("written");
        let output = job(room.path(), &["--measured", "filled.csv"]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.code() == Some(2) && said.contains(words), "{said}");
    }
}

/// What can't be written whole leaves nothing behind, neither a folder without its bundle nor a bundle without its folder.
#[test]
fn a_folder_that_can_not_be_written_leaves_no_bundle() {
    let room = tempfile::tempdir().expect("a folder");
    let (blocked, archive) = (room.path().join("blocked"), room.path().join("card.tar"));
    std::fs::write(&blocked, "a file where a folder must stand").expect("written");
    let status = std::process::Command::new(env!("CARGO_BIN_EXE_sample_card"))
        .arg("--without-vectors")
        .args([std::path::Path::new("--out"), &blocked, std::path::Path::new("--bundle"), &archive])
        .status()
        .expect("it starts");
    assert_eq!((status.code(), archive.exists()), (Some(2), false));
    assert_eq!(std::fs::read_dir(room.path()).expect("there").count(), 1);
}
