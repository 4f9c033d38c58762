//! From definitions to the circuit: the one place where polarity turns into levels.
use super::arena::{Build, Id, Own, Slot, SlotId};
use super::define::{Action, Begin, Given, Override, Recipe, Step, Value};
use super::error::Mistake;
use crate::circuit::{By, Direction, Driver, Element, ElementId, Expr, Kind, NetId, Origin, Polarity, Stage, Start};

/// Puts what drives a field into the circuit.
pub(super) fn define(b: &mut Build, slot: SlotId, recipe: &Recipe) {
    let origin = Origin::from(recipe.at);
    let Some(slot) = b.slot(slot).cloned() else {
        b.mistake(Mistake::ForeignSignal { origin });
        return;
    };
    let mut lowering =
        Lowering { b, slot: &slot, inverted: slot.shape.polarity == Polarity::ActiveLow, recipe, origin };
    if let Action::Wire(to) = recipe.action {
        lowering.wire(to);
        return;
    }
    if slot.drivers.is_some() {
        lowering.feed();
        return;
    }
    lowering.value();
    if let (Some((_, stage)), Some(wire), Own::Net(value)) = (slot.shape.contact, slot.wire, slot.own) {
        lowering.driver(stage, wire, value);
    }
}

struct Lowering<'a> {
    b: &'a mut Build,
    slot: &'a Slot,
    /// True if the element is asserted while low.
    inverted: bool,
    recipe: &'a Recipe,
    origin: Origin,
}

