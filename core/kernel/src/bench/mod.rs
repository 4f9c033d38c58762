//! A test bench: one run of a circuit or a traced board, its contacts and elements by their names.
mod error;
mod record;
mod table;
#[cfg(test)]
mod tests;

use std::fmt;
use std::marker::PhantomData;

pub use error::BenchError;

use crate::board::Board;
use crate::circuit::{Circuit, Direction, Label, Polarity};
use crate::machine::Machine;
use crate::nearest::{mistyped, nearest};
use crate::random::SplitMix;
use crate::signals::{Wiring, build, derived::Field, name_of};
use crate::simulate::{Happened, Shown, Simulator};

/// A level that the bench puts on a contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Put {
    /// Low.
    Low,
    /// High.
    High,
}

/// Low, as the bench puts it on a contact.
pub const LOW: Put = Put::Low;
/// High, as the bench puts it on a contact.
pub const HIGH: Put = Put::High;

impl From<bool> for Put {
    /// True is high.
    fn from(high: bool) -> Self {
        if high { Put::High } else { Put::Low }
    }
}

impl Put {
    fn is_high(self) -> bool {
        self == Put::High
    }
}

/// The name of a contact, a buried element or a net: `"reset"`, `"data[2]"`, `"seen"`; a contact has its label too, `"A12"`.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Spot(String);

impl From<&str> for Spot {
    fn from(name: &str) -> Self {
        Spot(name.to_owned())
    }
}

impl From<String> for Spot {
    fn from(name: String) -> Self {
        Spot(name)
    }
}

impl From<&Spot> for Spot {
    fn from(spot: &Spot) -> Self {
        spot.clone()
    }
}

impl From<u16> for Spot {
    /// The contact of this number.
    fn from(label: u16) -> Self {
        Spot(label.to_string())
    }
}

/// One circuit under power, on a bench that drives its inputs and looks at its outputs.
///
/// Power comes on when every input has its level, at the first thing that is done then. What a register or a latch of
/// unknown start holds at that moment is low, or what [`starts`](Bench::starts) and [`starts_drawn`](Bench::starts_drawn) say.
/// Whatever delays or a data sheet leave open takes its usual way, and [`remarks`](Bench::remarks) tells of it.
pub struct Bench<C = ()> {
    circuit: Circuit,
    machine: Machine,
    /// For each contact of the circuit, the level that the bench gives it.
    given: Vec<Option<bool>>,
    /// What each cell begins with, where somebody said so.
    begins: Vec<Option<bool>>,
    drawn: Option<u64>,
    run: Option<Simulator>,
    record: record::Record,
    remarks: Vec<String>,
    of: PhantomData<fn() -> C>,
}

// written out: what a bench holds does not depend on the source's type
impl<C> fmt::Debug for Bench<C> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Bench").field("circuit", &self.circuit.name).field("given", &self.given).finish_non_exhaustive()
    }
}

impl<C: Wiring> Bench<C> {
    /// The name of a field, so that a misspelt one doesn't compile: `let reset = bench.at(|card| card.reset);`.
    ///
    /// # Errors
    /// If what it gives is no field of the circuit.
    pub fn at<F: Field>(&self, field: impl FnOnce(&C) -> F) -> Result<Spot, BenchError> {
        name_of(field).map(Spot).ok_or(BenchError::NoField)
    }
}

impl Bench {
    /// A bench for the circuit that this source describes: `Bench::of::<Card>()`.
    ///
    /// # Errors
    /// If it describes none.
    pub fn of<C: Wiring>() -> Result<Bench<C>, BenchError> {
        Bench::with(build::<C>()?)
    }

    /// A bench for a traced board, by the names of the nets at its contacts, or their labels.
    ///
    /// # Errors
    /// If the trace can't be run.
    pub fn of_board(board: &Board) -> Result<Self, BenchError> {
        let circuit = board.circuit().map_err(|e| BenchError::Board(Box::new(e)))?;
        Bench::with(circuit)
    }

    /// A bench for a circuit, whatever it was made of.
    ///
    /// # Errors
    /// If it is none.
    pub fn of_circuit(circuit: &Circuit) -> Result<Self, BenchError> {
        Bench::with(circuit.clone())
    }
}

impl<C> Bench<C> {
    fn with(circuit: Circuit) -> Result<Self, BenchError> {
        circuit.check()?;
        let machine = Machine::new(&circuit);
        let (given, begins) = (vec![None; circuit.contacts().len()], vec![None; machine.cells().len()]);
        let record = record::Record::default();
        let (run, remarks) = (None, Vec::new());
        Ok(Bench { circuit, machine, given, begins, drawn: None, run, record, remarks, of: PhantomData })
    }

