//! Writing a fuse file that programmers' own readers accept.
use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::frame::{ETX, STX, transmission_checksum};
use super::fuses::checksum;
use super::{FuseFile, UserData};

/// The longest L field, in fuses.
const LONGEST_LINE: usize = 64;

/// The bytes of a fuse file: every field in a line of its own, lines ended by CR LF, value fields first, fuses row by
/// row with their notes, both checksums. Rows that are all in the default state 0 are left to the F field.
pub fn write(file: &FuseFile) -> Vec<u8> {
    let mut out = Writer::default();
    out.field("", &file.design);
    if let Some(pins) = file.pins {
        out.field("QP", &pins.to_string());
    }
    if !file.fuses.is_empty() {
        out.field("QF", &file.fuses.len().to_string());
    }
    if !file.vectors.is_empty() {
        out.field("QV", &file.vectors.len().to_string());
    }
    for note in file.notes.iter().filter(|n| n.before.is_none()) {
        out.note(&note.text);
    }
    if !file.fuses.is_empty() {
        out.field("G", bit(file.security));
        out.field("F", "0");
    }
    if let Some(level) = file.default_level {
        out.field("X", bit(level));
    }
    out.rows(file);
    if !file.electrical.is_empty() {
        out.field("E", &bits(&file.electrical));
    }
    if !file.fuses.is_empty() || !file.electrical.is_empty() {
        let sum = file.fuses.checksum().wrapping_add(checksum(&file.electrical));
        out.field("C", &format!("{sum:04X}"));
    }
    match &file.user {
        Some(UserData::Bits(states)) => out.field("U", &bits(states)),
        Some(UserData::Hex(digits)) => out.field("UH", digits),
        Some(UserData::Text(text)) => out.field("UA", text),
        None => {}
    }
    if !file.pin_order.is_empty() {
        let pins: Vec<String> = file.pin_order.iter().map(u16::to_string).collect();
        out.field("P ", &pins.join(" "));
    }
    for vector in &file.vectors {
        out.field("V", &format!("{:04} {}", vector.number, vector.conditions));
    }
    out.close()
}

#[derive(Default)]
struct Writer(String);

impl Writer {
    fn field(&mut self, identifier: &str, text: &str) {
        self.0.push_str(identifier);
        for c in text.chars() {
            match c {
                '\n' => self.0.push_str("\r\n"),
                '*' => self.0.push('?'),
                ' '..='~' => self.0.push(c),
                _ => self.0.push('?'),
            }
        }
        self.0.push_str("*\r\n");
    }

    fn note(&mut self, text: &str) {
        self.field("N ", text);
    }

    fn rows(&mut self, file: &FuseFile) {
        let states = file.fuses.states();
        let placed: BTreeSet<usize> = file.notes.iter().filter_map(|n| n.before).collect();
        let starts = file.lines.iter().chain(&placed).copied().chain([0]).filter(|&s| s < states.len());
        let starts: BTreeSet<usize> = starts.collect();
        let ends = starts.iter().skip(1).copied().chain([states.len()]);
        let digits = states.len().saturating_sub(1).to_string().len().max(4);
        for (&start, end) in starts.iter().zip(ends) {
            for note in file.notes.iter().filter(|n| n.before == Some(start)) {
                self.note(&note.text);
            }
            let line = states.get(start..end).unwrap_or_default();
            for (first, row) in (start..).step_by(LONGEST_LINE).zip(line.chunks(LONGEST_LINE)) {
                let noted = first == start && placed.contains(&start);
                if noted || row.contains(&true) {
                    self.field("L", &format!("{first:0digits$} {}", bits(row)));
                }
            }
        }
        // a note about a fuse that isn't there is still a note
        for note in file.notes.iter().filter(|n| n.before.is_some_and(|fuse| fuse >= states.len())) {
            self.note(&note.text);
        }
    }

    fn close(self) -> Vec<u8> {
        let mut bytes = vec![STX];
        bytes.extend_from_slice(self.0.as_bytes());
        bytes.push(ETX);
        let mut sum = String::new();
        // writing to a string can't fail
        let _ = write!(sum, "{:04X}\r\n", transmission_checksum(&bytes));
        bytes.extend_from_slice(sum.as_bytes());
        bytes
    }
}

fn bit(state: bool) -> &'static str {
    if state { "1" } else { "0" }
}

fn bits(states: &[bool]) -> String {
    states.iter().map(|&s| if s { '1' } else { '0' }).collect()
}
