//! Type numbers as they are printed on packages, and as people and programs write them: `SN74LS138N` is a 138 of the LS
//! family.
//!
//! | part of the number | examples | what it says |
//! |---|---|---|
//! | a library's name and a colon | `74xx:` | nothing here |
//! | maker's letters | `SN`, `DM`, `MC`, `HD`, none | nothing here |
//! | series | `74`, `54`, `CD` | the same logic; 54 is rated for another range of temperatures, so its figures are not those of 74 |
//! | family | `LS`, `S`, `ALS`, `AS`, `F`, `HC`, `HCT`, `AC`, none | the figures, not the logic |
//! | function | `00`, `138`, `16245`, `1G04` | the logic and the pins |
//! | letters behind | `A`, `B`, `N`, `AN`, `PC`, `_Split` | revision, package, a drawing's own word: nothing here |
//! | a second name behind a slash | `7404/SN7404` | must not be of another function |
//!
//! The 74 may be left out before families of two letters or more (`LS374`, `HCT00`), but not before `AC`, which transistors
//! bear as well. A suffix never begins with O or I: `74LS16O` is a misread 160, not a 16.
use std::fmt;
use std::str::FromStr;

use thiserror::Error;

pub use crate::family::Family;

/// What a type number begins with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Series {
    /// 74.
    S74,
    /// 54: the same logic for a wider range of temperatures.
    S54,
    /// The CMOS series with four or five digits from 4000 on.
    Cmos4000,
    /// A number of its maker's, `8T26A` for instance: the function is the whole number.
    Own,
}

/// A type number, taken apart.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct TypeNumber {
    /// What it begins with.
    pub series: Series,
    /// The family.
    pub family: Family,
    /// The number of the function, as printed: `138`, `00`.
    pub function: String,
}

/// A text that is no type number of the 74, 54 or 4000 series.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum TypeNumberError {
    /// It has no series where one belongs.
    #[error("`{0}` is no type number of the 74, 54 or 4000 series, such as 74LS138")]
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
    /// There is no number behind the family, or letters behind it that no maker prints.
    #[error(
        "`{0}` has no number of a function behind its family, such as 138 in 74LS138: is a letter O or I in it a digit?"
    )]
    NoFunction(String),
    /// Two names that are not of one function.
    #[error("`{text}` names two functions, {first} and {second}: write the one that is on the package")]
    TwoFunctions {
        /// The text.
        text: String,
        /// The first function.
        first: String,
        /// The other.
        second: String,
    },
}

/// Families whose letters are enough without a 74 before them.
const WITHOUT_74: [Family; 10] = [
    Family::Ls,
    Family::Als,
    Family::As,
    Family::Hc,
    Family::Hct,
    Family::Act,
    Family::Ahc,
    Family::Ahct,
    Family::Lvc,
    Family::Abt,
];

/// What makers print before a number of the 4000 series; `MC1` and `HD1` are followed by the 4 of 14011.
const BEFORE_4000: [&str; 11] = ["", "CD", "HEF", "HCF", "HCC", "MC1", "HD1", "TC", "F", "SCL", "BU"];

impl FromStr for TypeNumber {
    type Err = TypeNumberError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let whole: String = text.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_ascii_uppercase();
        let name = whole.rsplit(':').next().unwrap_or(&whole);
        let (first, second) = name.split_once('/').map_or((name, None), |(a, b)| (a, Some(b)));
        let number = one(first, &whole)?;
        let other = second.and_then(|second| {
            // 883 is a standard for military parts, not a function
            let digits = second.len() >= 2 && second != "883" && second.bytes().all(|b| b.is_ascii_digit());
            one(second, &whole).ok().map(|n| n.function).or_else(|| digits.then(|| second.to_owned()))
        });
        match other {
            Some(second) if second != number.function => {
                Err(TypeNumberError::TwoFunctions { text: whole, first: number.function, second })
            }
            _ => Ok(number),
        }
    }
}

/// One name; `whole` is what a message quotes.
fn one(name: &str, whole: &str) -> Result<TypeNumber, TypeNumberError> {
    let rest = name.trim_start_matches(|c: char| c.is_ascii_uppercase());
    let letters = name.strip_suffix(rest).unwrap_or_default();
    let (series, rest) = match (rest.strip_prefix("74"), rest.strip_prefix("54")) {
        (Some(rest), _) => (Series::S74, rest),
        (None, Some(rest)) => (Series::S54, rest),
        (None, None) => {
            if let Some(number) = of_4000(name) {
                return Ok(number);
            }
            let family = WITHOUT_74.into_iter().find(|f| f.letters() == letters && !rest.is_empty());
            let family = family.filter(|_| rest.starts_with(|c: char| c.is_ascii_digit()));
            let family = family.ok_or_else(|| TypeNumberError::NoSeries(whole.to_owned()))?;
            let function = function(rest).ok_or_else(|| TypeNumberError::NoFunction(whole.to_owned()))?;
            return Ok(TypeNumber { series: Series::S74, family, function: function.to_owned() });
        }
    };
    let number = rest.trim_start_matches(|c: char| c.is_ascii_uppercase());
    let letters = rest.strip_suffix(number).unwrap_or_default();
    let function = function(number).ok_or_else(|| TypeNumberError::NoFunction(whole.to_owned()))?;
    match Family::with_letters(letters) {
        Some(family) => Ok(TypeNumber { series, family, function: function.to_owned() }),
        None => Err(TypeNumberError::NoFamily { letters: letters.to_owned(), text: whole.to_owned() }),
    }
}

