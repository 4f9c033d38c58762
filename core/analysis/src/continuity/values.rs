//! Resistances between nets: which of them contradict each other, and what resistors they are.
use std::collections::BTreeMap;

use gluewright_kernel::board::written::PartKind;

use super::judge::{Judged, Seen};
use super::parts::Parts;
use super::readings::{Point, Readings, Shows, To};

/// Two readings of one resistor may differ by this much: tolerance of the meter, and of a second try.
const ALIKE: f64 = 1.25;

/// Readings between two nets that can't all be right, by their lines, and the one to repeat.
pub(super) struct Unlike {
    pub(super) lines: Vec<u64>,
    pub(super) again: (Point, Point),
}

/// Readings between two nets, by their lines.
type Between<'r> = BTreeMap<(usize, usize), Vec<(u64, Shows, &'r Point, &'r Point)>>;

fn between<'r>(readings: &'r Readings, seen: &Seen, judged: &Judged) -> Between<'r> {
    let mut all: Between<'r> = BTreeMap::new();
    for reading in &readings.all {
        let To::Point(to) = &reading.to else { continue };
        let (Some(&a), Some(&b)) = (seen.at.get(&reading.from), seen.at.get(to)) else { continue };
        let (a, b) = (judged.group(a), judged.group(b));
        if a != b && reading.shows != Shows::Joined {
            let at = all.entry((a.min(b), a.max(b))).or_default();
            at.push((reading.line, reading.shows, &reading.from, to));
        }
    }
    all
}

/// Readings of a resistance between the same two nets that differ. The last reading of a pair of points counts.
pub(super) fn unlike(readings: &Readings, seen: &Seen, judged: &Judged) -> Vec<Unlike> {
    let mut all = Vec::new();
    for of_pair in between(readings, seen, judged).values() {
        let mut last: BTreeMap<(&Point, &Point), (u64, Shows)> = BTreeMap::new();
        for &(line, shows, from, to) in of_pair {
            last.insert((from.min(to), from.max(to)), (line, shows));
        }
        let mut values: Vec<(f64, u64, (&Point, &Point))> = last
            .iter()
            .filter_map(|(&ends, &(line, shows))| match shows {
                Shows::Ohms(ohms) => Some((ohms, line, ends)),
                Shows::Open => Some((f64::INFINITY, line, ends)),
                Shows::Joined | Shows::Drop(_) => None,
            })
            .collect();
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        let Some(&(middle, ..)) = values.get(values.len() / 2) else { continue };
        let is_unlike = |ohms: f64| {
            ohms != middle && (!ohms.is_finite() || !middle.is_finite() || ohms.max(middle) > ALIKE * ohms.min(middle))
        };
        // of two, the later one is as good as the earlier one: the later one is repeated
        let odd = values.iter().filter(|v| is_unlike(v.0)).max_by_key(|v| v.1);
        if let Some(&(_, _, (from, to))) = odd {
            let lines = values.iter().map(|v| v.1).collect();
            all.push(Unlike { lines, again: (from.clone(), to.clone()) });
        }
    }
    all
}

/// The resistance that was read between the nets of each listed resistor's pins, where no value is written.
pub(super) fn resistors(readings: &Readings, seen: &Seen, judged: &Judged, parts: &Parts) -> BTreeMap<String, f64> {
    let between = between(readings, seen, judged);
    let mut all = BTreeMap::new();
    for listed in parts.all().iter().filter(|l| l.kind == PartKind::Resistor(None)) {
        let groups: Vec<usize> = listed
            .pins
            .iter()
            .filter_map(|pin| {
                let point = Point::Pin { reference: listed.reference.clone(), pin: pin.clone() };
                Some(judged.group(*seen.at.get(&point)?))
            })
            .collect();
        let &[a, b] = groups.as_slice() else { continue };
        let last = between.get(&(a.min(b), a.max(b))).into_iter().flatten().rev().find_map(|r| match r.1 {
            Shows::Ohms(ohms) => Some(ohms),
            _ => None,
        });
        if let Some(ohms) = last {
            all.insert(listed.reference.clone(), ohms);
        }
    }
    all
}
