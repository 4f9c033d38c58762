//! What the readings come to, for a person.
use std::fmt::{self, Display, Formatter};

use super::settle::Reason;
use super::{Contradiction, Narrowed, Next, Study};

/// Nets, readings and types that are shown one by one.
const SHOWN: usize = 24;

impl Display for Study {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let points: usize = self.nets.iter().map(|net| net.points.len()).sum();
        writeln!(
            f,
            "{}: {} readings, {} nets of {points} points; these joints need {} readings at least",
            self.file,
            self.readings,
            self.nets.len(),
            self.joints
        )?;
        for contradiction in &self.contradictions {
            writeln!(f, "  {contradiction}")?;
        }
        if !self.overruled.is_empty() {
            writeln!(f, "  outweighed by others, so they count for nothing: lines {}", lines(&self.overruled))?;
        }
        for both in &self.both_ways {
            writeln!(f, "  read both ways, and decided by the others: lines {}", lines(both))?;
        }
        for confirmed in &self.confirmed {
            writeln!(f, "  odd, and measured three times: {confirmed}")?;
        }
        for narrowed in &self.narrowed {
            writeln!(f, "  {narrowed}")?;
        }
        some(f, "not settled, pins", self.open_pins.iter().map(ToString::to_string).collect())?;
        some(f, "not settled, neighbours", self.open_pairs.iter().map(|(a, b)| format!("{a}-{b}")).collect())?;
        if self.is_settled() {
            writeln!(f, "settled: every pin, and neighbours apart. On trust:")?;
            self.on_trust.iter().try_for_each(|trust| writeln!(f, "  {trust}"))?;
        } else if !self.next.is_empty() {
            writeln!(f, "measure next, {} readings:", self.next.len())?;
            for next in self.next.iter().take(SHOWN) {
                writeln!(f, "  {next}")?;
            }
            if self.next.len() > SHOWN {
                writeln!(f, "  and {} more", self.next.len() - SHOWN)?;
            }
        }
        writeln!(f, "before the board goes back:")?;
        self.before_it_goes.iter().try_for_each(|take| writeln!(f, "  {take}"))
    }
}

fn some(f: &mut Formatter<'_>, what: &str, all: Vec<String>) -> fmt::Result {
    if all.is_empty() {
        return Ok(());
    }
    let shown = all.get(..SHOWN.min(all.len())).unwrap_or_default().join(", ");
    let rest = all.len().saturating_sub(SHOWN);
    let rest = if rest > 0 { format!(" and {rest} more") } else { String::new() };
    writeln!(f, "  {what} ({}): {shown}{rest}", all.len())
}

fn lines(all: &[u64]) -> String {
    let mut shown: Vec<String> = all.iter().take(SHOWN).map(ToString::to_string).collect();
    if all.len() > SHOWN {
        shown.push("…".to_owned());
    }
    shown.join(", ")
}

/// `line 8 says`, `lines 6, 7 say`.
fn say(all: &[u64]) -> String {
    if all.len() == 1 { format!("line {} says", lines(all)) } else { format!("lines {} say", lines(all)) }
}

impl Display for Contradiction {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str("contradiction: ")?;
        match (self.joined.is_empty(), self.apart.is_empty()) {
            (false, false) => {
                write!(f, "{} joined, {} apart", say(&self.joined), say(&self.apart))?;
            }
            (false, true) => write!(f, "{} joined", say(&self.joined))?,
            (true, _) => write!(f, "lines {}", lines(&self.apart))?,
        }
        for part in &self.parts {
            write!(f, "; {part}")?;
        }
        write!(f, "; measure {} to {} again", self.from, self.to)
    }
}

impl Display for Next {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let why = match self.reason {
            Reason::Contradiction => "decides a contradiction",
            Reason::Supply => "a supply pin",
            Reason::Pin => "nobody has measured it; write a row for each point that is joined, then this one",
            Reason::Once => "found apart once, and nothing else says so",
            Reason::NoSource => "nothing drives this net; write a row for each point that is joined, then this one",
            Reason::Neighbours => "neighbours may be bridged",
        };
        write!(f, "{},{}  {why}", self.from, self.to)
    }
}

impl Display for Narrowed {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {} pins", self.reference, self.pins)?;
        if !self.supplies.is_empty() {
            write!(f, " ({})", self.supplies.join(", "))?;
        }
        if !self.excluded.is_empty() {
            let shown = self.excluded.get(..SHOWN.min(self.excluded.len())).unwrap_or_default().join(", ");
            let rest = if self.excluded.len() > SHOWN { ", …" } else { "" };
            write!(f, ", by what was captured none of {} ({shown}{rest})", self.excluded.len())?;
        }
        match self.types.len() {
            0 => write!(f, ": none of {} types of the library suits", self.of),
            left => {
                let shown = self.types.get(..SHOWN.min(left)).unwrap_or_default().join(", ");
                let rest = if left > SHOWN { ", …" } else { "" };
                write!(
                    f,
                    ": {left} of {} types suit, those that drive most nets without a source first: {shown}{rest}",
                    self.of
                )
            }
        }
    }
}
