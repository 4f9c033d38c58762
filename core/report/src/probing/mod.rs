//! The probing sheet: what every contact shows at rest, under reset, and over a few useful steps, from an unknown start.
mod action;
mod adapter;
mod bench;
mod coverage;
mod faulty;
mod moves;
mod resets;
mod search;

pub use adapter::Wiring;
pub use coverage::{Coverage, Missed};

use action::Action;
use adapter::Bare;
use bench::Bench;
use faulty::Faulty;
use gluewright_kernel::machine::ternary::Ternary;

use gluewright_kernel::circuit::{Circuit, Direction, Label, Polarity, Pull, Stage};
use gluewright_kernel::machine::Machine;
use gluewright_kernel::prove::{Assumption, Question};

/// What a probe finds on a contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Expect {
    /// Driven high.
    High,
    /// Driven low.
    Low,
    /// Not driven; a resistor of the card may pull it.
    Floating(Pull),
    /// Driven, high or low: it depends on the start.
    HighOrLow,
    /// High or not driven.
    HighOrFloating,
    /// Low or not driven.
    LowOrFloating,
    /// Nothing can be said.
    Any,
}

impl Expect {
    fn new(driven: Ternary, level: Ternary, pull: Pull) -> Expect {
        let floating = Expect::Floating(pull);
        match (driven, level) {
            (Ternary::Low, _) => floating,
            (Ternary::High, Ternary::High) => Expect::High,
            (Ternary::High, Ternary::Low) => Expect::Low,
            (Ternary::High, Ternary::Either) => Expect::HighOrLow,
            (Ternary::Either, Ternary::High) => Expect::HighOrFloating,
            (Ternary::Either, Ternary::Low) => Expect::LowOrFloating,
            (Ternary::Either, Ternary::Either) => Expect::Any,
        }
    }

    /// Whether every start agrees.
    pub fn is_known(self) -> bool {
        matches!(self, Expect::High | Expect::Low | Expect::Floating(_))
    }
}

impl std::fmt::Display for Expect {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Expect::High => "high",
            Expect::Low => "low",
            Expect::Floating(Pull::None) => "floats",
            Expect::Floating(Pull::Up) => "pulled high",
            Expect::Floating(Pull::Down) => "pulled low",
            Expect::HighOrLow => "high or low",
            Expect::HighOrFloating => "high or floats",
            Expect::LowOrFloating => "low or floats",
            Expect::Any => "either",
        })
    }
}

/// A contact of the sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// What is printed beside it.
    pub label: Label,
    /// The signal.
    pub name: String,
    /// Which side drives it, as the replacement declares it.
    pub direction: Direction,
    /// What it carries, as the replacement declares it.
    pub polarity: Polarity,
}

/// What one contact shows at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The level that the person at the bench puts on it; nothing if the contact is left alone.
    pub applied: Option<bool>,
    /// What the original shows.
    pub original: Expect,
    /// What the device in the socket shows.
    pub device: Expect,
    /// Whether it differs from the moment before.
    pub changed: bool,
}

/// One moment of the sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moment {
    /// What it is called.
    pub title: String,
    /// What the person does to come there, one action after the other.
    pub actions: Vec<String>,
    /// What the contacts then show, in the order of the rows.
    pub readings: Vec<Reading>,
    /// Whether it is one of the numbered steps.
    pub is_step: bool,
}

/// The probing sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Probing {
    /// The contacts, in the order of their labels.
    pub rows: Vec<Row>,
    /// The moments, in order of time.
    pub moments: Vec<Moment>,
    /// The wires between packages, which have no contact: what is read at each of their pins.
    pub wires: Vec<InnerWire>,
    /// Which faults of the adapter the steps find, if the adapter is known.
    pub coverage: Option<Coverage>,
    /// Levels that no step brings to a contact that the card drives: the contact, and whether the level is high.
    pub unshown: Vec<(Label, bool)>,
    /// What a person should know about this sheet.
    pub remarks: Vec<String>,
}

/// A wire between packages, without a contact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InnerWire {
    /// Its name in the wiring list and its signal.
    pub name: String,
    /// The pins on it.
    pub pins: String,
    /// What it shows at each moment.
    pub shows: Vec<Expect>,
}

/// How many steps the sheet has.
const STEPS: usize = 5;

impl Probing {
    /// For a question that was asked, and the device as it sits in the socket. No step breaks what the question assumes;
    /// contacts of a group change together.
    pub fn new(question: &Question, device: &Circuit) -> Probing {
        Probing::made(question, device, None)
    }

