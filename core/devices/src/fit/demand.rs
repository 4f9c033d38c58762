//! What a circuit asks of a device: one demand for each macrocell, stored in its best way.
use std::collections::BTreeSet;

use super::NoFit;
use super::globals::{EnablePin, Globals, globals, reset_of, wakes_up_right};
use super::place::Place;
use super::terms::{Sum, SumTerm, cost, loaded_while_free, steady_either};
use crate::device::Function;
use crate::logic::{Diagram, Logic, Output, Product, Register};
use gluewright_kernel::circuit::{Origin, Stage};

/// When a macrocell drives its pin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Drive {
    /// At all times.
    Always,
    /// At no time.
    Never,
    /// While this product term is true.
    While(Product),
}

/// A way to store a demand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Choice {
    /// The pin shows the complement of the sum.
    pub(super) inverted: bool,
    /// A buried register whose unconnected pin shows its complement.
    pub(super) flipped: bool,
    /// The product terms.
    pub(super) terms: Vec<SumTerm>,
    /// Whether fewer are proved impossible in this polarity.
    pub(super) fewest: bool,
}

/// What one macrocell is needed for.
#[derive(Clone, Debug)]
pub(super) struct Demand {
    /// The signal's name.
    pub(super) name: String,
    /// Index of the output in [`Logic::outputs`], if it has a contact.
    pub(super) output: Option<usize>,
    /// Variables whose value is read here, each with whether the pin shows its complement.
    pub(super) holds: Vec<(usize, bool)>,
    /// Registered or combinational.
    pub(super) function: Function,
    /// When the pin is driven.
    pub(super) drive: Drive,
    /// How to store it: the way with the fewest terms.
    pub(super) choice: Choice,
    /// The term of its sum that the preset of all registers takes off it.
    pub(super) preset: Option<Product>,
    /// Whether some function reads it back.
    pub(super) read: bool,
    /// Where it was written.
    pub(super) origin: Origin,
}

impl Demand {
    /// Whether its pin stays free of the board.
    pub(super) fn isolated(&self) -> bool {
        self.output.is_none()
    }

    /// The product terms that it needs in its macrocell.
    pub(super) fn width(&self) -> usize {
        self.choice.terms.len() - usize::from(self.preset.is_some())
    }
}

/// Everything that a circuit asks of a device.
#[derive(Clone, Debug)]
pub(super) struct Demands {
    /// The circuit, with the nodes that had to be added.
    pub(super) logic: Logic,
    /// One for each macrocell: those with contacts in their order, then buried ones.
    pub(super) list: Vec<Demand>,
    /// What all registers share.
    pub(super) globals: Globals,
    /// The reset as a product term.
    pub(super) reset: Option<Product>,
    /// The term that sets all registers on the next clock edge, if it is used.
    pub(super) preset: Option<Product>,
    /// The variables that the array reads.
    pub(super) used: BTreeSet<usize>,
}

/// Works out what a circuit asks of a device in one mode.
pub(super) fn demands(mut logic: Logic, place: Place<'_>) -> Result<Demands, NoFit> {
    latches_start_free(&logic, place.device.name)?;
    let mut globals = globals(&logic, place)?;
    let reset = globals.reset.map(|r| {
        let origin = logic.registers.first().map(|r| r.origin.clone()).unwrap_or_default();
        one_term(&mut logic, r, "reset_condition", &origin)
    });
    let drives = drives(&mut logic);
    globals.enable = EnablePin::choose(&logic, place, &drives);
    let mut builder = Builder { place, logic, enable: globals.enable, list: Vec::new(), homed: BTreeSet::new() };
    builder.build(&drives)?;
    let Builder { logic, mut list, .. } = builder;
    let used = used(&list, &reset, globals.enable.is_some());
    for demand in &mut list {
        demand.read = demand.holds.iter().any(|(v, _)| used.contains(v));
    }
    Ok(Demands { logic, list, globals, reset, preset: None, used })
}

