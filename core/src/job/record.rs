//! What a finished job says of itself: text for the terminal, JSON for the folder.
use std::fmt::Write;

use serde::Serialize;

use crate::fit::Fitted;
use crate::prove::{Failure, Proof};
use crate::vectors::Vectors;

use super::{Burned, Done, JobError, Several, bench};

#[derive(Serialize)]
struct Record<'d> {
    circuit: &'d str,
    original: &'d str,
    device: &'d str,
    #[serde(skip_serializing_if = "Option::is_none")]
    fuse_checksum: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    test_vectors: Option<VectorRecord>,
    solver: String,
    proofs: [Part<'d>; 2],
    findings: &'d [String],
    gluewright: &'static str,
}

#[derive(Serialize)]
struct NotDone<'d> {
    circuit: &'d str,
    verdict: &'static str,
    text: String,
    gluewright: &'static str,
}

#[derive(Serialize)]
struct Part<'d> {
    of: &'d str,
    verdict: &'static str,
    assumptions: &'d [String],
    matched_bits: &'d [String],
    unknowns_of_the_original: &'d [String],
    acknowledged: &'d [String],
    contacts_left_out: &'d [String],
    untraced: &'d [String],
    findings: &'d [String],
    kinds_of_events: usize,
    questions: usize,
    answered_by_truth_tables: usize,
    closed_by_structure: usize,
}

fn part<'d>(of: &'d str, p: &'d Proof) -> Part<'d> {
    Part {
        of,
        verdict: if p.is_whole() { "proved" } else { "proved in part" },
        assumptions: &p.assumptions,
        matched_bits: &p.matches,
        unknowns_of_the_original: &p.unknowns,
        acknowledged: &p.acknowledged,
        contacts_left_out: &p.left_out,
        untraced: &p.untraced,
        findings: &p.findings,
        kinds_of_events: p.figures.events,
        questions: p.figures.questions,
        answered_by_truth_tables: p.figures.tables,
        closed_by_structure: p.figures.structural,
    }
}

/// The record: proof.json, and what `--json` prints.
pub(super) fn proof(done: &Done) -> String {
    json(&Record {
        circuit: &done.fitted.circuit,
        original: &done.source.original,
        device: done.fitted.device,
        fuse_checksum: done.checksum.map(|c| format!("{c:04X}")),
        test_vectors: done.vectors.as_ref().map(vector_record),
        solver: format!("Z3 {}", done.source.figures.solver),
        proofs: [part("source", &done.source), part(&format!("{} as written", done.proved_from), &done.fuses)],
        findings: &done.findings,
        gluewright: env!("CARGO_PKG_VERSION"),
    })
}

#[derive(Serialize)]
struct SeveralRecord<'d> {
    circuit: &'d str,
    original: &'d str,
    devices: Vec<DeviceRecord<'d>>,
    kept: Vec<PackageRecord<'d>>,
    replaced: Vec<PackageRecord<'d>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    split: Option<SplitRecord<'d>>,
    solver: String,
    proofs: Vec<Part<'d>>,
    findings: &'d [String],
    gluewright: &'static str,
}

#[derive(Serialize)]
struct DeviceRecord<'d> {
    reference: &'d str,
    device: &'d str,
    file: &'d str,
    fuse_checksum: Option<String>,
    macrocells: usize,
    product_terms: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    test_vectors: Option<VectorRecord>,
}

/// What the test vectors would find, in single wrong fuses.
#[derive(Serialize)]
struct VectorRecord {
    vectors: usize,
    found: usize,
    missed: usize,
    /// Of these, those that other vectors might find.
    not_all_tried: usize,
    harmless: usize,
}

fn vector_record(vectors: &Vectors) -> VectorRecord {
    let coverage = &vectors.coverage;
    VectorRecord {
        vectors: vectors.list.len(),
        found: coverage.found.len(),
        missed: coverage.missed.len(),
        not_all_tried: coverage.undecided(),
        harmless: coverage.silent.len() + coverage.harmless.len(),
    }
}

#[derive(Serialize)]
struct PackageRecord<'d> {
    reference: &'d str,
    part: &'d str,
}

#[derive(Serialize)]
struct SplitRecord<'d> {
    wires: usize,
    fewest_devices: bool,
    fewest_wires: bool,
    between: &'d [crate::choose::Between],
}

fn packages(of: &[(String, String)]) -> Vec<PackageRecord<'_>> {
    of.iter().map(|(reference, part)| PackageRecord { reference, part }).collect()
}

/// The record of a job with several packages.
pub(super) fn several(done: &Several) -> String {
    let device = |b: &Burned| (b.checksum.map(|sum| format!("{sum:04X}")), b.fitted.cells.len(), b.fitted.term_count());
    let devices = done.devices.iter().map(|b| {
        let (fuse_checksum, macrocells, product_terms) = device(b);
        DeviceRecord {
            reference: &b.reference,
            device: b.fitted.device,
            file: &b.file,
            fuse_checksum,
            macrocells,
            product_terms,
            test_vectors: b.vectors.as_ref().map(vector_record),
        }
    });
    let source = done.source.iter().map(|p| part("source", p));
    let of = if done.kept.is_empty() {
        "files as written, all devices as one circuit"
    } else {
        "kept packages and file as written, as one circuit"
    };
    json(&SeveralRecord {
        circuit: &done.circuit,
        original: &done.fuses.original,
        devices: devices.collect(),
        kept: packages(&done.kept),
        replaced: packages(&done.replaced),
        split: done.split.as_ref().map(|s| SplitRecord {
            wires: s.wires,
            fewest_devices: s.fewest_devices,
            fewest_wires: s.fewest_wires,
            between: &s.between,
        }),
        solver: format!("Z3 {}", done.fuses.figures.solver),
        proofs: source.chain([part(of, &done.fuses)]).collect(),
        findings: &done.findings,
        gluewright: env!("CARGO_PKG_VERSION"),
    })
}

