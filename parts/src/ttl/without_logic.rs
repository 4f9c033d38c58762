//! The data files of types that have no logic of their own: PROMs, and parts for which no logic that settles can stand.

macro_rules! files {
    ($($sheet:literal),+ $(,)?) => {
        &[$(($sheet, include_str!(concat!("../../data/", $sheet, ".toml")))),+]
    };
}

/// One-shots, timers, delay lines, analogue switches, lines and power drivers.
pub(crate) const NO_LOGIC: &[(&str, &str)] = files![
    "74121", "74ls122", "74ls123", "74ls221", "9602", "cd4528", "cd4538", "555", "556", "td100", "ds1000m", "cd4016",
    "cd4051", "cd4052", "cd4053", "cd4066", "75107", "75188", "75189", "max232", "uln2003", "uln2803",
];

/// PROMs, whose logic is their contents.
pub(crate) const PROMS: &[(&str, &str)] =
    files!["74s188", "74s287", "74s288", "74s387", "74s472", "74s473", "74s570", "74s571", "82s136", "82s137"];
