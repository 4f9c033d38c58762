//! The fuse file: JEDEC Standard No. 3 (JESD3), fields QF, F, L and C, both checksums.

use anyhow::{Context, Result, bail, ensure};

/// A fuse map: true is an open link (1).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fuses {
    /// The state of each fuse.
    pub states: Vec<bool>,
}

impl Fuses {
    /// The state of a fuse; a fuse that the map lacks is open.
    pub fn is_open(&self, fuse: usize) -> bool {
        self.states.get(fuse).copied().unwrap_or(true)
    }

    /// The fuse checksum: the 16-bit sum of words of eight fuses, the first the least significant.
    pub fn checksum(&self) -> u16 {
        let words = self.states.chunks(8).map(|w| w.iter().enumerate().map(|(i, &b)| u32::from(b) << i).sum::<u32>());
        (words.sum::<u32>() & 0xFFFF) as u16
    }
}

/// Reads a fuse file.
///
/// # Errors
/// What is missing or does not add up.
pub fn read(bytes: &[u8]) -> Result<Fuses> {
    let begins = bytes.iter().position(|&b| b == 2).context("the fuse file has no start of text")?;
    let ends = bytes.iter().rposition(|&b| b == 3).filter(|&e| e > begins);
    let ends = ends.context("the fuse file is cut short: no end of text")?;
    let number = |text: &str| u16::from_str_radix(text.trim(), 16).with_context(|| format!("`{text}` is no checksum"));
    let told = number(&String::from_utf8_lossy(bytes.get(ends + 1..ends + 5).unwrap_or_default()))?;
    let sum = (bytes[begins..=ends].iter().map(|&b| u32::from(b)).sum::<u32>() & 0xFFFF) as u16;
    let words = "the fuse file's transmission checksum is";
    ensure!(told == 0 || told == sum, "{words} {told:04X} and its characters add up to {sum:04X}");
    let text = String::from_utf8_lossy(&bytes[begins + 1..ends]);
    let (mut states, mut default, mut fuse_sum) = (Vec::new(), None, None);
    // the first field is the design specification
    for field in text.split('*').skip(1).map(str::trim) {
        let mut letters = field.chars();
        let (letter, rest) = (letters.next(), letters.as_str());
        match (letter, rest.strip_prefix('F')) {
            (Some('Q'), Some(count)) => match count.trim().parse() {
                Ok(count) if count <= 1 << 16 => states = vec![None; count],
                _ => bail!("the field `{field}` is no number of fuses"),
            },
            (Some('F'), _) => default = Some(rest.trim() == "1"),
            (Some('L'), _) => {
                let (first, bits) = rest.split_at(rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len()));
                let first: usize = first.parse().context("a field L has no number")?;
                for (i, bit) in bits.chars().filter(|c| !c.is_whitespace()).enumerate() {
                    let state = states.get_mut(first + i).context("a field L goes past the last fuse")?;
                    *state = Some(bit == '1');
                    ensure!(bit == '0' || bit == '1', "a field L holds `{bit}`");
                }
            }
            (Some('C'), _) => fuse_sum = Some(number(rest)?),
            _ => {}
        }
    }
    let states: Option<Vec<bool>> = states.into_iter().map(|s| s.or(default)).collect();
    let fuses = Fuses { states: states.context("some fuses have no state, and there is no default")? };
    match fuse_sum.context("the fuse file has no fuse checksum")? {
        told if told == fuses.checksum() => Ok(fuses),
        told => bail!("the fuse checksum is {told:04X} and the fuses add up to {:04X}", fuses.checksum()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JEDEC Standard No. 3-A, worked example of the L field: words AA, EA and 0A add up to 019E.
    #[test]
    fn the_standards_example() {
        let text = "\u{2}example*QF1004*F0*L0 01010101* L0008 01010111* L1000 0101*C019E*\u{3}0000";
        let fuses = read(text.as_bytes()).unwrap();
        assert_eq!(fuses.checksum(), 0x019E);
        assert!(fuses.is_open(1) && !fuses.is_open(0) && fuses.is_open(15));
        assert!(read(text.replace("0111", "0110").as_bytes()).unwrap_err().to_string().contains("019E"));
        assert!(read(&text.as_bytes()[..40]).is_err());
    }
}
