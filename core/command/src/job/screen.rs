//! What a finished job prints for a person.
use std::fmt::Write;
use std::path::Path;

use gluewright_kernel::prove::Proof;

use super::bench;
use super::made::{Burned, Division, Made};

/// All of it, as it was written into this folder.
pub(super) fn made(made: &Made, folder: &Path) -> String {
    let mut s = String::new();
    if let Some(source) = &made.source {
        let _ = writeln!(s, "{source}\n");
    }
    match made.alone() {
        Some(device) => one(&mut s, made, device),
        None => several(&mut s, made),
    }
    let _ = write!(s, "{}", bench::times_summary(&made.times));
    let _ = writeln!(s, "{}", bench::currents_summary(&made.currents, &made.sampled));
    end(&mut s, made, folder);
    s
}

/// What is said of a bundle.
pub(super) fn bundled(archive: &Path) -> String {
    let archive = archive.display();
    format!("Bundled in {archive}; whoever gets it proves it again: cargo run -p gluewright-checker -- {archive}\n")
}

fn ms(proof: &Proof) -> f64 {
    proof.figures.time.as_secs_f64() * 1e3
}

/// A device's type, and the part of the drawer that it is.
pub(super) fn type_of(device: &Burned) -> String {
    match &device.device.part {
        Some(part) => format!("{} ({part})", device.fitted.device),
        None => device.fitted.device.to_string(),
    }
}

/// One device for the whole card.
fn one(s: &mut String, made: &Made, device: &Burned) {
    let f = &device.fitted;
    let _ = writeln!(
        s,
        "Fitted: a {} holds `{}` in {} macrocells with {} product terms.\n",
        type_of(device),
        f.circuit,
        f.cells.len(),
        f.term_count()
    );
    if !f.plan.signature.is_empty() {
        let _ = writeln!(s, "  user signature `{}`", super::burning::signature(&f.plan.signature));
    }
    for note in &f.notes {
        let _ = writeln!(s, "  {note}");
    }
    let _ = writeln!(s, "Proved again from the emitted {} as written, in {:.1} ms.\n", device.kind, ms(&made.written));
    if f.for_fitter {
        s.push_str(&for_fitter(device));
    }
    for finding in &made.written.findings {
        let _ = writeln!(s, "  finding: {finding}");
    }
    if let Some(vectors) = &device.vectors {
        let _ = writeln!(
            s,
            "Test vectors for the device programmer: {}; {}{}.\n",
            vectors.list.len(),
            vectors.coverage.brief(),
            if vectors.coverage.missed.is_empty() { "" } else { ": missed.csv has them all" }
        );
    }
}

/// Several packages.
fn several(s: &mut String, made: &Made) {
    if !made.kept().is_empty() {
        let list =
            |of: &[(String, String)]| of.iter().map(|(r, p)| format!("{r} ({p})")).collect::<Vec<_>>().join(", ");
        let _ = writeln!(s, "Stays in place: {}. Replaced: {}.\n", list(made.kept()), list(made.replaced()));
    }
    if let Some(split) = made.split() {
        divided(s, made.devices.len(), split);
    }
    for b in &made.devices {
        let f = &b.fitted;
        let _ = writeln!(
            s,
            "{}: a {} with {} macrocells and {} product terms, made from {}{}.",
            b.reference,
            type_of(b),
            f.cells.len(),
            f.term_count(),
            b.file,
            b.checksum().map_or_else(String::new, |sum| format!(" (fuse checksum {sum:04X})"))
        );
        for note in &f.notes {
            let _ = writeln!(s, "  {note}");
        }
        if let Some(vectors) = &b.vectors {
            let _ = writeln!(s, "  test vectors: {}; {}", vectors.list.len(), vectors.coverage.brief());
        }
        if f.for_fitter {
            s.push_str(&for_fitter(b));
        }
    }
    let _ =
        writeln!(s, "\nProved as one circuit, files as written, in {:.1} ms:\n{}\n", ms(&made.written), made.written);
}

/// How the circuit was split.
fn divided(s: &mut String, devices: usize, split: &Division) {
    let known = |fewest: bool| if fewest { "the fewest possible" } else { "fewer were not found, nor ruled out" };
    let _ = writeln!(
        s,
        "Split over {devices} devices ({}), {} wires between them ({}).",
        known(split.fewest_devices),
        split.wires,
        known(split.fewest_wires)
    );
    for wire in &split.between {
        let _ = writeln!(s, "  {} carries {} from {} to {}", wire.label, wire.signal, wire.from, wire.to.join(", "));
    }
    let _ = writeln!(s);
}

/// What every job says last.
fn end(s: &mut String, made: &Made, folder: &Path) {
    if let Some(coverage) = &made.probing.coverage {
        let _ = writeln!(s, "The probing sheet: {}", coverage.words());
        if !coverage.missed.is_empty() {
            let _ = writeln!(
                s,
                "  {} are found by no step: the report lists them with a cold check.",
                coverage.missed.len()
            );
        }
        let _ = writeln!(s);
    }
    if !made.findings.is_empty() {
        let _ = writeln!(s, "What the trace leaves open (also in proof.json):");
        for finding in &made.findings {
            let _ = writeln!(s, "  {finding}");
        }
        let _ = writeln!(s);
    }
    let files: Vec<&str> = made.files.iter().map(|(name, _)| name.as_str()).collect();
    let _ = writeln!(s, "Written to {}: {}", folder.display(), files.join(", "));
    let _ = writeln!(
        s,
        "A checker of other descent takes the certificate apart: cargo run -p gluewright-checker -- {}",
        folder.display()
    );
    let _ = writeln!(
        s,
        "Before it goes into a board: power off, supply pins checked against the socket, current-limited first power-up."
    );
}

/// What comes after a netlist: the maker's fitter, with the pins locked.
fn for_fitter(device: &Burned) -> String {
    let f = &device.fitted;
    let mut s = String::new();
    let _ = writeln!(
        s,
        "A {} has no fuse map here: its maker's own fitter comes after {c}.v or {c}.vhd and makes the programming file.\n\
         Let it keep all logic as it stands, compare its report with equations.txt, and lock the pins:",
        f.device,
        c = f.circuit
    );
    for wire in &f.wires {
        let _ = writeln!(s, "  pin {}: {} (contact {})", wire.pin, wire.signal, wire.label);
    }
    let blocks = device.device.blocks.as_ref();
    if blocks.is_some_and(|b| b.pins_from == gluewright_devices::device::Provenance::Memory) {
        let _ = writeln!(
            s,
            "Which pins this type has where, and how many signals a block of it reads, is from memory: check both against its \
             maker's sheet before you wire the adapter."
        );
    }
    if f.port.is_empty() {
        let _ = writeln!(s, "The programming port is given up: its pins carry signals.\n");
    } else {
        let pins: Vec<String> = f.port.iter().map(|p| format!("{} pin {}", p.signal, p.pin)).collect();
        let _ = writeln!(s, "Kept for the programming port: {}.\n", pins.join(", "));
    }
    s
}
