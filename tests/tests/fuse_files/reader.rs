//! A reader of fuse files written from the published description of the format alone (JEDEC Standard No. 3-A as restated
//! in manuals of device programmers), without a line of the product's reader.
use std::collections::BTreeMap;

/// What an ordinary programmer takes from a fuse file.
#[derive(Debug, Default)]
pub(crate) struct Plain {
    pub(crate) design: String,
    pub(crate) notes: Vec<String>,
    pub(crate) fuses: Vec<bool>,
    pub(crate) security: Option<bool>,
    pub(crate) pins: Option<usize>,
    pub(crate) vectors: BTreeMap<u32, String>,
    /// The longest line between line ends.
    pub(crate) longest_line: usize,
}

/// Reads strictly: whatever a strict programmer could stumble over is an error.
pub(crate) fn read(bytes: &[u8]) -> Result<Plain, String> {
    let (first, rest) = bytes.split_first().ok_or("empty")?;
    if *first != 2 {
        return Err("STX is not the first character".into());
    }
    let end = rest.iter().position(|b| *b == 3).ok_or("no ETX")?;
    let text = &rest[..end];
    let sum = bytes[..end + 2].iter().fold(0u32, |s, b| s + u32::from(*b)) & 0xFFFF;
    let tail = std::str::from_utf8(&rest[end + 1..]).map_err(|e| e.to_string())?;
    if tail.trim_end() != format!("{sum:04X}") {
        return Err(format!("transmission checksum `{tail}` for {sum:04X}"));
    }
    if let Some(odd) = text.iter().find(|b| !(32..127).contains(*b) && **b != 13 && **b != 10) {
        return Err(format!("character {odd:02X}"));
    }
    let text = std::str::from_utf8(text).map_err(|e| e.to_string())?;
    let mut plain = Plain::default();
    for line in text.split("\r\n") {
        if line.contains(['\r', '\n']) {
            return Err(format!("a lone CR or LF in `{line}`"));
        }
        plain.longest_line = plain.longest_line.max(line.len());
    }
    let mut fields = text.split('*');
    plain.design = fields.next().ok_or("no design specification")?.to_owned();
    let (mut count, mut default, mut stated) = (None, None, None);
    let (mut listed, mut most, mut late) = (BTreeMap::new(), None, false);
    let mut last = "";
    for field in fields {
        let field = field.trim_start_matches([' ', '\r', '\n']);
        last = field;
        let number = |s: &str| s.parse::<usize>().map_err(|e| format!("`{field}`: {e}"));
        match field.as_bytes() {
            [] => {}
            [b'Q', b'F', ..] => count = Some(number(&field[2..])?),
            [b'Q', b'P', ..] => plain.pins = Some(number(&field[2..])?),
            [b'Q', b'V', ..] => most = Some(number(&field[2..])?),
            [b'N', ..] => plain.notes.push(field[1..].trim().to_owned()),
            [b'F', state] => default = Some(*state == b'1'),
            [b'G', state] => plain.security = Some(*state == b'1'),
            [b'L', ..] => {
                let (at, states) = field[1..].split_once([' ', '\r', '\n']).ok_or("no space in an L field")?;
                for (i, state) in states.bytes().filter(|b| !b" \r\n".contains(b)).enumerate() {
                    match state {
                        b'0' | b'1' => listed.insert(number(at)? + i, state == b'1'),
                        _ => return Err(format!("fuse state `{state}`")),
                    };
                }
            }
            [b'C', ..] => stated = Some(field[1..].to_owned()),
            [b'V', ..] => {
                let (at, conditions) = field[1..].split_once(' ').ok_or("no space in a V field")?;
                plain.vectors.insert(at.parse().map_err(|e| format!("`{field}`: {e}"))?, conditions.into());
            }
            _ => return Err(format!("field `{field}`")),
        }
        match field.as_bytes() {
            [b'Q', ..] if late => return Err(format!("`{field}` stands behind fields that need it")),
            [b'L' | b'F' | b'G' | b'C' | b'V', ..] => late = true,
            _ => {}
        }
    }
    if !last.trim().is_empty() {
        return Err(format!("`{last}` is not ended"));
    }
    let count = count.ok_or("no QF")?;
    for fuse in 0..count {
        plain.fuses.push(listed.get(&fuse).copied().or(default).ok_or(format!("fuse {fuse} is not stated"))?);
    }
    if listed.keys().any(|f| *f >= count) {
        return Err("a fuse beyond the last".into());
    }
    let mut sum = 0u32;
    for word in plain.fuses.chunks(8) {
        sum += word.iter().enumerate().map(|(bit, state)| u32::from(*state) << bit).sum::<u32>();
    }
    if stated != Some(format!("{:04X}", sum & 0xFFFF)) {
        return Err(format!("fuse checksum {stated:?} for {:04X}", sum & 0xFFFF));
    }
    if plain.vectors.values().any(|v| Some(v.len()) != plain.pins) || most.is_some_and(|m| m < plain.vectors.len()) {
        return Err("vectors that don't agree with QP or QV".into());
    }
    Ok(plain)
}
