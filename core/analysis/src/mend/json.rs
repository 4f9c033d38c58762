//! Mends as JSON: the shape that the guide's page on JSON describes.
use serde::{Serialize, Serializer};

use super::{Agreement, Mend, Mends, Part, Place, Way};
use gluewright_kernel::board::Finding;
use gluewright_kernel::circuit::{Label, Origin};
use gluewright_kernel::prove::Proof;

impl Serialize for Place {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(match self {
            Place::Replacement => "replacement",
            Place::Trace => "trace",
            Place::Fuses => "fuses",
        })
    }
}

impl Serialize for Mend {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            place: Place,
            words: &'v str,
            origin: &'v Origin,
            danger: Option<&'v str>,
            findings: &'v [Finding],
            ways: &'v [Way],
            proof: &'v Proof,
        }
        let (words, origin, danger, proof) = (&self.words, &self.origin, self.danger, &self.proof);
        Record { place: self.place, words, origin, danger, findings: &self.findings, ways: &self.ways, proof }
            .serialize(to)
    }
}

impl Serialize for Way {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            words: &'v str,
            origin: &'v Origin,
        }
        Record { words: &self.words, origin: &self.origin }.serialize(to)
    }
}

impl Serialize for Part {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            words: &'v str,
            origin: &'v Origin,
            contacts: &'v [Label],
            proved: bool,
        }
        Record { words: &self.words, origin: &self.origin, contacts: &self.contacts, proved: self.proved }.serialize(to)
    }
}

impl Serialize for Agreement {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            differ: &'v [Label],
            of: usize,
            parts: &'v [Part],
        }
        Record { differ: &self.differ, of: self.of, parts: &self.parts }.serialize(to)
    }
}

impl Serialize for Mends {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Tried {
            replacement: usize,
            trace: usize,
            fuses: usize,
        }
        #[derive(Serialize)]
        struct Record<'v> {
            found: &'v [Mend],
            tried: Tried,
            pairs: usize,
            agreement: Option<&'v Agreement>,
            asked: usize,
            undecided: usize,
            cut_short: bool,
            time_ms: f64,
        }
        Record {
            found: &self.found,
            tried: Tried { replacement: self.edits, trace: self.alterations, fuses: self.fuses },
            pairs: self.pairs,
            agreement: self.agreement.as_ref(),
            asked: self.asked,
            undecided: self.undecided,
            cut_short: self.cut_short,
            time_ms: self.time.as_secs_f64() * 1e3,
        }
        .serialize(to)
    }
}
