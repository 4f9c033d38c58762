//! Which pins stand side by side, so that solder or a probe may bridge them.
use std::collections::{BTreeMap, BTreeSet};

use gluewright_kernel::board::PinRole;
use gluewright_kernel::board::written::PartKind;

use super::judge::Seen;
use super::parts::{Listed, Parts, numbered};
use super::readings::Point;

/// Pairs of points that stand side by side.
#[derive(Clone, Debug, Default)]
pub(super) struct Beside(BTreeSet<(usize, usize)>);

impl Beside {
    pub(super) fn of(seen: &Seen, parts: &Parts) -> Beside {
        let mut all = BTreeSet::new();
        for listed in parts.all().iter().filter(|l| l.is_package()) {
            let place: BTreeMap<(&str, u16), usize> = listed
                .pins
                .iter()
                .filter(|pin| listed.role(pin) != Some(PinRole::Unconnected))
                .filter_map(|pin| {
                    let point = Point::Pin { reference: listed.reference.clone(), pin: pin.clone() };
                    Some((numbered(pin.as_str())?, *seen.at.get(&point)?))
                })
                .collect();
            let turn = turn(listed);
            for (&(letters, number), &point) in &place {
                let is_last = turn.is_some_and(|last| letters.is_empty() && number == last);
                let next = number.checked_add(1).and_then(|next| place.get(&(letters, next)));
                if let Some(&next) = next.filter(|_| !is_last) {
                    all.insert((point.min(next), point.max(next)));
                }
            }
        }
        Beside(all)
    }

    pub(super) fn are(&self, a: usize, b: usize) -> bool {
        self.0.contains(&(a.min(b), a.max(b)))
    }

    pub(super) fn all(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.0.iter().copied()
    }
}

/// The last pin of a dual in-line package's first row; the next one stands across (common practice, no source).
fn turn(listed: &Listed) -> Option<u16> {
    let last = listed.pins.iter().filter_map(gluewright_kernel::circuit::Label::number).max()?;
    (listed.kind != PartKind::Contacts && last >= 6 && last.is_multiple_of(2)).then_some(last / 2)
}
