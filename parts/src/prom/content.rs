//! What a memory holds, word by word.
use std::collections::BTreeMap;

use thiserror::Error;

use super::intel_hex::{self, HexError};

/// The contents of a memory of words of up to eight bits.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Content {
    words: BTreeMap<usize, u8>,
    length: usize,
}

/// A file that can't be the contents of a memory.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum ContentError {
    /// It is empty.
    #[error("{file}: the file is empty: was the part read at all?")]
    Empty {
        /// The file.
        file: String,
    },
    /// It is not Intel HEX.
    #[error(transparent)]
    Hex(#[from] HexError),
}

impl Content {
    /// From a binary file, one byte a word, the first one at address 0. `file` is its name for messages.
    ///
    /// # Errors
    /// If the file is empty.
    pub fn from_binary(file: &str, bytes: &[u8]) -> Result<Self, ContentError> {
        if bytes.is_empty() {
            return Err(ContentError::Empty { file: file.to_owned() });
        }
        Ok(Content { words: bytes.iter().copied().enumerate().collect(), length: bytes.len() })
    }

    /// From an Intel HEX file (Intel, Hexadecimal Object File Format Specification, revision A, 1988), one byte a word.
    /// `file` is its name for messages.
    ///
    /// # Errors
    /// What is wrong with the file, with its line and the mend.
    pub fn from_intel_hex(file: &str, text: &str) -> Result<Self, ContentError> {
        let words = intel_hex::read(file, text)?;
        let length = words.last_key_value().map_or(0, |(last, _)| last + 1);
        if length == 0 {
            return Err(ContentError::Empty { file: file.to_owned() });
        }
        Ok(Content { words, length })
    }

    /// One more than the highest address.
    pub fn len(&self) -> usize {
        self.length
    }

    /// True if it has no word.
    pub fn is_empty(&self) -> bool {
        self.length == 0
    }

    /// The word at an address, if the file has one.
    pub fn word(&self, address: usize) -> Option<u8> {
        self.words.get(&address).copied()
    }
}
