//! The words of a netlist, each with its line.
use super::{NetlistError, NetlistProblem, wrong};

/// A word.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Word {
    Name(String),
    /// `1'b0`, `1'b1`, `1'bz`.
    Bit(char),
    /// A character, or `<=`.
    Sign(&'static str),
    /// The one-nanosecond delay.
    Delay,
    /// The pins of a port, from the comment beside it.
    Place(Vec<u16>),
    End,
}

impl std::fmt::Display for Word {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Word::Name(name) => write!(f, "`{name}`"),
            Word::Bit(bit) => write!(f, "`1'b{bit}`"),
            Word::Sign(sign) => write!(f, "`{sign}`"),
            Word::Delay => f.write_str("`#1`"),
            Word::Place(_) => f.write_str("the comment of a port"),
            Word::End => f.write_str("the end of the file"),
        }
    }
}

const SIGNS: [&str; 13] = ["<=", "(", ")", ",", ";", "=", "~", "&", "|", "?", ":", "@", "*"];

const TIMESCALE: &str = "`timescale 1 ns / 1 ps";

pub(super) fn tokens(text: &str) -> Result<Vec<(Word, u32)>, NetlistError> {
    let mut words = Vec::new();
    let mut number = 0u32;
    for line in text.lines() {
        number += 1;
        let (code, comment) = match line.split_once("//") {
            Some((code, comment)) => (code, Some(comment.trim())),
            None => (line, None),
        };
        if code.trim() != TIMESCALE {
            one_line(code, number, &mut words)?;
        }
        if let Some(pins) = comment.filter(|_| !code.trim().is_empty()).and_then(place) {
            words.push((Word::Place(pins), number));
        }
    }
    words.push((Word::End, number));
    Ok(words)
}

fn one_line(code: &str, number: u32, words: &mut Vec<(Word, u32)>) -> Result<(), NetlistError> {
    let mut rest = code.trim_start();
    while let Some(c) = rest.chars().next() {
        let is_name = |c: char| c.is_ascii_alphanumeric() || c == '_';
        let (word, length) = if let Some(bit) = rest.strip_prefix("1'b").and_then(|r| r.chars().next()) {
            if !matches!(bit, '0' | '1' | 'z') {
                return Err(wrong(number, NetlistProblem::Character(bit)));
            }
            (Word::Bit(bit), 4)
        } else if c.is_ascii_alphabetic() {
            let end = rest.find(|c| !is_name(c)).unwrap_or(rest.len());
            let (name, _) = rest.split_at(end);
            (Word::Name(name.to_owned()), end)
        } else if let Some(after) = rest.strip_prefix("#1")
            && !after.starts_with(is_name)
        {
            (Word::Delay, 2)
        } else if let Some(sign) = SIGNS.iter().find(|s| rest.starts_with(**s)) {
            (Word::Sign(sign), sign.len())
        } else {
            return Err(wrong(number, NetlistProblem::Character(c)));
        };
        words.push((word, number));
        rest = rest.split_at_checked(length).map_or("", |(_, after)| after).trim_start();
    }
    Ok(())
}

/// `contact A3, pin 17`, `contact 1, pins 1 and 13`.
fn place(comment: &str) -> Option<Vec<u16>> {
    let (_, pins) = comment.strip_prefix("contact ")?.rsplit_once(", pin")?;
    let pins = pins.strip_prefix('s').unwrap_or(pins);
    pins.split(" and ").map(|p| p.trim().parse().ok()).collect()
}
