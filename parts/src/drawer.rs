//! A drawer with parts of its own beside the TTL: PROMs with their contents, dumps, circuits lifted from fuse files.
use std::collections::BTreeMap;

use gluewright::board::{Library, Part};

use crate::catalogue::ttl;

/// The TTL, and parts of a card's own. A part of its own goes before a TTL type of the same name.
#[derive(Clone, Debug, Default)]
pub struct Drawer {
    own: BTreeMap<String, Part>,
}

impl Drawer {
    /// The TTL and nothing else.
    pub fn new() -> Self {
        Self::default()
    }

    /// With this part, found by its own name in the trace. Whatever is a circuit with package pins as contacts becomes one
    /// with [`Part::logic`]; [`fused`](crate::fused) makes one of a fuse file, [`prom`](crate::prom) of a PROM's contents,
    /// [`Dump`](crate::Dump) of a readout.
    #[must_use]
    pub fn with(mut self, part: Part) -> Self {
        self.own.insert(part.name().trim().to_ascii_uppercase(), part);
        self
    }
}

impl Library for Drawer {
    fn lasting(&self) -> Option<&'static (dyn Library + Send + Sync)> {
        Some(ttl())
    }

    fn part(&self, type_number: &str) -> Option<Part> {
        self.own.get(&type_number.trim().to_ascii_uppercase()).cloned().or_else(|| ttl().part(type_number))
    }

    fn names(&self) -> Vec<String> {
        self.own.values().map(|p| p.name().to_owned()).chain(ttl().names()).collect()
    }
}