/// A number of the 4000 series.
fn of_4000(name: &str) -> Option<TypeNumber> {
    BEFORE_4000.iter().find_map(|before| {
        let rest = name.strip_prefix(before)?;
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        let (number, suffix) = rest.split_at_checked(digits)?;
        let fits = matches!(digits, 4 | 5) && number.starts_with('4') && is_suffix(suffix);
        fits.then(|| TypeNumber { series: Series::Cmos4000, family: Family::Cd4000, function: number.to_owned() })
    })
}

/// The number of a function at the beginning of what stands behind the family: `138` of `138AN`, `1G04` of `1G04GW`.
fn function(text: &str) -> Option<&str> {
    let count = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let mut length = count(text);
    let fits = match text.get(..2) {
        // gates of one to three in a package
        Some("1G" | "2G" | "3G") => {
            let digits = count(text.get(2..)?);
            length = 2 + digits;
            (2..=4).contains(&digits)
        }
        _ => (2..=5).contains(&length),
    };
    let (function, suffix) = text.split_at_checked(length)?;
    (fits && is_suffix(suffix)).then_some(function)
}

/// True for what may stand behind a number: a revision and a package, or a word of a drawing's own behind `_`.
pub(crate) fn is_suffix(text: &str) -> bool {
    let printed = text.split('_').next().unwrap_or_default();
    !printed.starts_with(['O', 'I']) && printed.chars().all(|c| c.is_ascii_alphanumeric() || "-.".contains(c))
}

impl fmt::Display for TypeNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let series = match self.series {
            Series::S74 => "74",
            Series::S54 => "54",
            Series::Cmos4000 => "CD",
            Series::Own => return f.write_str(&self.function),
        };
        write!(f, "{series}{}{}", self.family.letters(), self.function)
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
            ("74AC00", "74AC00"),
            ("74H00", "74H00"),
            ("74L00N", "74L00"),
            ("MM74C00N", "74C00"),
            ("SN74LVC1G04DBV", "74LVC1G04"),
            ("74LVC2G125DP", "74LVC2G125"),
            ("SN74ABT16245ADL", "74ABT16245"),
            ("CD4011BE", "CD4011"),
            ("HEF4011BP", "CD4011"),
            ("MC14011BCP", "CD4011"),
            ("HCF40106BE", "CD40106"),
            ("4017", "CD4017"),
            ("4069UB", "CD4069"),
            ("MC74HC4020N", "74HC4020"),
        ] {
            assert_eq!(read(printed), plain, "{printed}");
        }
    }

    #[test]
    fn what_people_and_programs_write_is_understood() {
        for (written, plain) in [
            ("LS374", "74LS374"),
            ("ALS373", "74ALS373"),
            ("hct245", "74HCT245"),
            ("ABT377", "74ABT377"),
            ("74LS244_Split", "74LS244"),
            ("7404/SN7404", "7404"),
            ("7404/inverter", "7404"),
            ("74LS04/74HCT04", "74LS04"),
            ("SN7404J/883", "7404"),
            ("74 LS 00 N", "74LS00"),
            ("74xx:74LS00", "74LS00"),
            ("CD4011/4011", "CD4011"),
        ] {
            assert_eq!(read(written), plain, "{written}");
        }
    }

    #[test]
    fn other_texts_are_refused_with_a_reason() {
        assert!(read("LM358").contains("no type number"));
        assert!(read("22V10").contains("no type number"));
        assert!(read("74LVCH245").contains("family LVCH"));
        assert!(read("74LS").contains("no number"));
        assert!(read("74LS1").contains("no number"));
        assert!(read("").contains("no type number"));
        // transistors, a crystal, a reference, a memory
        for other in ["AC125", "BC107", "BF245", "HC-49", "LM4040", "TL431", "27C128", "S8050", "F245"] {
            assert!(read(other).contains("no type number"), "{other}: {}", read(other));
        }
    }

    #[test]
    fn one_wrong_character_makes_no_other_part() {
        for near in ["74LS0O", "74LSOO", "74LS16O", "74LS1I", "74LSl38", "74LS", "7LS00", "74SL00", "CD401"] {
            assert!(near.parse::<TypeNumber>().is_err(), "{near}: {}", read(near));
        }
        assert!(read("74LS244/74LS245").contains("two functions, 244 and 245"));
        assert!(read("7404/05").contains("two functions"));
    }
}
