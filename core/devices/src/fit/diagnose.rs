//! The first reason why a circuit has no place, and what would help.
use super::assign::{items, matching, pins, signal_pins, suits_but_for_width, wish};
use super::demand::{Demand, Demands, Drive};
use super::item::{Item, label};
use super::place::Place;
use super::{NoFit, Wishes, straight};
use crate::device::{Function, PinNumber, Role};
use gluewright_kernel::circuit::Circuit;

/// Why a try failed.
#[derive(Clone, Debug)]
pub(super) enum Blocked {
    /// Everything has a place but for the width of some functions.
    TooWide(Box<(Demands, NoFit)>),
    /// Narrower functions wouldn't help.
    Otherwise(NoFit),
}

/// How near a reason is to a fit: the mode that gives it is the one to speak of.
pub(super) fn nearness(reason: &NoFit) -> usize {
    match reason {
        NoFit::NoModes { .. } => 0,
        NoFit::NoRegisters { .. } => 1,
        NoFit::TooManyMacrocells { .. } | NoFit::NoMacrocellFor { .. } => 2,
        NoFit::TooManyPins { .. } | NoFit::Pinned { .. } | NoFit::PinnedTogether { .. } => 3,
        NoFit::TooWide { .. } => 4,
        _ => 5,
    }
}

/// Whether every wish is for something that exists.
pub(super) fn known(circuit: &Circuit, wishes: &Wishes) -> Result<(), NoFit> {
    for (label, &pin) in &wishes.contacts {
        if circuit.find_contact(label).is_none() {
            return Err(NoFit::UnknownWish { what: "contact", wish: label.to_string(), pin });
        }
    }
    for (name, &pin) in &wishes.buried {
        if circuit.find_element(name).is_none() && circuit.find_net(name).is_none() {
            return Err(NoFit::UnknownWish { what: "signal", wish: name.clone(), pin });
        }
    }
    Ok(())
}

/// Finds the reason.
pub(super) fn diagnose(demands: Demands, place: Place<'_>, wishes: &Wishes) -> Blocked {
    let items = items(&demands, place);
    let available = place.mode.macrocells.len();
    if demands.list.len() > available {
        return Blocked::Otherwise(too_many_macrocells(&demands, place, available));
    }
    if let Some(reason) = wrong_wish(&demands, place, wishes, &items) {
        return Blocked::Otherwise(reason);
    }
    // without wishes, and without limits of width
    let free: Vec<Vec<PinNumber>> = items.iter().map(|&i| pins(&demands, place, i)).collect();
    if matching(&free).is_some() {
        if wishes.straight {
            return Blocked::Otherwise(not_straight(&demands, place, wishes, &items));
        }
        let pinned = items.iter().filter(|&&i| wish(&demands, place, wishes, i).is_some());
        let contacts = pinned.map(|&i| format!("`{}`", name(&demands, i))).collect::<Vec<_>>().join(", ");
        return Blocked::Otherwise(NoFit::PinnedTogether {
            contacts,
            circuit: demands.logic.name.clone(),
            device: place.device.name,
        });
    }
    let wide = |item: Item| match item {
        Item::Macrocell(i) => demands.list.get(i).map_or_else(Vec::new, |d| {
            let macrocells = place.mode.macrocells.iter().map(|m| m.pin);
            macrocells.filter(|&p| suits_but_for_width(place, p, d)).collect()
        }),
        Item::Clock(_) | Item::Enable(_) | Item::Input(_) => pins(&demands, place, item),
    };
    let unlimited: Vec<Vec<PinNumber>> = items.iter().map(|&i| wide(i)).collect();
    if matching(&unlimited).is_some() {
        let reason = too_wide(&demands, place, &items, &free);
        return Blocked::TooWide(Box::new((demands, reason)));
    }
    let macrocells = demands.list.len();
    let inputs = items.len() - macrocells;
    let pins = signal_pins(&demands, place, &items);
    if items.len() > pins {
        let over = items.len() - pins;
        return Blocked::Otherwise(NoFit::TooManyPins {
            inputs,
            macrocells,
            available: pins,
            dedicated: pins - available,
            over,
            device: place.device.name,
            mode: place.mode.name,
        });
    }
    Blocked::Otherwise(no_macrocell(&demands, place, &items, &unlimited))
}

