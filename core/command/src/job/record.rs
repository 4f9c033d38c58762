//! What a run says of itself as JSON: for the folder, and for whoever asks with `--json`.
use std::fmt::Display;
use std::path::Path;

use serde::Serialize;

use gluewright_analysis::mend::Mends;
use gluewright_analysis::vectors::Vectors;
use gluewright_kernel::explain::Explanation;
use gluewright_kernel::prove::{Broken, Failure, Held, Proof, Typical};

use super::finding::Finding;
use super::made::{Burned, Made};
use super::{JobError, ReadDevice, Readback, values};

#[derive(Serialize)]
struct Record<'d> {
    circuit: &'d str,
    original: &'d str,
    device: &'d str,
    /// The part of the drawer that it is burned into.
    #[serde(skip_serializing_if = "Option::is_none")]
    part: Option<PartRecord<'d>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fuse_checksum: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    test_vectors: Option<VectorRecord>,
    solver: String,
    proofs: Vec<Part<'d>>,
    /// Of the source, each with its assumptions.
    properties_of_the_source: &'d [Held],
    findings: Vec<String>,
    gluewright: &'static str,
}

#[derive(Serialize)]
struct Part<'d> {
    of: String,
    verdict: String,
    assumptions: &'d [String],
    matched_bits: &'d [String],
    unknowns_of_the_original: &'d [String],
    acknowledged: &'d [String],
    by_typical_delays: &'d [Typical],
    contacts_left_out: &'d [String],
    untraced: &'d [String],
    findings: &'d [String],
    kinds_of_events: usize,
    questions: usize,
    answered_by_truth_tables: usize,
    closed_by_structure: usize,
}

fn part(of: String, p: &Proof) -> Part<'_> {
    Part {
        of,
        verdict: word(p),
        assumptions: &p.assumptions,
        matched_bits: &p.matches,
        unknowns_of_the_original: &p.unknowns,
        acknowledged: &p.acknowledged,
        by_typical_delays: &p.typical,
        contacts_left_out: &p.left_out,
        untraced: &p.untraced,
        findings: &p.findings,
        kinds_of_events: p.figures.events,
        questions: p.figures.questions,
        answered_by_truth_tables: p.figures.tables,
        closed_by_structure: p.figures.structural,
    }
}

fn word(p: &Proof) -> String {
    format!("{}{}", if p.is_whole() { "proved" } else { "proved in part" }, p.by_typical())
}

/// `proof.json`.
pub(super) fn folder(made: &Made) -> String {
    document(&whole(made), &[])
}

/// What `--json` prints of a finished job: the record that the folder has, and all values.
pub(super) fn printed(made: &Made) -> impl Serialize + '_ {
    #[derive(Serialize)]
    struct Printed<'d> {
        schema: u32,
        #[serde(flatten)]
        record: Whole<'d>,
        values: values::MadeValues<'d>,
    }
    Printed { schema: values::SCHEMA, record: whole(made), values: values::made(made) }
}

fn whole(made: &Made) -> Whole<'_> {
    match made.alone() {
        Some(device) => Whole::One(one(made, device)),
        None => Whole::Several(several(made)),
    }
}

#[derive(Serialize)]
#[serde(untagged)]
enum Whole<'d> {
    One(Record<'d>),
    Several(SeveralRecord<'d>),
}

fn words(findings: &[Finding]) -> Vec<String> {
    findings.iter().map(Finding::to_string).collect()
}

fn one<'d>(made: &'d Made, device: &'d Burned) -> Record<'d> {
    let proofs = made.source.iter().map(|p| part("source".to_owned(), p));
    Record {
        circuit: &made.circuit,
        original: &made.written.original,
        device: device.fitted.device,
        part: part_of(device),
        fuse_checksum: device.checksum().map(|c| format!("{c:04X}")),
        test_vectors: device.vectors.as_ref().map(vector_record),
        solver: format!("Z3 {}", made.written.figures.solver),
        proofs: proofs.chain([part(format!("{} as written", device.kind), &made.written)]).collect(),
        properties_of_the_source: &made.properties,
        findings: words(&made.findings),
        gluewright: env!("CARGO_PKG_VERSION"),
    }
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
    /// Of the source, each with its assumptions.
    properties_of_the_source: &'d [Held],
    findings: Vec<String>,
    gluewright: &'static str,
}

#[derive(Serialize)]
struct DeviceRecord<'d> {
    reference: &'d str,
    device: &'d str,
    #[serde(skip_serializing_if = "Option::is_none")]
    part: Option<PartRecord<'d>>,
    file: &'d str,
    fuse_checksum: Option<String>,
    macrocells: usize,
    product_terms: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    test_vectors: Option<VectorRecord>,
}

