//! The words of a trace: what may stand in the columns `part`, `pin` and `net` beside type numbers, numbers and names.
use super::value::{counted_ohms, farads, ohms};
use crate::circuit::Label;

/// What the column `part` says.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum PartWord {
    /// The socket's contacts.
    Contacts,
    /// A part that is no package of logic.
    Passive(Passive),
    /// A part that stays on the card: its pins are the outside of what is replaced.
    Stays(Stay),
    /// Nothing is fitted at this position.
    Empty,
    /// A package whose type nobody knows.
    Unknown,
    /// No part: the row marks its net as not traced to its end.
    Untraced,
    /// A type number.
    Type,
}

/// A part that is no package of logic.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Passive {
    /// One resistor or a network of equal ones, from pin to pin.
    Resistors { ohms: Option<f64>, links: Vec<(u16, u16)>, pins: u16 },
    /// A wire from one pin to another, or none.
    Jumper(Jumper),
    /// A capacitor, its value in F if it was written, and whether the user says that it means nothing to logic.
    Capacitor { ignored: bool, farads: Option<f64> },
    /// Named, and refused in a proof.
    Foreign(Foreign),
}

/// A part that stays, as the nets on it see it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stay {
    /// Its pins carry levels of logic, driven and read: a processor, a memory, a connector.
    Digital,
    /// Its pins may stand between the levels: a crystal, a diode, a capacitor.
    Analog,
}

/// How a jumper is set.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Jumper {
    /// Joins all pins that have rows.
    All,
    /// Joins these two.
    Pair(Label, Label),
    /// Joins nothing.
    Open,
}

/// A part that settled logic can't stand for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Foreign {
    Diode,
    Transistor,
    Inductor,
    Crystal,
    Switch,
}

impl Foreign {
    pub(super) fn why(self) -> &'static str {
        match self {
            Foreign::Diode => {
                "a diode joins two nets in one direction only, and levels of logic can't tell how strongly"
            }
            Foreign::Transistor => "whether a transistor switches depends on currents, not on levels",
            Foreign::Inductor => "an inductor matters for its time, and settled logic has none",
            Foreign::Crystal => "a crystal oscillates, and settled logic never does",
            Foreign::Switch => "a switch has two settings, and the trace holds one circuit",
        }
    }

    pub(super) fn mend(self) -> &'static str {
        match self {
            Foreign::Switch => {
                "write `jumper` or `jumper open` as it is set, or make the net behind it a contact to cover both settings"
            }
            Foreign::Inductor => {
                "write `jumper` if it only keeps noise away, else cut the card there: make the nets behind it contacts"
            }
            Foreign::Diode | Foreign::Transistor | Foreign::Crystal => {
                "cut the card there: put # before its rows and give each net that it touched a row as a contact"
            }
        }
    }
}

/// The words that the column `part` knows, for "did you mean".
pub(super) const PART_WORDS: [&str; 13] = [
    "contacts",
    "stays",
    "resistor",
    "jumper",
    "capacitor",
    "diode",
    "transistor",
    "inductor",
    "crystal",
    "switch",
    "empty",
    "unknown",
    "untraced",
];

/// Reads the column `part`. An error says what can't be read and how to write it.
pub(super) fn part_word(text: &str) -> Result<PartWord, (String, String)> {
    let lower = text.to_lowercase();
    let words: Vec<&str> = lower.split_whitespace().collect();
    let Some((first, rest)) = words.split_first() else { return Ok(PartWord::Type) };
    Ok(match *first {
        "contacts" if rest.is_empty() => PartWord::Contacts,
        "untraced" if rest.is_empty() => PartWord::Untraced,
        "stays" => PartWord::Stays(stay(&rest.join(" "))),
        "empty" => PartWord::Empty,
        "unknown" => PartWord::Unknown,
        "resistor" => PartWord::Passive(resistor(rest)?),
        "jumper" => PartWord::Passive(Passive::Jumper(jumper(rest)?)),
        "capacitor" => {
            let farads = rest.iter().find_map(|word| farads(word));
            PartWord::Passive(Passive::Capacitor { ignored: rest.contains(&"ignored"), farads })
        }
        "diode" => PartWord::Passive(Passive::Foreign(Foreign::Diode)),
        "transistor" => PartWord::Passive(Passive::Foreign(Foreign::Transistor)),
        "inductor" => PartWord::Passive(Passive::Foreign(Foreign::Inductor)),
        "crystal" => PartWord::Passive(Passive::Foreign(Foreign::Crystal)),
        "switch" => PartWord::Passive(Passive::Foreign(Foreign::Switch)),
        _ => PartWord::Type,
    })
}

/// How the nets on a part see it if it stays, from what the column `part` says of it.
pub(super) fn stay(text: &str) -> Stay {
    let words = text.split_whitespace().skip_while(|word| word.eq_ignore_ascii_case("stays"));
    match part_word(&words.collect::<Vec<_>>().join(" ")) {
        Ok(PartWord::Passive(Passive::Jumper(_))) => Stay::Digital,
        Ok(PartWord::Passive(_)) | Err(_) => Stay::Analog,
        Ok(_) => Stay::Digital,
    }
}