/// The first signal that finds no pin without an adapter: the contacts have theirs, so it is one without.
fn not_straight(demands: &Demands, place: Place<'_>, wishes: &Wishes, items: &[Item]) -> NoFit {
    let free =
        |item: Item| pins(demands, place, item).into_iter().any(|p| straight::allows(demands, place, wishes, item, p));
    let item = items.iter().copied().find(|&i| !free(i)).or(items.last().copied()).unwrap_or(Item::Macrocell(0));
    let wanted = label(demands, item).cloned().unwrap_or_else(|| "none".into());
    let why = match label(demands, item) {
        Some(_) => "it needs a second pin: use an adapter".to_owned(),
        None => format!(
            "`{}` needs a macrocell whose pin the board leaves open: name an open contact, or use an adapter",
            name(demands, item)
        ),
    };
    NoFit::NotStraight { contact: wanted, device: place.device.name, why }
}

fn name(demands: &Demands, item: Item) -> String {
    match item {
        Item::Clock(v) | Item::Enable(v) | Item::Input(v) => demands.logic.name_of(v).to_owned(),
        Item::Macrocell(i) => demands.list.get(i).map_or_else(String::new, |d| d.name.clone()),
    }
}

fn too_many_macrocells(demands: &Demands, place: Place<'_>, available: usize) -> NoFit {
    let needed = demands.list.len();
    let names = |of: &dyn Fn(&&Demand) -> bool| {
        demands.list.iter().filter(of).map(|d| format!("`{}`", d.name)).collect::<Vec<_>>().join(", ")
    };
    let contacts = names(&|d| d.output.is_some());
    let registers = names(&|d| d.output.is_none() && d.function == Function::Registered);
    let nodes = names(&|d| d.output.is_none() && d.function == Function::Combinational);
    let groups = [("contacts", contacts), ("buried registers", registers), ("buried latches and nodes", nodes)];
    let used = groups.iter().filter(|(_, names)| !names.is_empty());
    let list = used.map(|(what, names)| format!("{what} {names}")).collect::<Vec<_>>().join("; ");
    let over = needed - available;
    let extra: Vec<&str> = demands.logic.nodes.iter().filter(|n| n.net.is_none()).map(|n| n.name.as_str()).collect();
    let mend = if extra.is_empty() {
        let outputs = if over == 1 {
            "one output less would do; or".to_owned()
        } else {
            format!("{over} outputs less would do; or split it over several devices,")
        };
        format!("{outputs} leave part of the original in place, or choose a larger device")
    } else {
        format!(
            "{} would need none if the condition were one product term; or choose a larger device",
            extra.iter().map(|n| format!("`{n}`")).collect::<Vec<_>>().join(", ")
        )
    };
    NoFit::TooManyMacrocells { needed, available, device: place.device.name, mode: place.mode.name, list, mend }
}

/// The first wish that can't be fulfilled whatever the others are, or that two signals share.
fn wrong_wish(demands: &Demands, place: Place<'_>, wishes: &Wishes, items: &[Item]) -> Option<NoFit> {
    let mut seen: Vec<(PinNumber, Item)> = Vec::new();
    for &item in items {
        let Some(pin) = wish(demands, place, wishes, item) else { continue };
        let no = |why: String| NoFit::Pinned {
            signal: name(demands, item),
            pin,
            device: place.device.name,
            mode: place.mode.name,
            why,
        };
        if let Some((_, other)) = seen.iter().find(|(p, _)| *p == pin) {
            return Some(no(format!("`{}` is to be there too", name(demands, *other))));
        }
        seen.push((pin, item));
        let free = pins(demands, place, item);
        if free.contains(&pin) {
            continue;
        }
        let too_wide = matches!(item, Item::Macrocell(i)
            if demands.list.get(i).is_some_and(|d| suits_but_for_width(place, pin, d)));
        if free.is_empty() && too_wide {
            // it may be split, and the rest of it fit there
            continue;
        }
        let these = free.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        let can = match free.as_slice() {
            [] => ", and no other can".to_owned(),
            [_] => format!("; pin {these} can"),
            _ => format!("; pins {these} can"),
        };
        let why = match (place.device.role(pin), item) {
            (None, _) => "there is no such pin".to_owned(),
            (Some(Role::Vcc | Role::Gnd), _) => "it is a supply pin".to_owned(),
            (_, Item::Clock(_)) => format!("the registers are clocked by pin {these}"),
            (_, Item::Enable(_)) => format!("the registers are enabled by pin {these}"),
            (_, Item::Macrocell(i)) => match (place.mode.macrocell(pin), demands.list.get(i)) {
                (Some(m), Some(d)) if suits_but_for_width(place, pin, d) => format!(
                    "its macrocell has {} product terms, {} are needed; wide enough are pins {these}",
                    m.configuration(d.function).map_or(0, |c| c.rows.len()),
                    d.width(),
                ),
                (Some(_), _) => format!("its macrocell can't do that{can}"),
                (None, _) => format!("it can't drive{can}"),
            },
            (_, Item::Input(_)) => format!("it can't be an input there{can}"),
        };
        return Some(no(why));
    }
    None
}

