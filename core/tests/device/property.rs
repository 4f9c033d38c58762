//! Random plans for every device: encoded, decoded and lifted, and the lifted circuit compared with the plan by values.
use std::collections::BTreeMap;

use gluewright::device::{
    Cell, Device, Enable, EnableSource, Function, Inverter, Literal, Mode, Plan, Source, Term, all,
};
use gluewright::fusefile::{FuseFile, Fuses, read, write};
use proptest::prelude::*;
use proptest::sample::{Index, select};

use super::evaluator::{Levels, pin, register};

fn term(mode: &Mode) -> impl Strategy<Value = Term> + use<> {
    let literal =
        (select(mode.columns.clone()), any::<bool>()).prop_map(|(source, complement)| Literal { source, complement });
    prop::collection::vec(literal, 0..5).prop_map(Term)
}

/// The devices that have a fuse map.
fn with_fuses() -> Vec<&'static Device> {
    all().iter().filter(|d| d.blocks.is_none()).collect()
}

fn plan(device: &'static Device) -> impl Strategy<Value = Plan> {
    (0..device.modes.len()).prop_flat_map(move |index| {
        let mode = &device.modes[index];
        let cells: Vec<_> = mode
            .macrocells
            .iter()
            .map(|m| {
                let (has_polarity, choices) = (m.polarity.is_some(), m.configurations.clone());
                let parts = (
                    any::<Index>(),
                    any::<bool>(),
                    0..4,
                    prop::collection::vec(term(mode), 0..9),
                    prop::collection::vec(term(mode), 0..3),
                    term(mode),
                );
                parts.prop_map(move |(choice, inverted, enable, mut terms, mut exclusive, while_true)| {
                    let c = choice.get(&choices);
                    terms.truncate(c.rows.len());
                    exclusive.truncate(c.exclusive.len());
                    let enable = match (c.enable, enable) {
                        (EnableSource::Pin(_), _) => Enable::Pin,
                        (EnableSource::Always, _) | (EnableSource::Row(_), 0) => Enable::Always,
                        (EnableSource::Never, _) | (EnableSource::Row(_), 1) => Enable::Never,
                        (EnableSource::Row(_), _) => Enable::While(while_true),
                    };
                    (c.function != Function::Input).then_some(Cell {
                        function: c.function,
                        inverted: inverted || !has_polarity,
                        enable,
                        terms,
                        exclusive,
                    })
                })
            })
            .collect();
        let global = |there: bool| {
            let some = prop::option::of(term(mode)).boxed();
            if there { some } else { Just(None).boxed() }
        };
        let pins: Vec<u16> = mode.macrocells.iter().map(|m| m.pin).collect();
        let bytes = device.signature.as_ref().map_or(0, |s| s.len() / 8);
        let rest = (
            global(mode.reset.is_some()),
            global(mode.preset.is_some()),
            prop::collection::vec(any::<u8>(), 0..=bytes),
        );
        (cells, prop::collection::vec(prop::bool::weighted(0.8), pins.len()), rest).prop_map(
            move |(cells, used, (reset, preset, signature))| {
                let listed = pins.iter().zip(cells).zip(used).filter(|(_, used)| *used);
                let cells: BTreeMap<_, _> = listed.filter_map(|((&pin, c), _)| Some((pin, c?))).collect();
                Plan { mode: index, cells, reset, preset, signature }
            },
        )
    })
}

/// What the plan says, by the rules of the data sheets.
struct Meaning<'a>(&'a Device, &'a Plan, &'a Levels);

impl Meaning<'_> {
    fn level(&self, source: Source) -> bool {
        let number = source.pin();
        let set = |of: &BTreeMap<u16, bool>| of.get(&number).copied().unwrap_or(false);
        // a macrocell that the plan doesn't list is a register still if it can't be anything else
        let registered = match (self.1.cells.get(&number), self.0.modes[self.1.mode].macrocell(number)) {
            (Some(c), _) => c.function == Function::Registered,
            (None, m) => m.is_some_and(|m| m.configurations.iter().all(|c| c.function == Function::Registered)),
        };
        match source {
            Source::Feedback(_) if registered => !set(&self.2.registers),
            _ => set(&self.2.pins),
        }
    }

    fn term(&self, term: &Term) -> bool {
        term.0.iter().all(|l| self.level(l.source) != l.complement)
    }

    fn sum(&self, cell: &Cell) -> bool {
        cell.terms.iter().any(|t| self.term(t)) != cell.exclusive.iter().any(|t| self.term(t))
    }

    fn shows(&self, number: u16, cell: &Cell, enable_pin: Option<u16>) -> Option<bool> {
        let enabled = match &cell.enable {
            Enable::Always => true,
            Enable::Never => false,
            Enable::While(t) => self.term(t),
            Enable::Pin => !self.level(Source::Pin(enable_pin.unwrap())),
        };
        let q = self.2.registers.get(&number).copied().unwrap_or(false);
        let level = match (cell.function, self.0.inverter) {
            (Function::Registered, Inverter::AfterRegister) => q != cell.inverted,
            (Function::Registered, Inverter::BeforeRegister) => !q,
            _ => self.sum(cell) != cell.inverted,
        };
        enabled.then_some(level)
    }

    /// Data, clear, clock.
    fn loads(&self, cell: &Cell, clock: u16) -> (bool, bool, bool) {
        let preset = self.1.preset.as_ref().is_some_and(|t| self.term(t));
        let reset = self.1.reset.as_ref().is_some_and(|t| self.term(t));
        let data = match self.0.inverter {
            Inverter::AfterRegister => self.sum(cell),
            Inverter::BeforeRegister => self.sum(cell) == cell.inverted,
        };
        (preset || data, reset, self.level(Source::Pin(clock)))
    }
}

