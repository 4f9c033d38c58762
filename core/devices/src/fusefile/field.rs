//! The fields between STX and ETX, one after the other, and what stands inside one.
use super::FUSE_LIMIT;
use super::error::Problem;
use super::frame::{is_delimiter, lines, shown};

/// One field.
pub(super) struct Field<'a> {
    /// The line on which it starts.
    pub(super) line: u32,
    /// Its text without the `*`, without delimiters around it.
    pub(super) text: &'a [u8],
    /// Whether a `*` ended it.
    pub(super) ended: bool,
}

/// All fields of a text, the design specification first.
pub(super) fn fields(text: &[u8], mut line: u32) -> Vec<Field<'_>> {
    let mut fields = Vec::new();
    let mut rest = text;
    loop {
        let end = rest.iter().position(|&b| b == b'*');
        let (whole, next) = rest.split_at(end.unwrap_or(rest.len()));
        let start = whole.iter().position(|&b| !is_delimiter(b)).unwrap_or(whole.len());
        let (lead, body) = whole.split_at(start);
        let first = line + lines(lead);
        fields.push(Field { line: first, text: trim_end(body), ended: end.is_some() });
        line += lines(whole);
        match next.split_first() {
            Some((_, next)) => rest = next,
            None => return fields,
        }
    }
}

impl<'a> Field<'a> {
    /// The identifier, with its second letter for Q and U, and what follows it.
    pub(super) fn split(&self) -> (String, &'a [u8]) {
        let letters = match self.text {
            [b'Q', second, ..] if second.is_ascii_alphabetic() => 2,
            [b'U', b'A' | b'H', ..] => 2,
            _ => 1,
        };
        let (identifier, rest) = self.text.split_at(letters.min(self.text.len()));
        (shown(identifier), trim(rest))
    }
}

/// A decimal number and nothing else.
pub(super) fn number(text: &[u8]) -> Result<u64, Problem> {
    if text.is_empty() || !text.iter().all(u8::is_ascii_digit) {
        return Err(Problem::NotANumber(shown(text)));
    }
    // what doesn't fit is larger than any limit
    Ok(text.iter().fold(0u64, |n, d| n.saturating_mul(10).saturating_add(u64::from(d - b'0'))))
}

/// A number of fuses, or of a fuse.
pub(super) fn fuse_number(text: &[u8]) -> Result<usize, Problem> {
    let n = number(text)?;
    usize::try_from(n).ok().filter(|&n| n <= FUSE_LIMIT).ok_or_else(|| Problem::TooManyFuses(shown(text)))
}

/// A number, a delimiter, and the rest.
pub(super) fn numbered(text: &[u8]) -> (&[u8], &[u8]) {
    let end = text.iter().position(|b| !b.is_ascii_digit()).unwrap_or(text.len());
    let (number, rest) = text.split_at(end);
    (number, trim(rest))
}

/// A single state.
pub(super) fn state(text: &[u8]) -> Result<bool, Problem> {
    match text {
        b"0" => Ok(false),
        b"1" => Ok(true),
        _ => Err(Problem::NotAState(shown(text))),
    }
}

/// States with delimiters among them.
pub(super) fn states(text: &[u8]) -> Result<Vec<bool>, Problem> {
    let significant = text.iter().copied().filter(|&b| !is_delimiter(b));
    significant
        .map(|b| match b {
            b'0' => Ok(false),
            b'1' => Ok(true),
            _ => Err(Problem::NotAState(shown(&[b]))),
        })
        .collect()
}

/// States in hexadecimal: the most significant bit of a digit is the lowest-numbered fuse.
pub(super) fn hexadecimal_states(text: &[u8]) -> Result<Vec<bool>, Problem> {
    let mut states = Vec::new();
    for b in text.iter().copied().filter(|&b| !is_delimiter(b)) {
        let digit = char::from(b).to_digit(16).ok_or_else(|| Problem::NotHexadecimal(shown(&[b])))?;
        states.extend([8, 4, 2, 1].map(|weight| digit & weight != 0));
    }
    Ok(states)
}

/// Text as it is kept: `\n` line ends, and a replacement character for what isn't ASCII.
pub(super) fn text(bytes: &[u8]) -> String {
    let text: String =
        bytes.iter().map(|&b| if b.is_ascii() { char::from(b) } else { char::REPLACEMENT_CHARACTER }).collect();
    text.replace("\r\n", "\n").replace('\r', "\n")
}

fn trim(bytes: &[u8]) -> &[u8] {
    let start = bytes.iter().position(|&b| !is_delimiter(b)).unwrap_or(bytes.len());
    trim_end(bytes.get(start..).unwrap_or_default())
}

fn trim_end(bytes: &[u8]) -> &[u8] {
    let end = bytes.iter().rposition(|&b| !is_delimiter(b)).map_or(0, |last| last + 1);
    bytes.get(..end).unwrap_or_default()
}
