//! What a person does at the bench, one thing at a time.
use super::Row;
use gluewright_kernel::machine::ternary::Ternary;

/// Words of data with at most so many bits take all values, and are told bit by bit.
pub(super) const BITS: usize = 4;

/// Something that a person does at the bench.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Action {
    /// These rows get these levels: one after the other, or at one moment.
    Put { rows: Vec<(usize, bool)>, together: bool },
    /// This row goes to the other level and back.
    Pulse { row: usize, first: bool },
}

impl Action {
    /// What happens, event by event.
    pub(super) fn events(&self) -> Vec<Vec<(usize, Ternary)>> {
        match self {
            Action::Put { rows, together: true } => {
                vec![rows.iter().map(|&(row, high)| (row, Ternary::of(high))).collect()]
            }
            Action::Put { rows, together: false } => {
                rows.iter().map(|&(row, high)| vec![(row, Ternary::of(high))]).collect()
            }
            Action::Pulse { row, first } => {
                vec![vec![(*row, Ternary::of(*first))], vec![(*row, Ternary::of(!first))]]
            }
        }
    }

    /// The same in as many actions as it has events.
    pub(super) fn parts(&self) -> Vec<Action> {
        let one = |row: usize, high: bool| Action::Put { rows: vec![(row, high)], together: false };
        match self {
            Action::Put { together: true, .. } => vec![self.clone()],
            Action::Put { rows, together: false } => rows.iter().map(|&(row, high)| one(row, high)).collect(),
            Action::Pulse { row, first } => vec![one(*row, *first), one(*row, !first)],
        }
    }

    /// What of it changes a level from what was put there before; nothing if that is none.
    pub(super) fn news(&self, levels: &mut [Option<bool>]) -> Option<Action> {
        let mut put = |row: usize, high: bool| {
            let old = levels.get_mut(row).map(|level| level.replace(high));
            old != Some(Some(high))
        };
        match self {
            Action::Put { rows, together: false } => {
                let rows: Vec<(usize, bool)> = rows.iter().filter(|&&(row, high)| put(row, high)).copied().collect();
                (!rows.is_empty()).then_some(Action::Put { rows, together: false })
            }
            Action::Put { rows, together: true } => {
                rows.iter().for_each(|&(row, high)| _ = put(row, high));
                Some(self.clone())
            }
            Action::Pulse { row, first } => {
                put(*row, !first);
                Some(self.clone())
            }
        }
    }

    /// Whether both put levels on the same word of data.
    pub(super) fn meets(&self, other: &Action, rows: &[Row]) -> bool {
        let (Action::Put { rows: a, .. }, Action::Put { rows: b, .. }) = (self, other) else { return false };
        a.iter().any(|&(x, _)| {
            b.iter().any(|&(y, _)| x == y || (base(rows, x).is_some() && base(rows, x) == base(rows, y)))
        })
    }

    /// In words.
    pub(super) fn words(&self, rows: &[Row]) -> String {
        let name = |row: usize| rows.get(row).map_or_else(String::new, |r| format!("{} {}", r.label, r.name));
        let level = |high: bool| if high { "high" } else { "low" };
        match self {
            Action::Put { rows: put, together: false } if put.len() > BITS => {
                let levels: Vec<&str> = put.iter().map(|&(_, high)| level(high)).collect();
                let ends = [put.first(), put.last()].map(|end| end.map_or_else(String::new, |&(row, _)| name(row)));
                format!("{} to {}: {}", ends[0], ends[1], levels.join(" "))
            }
            Action::Put { rows, together } => {
                let each: Vec<String> =
                    rows.iter().map(|&(row, high)| format!("{} {}", name(row), level(high))).collect();
                let how = if *together && rows.len() > 1 { " at one moment" } else { "" };
                format!("{}{how}", each.join(", "))
            }
            Action::Pulse { row, first } => {
                format!("one pulse on {}, {} and back", name(*row), level(*first))
            }
        }
    }
}

/// The name of the word that a contact belongs to.
pub(super) fn base(rows: &[Row], row: usize) -> Option<&str> {
    rows.get(row).and_then(|r| r.name.split_once('[')).map(|(base, _)| base)
}
