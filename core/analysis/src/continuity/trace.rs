//! The trace that the readings come to.
use std::collections::{BTreeMap, BTreeSet};

use gluewright_kernel::board::written::{PartKind, rail_of};

use super::claims::{Claims, Is};
use super::judge::{Judged, Seen};
use super::parts::Parts;
use super::readings::Point;
use super::settle::Unsettled;

/// The name of each group: that of a rail, one that was given, a driver's pin, or the first pin's.
pub(super) fn names(seen: &Seen, claims: &Claims<'_>, judged: &Judged) -> BTreeMap<usize, String> {
    let mut members: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    (0..seen.points.len()).for_each(|p| members.entry(judged.group(p)).or_default().push(p));
    let mut taken: BTreeSet<String> = BTreeSet::new();
    let mut names = BTreeMap::new();
    let given = |p: &usize| match seen.points.get(*p) {
        Some(Point::Name(name)) => Some(name.clone()),
        _ => None,
    };
    let rail = |points: &[usize]| {
        let count = |high| points.iter().filter(|&&p| claims.what(p) == Is::Supply(high)).count();
        let (high, low) = (count(true), count(false));
        (high + low > 0).then(|| if high > low { "VCC" } else { "GND" }.to_owned())
    };
    // what is given goes first, so that no made name takes it
    for is_given in [true, false] {
        for (&group, points) in &members {
            let named = rail(points).or_else(|| points.iter().find_map(given));
            if named.is_some() != is_given {
                continue;
            }
            let of = |wanted: &[Is]| points.iter().find(|&&p| wanted.contains(&claims.what(p)));
            let source =
                of(&[Is::Output]).or_else(|| of(&[Is::Contact])).or_else(|| of(&[Is::Source, Is::OpenCollector]));
            let made = || match source.or_else(|| points.first()).and_then(|&p| seen.points.get(p)) {
                Some(Point::Pin { reference, pin }) => format!("{reference}_{pin}"),
                _ => format!("net{group}"),
            };
            let mut name = named.unwrap_or_else(made);
            // rails of one name are one net for a trace
            while rail_of(&name).is_none() && !taken.insert(name.clone()) {
                name.push('_');
            }
            names.insert(group, name);
        }
    }
    names
}

/// The trace as CSV: a row for each pin. What is not settled is marked `untraced`.
pub(super) fn sheet(
    seen: &Seen,
    parts: &Parts,
    claims: &Claims<'_>,
    judged: &Judged,
    unsettled: &Unsettled,
    values: &BTreeMap<String, f64>,
) -> Vec<u8> {
    let names = names(seen, claims, judged);
    let mut sizes: BTreeMap<usize, usize> = BTreeMap::new();
    (0..seen.points.len()).for_each(|p| *sizes.entry(judged.group(p)).or_default() += 1);
    let mut doubtful: BTreeSet<usize> = judged
        .open
        .iter()
        .flat_map(|open| open.keeps.iter().flat_map(|k| [k.1.0, k.1.1]))
        .map(|p| judged.group(p))
        .collect();
    doubtful.extend(unsettled.pairs.iter().flat_map(|&(a, b)| [a, b]).map(|p| judged.group(p)));
    doubtful.extend(unsettled.pins.iter().map(|&p| judged.group(p)));
    let mut writer = csv::Writer::from_writer(Vec::new());
    // writing into memory does not fail
    let _ = writer.write_record(["ref", "part", "pin", "net"]);
    for listed in parts.all() {
        if listed.kind == PartKind::Empty {
            let _ = writer.write_record([&listed.reference, &listed.text, "others", "open"]);
        }
        let text = match values.get(&listed.reference) {
            Some(ohms) => format!("resistor {}", value(*ohms)),
            None => listed.text.clone(),
        };
        for pin in &listed.pins {
            let point = Point::Pin { reference: listed.reference.clone(), pin: pin.clone() };
            let Some(&at) = seen.at.get(&point) else { continue };
            let group = judged.group(at);
            let is_alone = sizes.get(&group).is_none_or(|&size| size < 2);
            let net = match (doubtful.contains(&group), is_alone) {
                (true, _) => "untraced",
                // what is connected to nothing inside needs no row
                (false, true) if claims.what(at) == Is::Nothing && !unsettled.swept.contains(&group) => continue,
                (false, true) => "open",
                (false, false) => names.get(&group).map_or("untraced", String::as_str),
            };
            let _ = writer.write_record([listed.reference.as_str(), &text, pin.as_str(), net]);
        }
    }
    writer.into_inner().unwrap_or_default()
}

/// A resistance as a schematic has it, in two figures, as resistors are made.
fn value(ohms: f64) -> String {
    let digits = 10f64.powf(ohms.max(1.0).log10().floor() - 1.0);
    let round = (ohms / digits).round() * digits;
    match round {
        r if r >= 1e6 => format!("{}M", r / 1e6),
        r if r >= 1e3 => format!("{}k", r / 1e3),
        r => format!("{r}"),
    }
}
