//! The device that a job names: one of the catalogue's, by its type number, or one of the user's own.
use std::borrow::Cow;

use super::JobError;
use gluewright_devices::device::{self, Device};
use gluewright_devices::drawer;

/// A device as a job names it: a type number, as `22V10` or as it is printed on a package, or a description of one's own.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum Chosen {
    /// A type of the catalogue.
    Named(String),
    /// A description of one's own. It is taken to be at hand, whatever the drawer says.
    Own(Box<Device>),
}

impl From<&str> for Chosen {
    fn from(name: &str) -> Self {
        Chosen::Named(name.to_owned())
    }
}

impl From<String> for Chosen {
    fn from(name: String) -> Self {
        Chosen::Named(name)
    }
}

impl From<Device> for Chosen {
    fn from(device: Device) -> Self {
        Chosen::Own(Box::new(device))
    }
}

impl From<&Device> for Chosen {
    fn from(device: &Device) -> Self {
        device.clone().into()
    }
}

impl Chosen {
    /// The device.
    ///
    /// # Errors
    /// [`JobError::NoDevice`] if no device has this name.
    pub fn device(&self) -> Result<Cow<'static, Device>, JobError> {
        match self {
            Chosen::Named(name) => named(name).map(Cow::Borrowed),
            Chosen::Own(device) => Ok(Cow::Owned((**device).clone())),
        }
    }
}

/// The device of the catalogue with this type number.
pub(super) fn named(name: &str) -> Result<&'static Device, JobError> {
    device::find(name).or_else(|| drawer::printed(name)).ok_or_else(|| {
        let known: Vec<_> = device::all().iter().map(|d| d.name).collect();
        JobError::NoDevice(name.to_owned(), known.join(", "))
    })
}
