//! Whatever interrupts a job, its folder is the old one or the new one, whole.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
#![cfg(unix)]
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, SystemTime};

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
        let script = format!("{trap}ulimit -c 0; ulimit -f 8; exec \"$0\" --without-vectors --out \"$1\"");
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

/// The folders that are being filled beside the finished one, with what they are called.
fn unfinished(room: &Path) -> BTreeMap<String, usize> {
    let entries = fs::read_dir(room).expect("a folder").map(|e| e.expect("an entry"));
    let named = entries.map(|e| (e.file_name().to_string_lossy().into_owned(), e.path()));
    let begun = named.filter(|(name, _)| name.starts_with(".sample_card.writing-"));
    // it may go while it is looked at
    begun.map(|(name, path)| (name, fs::read_dir(path).map_or(0, Iterator::count))).collect()
}

/// The signal comes as soon as the new folder has so many files; what is then found is the old folder or the new one.
#[test]
#[cfg(target_os = "linux")]
fn an_interrupt_while_files_are_written_leaves_a_whole_folder() {
    let room = tempfile::tempdir().expect("a folder");
    let whole = run(room.path(), &["--without-vectors"]);
    // the old folder has one file more, so that the two can be told apart
    let marked = room.path().join("sample_card/old.txt");
    let (mut new, mut old) = (0, 0);
    let signals = [("INT", 0), ("KILL", 1), ("INT", 3), ("KILL", 6), ("TERM", whole.len())];
    // on a busy machine a run may be over before its signal comes: then once more
    for (round, (signal, files_first)) in signals.into_iter().cycle().take(40 * signals.len()).enumerate() {
        if round >= signals.len() && old > 0 {
            break;
        }
        fs::write(&marked, "old").expect("written");
        let before = unfinished(room.path());
        // a test that runs in the background may pass on an ignored interrupt
        let mut child = Command::new("env")
            .args(["--default-signal=INT,TERM", PROGRAM, "--without-vectors", "--out"])
            .arg(room.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("it starts");
        let is_time =
            || unfinished(room.path()).iter().any(|(n, files)| !before.contains_key(n) && *files >= files_first);
        while child.try_wait().expect("a child").is_none() && !is_time() {
            std::thread::sleep(Duration::from_micros(100));
        }
        // the shell's own `kill`: a bare machine has no program of that name; it fails where the run has ended by itself
        let pid = child.id().to_string();
        let mut shell = Command::new("sh");
        shell.args(["-c", "kill -s \"$0\" \"$1\"", signal, &pid]).stderr(Stdio::null()).status().expect("a shell");
        child.wait().expect("it ends");
        let mut found = files(&room.path().join("sample_card"));
        if found.remove("old.txt").is_some() {
            old += 1
        } else {
            new += 1
        }
        assert!(found == whole, "{signal} at {files_first} files: not whole, {:?}", found.keys());
    }
    println!("old folders {old}, new folders {new}");
    assert!(old > 0, "no run was interrupted");

    // what was left behind goes once it is old; what is fresh may belong to another run
    let left = unfinished(room.path());
    for name in left.keys() {
        let folder = fs::File::open(room.path().join(name)).expect("a folder");
        folder.set_modified(SystemTime::now() - Duration::from_secs(2 * 60 * 60)).expect("set");
    }
    fs::create_dir(room.path().join(".sample_card.writing-fresh")).expect("made");
    assert!(run(room.path(), &["--without-vectors"]) == whole);
    assert_eq!(unfinished(room.path()).into_keys().collect::<Vec<_>>(), [".sample_card.writing-fresh"]);
}