fn levels() -> impl Strategy<Value = Levels> {
    let some = || prop::collection::btree_map(1u16..=24, any::<bool>(), 0..25);
    (some(), some()).prop_map(|(pins, registers)| Levels { pins, registers })
}

fn case() -> impl Strategy<Value = (&'static Device, Plan, Vec<Levels>)> {
    select(with_fuses()).prop_flat_map(|d| (Just(d), plan(d), prop::collection::vec(levels(), 16)))
}

proptest! {
    #[test]
    fn a_plan_comes_back_from_its_fuses_and_the_lifted_circuit_does_it((device, plan, levels) in case()) {
        let fuses = device.encode(&plan).unwrap();
        prop_assert_eq!(fuses.len(), device.fuses);
        let normal = device.normalise(&plan);
        prop_assert_eq!(device.decode(&fuses).unwrap(), normal.clone());
        prop_assert_eq!(device.encode(&normal).unwrap(), fuses.clone());
        let file = FuseFile { fuses: fuses.clone(), lines: device.lines(), ..FuseFile::default() };
        prop_assert_eq!(&read("plan.jed", &write(&file)).unwrap().0.fuses, &fuses);
        let circuit = device.lift(&fuses).unwrap();
        let mode = &device.modes[plan.mode];
        for levels in &levels {
            let meaning = Meaning(device, &plan, levels);
            for m in &mode.macrocells {
                let Some(cell) = plan.cells.get(&m.pin) else { continue };
                let enable_pin = m.configuration(cell.function).and_then(|c| match c.enable {
                    EnableSource::Pin(p) => Some(p),
                    _ => None,
                });
                prop_assert_eq!(pin(&circuit, m.pin, levels), meaning.shows(m.pin, cell, enable_pin), "pin {}", m.pin);
                let loads = (cell.function == Function::Registered).then(|| meaning.loads(cell, mode.clock.unwrap()));
                prop_assert_eq!(register(&circuit, m.pin, levels), loads, "register {}", m.pin);
            }
        }
    }

    #[test]
    fn any_fuse_map_that_can_be_read_behaves_the_same_after_decoding(
        device in select(with_fuses()),
        mode in any::<Index>(),
        seed in prop::collection::vec(any::<u8>(), 64),
        links in prop::collection::vec(any::<Index>(), 0..200),
        levels in prop::collection::vec(levels(), 8),
    ) {
        // rows that are true but for a few links, so that the terms mean something; the other fuses at random
        let array = device.rows * device.columns();
        let mut states: Vec<bool> = vec![true; array];
        links.iter().for_each(|l| states[l.index(array)] = false);
        let byte = |i: usize| seed[i % seed.len()];
        states.extend((array..device.fuses).map(|f| byte(f) >> (f % 8) & 1 == 1));
        let mut fuses = Fuses::from(states);
        let mode = mode.get(&device.modes);
        let choices = mode.macrocells.iter().enumerate().map(|(i, m)| {
            &m.configurations[usize::from(byte(i)) % m.configurations.len()].fuses
        });
        for &(fuse, state) in choices.chain([&mode.fuses]).flatten() {
            fuses.set(fuse, state);
        }
        let (first, plan) = (device.lift(&fuses), device.decode(&fuses));
        let (first, plan) = (first.unwrap(), plan.unwrap());
        let second = device.lift(&device.encode(&plan).unwrap()).unwrap();
        for levels in &levels {
            for m in &mode.macrocells {
                prop_assert_eq!(pin(&first, m.pin, levels), pin(&second, m.pin, levels));
                prop_assert_eq!(register(&first, m.pin, levels), register(&second, m.pin, levels));
            }
        }
    }

    #[test]
    fn a_replacement_does_what_the_original_did(
        device in select(all().iter().filter(|d| d.replacement.is_some()).collect::<Vec<_>>()),
        links in prop::collection::vec(any::<Index>(), 0..200),
        levels in prop::collection::vec(levels(), 16),
    ) {
        let mut fuses = Fuses::new(device.fuses, true);
        for l in links {
            fuses.set(l.index(device.fuses), false);
        }
        let (other, map) = device.replace(&fuses).unwrap();
        let (original, replacement) = (device.lift(&fuses).unwrap(), other.lift(&map).unwrap());
        for levels in &levels {
            for m in &device.modes[0].macrocells {
                prop_assert_eq!(pin(&original, m.pin, levels), pin(&replacement, m.pin, levels));
                prop_assert_eq!(register(&original, m.pin, levels), register(&replacement, m.pin, levels));
            }
        }
    }

    #[test]
    fn no_fuse_map_makes_a_reader_panic(
        device in select(with_fuses()),
        states in prop::collection::vec(any::<bool>(), 0..6000),
        resize in any::<bool>(),
    ) {
        let mut states = states;
        if resize { states.resize(device.fuses, false); }
        let fuses = Fuses::from(states);
        prop_assert_eq!(device.decode(&fuses).is_ok(), device.lift(&fuses).is_ok());
        let _ = device.remarks(&fuses);
    }
}
