//! The times at the contacts of a device of logic blocks, from one speed grade.
//!
//! Its sheets give few figures: pin to pin, clock to output, setup and hold at a global clock. What they don't give is put
//! together from these on the safe side where that can be done, and is missing where it can't.
use std::collections::{BTreeMap, BTreeSet};

use super::arrival::{Arrival, Origin, Turns, after, merged};
use super::cyclic_paths::{CyclicPaths, TANGLED, Visit};
use super::{At, Edge, Kind, Longest, Time, Timing};
use gluewright_devices::device::{Device, Function, Grade};
use gluewright_devices::fit::{Drive, Fitted, FittedCell, Line};
use gluewright_devices::logic::Product;

/// The times of a fit in a device of logic blocks.
pub(super) fn blocks(fitted: &Fitted, device: &Device, grade: &Grade) -> Timing {
    let mut timing = Timing { of: format!("{} {}", device.name, grade.name), ..Timing::default() };
    let mut sums = Sums { fitted, grade, rows: Longest::default(), rounds: CyclicPaths::new(&reads(fitted)) };
    for cell in 0..fitted.cells.len() {
        sums.cell(cell);
    }
    timing.notes.push(
        "of this device only pin to pin, clock to output, setup and hold are known; a pass through a buried macrocell counts \
         as pin to pin, and a clock or gate made of a product term as such a pass more, which is longer than it takes"
            .to_owned(),
    );
    if sums.rounds.is_cut() {
        timing.gap = Some(TANGLED.to_owned());
    }
    timing.rows = sums.rows.rows;
    timing.finish()
}

struct Sums<'a> {
    fitted: &'a Fitted,
    grade: &'a Grade,
    rows: Longest,
    rounds: CyclicPaths<usize>,
}

/// The macrocell that holds a variable.
fn holder(fitted: &Fitted, variable: usize) -> Option<usize> {
    fitted.cells.iter().position(|c| c.holds.iter().any(|(v, _)| *v == variable))
}

/// What each macrocell's output reads.
fn reads(fitted: &Fitted) -> BTreeMap<usize, BTreeSet<usize>> {
    let of = |cell: &FittedCell| {
        let data = cell.terms.iter().filter(|_| cell.function != Function::Registered).map(|t| &t.product);
        let lines = cell.control.iter().flat_map(|c| [&c.gate, &c.clear, &c.preset]).flatten().map(|l| &l.product);
        data.chain(lines).flatten().filter_map(|&(v, _)| holder(fitted, v)).collect()
    };
    fitted.cells.iter().map(of).enumerate().collect()
}

impl<'a> Sums<'a> {
    fn pass(&self, time: Time, cell: &FittedCell) -> Time {
        after(
            time,
            &format!("a pass of the array to {}", cell.name),
            "propagation delay",
            self.grade.propagation.as_ref(),
        )
    }

    /// What reaches the array over a variable.
    fn variable(&mut self, variable: usize) -> Vec<Arrival> {
        let fitted = self.fitted;
        let info = fitted.logic.signals.get(variable);
        let held = holder(fitted, variable);
        let output = held.map_or_else(Vec::new, |cell| self.output(cell));
        // a macrocell may hold the complement of what is read
        let holds = held.and_then(|cell| fitted.cells.get(cell)).map_or(&[][..], |cell| &cell.holds);
        let complement = holds.iter().any(|(v, complement)| *v == variable && *complement);
        let mut all: Vec<Arrival> = output.into_iter().map(|a| a.inverted_if(complement)).collect();
        // a wire that the board drives too, or only the board does
        let outside = held.is_none_or(|cell| fitted.cells.get(cell).is_some_and(|c| c.drive != Drive::Always));
        if let Some(label) = info.and_then(|i| i.label.as_ref()).filter(|_| outside) {
            let name = info.map_or_else(String::new, |i| i.name.clone());
            let at = At { label: label.to_string(), name };
            all.extend(Arrival::at(&at));
        }
        all
    }

