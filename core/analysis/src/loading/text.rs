//! Currents as text for the terminal.
use std::fmt;

use super::{Drives, Loading, Side, SupplyDraw};
use crate::timing::{At, spans};

impl fmt::Display for SupplyDraw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.ma > 0.0, self.missing.is_empty()) {
            (_, true) => write!(f, "{:.0} mA", self.ma),
            (true, false) => write!(f, "{:.0} mA and more", self.ma),
            (false, false) => f.write_str("not known"),
        }
    }
}

fn ma(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), |ma| format!("{ma:.2}"))
}

/// A side in words and figures, in mA: whether it drives, sinks, sources, its load while low, while high.
pub fn row(side: &Side) -> [String; 5] {
    let drives = match side.drives {
        Drives::Never => "no",
        Drives::Always => "yes",
        Drives::AtTimes => "at times",
        Drives::LowOnly => "low only",
    };
    [drives.to_owned(), ma(side.sinks_ma), ma(side.sources_ma), ma(side.load_low_ma), ma(side.load_high_ma)]
}

impl fmt::Display for Loading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Currents at the contacts: {} and {}", self.original, self.replacement)?;
        writeln!(f, "  Supply: before {} at most, after {}", self.supply_before, self.supply_after)?;
        for (contacts, finding) in alike(self) {
            writeln!(f, "  {}: {finding}", spans(&contacts))?;
        }
        for part in &self.beyond {
            writeln!(f, "  {}: {}", part.part, part.what)?;
        }
        for note in &self.notes {
            writeln!(f, "  {note}")?;
        }
        Ok(())
    }
}

/// What there is to look at, each thing once with all contacts at which it is so.
pub fn alike(loading: &Loading) -> Vec<(Vec<&At>, &str)> {
    let mut all: Vec<(Vec<&At>, &str)> = Vec::new();
    for contact in loading.to_look_at() {
        for finding in &contact.findings {
            match all.iter_mut().find(|(_, known)| known == finding) {
                Some((contacts, _)) => contacts.push(&contact.at),
                None => all.push((vec![&contact.at], finding)),
            }
        }
    }
    all
}