    /// What this element holds when power comes on, where its source does not say so.
    ///
    /// # Errors
    /// If there is no such element, its source says how it starts, or power is on.
    pub fn starts(&mut self, element: impl Into<Spot>, level: impl Into<Put>) -> Result<&mut Self, BenchError> {
        let name = element.into().0;
        self.before_power(&name)?;
        let cell = self.machine.cells().iter().position(|c| c.name == name).ok_or_else(|| self.no_such(&name))?;
        match self.machine.cells().get(cell).and_then(|c| c.start) {
            Some(_) => Err(BenchError::StartGiven { name }),
            None => {
                self.begins[cell] = Some(level.into().is_high());
                Ok(self)
            }
        }
    }

    /// What all other elements of unknown start hold when power comes on is drawn from this number, the same every time.
    ///
    /// # Errors
    /// If power is on.
    pub fn starts_drawn(&mut self, seed: u64) -> Result<&mut Self, BenchError> {
        self.before_power("the start")?;
        self.drawn = Some(seed);
        Ok(self)
    }

    /// Puts a level on an input, or on a contact that both sides drive.
    ///
    /// # Errors
    /// If there is no such contact, it is an output, or the circuit drives it at this moment.
    pub fn set(&mut self, contact: impl Into<Spot>, level: impl Into<Put>) -> Result<&mut Self, BenchError> {
        let contact = self.input(&contact.into().0)?;
        self.put(&[(contact, level.into().is_high())])
    }

    /// Puts the asserted level on an input: low on one that is active low.
    ///
    /// # Errors
    /// As [`set`](Bench::set); or if neither level of the contact is asserted.
    pub fn assert(&mut self, contact: impl Into<Spot>) -> Result<&mut Self, BenchError> {
        let (contact, low) = self.with_polarity(&contact.into().0)?;
        self.put(&[(contact, !low)])
    }

    /// Puts the other level on an input than [`assert`](Bench::assert).
    ///
    /// # Errors
    /// As [`assert`](Bench::assert).
    pub fn release(&mut self, contact: impl Into<Spot>) -> Result<&mut Self, BenchError> {
        let (contact, low) = self.with_polarity(&contact.into().0)?;
        self.put(&[(contact, low)])
    }

    /// Puts a number on an array of inputs, all at one moment: the element 0 is its lowest bit.
    ///
    /// # Errors
    /// As [`set`](Bench::set); or if the number doesn't fit.
    pub fn set_number(&mut self, array: impl Into<Spot>, number: u64) -> Result<&mut Self, BenchError> {
        let name = array.into().0;
        let contacts = self.array(&name)?;
        if number.checked_shr(contacts.len() as u32).is_some_and(|rest| rest != 0) {
            return Err(BenchError::TooLarge { name, number, bits: contacts.len() });
        }
        let mut levels = Vec::with_capacity(contacts.len());
        for (bit, contact) in (0..).zip(contacts) {
            let high = number.checked_shr(bit).is_some_and(|rest| rest & 1 == 1);
            levels.push((self.driven_by_bench(contact)?, high));
        }
        self.put(&levels)
    }

    /// Puts a level on every input that has none yet: the released one where a level is asserted, low elsewhere.
    pub fn release_the_rest(&mut self) -> &mut Self {
        for (contact, given) in self.circuit.contacts().iter().zip(&mut self.given) {
            if contact.direction != Direction::Output && given.is_none() {
                *given = Some(contact.polarity == Polarity::ActiveLow);
            }
        }
        self
    }

    /// Turns an input's level round and back again: a pulse of a clock, a key that is pressed and let go.
    ///
    /// # Errors
    /// As [`set`](Bench::set); or if inputs have no level yet.
    pub fn pulse(&mut self, contact: impl Into<Spot>) -> Result<&mut Self, BenchError> {
        let contact = self.input(&contact.into().0)?;
        self.power()?;
        let before = self.given[contact] == Some(true);
        self.put(&[(contact, !before)])?;
        self.put(&[(contact, before)])
    }

    /// What a meter finds on a contact: what the circuit drives there, or else the level that the bench gives it.
    ///
    /// # Errors
    /// If there is no such contact, or inputs have no level yet.
    pub fn see(&mut self, contact: impl Into<Spot>) -> Result<Shown, BenchError> {
        let contact = self.contact(&contact.into().0)?;
        let given = self.given[contact];
        let shown = self.shown(contact)?;
        Ok(match (shown, given) {
            (Shown::Low | Shown::High, _) | (_, None) => shown,
            (_, Some(high)) => {
                if high {
                    Shown::High
                } else {
                    Shown::Low
                }
            }
        })
    }

