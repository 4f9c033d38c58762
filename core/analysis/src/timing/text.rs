//! Comparisons as text for the terminal, and as rows of a table.
use std::fmt;

use super::{Compared, Comparison, GradeChoice, Judgement, Time};

impl Comparison {
    /// The head of [`table`](Comparison::table).
    pub const COLUMNS: [&'static str; 9] = [
        "kind",
        "from",
        "to",
        "original_ns",
        "replacement_ns",
        "limit_ns",
        "judgement",
        "not_known",
        "slowest_path_of_replacement",
    ];

    /// Every time as a row of words, for a spreadsheet: what is not known is empty.
    pub fn table(&self) -> Vec<[String; 9]> {
        let ns = |time: &Option<Time>| time.as_ref().map_or(String::new(), |t| round(t.ns));
        let path = |time: &Time| {
            let steps = time.path.iter().map(|s| match s.ns {
                Some(ns) => format!("{} {} ns", s.through, round(ns)),
                None => format!("{} unknown", s.through),
            });
            steps.collect::<Vec<_>>().join("; ")
        };
        let row = |r: &Compared| {
            let missing = r.original.iter().chain(&r.replacement).flat_map(|t| t.missing.iter().cloned());
            [
                r.kind.to_string(),
                r.from.to_string(),
                r.to.to_string(),
                ns(&r.original),
                ns(&r.replacement),
                r.limit.map_or(String::new(), round),
                r.judgement.to_string(),
                missing.collect::<Vec<_>>().join("; "),
                r.replacement.as_ref().map_or(String::new(), path),
            ]
        };
        self.rows.iter().map(row).collect()
    }
}

/// A time in a table.
pub fn short(time: Option<&Time>) -> String {
    match time {
        None => "–".to_owned(),
        Some(t) if t.is_complete() => round(t.ns),
        Some(t) => format!("{}+", round(t.ns)),
    }
}

/// What a table says of a pair of times.
pub fn judged(row: &Compared) -> String {
    let stated = match (row.limit, &row.original) {
        (Some(limit), Some(original)) if (limit - original.ns).abs() < 1e-6 => String::new(),
        (Some(limit), _) => format!(" (budget {})", round(limit)),
        (None, _) => String::new(),
    };
    format!("{}{stated}", verdict(row)).trim_start().to_owned()
}

fn verdict(row: &Compared) -> String {
    match (row.judgement, row.slower_by()) {
        (Judgement::Within, Some(by)) if by < 0.0 => format!("{} shorter", round(-by)),
        (Judgement::Within, Some(by)) if by > 0.0 => format!("{} longer, within the budget", round(by)),
        (Judgement::Within, _) => String::new(),
        (other, _) => other.to_string(),
    }
}

fn round(ns: f64) -> String {
    ((ns * 10.0).round() / 10.0).to_string()
}

impl fmt::Display for Judgement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Judgement::Within => f.pad("within"),
            Judgement::Over(by) => f.pad(&format!("{} ns too long", round(*by))),
            Judgement::Unknown => f.pad("not known"),
            Judgement::OneSided => f.pad("on one side only"),
        }
    }
}

impl fmt::Display for Comparison {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Longest times by data sheets, in ns: {} and {}", self.original, self.replacement)?;
        writeln!(f, "  {:15} {:16} {:16} {:>8} {:>11}", "", "from", "to", "original", "replacement")?;
        for r in &self.rows {
            let line = format!(
                "  {:15} {:16} {:16} {:>8} {:>11}  {}",
                r.kind,
                r.from,
                r.to,
                short(r.original.as_ref()),
                short(r.replacement.as_ref()),
                judged(r)
            );
            writeln!(f, "{}", line.trim_end())?;
        }
        if !self.early.is_empty() {
            writeln!(
                f,
                "  These may change earlier than they did. Shortest delays are in no sheet, so a hold time downstream can't be \
                 promised:"
            )?;
            for e in &self.early {
                let hold = match (e.hold_ns, e.is_violated) {
                    (Some(hold), true) => format!(": TOO EARLY, it must be held {} ns", round(hold)),
                    (Some(hold), false) => format!("; it must be held {} ns", round(hold)),
                    (None, _) => String::new(),
                };
                writeln!(
                    f,
                    "    {} after {}: at most {} ns, the original up to {}{hold}",
                    e.to,
                    e.from,
                    round(e.replacement_ns),
                    round(e.original_ns)
                )?;
            }
        }
        for note in &self.notes {
            writeln!(f, "  {note}")?;
        }
        Ok(())
    }
}

impl fmt::Display for GradeChoice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.chosen() {
            Some(grade) => writeln!(f, "Slowest speed grade that is safe everywhere: {}", grade.name)?,
            None => writeln!(f, "No speed grade is known to be safe everywhere.")?,
        }
        if let Some(words) = self.open_words() {
            writeln!(f, "  {words}")?;
        }
        const SHOWN: usize = 3;
        for grade in self.grades.iter().filter(|g| !g.is_safe) {
            let shown: Vec<&str> = grade.why.iter().take(SHOWN).map(String::as_str).collect();
            let more = grade.why.len().saturating_sub(SHOWN);
            let more = if more > 0 { format!("; and {more} more") } else { String::new() };
            writeln!(f, "  {}: {}{more}", grade.name, shown.join("; "))?;
        }
        Ok(())
    }
}
