//! Reads Intel HEX files: Intel, Hexadecimal Object File Format Specification, revision A, 1988.
use std::collections::BTreeMap;

use thiserror::Error;

/// What is wrong with an Intel HEX file.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{file}:{line}: {fault}")]
pub struct HexError {
    /// The file.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// What is wrong in it.
    pub fault: HexFault,
}

/// What is wrong in a line of an Intel HEX file.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum HexFault {
    /// It doesn't begin with a colon.
    #[error(
        "a line of an Intel HEX file starts with a colon: is this another format? A binary file is read with `from_binary`"
    )]
    NoColon,
    /// It has something else than pairs of hexadecimal digits.
    #[error("after the colon come pairs of hexadecimal digits only; `{0}` is none")]
    NoHex(String),
    /// It is shorter or longer than its length byte says.
    #[error(
        "its length byte says {said} bytes of data, but there are {found}: the line is cut short or joined to another"
    )]
    Length {
        /// What the length byte says.
        said: usize,
        /// What is there.
        found: usize,
    },
    /// Its checksum is wrong.
    #[error("its checksum is {found:#04X} and should be {expected:#04X}: the line was damaged; read the part again")]
    Checksum {
        /// What is there.
        found: u8,
        /// What it should be.
        expected: u8,
    },
    /// A type of record that doesn't exist, or has data of the wrong length.
    #[error("record type {0:#04X} is none, or its data have the wrong length")]
    RecordType(u8),
    /// An address given twice with different data.
    #[error("address {0:#X} has two different bytes")]
    Twice(usize),
    /// A line behind the end of the file.
    #[error("there is data behind the end record: two files were joined")]
    AfterEnd,
    /// No end record.
    #[error("the end record (`:00000001FF`) is missing: the file is cut short")]
    NoEnd,
}

/// The bytes of the file by address.
pub(super) fn read(file: &str, text: &str) -> Result<BTreeMap<usize, u8>, HexError> {
    let mut bytes = BTreeMap::new();
    let (mut base, mut ended, mut last) = (0_usize, false, 0);
    for (line, content) in (1..).zip(text.trim_start_matches('\u{feff}').lines()) {
        last = line;
        let at = |fault| HexError { file: file.to_owned(), line, fault };
        let content = content.trim();
        if content.is_empty() {
            continue;
        }
        if ended {
            return Err(at(HexFault::AfterEnd));
        }
        let (kind, offset, data) = record(content).map_err(at)?;
        match (kind, data.as_slice()) {
            (0x00, data) => {
                for (i, &byte) in data.iter().enumerate() {
                    // an address wraps within its segment
                    let address = base + ((offset + i) & 0xFFFF);
                    if bytes.insert(address, byte).is_some_and(|before| before != byte) {
                        return Err(at(HexFault::Twice(address)));
                    }
                }
            }
            (0x01, []) => ended = true,
            (0x02, &[high, low]) => base = usize::from(u16::from_be_bytes([high, low])) << 4,
            (0x04, &[high, low]) => base = usize::from(u16::from_be_bytes([high, low])) << 16,
            // where a program starts: nothing for a memory
            (0x03 | 0x05, &[_, _, _, _]) => {}
            (other, _) => return Err(at(HexFault::RecordType(other))),
        }
    }
    if !ended {
        return Err(HexError { file: file.to_owned(), line: last.max(1), fault: HexFault::NoEnd });
    }
    Ok(bytes)
}

/// Type, offset and data of one line.
fn record(line: &str) -> Result<(u8, usize, Vec<u8>), HexFault> {
    let digits = line.strip_prefix(':').ok_or(HexFault::NoColon)?;
    let mut bytes = Vec::with_capacity(digits.len() / 2);
    for pair in digits.as_bytes().chunks(2) {
        let text = String::from_utf8_lossy(pair).into_owned();
        let is_hex = pair.len() == 2 && pair.iter().all(u8::is_ascii_hexdigit);
        let byte = u8::from_str_radix(&text, 16).ok().filter(|_| is_hex);
        bytes.push(byte.ok_or(HexFault::NoHex(text))?);
    }
    let (said, found) = (bytes.first().copied().map_or(0, usize::from), bytes.len().saturating_sub(5));
    let [_, high, low, kind, data @ .., sum] = bytes.as_slice() else {
        return Err(HexFault::Length { said, found });
    };
    if data.len() != said {
        return Err(HexFault::Length { said, found });
    }
    let total = bytes.iter().rev().skip(1).fold(0_u8, |sum, &byte| sum.wrapping_add(byte));
    let expected = total.wrapping_neg();
    if *sum != expected {
        return Err(HexFault::Checksum { found: *sum, expected });
    }
    Ok((*kind, usize::from(u16::from_be_bytes([*high, *low])), data.to_vec()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The checksum rule of the specification: the sum of all bytes of a record is zero. The record is the one that is
    /// commonly shown with it (common practice, no source).
    const RECORD: &str = ":10010000214601360121470136007EFE09D2190140";

    fn said(text: &str) -> String {
        read("u7.hex", text).map_or_else(|e| e.to_string(), |bytes| format!("{bytes:X?}"))
    }

    #[test]
    fn a_record_has_its_bytes_at_its_address() {
        let bytes = read("u7.hex", &format!("{RECORD}\n:00000001FF\n")).unwrap();
        assert_eq!(bytes.len(), 16);
        assert_eq!((bytes[&0x100], bytes[&0x10F]), (0x21, 0x01));
    }

    #[test]
    fn segments_and_linear_addresses_are_added() {
        assert_eq!(said(":020000021000EC\n:0100000055AA\n:00000001FF"), "{10000: 55}");
        assert_eq!(said(":020000040001F9\n:0100000055AA\n:00000001FF"), "{10000: 55}");
        assert_eq!(said(":02FFFF001122CD\n:00000001FF"), "{0: 22, FFFF: 11}", "an offset wraps");
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        let end = "\n:00000001FF";
        for (text, what) in [
            (format!("{}{end}", RECORD.replace("0140", "0141")), "u7.hex:1: its checksum is 0x41 and should be 0x40"),
            (
                format!("{RECORD}\n:100110002146{end}"),
                "u7.hex:2: its length byte says 16 bytes of data, but there are 1",
            ),
            (RECORD.to_owned(), "u7.hex:1: the end record (`:00000001FF`) is missing"),
            (format!("S1130000{end}"), "u7.hex:1: a line of an Intel HEX file starts with a colon"),
            (format!(":0G{end}"), "`0G` is none"),
            (format!(":00000006FA{end}"), "record type 0x06"),
            (format!(":00000001FF\n{RECORD}"), "u7.hex:2: there is data behind the end record"),
            (format!(":0100000055AA\n:0100000056A9{end}"), "u7.hex:2: address 0x0 has two different bytes"),
            (format!(":é{end}"), "is none"),
            (":".to_owned(), "its length byte says 0 bytes"),
            (String::new(), "u7.hex:1: the end record"),
        ] {
            assert!(said(&text).contains(what), "{text:?}: {}", said(&text));
        }
    }
}
