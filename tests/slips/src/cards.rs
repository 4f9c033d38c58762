//! The examples as they are: trace, source, claim.
use gluewright::board::{Board, TraceError};
use gluewright::circuit::Circuit;
use gluewright::prelude::*;
use gluewright::prove::Proof;

use crate::claims;
use crate::sources::{loom_bridge, organ_memory, organ_pistons, sample_card};

/// An example.
pub struct Card {
    /// Its name.
    pub name: &'static str,
    /// Its trace as text.
    pub trace: &'static str,
    /// The circuit of its source.
    pub build: fn() -> Circuit,
    /// Proves its source against a card.
    pub run: fn(&Board) -> Result<Proof, Failure>,
}

impl Card {
    /// A trace, read under this card's name.
    pub fn read(&self, trace: &str) -> Result<Board, TraceError> {
        Board::from_csv(self.name, trace, gluewright_parts::ttl())
    }

    /// The example of this name.
    pub fn named(name: &str) -> &'static Card {
        CARDS.iter().find(|c| c.name == name).expect("an example")
    }
}

/// All of them.
pub static CARDS: [Card; 4] = [
    Card {
        name: "sample_card",
        trace: include_str!("../../../examples/src/sample_card.csv"),
        build: || gluewright::circuit_of::<sample_card::SampleCard>().expect("it builds"),
        run: |card| claims::sample_card!(sample_card).against(card).run(),
    },
    Card {
        name: "loom_bridge",
        trace: include_str!("../../../examples/src/loom_bridge.csv"),
        build: || gluewright::circuit_of::<loom_bridge::LoomBridge>().expect("it builds"),
        run: |card| claims::loom_bridge!(loom_bridge).against(card).run(),
    },
    Card {
        name: "organ_memory",
        trace: include_str!("../../../examples/src/organ_memory.csv"),
        build: || gluewright::circuit_of::<organ_memory::OrganMemory>().expect("it builds"),
        run: |card| claims::organ_memory!(organ_memory).against(card).run(),
    },
    Card {
        name: "organ_pistons",
        trace: include_str!("../../../examples/src/organ_pistons.csv"),
        build: || gluewright::circuit_of::<organ_pistons::OrganPistons>().expect("it builds"),
        run: |card| claims::organ_pistons!(organ_pistons).against(card).run(),
    },
];
