//! The times at the contacts of a device with one array, from one speed grade.
use std::collections::{BTreeMap, BTreeSet};

use super::arrival::{Arrival, Origin, Turns, after, merged};
use super::cyclic_paths::{CyclicPaths, TANGLED, Visit};
use super::least::least;
use super::{At, Edge, Kind, Longest, Time, Timing};
use gluewright_devices::device::{
    Cell, Configuration, Device, Enable, EnableSource, Feedback, Function, Grade, Inverter, Literal, Mode, PinNumber,
    Source, Term,
};
use gluewright_devices::fit::Fitted;
use gluewright_kernel::graph::cycles;

/// The times of a fit in a device with one array.
pub(super) fn array(fitted: &Fitted, device: &Device, grade: &Grade) -> Timing {
    let mut timing = Timing { of: format!("{} {}", device.name, grade.name), ..Timing::default() };
    let Some(mode) = device.mode(fitted.plan.mode).filter(|_| !fitted.plan.cells.is_empty()) else {
        timing.gap = Some(format!("the times of a {} are not worked out here: see its data sheet", device.name));
        return timing;
    };
    let mut sums = Sums {
        fitted,
        mode,
        inverter: device.inverter,
        grade,
        rows: Longest::default(),
        on_demand: Longest::default(),
        looped: BTreeSet::new(),
        rounds: CyclicPaths::new(&reads(fitted)),
    };
    for (&pin, cell) in &fitted.plan.cells {
        sums.cell(pin, cell);
    }
    sums.controls();
    sums.latches();
    if !sums.looped.is_empty() {
        let pins: Vec<String> = sums.looped.iter().map(|pin| format!("pin {pin}")).collect();
        timing.notes.push(format!(
            "latches of product terms at {}: no sheet gives their setup and hold; one pass of the array is taken for each",
            pins.join(", ")
        ));
    }
    if grade.clock_to_feedback.is_none() && fitted.plan.cells.values().any(|c| c.function == Function::Registered) {
        timing.notes.push(
            "this grade gives no time from the clock to the registers' feedback: that to the output is taken, which is longer"
                .to_owned(),
        );
    }
    if sums.rounds.is_cut() {
        timing.gap = Some(TANGLED.to_owned());
    }
    timing.rows = sums.rows.rows;
    for row in &mut timing.rows {
        row.least = least(row, fitted, grade);
    }
    timing.on_demand = sums.on_demand.rows;
    timing.finish()
}

struct Sums<'a> {
    fitted: &'a Fitted,
    mode: &'a Mode,
    inverter: Inverter,
    grade: &'a Grade,
    rows: Longest,
    on_demand: Longest,
    /// Macrocells that read themselves, perhaps through others.
    looped: BTreeSet<PinNumber>,
    rounds: CyclicPaths<Place>,
}

/// Where the array's terms are added up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Place {
    /// A combinational macrocell.
    Pin(PinNumber),
    /// What clears all registers at once, as their feedback shows it.
    Reset,
}

/// What each place reads through the array.
fn reads(fitted: &Fitted) -> BTreeMap<Place, BTreeSet<Place>> {
    let plan = &fitted.plan;
    let place = |source: Source| match plan.cells.get(&source.pin())?.function {
        Function::Combinational | Function::Latch => Some(Place::Pin(source.pin())),
        Function::Registered => Some(Place::Reset),
        Function::Input => None,
    };
    let of = |terms: &[Term]| terms.iter().flat_map(|t| &t.0).filter_map(|l| place(l.source)).collect();
    let summed = plan.cells.iter().filter(|(_, c)| matches!(c.function, Function::Combinational | Function::Latch));
    let mut all: BTreeMap<Place, BTreeSet<Place>> =
        summed.map(|(&pin, cell)| (Place::Pin(pin), of(&cell.terms))).collect();
    all.extend(plan.reset.iter().map(|term| (Place::Reset, of(std::slice::from_ref(term)))));
    all
}