fn too_wide(demands: &Demands, place: Place<'_>, items: &[Item], free: &[Vec<PinNumber>]) -> NoFit {
    // the widest get their macrocells first; the first that finds none is the one to speak of
    let mut order: Vec<(&Demand, Vec<PinNumber>)> = items
        .iter()
        .zip(free)
        .filter_map(|(item, pins)| match item {
            Item::Macrocell(i) => Some((demands.list.get(*i)?, pins.clone())),
            Item::Clock(_) | Item::Enable(_) | Item::Input(_) => None,
        })
        .collect();
    order.sort_by_key(|(d, _)| std::cmp::Reverse(d.width()));
    let pins: Vec<Vec<PinNumber>> = order.iter().map(|(_, p)| p.clone()).collect();
    let fails = (1..=order.len()).find(|&n| matching(pins.get(..n).unwrap_or_default()).is_none());
    let failing = fails.unwrap_or(1) - 1;
    let taken = matching(pins.get(..failing).unwrap_or_default()).unwrap_or_default();
    let (signal, needed, fewest, origin) = order
        .get(failing)
        .map_or_else(Default::default, |(d, _)| (d.name.clone(), d.width(), d.choice.fewest, d.origin.clone()));
    let width = |pin: PinNumber| {
        place.mode.macrocell(pin).into_iter().flat_map(|m| &m.configurations).map(|c| c.rows.len()).max().unwrap_or(0)
    };
    let left = place.mode.macrocells.iter().map(|m| m.pin).filter(|p| !taken.contains(p));
    let spare = place.mode.macrocells.len() - demands.list.len();
    NoFit::TooWide {
        signal,
        needed,
        fewest,
        widest: left.map(width).max().unwrap_or(0),
        spare,
        device: place.device.name,
        mode: place.mode.name,
        origin,
    }
}

fn no_macrocell(demands: &Demands, place: Place<'_>, items: &[Item], allowed: &[Vec<PinNumber>]) -> NoFit {
    let fails = (1..=items.len()).find(|&n| matching(allowed.get(..n).unwrap_or_default()).is_none());
    let item = items.get(fails.unwrap_or(1) - 1).copied().unwrap_or(Item::Macrocell(0));
    let (needs, origin, mend) = match item {
        Item::Macrocell(i) => match demands.list.get(i) {
            Some(d) => (needs(d), d.origin.clone(), "choose a device that has more macrocells of that kind"),
            None => (String::new(), Default::default(), ""),
        },
        Item::Clock(_) | Item::Enable(_) | Item::Input(_) => (
            "is an input".to_owned(),
            demands
                .logic
                .inputs
                .iter()
                .find(|i| Some(&i.label) == label(demands, item))
                .map(|i| i.origin.clone())
                .unwrap_or_default(),
            "leave out an input, or choose a larger device",
        ),
    };
    NoFit::NoMacrocellFor {
        signal: name(demands, item),
        needs,
        device: place.device.name,
        mode: place.mode.name,
        mend,
        origin,
    }
}

fn needs(demand: &Demand) -> String {
    let function = match demand.function {
        Function::Registered | Function::Latch => "a register",
        Function::Combinational | Function::Input => "combinational",
    };
    let drive = match demand.drive {
        Drive::Always | Drive::Never => "",
        Drive::While(_) => ", drives by a condition",
    };
    let read = if demand.read { " and is read back" } else { "" };
    format!("is {function}{drive}{read}")
}
