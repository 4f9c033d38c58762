//! Vectors on chips by hand: they hold in every order of switching and from every power-up, and a burned chip with a
//! fuse that they claim to find fails them.
use gluewright::device::{Device, Plan, find};
use gluewright::fusefile::{FuseFile, write};
use gluewright::vectors::{Strength, Vectors};

use super::chip::{Drawn, Kind, run};
use super::plans;
use super::reader::read;

fn kind(device: &Device, fuses: &[bool]) -> Option<Kind> {
    if device.name == "22V10" { Some(Kind::of_22v10(fuses)) } else { Kind::of_16v8(fuses) }
}

/// Writes the plan with its vectors, reads the file as a programmer would, and runs it.
fn check(name: &str, (device, plan): (&'static Device, Plan), strength: Strength, every: usize) -> Vectors {
    let fuses = device.encode(&plan).unwrap();
    let vectors = Vectors::new(device, &fuses, strength).unwrap();
    println!("{name}: {} vectors, {}", vectors.list.len(), vectors.coverage);
    let mut file = FuseFile { fuses, lines: device.lines(), ..FuseFile::default() };
    vectors.put_into(&mut file, &device.packages[0]);
    let plain = read(&write(&file)).unwrap();
    assert_eq!(plain.vectors.len(), vectors.list.len());
    let list: Vec<&str> = plain.vectors.values().map(String::as_str).collect();
    if strength == Strength::Levels {
        assert!(list.iter().all(|v| !v.contains('Z')));
    }
    let good = kind(device, &plain.fuses).unwrap();
    let mut drawn = Drawn(0x1984);
    for _ in 0..6 {
        run(&good, &list, None, &mut drawn).unwrap_or_else(|e| panic!("{name}: {e}\n{}", list.join("\n")));
    }
    let flipped = |fuse: usize| {
        let mut fuses = plain.fuses.clone();
        fuses[fuse] = !fuses[fuse];
        kind(device, &fuses)
    };
    for &fuse in vectors.coverage.found.iter().step_by(every) {
        let bad = flipped(fuse).unwrap();
        for open in [false, true] {
            assert!(run(&bad, &list, Some(open), &mut drawn).is_err(), "{name}: fuse {fuse} is not found");
        }
    }
    let silent = vectors.coverage.silent.iter().step_by(every * 16).chain(&vectors.coverage.harmless);
    for &fuse in silent {
        if let Some(same) = flipped(fuse) {
            run(&same, &list, None, &mut drawn).unwrap_or_else(|e| panic!("{name}: fuse {fuse} is not silent: {e}"));
        }
    }
    vectors
}

#[test]
fn vectors_of_a_counter_a_latch_and_a_bus_hold_and_find() {
    let vectors = check("mixed 22V10", plans::mixed_22v10(), Strength::Floating, 12);
    assert_eq!(vectors.coverage.undecided(), 0, "every vector was tried for the others");
    assert!(vectors.coverage.share() > 0.93, "{}", vectors.coverage);
}

#[test]
fn vectors_without_tests_for_floating_pins_hold_and_find() {
    check("mixed 22V10, levels only", plans::mixed_22v10(), Strength::Levels, 20);
}

#[test]
fn vectors_of_a_registered_16v8_hold_and_find() {
    let vectors = check("counter 16V8", plans::counter_16v8(), Strength::Floating, 12);
    assert_eq!(vectors.coverage.undecided(), 0, "every vector was tried for the others");
    assert!(vectors.coverage.share() > 0.95, "{}", vectors.coverage);
}

#[test]
fn vectors_of_a_decoder_hold_and_find() {
    let vectors = check("decoder 16V8", plans::decoder_16v8(), Strength::Floating, 12);
    assert_eq!(vectors.coverage.undecided(), 0, "every vector was tried for the others");
    // an output that is low at one address only can't be low while an enable that reads that address wrongly is off
    assert!(vectors.coverage.share() > 0.85, "{}", vectors.coverage);
}

#[test]
fn vectors_of_drawn_devices_hold_and_find() {
    let mut drawn = Drawn(0x2718);
    for round in 0..2 {
        let device = find(["22V10", "16V8"][round % 2]).unwrap();
        let plan = plans::drawn(device, &mut drawn);
        check(&format!("drawn {round} {}", device.name), (device, plan), Strength::Floating, 60);
    }
}
