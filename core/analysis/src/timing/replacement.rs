//! The times at the contacts of a fitted device, whatever it is made of.
use super::Timing;
use super::array::array;
use super::blocks::blocks;
use gluewright_devices::device::{Device, Grade};
use gluewright_devices::fit::Fitted;

/// The times at the contacts of a fit in its device, by this grade.
///
/// A term that reads another macrocell costs a pass of the array more. What the grade doesn't say is missing from every
/// time that needs it.
pub fn replacement(fitted: &Fitted, device: &Device, grade: &Grade) -> Timing {
    if device.blocks.is_some() { blocks(fitted, device, grade) } else { array(fitted, device, grade) }
}
