//! Where to put the probe, what to expect there, and why each side shows what it shows.
use crate::circuit::Label;
use crate::prove::Difference;
use crate::simulate::Shown;

use super::replay::Track;
use super::text::sequence;
use super::words::list;
use super::{Aspect, Cause, Chain};

/// Contacts that differ alike.
#[derive(Clone, Debug, serde::Serialize)]
#[non_exhaustive]
pub struct Probe {
    /// The contacts.
    pub places: Vec<Place>,
    /// What the original shows in the last step, the first before it.
    pub original: Vec<Shown>,
    /// What the original may come to in the end, whatever it powered up with that explains all before: one thing if that
    /// is sure, nothing if it could not be told.
    pub may: Vec<Shown>,
    /// What the replacement shows in the last step, the first before it.
    pub replacement: Vec<Shown>,
    /// Contacts that must be seen together with this one: only so no run of the original shows the same.
    pub together: Vec<String>,
    /// What decides whether the trace or the source is right; nothing where neither has a line.
    pub decision: Option<super::Decision>,
    /// Whether both come to the same in the end.
    pub pulse_only: bool,
    /// The chain of cause in the original, at the first of the contacts.
    pub original_why: Vec<Cause>,
    /// The chain of cause in the replacement, at the first of the contacts.
    pub replacement_why: Vec<Cause>,
}

/// One contact that differs.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
#[non_exhaustive]
pub struct Place {
    /// The contact.
    #[serde(rename = "contact")]
    pub label: Label,
    /// Its name.
    pub name: String,
    /// The chip pins that drive it in the original.
    pub original: Vec<String>,
    /// The pins of the replacement's device, where they are known.
    pub replacement: Vec<String>,
}

pub(super) fn probe(
    alike: &[&Difference],
    may: Vec<Shown>,
    together: &[(Label, String)],
    tracks: [&Track; 2],
    event: usize,
) -> Probe {
    let places = alike
        .iter()
        .map(|d| Place {
            label: d.label.clone(),
            name: d.name.clone(),
            original: tracks[0].pins(&d.label),
            replacement: tracks[1].pins(&d.label),
        })
        .collect();
    let (original, replacement, pulse_only, label) = match alike.first() {
        Some(d) => (d.original.clone(), d.replacement.clone(), d.pulse_only, d.label.clone()),
        None => (Vec::new(), Vec::new(), false, Label::new("")),
    };
    let at = original.iter().zip(&replacement).take_while(|(a, b)| a == b).count();
    let entry = |of: &[Shown]| of.get(at).or(of.last()).copied().unwrap_or(Shown::Floating);
    let aspect = aspect(entry(&original), entry(&replacement));
    let why = |track: &Track, wanted: &[Shown]| {
        let sequence = track.sequence(&label, event);
        // a run that an unusual outcome of an unknown led to is not the one that is replayed: it has no chain here
        if sequence.iter().map(|s| s.0).ne(wanted.iter().copied()) {
            return Vec::new();
        }
        let moment = match sequence.get(at) {
            Some(&(_, moment)) if at + 1 < sequence.len() => moment,
            _ => track.end_of(event),
        };
        Chain::of(track, &label, aspect, moment)
    };
    Probe {
        original_why: why(tracks[0], &original),
        replacement_why: why(tracks[1], &replacement),
        places,
        original,
        may,
        replacement,
        together: together.iter().map(|(label, name)| format!("contact {label} {name}")).collect(),
        decision: None,
        pulse_only,
    }
}

impl Probe {
    /// The contacts that must be seen together with this one, in words.
    pub fn others(&self) -> String {
        list(&self.together)
    }

    /// What to expect of the original, in words; with steps, over the last of them.
    pub fn expected(&self, has_steps: bool) -> String {
        let (Some(first), false) = (self.original.first(), self.may.len() < 2 || self.original.len() > 2) else {
            return sequence(&self.original, has_steps);
        };
        let may: Vec<String> = self.may.iter().map(Shown::to_string).collect();
        let may = may.join(" or ");
        let together = match self.replacement.last() {
            Some(last) if self.may.contains(last) && !self.together.is_empty() => {
                format!(
                    ", but not {last} together with what {} show{}",
                    self.others(),
                    if self.together.len() == 1 { "s" } else { "" }
                )
            }
            Some(last) if self.may.contains(last) => ", but not on from what it shows before".to_owned(),
            _ => ", as it happened to power up".to_owned(),
        };
        if has_steps { format!("{first} before the step, then {may}{together}") } else { format!("{may}{together}") }
    }
}

fn aspect(a: Shown, b: Shown) -> Aspect {
    let driven = |s: Shown| matches!(s, Shown::High | Shown::Low);
    match (driven(a), driven(b)) {
        (true, true) => Aspect::Level,
        (false, false) => Aspect::Pull,
        _ => Aspect::Drive,
    }
}
