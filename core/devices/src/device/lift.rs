//! From a fuse map to the circuit of the burned device, read from fuse numbers on its own: it shares nothing with the
//! encoder but the description, so that a proof of it catches what the encoder got wrong.
use std::collections::HashMap;

use super::{
    Configuration, Device, DeviceError, EnableSource, Feedback, Function, Inverter, Macrocell, Mode, Role, Source,
};
use crate::fusefile::Fuses;
use gluewright_kernel::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, ElementId, Expr, Kind, Label, NetId, Origin, Polarity, Stage,
};

impl Device {
    /// The circuit of the device with this fuse map burned into it: every pin but the supplies is a contact `pin 14`,
    /// every registered macrocell a register `register 14`, with the device's power-up state.
    ///
    /// Expressions are folded where they are built (a term and its complement summed become a constant), so hazards are
    /// to be judged by the terms of [`decode`](Device::decode), not by this circuit.
    ///
    /// # Errors
    /// If the map isn't one of this device, or sets it up in a way that no data sheet defines.
    pub fn lift(&self, fuses: &Fuses) -> Result<Circuit, DeviceError> {
        self.check(fuses)?;
        let (_, mode) = self.mode_of(fuses)?;
        let mut circuit = Circuit::new(self.name);
        let mut nets = HashMap::new();
        for pin in self.pins.iter().filter(|p| !matches!(p.role, Role::Vcc | Role::Gnd)) {
            nets.insert(pin.number, circuit.add_net(format!("pin {}", pin.number), Origin::Nowhere));
        }
        let mut set_up = Vec::with_capacity(mode.macrocells.len());
        for macrocell in &mode.macrocells {
            // one that no sheet describes and that has nothing to show is taken as not driven
            if let Some(configuration) = self.described(mode, macrocell, fuses)? {
                set_up.push((macrocell, configuration));
            }
        }
        let clock = mode.clock.and_then(|pin| nets.get(&pin)).map_or(Expr::LOW, |&net| circuit.net(net));
        let mut registers = HashMap::new();
        for (macrocell, _) in set_up.iter().filter(|(_, c)| c.function == Function::Registered) {
            let register = circuit.add_element(Element {
                name: format!("register {}", macrocell.pin),
                kind: Kind::Register { clock, data: Expr::LOW },
                clear: Expr::LOW,
                unknown_load: Expr::LOW,
                preset: Expr::LOW,
                start: self.power_up,
                origin: Origin::Nowhere,
            });
            registers.insert(macrocell.pin, register);
        }
        let mut lift = Lift { device: self, mode, fuses, circuit, nets, registers, pairs: Vec::new() };
        lift.pairs = mode.columns.iter().map(|&source| lift.level(source, &set_up)).collect();
        for (macrocell, configuration) in &set_up {
            lift.macrocell(macrocell, configuration, clock);
        }
        lift.contacts();
        lift.circuit.check()?;
        Ok(lift.circuit)
    }
}

struct Lift<'a> {
    device: &'a Device,
    mode: &'a Mode,
    fuses: &'a Fuses,
    circuit: Circuit,
    nets: HashMap<u16, NetId>,
    registers: HashMap<u16, ElementId>,
    /// The level on the even column of each pair.
    pairs: Vec<Expr>,
}

