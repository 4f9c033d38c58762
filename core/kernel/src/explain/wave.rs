//! The run as a waveform: which contacts are worth a row, and what each shows step by step.
use crate::circuit::Label;
use crate::prove::Refutation;
use crate::simulate::Shown;

use super::replay::Track;

/// A run of both circuits at their contacts.
#[derive(Clone, Debug, Default, serde::Serialize)]
#[non_exhaustive]
pub struct Waveform {
    /// The columns, in order.
    pub columns: Vec<Column>,
    /// The rows, contacts that the board drives first.
    pub rows: Vec<Row>,
}

/// A stretch of time in which nothing changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[non_exhaustive]
pub struct Column {
    /// The step that leads into it; 0 is power-up.
    pub step: usize,
    /// Whether it passes on the way, before the step has settled.
    pub passes: bool,
}

/// Who shows what a row holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The board, on both.
    Board,
    /// The original.
    Original,
    /// The replacement.
    Replacement,
    /// A card by itself.
    Card,
    /// The original and the replacement, which show the same.
    Both,
}

/// One contact over time, on one side.
#[derive(Clone, Debug, serde::Serialize)]
#[non_exhaustive]
pub struct Row {
    /// The contact.
    #[serde(rename = "contact")]
    pub label: Label,
    /// Its name.
    pub name: String,
    /// Who shows it.
    pub side: Side,
    /// Pins behind the contact: of the original's chips, of the replacement's device.
    pub pins: Vec<String>,
    /// What is shown, one a column.
    pub shown: Vec<Shown>,
    /// Where it differs from the other side, one a column.
    pub differs: Vec<bool>,
    /// Where it may be high or low, one a column: that depends on how it powered up.
    pub either: Vec<bool>,
}

pub(super) fn waveform<'m>(
    of: &Refutation,
    free: &[Label],
    convicting: &[Label],
    may_show: impl Fn(&Label) -> &'m [Shown],
    tracks: [&Track; 2],
) -> Waveform {
    let last = of.events.len();
    // a pulse needs the phases of its step side by side
    let phases = |event: usize| {
        let pulses = of.differences.iter().any(|d| tracks.iter().any(|t| t.sequence(&d.label, event).len() > 2));
        if !pulses || event == 0 {
            return 1;
        }
        tracks.iter().map(|t| t.of_event(event).len()).max().unwrap_or(1)
    };
    let mut columns = Vec::new();
    let mut moments: Vec<[usize; 2]> = Vec::new();
    for event in 0..=last {
        let count = phases(event);
        for k in 0..count {
            columns.push(Column { step: event, passes: k + 1 < count });
            moments.push(tracks.map(|t| {
                let all = t.of_event(event);
                let at = if count == 1 { all.len().saturating_sub(1) } else { k.min(all.len().saturating_sub(1)) };
                all.get(at).copied().unwrap_or(0)
            }));
        }
    }
    let mut rows = Vec::new();
    for (label, name, high) in of.levels.iter().filter(|(label, ..)| !free.contains(label)) {
        let mut level = *high;
        let mut step = 0;
        let shown = columns
            .iter()
            .map(|column| {
                while step < column.step {
                    let changed = of.events.get(step).and_then(|e| e.changes.iter().find(|(l, ..)| l == label));
                    level = changed.map_or(level, |c| c.2);
                    step += 1;
                }
                if level { Shown::High } else { Shown::Low }
            })
            .collect::<Vec<_>>();
        let differs = vec![false; columns.len()];
        rows.push(Row {
            label: label.clone(),
            name: name.clone(),
            side: Side::Board,
            pins: Vec::new(),
            shown,
            differs,
            either: vec![false; columns.len()],
        });
    }
    let differing_rows = rows.len();
    for label in convicting {
        let shown: Vec<Shown> =
            moments.iter().map(|m| tracks[1].shown(label, m[1]).unwrap_or(Shown::Floating)).collect();
        rows.push(Row {
            label: label.clone(),
            name: of.name_of(label).to_owned(),
            side: Side::Both,
            pins: tracks[0].pins(label),
            differs: vec![false; columns.len()],
            either: vec![false; columns.len()],
            shown,
        });
    }
    let convict_rows = rows.split_off(differing_rows);
    for d in &of.differences {
        let shown = [0, 1].map(|s| -> Vec<Shown> {
            moments.iter().map(|m| tracks[s].shown(&d.label, m[s]).unwrap_or(Shown::Floating)).collect()
        });
        // what the replacement shows by an outcome that nobody knows stands here as it was found
        let [original, mut replacement] = shown;
        if !super::chance::is_usual(d, tracks[1], last)
            && let Some(&ends) = d.replacement.last()
        {
            for (shown, _) in replacement.iter_mut().zip(&columns).filter(|(_, c)| c.step == last) {
                *shown = ends;
            }
        }
        let shown = [original, replacement];
        let differs: Vec<bool> = shown[0].iter().zip(&shown[1]).map(|(a, b)| a != b).collect();
        let [original, replacement] = shown;
        let may = may_show(&d.label);
        let open = may.contains(&Shown::High) && may.contains(&Shown::Low);
        for (s, side, shown) in [(0, Side::Original, original), (1, Side::Replacement, replacement)] {
            rows.push(Row {
                label: d.label.clone(),
                name: d.name.clone(),
                side,
                pins: tracks[s].pins(&d.label),
                shown,
                differs: differs.clone(),
                either: columns.iter().map(|c| open && s == 0 && c.step == last && !c.passes).collect(),
            });
        }
    }
    // those that differ come first
    rows.extend(convict_rows);
    Waveform { columns, rows }
}
