//! What `--json` prints beside the record: every value that the job came to, in the shape that the guide's page on JSON
//! describes.
use serde::{Serialize, Serializer};

use super::error::{JobError, Of};
use super::finding::Finding;
use super::made::{Burned, FileKind, Made, Package};
use gluewright_analysis::hazard::{Hazard, Hazards};
use gluewright_analysis::loading::Loading;
use gluewright_analysis::mend::Mends;
use gluewright_analysis::synchronisers::Habit;
use gluewright_analysis::timing::GradeChoice;
use gluewright_analysis::vectors::Vectors;
use gluewright_devices::emit::{Equation, Wire};
use gluewright_devices::fit::Fitted;
use gluewright_devices::fusefile::Fuses;
use gluewright_kernel::board;
use gluewright_kernel::explain::Explanation;
use gluewright_kernel::prove::{Broken, Failure, Held, Proof};

/// The version of the shapes. It rises when a field goes or changes its meaning; new fields may come at any time.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
pub(super) struct MadeValues<'v> {
    source: Option<&'v Proof>,
    properties: &'v [Held],
    written: &'v Proof,
    devices: Vec<DeviceValues<'v>>,
    wires: &'v [Wire],
    times: &'v GradeChoice,
    currents: &'v Loading,
    sampled: &'v [Habit],
    original_hazards: Option<&'v Hazards>,
    findings: &'v [Finding],
}

#[derive(Serialize)]
struct DeviceValues<'v> {
    reference: &'v str,
    file: &'v str,
    kind: FileKind,
    fitted: &'v Fitted,
    equations: Vec<Equation>,
    fuses: Option<&'v Fuses>,
    vectors: Option<&'v Vectors>,
    hazards: &'v Hazards,
}

fn device(of: &Burned) -> DeviceValues<'_> {
    DeviceValues {
        reference: &of.reference,
        file: &of.file,
        kind: of.kind,
        fitted: &of.fitted,
        equations: of.equations(),
        fuses: of.fuses.as_ref(),
        vectors: of.vectors.as_ref(),
        hazards: &of.hazards,
    }
}

/// Of a finished job.
pub(super) fn made(of: &Made) -> MadeValues<'_> {
    MadeValues {
        source: of.source.as_ref(),
        properties: &of.properties,
        written: &of.written,
        devices: of.devices.iter().map(device).collect(),
        wires: &of.wires,
        times: &of.times,
        currents: &of.currents,
        sampled: &of.sampled,
        original_hazards: of.original_hazards.as_ref().ok(),
        findings: &of.findings,
    }
}

/// Of a job that did not finish.
#[derive(Serialize)]
pub(super) struct NotDoneValues<'v> {
    pub(super) error: &'v JobError,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) explanation: Option<&'v Explanation>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) mends: Option<&'v Mends>,
}

/// `{"kind": …, "text": …}`, and the value that it is about, under its kind.
impl Serialize for Finding {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        #[serde(tag = "kind", rename_all = "snake_case")]
        enum Record<'v> {
            Trace { text: String, finding: &'v board::Finding },
            Contacts { text: String, finding: &'v board::Finding },
            File { text: String, device: Option<&'v str> },
            OnDevice { text: String, device: Option<&'v str>, hazard: &'v Hazard },
            NotSearchedOnDevice { text: String, device: Option<&'v str> },
            OnOriginal { text: String, hazard: &'v Hazard },
            NotSearchedOnOriginal { text: String },
            OriginalNotSearched { text: String },
            Part { text: String, device: Option<&'v str> },
            Split { text: String },
            InWholeBoard { text: String, replaced: &'v [Package], staying: &'v [Package], boundary: &'v str },
            PropertiesNotAsked { text: String },
        }
        let text = self.to_string();
        match self {
            Finding::Trace(finding) => Record::Trace { text, finding },
            Finding::Contacts(finding) => Record::Contacts { text, finding },
            Finding::File { device, .. } => Record::File { text, device: device.as_deref() },
            Finding::OnDevice { device, hazard } => Record::OnDevice { text, device: device.as_deref(), hazard },
            Finding::NotSearchedOnDevice { device, .. } => {
                Record::NotSearchedOnDevice { text, device: device.as_deref() }
            }
            Finding::OnOriginal(hazard) => Record::OnOriginal { text, hazard },
            Finding::NotSearchedOnOriginal(_) => Record::NotSearchedOnOriginal { text },
            Finding::OriginalNotSearched(_) => Record::OriginalNotSearched { text },
            Finding::Part { device, .. } => Record::Part { text, device: device.as_deref() },
            Finding::Split(_) => Record::Split { text },
            Finding::InWholeBoard { replaced, staying, boundary } => {
                Record::InWholeBoard { text, replaced, staying, boundary }
            }
            Finding::PropertiesNotAsked => Record::PropertiesNotAsked { text },
        }
        .serialize(to)
    }
}

/// `{"kind": …, "text": …}`, and what the kind is about.
impl Serialize for JobError {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            kind: &'static str,
            text: String,
            #[serde(skip_serializing_if = "Option::is_none")]
            proof_of: Option<&'v Of>,
            #[serde(skip_serializing_if = "Option::is_none")]
            failure: Option<&'v Failure>,
            #[serde(skip_serializing_if = "Option::is_none")]
            no_fit: Option<&'v gluewright_devices::fit::NoFit>,
            #[serde(skip_serializing_if = "Option::is_none")]
            build: Option<&'v gluewright_kernel::signals::BuildError>,
            #[serde(skip_serializing_if = "<[board::Finding]>::is_empty")]
            contacts: &'v [board::Finding],
            #[serde(skip_serializing_if = "<[Hazard]>::is_empty")]
            hazards: &'v [Hazard],
            #[serde(skip_serializing_if = "Option::is_none")]
            property: Option<&'v Broken>,
        }
        let (proof_of, failure) = match self {
            JobError::Proof { of, failure } => (Some(of), Some(failure)),
            _ => (None, None),
        };
        Record {
            kind: self.kind(),
            text: self.to_string(),
            proof_of,
            failure,
            no_fit: if let JobError::NoFit { reason, .. } = self { Some(&**reason) } else { None },
            build: if let JobError::Circuit(e) = self { Some(e) } else { None },
            contacts: if let JobError::Contacts(all) = self { all } else { &[] },
            hazards: if let JobError::Hazard(all) = self { all } else { &[] },
            property: if let JobError::Property(broken) = self { Some(broken) } else { None },
        }
        .serialize(to)
    }
}
