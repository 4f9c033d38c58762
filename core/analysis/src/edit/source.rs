//! Changes of what a source says at one place, made by building it again: a declared polarity, an edge that several
//! registers share, a `!`, an operator, a field that is read, a number.
use std::collections::BTreeSet;
use std::sync::Arc;

use super::fingerprint::{Fingerprints, fingerprint};
use super::list::without_numbers;
use super::words::{condition, level, literal, signal};
use super::{Change, Edit, EditKind};
use gluewright_kernel::circuit::{Circuit, Expr, Kind, Origin, Polarity};
use gluewright_kernel::signals::{Operand, Operator, Order, Source, Stands, Turn, Turnable, other};

/// A circuit that the source builds with some places taken otherwise.
#[derive(Clone, Debug)]
pub(super) struct Built {
    pub(super) circuit: Arc<Circuit>,
    source: Source,
    turns: Vec<Turn>,
}

impl Built {
    /// With the places of all of them taken otherwise at once.
    pub(super) fn together(all: &[&Built]) -> Option<Circuit> {
        let turns: Vec<Turn> = all.iter().flat_map(|built| built.turns.iter().copied()).collect();
        all.first()?.source.turned(&turns)
    }
}

/// Every change of a source at one of its places.
#[derive(Debug, Default)]
pub(crate) struct OfSource {
    /// Of what is declared, of edges and of numbers.
    pub(crate) declared: Vec<Edit>,
    /// Of what a wiring says word by word.
    pub(crate) written: Vec<Edit>,
}

/// Every change of a source that takes one of its places otherwise. None if the source does not build this circuit: then it
/// has been changed since, or it says another thing each time.
pub(crate) fn edits_of_source(source: &Source, circuit: &Circuit) -> OfSource {
    let mut all = OfSource::default();
    let Some((built, places)) = source.build() else { return all };
    let own = fingerprint(&built);
    if own != fingerprint(circuit) {
        return all;
    }
    // what a library's function says is no place of this source
    let file = |origin: &Origin| match origin {
        Origin::Line { file, .. } => Some(file.clone()),
        Origin::Nowhere => None,
    };
    let drivers = circuit.nets().iter().flat_map(|net| &net.drivers).map(|d| &d.origin);
    let files: BTreeSet<_> = circuit.elements().iter().map(|e| &e.origin).chain(drivers).filter_map(file).collect();
    for place in places.iter().filter(|place| file(&place.origin).is_some_and(|f| files.contains(&f))) {
        let Some(turned) = source.turned(&[place.turn]) else { continue };
        match place.turn {
            Turn::Polarity(name, was) => all.declared.push(declared(source, place, name, was, turned)),
            Turn::Edge(_) => all.declared.extend(edge(source, place, circuit, turned)),
            _ if fingerprint(&turned) == own => {}
            _ => {
                let (kind, words) = written(&built, place);
                let edit = edit(kind, source, place, words.clone(), words, turned);
                // nobody says a number by its bits
                let is_number = kind == EditKind::NumberChanged;
                if is_number { &mut all.declared } else { &mut all.written }.push(edit);
            }
        }
    }
    all
}

fn edit(kind: EditKind, source: &Source, place: &Turnable, name: String, words: String, turned: Circuit) -> Edit {
    let built = Built { circuit: Arc::new(turned), source: source.clone(), turns: vec![place.turn] };
    Edit { kind, name, origin: place.origin.clone(), words, changes: vec![Change::Whole(built)] }
}

/// A change of one word.
fn written(built: &Circuit, place: &Turnable) -> (EditKind, String) {
    let so = |e: Expr| without_numbers(&condition(built, e));
    let within = |e: Expr| match literal(built, e) {
        Some(_) => so(e),
        None => format!("({})", so(e)),
    };
    match (place.turn, &place.stands) {
        (Turn::Not(_) | Turn::Given(..), &Stands::Expression(e)) => {
            let words = match literal(built, e) {
                Some((leaf, high)) => {
                    let name = without_numbers(&signal(built, leaf).unwrap_or_default());
                    format!("{name} is {} instead of {}, where it is written", level(!high), level(high))
                }
                None => format!("({}) is inverted, where it is written", so(e)),
            };
            (EditKind::ConditionInverted, words)
        }
        (Turn::Operator(_, is), &Stands::Joined(a, was, b)) => {
            let [is, was] = [is, was].map(called);
            let words = format!("*{is}* instead of *{was}* stands between {} and {}", within(a), within(b));
            (EditKind::OperatorExchanged, words)
        }
        (Turn::Without(_, side), &Stands::Joined(a, was, b)) => {
            let (left_out, kept) = if side == Operand::Left { (a, b) } else { (b, a) };
            let kind = if was == Operator::And { EditKind::LiteralDropped } else { EditKind::TermDropped };
            (kind, format!("{} is left out beside {}, where it is written", within(left_out), within(kept)))
        }
        (Turn::Read(..), Stands::Field(from, to)) => {
            let [from, to] = [from, to].map(|name| without_numbers(name));
            (EditKind::SignalReplaced, format!("`{to}` is read instead of `{from}`"))
        }
        (Turn::Order(_, order), Stands::Field(from, to)) => {
            let how = match order {
                Order::Reversed => "in the other order",
                Order::Onwards | Order::Backwards => "one place on",
            };
            (EditKind::SignalsExchanged, format!("`{}` is read {how}: `{to}` for `{from}`", without_numbers(from)))
        }
        (Turn::Number(_, bit), &Stands::Number(number)) => {
            (EditKind::NumberChanged, format!("the number is {} instead of {number}", number ^ (1 << (bit % 64))))
        }
        // a place has what its turn turns
        _ => (EditKind::ConditionInverted, "it is inverted, where it is written".to_owned()),
    }
}

/// An operator as it stands in a sentence.
fn called(operator: Operator) -> &'static str {
    match operator {
        Operator::And => "and",
        Operator::Or => "or",
        Operator::Xor => "exclusive or",
    }
}

fn declared(source: &Source, place: &Turnable, name: &str, was: Polarity, turned: Circuit) -> Edit {
    // the markers of the surface have these names
    let words = format!("`{name}` is declared `{:?}` instead of `{was:?}`", other(was));
    edit(EditKind::PolarityDeclared, source, place, name.to_owned(), words, turned)
}

/// Nothing if no register acts on it.
fn edge(source: &Source, place: &Turnable, circuit: &Circuit, turned: Circuit) -> Option<Edit> {
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
    Some(edit(EditKind::EdgeSwapped, source, place, names, words, turned))
}
