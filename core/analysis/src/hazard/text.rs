//! Hazards in words.
use std::fmt;

use super::{Cause, Hazard, Kind, Margin, Role};

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Cause::Contact(name) => write!(f, "`{name}` changes"),
            Cause::Load(name) => write!(f, "`{name}` and the registers of its clock load"),
            Cause::Reset(name) => write!(f, "`{name}` and what is reset with it change"),
        }
    }
}

impl fmt::Display for Hazard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let where_ = if self.on_device { "on the device" } else { "on the original" };
        let names = list(&self.signals);
        let many = self.signals.len() > 1;
        let moving = if self.moving.is_empty() { "both come from it".to_owned() } else { list(&self.moving) };
        match (self.kind, self.role) {
            (Kind::Logic, role) => write!(
                f,
                "logic hazard {where_}: {} of {names} may shake while {}: no single {} keeps it; {}",
                what(role),
                self.cause,
                if self.on_device { "product term" } else { "gate" },
                if self.on_device {
                    "a term that bridges the change is missing"
                } else {
                    "compare what the board made of it"
                }
            ),
            (Kind::Function, Role::Latch) => {
                write!(
                    f,
                    "function hazard {where_}: while {}, the gate of {names} closes as the data moves ({moving}): {} the right level only if the gate is faster",
                    self.cause,
                    if many { "they keep" } else { "it keeps" }
                )?;
                match &self.margin {
                    Some(margin) => write!(f, "; {}", margin.words(self.on_device)),
                    None => Ok(()),
                }
            }
            (Kind::Function, role) => write!(
                f,
                "function hazard {where_}: {} of {names} may pulse while {}, as {moving} {} within one step; the delays decide, no term can cure it",
                what(role),
                self.cause,
                if self.moving.len() == 1 { "moves with it" } else { "move" }
            ),
        }
    }
}

impl Margin {
    fn words(self, on_device: bool) -> String {
        let unit = if on_device { "macrocell" } else { "part" };
        let range = |(few, many): (usize, usize)| {
            let plural = if many == 1 { "" } else { "s" };
            if few == many { format!("{many} {unit}{plural}") } else { format!("{few} to {many} {unit}s") }
        };
        let ahead = match self.moves.0.checked_sub(self.closes.1) {
            Some(0) => "both take as many, so nothing but unequal delays keeps it: measure".to_owned(),
            Some(by) => format!(
                "the gate is ahead by {by} {unit}{}, whose shortest delay must exceed the hold time; few sheets give one",
                if by == 1 { "" } else { "s" }
            ),
            None => "the gate isn't ahead by count: measure".to_owned(),
        };
        format!("the gate closes after {}, the data moves after {}: {ahead}", range(self.closes), range(self.moves))
    }
}

fn what(role: Role) -> &'static str {
    match role {
        Role::Latch => "the level held",
        Role::Clock => "the clock or gate",
        Role::AtOnce => "the clear or preset",
        Role::Enable => "the drive condition",
        Role::Level => "the level",
    }
}

/// `a`, `a` and `b`, `a[0]` to `a[7]` and `b`.
fn list(names: &[String]) -> String {
    let mut runs: Vec<(&str, &str)> = Vec::new();
    for name in names {
        match runs.last_mut() {
            Some((_, last)) if follows(last, name) => *last = name,
            _ => runs.push((name, name)),
        }
    }
    let word = |(first, last): &(&str, &str)| match first == last {
        true => format!("`{first}`"),
        false => format!("`{first}` to `{last}`"),
    };
    let words: Vec<String> = runs.iter().map(word).collect();
    match words.as_slice() {
        [] => "nothing".into(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Whether the two differ only in one number, by one.
fn follows(one: &str, next: &str) -> bool {
    let split = |text: &str| -> Option<(String, u32, String)> {
        let end = text.rfind(|c: char| c.is_ascii_digit())? + 1;
        let (head, tail) = text.split_at_checked(end)?;
        let begin = head.rfind(|c: char| !c.is_ascii_digit()).map_or(0, |i| i + 1);
        let (head, number) = head.split_at_checked(begin)?;
        Some((head.to_owned(), number.parse().ok()?, tail.to_owned()))
    };
    match (split(one), split(next)) {
        (Some((a, n, x)), Some((b, m, y))) => a == b && x == y && n.checked_add(1) == Some(m),
        _ => false,
    }
}