/// The maker and type of a part, and the speed grades that it may be.
#[derive(Serialize)]
struct PartRecord<'d> {
    maker: &'d str,
    full_type: &'d str,
    grades: Vec<&'d str>,
    limits_of: Vec<&'d str>,
}

fn part_of(device: &Burned) -> Option<PartRecord<'_>> {
    let part = device.device.part.as_ref()?;
    Some(PartRecord {
        maker: &part.maker,
        full_type: &part.full_type,
        grades: device.device.grades.iter().map(|g| g.name).collect(),
        limits_of: device.device.electrical.iter().map(|e| e.parts).collect(),
    })
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
    between: &'d [gluewright_analysis::choose::Between],
}

fn packages(of: &[(String, String)]) -> Vec<PackageRecord<'_>> {
    of.iter().map(|(reference, part)| PackageRecord { reference, part }).collect()
}

fn several(made: &Made) -> SeveralRecord<'_> {
    let devices = made.devices.iter().map(|b| DeviceRecord {
        reference: &b.reference,
        device: b.fitted.device,
        part: part_of(b),
        file: &b.file,
        fuse_checksum: b.checksum().map(|sum| format!("{sum:04X}")),
        macrocells: b.fitted.cells.len(),
        product_terms: b.fitted.term_count(),
        test_vectors: b.vectors.as_ref().map(vector_record),
    });
    let of = if made.kept().is_empty() { "source" } else { "source in the whole board, beside the packages that stay" };
    let source = made.source.iter().map(|p| part(of.to_owned(), p));
    let of = if made.kept().is_empty() {
        "files as written, all devices as one circuit"
    } else {
        "kept packages and file as written, as one circuit"
    };
    SeveralRecord {
        circuit: &made.circuit,
        original: &made.written.original,
        devices: devices.collect(),
        kept: packages(made.kept()),
        replaced: packages(made.replaced()),
        split: made.split().map(|s| SplitRecord {
            wires: s.wires,
            fewest_devices: s.fewest_devices,
            fewest_wires: s.fewest_wires,
            between: &s.between,
        }),
        solver: format!("Z3 {}", made.written.figures.solver),
        proofs: source.chain([part(of.to_owned(), &made.written)]).collect(),
        properties_of_the_source: &made.properties,
        findings: words(&made.findings),
        gluewright: env!("CARGO_PKG_VERSION"),
    }
}

/// Why nothing was written.
#[derive(Serialize)]
pub(super) struct NotDone {
    schema: u32,
    circuit: String,
    verdict: &'static str,
    text: String,
    /// A refutation laid out for the bench.
    #[serde(skip_serializing_if = "Option::is_none")]
    explanation: Option<String>,
    /// What the trace leaves open: the mistake may lie there.
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    trace: Vec<String>,
    /// Single changes that would mend it; none if none was looked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    mends: Option<MendsRecord>,
    /// The folder that still holds what an earlier run wrote.
    #[serde(skip_serializing_if = "Option::is_none")]
    earlier: Option<String>,
    gluewright: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    values: Option<serde_json::Value>,
}

impl NotDone {
    /// Of a run that ended with this error.
    pub(super) fn new(circuit: &str, error: &JobError) -> Self {
        let failure = match error {
            JobError::Proof { failure, .. } => Some(failure),
            _ => None,
        };
        let verdict = match error {
            JobError::Property(broken) => verdict_on_property(broken),
            _ => verdict(failure),
        };
        NotDone { verdict, values: valued(error, None, None), ..NotDone::unasked(circuit, error) }
    }

    /// Of a run that came to no proof.
    pub(super) fn unasked(circuit: &str, why: impl Display) -> Self {
        NotDone {
            schema: values::SCHEMA,
            circuit: circuit.to_owned(),
            verdict: verdict(None),
            text: why.to_string(),
            explanation: None,
            trace: Vec::new(),
            mends: None,
            earlier: None,
            gluewright: env!("CARGO_PKG_VERSION"),
            values: None,
        }
    }

    /// With what else was found out.
    pub(super) fn with(
        self,
        error: &JobError,
        explanation: Option<&Explanation>,
        trace: &[impl Display],
        mends: Option<&Mends>,
        earlier: Option<&Path>,
    ) -> Self {
        NotDone {
            explanation: explanation.map(Explanation::text),
            trace: trace.iter().map(ToString::to_string).collect(),
            mends: mends.map(MendsRecord::new),
            earlier: earlier.map(|folder| folder.display().to_string()),
            values: valued(error, explanation, mends),
            ..self
        }
    }
}

