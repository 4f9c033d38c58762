//! Currents as text for the terminal.
use std::fmt;

use super::{Check, Drives, Loading, Side, SupplyDraw};
use crate::timing::{At, spans};

impl fmt::Display for SupplyDraw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // what may be drawn at most is never rounded down
        let ma = (self.ma - 1e-6).ceil().max(0.0);
        match (self.ma > 0.0, self.missing.is_empty()) {
            (_, true) => write!(f, "{ma} mA")?,
            (true, false) => write!(f, "{ma} mA and more")?,
            (false, false) => return f.write_str("not known"),
        }
        let grades = (!self.grades.is_empty()).then(|| format!("grade {}", self.grades.join(", ")));
        let memory = match self.from_memory.len() {
            0 => None,
            n if n == self.counted => Some("from memory"),
            _ => Some("in part from memory"),
        };
        let words: Vec<&str> = grades.as_deref().into_iter().chain(memory).collect();
        if words.is_empty() { Ok(()) } else { write!(f, " ({})", words.join(", ")) }
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
        for (contacts, check) in alike_checks(self) {
            writeln!(f, "  {}: {check}", spans(&contacts))?;
        }
        if let Some(check) = &self.supply_check {
            writeln!(f, "  {check}")?;
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

/// The checks, each once with all contacts at which it has the same answer.
pub fn alike_checks(loading: &Loading) -> Vec<(Vec<&At>, &Check)> {
    let mut all: Vec<(Vec<&At>, &Check)> = Vec::new();
    for contact in &loading.contacts {
        for check in &contact.checks {
            match all.iter_mut().find(|(_, known)| *known == check) {
                Some((contacts, _)) => contacts.push(&contact.at),
                None => all.push((vec![&contact.at], check)),
            }
        }
    }
    all
}

impl Loading {
    /// The head of [`table`](Loading::table).
    pub const COLUMNS: [&'static str; 10] = [
        "contact",
        "side",
        "drives",
        "sinks_ma",
        "sources_ma",
        "load_low_ma",
        "load_high_ma",
        "check",
        "margin",
        "figures",
    ];

    /// Both sides and every check as rows of words, for a spreadsheet: what is not known is empty.
    pub fn table(&self) -> Vec<[String; 10]> {
        let mut rows = Vec::new();
        let empty = || -> [String; 7] { Default::default() };
        let checked = |head: [String; 7], check: &Check| {
            let [contact, side, drives, sinks, sources, low, high] = head;
            let margin = check.margin.map_or_else(String::new, |m| format!("{m:.2} {}", check.aspect.unit()));
            let verdict = format!("{}: {}", check.aspect, check.verdict);
            [contact, side, drives, sinks, sources, low, high, verdict, margin, check.words.clone()]
        };
        for contact in &self.contacts {
            for (side, of) in [("original", &contact.original), ("replacement", &contact.replacement)] {
                let figure = |ma: Option<f64>| ma.map_or_else(String::new, |ma| format!("{ma:.3}"));
                let [drives, ..] = row(of);
                let [sinks, sources] = [figure(of.sinks_ma), figure(of.sources_ma)];
                let [low, high] = [figure(of.load_low_ma), figure(of.load_high_ma)];
                let at = contact.at.to_string();
                let look = if side == "replacement" { contact.findings.join("; ") } else { String::new() };
                rows.push([at, side.to_owned(), drives, sinks, sources, low, high, String::new(), String::new(), look]);
            }
            rows.extend(contact.checks.iter().map(|check| {
                let mut head = empty();
                head[0] = contact.at.to_string();
                head[1] = "replacement".to_owned();
                checked(head, check)
            }));
        }
        rows.extend(self.supply_check.iter().map(|check| checked(empty(), check)));
        rows
    }
}

/// What there is to look at, each thing once with all contacts at which it is so.
pub fn alike(loading: &Loading) -> Vec<(Vec<&At>, &str)> {
    let mut all: Vec<(Vec<&At>, &str)> = Vec::new();
    for contact in &loading.contacts {
        for finding in &contact.findings {
            match all.iter_mut().find(|(_, known)| known == finding) {
                Some((contacts, _)) => contacts.push(&contact.at),
                None => all.push((vec![&contact.at], finding)),
            }
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sum_is_never_rounded_down_and_says_what_is_from_memory() {
        let mut draw = SupplyDraw::default();
        assert_eq!(draw.to_string(), "0 mA");
        let mut add = |figure, words: &str| {
            draw.add(figure, || "U1 (74LS00)".to_owned());
            assert_eq!(draw.to_string(), words);
        };
        add(Some((123.2, false)), "124 mA");
        add(Some((0.8, true)), "124 mA (in part from memory)");
        add(None, "124 mA and more (in part from memory)");
        let device = SupplyDraw { ma: 90.0, from_memory: vec!["22V10".into()], counted: 1, ..SupplyDraw::default() };
        let draw = SupplyDraw { grades: vec!["-15".into()], ..device };
        assert_eq!(draw.to_string(), "90 mA (grade -15, from memory)");
    }
}
