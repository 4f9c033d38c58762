//! A run of one card by itself: the waveform of its contacts, and why something is as it is in the end.
use std::sync::Arc;

use super::cause::{Aspect, Cause, Chain};
use super::replay::Track;
use super::wave::{Column, Row, Side, Waveform};
use crate::circuit::{Circuit, Label};
use crate::machine::Machine;
use crate::simulate::Shown;

/// What contacts show over a run, one row after the other.
#[derive(Clone, Debug, Default)]
pub(crate) struct Card {
    rows: Vec<Row>,
}

impl Card {
    /// Adds a contact with what it shows at each point; `by_board` if the board alone drives it.
    pub(crate) fn row(&mut self, label: &Label, name: &str, by_board: bool, shown: Vec<Shown>) {
        let none = vec![false; shown.len()];
        let side = if by_board { Side::Board } else { Side::Card };
        let (label, name) = (label.clone(), name.to_owned());
        self.rows.push(Row { label, name, side, pins: Vec::new(), shown, differs: none.clone(), either: none });
    }

    /// The waveform, the board's rows first. `columns` has the step that leads into each point, and whether it passes before
    /// that step has settled.
    pub(crate) fn waveform(mut self, columns: impl IntoIterator<Item = (usize, bool)>) -> Waveform {
        self.rows.sort_by_key(|r| r.side != Side::Board);
        let columns = columns.into_iter().map(|(step, passes)| Column { step, passes }).collect();
        Waveform { columns, rows: self.rows }
    }
}

/// Why each of these contacts has its level at the end of a run, all that nobody knows taken as usual.
pub(crate) fn why(
    circuit: &Circuit,
    machine: &Machine,
    start: &[bool],
    (levels, events): (&[(Label, bool)], &[Vec<(Label, bool)>]),
    contacts: &[Label],
) -> Vec<Vec<Cause>> {
    let track = Track::new(&Arc::new(circuit.clone()), machine.clone(), start, levels, events);
    let end = track.end_of(events.len());
    contacts.iter().map(|label| Chain::of(&track, label, Aspect::Level, end)).collect()
}