    fn products<'p>(&mut self, products: impl IntoIterator<Item = &'p Product>) -> Vec<Arrival> {
        let literals: BTreeSet<(usize, bool)> = products.into_iter().flatten().copied().collect();
        let arrivals = literals
            .into_iter()
            .flat_map(|(variable, high)| self.variable(variable).into_iter().map(move |a| a.inverted_if(!high)));
        merged(arrivals)
    }

    /// What reaches the output of a macrocell, before its driver.
    fn output(&mut self, index: usize) -> Vec<Arrival> {
        let Some(cell) = self.fitted.cells.get(index) else { return Vec::new() };
        if let Visit::Reached(known) = self.rounds.enter(index) {
            return known;
        }
        let mut all = Vec::new();
        if cell.function != Function::Registered {
            let data = self.products(cell.terms.iter().map(|t| &t.product));
            let passed = data.into_iter().map(|a| Arrival { time: self.pass(a.time.clone(), cell), ..a });
            all.extend(passed.map(|a| a.inverted_if(cell.inverted)));
        }
        // a closing gate and an inactive edge of a clock start nothing
        for arrival in self.gate(cell).into_iter().filter(|a| a.edge == Edge::Rise) {
            let through = format!("clock to output of {}", cell.name);
            let time = after(arrival.time, &through, "time from clock to output", self.grade.clock_to_output.as_ref());
            let origin = match (cell.function, arrival.origin) {
                (Function::Registered, Origin::Contact(at)) => Origin::Clock(at),
                (_, origin) => origin,
            };
            all.extend(Arrival { origin, from: arrival.from, edge: arrival.edge, time }.either());
        }
        let lines = cell.control.iter().flat_map(|c| [(&c.clear, Edge::Fall), (&c.preset, Edge::Rise)]);
        for (line, forced) in lines.filter_map(|(line, edge)| Some((line.as_ref()?, edge))) {
            for arrival in self.products([&line.product]) {
                // the end of it changes nothing that a register holds; an open latch follows its data again
                let edge = match (arrival.edge, cell.function) {
                    (Edge::Rise, _) => forced,
                    (Edge::Fall, Function::Latch) => forced.other(),
                    (Edge::Fall, _) => continue,
                };
                let through = format!("the clear or preset of {}", cell.name);
                let what = "time from a clear to the output";
                let time = after(arrival.time, &through, what, self.grade.reset_to_output.as_ref());
                all.push(Arrival { edge, time, ..arrival });
            }
        }
        let all = merged(all);
        self.rounds.leave(index, &all);
        all
    }

    /// What reaches the clock or the gate of a macrocell.
    fn gate(&mut self, cell: &'a FittedCell) -> Vec<Arrival> {
        let Some(line) = cell.control.as_ref().and_then(|c| c.gate.as_ref()) else { return Vec::new() };
        let Line { product, pin } = line;
        let arrivals = self.products([product]);
        let through = |a: Arrival| match pin {
            Some(_) => a,
            None => Arrival { time: self.pass(a.time, cell), ..a },
        };
        arrivals.into_iter().map(through).collect()
    }

    fn cell(&mut self, index: usize) {
        let Some(cell) = self.fitted.cells.get(index) else { return };
        let contact = cell.label.as_ref().map(|l| At { label: l.to_string(), name: cell.name.clone() });
        let pulls = cell.function == Function::Combinational
            && (cell.terms.is_empty() && !cell.inverted
                || cell.inverted && cell.terms.iter().any(|t| t.product.is_empty()));
        if let Some(to) = &contact {
            for arrival in self.output(index) {
                self.rows.arrives(to, arrival, [Kind::Propagation, Kind::ClockToOutput]);
            }
            if let Drive::While(product) = &cell.drive {
                let (turns, who) = (Turns::by_term(self.grade, pulls), format!("{} turns", cell.name));
                let arrivals = self.products([product]);
                for (arrival, kinds) in arrivals.iter().flat_map(|arrival| turns.after(arrival, &who)) {
                    self.rows.arrives(to, arrival, kinds);
                }
            }
        }
        if cell.function == Function::Combinational {
            return;
        }
        let loads = if cell.function == Function::Registered { Edge::Rise } else { Edge::Fall };
        let gates: Vec<Arrival> = self.gate(cell).into_iter().filter(|a| a.edge == loads).collect();
        let clears = cell.control.iter().flat_map(|c| [&c.clear, &c.preset]).flatten();
        let clears: Vec<&Product> = clears.filter(|_| loads == Edge::Rise).map(|l| &l.product).collect();
        for release in self.products(clears).into_iter().filter(|a| a.edge == Edge::Fall) {
            let (through, what) = (format!("recovery of {}", cell.name), "recovery time");
            let time = after(release.time.clone(), &through, what, None);
            for gate in &gates {
                if let (Origin::Contact(from), Origin::Contact(to)) = (&release.origin, &gate.origin) {
                    let (from, to) = ((from, Some(release.from)), (to, Some(gate.from)));
                    self.rows.take(Kind::Recovery, from, to, time.clone());
                }
            }
        }
        for data in self.products(cell.terms.iter().map(|t| &t.product)) {
            let setup = after(data.time, &format!("setup of {}", cell.name), "setup time", self.grade.setup.as_ref());
            for gate in &gates {
                // a clock that comes late needs its data held longer
                let hold =
                    after(gate.time.clone(), &format!("hold of {}", cell.name), "hold time", self.grade.hold.as_ref());
                match (&data.origin, &gate.origin) {
                    (Origin::Clock(from), Origin::Contact(to) | Origin::Clock(to)) if from == to => {
                        self.rows.take(Kind::Period, (to, Some(data.from)), (to, Some(gate.from)), setup.clone());
                    }
                    (Origin::Contact(from) | Origin::Clock(from), Origin::Contact(to) | Origin::Clock(to))
                        if from != to =>
                    {
                        let (from, to) = ((from, Some(data.from)), (to, Some(gate.from)));
                        self.rows.take(Kind::Setup, from, to, setup.clone());
                        if matches!(data.origin, Origin::Contact(_)) {
                            self.rows.take(Kind::Hold, from, to, hold);
                        }
                    }
                    _ => {}
                }
            }
        }
    }
}
