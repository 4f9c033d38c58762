//! From the parts of a module to a circuit.
use std::collections::BTreeMap;

use super::parse::{Declared, Defined, Level, Module};
use super::{NetlistError, NetlistProblem, wrong};
use gluewright_kernel::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, ElementId, Expr, Kind, Label, NetId, Origin, Polarity, Stage,
    Start,
};

/// What a name stands for.
#[derive(Clone, Copy, Debug)]
enum Carrier {
    Net(NetId),
    Element(ElementId),
}

pub(super) fn circuit(module: &Module) -> Result<Circuit, NetlistError> {
    let mut lift = Lift { circuit: Circuit::new(module.name.clone()), names: BTreeMap::new() };
    let mut pins: BTreeMap<u16, String> = BTreeMap::new();
    for (name, line, declared) in &module.declared {
        if lift.names.contains_key(name) {
            return Err(wrong(*line, NetlistProblem::Twice(name.clone())));
        }
        let direction = match declared {
            Declared::Input(_) => Direction::Input,
            Declared::Output(_) => Direction::Output,
            Declared::Inout(_) => Direction::InOut,
            Declared::Wire => {
                let net = lift.circuit.add_net(name.clone(), origin(*line));
                lift.names.insert(name.clone(), Carrier::Net(net));
                continue;
            }
            Declared::Reg => {
                let element = lift.circuit.add_element(Element {
                    name: name.clone(),
                    kind: Kind::Latch { open: Expr::LOW, data: Expr::LOW },
                    clear: Expr::LOW,
                    unknown_load: Expr::LOW,
                    preset: Expr::LOW,
                    start: Start::Any,
                    origin: origin(*line),
                });
                lift.names.insert(name.clone(), Carrier::Element(element));
                continue;
            }
        };
        let (Declared::Input(of) | Declared::Output(of) | Declared::Inout(of)) = declared else { continue };
        for &pin in of {
            if let Some(port) = pins.insert(pin, name.clone()) {
                return Err(wrong(*line, NetlistProblem::PinTwice { pin, port }));
            }
        }
        let Some(&pin) = of.first() else { return Err(wrong(*line, NetlistProblem::NoPlace(name.clone()))) };
        let net = lift.circuit.add_net(name.clone(), origin(*line));
        lift.names.insert(name.clone(), Carrier::Net(net));
        lift.circuit.add_contact(Contact {
            label: Label::from(pin),
            name: name.clone(),
            net,
            polarity: Polarity::Data,
            direction,
            origin: origin(*line),
        });
    }
    for (name, line) in &module.ports {
        let port = |d: &&(String, u32, Declared)| &d.0 == name && !matches!(d.2, Declared::Wire | Declared::Reg);
        if module.declared.iter().find(port).is_none() {
            return Err(wrong(*line, NetlistProblem::Undeclared(name.clone())));
        }
    }
    let mut defined: BTreeMap<&str, u32> = BTreeMap::new();
    for (name, line, definition) in &module.defined {
        let initial = matches!(definition, Defined::Initial(_));
        if !initial && defined.insert(name, *line).is_some() {
            return Err(wrong(*line, NetlistProblem::DefinedTwice(name.clone())));
        }
        lift.define(name, *line, definition, module)?;
    }
    for (name, line, declared) in &module.declared {
        let needs = matches!(declared, Declared::Wire | Declared::Output(_));
        if needs && !defined.contains_key(name.as_str()) {
            return Err(wrong(*line, NetlistProblem::Undefined(name.clone())));
        }
        if !matches!(declared, Declared::Wire | Declared::Reg) && !module.ports.iter().any(|(p, _)| p == name) {
            return Err(wrong(*line, NetlistProblem::Undeclared(name.clone())));
        }
    }
    Ok(lift.circuit)
}

fn origin(line: u32) -> Origin {
    Origin::line(&"netlist".into(), line)
}

struct Lift {
    circuit: Circuit,
    names: BTreeMap<String, Carrier>,
}

