//! Verdicts on properties for a person.
use std::fmt;

use crate::explain::text::causes;

use super::verdict::{Broken, Case, Held, How, Sequence};

impl fmt::Display for Held {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let How::Reached(run) = &self.how {
            writeln!(f, "Reached: {}, in `{}`.", self.property, self.circuit)?;
            run.body(f)?;
            return write!(
                f,
                "  {} to the solver, {:.1} ms",
                counted(self.questions, "question"),
                self.time.as_secs_f64() * 1e3
            );
        }
        let typical = match self.typical.len() {
            0 => String::new(),
            1 => ", by typical delays at 1 place".to_owned(),
            n => format!(", by typical delays at {n} places"),
        };
        writeln!(f, "Proved{typical}: {}, in `{}`.", self.property, self.circuit)?;
        self.rest(f)
    }
}

impl Held {
    fn rest(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for a in &self.acknowledged {
            writeln!(f, "  acknowledged: `{a}`")?;
        }
        for a in &self.assumptions {
            writeln!(f, "  assuming {a}")?;
        }
        match &self.how {
            How::Reached(_) => {}
            how => writeln!(f, "  {how}")?,
        }
        if let How::Invariant { never } = &self.how {
            const MOST: usize = 6;
            for n in never.iter().take(MOST) {
                writeln!(f, "    never {n}")?;
            }
            if never.len() > MOST {
                writeln!(f, "    and {} more", never.len() - MOST)?;
            }
        }
        for case in &self.cases {
            writeln!(f, "  {case}")?;
        }
        for t in &self.typical {
            writeln!(f, "  {t}")?;
        }
        for finding in &self.findings {
            writeln!(f, "  finding: {finding}")?;
        }
        write!(f, "  {} to the solver, {:.1} ms", counted(self.questions, "question"), self.time.as_secs_f64() * 1e3)
    }
}

impl fmt::Display for How {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            How::Induction { steps: 1 } => f.write_str("by induction"),
            How::Induction { steps } => write!(f, "by induction over {steps} steps"),
            How::Invariant { never } => {
                write!(f, "by induction, with what can't be reached: {}", counted(never.len(), "combination"))
            }
            How::Reached(run) => write!(f, "by a run of {}", counted(run.events.len(), "event")),
        }
    }
}

impl fmt::Display for Case {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = &self.what;
        match self.after {
            Some(0) => write!(f, "it says something: {what} comes about at power-up"),
            Some(n) => write!(f, "it says something: {what} comes about after {}", counted(n, "event")),
            None => write!(f, "whether it says anything is open: no run was found in which {what} comes about"),
        }
    }
}

fn counted(n: usize, one: &str) -> String {
    format!("{n} {one}{}", if n == 1 { "" } else { "s" })
}

fn level(high: bool) -> &'static str {
    if high { "high" } else { "low" }
}

impl Sequence {
    /// The run: what the board does, what the contacts show, and why the conditions are what they are in the end.
    pub(super) fn body(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for a in &self.assumptions {
            writeln!(f, "  assuming {a}")?;
        }
        writeln!(f)?;
        f.write_str(&self.waveform.text())?;
        writeln!(f)?;
        let levels: Vec<String> =
            self.levels.iter().map(|(l, name, high)| format!("contact {l} {name} {}", level(*high))).collect();
        write!(f, "  on  power comes on")?;
        if !levels.is_empty() {
            write!(f, " with {}", levels.join(", "))?;
        }
        if !self.start.is_empty() {
            let start: Vec<String> =
                self.start.iter().map(|(name, high)| format!("`{name}` {}", level(*high))).collect();
            write!(f, "; it then holds {}", start.join(", "))?;
        }
        writeln!(f)?;
        for (i, event) in self.events.iter().enumerate() {
            let changes: Vec<String> = event
                .changes
                .iter()
                .map(|(l, name, high)| format!("contact {l} {name} goes {}", level(*high)))
                .collect();
            writeln!(f, "{:>4}  {}", i + 1, changes.join(", "))?;
        }
        if !self.chances.is_empty() {
            writeln!(f, "\n  It rests on what nobody knows, and so counts against it:")?;
            for (step, chance) in &self.chances {
                writeln!(f, "    - step {step}: {chance}")?;
            }
        }
        writeln!(f)?;
        let then = if self.events.is_empty() {
            "At power-up:".to_owned()
        } else {
            format!("After step {}:", self.events.len())
        };
        writeln!(f, "  {then}")?;
        for c in &self.conditions {
            let now = if c.holds { "holds" } else { "does not hold" };
            match c.before {
                Some(before) if before != c.holds => {
                    writeln!(f, "    {} {now}, and {} before", c.words, if before { "did" } else { "did not" })?;
                }
                _ => writeln!(f, "    {} {now}", c.words)?,
            }
            f.write_str(&causes(&c.why, "      "))?;
        }
        let length = if self.shortest { "No shorter sequence does it." } else { "A shorter sequence may exist." };
        writeln!(f, "  {length}")
    }
}

impl fmt::Display for Sequence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Refuted: {}, in `{}`.", self.property, self.circuit)?;
        self.body(f)
    }
}

impl fmt::Debug for Broken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // `fn main` and `#[test]` print errors through Debug: a person reads this
        write!(f, "\n{self}")
    }
}

impl fmt::Display for Broken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Broken::Refuted(run) => f.write_str(run.to_string().trim_end()),
            Broken::Unreachable(held) => {
                writeln!(f, "Refuted: {}, in `{}`: no run comes to it.", held.property, held.circuit)?;
                held.rest(f)
            }
            Broken::Vacuous { held, never } => {
                writeln!(
                    f,
                    "Withheld: {}, in `{}`: it holds, but only for want of cases.",
                    held.property, held.circuit
                )?;
                for n in never {
                    writeln!(f, "  never comes about: {n}")?;
                }
                writeln!(f, "  Is the condition the one that was meant, or an assumption too strong?")?;
                held.rest(f)
            }
            Broken::Withheld { hidden, held } => {
                writeln!(
                    f,
                    "Withheld: {}, in `{}`: it holds of settled levels, but it hangs on what delays decide.",
                    held.property, held.circuit
                )?;
                for h in hidden {
                    writeln!(f, "  {h}")?;
                }
                let calls: Vec<String> = hidden.iter().map(|h| format!(".acknowledging({:?})", h.call)).collect();
                write!(
                    f,
                    "  Look at each with a scope or in the schematic: does the property hold whichever way it goes? If so, say \
                     so: {}",
                    calls.join("")
                )
            }
            Broken::Undecided { property, circuit, tried, searched } => {
                write!(f, "Undecided: {property}, in `{circuit}`.")?;
                for t in tried {
                    write!(f, "\n  tried: {t}")?;
                }
                if let Some(n) = searched {
                    write!(f, "\n  reached: no run of up to {} decides it", counted(*n, "event"))?;
                }
                write!(
                    f,
                    "\n  what would help: a deeper search, more time, or an assumption about what the board never does"
                )
            }
            Broken::Restless { property, circuit, way } => write!(
                f,
                "Undecided: {property}, in `{circuit}`: it does not come to rest {way}.\n  what swings for ever has no settled \
                 level: break the loop, or say with an assumption that the board never does this"
            ),
            Broken::Refused(why) => write!(f, "Not asked: {why}"),
        }
    }
}
