//! What is fitted on a traced card: each reference with its pins, as the rows gave them.
use std::collections::HashMap;
use std::sync::Arc;

use super::finding::Subject;
use super::library::{Part, PinRole};
use super::vocabulary::{Passive, Stay, Wire};
use crate::circuit::{Label, Origin};

/// Everything that the rows of one reference say.
#[derive(Clone, Debug)]
pub(super) struct Package {
    /// The reference, as in its first row: `U3`.
    pub(super) reference: String,
    /// The column `part`, as in its first row.
    pub(super) part: String,
    pub(super) fitted: Fitted,
    pub(super) pins: Vec<Pin>,
    /// Where each pin stands in `pins`.
    pub(super) index: HashMap<Label, usize>,
    /// What a row `others` says about the pins that have no row.
    pub(super) others: Option<(Wire, Origin)>,
    /// Its first row.
    pub(super) origin: Origin,
}

/// What is fitted at a reference.
#[derive(Clone, Debug)]
pub(super) enum Fitted {
    /// The socket's contacts.
    Contacts,
    /// A package of a known type.
    Chip(Arc<Part>),
    /// A part that is no package of logic.
    Passive(Passive),
    /// A part that stays on the card.
    Stays(Stay),
    /// A package of unknown type.
    Unknown,
    /// Nothing.
    Empty,
}

/// One pin that has a row.
#[derive(Clone, Debug)]
pub(super) struct Pin {
    pub(super) label: Label,
    pub(super) wire: Wire,
    pub(super) origin: Origin,
}

impl Package {
    /// The pin with this label, if it has a row.
    pub(super) fn pin(&self, label: &Label) -> Option<&Pin> {
        self.index.get(label).and_then(|&at| self.pins.get(at))
    }

    /// How a message names it: `U3 (74LS109)`.
    pub(super) fn called(&self) -> String {
        match &self.fitted {
            Fitted::Chip(part) => format!("{} ({})", self.reference, part.name()),
            Fitted::Contacts => self.reference.clone(),
            _ => format!("{} ({})", self.reference, self.part),
        }
    }

    /// How a message names a pin of it: `U3 pin 9`, or `contact 9`.
    pub(super) fn pin_called(&self, label: &Label) -> String {
        match self.fitted {
            Fitted::Contacts => format!("contact {label}"),
            _ => format!("{} pin {label}", self.reference),
        }
    }

    /// A pin of it, for those who ask what a finding is about.
    pub(super) fn subject(&self, label: &Label) -> Subject {
        match self.fitted {
            Fitted::Contacts => Subject::Contact(label.clone()),
            _ => Subject::Pin { reference: self.reference.clone(), pin: label.clone() },
        }
    }

    /// The logic part that is fitted here, if one is.
    pub(super) fn chip(&self) -> Option<&Arc<Part>> {
        match &self.fitted {
            Fitted::Chip(part) => Some(part),
            _ => None,
        }
    }

    /// The pins of a known part that have no row.
    pub(super) fn pins_without_row(&self) -> impl Iterator<Item = (&Label, PinRole)> {
        self.chip().into_iter().flat_map(|part| part.pins()).filter(|(label, _)| !self.index.contains_key(label))
    }

    /// The pins that are not yet traced, and the first row that says so. Pins that are joined to nothing inside don't
    /// count.
    pub(super) fn waiting(&self) -> (Vec<Label>, Origin) {
        let listed: Vec<&Pin> = self.pins.iter().filter(|pin| pin.wire == Wire::Untraced).collect();
        let mut labels: Vec<Label> = listed.iter().map(|pin| pin.label.clone()).collect();
        let mut origin = listed.first().map(|pin| pin.origin.clone());
        if let Some((Wire::Untraced, at)) = &self.others {
            let rest = self.pins_without_row().filter(|&(_, role)| role != PinRole::Unconnected);
            labels.extend(rest.map(|(label, _)| label.clone()));
            origin.get_or_insert_with(|| at.clone());
        }
        (labels, origin.unwrap_or_default())
    }

    /// True if all pins without a row are not yet traced.
    pub(super) fn others_wait(&self) -> bool {
        matches!(self.others, Some((Wire::Untraced, _)))
    }

    /// True if a circuit of the card has no place for it: nobody knows what it is.
    pub(super) fn is_left_out(&self) -> bool {
        matches!(self.fitted, Fitted::Unknown | Fitted::Empty)
    }
}
