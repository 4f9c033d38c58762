//! How long a whole job takes, from source to written and re-proved files, beside its proofs; and a survey, beside plain
//! ways to come by what it says.
//!
//! `cargo bench -p gluewright-examples --bench job`
#![allow(clippy::expect_used)] // a bench stops at what it did not expect
use std::time::{Duration, Instant};

use gluewright::board::Board;
use gluewright::choose::keeping;
use gluewright::drawer::Drawer;
use gluewright::fit::{Wishes, fit};
use gluewright::job::{Job, Made};
use gluewright::signals::Wiring;
use gluewright_examples::{loom_bridge, organ_memory, organ_pistons, sample_card};

/// Runs of each; the fastest counts.
const RUNS: usize = 5;

fn best(mut run: impl FnMut() -> (Duration, Duration)) -> (Duration, Duration) {
    (0..RUNS).map(|_| run()).min_by_key(|(whole, proofs)| *whole - *proofs).unwrap_or_default()
}

fn line(what: &str, (whole, proofs): (Duration, Duration)) {
    let ms = |d: Duration| d.as_secs_f64() * 1e3;
    println!("{what:44} {:9.1} {:9.1} {:9.1}", ms(whole), ms(proofs), ms(whole.saturating_sub(proofs)));
}

fn ratio(what: &str, plain: Duration, survey: Duration) {
    let times = plain.as_secs_f64() / survey.as_secs_f64();
    println!("  {what:42} {:9.1} {times:9.1} times the survey", plain.as_secs_f64() * 1e3);
}

/// The packages that stay so that one device holds the rest, as the survey finds them, by fitting every set in full: no
/// count of pins first, no set left out because a better one was found.
fn every_set_in_full(board: &Board, most: usize) -> Option<(usize, usize, usize)> {
    let references: Vec<String> = board.chips().map(|(reference, _)| reference.to_owned()).collect();
    let mut best: Option<(usize, usize, usize)> = None;
    for set in 1..1u32 << references.len() {
        if set.count_ones() as usize > most {
            continue;
        }
        let kept: Vec<&String> =
            references.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1).map(|(_, r)| r).collect();
        let Ok(remainder) = board.keeping(&kept) else { continue };
        for device in gluewright::device::all().iter().filter(|d| d.blocks.is_none() && d.replacement.is_none()) {
            if fit(&remainder.rest, device, &Wishes::none()).is_ok() {
                let worth = (kept.len(), device.pins.len(), remainder.rest.contacts().len());
                best = Some(best.map_or(worth, |b| b.min(worth)));
            }
        }
    }
    best
}

fn proofs(made: &Made) -> Duration {
    made.source.iter().chain([&made.written]).map(|proof| proof.figures.time).sum()
}

fn whole<C: Wiring>(name: &str, device: &str, job: impl Fn() -> Job<C>) {
    let room = tempfile::tempdir().expect("a folder");
    let times = best(|| {
        let began = Instant::now();
        let made = job().fitting(device).make().expect("done");
        made.write(&room.path().join(&made.circuit)).expect("written");
        (began.elapsed(), proofs(&made))
    });
    line(&format!("{name} in a {device}"), times);
    let without = best(|| {
        let began = Instant::now();
        let made = job().testing(None).fitting(device).make().expect("done");
        made.write(&room.path().join(&made.circuit)).expect("written");
        (began.elapsed(), proofs(&made))
    });
    let vectors = times.0.saturating_sub(without.0);
    let share = vectors.as_secs_f64() / without.0.as_secs_f64();
    println!(
        "  {:42} {:9.1} {share:9.2} times all the rest",
        "its search for test vectors",
        vectors.as_secs_f64() * 1e3
    );
    let times = best(|| {
        let began = Instant::now();
        job().survey(&Drawer::generic()).expect("surveyed");
        (began.elapsed(), Duration::ZERO)
    });
    line(&format!("{name}: survey of every known type"), times);
    let survey = times.0;
    let began = Instant::now();
    let held: Vec<&str> = gluewright::device::all()
        .iter()
        .map(|d| d.name)
        .filter(|device| job().testing(None).fitting(*device).make().is_ok())
        .collect();
    let tried = began.elapsed();
    ratio("the whole job tried with every type instead", tried, survey);
    let found = job().survey(&Drawer::generic()).expect("surveyed");
    assert!(held.iter().all(|device| found.rows.iter().any(|r| r.device == *device && r.fits())));
}

fn main() {
    println!("{:44} {:>9} {:>9} {:>9}", "ms, fastest of 5", "whole", "proofs", "the rest");
    whole("sample_card", "22V10", || gluewright::job::<sample_card::SampleCard>(sample_card::lost_card()));
    whole("organ_memory", "16V8", || gluewright::job::<organ_memory::OrganMemory>(organ_memory::lost_card()));
    whole("organ_pistons", "16V8", || {
        gluewright::job::<organ_pistons::OrganPistons>(organ_pistons::lost_card())
            .assuming(organ_pistons::breaks_before_it_makes)
    });
    let bridge = || {
        gluewright::job::<loom_bridge::LoomBridge>(loom_bridge::lost_bridge())
            .acknowledging("clash_n")
            .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
            .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
            .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
            .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes")
    };
    whole("loom_bridge", "CPLD-32", bridge);
    let (board, drawer) = (loom_bridge::lost_bridge().expect("sound"), Drawer::generic());
    let times = best(|| {
        let began = Instant::now();
        keeping(&board, &drawer, &Wishes::none()).expect("found");
        (began.elapsed(), Duration::ZERO)
    });
    line("loom_bridge: which packages to leave in place", times);
    let found = keeping(&board, &drawer, &Wishes::none()).expect("found");
    let began = Instant::now();
    let plain = every_set_in_full(&board, found.kept.len());
    ratio("every set of packages fitted in full instead", began.elapsed(), times.0);
    let pins = gluewright::device::find(found.device).map(|d| d.pins.len());
    assert_eq!(plain.map(|(kept, pins, wires)| (kept, Some(pins), wires)), Some((found.kept.len(), pins, found.wires)));
    let room = tempfile::tempdir().expect("a folder");
    let times = best(|| {
        let began = Instant::now();
        let made = bridge().split_over("22V10").make().expect("done");
        made.write(&room.path().join(&made.circuit)).expect("written");
        (began.elapsed(), proofs(&made))
    });
    line("loom_bridge split over four 22V10", times);
    let times = best(|| {
        let began = Instant::now();
        let made = bridge().keeping(["U1", "U2"]).fitting("22V10").make().expect("done");
        made.write(&room.path().join(&made.circuit)).expect("written");
        (began.elapsed(), proofs(&made))
    });
    line("loom_bridge keeping U1 and U2, one 22V10", times);
}
