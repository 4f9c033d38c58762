//! What makes a fuse file unreadable, where, and the mend.

/// A fuse file that can't be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{file}:{line}: {}{problem}", if field.is_empty() { String::new() } else { format!("field {field}: ") })]
pub struct FuseFileError {
    /// The file's name as it was given.
    pub file: String,
    /// The line on which the field starts, counted from 1.
    pub line: u32,
    /// The identifier of the field: `L`, `QF`; empty if it is about the whole file.
    pub field: String,
    /// What is wrong.
    pub problem: Problem,
}

/// What is wrong with a fuse file, and what would mend it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Problem {
    /// No STX character.
    #[error(
        "there is no STX character (02 hex), so this is no fuse file of the standard JESD3: give the file that the device programmer takes"
    )]
    NoStart,
    /// No ETX character.
    #[error("there is no ETX character (03 hex), so the file is cut short: get it again from where it came")]
    NoEnd,
    /// A field without `*`.
    #[error("it isn't ended by `*`: the file is cut short or damaged, get it again from where it came")]
    Unended,
    /// Not a number.
    #[error("`{0}` is no number that can stand here: write a decimal one")]
    NotANumber(String),
    /// A fuse number or count beyond [`FUSE_LIMIT`](super::FUSE_LIMIT).
    #[error("{0} is more fuses than any device has: correct the number, and put a space between it and what follows")]
    TooManyFuses(String),
    /// A list without states, most likely because they run together with the fuse number.
    #[error("no fuse states follow the number `{0}`: put a space between the number and the states")]
    NoStates(String),
    /// Hexadecimal states right behind the fuse number: nobody can tell where one ends and the other begins.
    #[error("nothing stands between the fuse number `{0}` and the states: put a space there")]
    NoSpace(String),
    /// Something else than a state.
    #[error("`{0}` is no fuse state: only 0 and 1 may stand here")]
    NotAState(String),
    /// Something else than a hexadecimal digit.
    #[error("`{0}` is no hexadecimal digit: only 0 to 9 and A to F may stand here")]
    NotHexadecimal(String),
    /// A checksum of fewer than four digits, or of something else.
    #[error("`{0}` is no checksum: it has four hexadecimal digits or more")]
    NotAChecksum(String),
    /// A fuse at or beyond the number of QF.
    #[error("fuse {fuse} is listed, but QF says there are {count}: correct the fuse number or QF")]
    BeyondLast {
        /// The fuse.
        fuse: usize,
        /// The number of fuses.
        count: usize,
    },
    /// Neither listed nor defaulted.
    #[error("fuse {0} is not listed and there is no F field: list every fuse or state the default")]
    NotListed(usize),
    /// The same thing said twice in different ways.
    #[error("`{first}` was stated before, now `{second}`: leave one of them out")]
    Contradiction {
        /// What stood first.
        first: String,
        /// What stands here.
        second: String,
    },
    /// A wrong fuse checksum.
    #[error(
        "the fuses add up to {found:04X}, the file says {stated:04X}{}: the file is damaged, get it again from where it came",
        if *.other_modulus { " (which it would be modulo 65535; if its writer counts so, leave the field out)" } else { "" }
    )]
    FuseChecksum {
        /// The sum over the fuses.
        found: u16,
        /// What the file says.
        stated: u16,
        /// Whether the stated sum is right modulo 65535, as one restatement of the standard says.
        other_modulus: bool,
    },
    /// A wrong transmission checksum.
    #[error(
        "the characters from STX to ETX add up to {found:04X}, the file says {stated:04X}: it was changed after it was written; get it again, or write 0000 if you changed it yourself"
    )]
    TransmissionChecksum {
        /// The sum over the characters.
        found: u16,
        /// What the file says.
        stated: u16,
    },
    /// A vector of the wrong length.
    #[error(
        "vector {number} has {found} conditions, QP says {expected}: correct the vector, and put a space behind its number"
    )]
    VectorLength {
        /// The vector's number.
        number: u32,
        /// How many conditions it has.
        found: usize,
        /// How many it ought to have.
        expected: usize,
    },
    /// More or fewer pins in the pin list than conditions.
    #[error("the pin list has {found} pins, QP says {expected}: correct one of them")]
    PinListLength {
        /// How many pins it lists.
        found: usize,
        /// How many it ought to list.
        expected: usize,
    },
}
