//! How long a whole job takes, from source to written and re-proved files, beside its proofs; and a survey.
//!
//! `cargo bench -p gluewright-examples --bench job`
#![allow(clippy::expect_used)] // a bench stops at what it did not expect
use std::time::{Duration, Instant};

use gluewright::drawer::Drawer;
use gluewright::job::Job;
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

fn whole<C: Wiring>(name: &str, device: &str, job: impl Fn() -> Job<C>) {
    let room = tempfile::tempdir().expect("a folder");
    let times = best(|| {
        let began = Instant::now();
        let done = job().act(device, room.path()).expect("done");
        (began.elapsed(), done.source.figures.time + done.fuses.figures.time)
    });
    line(&format!("{name} in a {device}"), times);
    let times = best(|| {
        let began = Instant::now();
        job().survey(&Drawer::generic()).expect("surveyed");
        (began.elapsed(), Duration::ZERO)
    });
    line(&format!("{name}: survey of every known type"), times);
}

fn main() {
    println!("{:44} {:>9} {:>9} {:>9}", "ms, fastest of 5", "whole", "proofs", "the rest");
    whole("sample_card", "22V10", || gluewright::job::<sample_card::SampleCard>(sample_card::lost_card()));
    whole("organ_memory", "16V8", || gluewright::job::<organ_memory::OrganMemory>(organ_memory::lost_card()));
    whole("organ_pistons", "16V8", || {
        gluewright::job::<organ_pistons::OrganPistons>(organ_pistons::lost_card())
            .assuming(organ_pistons::breaks_before_it_makes)
    });
    let bridge = || gluewright::job::<loom_bridge::LoomBridge>(loom_bridge::lost_bridge()).acknowledging("clash_n");
    whole("loom_bridge", "CPLD-32", bridge);
    let room = tempfile::tempdir().expect("a folder");
    let times = best(|| {
        let began = Instant::now();
        let done = bridge().act_split(Some("22V10"), &Drawer::generic(), room.path()).expect("done");
        let source = done.source.as_ref().map_or(Duration::ZERO, |p| p.figures.time);
        (began.elapsed(), source + done.fuses.figures.time)
    });
    line("loom_bridge split over four 22V10", times);
    let times = best(|| {
        let began = Instant::now();
        let kept = ["U1".to_owned(), "U2".to_owned()];
        let done = bridge().act_keep(&kept, "22V10", room.path()).expect("done");
        (began.elapsed(), done.fuses.figures.time)
    });
    line("loom_bridge keeping U1 and U2, one 22V10", times);
}