    /// The same, with steps that find what can be wrong with the wires of the adapter.
    pub fn of_adapter(question: &Question, device: &Circuit, wiring: &Wiring<'_>) -> Probing {
        let is_contact = |label: &Label| question.replacement().contacts().iter().any(|c| c.label == *label);
        Probing::made(question, device, Some(&Bare::new(wiring, is_contact)))
    }

    fn made(question: &Question, device: &Circuit, bare: Option<&Bare>) -> Probing {
        let replacement = question.replacement();
        let machine = question.original_in_time();
        let mut order: Vec<(Row, usize)> = Vec::new();
        for (port, p) in machine.ports().iter().enumerate() {
            let Some(c) = replacement.contacts().iter().find(|c| c.label == p.label) else { continue };
            let row =
                Row { label: c.label.clone(), name: c.name.clone(), direction: c.direction, polarity: c.polarity };
            order.push((row, port));
        }
        order.sort_by(|a, b| a.0.label.cmp(&b.0.label));
        let rows: Vec<Row> = order.iter().map(|(row, _)| row.clone()).collect();
        let ports: Vec<usize> = order.into_iter().map(|(_, port)| port).collect();
        let other = Machine::new(device);
        let mut sheet = Sheet {
            probing: Probing { rows, ..Probing::default() },
            ports,
            bare,
            original: &machine,
            device: &other,
            question,
        };
        sheet.fill();
        sheet.probing
    }
}

struct Sheet<'a> {
    probing: Probing,
    /// The original's port of each row.
    ports: Vec<usize>,
    /// The adapter, if it is known.
    bare: Option<&'a Bare>,
    original: &'a Machine,
    device: &'a Machine,
    question: &'a Question,
}

impl<'a> Sheet<'a> {
    /// The level at which a contact asks for nothing, if the board drives it.
    fn idle(row: &Row) -> Ternary {
        match (row.direction, row.polarity) {
            (Direction::Input, Polarity::ActiveLow) => Ternary::High,
            (Direction::Input, _) => Ternary::Low,
            (Direction::Output | Direction::InOut, _) => Ternary::Either,
        }
    }