impl Lift {
    fn define(&mut self, name: &str, line: u32, definition: &Defined, module: &Module) -> Result<(), NetlistError> {
        let carrier = self.carrier(name, line)?;
        let declared = module.declared.iter().find(|(n, ..)| n == name).map(|(.., d)| d);
        let unsuited = |defined: &'static str| {
            let declared = match declared {
                Some(Declared::Input(_)) => "an input",
                Some(Declared::Output(_)) => "an output",
                Some(Declared::Inout(_)) => "driven at times",
                Some(Declared::Wire) => "a wire",
                Some(Declared::Reg) | None => "a register",
            };
            Err(wrong(line, NetlistProblem::Unsuited { name: name.to_owned(), declared, defined }))
        };
        match (definition, carrier) {
            (Defined::Assign { enable, level }, Carrier::Net(net)) => {
                match (declared, enable) {
                    (Some(Declared::Input(_)), _) => return unsuited("driven"),
                    (Some(Declared::Wire | Declared::Output(_)), Some(_)) => return unsuited("driven at times"),
                    (Some(Declared::Inout(_)), None) => return unsuited("driven always"),
                    _ => {}
                }
                let stage = match (enable, level) {
                    (None, _) => Stage::PushPull,
                    (Some(_), Level::Bit(false)) => Stage::OpenCollector,
                    (Some(_), _) => Stage::ThreeState,
                };
                let enable = enable.as_ref().map_or(Ok(Expr::HIGH), |e| self.level(e))?;
                let level = self.level(level)?;
                self.circuit.drive(net, Driver { enable, level, stage, by: By::signal(name), origin: origin(line) });
                Ok(())
            }
            (Defined::Assign { .. }, Carrier::Element(_)) => unsuited("assigned"),
            (_, Carrier::Net(_)) => unsuited("held"),
            (Defined::Initial(high), Carrier::Element(element)) => {
                if let Some(element) = self.circuit.element_mut(element) {
                    element.start = if *high { Start::High } else { Start::Low };
                }
                Ok(())
            }
            (Defined::Register { clock, clear, preset, next }, Carrier::Element(element)) => {
                let clock = self.name(&clock.0, clock.1)?;
                let mut line =
                    |l: &Option<(String, u32)>| l.as_ref().map_or(Ok(Expr::LOW), |(n, at)| self.name(n, *at));
                let (clear, preset) = (line(clear)?, line(preset)?);
                let data = self.level(next)?;
                self.hold(element, Kind::Register { clock, data }, clear, preset);
                Ok(())
            }
            (Defined::Latch { clear, preset, gate }, Carrier::Element(element)) => {
                let mut line = |l: &Option<Level>| l.as_ref().map_or(Ok(Expr::LOW), |l| self.level(l));
                let (clear, preset) = (line(clear)?, line(preset)?);
                let (open, data) = match gate {
                    Some((open, data)) => (self.level(open)?, self.level(data)?),
                    None => (Expr::LOW, Expr::LOW),
                };
                self.hold(element, Kind::Latch { open, data }, clear, preset);
                Ok(())
            }
        }
    }

    /// A clear goes before a preset.
    fn hold(&mut self, element: ElementId, kind: Kind, clear: Expr, preset: Expr) {
        let not_clear = self.circuit.not(clear);
        let preset = self.circuit.and(preset, not_clear);
        if let Some(element) = self.circuit.element_mut(element) {
            (element.kind, element.clear, element.preset) = (kind, clear, preset);
        }
    }

    fn carrier(&self, name: &str, line: u32) -> Result<Carrier, NetlistError> {
        self.names.get(name).copied().ok_or_else(|| wrong(line, NetlistProblem::Undeclared(name.to_owned())))
    }

    fn name(&mut self, name: &str, line: u32) -> Result<Expr, NetlistError> {
        Ok(match self.carrier(name, line)? {
            Carrier::Net(net) => self.circuit.net(net),
            Carrier::Element(element) => self.circuit.q(element),
        })
    }

    fn level(&mut self, level: &Level) -> Result<Expr, NetlistError> {
        Ok(match level {
            Level::Bit(high) => Expr::constant(*high),
            Level::Name(name, line) => self.name(name, *line)?,
            Level::Not(a) => {
                let a = self.level(a)?;
                self.circuit.not(a)
            }
            Level::And(all) => {
                let all = all.iter().map(|l| self.level(l)).collect::<Result<Vec<_>, _>>()?;
                self.circuit.all(all)
            }
            Level::Or(any) => {
                let any = any.iter().map(|l| self.level(l)).collect::<Result<Vec<_>, _>>()?;
                self.circuit.any(any)
            }
        })
    }
}
