//! The fuse file: JEDEC Standard No. 3 (JESD3), fields QF, F, L and C, both checksums.

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
pub fn read(bytes: &[u8]) -> Result<Fuses, String> {
    let begins = bytes.iter().position(|&b| b == 2).ok_or("the fuse file has no start of text")?;
    let length = bytes.iter().skip(begins).position(|&b| b == 3).ok_or("the fuse file is cut short: no end of text")?;
    let frame = bytes.get(begins..=begins + length).unwrap_or_default();
    let told = bytes.get(begins + length + 1..begins + length + 5).unwrap_or_default();
    let told = u16::from_str_radix(&String::from_utf8_lossy(told), 16);
    let told = told.map_err(|_| "the fuse file has no transmission checksum".to_owned())?;
    let sum = (frame.iter().map(|&b| u32::from(b)).sum::<u32>() & 0xFFFF) as u16;
    if told != 0 && told != sum {
        return Err(format!(
            "the fuse file's transmission checksum is {told:04X} and its characters add up to {sum:04X}"
        ));
    }
    let text = String::from_utf8_lossy(frame.get(1..frame.len() - 1).unwrap_or_default()).into_owned();
    let mut states: Option<Vec<Option<bool>>> = None;
    let mut default = None;
    let mut sums = None;
    // the first field is the design specification
    for field in text.split('*').skip(1).map(str::trim) {
        let mut letters = field.chars();
        match letters.next() {
            Some('Q') => {
                if let Some(count) = letters.as_str().strip_prefix('F') {
                    let count: usize = count.trim().parse().map_err(|_| "the field QF has no number")?;
                    if count > 1 << 16 {
                        return Err("the field QF is too large".to_owned());
                    }
                    states = Some(vec![None; count]);
                }
            }
            Some('F') => default = Some(letters.as_str().trim() == "1"),
            Some('L') => {
                let rest = letters.as_str();
                let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
                let (first, bits) = rest.split_at(end);
                let first: usize = first.parse().map_err(|_| "a field L has no number")?;
                let states = states.as_mut().ok_or("a field L stands before QF")?;
                for (i, bit) in bits.chars().filter(|c| !c.is_whitespace()).enumerate() {
                    let slot = states.get_mut(first + i).ok_or("a field L goes past the last fuse")?;
                    *slot = Some(match bit {
                        '0' => false,
                        '1' => true,
                        _ => return Err(format!("a field L holds `{bit}`")),
                    });
                }
            }
            Some('C') => {
                let sum = u16::from_str_radix(letters.as_str().trim(), 16);
                sums = Some(sum.map_err(|_| "the field C is no number")?);
            }
            _ => {}
        }
    }
    let states = states.ok_or("the fuse file has no field QF")?;
    let states: Option<Vec<bool>> = states.into_iter().map(|s| s.or(default)).collect();
    let fuses = Fuses { states: states.ok_or("some fuses have no state, and there is no default")? };
    match sums {
        Some(told) if told != fuses.checksum() => {
            Err(format!("the fuse checksum is {told:04X} and the fuses add up to {:04X}", fuses.checksum()))
        }
        Some(_) => Ok(fuses),
        None => Err("the fuse file has no fuse checksum".to_owned()),
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
        assert!(read(text.replace("0111", "0110").as_bytes()).unwrap_err().contains("019E"));
        assert!(read(&text.as_bytes()[..40]).is_err());
    }
}
