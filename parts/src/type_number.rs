//! Type numbers as they are printed on packages: `SN74LS138N` is a 138 of the LS family.
//!
//! | part of the number | examples | what it says |
//! |---|---|---|
//! | maker's letters | `SN`, `DM`, `MC`, `HD`, none | nothing here |
//! | series | `74`, `54` | the same logic; 54 is rated for another range of temperatures, so its figures are not those of 74 |
//! | family | `LS`, `S`, `ALS`, `AS`, `F`, `HC`, `HCT`, none | the figures, not the logic |
//! | function | `00`, `138` | the logic and the pins |
//! | letters behind | `A`, `B`, `N`, `AN`, `PC` | revision and package: nothing here |
use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// A family of TTL or of its CMOS successors. Types of one function have the same logic and pins in all of them, but for
/// the exceptions that their data files name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Family {
    /// Plain TTL: `7400`.
    Standard,
    /// Schottky: `74S00`.
    S,
    /// Low-power Schottky: `74LS00`.
    Ls,
    /// Advanced Schottky: `74AS00`.
    As,
    /// Advanced low-power Schottky: `74ALS00`.
    Als,
    /// `74F00`.
    F,
    /// High-speed CMOS: `74HC00`.
    Hc,
    /// High-speed CMOS with TTL levels: `74HCT00`.
    Hct,
}

impl Family {
    /// All of them.
    pub const ALL: [Family; 8] =
        [Family::Standard, Family::S, Family::Ls, Family::As, Family::Als, Family::F, Family::Hc, Family::Hct];

    /// The letters in a type number; none for plain TTL.
    pub fn letters(self) -> &'static str {
        match self {
            Family::Standard => "",
            Family::S => "S",
            Family::Ls => "LS",
            Family::As => "AS",
            Family::Als => "ALS",
            Family::F => "F",
            Family::Hc => "HC",
            Family::Hct => "HCT",
        }
    }

    /// The family with this name, as data files write it: its letters, or `standard`.
    pub(crate) fn named(name: &str) -> Option<Self> {
        let letters = if name == "standard" { "" } else { name };
        Family::ALL.into_iter().find(|f| f.letters() == letters && (!letters.is_empty() || name == "standard"))
    }
}

impl fmt::Display for Family {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Family::Standard => f.write_str("standard"),
            other => f.write_str(other.letters()),
        }
    }
}

/// A type number, taken apart.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct TypeNumber {
    /// 74 or 54.
    pub series: u8,
    /// The family.
    pub family: Family,
    /// The number of the function, as printed: `138`, `00`.
    pub function: String,
}

/// A text that is no type number of the 74 or 54 series.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum TypeNumberError {
    /// It has no `74` or `54` where one belongs.
    #[error("`{0}` is no type number of the 74 or 54 series, such as 74LS138")]
    NoSeries(String),
    /// The letters between series and function are no family that shares its logic.
    #[error(
        "`{text}`: the family {letters} is not in this drawer, because its pins or levels may differ; write the 74LS type number if they don't"
    )]
    NoFamily {
        /// The text.
        text: String,
        /// The letters.
        letters: String,
    },
    /// There is no number behind the family.
    #[error("`{0}` has no number of a function behind its family, such as 138 in 74LS138")]
    NoFunction(String),
}

impl FromStr for TypeNumber {
    type Err = TypeNumberError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim().to_ascii_uppercase();
        let series = text.trim_start_matches(|c: char| c.is_ascii_uppercase());
        let (number, rest) = match (series.strip_prefix("74"), series.strip_prefix("54")) {
            (Some(rest), _) => (74, rest),
            (None, Some(rest)) => (54, rest),
            (None, None) => return Err(TypeNumberError::NoSeries(text)),
        };
        let function = rest.trim_start_matches(|c: char| c.is_ascii_uppercase());
        let letters = rest.strip_suffix(function).unwrap_or_default();
        let digits = function.bytes().take_while(u8::is_ascii_digit).count();
        let (function, suffix) = function.split_at(digits);
        if !(2..=4).contains(&digits) || suffix.contains(|c: char| !c.is_ascii_alphanumeric() && !"-/.".contains(c)) {
            return Err(TypeNumberError::NoFunction(text));
        }
        let family = Family::ALL.into_iter().find(|f| f.letters() == letters);
        match family {
            Some(family) => Ok(TypeNumber { series: number, family, function: function.to_owned() }),
            None => Err(TypeNumberError::NoFamily { letters: letters.to_owned(), text }),
        }
    }
}

impl fmt::Display for TypeNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}{}", self.series, self.family.letters(), self.function)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> String {
        text.parse::<TypeNumber>().map_or_else(|e| e.to_string(), |t| t.to_string())
    }

    #[test]
    fn what_is_printed_on_packages_is_understood() {
        for (printed, plain) in [
            ("SN74LS138N", "74LS138"),
            ("74F138", "74F138"),
            ("74HCT138", "74HCT138"),
            ("DM74LS00", "74LS00"),
            ("sn7406n", "7406"),
            ("7400", "7400"),
            ("74LS74AN", "74LS74"),
            ("HD74LS161AP", "74LS161"),
            ("MC74F85", "74F85"),
            ("54LS373J", "54LS373"),
            ("SN74ALS573CN", "74ALS573"),
            ("74LS374PC", "74LS374"),
            (" 74ls02 ", "74LS02"),
            ("N74LS00A-B", "74LS00"),
        ] {
            assert_eq!(read(printed), plain, "{printed}");
        }
    }

    #[test]
    fn other_texts_are_refused_with_a_reason() {
        assert!(read("LM358").contains("no type number"));
        assert!(read("22V10").contains("no type number"));
        assert!(read("74AC00").contains("family AC"));
        assert!(read("74H01").contains("family H "));
        assert!(read("74LS").contains("no number"));
        assert!(read("74LS1").contains("no number"));
        assert!(read("").contains("no type number"));
    }
}
