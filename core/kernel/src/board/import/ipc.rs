//! IPC-D-356A, the netlist for the electrical test of bare boards: fixed columns, one record for each pad (from memory;
//! the standard is IPC's).
//!
//! | columns | what |
//! |---|---|
//! | 1 to 3 | the kind of record: `317` a pad with a hole, `327` one without, `999` the end; `C` and `P` lines are remarks and parameters |
//! | 4 to 17 | the net; `N/C` if the pad is joined to nothing |
//! | 21 to 26 | the reference; `VIA` for a hole that no part sits in |
//! | 27 | a hyphen |
//! | 28 to 31 | the pin |
//!
//! A net whose name is longer than its columns has another one there, and `P  NNAME…` lines say which.
use std::collections::HashMap;
use std::sync::Arc;

use super::{ImportedPin, NetlistError, at, form, text, too_many};

/// Pads of parts. Other records hold test points, board edges and conductors.
const PADS: [&str; 2] = ["317", "327"];

pub(super) fn read(file: &str, content: &[u8]) -> Result<Vec<ImportedPin>, NetlistError> {
    let text = text(file, content)?;
    let name: Arc<str> = file.into();
    let mut long: HashMap<&str, &str> = HashMap::new();
    for line in text.lines() {
        let mut words = line.strip_prefix('P').unwrap_or_default().split_whitespace();
        if let (Some(alias), Some(real)) = (words.next().filter(|w| w.starts_with("NNAME")), words.next()) {
            long.insert(alias, real);
        }
    }
    let (mut pins, mut records, mut ended) = (Vec::new(), 0, false);
    for (line, record) in text.lines().enumerate().map(|(at, record)| (at + 1, record)) {
        if ended || record.trim().is_empty() || record.starts_with(['C', 'P']) {
            continue;
        }
        let kind = columns(record, 1, 3);
        if kind.len() != 3 || !kind.bytes().all(|b| b.is_ascii_digit()) {
            let wrong = "the line starts with no kind of record of IPC-D-356A, such as 317";
            return Err(form(file, line, wrong, "is this the right file, and in this format?"));
        }
        records += 1;
        ended = kind == "999";
        if !PADS.contains(&kind) {
            continue;
        }
        let (net, reference, pin) = (columns(record, 4, 17), columns(record, 21, 26), columns(record, 28, 31));
        if reference.eq_ignore_ascii_case("VIA") || reference.is_empty() && pin.is_empty() {
            continue;
        }
        if net.is_empty() || reference.is_empty() || pin.is_empty() {
            let wrong = "the record lacks its net, its reference or its pin";
            let mend = "they stand in columns 4 to 17, 21 to 26 and 28 to 31: write the file again from the layout";
            return Err(form(file, line, wrong, mend));
        }
        too_many(file, line, pins.len())?;
        let net = long.get(net).copied().unwrap_or(net);
        pins.push(ImportedPin {
            reference: reference.to_owned(),
            part: None,
            pin: pin.to_owned(),
            net: if net.eq_ignore_ascii_case("N/C") { "open".to_owned() } else { net.to_owned() },
            is_contact: false,
            origin: at(&name, line),
        });
    }
    if records == 0 {
        return Err(form(file, 1, "the file has no records", "is this the right file?"));
    }
    Ok(pins)
}

/// The text in these columns, counted from 1.
fn columns(record: &str, from: usize, to: usize) -> &str {
    let place = |column: usize| record.char_indices().nth(column).map_or(record.len(), |(at, _)| at);
    record.get(place(from.saturating_sub(1))..place(to)).unwrap_or_default().trim()
}
