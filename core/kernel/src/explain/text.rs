//! An explanation as plain text, for a terminal without colour.
use std::fmt::Write;

use crate::circuit::{Label, Origin};
use crate::simulate::Shown;

use super::cause::Cause;
use super::probe::{Place, Probe};
use super::words::{level, list};
use super::{Explanation, Row, Side, Waveform};

impl Explanation {
    /// The explanation as text, for a terminal or a log.
    pub fn text(&self) -> String {
        let mut out = String::new();
        // writing to a string can't fail
        let _ = self.write(&mut out);
        out
    }

    fn write(&self, f: &mut String) -> std::fmt::Result {
        self.write_head(f)?;
        self.write_run(f)
    }

    /// What comes first: the verdict, what differs in a sentence for each group of contacts, and what decides who is right.
    pub fn head(&self) -> String {
        let mut out = String::new();
        // writing to a string can't fail
        let _ = self.write_head(&mut out);
        out
    }

    /// The run: its picture, its steps, where to put the probe, and the reasons.
    pub fn run(&self) -> String {
        let mut out = String::new();
        let _ = self.write_run(&mut out);
        out
    }

    fn write_head(&self, f: &mut String) -> std::fmt::Result {
        let what = if self.only_pulses { "does not pulse as" } else { "differs from" };
        writeln!(f, "Refuted: the replacement `{}` {what} the original `{}`.", self.replacement, self.original)?;
        for a in &self.assumptions {
            writeln!(f, "  assuming {a}")?;
        }
        for p in &self.probes {
            writeln!(f, "  {}", self.sentence(p))?;
        }
        let decisions: Vec<_> = self.probes.iter().filter_map(|p| p.decision.as_ref()).collect();
        if !decisions.is_empty() {
            writeln!(f)?;
            writeln!(f, "  Who is right?")?;
        }
        decisions.iter().flat_map(|d| d.lines()).try_for_each(|line| writeln!(f, "    {line}"))?;
        writeln!(f)
    }

    /// What differs at the contacts of a probe, in a sentence.
    fn sentence(&self, p: &Probe) -> String {
        let contacts: Vec<String> = p.places.iter().map(|at| format!("contact {} {}", at.label, at.name)).collect();
        let contacts = list(&contacts);
        let when = match self.events.len() {
            0 => "From power-up on".to_owned(),
            n => format!("At step {n}"),
        };
        let has_steps = !self.events.is_empty();
        format!(
            "{when}, at {contacts}: the original is {}; the replacement is {}.",
            p.expected(has_steps),
            sequence(&p.replacement, has_steps)
        )
    }

    fn write_run(&self, f: &mut String) -> std::fmt::Result {
        if let Some(begins) = &self.begins {
            writeln!(f, "{begins}")?;
            writeln!(f)?;
        }
        f.push_str(&self.waveform.text());
        writeln!(f)?;
        writeln!(f, "  on  {}", self.power_up())?;
        for (i, event) in self.events.iter().enumerate() {
            let changes: Vec<_> = event
                .changes
                .iter()
                .map(|(label, name, high)| format!("contact {label} {name} goes {}", level(*high)))
                .collect();
            writeln!(f, "{:>4}  {}", i + 1, changes.join(", "))?;
        }
        if !self.chances.is_empty() {
            writeln!(f)?;
            writeln!(f, "  It rests on what nobody knows of the replacement, and so counts against it:")?;
            for chance in &self.chances {
                writeln!(f, "    - {chance}")?;
            }
        }
        for p in &self.probes {
            self.probe(f, p)?;
        }
        writeln!(f)?;
        if let Some(rest) = self.rest() {
            writeln!(f, "  {rest}")?;
        }
        let length = if self.shortest { "No shorter sequence shows it." } else { "A shorter sequence may exist." };
        if self.orders.is_empty() {
            return write!(f, "  Whatever state the original powers up in, it can't show this. {length}");
        }
        writeln!(f, "  Changes come in this order here, by typical delays or as it was acknowledged:")?;
        for order in &self.orders {
            writeln!(f, "    {order}")?;
        }
        write!(
            f,
            "  So, whatever state the original powers up in, it can't show this; where they come in another order, it may. {length}"
        )
    }

    /// How it begins: the levels that the board must have by then, and what the replacement holds.
    pub fn power_up(&self) -> String {
        let levels: Vec<_> =
            self.levels.iter().map(|(label, name, high)| format!("contact {label} {name} {}", level(*high))).collect();
        let mut text = "power comes on".to_owned();
        if !levels.is_empty() {
            text.push_str(&format!(" with {}", levels.join(", ")));
        }
        if !self.start.is_empty() {
            let start: Vec<_> = self.start.iter().map(|(name, high)| format!("`{name}` {}", level(*high))).collect();
            text.push_str(&format!("; the replacement then holds {}", start.join(", ")));
        }
        text
    }

