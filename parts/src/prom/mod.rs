//! PROMs: parts whose logic is their contents.
mod content;
mod intel_hex;

use std::sync::Arc;

use gluewright::board::{Part, PinRole};
use gluewright::circuit::{By, Circuit, Direction, Driver, Expr, NetId, Origin, Stage};
use thiserror::Error;

pub use content::{Content, ContentError};
pub use intel_hex::{HexError, HexFault};

use crate::catalogue::{add_contact, ttl};
use crate::sheet::{Memory, Pin, Sheet};
use crate::table::decision;

/// Contents that don't make a part of a PROM.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum PromError {
    /// The type is no PROM of the drawer.
    #[error("{type_number} is no PROM of this drawer; it has {known}")]
    NoProm {
        /// The type number.
        type_number: String,
        /// Those that are.
        known: String,
    },
    /// The number of words differs.
    #[error(
        "a {type_number} has {words} words, and the contents have {given}: was another type read, or only a part of it?"
    )]
    Words {
        /// The type number.
        type_number: String,
        /// Its words.
        words: usize,
        /// What the contents have.
        given: usize,
    },
    /// A word that the contents don't have.
    #[error(
        "address {address:#04x} is not in the contents: a PROM is read whole; what nobody read belongs into a dump"
    )]
    MissingWord {
        /// Its address.
        address: usize,
    },
    /// Bits above the width of a word that are not the same everywhere.
    #[error("word {address:#04x} is {word:#04x}, which has more than {bits} bits: was a wider type read?")]
    WideWord {
        /// Its address.
        address: usize,
        /// The word.
        word: u8,
        /// Bits of a word.
        bits: u32,
    },
}

/// A PROM of this type (74S188 and 74S288: 32 words of 8 bits, open collector and three-state; 74S387 and 74S287: 256
/// words of 4 bits) with these contents, as a part with this name.
///
/// Bits above the width of a word don't count if they are the same in all words: some programmers read them as ones.
///
/// # Errors
/// If the type is no PROM, or the contents are not those of one.
pub fn prom(type_number: &str, name: &str, content: &Content) -> Result<Part, PromError> {
    let found = ttl().find(type_number).ok().and_then(|f| Some((f.kind.sheets().first()?, f.kind.memory()?)));
    let Some((sheet, memory)) = found else {
        let known: Vec<&str> = ttl().types().filter(|t| t.memory().is_some()).map(|t| t.type_number()).collect();
        return Err(PromError::NoProm { type_number: type_number.to_owned(), known: known.join(", ") });
    };
    let words = words(sheet, memory, content)?;
    Ok(Part::logic(name, Arc::new(circuit(sheet, name, &words))))
}

fn words(sheet: &Sheet, memory: Memory, content: &Content) -> Result<Vec<u8>, PromError> {
    let given = content.len();
    if given != memory.words {
        return Err(PromError::Words { type_number: sheet.type_number.clone(), words: memory.words, given });
    }
    let words: Vec<u8> = (0..memory.words)
        .map(|address| content.word(address).ok_or(PromError::MissingWord { address }))
        .collect::<Result<_, _>>()?;
    let above = |word: u8| u32::from(word).checked_shr(memory.bits).unwrap_or(0);
    let first = words.first().copied().map_or(0, above);
    match words.iter().position(|&word| above(word) != first) {
        Some(address) => {
            let word = words.get(address).copied().unwrap_or_default();
            Err(PromError::WideWord { address, word, bits: memory.bits })
        }
        None => Ok(words),
    }
}

fn circuit(sheet: &Sheet, name: &str, words: &[u8]) -> Circuit {
    let mut c = Circuit::new(name);
    let mut nets: Vec<(&Pin, NetId)> = Vec::new();
    for pin in &sheet.pins {
        let direction = match pin.role {
            PinRole::Supply(rail) => {
                c.add_supply(pin.label.clone(), rail);
                continue;
            }
            PinRole::Output(_) => Direction::Output,
            _ => Direction::Input,
        };
        nets.push((pin, add_contact(&mut c, pin.label.clone(), &pin.name, pin.polarity, direction)));
    }
    let numbered = |letter: char| {
        let mut pins: Vec<(u32, &Pin, NetId)> = nets
            .iter()
            .filter_map(|(pin, net)| Some((pin.name.strip_prefix(letter)?.parse().ok()?, *pin, *net)))
            .collect();
        pins.sort_by_key(|(number, ..)| *number);
        pins
    };
    let address: Vec<Expr> = numbered('A').into_iter().map(|(_, _, net)| c.net(net)).collect();
    let enables: Vec<Expr> =
        nets.iter().filter(|(pin, _)| pin.name.starts_with('G')).map(|(_, net)| c.net(*net)).collect();
    let disabled = c.any(enables);
    let enabled = c.not(disabled);
    for (bit, pin, net) in numbered('O') {
        let leaves: Vec<Expr> = words.iter().map(|word| Expr::constant(word >> bit & 1 == 1)).collect();
        let level = decision(&mut c, &address, leaves);
        drive(&mut c, pin, net, enabled, level);
    }
    c
}

fn drive(c: &mut Circuit, pin: &Pin, net: NetId, enabled: Expr, level: Expr) {
    let stage = match pin.role {
        PinRole::Output(stage) => stage,
        _ => return,
    };
    let (enable, level) = match stage {
        Stage::OpenCollector => {
            let low = c.not(level);
            (c.and(enabled, low), Expr::LOW)
        }
        Stage::ThreeState | Stage::PushPull => (enabled, level),
    };
    c.drive(net, Driver { enable, level, stage, by: By::signal(pin.name.clone()), origin: Origin::Nowhere });
}
