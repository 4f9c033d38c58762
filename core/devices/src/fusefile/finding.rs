//! What is irregular about a fuse file that can be read all the same.
use std::fmt;
use std::sync::Arc;

/// Something irregular, and where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// The file's name as it was given.
    pub file: Arc<str>,
    /// The line, counted from 1.
    pub line: u32,
    /// What it is.
    pub what: Irregularity,
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: {}", self.file, self.line, self.what)
    }
}

/// What can be irregular.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Irregularity {
    /// Something other than line ends before STX.
    #[error("{0} bytes before STX are ignored")]
    TextBefore(usize),
    /// Something other than line ends behind the transmission checksum.
    #[error("{0} bytes behind the transmission checksum are ignored")]
    TextBehind(usize),
    /// Characters that the standard doesn't allow.
    #[error("{0} characters that the standard doesn't allow, the first of them {1:02X} hex")]
    Characters(usize, u8),
    /// Two `*` without a field between them.
    #[error("an empty field")]
    EmptyField,
    /// A field that isn't read.
    #[error("field {0} is skipped: nothing is known about it or it doesn't bear on fuses and vectors")]
    Skipped(String),
    /// A field that may stand once only stands again.
    #[error("field {0} may stand once only; the last one counts")]
    Again(String),
    /// A value field behind the fields that need it, or electrical data behind the checksum that counts them.
    #[error("field {0} stands behind fields that it belongs before; a programmer may refuse that")]
    Late(String),
    /// A file with fuses but without a QF field.
    #[error("no QF field states the number of fuses; {0} is taken, which is what it lists")]
    NoFuseCount(usize),
    /// A fuse listed again with another state.
    #[error("fuse {0} is listed again with another state; the last one counts")]
    Relisted(usize),
    /// A vector of a number that was there before.
    #[error("vector {0} replaces an earlier one of that number")]
    VectorAgain(u32),
    /// More vectors than stated.
    #[error("{found} vectors, QV says at most {stated}")]
    MoreVectors {
        /// How many there are.
        found: usize,
        /// What QV says.
        stated: usize,
    },
    /// Vectors without a QP field.
    #[error("there are vectors, but no QP field states how many conditions they have")]
    NoPinCount,
    /// A test condition of unknown meaning.
    #[error("vector {0} has the condition `{1}`, whose meaning isn't known")]
    Condition(u32, char),
    /// No C field.
    #[error("there is no fuse checksum (C field), so nothing tells whether fuses are as they were written")]
    NoFuseChecksum,
    /// No transmission checksum.
    #[error("there is no transmission checksum behind ETX")]
    NoTransmissionChecksum,
    /// The dummy transmission checksum.
    #[error("the transmission checksum is the dummy 0000")]
    DummyTransmissionChecksum,
    /// The transmission checksum is wrong, but that of the fuses is right.
    #[error(
        "THE TRANSMISSION CHECKSUM IS WRONG: the characters add up to {found:04X}, the file says {stated:04X}, so something in \
         it was changed after it was written. The fuses agree with their own checksum and are read; notes and test vectors have \
         none: compare them with another copy"
    )]
    WrongTransmissionChecksum {
        /// The sum over the characters.
        found: u16,
        /// What the file says.
        stated: u16,
    },
    /// A checksum that was not cut to sixteen bits.
    #[error("the checksum {0} has more than four digits; its low four are right")]
    LongChecksum(String),
    /// The transmission checksum agrees with other line ends.
    #[error("the transmission checksum is right for {0} line ends: something changed them since")]
    LineEnds(&'static str),
}