/// Refuses a latch that must start at a level: one of product terms takes any.
pub(super) fn latches_start_free(logic: &Logic, device: &'static str) -> Result<(), NoFit> {
    match logic.latches.iter().find(|l| l.start.level().is_some()) {
        Some(latch) => Err(NoFit::LatchStart { latch: latch.name.clone(), device, origin: latch.origin.clone() }),
        None => Ok(()),
    }
}

/// When each output is driven, a condition of several terms through a node of its own.
pub(super) fn drives(logic: &mut Logic) -> Vec<Drive> {
    let mut drives = Vec::with_capacity(logic.outputs.len());
    for output in logic.outputs.clone() {
        drives.push(match output.enable {
            Diagram::HIGH => Drive::Always,
            enable => {
                let name = format!("drive_{}", output.name);
                Drive::While(one_term(logic, enable, &name, &output.origin))
            }
        });
    }
    drives
}

/// A condition as one product term, through a node of its own if it takes more.
pub(super) fn one_term(logic: &mut Logic, condition: Diagram, name: &str, origin: &Origin) -> Product {
    match logic.diagrams.as_product(condition) {
        Some(product) => product,
        None => {
            let (variable, inverted) = logic.node_for(condition, name, origin);
            vec![(variable, !inverted)]
        }
    }
}

/// The variables that some term of the array reads.
fn used(list: &[Demand], reset: &Option<Product>, enable_pin: bool) -> BTreeSet<usize> {
    let drive = |d: &Demand| match &d.drive {
        // the pin that enables registers is no term
        Drive::While(p) if !(enable_pin && d.function == Function::Registered) => p.clone(),
        _ => Product::new(),
    };
    let own = |d: &Demand| d.choice.terms.iter().flat_map(|t| t.product.clone()).chain(drive(d)).collect::<Vec<_>>();
    list.iter().flat_map(own).chain(reset.iter().flatten().copied()).map(|(v, _)| v).collect()
}

struct Builder<'a> {
    place: Place<'a>,
    logic: Logic,
    enable: Option<EnablePin>,
    list: Vec<Demand>,
    homed: BTreeSet<usize>,
}

