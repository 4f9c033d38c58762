//! What all registers of a device share: the clock, the reset term, the enable pin.
use super::place::Place;
use super::{Drive, NoFit, Sharing};
use crate::logic::{Diagram, Logic, Register};
use gluewright_kernel::circuit::Start;

/// What the registers of a circuit agree on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Globals {
    /// The variable whose rise clocks them, if there are any.
    pub(super) clock: Option<usize>,
    /// The condition that resets them, if they have one.
    pub(super) reset: Option<Diagram>,
    /// What enables their drivers together, on a device that has a pin for it.
    pub(super) enable: Option<EnablePin>,
}

/// What is on the pin that enables the drivers of all registers while it is low.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum EnablePin {
    /// Ground: they always drive.
    Tied,
    /// The contact of this variable.
    Contact(usize),
}

impl EnablePin {
    /// Whether a register that is to drive so can leave it to the pin.
    pub(super) fn suits(self, drive: &Drive) -> bool {
        match (self, drive) {
            (EnablePin::Tied, Drive::Always) => true,
            (EnablePin::Contact(pin), Drive::While(product)) => *product == [(pin, false)],
            _ => false,
        }
    }

    /// What suits the most registered outputs; the others need a macrocell beside their register's.
    pub(super) fn choose(logic: &Logic, place: Place<'_>, drives: &[Drive]) -> Option<EnablePin> {
        place.enable_pin().filter(|_| !logic.registers.is_empty())?;
        let registered = |v: usize| logic.registers.iter().any(|r| r.variable == v);
        let shown = logic.outputs.iter().zip(drives).filter(|(o, _)| o.shows.is_some_and(|(v, _)| registered(v)));
        let drives: Vec<&Drive> = shown.map(|(_, d)| d).collect();
        let contacts = logic.inputs.iter().map(|i| EnablePin::Contact(i.variable));
        let ways = contacts.chain([EnablePin::Tied]);
        ways.max_by_key(|way| drives.iter().filter(|d| way.suits(d)).count())
    }
}

/// Finds the common clock and reset, or the first register that disagrees.
pub(super) fn globals(logic: &Logic, place: Place<'_>) -> Result<Globals, NoFit> {
    let Some(first) = logic.registers.first() else { return Ok(Globals::default()) };
    let Some(pin) = place.mode.clock else {
        return Err(NoFit::NoRegisters {
            register: first.name.clone(),
            device: place.device.name,
            mode: place.mode.name,
            origin: first.origin.clone(),
        });
    };
    let clock = clock(logic, place, pin, first)?;
    for other in &logic.registers {
        let its = self::clock(logic, place, pin, other)?;
        if its != clock {
            return Err(NoFit::TwoClocks {
                first: sharing(first, logic.name_of(clock).into()),
                second: sharing(other, logic.name_of(its).into()),
                device: place.device.name,
            });
        }
    }
    Ok(Globals { clock: Some(clock), reset: reset(logic, place)?, enable: None })
}

/// The contact whose rise clocks a register.
fn clock(logic: &Logic, place: Place<'_>, pin: u16, register: &Register) -> Result<usize, NoFit> {
    let (name, device, origin) = (register.name.clone(), place.device.name, register.origin.clone());
    if register.clock.as_constant().is_some() {
        return Err(NoFit::NeverClocked { register: name, origin });
    }
    match logic.diagrams.as_literal(register.clock) {
        Some((v, rises)) if logic.inputs.iter().any(|i| i.variable == v) => {
            if rises {
                return Ok(v);
            }
            Err(NoFit::FallingClock { register: name, clock: logic.name_of(v).into(), device, pin, origin })
        }
        _ => {
            let support = logic.diagrams.support(register.clock);
            let reads = support.into_iter().map(|v| format!("`{}`", logic.name_of(v))).collect::<Vec<_>>().join(", ");
            Err(NoFit::GatedClock { register: name, reads, device, pin, origin })
        }
    }
}

/// The level that a reset gives to a register, and its condition, if it has one.
pub(super) fn reset_of(register: &Register) -> Option<(bool, Diagram)> {
    match (register.clear, register.preset) {
        (Diagram::LOW, Diagram::LOW) => None,
        (Diagram::LOW, preset) => Some((true, preset)),
        (clear, _) => Some((false, clear)),
    }
}

fn reset(logic: &Logic, place: Place<'_>) -> Result<Option<Diagram>, NoFit> {
    let device = place.device.name;
    let both = |r: &&Register| r.clear != Diagram::LOW && r.preset != Diagram::LOW;
    if let Some(r) = logic.registers.iter().find(both) {
        return Err(NoFit::ClearAndPreset { register: r.name.clone(), device, origin: r.origin.clone() });
    }
    let Some((first, condition)) = logic.registers.iter().find_map(|r| Some((r, reset_of(r)?.1))) else {
        return Ok(None);
    };
    if place.mode.reset.is_none() {
        let what = if first.clear == Diagram::LOW { "preset" } else { "clear" };
        return Err(NoFit::NoReset { register: first.name.clone(), what, device, origin: first.origin.clone() });
    }
    for other in &logic.registers {
        let (by, mend) = match reset_of(other) {
            Some((_, c)) if c == condition => continue,
            Some((_, c)) => (
                format!("by `{}`", conditions(logic, c)),
                "give both the same condition, or make one of the two part of what is loaded".to_owned(),
            ),
            None => {
                let name = &other.name;
                let mend = "by the same condition too, or make the reset part of what is loaded";
                ("not at all".to_owned(), format!("clear or preset `{name}` {mend}"))
            }
        };
        let first = sharing(first, conditions(logic, condition));
        return Err(NoFit::TwoResets { first, second: sharing(other, by), device, mend });
    }
    Ok(Some(condition))
}

fn sharing(register: &Register, by: String) -> Box<Sharing> {
    Box::new(Sharing { register: register.name.clone(), by, origin: register.origin.clone() })
}

/// A condition as a sum of products, for a message.
pub(super) fn conditions(logic: &Logic, condition: Diagram) -> String {
    let mut diagrams = logic.diagrams.clone();
    let terms = diagrams.products(condition, condition);
    match terms.as_slice() {
        [] => "never".into(),
        terms => terms.iter().map(|t| logic.term_text(t)).collect::<Vec<_>>().join(" ∨ "),
    }
}

/// Whether storing in this way gives the register its declared start and its level after a reset. `shown` says that
/// the pin (of a buried register: the pin that nobody connects) shows the complement.
pub(super) fn wakes_up_right(register: &Register, place: Place<'_>, inverted: bool, shown: bool) -> bool {
    let wakes = place.device.pin_at_power_up(inverted).map(|level| level != shown);
    let start = match register.start {
        Start::Any => true,
        Start::Low => wakes == Some(false),
        Start::High => wakes == Some(true),
    };
    // a reset does what power-up does
    let reset = reset_of(register).is_none_or(|(level, _)| wakes == Some(level));
    start && reset
}