impl Lowering<'_> {
    fn expr(&mut self, id: Id) -> Expr {
        self.b.expr(id, self.recipe.at)
    }

    /// The level at which the element's truth is this, and the other way round.
    fn turn(&mut self, e: Expr) -> Expr {
        if self.inverted { self.b.circuit.not(e) } else { e }
    }

    fn level(&mut self, value: Value) -> Expr {
        match value.0 {
            Given::Level(id) => self.expr(id),
            Given::Condition(id) => {
                let truth = self.expr(id);
                self.turn(truth)
            }
        }
    }

    /// The outer circuit puts a level on a contact of a circuit inside, as long as that doesn't drive it.
    fn feed(&mut self) {
        let (name, origin) = (self.slot.name.clone(), self.origin.clone());
        let Action::Gate(value) = self.recipe.action else {
            self.b.mistake(Mistake::OnlyAGate { name, origin });
            return;
        };
        self.holds_nothing();
        let level = self.level(value);
        let while_driving = match self.recipe.drives.as_slice() {
            [] => Expr::HIGH,
            &[condition] => self.expr(condition),
            _ => {
                self.b.mistake(Mistake::DrivesTwice { name, origin });
                return;
            }
        };
        self.put(level, while_driving);
    }

    fn put(&mut self, level: Expr, while_driving: Expr) {
        let Some(wire) = self.slot.wire else { return };
        let enables: Vec<Expr> = self.own_drivers(wire, self.slot).iter().map(|d| d.enable).collect();
        let driven = self.b.circuit.any(enables);
        let free = self.b.circuit.not(driven);
        let enable = self.b.circuit.and(free, while_driving);
        let stage = if enable == Expr::HIGH { Stage::PushPull } else { Stage::ThreeState };
        self.drive(wire, enable, level, stage);
    }

    /// What a circuit inside drives a wire with.
    fn own_drivers(&self, wire: NetId, slot: &Slot) -> Vec<Driver> {
        let net = self.b.circuit.nets().get(wire.index());
        net.map_or_else(Vec::new, |net| net.drivers.iter().take(slot.drivers.unwrap_or(0)).cloned().collect())
    }

    /// The field is the same wire as another contact.
    fn wire(&mut self, to: SlotId) {
        let (name, origin) = (self.slot.name.clone(), self.origin.clone());
        if !(self.recipe.overrides.is_empty() && self.recipe.drives.is_empty() && self.recipe.begins.is_empty()) {
            self.b.mistake(Mistake::OnlyAWire { name: name.clone(), origin: origin.clone() });
        }
        let Some(other) = self.b.slot(to).cloned() else {
            self.b.mistake(Mistake::ForeignSignal { origin });
            return;
        };
        if self.slot.drivers.is_some() {
            let level = match (other.shape.contact, other.own, other.wire) {
                // an output of this circuit: what it drives
                (Some((Direction::Output, _)) | None, Own::Net(net), _) => self.b.circuit.net(net),
                (_, Own::Element(element), _) => self.b.circuit.q(element),
                (_, _, Some(wire)) => self.b.circuit.net(wire),
                _ => Expr::LOW,
            };
            self.put(level, Expr::HIGH);
            return;
        }
        let (Some(wire), Some(from), Some(_)) = (self.slot.wire, other.wire, other.drivers) else {
            self.b.mistake(Mistake::WiredToOwn { name, origin });
            return;
        };
        let drivers = self.own_drivers(from, &other);
        let mut level = Expr::LOW;
        for driver in &drivers {
            level = self.b.circuit.choose(driver.enable, driver.level, level);
            self.b
                .circuit
                .drive(wire, Driver { by: By::signal(name.clone()), origin: origin.clone(), ..driver.clone() });
        }
        if let [driver] = drivers.as_slice() {
            // an open collector that is off would drive high, if it could
            let off = self.b.circuit.not(driver.enable);
            level = if driver.stage == Stage::OpenCollector { off } else { driver.level };
        }
        if let Own::Net(value) = self.slot.own {
            self.drive(value, Expr::HIGH, level, Stage::PushPull);
        }
    }

    /// What the field drives or holds.
    fn value(&mut self) {
        let level = match self.recipe.action {
            Action::Gate(value) => {
                self.holds_nothing();
                self.level(value)
            }
            Action::Register { edge, step } => {
                let element = self.element();
                let clock = self.expr(edge);
                let data = self.next(element, step);
                self.finish(element, Kind::Register { clock, data })
            }
            Action::Wire(_) => return,
            Action::Latch { open, data } => {
                let element = self.element();
                let open = self.expr(open);
                let data = self.level(data);
                self.finish(element, Kind::Latch { open, data })
            }
        };
        if let Own::Net(net) = self.slot.own {
            self.drive(net, Expr::HIGH, level, Stage::PushPull);
        }
    }

    /// The element behind the field: a buried one is there already, behind a pin it is made now.
    fn element(&mut self) -> ElementId {
        match self.slot.own {
            Own::Element(element) => element,
            Own::Net(_) | Own::Nothing => self.b.circuit.add_element(Element {
                name: self.slot.name.clone(),
                kind: Kind::Latch { open: Expr::LOW, data: Expr::LOW },
                clear: Expr::LOW,
                unknown_load: Expr::LOW,
                preset: Expr::LOW,
                start: Start::Any,
                origin: self.origin.clone(),
            }),
        }
    }

    /// What a register loads on its edge.
    fn next(&mut self, element: ElementId, step: Step) -> Expr {
        let q = self.b.circuit.q(element);
        match step {
            Step::Load(value) => self.level(value),
            Step::LoadIf(condition, value) => {
                let (condition, level) = (self.expr(condition), self.level(value));
                self.b.circuit.choose(condition, level, q)
            }
            Step::ToggleIf(condition) => {
                let condition = self.expr(condition);
                self.b.circuit.xor(q, condition)
            }
            Step::Jk(j, k) => {
                let (j, k, truth) = (self.expr(j), self.expr(k), self.turn(q));
                let c = &mut self.b.circuit;
                let (not_truth, not_k) = (c.not(truth), c.not(k));
                let (set, keep) = (c.and(j, not_truth), c.and(not_k, truth));
                let next = c.or(set, keep);
                self.turn(next)
            }
        }
    }

    /// Writes the element and returns its output.
    fn finish(&mut self, element: ElementId, kind: Kind) -> Expr {
        let (mut clear, mut preset, mut unknown_load) = (Expr::LOW, Expr::LOW, Expr::LOW);
        for &(what, condition) in &self.recipe.overrides {
            let condition = self.expr(condition);
            let to_low = match what {
                Override::LoadsUnknown => {
                    unknown_load = self.b.circuit.or(unknown_load, condition);
                    continue;
                }
                Override::Clear => true,
                Override::Preset => false,
                Override::Assert => self.inverted,
                Override::Release => !self.inverted,
            };
            let side = if to_low { &mut clear } else { &mut preset };
            *side = self.b.circuit.or(*side, condition);
        }
        let start = self.start();
        let origin = self.origin.clone();
        if let Some(e) = self.b.circuit.element_mut(element) {
            *e = Element { name: std::mem::take(&mut e.name), kind, clear, preset, unknown_load, start, origin };
        }
        self.b.circuit.q(element)
    }

    fn start(&mut self) -> Start {
        if self.recipe.begins.len() > 1 {
            self.b.mistake(Mistake::StartsTwice { name: self.slot.name.clone(), origin: self.origin.clone() });
        }
        let high = self.recipe.begins.first().map(|begin| match begin {
            Begin::Level(high) => *high,
            Begin::Truth(truth) => *truth != self.inverted,
        });
        match high {
            None => Start::Any,
            Some(false) => Start::Low,
            Some(true) => Start::High,
        }
    }

    /// A gate can't be cleared and has no start.
    fn holds_nothing(&mut self) {
        let overrides = self.recipe.overrides.iter().map(|(what, _)| match what {
            Override::Clear => "clear_while",
            Override::Preset => "preset_while",
            Override::Assert => "assert_while after its definition",
            Override::Release => "release_while",
            Override::LoadsUnknown => "loads_unknown_while",
        });
        let begins = self.recipe.begins.iter().map(|begin| match begin {
            Begin::Level(false) => "starts_low",
            Begin::Level(true) => "starts_high",
            Begin::Truth(false) => "starts_released",
            Begin::Truth(true) => "starts_asserted",
        });
        if let Some(what) = overrides.chain(begins).next() {
            let (name, origin) = (self.slot.name.clone(), self.origin.clone());
            self.b.mistake(Mistake::HoldsNothing { name, what, origin });
        }
    }

    /// The driver behind the contact.
    fn driver(&mut self, stage: Stage, wire: NetId, value: NetId) {
        let level = self.b.circuit.net(value);
        let (name, origin) = (self.slot.name.clone(), self.origin.clone());
        match (stage, self.recipe.drives.as_slice()) {
            (Stage::PushPull, _) => self.drive(wire, Expr::HIGH, level, stage),
            (Stage::OpenCollector, _) => {
                let pulls = self.b.circuit.not(level);
                self.drive(wire, pulls, Expr::LOW, stage);
            }
            (Stage::ThreeState, &[enable]) => {
                let enable = self.expr(enable);
                self.drive(wire, enable, level, stage);
            }
            (Stage::ThreeState, []) => self.b.mistake(Mistake::NeverDrives { name, origin }),
            (Stage::ThreeState, _) => self.b.mistake(Mistake::DrivesTwice { name, origin }),
        }
    }

    fn drive(&mut self, net: NetId, enable: Expr, level: Expr, stage: Stage) {
        let (name, origin) = (self.slot.name.clone(), self.origin.clone());
        self.b.circuit.drive(net, Driver { enable, level, stage, by: By::signal(name), origin });
    }
}
