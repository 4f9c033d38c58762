//! The drawer: which devices a user has, from a file of his own; and nothing of what a circuit asks of them.
mod error;
mod part;
mod read;
#[cfg(test)]
mod tests;

use std::path::Path;

pub use error::{DrawerError, Problem, ProblemKind};

use crate::device::{self, Device};
use gluewright_kernel::circuit::Origin;

/// The devices that a user has.
#[derive(Clone, Debug)]
pub struct Drawer {
    /// The file's name; of the default drawer what it is.
    pub name: String,
    /// What lies in it, in the order of the file.
    pub entries: Vec<Entry>,
    /// Rows of types that have no description here: they are left out.
    pub unknown: Vec<Problem>,
}

/// The device that a type as printed on a package is: the one whose generic type number it holds.
pub fn printed(full_type: &str) -> Option<&'static Device> {
    read::printed(full_type)
}

/// A kind of device in the drawer.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Who made it; may be empty.
    pub maker: String,
    /// The type as it is printed on the package; of the default drawer the generic type number.
    pub full_type: String,
    /// What it is.
    pub device: &'static Device,
    /// The speed grade as the sheet writes it, `-15`; empty if nobody says.
    pub grade: String,
    /// The package: `DIP-24`.
    pub package: &'static str,
    /// How many there are, if somebody counted.
    pub count: Option<u32>,
    /// Where it was written.
    pub origin: Origin,
}

impl Drawer {
    /// One of every device that is burned today, not counted, of no maker and of every grade.
    pub fn generic() -> Drawer {
        let entry = |device: &'static Device| Entry {
            maker: String::new(),
            full_type: device.name.to_owned(),
            device,
            grade: String::new(),
            package: device.packages.first().map_or("", |p| p.name),
            count: None,
            origin: Origin::Nowhere,
        };
        Drawer {
            name: "generic types".to_owned(),
            entries: device::all().iter().filter(|d| d.burned_today).map(entry).collect(),
            unknown: Vec::new(),
        }
    }

    /// Reads a drawer from a CSV file's content; `file` is its name, for messages.
    ///
    /// The header names the columns, in any order: `type` (as printed on the package), and where known `maker`, `grade`,
    /// `package`, `count` and `device` (the generic type number, where `type` doesn't hold it). Commas, semicolons or
    /// tabs part them; others may stand beside them. A line that starts with `#` is a comment.
    ///
    /// # Errors
    /// Everything that is wrong with the file, each with line, field and mend. A type that has no description here is
    /// only left out and noted, unless nothing else is in the file.
    pub fn from_csv(file: &str, content: impl AsRef<[u8]>) -> Result<Drawer, DrawerError> {
        read::read(file, content.as_ref())
    }

    /// Reads a drawer from a file.
    ///
    /// # Errors
    /// If the file can't be read, or something is wrong with it.
    pub fn from_file(path: &Path) -> Result<Drawer, DrawerError> {
        let name = path.display().to_string();
        match std::fs::read(path) {
            Ok(content) => Drawer::from_csv(&name, content),
            Err(error) => Err(DrawerError::Unreadable { file: name, error }),
        }
    }

    /// How many devices of this type there are; nothing if nobody counted those of some entry.
    pub fn count(&self, device: &Device) -> Option<u32> {
        let of_it = self.entries.iter().filter(|e| e.device.name == device.name);
        of_it.map(|e| e.count).try_fold(0u32, |sum, count| Some(sum.saturating_add(count?)))
    }
}

impl Entry {
    /// Whether there is at least one.
    pub fn is_there(&self) -> bool {
        self.count != Some(0)
    }
}
