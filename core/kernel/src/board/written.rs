//! The words of a trace for whoever makes one of something else: what a part is, a pin's label, a rail, a resistance.
use super::value;
use super::vocabulary::{self, PartWord, Passive, Supply, Wire};
use crate::circuit::{Label, Rail};

/// What the text of the column `part` stands for.
#[derive(Clone, Debug, PartialEq)]
pub enum PartKind {
    /// The socket's contacts.
    Contacts,
    /// One resistor, with its value in ohms if that is written.
    Resistor(Option<f64>),
    /// Any other part that is no package of logic: a network, a jumper, a capacitor, a diode.
    Passive,
    /// A part that stays on the card.
    Stays,
    /// Nothing is fitted at this position.
    Empty,
    /// A package whose type nobody knows.
    Unknown,
    /// A type number, whether a library has it or not.
    Type,
}

/// What the text of the column `part` stands for; nothing if it can't be read, or marks a net.
pub fn part_kind(text: &str) -> Option<PartKind> {
    Some(match vocabulary::part_word(text).ok()? {
        PartWord::Contacts => PartKind::Contacts,
        PartWord::Passive(Passive::Resistors { ohms, pins: 2, .. }) => PartKind::Resistor(ohms),
        PartWord::Passive(_) => PartKind::Passive,
        PartWord::Stays(_) => PartKind::Stays,
        PartWord::Empty => PartKind::Empty,
        PartWord::Unknown => PartKind::Unknown,
        PartWord::Untraced => return None,
        PartWord::Type => PartKind::Type,
    })
}

/// The label of a pin as a trace reads it: leading zeros don't count.
pub fn pin_label(text: &str) -> Label {
    vocabulary::pin_label(text)
}

/// The rail that a net of this name is.
pub fn rail_of(net: &str) -> Option<Rail> {
    match vocabulary::supply(net)? {
        Supply::Vcc => Some(Rail::Vcc),
        Supply::Gnd => Some(Rail::Gnd),
        Supply::Higher | Supply::Negative => None,
    }
}

/// Whether a trace takes this word as the name of a net, and not as a mark such as `open`.
pub fn is_net_name(text: &str) -> bool {
    matches!(vocabulary::wire(text), Some(Wire::Net(_)))
}

/// A resistance in ohms as it is written on a schematic: `4k7`, `330`, `1M`.
pub fn resistance(text: &str) -> Option<f64> {
    value::ohms(text)
}

/// The character that parts the columns of a sheet: comma, semicolon or tab.
pub fn delimiter(text: &str) -> u8 {
    super::sheet::delimiter(text)
}