/// The word of this table that is meant by another word of the trade for the same thing.
pub(super) fn other_word_for(text: &str) -> Option<&'static str> {
    Some(match text.to_lowercase().as_str() {
        "wire" | "link" | "strap" | "bridge" => "jumper",
        "cap" | "condenser" => "capacitor",
        "coil" | "choke" | "ferrite" => "inductor",
        "led" | "zener" => "diode",
        "quartz" | "resonator" | "oscillator" => "crystal",
        "connector" | "socket" | "plug" | "edge" => "contacts",
        _ => return None,
    })
}

const NETWORK: &str = "write `resistor network 8x4k7 common 1`, `resistor network 4x330 adjacent` (pins 1-2, 3-4, …) or `resistor network 8x330 opposite` (pins 1-16, 2-15, …)";

fn resistor(words: &[&str]) -> Result<Passive, (String, String)> {
    let Some((&"network", rest)) = words.split_first() else {
        let ohms = match words {
            [] => None,
            _ => Some(ohms(&words.concat()).ok_or_else(|| {
                (
                    "this is no resistance".to_owned(),
                    "write it like `resistor 4k7`, `resistor 330` or `resistor 2.2k`".to_owned(),
                )
            })?),
        };
        return Ok(Passive::Resistors { ohms, links: vec![(1, 2)], pins: 2 });
    };
    let wrong = || ("this is no resistor network".to_owned(), NETWORK.to_owned());
    let (counted, how) = rest.split_first().ok_or_else(wrong)?;
    let (count, ohms) = counted_ohms(counted).ok_or_else(wrong)?;
    let (links, pins) = match how {
        ["common", pin] => {
            let pins = count + 1;
            let common: u16 = pin.parse().ok().filter(|p| (1..=pins).contains(p)).ok_or_else(wrong)?;
            ((1..=pins).filter(|&p| p != common).map(|p| (common, p)).collect(), pins)
        }
        ["adjacent"] => ((0..count).map(|k| (2 * k + 1, 2 * k + 2)).collect(), 2 * count),
        ["opposite"] => ((1..=count).map(|k| (k, 2 * count + 1 - k)).collect(), 2 * count),
        _ => return Err(wrong()),
    };
    Ok(Passive::Resistors { ohms: Some(ohms), links, pins })
}

fn jumper(words: &[&str]) -> Result<Jumper, (String, String)> {
    let pair = |pair: &str| pair.split_once('-').map(|(a, b)| Jumper::Pair(pin_label(a), pin_label(b)));
    let set = match words {
        [] => Some(Jumper::All),
        ["open"] => Some(Jumper::Open),
        [one] => pair(one),
        _ => None,
    };
    set.ok_or_else(|| {
        let mend = "write `jumper`, `jumper 2-3` if it joins only two of its pins, or `jumper open`";
        ("this is no setting of a jumper".to_owned(), mend.to_owned())
    })
}

/// What the column `net` says.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) enum Wire {
    /// A net, by its name.
    Net(String),
    /// Measured: joined to nothing.
    Open,
    /// Nobody has looked yet.
    Untraced,
}

/// Reads the column `net`; nothing if the word could mean *open* as well as *not yet traced*.
pub(super) fn wire(text: &str) -> Option<Wire> {
    match text.to_lowercase().as_str() {
        "open" => Some(Wire::Open),
        "untraced" => Some(Wire::Untraced),
        "" | "nc" | "n/c" | "n.c." | "n.c" | "none" | "unconnected" | "-" | "--" | "?" | "??" => None,
        _ => Some(Wire::Net(text.to_owned())),
    }
}

/// True for the word that stands for all pins that have no row of their own.
pub(super) fn is_others(text: &str) -> bool {
    text.eq_ignore_ascii_case("others")
}

/// The label of a pin; a number loses its leading zeros, which spreadsheets add and drop as they like.
pub(super) fn pin_label(text: &str) -> Label {
    let text = text.trim();
    if !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()) {
        let short = text.trim_start_matches('0');
        return Label::new(if short.is_empty() { "0" } else { short });
    }
    Label::new(text)
}

/// A voltage that a net's name stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Supply {
    /// `VCC`, `VDD`, `+5V`, `5V`, `+3V3`: the rail whose level is high.
    Vcc,
    /// `GND`, `VSS`, `0V`.
    Gnd,
    /// Any other positive voltage: `+12V`.
    Higher,
    /// Any negative voltage: `-5V`.
    Negative,
}

/// The voltage that a net's name stands for, if it does.
pub(super) fn supply(net: &str) -> Option<Supply> {
    let name = net.to_ascii_uppercase();
    match name.as_str() {
        "VCC" | "+5V" | "5V" | "VDD" | "+3V3" | "3V3" | "+3.3V" => return Some(Supply::Vcc),
        "GND" | "0V" | "VSS" | "DGND" | "AGND" => return Some(Supply::Gnd),
        _ => {}
    }
    let (sign, digits) = match name.strip_suffix('V')? {
        rest if rest.starts_with('+') => (Supply::Higher, rest.get(1..)?),
        rest if rest.starts_with('-') => (Supply::Negative, rest.get(1..)?),
        _ => return None,
    };
    let number = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    number.then_some(sign)
}
