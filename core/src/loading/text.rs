//! Currents as text for the terminal, and as a chapter of the report.
use std::fmt;

use super::{Drives, Loading, Side, SupplyDraw};
use crate::report::Chapter;
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

fn row(side: &Side) -> [String; 5] {
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
fn alike(loading: &Loading) -> Vec<(Vec<&At>, &str)> {
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

/// The chapter about currents: both sides contact by contact, what to look at, the supply, parts that do more than logic.
pub fn chapter(loading: &Loading) -> Chapter {
    let mut chapter = Chapter::new("Currents at the contacts").paragraph(format!(
        "From the supply: before {} at most, after {}.",
        loading.supply_before, loading.supply_after
    ));
    if !loading.supply_before.missing.is_empty() {
        let missing = loading.supply_before.missing.join(", ");
        chapter = chapter.paragraph(format!("Not known of the original: {missing}."));
    }
    let found = alike(loading).into_iter().map(|(contacts, finding)| format!("{}: {finding}", spans(&contacts)));
    let beyond = loading.beyond.iter().map(|part| {
        let contacts = spans(&part.contacts.iter().collect::<Vec<_>>());
        let on = if contacts.is_empty() { String::new() } else { format!(" (on {contacts})") };
        format!("{}{on}: {}", part.part, part.what)
    });
    chapter = chapter.list(found.chain(beyond));
    let mut lines: Vec<(Vec<&At>, [Vec<String>; 2])> = Vec::new();
    for c in &loading.contacts {
        let cells = [("original", &c.original), ("device", &c.replacement)].map(|(side, of)| {
            let mut cells = vec![side.to_owned()];
            cells.extend(row(of));
            cells.push(of.pulls.join(", "));
            cells
        });
        match lines.last_mut() {
            Some((contacts, known)) if *known == cells => contacts.push(&c.at),
            _ => lines.push((vec![&c.at], cells)),
        }
    }
    let rows: Vec<Vec<String>> = lines
        .iter()
        .flat_map(|(contacts, sides)| {
            let called = [spans(contacts), String::new()];
            sides
                .iter()
                .zip(called)
                .map(|(cells, called)| std::iter::once(called).chain(cells.iter().cloned()).collect())
        })
        .collect();
    let head = ["contact", "", "drives", "sinks", "sources", "load, low", "load, high", "resistors"];
    let caption = format!("{} beside {}, in mA, worst cases of data sheets", loading.original, loading.replacement);
    chapter.table(caption, &head, rows).list(loading.notes.iter().cloned())
}