    /// True while a contact has its asserted level; a floating one hasn't.
    ///
    /// # Errors
    /// As [`see`](Bench::see); or if neither level of the contact is asserted.
    pub fn is_asserted(&mut self, contact: impl Into<Spot>) -> Result<bool, BenchError> {
        let name = contact.into().0;
        let low = self.asserted_low(self.contact(&name)?)?;
        let seen = self.see(name.as_str())?;
        Ok(matches!((seen, low), (Shown::Low | Shown::PulledLow, true) | (Shown::High | Shown::PulledHigh, false)))
    }

    /// The number that an array of contacts shows, the element 0 as its lowest bit; nothing while one of them floats.
    ///
    /// # Errors
    /// As [`see`](Bench::see).
    pub fn see_number(&mut self, array: impl Into<Spot>) -> Result<Option<u64>, BenchError> {
        let mut number = Some(0u64);
        for (bit, contact) in (0..).zip(self.array(&array.into().0)?) {
            let name = self.circuit.contacts()[contact].name.clone();
            let high = match self.see(name)? {
                Shown::High | Shown::PulledHigh => Some(1u64),
                Shown::Low | Shown::PulledLow => Some(0),
                Shown::Floating => None,
            };
            number = number.zip(high.and_then(|high| high.checked_shl(bit))).map(|(number, bit)| number | bit);
        }
        Ok(number)
    }

    /// The level that a register or a latch holds, or that of a net.
    ///
    /// # Errors
    /// If there is none of that name, or inputs have no level yet.
    pub fn holds(&mut self, element: impl Into<Spot>) -> Result<Put, BenchError> {
        let name = element.into().0;
        let cell = self.machine.cells().iter().position(|c| c.name == name);
        let net = self.circuit.find_net(&name).and_then(|net| self.machine.node_of_net(net));
        if cell.is_none() && net.is_none() {
            return Err(self.no_such(&name));
        }
        self.power()?;
        let run = self.run.as_ref().ok_or(BenchError::NoField)?;
        let word = match (cell, net) {
            (Some(cell), _) => run.machine().held(run.point()).get(cell).copied().unwrap_or(0),
            (None, Some(net)) => run.machine().value(run.point(), net),
            (None, None) => 0,
        };
        Ok(Put::from(word & 1 == 1))
    }

    /// What was met on the way that the circuit does not decide: races, floating nets that were read, outputs that fought;
    /// each with the step at which it was.
    pub fn remarks(&self) -> &[String] {
        &self.remarks
    }

    /// Writes the run as a value change dump (IEEE 1364, clause 18), which waveform viewers read: every step takes a
    /// microsecond, and what passes before it has settled stands a nanosecond apart.
    ///
    /// # Errors
    /// If it can't be written.
    pub fn write_vcd(&self, to: impl std::io::Write) -> std::io::Result<()> {
        self.record.write_vcd(&self.circuit, &self.machine, to)
    }

    /// What the contacts showed so far, step by step, with what passed before each had settled:
    /// [`text`](crate::explain::Waveform::text) for a terminal, [`svg`](crate::explain::Waveform::svg) for a page.
    pub fn waveform(&self) -> crate::explain::Waveform {
        self.record.waveform(&self.circuit)
    }

    /// The names of all contacts, in order.
    pub fn contacts(&self) -> impl Iterator<Item = &str> {
        self.circuit.contacts().iter().map(|c| c.name.as_str())
    }

    fn before_power(&self, what: &str) -> Result<(), BenchError> {
        match self.run {
            Some(_) => Err(BenchError::PowerIsOn { what: what.to_owned() }),
            None => Ok(()),
        }
    }

    fn no_such(&self, name: &str) -> BenchError {
        let contacts = self.circuit.contacts().iter().map(|c| c.name.as_str());
        let all = contacts.chain(self.machine.cells().iter().map(|c| c.name.as_str()));
        let near = nearest(name, all, mistyped(name)).first().map(|near| (*near).to_owned());
        BenchError::NoSuch { circuit: self.circuit.name.clone(), name: name.to_owned(), near }
    }

    /// A contact by its name, or else by its label.
    fn contact(&self, name: &str) -> Result<usize, BenchError> {
        let contacts = self.circuit.contacts();
        let label = Label::new(name);
        let found = contacts.iter().position(|c| c.name == name);
        found.or_else(|| contacts.iter().position(|c| c.label == label)).ok_or_else(|| {
            let elements = contacts.iter().any(|c| c.name == format!("{name}[0]"));
            if elements { BenchError::AnArray { name: name.to_owned() } } else { self.no_such(name) }
        })
    }

    /// The contacts of an array, or one contact.
    fn array(&self, name: &str) -> Result<Vec<usize>, BenchError> {
        let element = |i: usize| self.circuit.contacts().iter().position(|c| c.name == format!("{name}[{i}]"));
        let all: Vec<usize> = (0..64).map_while(element).collect();
        if all.is_empty() { Ok(vec![self.contact(name)?]) } else { Ok(all) }
    }