    /// What does not matter, in a sentence.
    pub fn rest(&self) -> Option<&'static str> {
        match (self.any_level.is_empty(), self.any_bit.is_empty()) {
            (true, true) => None,
            (false, true) => Some("All other contacts may be at any level."),
            (true, false) => Some("What else the replacement holds at power-up does not matter."),
            (false, false) => Some(
                "All other contacts may be at any level, and what else the replacement holds at power-up does not matter.",
            ),
        }
    }

    fn probe(&self, f: &mut String, p: &Probe) -> std::fmt::Result {
        let at = match self.events.last() {
            None => "before power comes on".to_owned(),
            Some(last) => {
                let changes: Vec<_> = last
                    .changes
                    .iter()
                    .map(|(label, name, high)| format!("contact {label} {name} goes {}", level(*high)))
                    .collect();
                format!("at step {}, when {}", self.events.len(), changes.join(" and "))
            }
        };
        writeln!(f)?;
        writeln!(f, "  Put the probe, {at}, on")?;
        for x in &p.places {
            writeln!(f, "    {}", place(x))?;
        }
        writeln!(f, "  and expect:")?;
        writeln!(f, "    the original is     {}", p.expected(!self.events.is_empty()))?;
        writeln!(f, "    the replacement is  {}", sequence(&p.replacement, !self.events.is_empty()))?;
        let first = p.places.first().map(|x| format!("contact {} {}", x.label, x.name)).unwrap_or_default();
        for (side, why) in [("original", &p.original_why), ("replacement", &p.replacement_why)] {
            if !why.is_empty() {
                writeln!(f, "  Why, in the {side}, at {first}:")?;
                for cause in why {
                    writeln!(f, "    {}", link(cause))?;
                }
            }
        }
        Ok(())
    }
}

/// A place with its contact and name, as the bench finds it.
pub fn place(p: &Place) -> String {
    let mut pins: Vec<String> = p.original.iter().map(|pin| format!("original: {pin}")).collect();
    pins.extend(p.replacement.iter().map(|pin| format!("replacement: {pin}")));
    let pins = if pins.is_empty() { String::new() } else { format!(" ({})", pins.join("; ")) };
    format!("contact {} {}{pins}", p.label, p.name)
}

/// A chain of cause, one line a link.
pub fn causes(chain: &[Cause], indent: &str) -> String {
    chain.iter().map(|cause| format!("{indent}{}\n", link(cause))).collect()
}

fn link(cause: &Cause) -> String {
    let indent = "  ".repeat(cause.depth);
    let at = match &cause.origin {
        Origin::Nowhere => String::new(),
        origin => format!("  [{origin}]"),
    };
    format!("{indent}- {}{at}", cause.text)
}

/// What a contact showed, in words: over the last step, or at power-up if there was none.
pub fn sequence(of: &[Shown], has_steps: bool) -> String {
    match of {
        [] => "nothing".to_owned(),
        [only] if has_steps => format!("{only} before and after the step"),
        [only] => only.to_string(),
        [first, rest @ ..] => {
            let rest: Vec<_> = rest.iter().map(Shown::to_string).collect();
            format!("{first} before the step, then {}", rest.join(", then "))
        }
    }
}

fn stroke(of: Shown, either: bool, k: usize) -> char {
    match of {
        _ if either => '═',
        Shown::High => '▔',
        Shown::Low => '▁',
        Shown::Floating => '╌',
        // a weak level is a broken line
        Shown::PulledHigh => {
            if k.is_multiple_of(2) {
                '▔'
            } else {
                ' '
            }
        }
        Shown::PulledLow => {
            if k.is_multiple_of(2) {
                '▁'
            } else {
                ' '
            }
        }
    }
}

impl Waveform {
    /// The waveform as lines of text.
    pub fn text(&self) -> String {
        let width = match self.columns.len() {
            0..=10 => 6,
            11..=20 => 4,
            _ => 3,
        };
        let name = |r: &Row| format!("{} {}", r.label, r.name);
        let longest = self.rows.iter().map(|r| name(r).chars().count()).max().unwrap_or(0);
        let mut out = String::new();
        let mut head = format!("  {:longest$}              ", "step");
        let mut before = None;
        for c in &self.columns {
            let text = match (c.step, before == Some(c.step)) {
                (_, true) => String::new(),
                (0, _) => "on".to_owned(),
                (n, _) => n.to_string(),
            };
            before = Some(c.step);
            head.push_str(&format!(" {text:<w$}", w = width - 1));
        }
        out.push_str(head.trim_end());
        out.push('\n');
        let mut last: Option<&Label> = None;
        for r in &self.rows {
            let side = match r.side {
                Side::Board => "board",
                Side::Original => "original",
                Side::Replacement => "replacement",
                Side::Card => "card",
                Side::Both => "both",
            };
            let called = if last == Some(&r.label) { String::new() } else { name(r) };
            last = Some(&r.label);
            let _ = write!(out, "  {called:longest$}  {side:<11} ");
            for (k, &now) in r.shown.iter().enumerate() {
                let before = k.checked_sub(1).and_then(|b| r.shown.get(b)).copied().unwrap_or(now);
                let either = r.either.get(k) == Some(&true);
                out.push(match (before, now) {
                    (a, b) if a == b || either => stroke(now, either, 0),
                    (Shown::Low, Shown::High) => '╱',
                    (Shown::High, Shown::Low) => '╲',
                    _ => '│',
                });
                out.extend((1..width).map(|i| stroke(now, either, i)));
            }
            if r.differs.contains(&true) {
                out.push_str("  ◂ differs");
            }
            if !r.pins.is_empty() {
                let _ = write!(out, "  {}", r.pins.join(", "));
            }
            out.push('\n');
        }
        let weak = self.rows.iter().flat_map(|r| &r.shown).any(|s| matches!(s, Shown::PulledHigh | Shown::PulledLow));
        let floats = self.rows.iter().flat_map(|r| &r.shown).any(|&s| s == Shown::Floating);
        let mut legend = "▔ high  ▁ low".to_owned();
        if floats {
            legend.push_str("  ╌ not driven");
        }
        if self.rows.iter().any(|r| r.either.contains(&true)) {
            legend.push_str("  ═ high or low");
        }
        if weak {
            legend.push_str("  ▔ ▔ or ▁ ▁ held by a resistor only");
        }
        let _ = writeln!(out, "  {:longest$}              {legend}", "");
        out
    }
}