impl Builder<'_> {
    fn build(&mut self, drives: &[Drive]) -> Result<(), NoFit> {
        for (index, drive) in drives.iter().enumerate() {
            let Some(output) = self.logic.outputs.get(index).cloned() else { continue };
            let demand = self.output(index, output, drive)?;
            self.homed.extend(demand.holds.iter().map(|(v, _)| *v));
            self.list.push(demand);
        }
        for register in self.logic.registers.clone() {
            if self.homed.insert(register.variable) {
                let choice = self.registered(&register, None)?;
                let holds = vec![(register.variable, false)];
                let (name, origin) = (register.name, register.origin);
                self.bury(name, holds, Function::Registered, Drive::Never, choice, origin);
            }
        }
        let latches = self.logic.latches.iter().map(|l| (l.variable, l.follow, l.name.clone(), l.origin.clone()));
        let nodes = self.logic.nodes.iter().map(|n| (n.variable, n.level, n.name.clone(), n.origin.clone()));
        let plain: Vec<_> = latches.chain(nodes).collect();
        for (variable, level, name, origin) in plain {
            if self.homed.insert(variable) {
                // its pin is where it is read, so it must be driven
                let choice = self.combinational(level);
                self.bury(name, vec![(variable, false)], Function::Combinational, Drive::Always, choice, origin);
            }
        }
        Ok(())
    }

    fn bury(
        &mut self,
        name: String,
        holds: Vec<(usize, bool)>,
        function: Function,
        drive: Drive,
        choice: Choice,
        origin: Origin,
    ) {
        self.list.push(Demand { name, output: None, holds, function, drive, choice, preset: None, read: true, origin });
    }

    /// The macrocell of a contact: of its own, or that of the register, latch or node whose value it shows.
    fn output(&mut self, index: usize, output: Output, drive: &Drive) -> Result<Demand, NoFit> {
        let mut holds: Vec<(usize, bool)> = output.read_as.map(|v| (v, false)).into_iter().collect();
        let mut function = Function::Combinational;
        let free = |v: &usize| !self.homed.contains(v);
        let shown = output.shows.filter(|(v, _)| output.stage != Stage::OpenCollector && free(v));
        let mut choice = None;
        if let Some((variable, inverted)) = shown {
            let register = self.logic.registers.iter().find(|r| r.variable == variable).cloned();
            let level = self.latched(variable).filter(|_| *drive == Drive::Always);
            match (register, level) {
                // a register's feedback is not its pin: a wire that is read needs a combinational macrocell
                (Some(register), _) if output.read_as.is_none() && self.enable.is_none_or(|e| e.suits(drive)) => {
                    choice = self.registered(&register, Some(inverted)).ok();
                    if choice.is_some() {
                        function = Function::Registered;
                        holds.push((variable, inverted));
                    }
                }
                (None, Some(level)) => {
                    let level = if inverted { self.logic.diagrams.not(level) } else { level };
                    choice = Some(self.combinational(level));
                    holds.push((variable, inverted));
                }
                _ => {}
            }
        }
        let choice = choice.unwrap_or_else(|| self.combinational(output.level));
        let (name, drive, origin) = (output.name, drive.clone(), output.origin);
        Ok(Demand { name, output: Some(index), holds, function, drive, choice, preset: None, read: false, origin })
    }

    /// The function of a latch or kept node.
    fn latched(&self, variable: usize) -> Option<Diagram> {
        let latch = self.logic.latches.iter().find(|l| l.variable == variable).map(|l| l.follow);
        latch.or_else(|| self.logic.nodes.iter().find(|n| n.variable == variable).map(|n| n.level))
    }

    /// Whether the device can show a sum in this polarity.
    fn can_show(&self, inverted: bool) -> bool {
        inverted || self.place.mode.macrocells.iter().any(|m| m.polarity.is_some())
    }

    /// The better polarity of a level that is read at all times.
    fn combinational(&mut self, level: Diagram) -> Choice {
        let plain = self.can_show(false);
        let (inverted, Sum { terms, fewest }) = steady_either(&mut self.logic, level, plain);
        Choice { inverted, flipped: false, terms, fewest }
    }

    /// The best way to store a register that gives it its start and its reset level. `shown` is whether a contact
    /// shows its complement; a buried register is free to.
    fn registered(&mut self, register: &Register, shown: Option<bool>) -> Result<Choice, NoFit> {
        let mut best: Option<Choice> = None;
        for (flipped, inverted) in [(false, false), (false, true), (true, false), (true, true)] {
            let shows = shown.unwrap_or(flipped);
            let possible = self.can_show(inverted) && wakes_up_right(register, self.place, inverted, shows);
            if !possible || (shown.is_some() && flipped) {
                continue;
            }
            let diagrams = &mut self.logic.diagrams;
            let sum = if inverted != shows { diagrams.not(register.data) } else { register.data };
            let Sum { terms, fewest } = loaded_while_free(diagrams, register, sum);
            let way = Choice { inverted, flipped, terms, fewest };
            best = Some(match best {
                Some(best) if cost(&way.terms) >= cost(&best.terms) => best,
                Some(_) | None => way,
            });
        }
        best.ok_or_else(|| self.wrong_start(register))
    }

    fn wrong_start(&self, register: &Register) -> NoFit {
        let level = |high: bool| if high { "high" } else { "low" };
        let (but, mend) = match reset_of(register) {
            Some((reset, _)) if register.start.level().is_some_and(|s| s != reset) => (
                if reset { " and is reset to high" } else { " and is reset to low" },
                "let it start at the level to which it is reset, or leave its start open",
            ),
            _ => ("", "leave its start open, or choose a 22V10"),
        };
        NoFit::Start {
            element: register.name.clone(),
            start: register.start.level().map_or("as it is reset", level),
            but,
            device: self.place.device.name,
            mend,
            origin: register.origin.clone(),
        }
    }
}
