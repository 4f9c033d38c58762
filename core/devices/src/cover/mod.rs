//! Two-level covers: the fewest product terms that hold a function, in either polarity.
//!
//! A macrocell holds a sum of a few product terms, stored as it is or inverted. [`minimise`] finds the sum with the
//! fewest terms and says whether that is proved; [`minimise_either`] does both polarities. [`hazard`] keeps the terms
//! that a minimum would drop but a latch needs.
//!
//! ```
//! use gluewright_devices::cover::{Effort, Function, Proof, Value, minimise};
//!
//! // high for two or three of three inputs: three pairs
//! let majority = |m: u64| if m.count_ones() >= 2 { Value::High } else { Value::Low };
//! let minimum = minimise(&Function::from_fn(3, majority)?, &Effort::default());
//! assert_eq!(minimum.cover.len(), 3);
//! assert_eq!(minimum.terms, Proof::Proved);
//! # Ok::<(), gluewright_devices::cover::CoverError>(())
//! ```
//!
//! The ways, by the number of inputs that the function reads: up to 12 all primes from truth tables, up to 16 from lists
//! of terms if these are few or else from tables, above that from lists; one row for each class of minterms; reductions;
//! branch and bound with bounds from Lagrangian prices. Where the primes are too many to list, terms are widened in many
//! orders and the best choice of what comes up is kept.
mod covering;
mod cube;
mod dense;
mod error;
mod expand;
mod function;
pub mod hazard;
mod lazy;
mod list;
mod minimum;
mod primes;
mod recursion;
mod table;

pub use cube::{Cube, MAX_INPUTS};
pub use error::CoverError;
pub use function::{Function, Value};
pub use hazard::{Hazard, Steady, make_hazard_free, minimise_steady, single_changes, static_hazards};
pub use list::{Cover, MAX_TERMS};
pub use minimum::{Effort, Either, Minimum, Proof, minimise, minimise_either};
