//! Whatever interrupts a job, its folder is the old one or the new one, whole.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
#![cfg(unix)]
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_sample_card");

type Files = BTreeMap<String, Vec<u8>>;

fn files(folder: &Path) -> Files {
    let entries = fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry"));
    entries.map(|e| (e.file_name().to_string_lossy().into_owned(), fs::read(e.path()).expect("readable"))).collect()
}

fn run(out: &Path, arguments: &[&str]) -> Files {
    let output = Command::new(PROGRAM).args(arguments).arg("--out").arg(out).output().expect("it starts");
    assert!(output.status.success(), "{output:?}");
    files(&out.join("sample_card"))
}

/// A limit on the size of files stands for a full disk: with the signal ignored a write fails, without it kills.
#[test]
fn a_disk_that_fills_up_leaves_the_old_folder() {
    let room = tempfile::tempdir().expect("a folder");
    let before = run(room.path(), &["--without-vectors"]);
    for trap in ["trap '' XFSZ; ", ""] {
        let script = format!("{trap}ulimit -c 0; ulimit -f 8; exec \"$0\" --out \"$1\"");
        let output = Command::new("sh").args(["-c", &script, PROGRAM]).arg(room.path()).output().expect("it starts");
        assert!(!output.status.success(), "the limit is too high to be met");
        if !trap.is_empty() {
            let told = String::from_utf8_lossy(&output.stderr).into_owned();
            assert!(told.contains("can't write") && told.contains("nothing was changed"), "{told}");
            assert_eq!(output.status.code(), Some(2), "{told}");
            assert_eq!(fs::read_dir(room.path()).expect("a folder").count(), 1, "nothing is left beside it");
        }
        assert_eq!(files(&room.path().join("sample_card")), before);
    }
}

#[test]
fn a_folder_that_cannot_be_made_is_an_error() {
    let room = tempfile::tempdir().expect("a folder");
    let taken = room.path().join("file");
    fs::write(&taken, "a file, no folder").expect("written");
    let output = Command::new(PROGRAM).arg("--without-vectors").arg("--out").arg(&taken).output().expect("it starts");
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert_eq!(fs::read_to_string(&taken).expect("readable"), "a file, no folder");
    // a folder that nobody may write to; for the superuser there is none
    let closed = room.path().join("closed");
    fs::create_dir(&closed).expect("made");
    let mode = |bits| fs::set_permissions(&closed, std::os::unix::fs::PermissionsExt::from_mode(bits));
    mode(0o555).expect("set");
    let may_write = fs::write(closed.join("probe"), "").is_ok();
    let output = Command::new(PROGRAM).arg("--without-vectors").arg("--out").arg(&closed).output().expect("it starts");
    assert_eq!(output.status.code(), Some(if may_write { 0 } else { 2 }), "{output:?}");
    mode(0o755).expect("set");
}

#[test]
fn an_interrupt_at_any_moment_leaves_a_whole_folder() {
    let room = tempfile::tempdir().expect("a folder");
    let began = Instant::now();
    let whole = run(room.path(), &["--without-vectors"]);
    let lasts = began.elapsed();
    // the old folder has one file more, so that the two can be told apart
    let marked = room.path().join("sample_card/old.txt");
    let mut kinds = [0, 0];
    for moment in 0..12u32 {
        fs::write(&marked, "old").expect("written");
        let mut child = Command::new(PROGRAM)
            .arg("--without-vectors")
            .arg("--out")
            .arg(room.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("it starts");
        std::thread::sleep(lasts.mul_f64(0.5 + f64::from(moment) * 0.05).max(Duration::from_millis(1)));
        let pid = child.id().to_string();
        // it may have ended by itself
        let _ = Command::new("kill").args(["-INT", &pid]).stderr(Stdio::null()).status();
        child.wait().expect("it ends");
        let mut found = files(&room.path().join("sample_card"));
        let old = found.remove("old.txt").is_some();
        kinds[usize::from(old)] += 1;
        assert!(found == whole, "moment {moment}: not whole, {:?}", found.keys());
    }
    println!("new folders {}, old folders {}", kinds[0], kinds[1]);
}
