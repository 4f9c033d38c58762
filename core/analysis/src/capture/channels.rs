//! Which channel is on which contact.
use std::collections::HashMap;

use gluewright_kernel::circuit::{Circuit, Label};

use super::error::{CaptureError, CaptureErrorKind, shown};

/// The channels of an analyser and the contacts that they are on: read from a file, or by name.
#[derive(Clone, Debug, Default)]
pub struct Channels {
    file: String,
    rows: Vec<Row>,
}

#[derive(Clone, Debug)]
struct Row {
    line: u64,
    channel: String,
    contact: String,
    rest: Option<bool>,
}

/// A contact that has a channel, or a level that was said to be its.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Wire {
    pub(super) label: Label,
    pub(super) name: String,
    /// The level that the board gives it while the circuit does not drive it, if that is said.
    pub(super) rest: Option<bool>,
}

/// What a list of channels comes to for two circuits.
#[derive(Clone, Debug, Default)]
pub(super) struct Wired {
    pub(super) wires: Vec<Wire>,
    /// The wire of each channel, by the channel's name in lower case.
    pub(super) by_channel: HashMap<String, u16>,
    /// Contacts that keep a level, and which.
    pub(super) fixed: Vec<(Label, bool)>,
}

/// A list longer than this is no list of channels.
const MOST_ROWS: usize = 10_000;

impl Channels {
    /// Every channel is named like the contact that it is on: by its label or its name.
    pub fn by_name() -> Channels {
        Channels::default()
    }

    /// Reads a list in CSV: `channel,contact` and, where wanted, `rest`. A contact is given by label or name. A contact
    /// without a channel that stays at one level has that level, `high` or `low`, in the column `channel`. In the
    /// column `rest` stands the level that the board gives a contact while nobody on the card drives it.
    ///
    /// # Errors
    /// The first row that can't be read.
    pub fn from_csv(file: &str, content: impl AsRef<[u8]>) -> Result<Channels, CaptureError> {
        let wrong = |line: u64, message: String, mend: &str| {
            Err(CaptureError::new(file, Some(line), CaptureErrorKind::Channel, message, mend))
        };
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .flexible(true)
            .has_headers(false)
            .comment(Some(b'#'))
            .from_reader(content.as_ref());
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = match record {
                Ok(record) => record,
                Err(e) => {
                    let line = e.position().map_or(1, csv::Position::line);
                    return wrong(line, "the row can't be read as text".to_owned(), "save it as CSV in UTF-8");
                }
            };
            let line = record.position().map_or(1, csv::Position::line);
            let field = |k: usize| record.get(k).unwrap_or_default().trim_start_matches('\u{feff}').to_owned();
            let (channel, contact) = (field(0), field(1));
            if rows.is_empty() && channel.eq_ignore_ascii_case("channel") && contact.eq_ignore_ascii_case("contact") {
                continue;
            }
            if channel.is_empty() || contact.is_empty() {
                return wrong(line, "the row lacks a channel or a contact".to_owned(), "write `channel,contact`");
            }
            let rest = match field(2).to_lowercase().as_str() {
                "" => None,
                "high" => Some(true),
                "low" => Some(false),
                "rest" if rows.is_empty() => None,
                other => {
                    return wrong(line, format!("{} is no level", shown(other)), "write `high` or `low`, or nothing");
                }
            };
            if rows.len() >= MOST_ROWS {
                return wrong(line, format!("more than {MOST_ROWS} rows"), "is this the right file?");
            }
            rows.push(Row { line, channel, contact, rest });
        }
        Ok(Channels { file: file.to_owned(), rows })
    }

    /// The contacts of two circuits with their channels. `known` are the channels that the capture has.
    pub(super) fn wired(
        &self,
        capture: &str,
        circuits: [&Circuit; 2],
        known: &[String],
    ) -> Result<Wired, CaptureError> {
        let mut wired = Wired::default();
        let add = |wired: &mut Wired, label: &Label, name: &str, channel: &str, rest, line: Option<u64>, file: &str| {
            if wired.wires.iter().any(|w| w.label == *label) || wired.fixed.iter().any(|(l, _)| l == label) {
                let message = format!("contact {label} {name} has a second channel, {}", shown(channel));
                let mend = "take one of them out of the list of channels";
                return Err(CaptureError::new(file, line, CaptureErrorKind::Channel, message, mend));
            }
            let at = u16::try_from(wired.wires.len()).unwrap_or(u16::MAX);
            wired.wires.push(Wire { label: label.clone(), name: name.to_owned(), rest });
            wired.by_channel.insert(channel.to_lowercase(), at);
            Ok(())
        };
        if self.rows.is_empty() {
            for circuit in circuits {
                for c in circuit.contacts().iter() {
                    let taken = wired.wires.iter().any(|w| w.label == c.label);
                    let named =
                        known.iter().find(|k| k.eq_ignore_ascii_case(&c.name) || k.as_str() == c.label.as_str());
                    let channel = named.filter(|k| !taken && !wired.by_channel.contains_key(&k.to_lowercase()));
                    if let Some(channel) = channel {
                        add(&mut wired, &c.label, &c.name, channel, None, None, capture)?;
                    }
                }
            }
        }
        for row in &self.rows {
            let line = Some(row.line);
            let wrong = |message: String, mend: String| {
                Err(CaptureError::new(&self.file, line, CaptureErrorKind::Channel, message, mend))
            };
            let contact = circuits
                .iter()
                .flat_map(|c| c.contacts())
                .find(|c| c.label.as_str() == row.contact || c.name.eq_ignore_ascii_case(&row.contact));
            let Some(contact) = contact else {
                let names: Vec<String> =
                    circuits[0].contacts().iter().take(30).map(|c| format!("{} {}", c.label, c.name)).collect();
                let message = format!("there is no contact {}", shown(&row.contact));
                return wrong(message, format!("choose one of {}", names.join(", ")));
            };
            match row.channel.to_lowercase().as_str() {
                level @ ("high" | "low") if !known.iter().any(|k| k.eq_ignore_ascii_case(level)) => {
                    wired.fixed.push((contact.label.clone(), level == "high"));
                }
                channel if known.iter().any(|k| k.eq_ignore_ascii_case(channel)) => {
                    add(&mut wired, &contact.label, &contact.name, channel, row.rest, line, &self.file)?;
                }
                _ => {
                    let some: Vec<String> = known.iter().take(20).map(|k| shown(k)).collect();
                    let message = format!("the capture has no channel {}", shown(&row.channel));
                    return wrong(message, format!("it has {}", some.join(", ")));
                }
            }
        }
        Ok(wired)
    }
}
