//! Choosing: which devices of a drawer hold a circuit, how it splits over several of them, and which packages of the
//! original are better left in place. Nothing here burns or proves.
mod clusters;
mod delay;
mod keep;
mod split;
mod survey;
mod table;
#[cfg(test)]
mod tests;

pub use clusters::{Cluster, clusters};
pub use delay::{Delay, worst_delay};
pub use keep::{Keeping, keeping};
pub use split::{Between, MOST_DEVICES, NoSplit, Share, Split, Stock, split, split_over};
pub use survey::{Outcome, Row, Several, Survey, Widest, survey};
