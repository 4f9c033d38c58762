//! What a circuit asks of a device of logic blocks: one need for each macrocell.
use std::collections::BTreeSet;

use super::Site;
use crate::device::Function;
use crate::fit::demand::{drives, latches_start_free, one_term};
use crate::fit::terms::{Sum, SumTerm, better, loaded_while_free, steady_either};
use crate::fit::{Drive, NoFit};
use crate::logic::{Diagram, Latch, Logic, Output, Product, Register};
use gluewright_kernel::circuit::{Origin, Stage, Start};

/// What one macrocell is needed for.
#[derive(Clone, Debug)]
pub(super) struct Need {
    pub(super) name: String,
    /// Index of the output in [`Logic::outputs`], if it has a contact.
    pub(super) output: Option<usize>,
    /// Variables that are read here, each with whether the macrocell holds its complement.
    pub(super) holds: Vec<(usize, bool)>,
    pub(super) function: Function,
    pub(super) drive: Drive,
    /// The macrocell holds the complement of the sum.
    pub(super) inverted: bool,
    pub(super) terms: Vec<SumTerm>,
    pub(super) fewest: bool,
    pub(super) gate: Option<Product>,
    pub(super) clear: Option<Product>,
    pub(super) preset: Option<Product>,
    pub(super) origin: Origin,
}

/// Everything that a circuit asks of a device.
#[derive(Clone, Debug)]
pub(super) struct Needs {
    pub(super) logic: Logic,
    /// Those with contacts in their order, then buried ones.
    pub(super) list: Vec<Need>,
}

impl Needs {
    /// The input contacts that something reads.
    pub(super) fn inputs(&self) -> Vec<usize> {
        let read: BTreeSet<usize> = self.list.iter().flat_map(Need::reads).collect();
        self.logic.inputs.iter().map(|i| i.variable).filter(|v| read.contains(v)).collect()
    }
}

impl Need {
    /// One without a contact. `true`: the sum is of the complement.
    fn buried(
        name: String,
        origin: Origin,
        function: Function,
        holds: Vec<(usize, bool)>,
        (inverted, Sum { terms, fewest }): (bool, Sum),
        Lines { gate, clear, preset }: Lines,
    ) -> Need {
        let (output, drive) = (None, Drive::Never);
        Need { name, output, holds, function, drive, inverted, terms, fewest, gate, clear, preset, origin }
    }

    /// Every variable that it reads, lines of its own included.
    pub(super) fn reads(&self) -> Vec<usize> {
        let drive = match &self.drive {
            Drive::While(product) => product.as_slice(),
            Drive::Always | Drive::Never => &[],
        };
        let lines = self.gate.iter().chain(&self.clear).chain(&self.preset).flatten();
        let terms = self.terms.iter().flat_map(|t| &t.product);
        lines.chain(terms).chain(drive).map(|(v, _)| *v).collect()
    }
}

/// What an element's clock, clear and preset are, as product terms.
#[derive(Clone, Debug, Default)]
struct Lines {
    gate: Option<Product>,
    clear: Option<Product>,
    preset: Option<Product>,
}

/// Works out what a circuit asks of a device.
pub(super) fn needs(mut logic: Logic, site: Site<'_>) -> Result<Needs, NoFit> {
    latches_start_free(&logic, site.device.name)?;
    for latch in 0..logic.latches.len() {
        plain_latch(&mut logic, latch);
    }
    let drives = drives(&mut logic);
    let mut lines = Vec::new();
    for r in logic.registers.clone() {
        if r.clock.as_constant().is_some() {
            return Err(NoFit::NeverClocked { register: r.name, origin: r.origin });
        }
        let asked = Asked { name: &r.name, origin: &r.origin, gate: ("clock", r.clock), at_once: (r.clear, r.preset) };
        lines.push((r.variable, asked.lines(&mut logic)));
    }
    for l in logic.latches.clone() {
        let asked = Asked { name: &l.name, origin: &l.origin, gate: ("gate", l.open), at_once: (l.clear, l.preset) };
        lines.push((l.variable, asked.lines(&mut logic)));
    }
    let mut builder = Builder { site, logic, lines, list: Vec::new(), homed: BTreeSet::new() };
    builder.build(&drives)?;
    Ok(Needs { logic: builder.logic, list: builder.list })
}

/// A latch whose whole function reads less than its parts do is taken apart anew, so that nothing dead is read.
fn plain_latch(logic: &mut Logic, index: usize) {
    let Some(latch) = logic.latches.get(index).cloned() else { return };
    let d = &mut logic.diagrams;
    let known: BTreeSet<usize> = d.support(latch.follow).into_iter().chain([latch.variable]).collect();
    let parts = [latch.open, latch.data, latch.clear, latch.preset];
    if parts.iter().all(|&p| d.support(p).iter().all(|v| known.contains(v))) {
        return;
    }
    let [low, high] = [false, true].map(|held| d.cofactor(latch.follow, latch.variable, held));
    let open = d.xor(low, high);
    let open = d.not(open);
    if let Some(latch) = logic.latches.get_mut(index) {
        (latch.open, latch.data, latch.clear, latch.preset) = (open, low, Diagram::LOW, Diagram::LOW);
    }
}

/// The conditions of an element.
struct Asked<'a> {
    name: &'a str,
    origin: &'a Origin,
    gate: (&'static str, Diagram),
    /// Clear and preset.
    at_once: (Diagram, Diagram),
}

