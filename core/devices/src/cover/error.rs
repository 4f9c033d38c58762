//! What can be wrong with terms and functions that a caller hands over.
use super::cube::Cube;

/// Why a cover or a function can't be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CoverError {
    /// More inputs than the representation holds.
    #[error(
        "{inputs} inputs are too many, at most {most} are possible here: leave out inputs that no term reads, or split the function"
    )]
    TooManyInputs {
        /// The number asked for.
        inputs: u32,
        /// The most there can be.
        most: u32,
    },
    /// A term reads an input that the function doesn't have.
    #[error(
        "term {term} reads input {input}, but there are only {inputs} inputs, counted from 0: raise the number of inputs or drop the literal"
    )]
    UnknownInput {
        /// The term's place in the list, from 0.
        term: usize,
        /// The lowest such input.
        input: u32,
        /// The number of inputs of the function.
        inputs: u32,
    },
    /// Two covers that should belong together have different numbers of inputs.
    #[error("one cover has {left} inputs, the other {right}: both must be over the same inputs")]
    DifferentInputs {
        /// Inputs of the one.
        left: u32,
        /// Inputs of the other.
        right: u32,
    },
    /// A truth table has the wrong length.
    #[error("a truth table of {inputs} inputs has {expected} words of 64 levels, not {words}")]
    TableSize {
        /// The number of inputs.
        inputs: u32,
        /// Words given.
        words: usize,
        /// Words needed.
        expected: usize,
    },
    /// Terms that must make the function high hold together with terms that must make it low.
    #[error(
        "the function is asked to be high and low at once where {at:?} holds: take the overlap out of one side or make it don't-care"
    )]
    Contradiction {
        /// Where.
        at: Cube,
    },
    /// A sum of terms grew beyond the limit while it was worked out.
    #[error("more than {limit} product terms came up on the way: the function is too wide for two levels, split it")]
    TooManyTerms {
        /// The limit.
        limit: usize,
    },
    /// A cube that must be inside one term is not an implicant.
    #[error("no product term can hold all of required cube {index}: the function is low somewhere in {cube:?}")]
    NotAnImplicant {
        /// The cube's place in the list, from 0.
        index: usize,
        /// The cube.
        cube: Cube,
    },
}