/// The values of a job that did not finish.
fn valued(error: &JobError, explanation: Option<&Explanation>, mends: Option<&Mends>) -> Option<serde_json::Value> {
    serde_json::to_value(values::NotDoneValues { error, explanation, mends }).ok()
}

fn verdict(failure: Option<&Failure>) -> &'static str {
    match failure {
        Some(Failure::Refuted(_)) => "refuted",
        Some(Failure::Undecided(_)) => "undecided",
        Some(Failure::Withheld(_)) => "withheld",
        Some(Failure::InPart(_)) => "proved in part",
        _ => "not asked",
    }
}

fn verdict_on_property(broken: &Broken) -> &'static str {
    match broken {
        Broken::Refuted(_) | Broken::Unreachable(_) => "refuted",
        Broken::Vacuous { .. } | Broken::Withheld { .. } => "withheld",
        Broken::Undecided { .. } | Broken::Restless { .. } => "undecided",
        _ => "not asked",
    }
}

#[derive(Serialize)]
struct MendsRecord {
    found: Vec<String>,
    tried: String,
    all_tried: bool,
}

impl MendsRecord {
    fn new(mends: &Mends) -> Self {
        Self {
            found: mends.found.iter().map(ToString::to_string).collect(),
            tried: mends.tried(),
            all_tried: !mends.cut_short,
        }
    }
}

/// What was read from burned parts. Of several devices each has its own record beside what holds for all.
pub(super) fn readback<'d>(circuit: &'d str, readback: &'d Readback) -> impl Serialize + 'd {
    #[derive(Serialize)]
    struct Record<'d> {
        circuit: &'d str,
        verdict: String,
        #[serde(flatten)]
        one: Option<PartRead<'d>>,
        #[serde(skip_serializing_if = "Vec::is_empty")]
        devices: Vec<PartRead<'d>>,
        good: bool,
        text: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        mends: Option<MendsRecord>,
        gluewright: &'static str,
    }
    let mut devices: Vec<PartRead<'_>> = readback.devices.iter().map(PartRead::new).collect();
    let one = if devices.len() == 1 { devices.pop() } else { None };
    Record {
        circuit,
        verdict: match &readback.proof {
            Ok(_) if readback.is_uncovered() => "hazard cover lost".to_owned(),
            Ok(proof) => word(proof),
            Err(failure) => verdict(Some(failure)).to_owned(),
        },
        one,
        devices,
        good: readback.is_good(),
        text: readback.to_string(),
        mends: readback.mends.as_ref().map(MendsRecord::new),
        gluewright: env!("CARGO_PKG_VERSION"),
    }
}

#[derive(Serialize)]
struct PartRead<'d> {
    #[serde(skip_serializing_if = "Option::is_none")]
    reference: Option<&'d str>,
    read: &'d str,
    written: String,
    as_written: bool,
    differences: Vec<String>,
    in_one_file_only: usize,
    fuse_checksum_written: String,
    fuse_checksum_read: String,
    security_fuse: bool,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    hazards_uncovered: Vec<String>,
}

impl<'d> PartRead<'d> {
    fn new(of: &'d ReadDevice) -> Self {
        let (written, read) = of.checksums;
        PartRead {
            reference: of.reference.as_deref(),
            read: &of.read,
            written: of.written.display().to_string(),
            as_written: of.differences.is_empty(),
            differences: of.differences.iter().map(ToString::to_string).collect(),
            in_one_file_only: of.beyond,
            fuse_checksum_written: format!("{written:04X}"),
            fuse_checksum_read: format!("{read:04X}"),
            security_fuse: of.security,
            hazards_uncovered: of.uncovered.iter().map(ToString::to_string).collect(),
        }
    }
}

/// A result as the one document that is printed, with what there was to say beside it.
pub(super) fn document(result: &impl Serialize, remarks: &[String]) -> String {
    #[derive(Serialize)]
    struct Document<'d, R> {
        #[serde(flatten)]
        result: &'d R,
        #[serde(skip_serializing_if = "<[String]>::is_empty")]
        remarks: &'d [String],
    }
    // nothing in a record can fail to be JSON: strings and numbers only
    serde_json::to_string_pretty(&Document { result, remarks }).unwrap_or_default() + "\n"
}