    fn input(&self, name: &str) -> Result<usize, BenchError> {
        self.driven_by_bench(self.contact(name)?)
    }

    fn driven_by_bench(&self, contact: usize) -> Result<usize, BenchError> {
        let of = &self.circuit.contacts()[contact];
        match of.direction {
            Direction::Output => Err(BenchError::AnOutput { name: of.name.clone() }),
            Direction::Input => Ok(contact),
            Direction::InOut => match self.run.as_ref().map(|run| run.shown(&of.label, 0)) {
                Some(Ok(Shown::Low | Shown::High)) => Err(BenchError::Drives { name: of.name.clone() }),
                _ => Ok(contact),
            },
        }
    }

    fn with_polarity(&self, name: &str) -> Result<(usize, bool), BenchError> {
        let contact = self.input(name)?;
        Ok((contact, self.asserted_low(contact)?))
    }

    fn asserted_low(&self, contact: usize) -> Result<bool, BenchError> {
        let of = &self.circuit.contacts()[contact];
        match of.polarity {
            Polarity::ActiveLow => Ok(true),
            Polarity::ActiveHigh => Ok(false),
            Polarity::Data | Polarity::Clock => Err(BenchError::NoPolarity { name: of.name.clone() }),
        }
    }

    /// What the circuit shows at a contact.
    fn shown(&mut self, contact: usize) -> Result<Shown, BenchError> {
        self.power()?;
        let label = &self.circuit.contacts()[contact].label;
        let run = self.run.as_ref().ok_or(BenchError::NoField)?;
        run.shown(label, 0).map_err(BenchError::from)
    }

    /// Power comes on, if it is not on yet.
    fn power(&mut self) -> Result<(), BenchError> {
        if self.run.is_some() {
            return Ok(());
        }
        let contacts = || self.circuit.contacts().iter().zip(&self.given);
        let missing: Vec<String> = contacts()
            .filter(|(c, given)| c.direction != Direction::Output && given.is_none())
            .map(|(c, _)| c.name.clone())
            .collect();
        if !missing.is_empty() {
            return Err(BenchError::NobodyDrives { names: missing });
        }
        let levels: Vec<(Label, bool)> = contacts().map(|(c, given)| (c.label.clone(), *given == Some(true))).collect();
        let mut random = self.drawn.map(SplitMix::new);
        let begins = self.begins.clone();
        let held = |cell: usize, lane: u32| match (begins.get(cell).copied().flatten(), random.as_mut()) {
            (Some(high), _) => high,
            (None, Some(random)) => lane == 0 && random.one_in(2),
            (None, None) => false,
        };
        let (run, happened) = Simulator::of(self.machine.clone(), &levels, held)?;
        self.run = Some(run);
        self.happened(&happened)
    }

    /// Levels change at one moment. Before power they are what it comes on with.
    fn put(&mut self, levels: &[(usize, bool)]) -> Result<&mut Self, BenchError> {
        let again = levels.iter().any(|(contact, _)| self.given[*contact].is_some());
        let inputs = || self.circuit.contacts().iter().zip(&self.given);
        let all = inputs().all(|(c, given)| c.direction == Direction::Output || given.is_some());
        // the last level that was missing is one that power comes on with; so is what is said again before all are there
        if self.run.is_none() && again && all {
            self.power()?;
        }
        let changes: Vec<(Label, bool)> =
            levels.iter().map(|&(contact, high)| (self.circuit.contacts()[contact].label.clone(), high)).collect();
        for &(contact, high) in levels {
            self.given[contact] = Some(high);
        }
        if let Some(run) = &mut self.run {
            let happened = run.event(&changes)?;
            self.happened(&happened)?;
        }
        Ok(self)
    }

    fn happened(&mut self, happened: &Happened) -> Result<(), BenchError> {
        let Some(run) = &self.run else { return Ok(()) };
        self.record.keep(&self.circuit, run, &self.given, happened);
        let step = self.record.last_step();
        for (unknown, _) in happened.unknowns.iter().filter(|(_, lanes)| lanes & 1 == 1) {
            self.remarks.push(format!("step {step}: {}", run.machine().describe(*unknown)));
        }
        for (i, fight) in run.machine().fights().iter().enumerate() {
            if run.machine().fights_at(run.point(), i) & 1 == 1 {
                self.remarks.push(format!(
                    "step {step}: {} drive `{}` against each other",
                    fight.drivers.join(" and "),
                    fight.net
                ));
            }
        }
        if happened.restless & 1 == 1 { Err(BenchError::Restless { step }) } else { Ok(()) }
    }
}
