//! Changes of what a source says at one place, made by building it again: a declared polarity, an edge that several
//! registers share.
use std::sync::Arc;

use super::fingerprint::{Fingerprints, fingerprint};
use super::list::without_numbers;
use super::words::{condition, literal, signal};
use super::{Change, Edit, EditKind};
use gluewright_kernel::circuit::{Circuit, Kind, Polarity};
use gluewright_kernel::signals::{Source, Turn, Turnable, other};

/// Every change of a source that turns one of its places round. None if the source does not build this circuit: then it
/// has been changed since, or it says another thing each time.
pub(crate) fn edits_of_source(source: &Source, circuit: &Circuit) -> Vec<Edit> {
    let Some((built, places)) = source.build() else { return Vec::new() };
    if fingerprint(&built) != fingerprint(circuit) {
        return Vec::new();
    }
    places
        .iter()
        .filter_map(|place| {
            let turned = source.turned(place.turn)?;
            match place.turn {
                Turn::Polarity(name, was) => Some(declared(place, name, was, turned)),
                Turn::Edge(_) => edge(place, circuit, turned),
            }
        })
        .collect()
}

fn edit(kind: EditKind, place: &Turnable, name: String, words: String, turned: Circuit) -> Edit {
    Edit { kind, name, origin: place.origin.clone(), words, changes: vec![Change::Whole(Arc::new(turned))] }
}

fn declared(place: &Turnable, name: &str, was: Polarity, turned: Circuit) -> Edit {
    // the markers of the surface have these names
    let words = format!("`{name}` is declared `{:?}` instead of `{was:?}`", other(was));
    edit(EditKind::PolarityDeclared, place, name.to_owned(), words, turned)
}

/// Nothing if no register acts on it.
fn edge(place: &Turnable, circuit: &Circuit, turned: Circuit) -> Option<Edit> {
    let [before, after] = [circuit, &turned].map(Fingerprints::new);
    let mut names: Vec<String> = Vec::new();
    let mut clock = None;
    for (was, is) in circuit.elements().iter().zip(turned.elements()) {
        let (Kind::Register { clock: a, .. }, Kind::Register { clock: b, .. }) = (was.kind, is.kind) else { continue };
        let name = format!("`{}`", without_numbers(&was.name));
        if before.of(a) != after.of(b) {
            clock = clock.or(Some(b));
            if !names.contains(&name) {
                names.push(name);
            }
        }
    }
    let clock = clock?;
    let when = match literal(&turned, clock) {
        Some((leaf, rises)) => {
            let [is, was] = [rises, !rises].map(|rises| if rises { "rises" } else { "falls" });
            format!("{} {is} instead of {was}", signal(&turned, leaf).unwrap_or_default())
        }
        None => format!("({}) begins instead of ends", condition(&turned, clock)),
    };
    let each = if names.len() > 1 { "each of " } else { "" };
    let names = names.join(", ");
    let words = format!("{each}{names} loads when {when}");
    Some(edit(EditKind::EdgeSwapped, place, names, words, turned))
}
