//! Vectors as others read them: V fields of a fuse file, a table for a person.
use crate::vectors::flips::coverage::Coverage;
use crate::vectors::list::{Condition, Purpose, Vectors};
use gluewright_devices::device::{Package, PinNumber};
use gluewright_devices::fusefile::{FuseFile, Vector};

impl Vectors {
    /// Puts the vectors into a fuse file, with the conditions in the order of this package's pins.
    pub fn put_into(&self, file: &mut FuseFile, package: &Package) {
        file.pins = Some(usize::from(package.pins));
        file.vectors = (1..)
            .zip(&self.list)
            .map(|(number, v)| Vector { number, conditions: characters(&v.conditions, package) })
            .collect();
    }

    /// The vectors as CSV: number, purpose, one column for each pin of the DIP package. `name` is what a pin carries.
    ///
    /// # Errors
    /// Only what the CSV writer reports.
    pub fn table(&self, name: impl Fn(PinNumber) -> Option<String>) -> Result<String, csv::Error> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        let pins = self.list.first().map_or(0, |v| v.conditions.len());
        let title = |pin: usize| {
            let name = PinNumber::try_from(pin).ok().and_then(&name);
            name.map_or_else(|| format!("pin {pin}"), |name| format!("pin {pin} {name}"))
        };
        let titles = (1..=pins).map(title);
        writer.write_record(["vector".to_owned(), "purpose".to_owned()].into_iter().chain(titles))?;
        for (number, vector) in (1..).zip(&self.list) {
            let purpose = match vector.purpose {
                Purpose::Homing => "homing",
                Purpose::Test => "test",
            };
            let conditions = vector.conditions.iter().map(|c| word(*c).to_owned());
            writer.write_record([u32::to_string(&number), purpose.to_owned()].into_iter().chain(conditions))?;
        }
        let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }
}

impl Coverage {
    /// The fuses that no vector finds for certain as CSV: fuse, what it is for, what the vectors show, and whether every
    /// vector was tried.
    ///
    /// # Errors
    /// Only what the CSV writer reports.
    pub fn missed_table(&self) -> Result<String, csv::Error> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(["fuse", "what it is for", "what the vectors show", "every vector tried"])?;
        for miss in &self.missed {
            let tried = if miss.all_tried { "yes" } else { "no" };
            writer.write_record([&miss.fuse.to_string(), &miss.meaning.to_string(), &miss.known.to_string(), tried])?;
        }
        let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }
}

fn characters(conditions: &[Condition], package: &Package) -> String {
    let at = |pin: PinNumber| {
        let dip = package.of_dip.iter().position(|&p| p == pin);
        dip.and_then(|dip| conditions.get(dip)).map_or('N', |c| c.character())
    };
    (1..=package.pins).map(at).collect()
}

fn word(condition: Condition) -> &'static str {
    match condition {
        Condition::Low => "0",
        Condition::High => "1",
        Condition::Pulse => "pulse",
        Condition::ExpectLow => "low?",
        Condition::ExpectHigh => "high?",
        Condition::ExpectFloating => "floats?",
        Condition::Untested => "",
        Condition::Supply => "supply",
    }
}
