//! The frame of a fuse file: STX, the text, ETX, and the transmission checksum behind it.
use super::error::Problem;
use super::finding::Irregularity;

pub(super) const STX: u8 = 0x02;
pub(super) const ETX: u8 = 0x03;

/// The sum of all characters from STX to ETX, both included, without the parity bit, in 16 bits (JEDEC Standard No. 3-A).
pub(super) fn transmission_checksum(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0u16, |sum, b| sum.wrapping_add(u16::from(b & 0x7F)))
}

/// A fuse file taken apart.
pub(super) struct Frame<'a> {
    /// What stands between STX and ETX.
    pub(super) text: &'a [u8],
    /// The line of STX.
    pub(super) first_line: u32,
    /// What is irregular, by line.
    pub(super) irregular: Vec<(u32, Irregularity)>,
    /// A transmission checksum that is wrong: its line, what the characters add up to, what the file says.
    pub(super) wrong: Option<(u32, u16, u16)>,
}

/// Takes a file apart and compares the transmission checksum; an error comes with its line.
pub(super) fn open(bytes: &[u8]) -> Result<Frame<'_>, (u32, Problem)> {
    let stx = bytes.iter().position(|&b| b == STX).ok_or((1, Problem::NoStart))?;
    let (before, framed) = bytes.split_at(stx);
    let first_line = 1 + lines(before);
    let etx = framed.iter().position(|&b| b == ETX).ok_or_else(|| (1 + lines(bytes), Problem::NoEnd))?;
    let (framed, behind) = framed.split_at(etx + 1);
    let last_line = first_line + lines(framed);
    let mut irregular = Vec::new();
    if !before.iter().all(|&b| is_delimiter(b)) {
        irregular.push((1, Irregularity::TextBefore(before.len())));
    }
    let text = framed.get(1..etx).unwrap_or_default();
    let mut odd = text.iter().enumerate().filter(|&(_, &b)| !matches!(b, 0x20..=0x7E | b'\r' | b'\n'));
    if let Some((at, &first)) = odd.next() {
        let line = first_line + lines(text.get(..at).unwrap_or_default());
        irregular.push((line, Irregularity::Characters(1 + odd.count(), first)));
    }
    let found = transmission_checksum(framed);
    let (digits, rest) = checksum_digits(behind, found);
    let mut wrong = None;
    match (digits, found) {
        (b"", _) => irregular.push((last_line, Irregularity::NoTransmissionChecksum)),
        (digits, found) => match (low_digits(digits), digits.len()) {
            (Some(stated), 5..) if stated == found => {
                irregular.push((last_line, Irregularity::LongChecksum(shown(digits))));
            }
            (Some(0), 4) if found != 0 => irregular.push((last_line, Irregularity::DummyTransmissionChecksum)),
            (Some(stated), 4) if stated == found => {}
            (Some(stated), 4) => match line_ends(framed, stated) {
                Some(ends) => irregular.push((last_line, Irregularity::LineEnds(ends))),
                None => wrong = Some((last_line, found, stated)),
            },
            _ => return Err((last_line, Problem::NotAChecksum(shown(digits)))),
        },
    }
    // an end-of-file character of old hosts (1A hex) says nothing
    if !rest.iter().all(|&b| is_delimiter(b) || b == 0x1A || b == 0) {
        irregular.push((last_line, Irregularity::TextBehind(rest.len())));
    }
    Ok(Frame { text, first_line, irregular, wrong })
}

/// The run of hexadecimal digits behind ETX, and what follows it. It has four of them, unless the low four of a longer one are
/// the checksum.
fn checksum_digits(behind: &[u8], found: u16) -> (&[u8], &[u8]) {
    let start = behind.iter().position(|&b| !is_delimiter(b)).unwrap_or(behind.len());
    let behind = behind.get(start..).unwrap_or_default();
    let run = behind.iter().position(|b| !b.is_ascii_hexdigit()).unwrap_or(behind.len());
    let whole = behind.get(..run).unwrap_or_default();
    let is_long = (5..=MOST_DIGITS).contains(&run) && low_digits(whole) == Some(found);
    behind.split_at(if is_long { run } else { run.min(4) })
}

/// With which other line ends a checksum would be right.
fn line_ends(framed: &[u8], stated: u16) -> Option<&'static str> {
    let carriage_returns = framed.iter().filter(|&&b| b == b'\r').count() as u16;
    let line_feeds = framed.iter().filter(|&&b| b == b'\n').count() as u16;
    let found = transmission_checksum(framed);
    if carriage_returns == 0 {
        let with = found.wrapping_add(line_feeds.wrapping_mul(u16::from(b'\r')));
        (line_feeds > 0 && stated == with).then_some("CR LF")
    } else {
        let without = found.wrapping_sub(carriage_returns.wrapping_mul(u16::from(b'\r')));
        (carriage_returns == line_feeds && stated == without).then_some("LF")
    }
}

/// Space and line ends; a tabulator isn't legal, but it can't mean anything else.
pub(super) fn is_delimiter(b: u8) -> bool {
    matches!(b, b' ' | b'\r' | b'\n' | b'\t')
}

/// How many line ends there are: CR LF, LF and CR.
pub(super) fn lines(bytes: &[u8]) -> u32 {
    let ends = bytes.iter().zip(bytes.iter().skip(1).map(Some).chain([None]));
    ends.filter(|&(&b, next)| b == b'\n' || (b == b'\r' && next != Some(&b'\n'))).count() as u32
}

/// The most digits that a checksum is written with: some writers do not cut theirs to 16 bits.
const MOST_DIGITS: usize = 16;

/// The low sixteen bits of a number in hexadecimal digits.
pub(super) fn low_digits(digits: &[u8]) -> Option<u16> {
    if digits.len() > MOST_DIGITS || !digits.iter().all(u8::is_ascii_hexdigit) {
        return None;
    }
    hexadecimal(digits.get(digits.len().saturating_sub(4)..).unwrap_or_default())
}

/// Up to four hexadecimal digits.
pub(super) fn hexadecimal(digits: &[u8]) -> Option<u16> {
    if digits.len() > 4 || !digits.iter().all(u8::is_ascii_hexdigit) {
        return None;
    }
    std::str::from_utf8(digits).ok().and_then(|d| u16::from_str_radix(d, 16).ok())
}

/// Bytes for a message: printable, and not too many of them.
pub(super) fn shown(bytes: &[u8]) -> String {
    const MOST: usize = 24;
    let text: String = bytes.iter().take(MOST).flat_map(|b| b.escape_ascii()).map(char::from).collect();
    if bytes.len() > MOST { text + "…" } else { text }
}