/// What a job with several packages prints when all went well.
pub(super) fn several_text(done: &Several) -> String {
    let mut s = String::new();
    let ms = |p: &Proof| p.figures.time.as_secs_f64() * 1e3;
    if let Some(source) = &done.source {
        let _ = writeln!(s, "{source}\n");
    }
    if !done.kept.is_empty() {
        let list =
            |of: &[(String, String)]| of.iter().map(|(r, p)| format!("{r} ({p})")).collect::<Vec<_>>().join(", ");
        let _ = writeln!(s, "Stays in place: {}. Replaced: {}.\n", list(&done.kept), list(&done.replaced));
    }
    if let Some(split) = &done.split {
        let known = |fewest: bool| if fewest { "the fewest possible" } else { "fewer were not found, nor ruled out" };
        let _ = writeln!(
            s,
            "Split over {} devices ({}), {} wires between them ({}).",
            done.devices.len(),
            known(split.fewest_devices),
            split.wires,
            known(split.fewest_wires)
        );
        for wire in &split.between {
            let _ =
                writeln!(s, "  {} carries {} from {} to {}", wire.label, wire.signal, wire.from, wire.to.join(", "));
        }
        let _ = writeln!(s);
    }
    for b in &done.devices {
        let f = &b.fitted;
        let _ = writeln!(
            s,
            "{}: a {} with {} macrocells and {} product terms, made from {}{}.",
            b.reference,
            f.device,
            f.cells.len(),
            f.term_count(),
            b.file,
            b.checksum.map_or_else(String::new, |sum| format!(" (fuse checksum {sum:04X})"))
        );
        for note in &f.notes {
            let _ = writeln!(s, "  {note}");
        }
        if let Some(vectors) = &b.vectors {
            let _ = writeln!(s, "  test vectors: {}; {}", vectors.list.len(), vectors.coverage);
        }
        if b.checksum.is_none() {
            s.push_str(&for_fitter(f));
        }
    }
    let _ = writeln!(s, "\nProved as one circuit, files as written, in {:.1} ms:\n{}\n", ms(&done.fuses), done.fuses);
    let _ = write!(s, "{}", bench::times_summary(&done.times));
    let _ = writeln!(s, "{}", bench::currents_summary(&done.currents, &done.sampled));
    if !done.findings.is_empty() {
        let _ = writeln!(s, "What the trace leaves open (also in proof.json):");
        for finding in &done.findings {
            let _ = writeln!(s, "  {finding}");
        }
        let _ = writeln!(s);
    }
    let _ = writeln!(s, "Written to {}: {}", done.folder.display(), done.files.join(", "));
    let _ = writeln!(
        s,
        "Before it goes into a board: power off, supply pins checked against the socket, current-limited first power-up."
    );
    s
}

/// What `--json` prints when nothing was written.
pub(super) fn failure(circuit: &str, error: &JobError) -> String {
    let verdict = match error {
        JobError::Proof { failure: Failure::Refuted(_), .. } => "refuted",
        JobError::Proof { failure: Failure::Undecided(_), .. } => "undecided",
        JobError::Proof { failure: Failure::Withheld(_), .. } => "withheld",
        JobError::Proof { failure: Failure::InPart(_), .. } => "proved in part",
        _ => "not asked",
    };
    json(&NotDone { circuit, verdict, text: error.to_string(), gluewright: env!("CARGO_PKG_VERSION") })
}

fn json(record: &impl Serialize) -> String {
    // nothing in a record can fail to be JSON: strings and numbers only
    serde_json::to_string_pretty(record).unwrap_or_default() + "\n"
}

/// What a job prints when all went well.
pub(super) fn text(done: &Done) -> String {
    let mut s = String::new();
    let f = &done.fitted;
    let ms = |p: &Proof| p.figures.time.as_secs_f64() * 1e3;
    let _ = writeln!(s, "{}\n", done.source);
    let _ = writeln!(
        s,
        "Fitted: a {} holds `{}` in {} macrocells with {} product terms.\n",
        f.device,
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
    let _ =
        writeln!(s, "Proved again from the emitted {} as written, in {:.1} ms.\n", done.proved_from, ms(&done.fuses));
    if done.checksum.is_none() {
        s.push_str(&for_fitter(f));
    }
    for finding in &done.fuses.findings {
        let _ = writeln!(s, "  finding: {finding}");
    }
    if let Some(vectors) = &done.vectors {
        let _ = writeln!(s, "Test vectors for the device programmer: {}; {}.\n", vectors.list.len(), vectors.coverage);
    }
    let _ = write!(s, "{}", bench::times_summary(&done.times));
    let _ = writeln!(s, "{}", bench::currents_summary(&done.currents, &done.sampled));
    if !done.findings.is_empty() {
        let _ = writeln!(s, "What the trace leaves open (also in proof.json):");
        for finding in &done.findings {
            let _ = writeln!(s, "  {finding}");
        }
        let _ = writeln!(s);
    }
    let _ = writeln!(s, "Written to {}: {}", done.folder.display(), done.files.join(", "));
    let _ = writeln!(
        s,
        "Before it goes into a board: power off, supply pins checked against the socket, current-limited first power-up."
    );
    s
}

/// What comes after a netlist: the maker's fitter, with the pins locked.
fn for_fitter(f: &Fitted) -> String {
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
    let blocks = crate::device::find(f.device).and_then(|d| d.blocks.as_ref());
    if blocks.is_some_and(|b| b.pins_from == crate::device::Provenance::Memory) {
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
