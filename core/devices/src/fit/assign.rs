//! Who gets which pin: a matching of macrocells and inputs with pins, the first in the order of contacts.
use std::collections::{BTreeMap, BTreeSet};

use super::demand::{Demand, Demands, Drive};
use super::globals::EnablePin;
use super::item::{Item, label};
use super::place::{Place, can_enable};
use super::{Wishes, straight};
use crate::device::{Enable, EnableSource, PinNumber, Term};

/// A place for every item.
pub(super) type Assignment = BTreeMap<Item, PinNumber>;

/// The items of a circuit in the order in which they choose.
pub(super) fn items(demands: &Demands, place: Place<'_>) -> Vec<Item> {
    let clock = demands.globals.clock;
    let enable = match demands.globals.enable {
        Some(EnablePin::Contact(v)) => Some(v),
        Some(EnablePin::Tied) | None => None,
    };
    // a clock or enable pin that reaches the array needs no second one
    let reaches = |pin: Option<PinNumber>| pin.is_some_and(|pin| place.mode.reads(pin).is_some());
    let has_pin = |v: usize| {
        (clock == Some(v) && reaches(place.mode.clock)) || (enable == Some(v) && reaches(place.enable_pin()))
    };
    let inputs = demands.logic.inputs.iter().map(|i| i.variable);
    let needed = inputs.filter(|&v| demands.used.contains(&v) && !has_pin(v));
    let macrocells = (0..demands.list.len()).map(Item::Macrocell);
    let global = clock.map(Item::Clock).into_iter().chain(enable.map(Item::Enable));
    global.chain(macrocells).chain(needed.map(Item::Input)).collect()
}

/// The pins that an item may have, the best first, leaving wishes out of account.
pub(super) fn pins(demands: &Demands, place: Place<'_>, item: Item) -> Vec<PinNumber> {
    let mut pins = match item {
        Item::Clock(_) => place.mode.clock.into_iter().collect(),
        Item::Enable(_) => place.enable_pin().into_iter().collect(),
        Item::Input(_) => {
            let clocked = demands.globals.clock.is_some();
            let enabled = demands.globals.enable.is_some();
            let taken =
                |p: PinNumber| (clocked && place.mode.clock == Some(p)) || (enabled && place.enable_pin() == Some(p));
            let dedicated = place.dedicated().into_iter().filter(|&p| !taken(p));
            let spare = place.mode.macrocells.iter().filter(|m| place.can_be_input(m)).map(|m| m.pin);
            let mut spare: Vec<_> = spare.collect();
            spare.sort_unstable();
            dedicated.chain(spare).collect()
        }
        Item::Macrocell(index) => {
            let Some(demand) = demands.list.get(index) else { return Vec::new() };
            let mut pins: Vec<_> =
                place.mode.macrocells.iter().filter(|m| suits(place, m.pin, demand)).map(|m| m.pin).collect();
            pins.sort_unstable();
            pins
        }
    };
    // a pin with the number of its contact needs no crossing wire
    let number = label(demands, item).and_then(|l| l.number());
    pins.sort_by_key(|&p| number != Some(p));
    pins
}

/// Whether the macrocell at this pin can do what is asked.
pub(super) fn suits(place: Place<'_>, pin: PinNumber, demand: &Demand) -> bool {
    can_do(place, pin, demand, true)
}

/// The same, with any number of product terms.
pub(super) fn suits_but_for_width(place: Place<'_>, pin: PinNumber, demand: &Demand) -> bool {
    can_do(place, pin, demand, false)
}

fn can_do(place: Place<'_>, pin: PinNumber, demand: &Demand, wide_enough: bool) -> bool {
    let Some(macrocell) = place.mode.macrocell(pin) else { return false };
    let Some(configuration) = place.configuration(macrocell, demand.function, demand.read) else { return false };
    let asked = match (&demand.drive, configuration.enable) {
        // all registers share the enable pin; whether they agree has been checked
        (_, EnableSource::Pin(_)) => Enable::Pin,
        (Drive::Always, _) => Enable::Always,
        (Drive::Never, _) => Enable::Never,
        (Drive::While(_), _) => Enable::While(Term::always()),
    };
    can_enable(configuration, &asked, demand.isolated())
        && (!wide_enough || demand.width() <= configuration.rows.len())
        && (demand.choice.inverted || macrocell.polarity.is_some())
}

