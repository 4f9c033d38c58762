//! Comparisons as text for the terminal, and as rows of a table.
use std::fmt;

use super::{At, Compared, Comparison, Early, Edge, GradeChoice, Judgement, Kind, Time};

impl Comparison {
    /// The head of [`table`](Comparison::table).
    pub const COLUMNS: [&'static str; 16] = [
        "kind",
        "from",
        "change",
        "to",
        "its_change",
        "original_ns",
        "replacement_ns",
        "limit_ns",
        "judgement",
        "not_known",
        "path_of_original",
        "path_of_replacement",
        "run_and_event",
        "replacement_at_least_ns",
        "margin_ns",
        "host_known_from",
    ];

    /// Every time as a row of words, for a spreadsheet: what is not known is empty. The column `run_and_event` says where in
    /// [`Comparison::runs`] the original's time shows; what the board gives is in `limit_ns`, with where it is known from.
    pub fn table(&self) -> Vec<[String; 16]> {
        let ns = |time: &Option<Time>| time.as_ref().filter(|t| t.is_known()).map_or(String::new(), |t| round(t.ns));
        let path = |time: &Time| {
            let steps = time.path.iter().map(|s| match s.ns {
                Some(ns) => format!("{} {} ns", s.through, round(ns)),
                None => format!("{} unknown", s.through),
            });
            steps.collect::<Vec<_>>().join("; ")
        };
        let edge = |edge: Option<Edge>| edge.map_or(String::new(), |e| e.to_string());
        let row = |r: &Compared| {
            let missing = r.original.iter().chain(&r.replacement).flat_map(|t| t.missing.iter().cloned());
            [
                r.kind.to_string(),
                r.from.to_string(),
                edge(r.from_edge),
                r.to.to_string(),
                r.to_edge.map_or(String::new(), |e| change(r.kind, e).to_owned()),
                ns(&r.original),
                ns(&r.replacement),
                r.limit.map_or(String::new(), round),
                r.judgement.to_string(),
                missing.collect::<Vec<_>>().join("; "),
                r.original.as_ref().map_or(String::new(), path),
                r.replacement.as_ref().map_or(String::new(), path),
                r.witness.map_or(String::new(), |w| format!("{} {}", w.run, w.event)),
                r.least.map_or(String::new(), round),
                r.margin().map_or(String::new(), round),
                r.given.as_ref().map_or(String::new(), |g| g.known_from.clone()),
            ]
        };
        self.rows.iter().map(row).collect()
    }
}

/// What a contact does in a row of this kind.
pub fn change(kind: Kind, edge: Edge) -> &'static str {
    match (kind, edge) {
        (Kind::Enable, Edge::Rise) => "is driven high",
        (Kind::Enable, Edge::Fall) => "is driven low",
        (Kind::Disable, Edge::Rise) => "lets go of high",
        (Kind::Disable, Edge::Fall) => "lets go of low",
        (_, Edge::Rise) => "rises",
        (_, Edge::Fall) => "falls",
    }
}

/// What the host must do where the replacement takes longer than it may.
fn demand(kind: Kind, ns: f64) -> String {
    let ns = round(ns);
    match kind {
        Kind::Propagation | Kind::ClockToOutput | Kind::Enable | Kind::Disable => {
            format!("the host must wait {ns} ns")
        }
        Kind::Setup | Kind::Recovery => format!("the host must give {ns} ns before"),
        Kind::Hold => format!("the host must give {ns} ns after"),
        Kind::Period | Kind::HighPulse | Kind::LowPulse => format!("the host must give {ns} ns"),
    }
}

/// An output that may change earlier than it did, or that the board must hold.
pub fn early_words(e: &Early) -> String {
    let hold = match (e.hold_ns, e.is_held()) {
        (Some(hold), Some(false)) => format!(": TOO EARLY, it must be held {} ns", round(hold)),
        (Some(hold), Some(true)) => format!("; it must be held {} ns: pass", round(hold)),
        (Some(hold), None) => format!("; it must be held {} ns: not known whether it is", round(hold)),
        (None, _) => String::new(),
    };
    let least = e.least_ns.map_or_else(String::new, |ns| format!("at least {} ns, ", round(ns)));
    let (most, before) = (round(e.replacement_ns), round(e.original_ns));
    format!("{} after {}: {least}at most {most} ns, the original up to {before}{hold}", e.to, e.from)
}

/// A time in a table.
pub fn short(time: Option<&Time>) -> String {
    match time {
        None => "–".to_owned(),
        Some(t) if !t.is_known() => "not known".to_owned(),
        Some(t) if t.is_complete() => round(t.ns),
        Some(t) => format!("{}+", round(t.ns)),
    }
}

/// What a table says of a pair of times.
pub fn judged(row: &Compared) -> String {
    let stated = match (row.limit, &row.original) {
        (Some(limit), _) if row.given.is_some() => match row.judgement {
            Judgement::Within | Judgement::Over(_) => format!(" (the host gives {})", round(limit)),
            Judgement::Unknown | Judgement::OneSided => String::new(),
        },
        (Some(limit), Some(original)) if (limit - original.ns).abs() < 1e-6 => String::new(),
        (Some(limit), _) => format!(" (budget {})", round(limit)),
        (None, _) => String::new(),
    };
    format!("{}{stated}", verdict(row)).trim_start().to_owned()
}

fn verdict(row: &Compared) -> String {
    match (row.judgement, row.slower_by()) {
        (Judgement::Within, _) if row.given.is_some() => {
            format!("pass, {} to spare", round(row.margin().unwrap_or_default()))
        }
        (Judgement::Within, Some(by)) if by < 0.0 => format!("{} shorter", round(-by)),
        (Judgement::Within, Some(by)) if by > 0.0 => format!("{} longer, within the budget", round(by)),
        (Judgement::Within, _) => String::new(),
        (over @ Judgement::Over(_), _) => {
            let must = row.replacement.as_ref().map(|t| demand(row.kind, t.ns));
            format!("{over}: {}", must.unwrap_or_default())
        }
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
        writeln!(
            f,
            "Times by data sheets, in ns: what {} is shown to take, and what {} never exceeds",
            self.original, self.replacement
        )?;
        writeln!(f, "  {:15} {:22} {:28} {:>9} {:>11}", "", "from", "to", "original", "replacement")?;
        for r in &self.rows {
            let of = |at: &At, words: Option<&str>| format!("{at} {}", words.unwrap_or_default());
            let line = format!(
                "  {:15} {:22} {:28} {:>9} {:>11}  {}",
                r.kind,
                of(&r.from, r.from_edge.map(|e| change(Kind::Setup, e))),
                of(&r.to, r.to_edge.map(|e| change(r.kind, e))),
                short(r.original.as_ref()),
                short(r.replacement.as_ref()),
                judged(r)
            );
            writeln!(f, "{}", line.trim_end())?;
        }
        if !self.early.is_empty() {
            writeln!(
                f,
                "  These may change earlier than they did, or the board must hold them. Where no sheet gives a shortest delay, a \
                 hold time downstream can't be promised:"
            )?;
            for e in &self.early {
                writeln!(f, "    {}", early_words(e))?;
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
