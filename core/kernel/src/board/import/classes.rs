//! What kind of part the letters of a reference name, where the parts list gives a value alone.
use super::super::library::Library;
use super::super::reading::Reading;
use super::super::vocabulary::{PartWord, part_word};

/// The class letters of references (IEEE 315, clause 22, from memory; `RN`, `SW`, `JP`, `LED`, `IC`, `CN` are common
/// practice, no source), and the word of a trace for each.
const CLASSES: [(&str, &str); 24] = [
    ("R", "resistor"),
    ("RN", "stays resistor network"),
    ("RP", "stays resistor network"),
    ("C", "capacitor"),
    ("L", "inductor"),
    ("FB", "inductor"),
    ("D", "diode"),
    ("CR", "diode"),
    ("LED", "diode"),
    ("DS", "diode"),
    ("Q", "transistor"),
    ("Y", "crystal"),
    ("XTAL", "crystal"),
    ("S", "switch"),
    ("SW", "switch"),
    ("W", "jumper"),
    ("JP", "jumper"),
    ("J", "stays connector"),
    ("P", "stays connector"),
    ("CN", "stays connector"),
    ("X", "stays socket"),
    ("F", "stays fuse"),
    ("TP", "stays test point"),
    ("K", "stays relay"),
];

/// What the column `part` of a trace would say of this part.
pub(super) fn part(reference: &str, listed: Option<&str>, reading: &Reading, library: &dyn Library) -> String {
    let listed = listed.map(|text| text.split_whitespace().collect::<Vec<_>>().join(" ")).unwrap_or_default();
    let is_said = !listed.is_empty() && !matches!(part_word(&listed), Ok(PartWord::Type));
    if is_said
        || reading.is_listed(&listed)
        || reading.house_number(&listed).is_some()
        || library.part(&listed).is_some()
    {
        return listed;
    }
    let letters: String = reference.chars().take_while(char::is_ascii_alphabetic).collect::<String>().to_uppercase();
    let word = CLASSES.iter().find(|(class, _)| *class == letters).map(|(_, word)| *word);
    match word {
        // a resistance that can't be read is better none than an error in somebody else's file
        Some("resistor") if part_word(&format!("resistor {listed}")).is_err() => "resistor".to_owned(),
        // a jumper stands as the netlist has it: its two nets are not joined
        Some("jumper") => "jumper open".to_owned(),
        Some(word) => format!("{word} {listed}").trim_end().to_owned(),
        None if listed.is_empty() => "unknown".to_owned(),
        None => listed,
    }
}
