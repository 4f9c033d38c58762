//! From the fuse map of a bipolar original to that of the device that replaces it.
use super::{Device, DeviceError, find};
use crate::fusefile::Fuses;

impl Device {
    /// The device that replaces this one, and the fuse map that makes it do the same: the array copied, every product
    /// term usable, every polarity fuse 0, and mode and macrocells set up as this device is built (from memory).
    ///
    /// The replacement's registers are low at power-up; what the original's hold isn't promised
    /// ([`power_up`](Device::power_up)).
    ///
    /// # Errors
    /// If nothing replaces this device or the map isn't one of it.
    pub fn replace(&self, fuses: &Fuses) -> Result<(&'static Device, Fuses), DeviceError> {
        self.check(fuses)?;
        let none = DeviceError::NoReplacement { device: self.name };
        let (name, mode_name) = self.replacement.ok_or(none.clone())?;
        let other = find(name).ok_or(none.clone())?;
        let mode = other.modes.iter().find(|m| m.name == mode_name).ok_or(none.clone())?;
        let mut map = Fuses::new(other.fuses, false);
        for (fuse, &state) in fuses.states().iter().enumerate() {
            map.set(fuse, state);
        }
        for (fuse, state) in &mode.fuses {
            map.set(*fuse, *state);
        }
        for macrocell in self.modes.iter().flat_map(|m| &m.macrocells) {
            let function = macrocell.configurations.first().map(|c| c.function).ok_or(none.clone())?;
            let same = mode.macrocell(macrocell.pin).and_then(|m| m.configuration(function));
            for &(fuse, state) in &same.ok_or(none.clone())?.fuses {
                map.set(fuse, state);
            }
        }
        for row in 0..other.rows {
            other.term_enables.map(|first| map.set(first + row, true));
        }
        Ok((other, map))
    }
}