    fn fill(&mut self) {
        let idle: Vec<Ternary> = self.probing.rows.iter().map(Self::idle).collect();
        let mut outside = vec![Ternary::Either; self.original.ports().len()];
        for (&port, &level) in self.ports.iter().zip(&idle) {
            if let Some(o) = outside.get_mut(port) {
                *o = level;
            }
        }
        let rest = Bench::new(self.original, outside);
        let stand_in = Bench::new(self.device, self.as_seen_by_device(rest.outside()));
        let (assumptions, broken): (Vec<&Assumption>, Vec<&Assumption>) =
            self.question.assumptions().iter().partition(|a| rest.keeps(a) == Ternary::High);
        self.probing.remarks.extend(broken.iter().map(|a| {
            format!(
                "The levels at rest don't keep “{}”, so no step heeds it: check each step against it first.",
                a.text
            )
        }));
        let moment = self.moment("at rest".to_owned(), Vec::new(), &rest, &stand_in, None);
        self.probing.moments.push(moment);
        let levels = |bare: &Bare| -> Vec<Ternary> {
            let find = |label: &Label| self.original.port(label).and_then(|p| rest.outside().get(p).copied());
            bare.whole.ports().iter().map(|p| find(&p.label).unwrap_or(Ternary::Either)).collect()
        };
        let at_rest = self.bare.map(levels).unwrap_or_default();
        let mut faulty: Option<Faulty<'a>> = self.bare.map(|bare| Faulty::new(bare, at_rest.clone()));
        self.note_wires(faulty.as_ref());

        let contacts = moves::Contacts {
            rows: &self.probing.rows.clone(),
            ports: &self.ports.clone(),
            assumptions: &assumptions,
            restrictions: self.question.restrictions(),
            groups: self.question.groups(),
        };
        let (mut now, mut beside) = (rest.clone(), stand_in.clone());
        let resets = contacts.resets(&now);
        if let Some(first) = resets.first() {
            let also: Vec<String> =
                resets.iter().map(|r| format!("{} {}", self.row(r.row).label, self.row(r.row).name)).collect();
            self.probing.remarks.push(format!(
                "Registers take a known level while {} {} asserted.",
                also.join(", or "),
                if also.len() == 1 { "is" } else { "are" }
            ));
            let titles =
                [format!("{} asserted", self.row(first.row).name), format!("{} released", self.row(first.row).name)];
            for (title, actions) in titles.into_iter().zip([&first.assert, &first.release]) {
                self.go(title, actions, &mut now, &mut beside, faulty.as_mut());
            }
        } else if let Some(pulse) = contacts.settling_pulse(&now) {
            self.probing
                .remarks
                .push("No contact resets the registers; after a pulse those that it loads are known.".to_owned());
            self.go("after a pulse".to_owned(), &[pulse], &mut now, &mut beside, faulty.as_mut());
        } else if self.original.cells().iter().any(|c| c.is_register) {
            self.probing.remarks.push("No contact alone brings the registers to a known level.".to_owned());
        }
        for step in contacts.steps(&now, STEPS) {
            self.step(&step, &mut now, &mut beside, faulty.as_mut());
        }
        if let Some(faulty) = &mut faulty {
            let by_first = coverage::found(faulty);
            if faulty.are_several() && faulty.all().any(|(_, found)| !found) {
                // where one package may have led another one astray, they all begin anew
                (now, beside) = (rest, stand_in);
                faulty.restart(at_rest);
                faulty.moment();
                self.note_wires(Some(faulty));
                let does = vec!["supply off; the contacts as at rest; supply on".to_owned()];
                let moment = self.moment("switched on again".to_owned(), does, &now, &beside, None);
                self.probing.moments.push(moment);
                for (title, actions) in resets
                    .first()
                    .into_iter()
                    .flat_map(|r| [("asserted again", &r.assert), ("released again", &r.release)])
                {
                    self.go(title.to_owned(), actions, &mut now, &mut beside, Some(&mut *faulty));
                }
            }
            let at_rest = |row: usize| Some((row, Self::idle(self.row(row)).known()?));
            let resets: Vec<(usize, bool)> = resets.iter().filter_map(|r| at_rest(r.row)).collect();
            for step in self.steps_for_faults(&contacts, &resets, &now, faulty) {
                self.step(&step, &mut now, &mut beside, Some(&mut *faulty));
            }
            self.probing.coverage = Some(coverage::coverage(faulty, by_first));
        }
        let unshown = self.unshown();
        if !unshown.is_empty() {
            self.probing.remarks.push(format!(
                "In these steps the card never drives {}. A pin that is stuck at its other level passes them.",
                self.told(&unshown)
            ));
        }
        self.probing.unshown = unshown;
        if self.probing.rows.iter().any(|r| r.direction == Direction::InOut) {
            self.probing.remarks.push(
                "A two-way contact keeps what you put on it through its resistor until the card drives it the other way."
                    .to_owned(),
            );
        }
    }

    /// One more step, and what is found after it.
    fn step(&mut self, step: &[Action], now: &mut Bench<'a>, beside: &mut Bench<'a>, faulty: Option<&mut Faulty<'a>>) {
        let first = self.probing.moments.len();
        self.go(String::new(), step, now, beside, faulty);
        for at in first..self.probing.moments.len() {
            let number = 1 + self.probing.moments.iter().filter(|m| m.is_step).count();
            if let Some(moment) = self.probing.moments.get_mut(at) {
                (moment.title, moment.is_step) = (format!("step {number}"), true);
            }
        }
    }

    /// Does the actions, and reads everything where that finds something, and at their end.
    fn go(
        &mut self,
        title: String,
        actions: &[Action],
        now: &mut Bench<'a>,
        beside: &mut Bench<'a>,
        mut faulty: Option<&mut Faulty<'a>>,
    ) {
        let pieces = faulty.as_ref().map_or_else(|| vec![actions.to_vec()], |faulty| self.pieces(actions, faulty));
        let last = pieces.len();
        for (piece, n) in pieces.iter().zip(1..) {
            let before = (now.clone(), beside.clone());
            self.play(piece, now, beside);
            self.follow(piece, faulty.as_deref_mut());
            let words = self.words(piece, &before.0);
            let title = if n == last { title.clone() } else { format!("{title}, on the way") };
            let moment = self.moment(title, words, now, beside, Some((&before.0, &before.1)));
            self.probing.moments.push(moment);
        }
    }

    /// The adapter follows, and everything is read.
    fn follow(&mut self, actions: &[Action], faulty: Option<&mut Faulty<'_>>) {
        if let Some(faulty) = faulty {
            self.play_faulty(actions, faulty);
            faulty.moment();
            self.note_wires(Some(faulty));
        }
    }