impl<'a> Sums<'a> {
    fn configuration(&self, pin: PinNumber, function: Function) -> Option<&'a Configuration> {
        self.mode.macrocell(pin).and_then(|m| m.configuration(function))
    }

    /// The contacts that are wired to a pin.
    fn contacts(&self, pin: PinNumber) -> Vec<At> {
        let wires = self.fitted.wires.iter().filter(|w| w.pin == pin);
        wires.map(|w| At { label: w.label.to_string(), name: w.signal.clone() }).collect()
    }

    fn clocks(&self) -> Vec<At> {
        self.mode.clock.map_or_else(Vec::new, |pin| self.contacts(pin))
    }

    /// What reaches the array over a source.
    fn source(&mut self, source: Source) -> Vec<Arrival> {
        let pin = source.pin();
        let cell = self.fitted.plan.cells.get(&pin);
        let from_contacts = |sums: &Self| sums.contacts(pin).iter().flat_map(Arrival::at).collect::<Vec<_>>();
        match cell.map(|c| c.function) {
            None | Some(Function::Input) => from_contacts(self),
            Some(Function::Registered) => {
                let buried =
                    self.configuration(pin, Function::Registered).is_some_and(|c| c.feedback == Feedback::InvertedQ);
                let grade = self.grade;
                let figure = match (buried, &grade.clock_to_feedback) {
                    (true, Some(figure)) => ("clock to feedback", Some(figure)),
                    _ => ("clock to output", grade.clock_to_output.as_ref()),
                };
                let through = format!("{} of pin {pin}", figure.0);
                let time = after(Time::default(), &through, "time from clock to output", figure.1);
                let mut all = self.clocked(&time);
                let edge = match cell {
                    Some(cell) if !buried => self.cleared(cell),
                    // what the array reads is the register's complement
                    _ => Edge::Rise,
                };
                all.extend(self.resets().into_iter().map(|a| Arrival { edge, ..a }));
                if !buried && cell.is_some_and(|c| c.enable != Enable::Always) {
                    all.extend(from_contacts(self));
                }
                all
            }
            Some(Function::Combinational | Function::Latch) => {
                let mut all = self.pin(pin);
                if cell.is_some_and(|c| c.enable != Enable::Always) {
                    all.extend(from_contacts(self));
                }
                all
            }
        }
    }

    /// What registers do this long after the clock's edge.
    fn clocked(&self, time: &Time) -> Vec<Arrival> {
        let edge = |at, edge| Arrival { origin: Origin::Clock(at), from: Edge::Rise, edge, time: time.clone() };
        self.clocks().into_iter().flat_map(|at| Edge::BOTH.map(|e| edge(at.clone(), e))).collect()
    }

    /// What reaches the array over the literals of some terms, as changes of the terms.
    fn terms<'t>(&mut self, terms: impl IntoIterator<Item = &'t Term>) -> Vec<Arrival> {
        let literals = terms.into_iter().flat_map(|t| &t.0).map(|l| (l.source, l.complement));
        let literals: BTreeSet<(Source, bool)> = literals.collect();
        let arrivals = literals
            .into_iter()
            .flat_map(|(source, complement)| self.source(source).into_iter().map(move |a| a.inverted_if(complement)));
        merged(arrivals)
    }

    /// What a clear makes of a register's pin.
    fn cleared(&self, cell: &Cell) -> Edge {
        match self.inverter {
            Inverter::AfterRegister => Edge::to(cell.inverted),
            Inverter::BeforeRegister => Edge::Rise,
        }
    }

    /// What clears the registers: no sheet says how fast their feedback follows, and the output is no faster. The end of
    /// a clear changes nothing.
    fn resets(&mut self) -> Vec<Arrival> {
        let Some(reset) = self.fitted.plan.reset.as_ref() else { return Vec::new() };
        let what = "time from a clear to the output";
        let cleared = self.at(Place::Reset, [reset], |sums, arrival| {
            let through = "the reset term to the feedback";
            let time = after(arrival.time, through, what, sums.grade.reset_to_output.as_ref());
            Arrival { time, ..arrival }
        });
        cleared.into_iter().filter_map(cleared_by).collect()
    }

    /// What reaches a combinational macrocell's pin.
    fn pin(&mut self, pin: PinNumber) -> Vec<Arrival> {
        let Some(cell) = self.fitted.plan.cells.get(&pin) else { return Vec::new() };
        let pass = format!("a pass of the array to pin {pin}");
        self.at(Place::Pin(pin), &cell.terms, |sums, arrival| {
            let time = after(arrival.time, &pass, "propagation delay", sums.grade.propagation.as_ref());
            Arrival { time, ..arrival }.inverted_if(cell.inverted)
        })
    }

    /// What reaches a place over these terms and one stretch more.
    fn at<'t>(
        &mut self,
        place: Place,
        terms: impl IntoIterator<Item = &'t Term>,
        stretch: impl Fn(&Self, Arrival) -> Arrival,
    ) -> Vec<Arrival> {
        if let Visit::Reached(known) = self.rounds.enter(place) {
            return known;
        }
        let arrivals = self.terms(terms).into_iter();
        let all: Vec<Arrival> = arrivals.map(|a| stretch(self, a)).collect();
        self.rounds.leave(place, &all);
        all
    }

    fn cell(&mut self, pin: PinNumber, cell: &Cell) {
        let outputs = self.contacts(pin);
        let grade = self.grade;
        match cell.function {
            Function::Input => return,
            Function::Combinational | Function::Latch => {
                for arrival in self.pin(pin) {
                    self.arrives(&outputs, &arrival, [Kind::Propagation, Kind::ClockToOutput]);
                }
            }
            Function::Registered => {
                let through = format!("clock to pin {pin}");
                let what = "time from clock to output";
                let out = after(Time::default(), &through, what, grade.clock_to_output.as_ref());
                for arrival in self.clocked(&out) {
                    self.arrives(&outputs, &arrival, [Kind::ClockToOutput; 2]);
                }
                let loads = self.terms(&cell.terms);
                self.samples(loads, pin);
                if let Some(reset) = self.fitted.plan.reset.clone() {
                    let (through, what) = (format!("the reset term to pin {pin}"), "time from a clear to the output");
                    let edge = self.cleared(cell);
                    for arrival in self.terms([&reset]).into_iter().filter_map(cleared_by) {
                        let arrival = Arrival { edge, ..arrival };
                        let time = after(arrival.time.clone(), &through, what, grade.reset_to_output.as_ref());
                        self.arrives(&outputs, &Arrival { time, ..arrival }, [Kind::Propagation, Kind::ClockToOutput]);
                    }
                }
            }
        }
        self.enables(pin, cell, &outputs);
    }

    fn enables(&mut self, pin: PinNumber, cell: &Cell, outputs: &[At]) {
        let grade = self.grade;
        let pulls = cell.function == Function::Combinational && cell.terms.is_empty() && !cell.inverted
            || cell.inverted && cell.terms.iter().any(|t| t.0.is_empty());
        let (arrivals, turns, how) = match &cell.enable {
            Enable::Always | Enable::Never => return,
            Enable::While(term) => (self.terms([term]), Turns::by_term(grade, pulls), "the enable term"),
            Enable::Pin => {
                let source = self.configuration(pin, cell.function).map(|c| c.enable);
                let contacts = match source {
                    Some(EnableSource::Pin(enable)) => self.contacts(enable),
                    _ => Vec::new(),
                };
                // the pin enables while it is low
                let arrivals = contacts.iter().flat_map(Arrival::at).map(|a| a.inverted_if(true));
                (arrivals.collect(), Turns::by_pin(grade, pulls), "the enable pin")
            }
        };
        let who = format!("{how} turns pin {pin}");
        for (arrival, kinds) in arrivals.iter().flat_map(|arrival| turns.after(arrival, &who)) {
            self.arrives(outputs, &arrival, kinds);
        }
    }

    /// Records a time from where a change came to the contacts of a pin.
    fn arrives(&mut self, outputs: &[At], arrival: &Arrival, kinds: [Kind; 2]) {
        for to in outputs {
            self.rows.arrives(to, arrival.clone(), kinds);
        }
    }

    /// Records the setup, hold and period that the data of a register need.
    fn samples(&mut self, data: Vec<Arrival>, pin: PinNumber) {
        let grade = self.grade;
        // while contacts alone clear all registers, none of them loads, and the end of a clear changes no data
        let fitted = self.fitted;
        let held = |l: &Literal| fitted.plan.cells.get(&l.source.pin()).is_none_or(|c| c.function == Function::Input);
        let clears = fitted.plan.reset.as_ref().is_some_and(|term| term.0.iter().all(held));
        for arrival in data {
            let setup = after(arrival.time, &format!("setup of pin {pin}"), "setup time", grade.setup.as_ref());
            for clock in self.clocks() {
                let to = (&clock, Some(Edge::Rise));
                match &arrival.origin {
                    Origin::Clock(_) => self.rows.take(Kind::Period, to, to, setup.clone()),
                    Origin::Reset(_) if clears => {}
                    Origin::Contact(from) | Origin::Reset(from) if *from != clock => {
                        self.rows.take(Kind::Setup, (from, Some(arrival.from)), to, setup.clone());
                        let hold =
                            after(Time::default(), &format!("hold of pin {pin}"), "hold time", grade.hold.as_ref());
                        self.rows.take(Kind::Hold, (from, Some(arrival.from)), to, hold);
                    }
                    Origin::Contact(_) | Origin::Reset(_) => {}
                }
            }
        }
    }

    /// Preset, recovery from reset, and pulses.
    fn controls(&mut self) {
        let grade = self.grade;
        let has_registers = self.fitted.plan.cells.values().any(|c| c.function == Function::Registered);
        if !has_registers {
            return;
        }
        let clocks = self.clocks();
        for clock in &clocks {
            for (kind, what, figure) in
                [(Kind::HighPulse, "clock high", &grade.clock_high), (Kind::LowPulse, "clock low", &grade.clock_low)]
            {
                self.rows.pulse(kind, clock, after(Time::default(), what, "clock pulse", figure.as_ref()));
            }
        }
        let (reset, preset) = (self.fitted.plan.reset.clone(), self.fitted.plan.preset.clone());
        for arrival in preset.iter().flat_map(|preset| self.terms([preset])).collect::<Vec<_>>() {
            let Origin::Contact(from) = &arrival.origin else { continue };
            for clock in &clocks {
                let (from, to) = ((from, Some(arrival.from)), (clock, Some(Edge::Rise)));
                let through = "setup of the preset term";
                let setup = after(arrival.time.clone(), through, "setup time", grade.setup.as_ref());
                self.rows.take(Kind::Setup, from, to, setup);
                if arrival.edge == Edge::Fall {
                    let (through, what) = ("recovery from the preset term", "recovery time from a preset");
                    let released = after(arrival.time.clone(), through, what, grade.preset_recovery.as_ref());
                    self.rows.take(Kind::Recovery, from, to, released);
                }
            }
        }
        if let Some(reset) = reset {
            for arrival in self.terms([&reset]) {
                let Origin::Contact(from) = &arrival.origin else { continue };
                for clock in clocks.iter().filter(|_| arrival.edge == Edge::Fall) {
                    let (through, what) = ("recovery from the reset term", "recovery time from a reset");
                    let time = after(arrival.time.clone(), through, what, grade.reset_recovery.as_ref());
                    self.rows.take(Kind::Recovery, (from, Some(arrival.from)), (clock, Some(Edge::Rise)), time);
                }
                let levels: BTreeSet<bool> =
                    reset.0.iter().filter(|l| self.carries(l.source, from)).map(|l| l.complement).collect();
                for low in levels {
                    let kind = if low { Kind::LowPulse } else { Kind::HighPulse };
                    let time = after(
                        Time::default(),
                        "width of the reset term",
                        "width of a reset",
                        grade.reset_width.as_ref(),
                    );
                    self.rows.pulse(kind, from, time);
                }
            }
        }
    }

    fn carries(&self, source: Source, at: &At) -> bool {
        self.contacts(source.pin()).contains(at)
    }

    /// Setup and hold of latches made of product terms, between all contacts that reach them.
    fn latches(&mut self) {
        let cells = &self.fitted.plan.cells;
        let reads = |pin: PinNumber| -> BTreeSet<PinNumber> {
            let cell = cells.get(&pin).filter(|c| c.function == Function::Combinational);
            cell.into_iter()
                .flat_map(|c| &c.terms)
                .flat_map(|t| &t.0)
                .map(|l| l.source.pin())
                .filter(|p| cells.get(p).is_some_and(|c| c.function == Function::Combinational))
                .collect()
        };
        let graph: BTreeMap<PinNumber, BTreeSet<PinNumber>> = cells.keys().map(|&pin| (pin, reads(pin))).collect();
        self.looped.extend(cycles(&graph).into_iter().flatten());
        for pin in self.looped.clone() {
            let arrivals = self.pin(pin);
            for data in &arrivals {
                for gate in &arrivals {
                    let (Origin::Contact(from), Origin::Contact(to)) = (&data.origin, &gate.origin) else { continue };
                    if from != to {
                        let (from, to) = ((from, Some(data.from)), (to, Some(gate.from)));
                        self.on_demand.take(Kind::Setup, from, to, data.time.clone());
                        self.on_demand.take(Kind::Hold, from, to, gate.time.clone());
                    }
                }
            }
        }
    }
}

/// A rise of the reset term clears; its fall does nothing to what registers hold.
fn cleared_by(arrival: Arrival) -> Option<Arrival> {
    let origin = match &arrival.origin {
        Origin::Contact(at) | Origin::Reset(at) => Origin::Reset(at.clone()),
        Origin::Clock(at) => Origin::Clock(at.clone()),
    };
    (arrival.edge == Edge::Rise).then_some(Arrival { origin, ..arrival })
}
