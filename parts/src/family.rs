//! Families of logic: their letters, what their levels are made for, what an open input does, and their typical limits.
use std::fmt;

use gluewright::figures::{Levels, OpenInput};

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
    /// Fast plain TTL: `74H00`.
    H,
    /// Low-power plain TTL: `74L00`.
    L,
    /// High-speed CMOS: `74HC00`.
    Hc,
    /// High-speed CMOS with TTL thresholds: `74HCT00`.
    Hct,
    /// Advanced CMOS: `74AC00`.
    Ac,
    /// Advanced CMOS with TTL thresholds: `74ACT00`.
    Act,
    /// Advanced high-speed CMOS: `74AHC00`.
    Ahc,
    /// Advanced high-speed CMOS with TTL thresholds: `74AHCT00`.
    Ahct,
    /// Low-voltage CMOS, of which the single gates run at 5 V too: `74LVC00`.
    Lvc,
    /// Bipolar outputs behind CMOS inputs with TTL thresholds: `74ABT244`.
    Abt,
    /// Fast CMOS with TTL thresholds: `74FCT244`.
    Fct,
    /// Metal-gate CMOS with the pins of TTL: `74C00`.
    C,
    /// The CMOS series with numbers of its own: `CD4011`.
    Cd4000,
}

/// Functions of the H family, from memory.
const H: [&str; 18] =
    ["00", "01", "04", "05", "08", "10", "11", "20", "21", "22", "30", "40", "51", "54", "73", "74", "76", "78"];
/// Functions of the L family, from memory.
const L: [&str; 30] = [
    "00", "02", "03", "04", "10", "20", "30", "42", "47", "51", "54", "73", "74", "75", "78", "85", "86", "90", "91",
    "93", "95", "121", "122", "123", "154", "157", "164", "192", "193", "01",
];
/// Functions of the C family, from memory.
const C: [&str; 43] = [
    "00", "02", "04", "08", "10", "14", "20", "30", "32", "42", "73", "74", "76", "83", "85", "86", "90", "93", "95",
    "107", "150", "151", "154", "157", "160", "161", "162", "163", "164", "165", "173", "174", "175", "192", "193",
    "195", "221", "240", "244", "373", "374", "48", "89",
];

impl Family {
    /// All of them.
    pub const ALL: [Family; 19] = [
        Family::Standard,
        Family::S,
        Family::Ls,
        Family::As,
        Family::Als,
        Family::F,
        Family::H,
        Family::L,
        Family::Hc,
        Family::Hct,
        Family::Ac,
        Family::Act,
        Family::Ahc,
        Family::Ahct,
        Family::Lvc,
        Family::Abt,
        Family::Fct,
        Family::C,
        Family::Cd4000,
    ];

    /// The letters between 74 and the function; none for plain TTL and for the 4000 series, which has no 74.
    pub fn letters(self) -> &'static str {
        match self {
            Family::Standard | Family::Cd4000 => "",
            Family::S => "S",
            Family::Ls => "LS",
            Family::As => "AS",
            Family::Als => "ALS",
            Family::F => "F",
            Family::H => "H",
            Family::L => "L",
            Family::Hc => "HC",
            Family::Hct => "HCT",
            Family::Ac => "AC",
            Family::Act => "ACT",
            Family::Ahc => "AHC",
            Family::Ahct => "AHCT",
            Family::Lvc => "LVC",
            Family::Abt => "ABT",
            Family::Fct => "FCT",
            Family::C => "C",
        }
    }

    /// The family with these letters in a 74 number.
    pub(crate) fn with_letters(letters: &str) -> Option<Self> {
        Family::ALL.into_iter().find(|f| *f != Family::Cd4000 && f.letters() == letters)
    }

    /// The family with this name, as data files write it: its letters, `standard`, or `CD4000`.
    pub(crate) fn named(name: &str) -> Option<Self> {
        Family::ALL.into_iter().find(|f| f.to_string() == name)
    }

    /// False for a function that an old, short-lived family is not known to have had (from memory): what looks like one is
    /// a misread number, such as 74L373 for 74LS373.
    pub(crate) fn is_known_to_have(self, function: &str) -> bool {
        match self {
            Family::H => H.contains(&function),
            Family::L => L.contains(&function),
            Family::C => C.contains(&function),
            _ => true,
        }
    }

    /// What its levels are made for.
    pub fn levels(self) -> Levels {
        match self {
            Family::Standard
            | Family::S
            | Family::Ls
            | Family::As
            | Family::Als
            | Family::F
            | Family::H
            | Family::L => Levels::Ttl,
            // their outputs stop below the supply as those of TTL do
            Family::Abt | Family::Fct => Levels::Ttl,
            Family::Hct | Family::Act | Family::Ahct => Levels::CmosOutputs,
            Family::Hc | Family::Ac | Family::Ahc | Family::Lvc | Family::C | Family::Cd4000 => Levels::Cmos,
        }
    }

    /// What an input does that nothing drives. Bipolar inputs go high (common practice, no source); the gate of a
    /// transistor in a CMOS input goes anywhere.
    pub fn open_input(self) -> OpenInput {
        match self {
            Family::Standard
            | Family::S
            | Family::Ls
            | Family::As
            | Family::Als
            | Family::F
            | Family::H
            | Family::L => OpenInput::High,
            Family::Hc
            | Family::Hct
            | Family::Ac
            | Family::Act
            | Family::Ahc
            | Family::Ahct
            | Family::Lvc
            | Family::Abt
            | Family::Fct
            | Family::C
            | Family::Cd4000 => OpenInput::Unknown,
        }
    }
}

impl fmt::Display for Family {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Family::Standard => f.write_str("standard"),
            Family::Cd4000 => f.write_str("CD4000"),
            other => f.write_str(other.letters()),
        }
    }
}