impl Asked<'_> {
    fn lines(&self, logic: &mut Logic) -> Lines {
        let (clear, preset) = self.at_once;
        // while both are asserted the element is high, and so the two lines never are together
        let not_preset = logic.diagrams.not(preset);
        let clear = logic.diagrams.and(clear, not_preset);
        let mut line = |what: &str, condition: Diagram| {
            let name = format!("{what}_of_{}", self.name);
            (condition != Diagram::LOW).then(|| one_term(logic, condition, &name, self.origin))
        };
        Lines { gate: line(self.gate.0, self.gate.1), clear: line("clear", clear), preset: line("preset", preset) }
    }
}

struct Builder<'a> {
    site: Site<'a>,
    logic: Logic,
    /// By the element's variable.
    lines: Vec<(usize, Lines)>,
    list: Vec<Need>,
    homed: BTreeSet<usize>,
}

impl Builder<'_> {
    fn build(&mut self, drives: &[Drive]) -> Result<(), NoFit> {
        for (index, drive) in drives.iter().enumerate() {
            let Some(output) = self.logic.outputs.get(index).cloned() else { continue };
            let need = self.output(index, output, drive);
            self.homed.extend(need.holds.iter().map(|(v, _)| *v));
            self.list.push(need);
        }
        for register in self.logic.registers.clone() {
            if self.homed.insert(register.variable) {
                let need = self.registered(&register, None);
                let Some(need) = need else { return Err(self.wrong_start(&register)) };
                self.list.push(need);
            }
        }
        for latch in self.logic.latches.clone() {
            if self.homed.insert(latch.variable) {
                let need = self.latched(&latch, false);
                self.list.push(need);
            }
        }
        for node in self.logic.nodes.clone() {
            if self.homed.insert(node.variable) {
                let mut need = self.combinational(node.level, node.name, node.origin);
                need.holds = vec![(node.variable, false)];
                self.list.push(need);
            }
        }
        Ok(())
    }

    /// The macrocell of a contact: of its own, or that of the register, latch or node whose value it shows.
    fn output(&mut self, index: usize, output: Output, drive: &Drive) -> Need {
        let shown = output.shows.filter(|(v, _)| output.stage != Stage::OpenCollector && !self.homed.contains(v));
        let mut need = shown.and_then(|(variable, inverted)| {
            if let Some(register) = self.logic.registers.iter().find(|r| r.variable == variable).cloned() {
                return self.registered(&register, Some(inverted));
            }
            if let Some(latch) = self.logic.latches.iter().find(|l| l.variable == variable).cloned() {
                return Some(self.latched(&latch, inverted));
            }
            let node = self.logic.nodes.iter().find(|n| n.variable == variable).cloned()?;
            let level = if inverted { self.logic.diagrams.not(node.level) } else { node.level };
            let mut need = self.combinational(level, node.name, node.origin);
            need.holds = vec![(variable, inverted)];
            Some(need)
        });
        let mut need = match need.take() {
            Some(need) => need,
            None => self.combinational(output.level, output.name.clone(), output.origin.clone()),
        };
        // the pin is read for itself, beside what the macrocell feeds back
        need.holds.retain(|(v, _)| Some(*v) != output.read_as);
        Need { name: output.name, output: Some(index), drive: drive.clone(), origin: output.origin, ..need }
    }

    fn combinational(&mut self, level: Diagram, name: String, origin: Origin) -> Need {
        let sum = steady_either(&mut self.logic, level, true);
        Need::buried(name, origin, Function::Combinational, Vec::new(), sum, Lines::default())
    }

    fn lines_of(&self, variable: usize, complement: bool) -> Lines {
        let lines = self.lines.iter().find(|(v, _)| *v == variable).map(|(_, l)| l.clone()).unwrap_or_default();
        if complement { Lines { gate: lines.gate, clear: lines.preset, preset: lines.clear } } else { lines }
    }

    /// A register in a macrocell, as its complement where the pin (`shown`), the start or the global clear pin asks
    /// for that; `None` if its start can't be had in this way.
    fn registered(&mut self, register: &Register, shown: Option<bool>) -> Option<Need> {
        let wakes = self.site.device.power_up.level();
        let by_start = match register.start {
            Start::Any => None,
            Start::Low => wakes,
            Start::High => Some(!wakes?),
        };
        let plain = self.lines_of(register.variable, false);
        let on_clear_pin = plain.clear.is_none() && matches!(plain.preset.as_deref(), Some([(_, false)]));
        let complement = match (shown, by_start) {
            (Some(shown), Some(start)) if shown != start => return None,
            (Some(one), _) | (None, Some(one)) => one,
            (None, None) => on_clear_pin,
        };
        let diagrams = &mut self.logic.diagrams;
        let level = if complement { diagrams.not(register.data) } else { register.data };
        let opposite = diagrams.not(level);
        let [high, low] = [level, opposite].map(|sum| loaded_while_free(diagrams, register, sum));
        let lines = self.lines_of(register.variable, complement);
        let holds = vec![(register.variable, complement)];
        let (name, origin) = (register.name.clone(), register.origin.clone());
        Some(Need::buried(name, origin, Function::Registered, holds, better(high, low), lines))
    }

    fn latched(&mut self, latch: &Latch, complement: bool) -> Need {
        let level = if complement { self.logic.diagrams.not(latch.data) } else { latch.data };
        let sum = steady_either(&mut self.logic, level, true);
        let (holds, lines) = (vec![(latch.variable, complement)], self.lines_of(latch.variable, complement));
        Need::buried(latch.name.clone(), latch.origin.clone(), Function::Latch, holds, sum, lines)
    }

    fn wrong_start(&self, register: &Register) -> NoFit {
        NoFit::Start {
            element: register.name.clone(),
            start: if register.start == Start::High { "high" } else { "low" },
            but: "",
            device: self.site.device.name,
            mend: "leave its start open",
            origin: register.origin.clone(),
        }
    }
}
