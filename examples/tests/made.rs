//! A job as values: silent, with every check of the written job, on devices of one's own too; and the folder written from
//! them whole or not at all.
#![allow(clippy::expect_used, clippy::indexing_slicing)] // a check stops at what it did not expect
use std::error::Error;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::{LazyLock, Mutex, MutexGuard, PoisonError};

use gluewright::board::{Board, TraceError};
use gluewright::device::{Device, find};
use gluewright::drawer::Drawer;
use gluewright::fusefile;
use gluewright::job::{Job, JobError, Made, Of};
use gluewright::prelude::*;
use gluewright::prove::{Against, Claim};
use gluewright_examples::loom_bridge::{LoomBridge, lost_bridge};
use gluewright_examples::sample_card::{SampleCard, lost_card};

fn job() -> Job<SampleCard> {
    gluewright::job::<SampleCard>(lost_card()).with_source(include_str!("../src/sample_card.rs"))
}

/// The sample card on its usual device, made once for all that look at it.
fn usual() -> MutexGuard<'static, Made> {
    static MADE: LazyLock<Mutex<Made>> = LazyLock::new(|| Mutex::new(job().testing(None).make().expect("sound")));
    MADE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Everything that lies in a folder.
fn lies_in(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let entries = fs::read_dir(folder).expect("written").map(|e| e.expect("readable").path());
    let name = |p: &Path| p.file_name().expect("a name").to_string_lossy().into_owned();
    let mut all: Vec<_> = entries.map(|p| (name(&p), fs::read(&p).expect("readable"))).collect();
    all.sort();
    all
}

#[test]
fn the_values_are_what_the_program_writes() {
    let room = tempfile::tempdir().expect("a folder");
    let program = |program: &str, arguments: &[&str]| {
        let status = Command::new(program).args(arguments).arg("--json").arg("--out").arg(room.path()).output();
        assert!(status.expect("it starts").status.success());
    };
    let sorted = |made: &Made| {
        let mut files = made.files.clone();
        files.sort();
        files
    };
    program(env!("CARGO_BIN_EXE_sample_card"), &["--without-vectors"]);
    let made = usual();
    assert_eq!(sorted(&made), lies_in(&room.path().join("sample_card")));
    // fuses and checksum are those of the file
    let device = made.alone().expect("one device");
    let (read, _) = fusefile::read("22v10.jed", made.file("22v10.jed").expect("made")).expect("well-formed");
    assert_eq!((device.fuses.as_ref(), device.checksum()), (Some(&read.fuses), Some(read.fuses.checksum())));
    assert!(made.source.as_ref().is_some_and(|p| p.is_whole()) && made.written.is_whole());
    assert_eq!(device.equations().len(), device.fitted.cells.len());

    let bridge = || {
        let job = gluewright::job::<LoomBridge>(lost_bridge()).with_source(include_str!("../src/loom_bridge.rs"));
        let job = job.acknowledging("clash_n").testing(None);
        job.acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
            .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
            .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
            .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes")
    };
    program(env!("CARGO_BIN_EXE_loom_bridge"), &["--without-vectors", "--keep", "U1,U2", "--device", "22V10"]);
    let kept = bridge().keeping(["U1", "U2"]).fitting("22V10").make().expect("one device holds the rest");
    assert_eq!(sorted(&kept), lies_in(&room.path().join("loom_bridge")));
    assert_eq!((kept.kept().len(), kept.source.is_none(), kept.alone().is_none()), (2, true, true));
}

/// A 22V10 under another name, and one that lacks two of its macrocells though it bears the name of the whole one.
#[test]
fn a_device_of_ones_own_is_taken_by_its_description() {
    let mut mine: Device = find("22V10").expect("known").clone();
    mine.name = "W22";
    let made = job().testing(None).fitting(&mine).make().expect("it is a 22V10");
    let device = made.alone().expect("one device");
    assert_eq!((&*device.device, device.file.as_str()), (&mine, "w22.jed"));
    assert_eq!(device.checksum(), usual().alone().and_then(|d| d.checksum()));

    mine.name = "22V10";
    mine.modes[0].macrocells.truncate(8);
    let error = job().testing(None).fitting(mine).make().expect_err("ten macrocells are needed");
    assert!(matches!(error, JobError::NoFit { .. }), "{error}");
}

#[test]
fn a_refuted_source_makes_nothing() {
    let trace = include_str!("../src/sample_card.csv");
    let crossed = trace.replace("U1,74LS173,14,g0", "U1,74LS173,14,g1").replace("U1,74LS173,13,g1", "U1,74LS173,13,g0");
    let card = Board::from_csv("crossed.csv", crossed, gluewright_parts::ttl());
    let error = gluewright::job::<SampleCard>(card).make().expect_err("the bits are crossed");
    assert!(matches!(error, JobError::Proof { of: Of::Source, failure: Failure::Refuted(_) }), "{error}");
    assert_eq!(error.status(), 1);
}

#[test]
fn writing_is_a_step_of_its_own_whole_or_not_at_all() {
    let room = tempfile::tempdir().expect("a folder");
    let made = usual();
    assert_eq!(fs::read_dir(room.path()).expect("readable").count(), 0);
    let folder = room.path().join("card");
    made.write(&folder).expect("written");
    let mut files = made.files.clone();
    files.sort();
    assert_eq!(lies_in(&folder), files);
    let taken = room.path().join("taken");
    fs::write(&taken, "a file, no folder").expect("written");
    let error = made.write(&taken.join("card")).expect_err("no folder can be there");
    assert!(error.source().is_some_and(|e| e.is::<std::io::Error>()), "{error}");
    assert_eq!(fs::read_to_string(&taken).expect("still there"), "a file, no folder");
}

fn moves_between_threads<T: Send>() {}

fn is_shared_and_kept<T: Error + Send + Sync + 'static>() {}

/// It compiles, or it doesn't.
#[test]
fn what_a_program_holds_moves_between_threads() {
    moves_between_threads::<Claim<SampleCard>>();
    moves_between_threads::<Against<'static, SampleCard, Board>>();
    moves_between_threads::<Job<SampleCard>>();
    moves_between_threads::<Made>();
    is_shared_and_kept::<JobError>();
    is_shared_and_kept::<Failure>();
    is_shared_and_kept::<TraceError>();
    is_shared_and_kept::<gluewright::BuildError>();
    is_shared_and_kept::<gluewright::fit::NoFit>();
    is_shared_and_kept::<gluewright::device::DeviceError>();
    is_shared_and_kept::<gluewright::fusefile::FuseFileError>();
    is_shared_and_kept::<gluewright::drawer::DrawerError>();
    is_shared_and_kept::<gluewright::choose::NoSplit>();
    is_shared_and_kept::<gluewright::capture::CaptureError>();
    let job = job().testing(None);
    let survey = std::thread::spawn(move || job.survey(&Drawer::generic()).map(|survey| survey.rows.len()));
    let survey = survey.join().expect("it ends");
    assert!(survey.is_ok_and(|rows| rows > 0));
}
