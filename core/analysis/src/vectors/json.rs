//! Test vectors as JSON: the shape that the guide's page on JSON describes.
use serde::{Serialize, Serializer};

use super::{Coverage, Known, Miss, Purpose, Vectors};
use gluewright_devices::device::PinNumber;

#[derive(Serialize)]
struct Vector {
    purpose: &'static str,
    /// One character for each pin, pin 1 first, as in the V field of JESD3.
    pins: String,
}

#[derive(Serialize)]
struct Record<'v> {
    device: &'static str,
    vectors: Vec<Vector>,
    coverage: &'v Coverage,
    untested_pins: &'v [PinNumber],
}

impl Serialize for Vectors {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let vectors = self.list.iter().map(|v| Vector {
            purpose: match v.purpose {
                Purpose::Homing => "homing",
                Purpose::Test => "test",
            },
            pins: v.conditions.iter().map(|c| c.character()).collect(),
        });
        Record {
            device: self.device,
            vectors: vectors.collect(),
            coverage: &self.coverage,
            untested_pins: &self.untested,
        }
        .serialize(to)
    }
}

impl Serialize for Coverage {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            fuses: usize,
            silent: &'v [usize],
            harmless: &'v [usize],
            undefined: &'v [usize],
            found: &'v [usize],
            missed: &'v [Miss],
        }
        let Coverage { fuses, silent, harmless, undefined, found, missed } = self;
        Record { fuses: *fuses, silent, harmless, undefined, found, missed }.serialize(to)
    }
}

impl Serialize for Miss {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record {
            fuse: usize,
            meaning: String,
            known: &'static str,
            all_tried: bool,
        }
        let known = match self.known {
            Known::FloatsWhereHigh => "floats_where_high",
            Known::FloatsWhereLow => "floats_where_low",
            Known::Vague => "vague",
            Known::HeldByTime => "held_by_time",
            Known::Nothing => "nothing",
        };
        Record { fuse: self.fuse, meaning: self.meaning.to_string(), known, all_tried: self.all_tried }.serialize(to)
    }
}