/// The pin that a user wants for an item.
pub(super) fn wish(demands: &Demands, place: Place<'_>, wishes: &Wishes, item: Item) -> Option<PinNumber> {
    if wishes.straight {
        return label(demands, item)?.number();
    }
    let asked = match (item, label(demands, item)) {
        (_, Some(label)) => wishes.contacts.get(label).copied(),
        (Item::Macrocell(i), None) => demands.list.get(i).and_then(|d| wishes.buried.get(&d.name)).copied(),
        (_, None) => None,
    };
    match item {
        // the second pin of a clock or enable contact that is also read may be the one that the wish means
        Item::Input(v) if demands.globals.clock == Some(v) => asked.filter(|&p| place.mode.clock != Some(p)),
        Item::Input(v) if demands.globals.enable == Some(EnablePin::Contact(v)) => {
            asked.filter(|&p| place.enable_pin() != Some(p))
        }
        Item::Clock(v) | Item::Enable(v) if demands.used.contains(&v) => {
            asked.filter(|p| pins(demands, place, item).contains(p))
        }
        _ => asked,
    }
}

/// Finds a place for every item, so that the first items get their best pins; `None` if there is none.
pub(super) fn assign(demands: &Demands, place: Place<'_>, wishes: &Wishes) -> Option<Assignment> {
    let items = items(demands, place);
    let mut allowed: Vec<Vec<PinNumber>> = items
        .iter()
        .map(|&item| {
            let mut pins = pins(demands, place, item);
            if let Some(wish) = wish(demands, place, wishes, item) {
                pins.retain(|&p| p == wish);
            }
            if wishes.straight {
                pins.retain(|&p| straight::allows(demands, place, wishes, item, p));
            }
            pins
        })
        .collect();
    matching(&allowed)?;
    for index in 0..items.len() {
        let choices = allowed.get(index).cloned().unwrap_or_default();
        for pin in choices {
            let mut tried = allowed.clone();
            if let Some(slot) = tried.get_mut(index) {
                *slot = vec![pin];
            }
            if matching(&tried).is_some() {
                allowed = tried;
                break;
            }
        }
    }
    let matched = matching(&allowed)?;
    Some(items.into_iter().zip(matched).collect())
}

/// A pin for each item, each pin once (augmenting paths).
pub(super) fn matching(allowed: &[Vec<PinNumber>]) -> Option<Vec<PinNumber>> {
    let mut owner: BTreeMap<PinNumber, usize> = BTreeMap::new();
    for item in 0..allowed.len() {
        let mut seen = Vec::new();
        if !augment(allowed, item, &mut owner, &mut seen) {
            return None;
        }
    }
    let mut pins = vec![0; allowed.len()];
    for (pin, item) in owner {
        if let Some(slot) = pins.get_mut(item) {
            *slot = pin;
        }
    }
    Some(pins)
}

fn augment(
    allowed: &[Vec<PinNumber>],
    item: usize,
    owner: &mut BTreeMap<PinNumber, usize>,
    seen: &mut Vec<PinNumber>,
) -> bool {
    for &pin in allowed.get(item).into_iter().flatten() {
        if seen.contains(&pin) {
            continue;
        }
        seen.push(pin);
        let free = match owner.get(&pin).copied() {
            None => true,
            Some(other) => augment(allowed, other, owner, seen),
        };
        if free {
            owner.insert(pin, item);
            return true;
        }
    }
    false
}

/// How many pins can carry some of these items.
pub(super) fn signal_pins(demands: &Demands, place: Place<'_>, items: &[Item]) -> usize {
    let all: BTreeSet<PinNumber> = items
        .iter()
        .flat_map(|&item| pins(demands, place, item))
        .chain(place.dedicated())
        .chain(place.mode.macrocells.iter().map(|m| m.pin))
        .collect();
    all.len()
}
