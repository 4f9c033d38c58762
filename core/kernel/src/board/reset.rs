//! A resistor and a capacitor at an input: the net is late when power comes on, and what depends on it starts where
//! that puts it.
//!
//! The capacitor is empty when power comes on, so its net is at the level of its rail. The resistor takes it to the other
//! one, and there it stays. What that clears or presets by itself is where the card starts, whatever else the board does;
//! what also needs a clock, data or a loop of gates can't be told, and such a net is refused.
use super::Board;
use super::compose::{Composed, compose_of};
use super::library::PinRole;
use super::nets::{Net, Role};
use super::package::{Fitted, Package};
use super::vocabulary::{Passive, Supply, Wire};
use crate::circuit::{Circuit, ElementId, Expr, Kind, NetId, Op, Pull, Start, Vertex};
use crate::figures::Levels;

/// A net that is late.
pub(super) struct Late {
    /// Its position among the board's nets.
    net: usize,
    /// The level at which it is while power comes on.
    pub(super) held_high: bool,
    /// Ω · F, if both are written.
    seconds: Option<f64>,
}

/// A register or latch of a package, whatever circuit that is put into.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    /// The package's position on the board.
    package: usize,
    /// The position among what the part holds.
    element: usize,
}

/// What a net that is late does.
pub(super) struct Begins {
    /// The registers and latches of the card that it clears or presets, and their levels.
    holds: Vec<(Place, bool)>,
    /// Their names.
    pub(super) names: Vec<(String, bool)>,
    /// How long it holds them, in s, at least and at most, by the thresholds of the inputs on it.
    pub(super) lasts: Option<[f64; 2]>,
    /// Parts that read it and have no Schmitt trigger.
    pub(super) plain: Vec<String>,
}

impl Board {
    /// The net on which this capacitor makes a delay at power-up: the resistor that is there charges it, and nothing but
    /// inputs of logic read it.
    pub(super) fn late(&self, package: &Package) -> Option<Late> {
        let Fitted::Passive(Passive::Capacitor { farads, .. }) = &package.fitted else { return None };
        let [a, b] = &package.pins[..] else { return None };
        let (Wire::Net(a), Wire::Net(b)) = (&a.wire, &b.wire) else { return None };
        let (x, y) = (self.nets.find(a)?, self.nets.find(b)?);
        let at = |at: usize| self.nets.all().get(at);
        let (net, rail) = match (at(x)?.supply, at(y)?.supply) {
            (None, Some(rail)) => (x, rail),
            (Some(rail), None) => (y, rail),
            _ => return None,
        };
        let held_high = match rail {
            Supply::Vcc => true,
            Supply::Gnd => false,
            Supply::Higher | Supply::Negative => return None,
        };
        let own = at(net)?;
        let is_charged = own.pull == if held_high { Pull::Down } else { Pull::Up };
        let reads = own.uses.iter().any(|u| u.role == Role::Pin(PinRole::Input));
        let is_plain = own.uses.iter().all(|u| match u.role {
            Role::Pin(role) => role == PinRole::Input,
            Role::Passive => self.packages.get(u.package).is_some_and(|p| {
                std::ptr::eq(p, package) || matches!(p.fitted, Fitted::Passive(Passive::Resistors { .. }))
            }),
            Role::Contact | Role::Outside | Role::Unknown => false,
        });
        if !is_charged || !reads || !is_plain || own.hold.is_some() || own.untraced.is_some() {
            return None;
        }
        let ohms = match own.pulls[..] {
            [(_, ohms)] => ohms,
            _ => None,
        };
        Some(Late { net, held_high, seconds: ohms.zip(*farads).map(|(ohms, farads)| ohms * farads) })
    }

    /// Where a net that is late puts the card.
    ///
    /// # Errors
    /// Why that can't be told.
    pub(super) fn begins(&self, late: &Late) -> Result<Begins, String> {
        let composed = compose_of(self, |_| true);
        let Some(net) = composed.nets.get(late.net).copied().flatten() else {
            return Err("its net carries no level of logic".to_owned());
        };
        let forced = holds(&composed.circuit, net, late.held_high)?;
        let names = forced
            .iter()
            .filter_map(|&(id, high)| Some((composed.circuit.elements().get(id.index())?.name.clone(), high)));
        let place = |id: ElementId| {
            let of = |(&package, all): (&usize, &Vec<ElementId>)| {
                Some(Place { package, element: all.iter().position(|own| *own == id)? })
            };
            composed.elements.iter().find_map(of)
        };
        let holds = forced.iter().filter_map(|&(id, high)| Some((place(id)?, high))).collect();
        let own = self.nets.all().get(late.net);
        Ok(Begins {
            names: names.collect(),
            lasts: own.and_then(|net| self.lasts(late, net)),
            plain: own.map_or_else(Vec::new, |net| self.without_hysteresis(net)),
            holds,
        })
    }

    fn readers<'b>(&'b self, net: &'b Net) -> impl Iterator<Item = &'b Package> {
        let pins = net.uses.iter().filter(|u| matches!(u.role, Role::Pin(_)));
        pins.filter_map(|u| self.packages.get(u.package))
    }

