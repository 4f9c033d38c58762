//! Mends as JSON: the shape that the guide's page on JSON describes.
use serde::{Serialize, Serializer};

use super::{Mend, Mends, Place};
use gluewright_kernel::circuit::Origin;
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
            proof: &'v Proof,
        }
        Record { place: self.place, words: &self.words, origin: &self.origin, proof: &self.proof }.serialize(to)
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
            asked: usize,
            undecided: usize,
            cut_short: bool,
            time_ms: f64,
        }
        Record {
            found: &self.found,
            tried: Tried { replacement: self.edits, trace: self.alterations, fuses: self.fuses },
            asked: self.asked,
            undecided: self.undecided,
            cut_short: self.cut_short,
            time_ms: self.time.as_secs_f64() * 1e3,
        }
        .serialize(to)
    }
}