    /// Notes what the wires between packages show.
    fn note_wires(&mut self, faulty: Option<&Faulty<'_>>) {
        let Some(faulty) = faulty else { return };
        let shown = faulty.wires();
        if self.probing.wires.is_empty() {
            let wire = |(name, pins, _): &(String, String, Expect)| InnerWire {
                name: name.clone(),
                pins: pins.clone(),
                shows: Vec::new(),
            };
            self.probing.wires = shown.iter().map(wire).collect();
        }
        for (wire, (.., shows)) in self.probing.wires.iter_mut().zip(shown) {
            wire.shows.push(shows);
        }
    }

    /// The levels to which no step of this sheet drives an output: a pin that is stuck at the other one passes it.
    fn unshown(&self) -> Vec<(Label, bool)> {
        let open_collector = |row: &Row| {
            let contact = self.question.replacement().contacts().iter().find(|c| c.label == row.label);
            let drivers =
                contact.and_then(|c| self.question.replacement().nets().get(c.net.index())).map(|n| &n.drivers);
            drivers.is_some_and(|d| d.iter().all(|d| d.stage == Stage::OpenCollector))
        };
        let mut all = Vec::new();
        for (index, row) in self.probing.rows.iter().enumerate().filter(|(_, r)| r.direction != Direction::Input) {
            let shows = |wanted: Expect| {
                self.probing.moments.iter().filter_map(|m| m.readings.get(index)).any(|r| r.device == wanted)
            };
            if !shows(Expect::Low) {
                all.push((row.label.clone(), false));
            }
            if !shows(Expect::High) && !open_collector(row) {
                all.push((row.label.clone(), true));
            }
        }
        all
    }

    /// `6 ready low, 7 fault_n high`.
    fn told(&self, unshown: &[(Label, bool)]) -> String {
        let name = |label: &Label| self.probing.rows.iter().find(|r| r.label == *label).map_or("", |r| r.name.as_str());
        let one =
            |(label, high): &(Label, bool)| format!("{label} {} {}", name(label), if *high { "high" } else { "low" });
        unshown.iter().map(one).collect::<Vec<_>>().join(", ")
    }

    fn row(&self, index: usize) -> &Row {
        // rows are asked for by the indices that this sheet gave out
        &self.probing.rows[index]
    }

    /// Levels outside in the order of the device's ports.
    fn as_seen_by_device(&self, outside: Vec<Ternary>) -> Vec<Ternary> {
        let find = |label: &Label| {
            let port = self.original.port(label);
            port.and_then(|p| outside.get(p).copied()).unwrap_or(Ternary::Either)
        };
        self.device.ports().iter().map(|p| find(&p.label)).collect()
    }

    fn device_port(&self, row: usize) -> Option<usize> {
        self.device.port(&self.row(row).label)
    }

    /// Does the actions on both.
    fn play(&self, actions: &[Action], now: &mut Bench<'_>, beside: &mut Bench<'_>) {
        for action in actions {
            for event in action.events() {
                let here: Vec<(usize, Ternary)> = event.iter().map(|&(row, level)| (self.ports[row], level)).collect();
                let there: Vec<(usize, Ternary)> =
                    event.iter().filter_map(|&(row, level)| Some((self.device_port(row)?, level))).collect();
                now.event(&here);
                beside.event(&there);
            }
        }
    }

    fn words(&self, actions: &[Action], before: &Bench<'_>) -> Vec<String> {
        let mut levels: Vec<Option<bool>> = self.ports.iter().map(|port| before.applied(*port)).collect();
        let mut said = Vec::new();
        for action in actions {
            let news = action.news(&mut levels);
            said.extend(news.map(|action| action.words(&self.probing.rows)));
        }
        said
    }

    fn moment(
        &self,
        title: String,
        actions: Vec<String>,
        now: &Bench<'_>,
        beside: &Bench<'_>,
        before: Option<(&Bench<'_>, &Bench<'_>)>,
    ) -> Moment {
        let read = |row: usize, now: &Bench<'_>, beside: &Bench<'_>| {
            let port = self.ports[row];
            let device = self.device_port(row).map_or(Expect::Any, |p| beside.shows(p));
            (now.applied(port), now.shows(port), device)
        };
        let readings = (0..self.probing.rows.len()).map(|row| {
            let (applied, original, device) = read(row, now, beside);
            let changed = before.is_some_and(|(now, beside)| read(row, now, beside) != (applied, original, device));
            Reading { applied, original, device, changed }
        });
        Moment { title, actions, readings: readings.collect(), is_step: false }
    }
}

#[cfg(test)]
mod tests;