    fn without_hysteresis(&self, net: &Net) -> Vec<String> {
        let has = |p: &Package| p.chip().and_then(|part| part.figures()).is_some_and(|f| f.schmitt);
        let mut all: Vec<String> = self.readers(net).filter(|p| !has(p)).map(Package::called).collect();
        all.dedup();
        all
    }

    /// The time until every input on the net has seen the change: R · C times ln(V / (V - threshold)), the input's current left
    /// out.
    fn lasts(&self, late: &Late, net: &Net) -> Option<[f64; 2]> {
        let seconds = late.seconds?;
        let mut factors = [f64::INFINITY, 0.0];
        for package in self.readers(net) {
            let figures = package.chip()?.figures()?;
            // up to the rising threshold from ground; down to the falling one from the supply
            let [least, most] = match (figures.levels, figures.schmitt, late.held_high) {
                (Levels::Ttl | Levels::CmosOutputs, true, false) => RISING_TTL,
                (Levels::Ttl | Levels::CmosOutputs, false, false) => PLAIN_TTL_RISING,
                (Levels::Ttl | Levels::CmosOutputs, true, true) => FALLING_TTL,
                (Levels::Ttl | Levels::CmosOutputs, false, true) => PLAIN_TTL_FALLING,
                (Levels::Cmos, true, false) => RISING_CMOS,
                (Levels::Cmos, true, true) => FALLING_CMOS,
                (Levels::Cmos, false, _) => PLAIN_CMOS,
            };
            factors = [factors[0].min(least), factors[1].max(most)];
        }
        (factors[1] > 0.0).then(|| factors.map(|factor| factor * seconds))
    }
}

// ln(V / (V - VT+)) and ln(V / VT-), by the sheets' limits
/// 74LS14: VT+ 1.4 to 2.0 V at 5 V (Fairchild DM74LS14; Motorola, FAST and LS TTL Data, p.5-24).
const RISING_TTL: [f64; 2] = [0.329, 0.511];
/// 74LS14: VT- 0.5 to 1.1 V at 5 V (the same).
const FALLING_TTL: [f64; 2] = [1.514, 2.303];
/// A plain TTL input: VIL 0.8 V, VIH 2.0 V at 5 V (limits of the family's sheets).
const PLAIN_TTL_RISING: [f64; 2] = [0.174, 0.511];
const PLAIN_TTL_FALLING: [f64; 2] = [0.916, 1.833];
/// 74HC14 and 74HC1G14: VT+ 1.7 to 3.15 V at 4.5 V (NXP, 74HC1G14 p.4; ON Semiconductor, MC74HC14A p.3).
const RISING_CMOS: [f64; 2] = [0.474, 1.204];
/// The same: VT- 0.9 to 2.0 V.
const FALLING_CMOS: [f64; 2] = [0.811, 1.609];
/// A plain CMOS input: 1.35 and 3.15 V at 4.5 V (from memory); both ways alike.
const PLAIN_CMOS: [f64; 2] = [0.357, 1.204];

/// The nets of a board that are late and of which it can be told what they do.
fn all_late(board: &Board) -> impl Iterator<Item = (Late, Begins)> {
    let capacitors = board
        .packages
        .iter()
        .filter(|package| !matches!(package.fitted, Fitted::Passive(Passive::Capacitor { ignored: true, .. })));
    capacitors.filter_map(|package| {
        let late = board.late(package)?;
        let begins = board.begins(&late).ok()?;
        Some((late, begins))
    })
}

/// Puts the starts that nets which are late give into the card's circuit, or into that of some of its packages.
pub(super) fn start(board: &Board, composed: &mut Composed) {
    for (place, high) in all_late(board).flat_map(|(_, begins)| begins.holds) {
        let id = composed.elements.get(&place.package).and_then(|own| own.get(place.element)).copied();
        if let Some(element) = id.and_then(|id| composed.circuit.element_mut(id)) {
            element.start = if high { Start::High } else { Start::Low };
        }
    }
}

/// The nets of this circuit of a board's packages that are late, each with the level at which it is while power comes on.
pub(super) fn late_nets(board: &Board, composed: &Composed) -> Vec<(NetId, bool)> {
    let net = |late: &Late| composed.nets.get(late.net).copied().flatten();
    all_late(board).filter_map(|(late, _)| Some((net(&late)?, late.held_high))).collect()
}

/// Puts into a circuit what a net that is late starts there, where that can be told: what it does not hold by itself starts as
/// before.
pub(super) fn begin(circuit: &mut Circuit, late: &[(NetId, bool)]) {
    for &(net, held_high) in late {
        for (id, high) in holds(circuit, net, held_high).unwrap_or_default() {
            if let Some(element) = circuit.element_mut(id) {
                element.start = if high { Start::High } else { Start::Low };
            }
        }
    }
}