impl Lift<'_> {
    /// What a pair of columns carries.
    fn level(&mut self, source: Source, set_up: &[(&Macrocell, &Configuration)]) -> Expr {
        let feedback = set_up.iter().find(|(m, _)| source == Source::Feedback(m.pin)).map(|(_, c)| c.feedback);
        match (feedback, self.registers.get(&source.pin()), self.nets.get(&source.pin())) {
            (Some(Feedback::InvertedQ), Some(&register), _) => {
                let q = self.circuit.q(register);
                self.circuit.not(q)
            }
            (_, _, Some(&net)) => self.circuit.net(net),
            (_, _, None) => Expr::LOW,
        }
    }

    fn macrocell(&mut self, macrocell: &Macrocell, configuration: &Configuration, clock: Expr) {
        let first = self.sum(configuration.rows.clone());
        let second = self.sum(configuration.exclusive.clone());
        let sum = self.circuit.xor(first, second);
        let inverts = macrocell.polarity.is_none_or(|fuse| self.fuses.get(fuse) == Some(false));
        let shown = match (self.registers.get(&macrocell.pin).copied(), self.device.inverter) {
            (None, _) => self.inverted_if(inverts, sum),
            (Some(register), Inverter::AfterRegister) => {
                self.load(register, clock, sum);
                let q = self.circuit.q(register);
                self.inverted_if(inverts, q)
            }
            (Some(register), Inverter::BeforeRegister) => {
                let data = self.inverted_if(!inverts, sum);
                self.load(register, clock, data);
                let q = self.circuit.q(register);
                self.circuit.not(q)
            }
        };
        let enable = match configuration.enable {
            EnableSource::Row(row) => self.row(row),
            EnableSource::Pin(pin) => match self.nets.get(&pin) {
                Some(&net) => {
                    let level = self.circuit.net(net);
                    self.circuit.not(level)
                }
                None => Expr::LOW,
            },
            EnableSource::Always => Expr::HIGH,
            EnableSource::Never => Expr::LOW,
        };
        let Some(&net) = self.nets.get(&macrocell.pin).filter(|_| enable != Expr::LOW) else { return };
        let stage = if enable == Expr::HIGH { Stage::PushPull } else { Stage::ThreeState };
        let name = format!("pin {}", macrocell.pin);
        self.circuit.drive(net, Driver { enable, level: shown, stage, by: By::signal(name), origin: Origin::Nowhere });
    }

    /// Completes a register: the preset term acts through its data, the reset term at once.
    fn load(&mut self, register: ElementId, clock: Expr, data: Expr) {
        let preset = self.mode.preset.map_or(Expr::LOW, |row| self.row(row));
        let data = self.circuit.or(preset, data);
        let clear = self.mode.reset.map_or(Expr::LOW, |row| self.row(row));
        if let Some(element) = self.circuit.element_mut(register) {
            element.kind = Kind::Register { clock, data };
            element.clear = clear;
        }
    }

    fn sum(&mut self, rows: std::ops::Range<usize>) -> Expr {
        rows.fold(Expr::LOW, |sum, row| {
            let term = self.row(row);
            self.circuit.or(sum, term)
        })
    }

    /// The product over the links (0) of one row; nothing linked is true.
    fn row(&mut self, row: usize) -> Expr {
        if self.device.term_enables.is_some_and(|first| self.fuses.get(first + row) == Some(false)) {
            return Expr::LOW;
        }
        let first = self.device.array_fuse(row, 0);
        let mut product = Expr::HIGH;
        for pair in 0..self.pairs.len() {
            let level = self.pairs.get(pair).copied().unwrap_or(Expr::LOW);
            if self.fuses.get(first + 2 * pair) == Some(false) {
                product = self.circuit.and(product, level);
            }
            if self.fuses.get(first + 2 * pair + 1) == Some(false) {
                let complement = self.circuit.not(level);
                product = self.circuit.and(product, complement);
            }
        }
        product
    }

    fn inverted_if(&mut self, inverts: bool, e: Expr) -> Expr {
        if inverts { self.circuit.not(e) } else { e }
    }

    fn contacts(&mut self) {
        for pin in &self.device.pins {
            let Some(&net) = self.nets.get(&pin.number) else { continue };
            let driver = self.circuit.nets().get(net.index()).and_then(|n| n.drivers.first());
            let direction = match driver.map(|d| d.stage) {
                None => Direction::Input,
                Some(Stage::PushPull) => Direction::Output,
                Some(Stage::ThreeState | Stage::OpenCollector) => Direction::InOut,
            };
            let clocks = self.mode.clock == Some(pin.number) && !self.registers.is_empty();
            self.circuit.add_contact(Contact {
                label: Label::from(pin.number),
                name: format!("pin {}", pin.number),
                net,
                polarity: if clocks { Polarity::Clock } else { Polarity::Data },
                direction,
                origin: Origin::Nowhere,
            });
        }
    }
}