/// What is cleared or preset while this net is at this level, whatever everything else does, and stays so when the net lets
/// go.
fn holds(circuit: &Circuit, net: NetId, high: bool) -> Result<Vec<(ElementId, bool)>, String> {
    let reached = circuit.fan_out([net], |v| !v.is_element());
    let contact = reached.nets().filter_map(|n| circuit.nets().get(n.index())).find(|n| n.contact.is_some());
    if let Some(contact) = contact {
        return Err(format!("{} shows it to the board, which then sees a pulse at power-up", contact.name));
    }
    for looped in reached.nets() {
        let inputs = circuit.nets().get(looped.index()).into_iter().flat_map(|n| n.inputs());
        if circuit.cone(inputs, |v| !v.is_element()).contains(looped) {
            return Err(format!("a loop of gates over {} hangs on it", circuit.called(looped)));
        }
    }
    let levels = Levelled::of(circuit, net, high);
    let mut all = Vec::new();
    for (id, element) in circuit.numbered_elements() {
        let forced = match (levels.of_expression(element.clear), levels.of_expression(element.preset)) {
            (Some(true), Some(false)) => Some(false),
            (Some(false), Some(true)) => Some(true),
            _ => None,
        };
        if reached.contains(id) {
            let name = &element.name;
            if forced.is_none() {
                return Err(format!("whether {name} is cleared by it hangs on a clock, or on other levels"));
            }
            let gates = match element.kind {
                Kind::Register { clock, .. } => clock,
                Kind::Latch { open, .. } => open,
            };
            if reached.contains(Vertex::Expression(gates)) {
                return Err(format!("the clock or gate of {name} moves with it"));
            }
        }
        all.extend(forced.map(|level| (id, level)));
    }
    Ok(all)
}

/// The levels that are known while one net is held and everything else may be anything (three-valued simulation: Kleene's
/// logic, from all unknown upwards, until nothing more becomes known).
struct Levelled<'c> {
    circuit: &'c Circuit,
    expressions: Vec<Option<bool>>,
    nets: Vec<Option<bool>>,
}

impl<'c> Levelled<'c> {
    fn of(circuit: &'c Circuit, held: NetId, high: bool) -> Self {
        let mut all = Levelled {
            circuit,
            expressions: vec![None; circuit.expression_count()],
            nets: vec![None; circuit.nets().len()],
        };
        // each pass makes something known or is the last
        let most = circuit.expression_count() + circuit.nets().len() + 1;
        for _ in 0..most {
            let before = (all.expressions.clone(), all.nets.clone());
            for e in circuit.expressions() {
                let level = all.evaluate(circuit.op(e));
                if let Some(slot) = all.expressions.get_mut(e.index()) {
                    *slot = level;
                }
            }
            for (id, _) in circuit.numbered_nets() {
                let level = if id == held { Some(high) } else { all.net(id) };
                if let Some(slot) = all.nets.get_mut(id.index()) {
                    *slot = level;
                }
            }
            if before == (all.expressions.clone(), all.nets.clone()) {
                break;
            }
        }
        all
    }

    fn of_expression(&self, e: Expr) -> Option<bool> {
        match e.as_constant() {
            Some(level) => Some(level),
            None => self.expressions.get(e.index()).copied().flatten(),
        }
    }

    fn evaluate(&self, op: Op) -> Option<bool> {
        let at = |e: Expr| self.of_expression(e);
        match op {
            Op::Constant(level) => Some(level),
            Op::Net(net) => self.nets.get(net.index()).copied().flatten(),
            Op::Q(id) => self.forced(id, false),
            Op::QInverted(id) => self.forced(id, true),
            Op::Not(a) => at(a).map(|level| !level),
            Op::And(a, b) => match (at(a), at(b)) {
                (Some(false), _) | (_, Some(false)) => Some(false),
                (Some(true), Some(true)) => Some(true),
                _ => None,
            },
            Op::Or(a, b) => match (at(a), at(b)) {
                (Some(true), _) | (_, Some(true)) => Some(true),
                (Some(false), Some(false)) => Some(false),
                _ => None,
            },
            Op::Xor(a, b) => at(a).zip(at(b)).map(|(a, b)| a != b),
            Op::Choose(when, then, otherwise) => match at(when) {
                Some(true) => at(then),
                Some(false) => at(otherwise),
                None => at(then).filter(|level| at(otherwise) == Some(*level)),
            },
        }
    }

    /// What an output of a register or latch shows while it is cleared or preset.
    fn forced(&self, id: ElementId, inverted: bool) -> Option<bool> {
        let element = self.circuit.elements().get(id.index())?;
        match (self.of_expression(element.clear)?, self.of_expression(element.preset)?) {
            (true, true) => Some(true),
            (true, false) => Some(inverted),
            (false, true) => Some(!inverted),
            (false, false) => None,
        }
    }

    fn net(&self, id: NetId) -> Option<bool> {
        let net = self.circuit.nets().get(id.index())?;
        let mut level: Option<bool> = None;
        for driver in &net.drivers {
            if self.of_expression(driver.enable)? {
                let own = self.of_expression(driver.level)?;
                if level.is_some_and(|other| other != own) {
                    return None;
                }
                level = Some(own);
            }
        }
        match level {
            Some(level) => Some(level),
            // the board may drive what the card does not
            None if net.contact.is_some() => None,
            None => net.undriven_level(),
        }
    }
}
