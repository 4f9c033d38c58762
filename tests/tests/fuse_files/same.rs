//! Drawn fuse maps of every device, lifted, written, read and lifted again: every level, enable, clock and clear is the same
//! function, by a general-purpose decision diagram package. Registers and pins keep their names, so that nothing has to be
//! matched and no proof of sequences is needed: the same functions of the same bits behave the same.
use std::collections::{BTreeMap, BTreeSet};

use biodivine_lib_bdd::{Bdd, BddVariable, BddVariableSet};
use gluewright::circuit::{Circuit, Expr, Kind, Op, Start};
use gluewright::device::{Device, all};
use gluewright::fusefile::{self, FuseFile, Fuses, write};

use super::chip::Drawn;
use super::plans;

/// Functions over pins and registers by name.
struct Functions {
    set: BddVariableSet,
    variables: BTreeMap<String, BddVariable>,
}

impl Functions {
    fn new(circuits: [&Circuit; 2]) -> Self {
        let pins = circuits.iter().flat_map(|c| c.nets().iter().map(|n| n.name.clone()));
        let registers = circuits.iter().flat_map(|c| c.elements().iter().map(|e| e.name.clone()));
        let names: BTreeSet<String> = pins.chain(registers).collect();
        let set = BddVariableSet::new_anonymous(names.len() as u16);
        let variables = names.into_iter().zip(set.variables()).collect();
        Functions { set, variables }
    }

    fn of(&self, c: &Circuit, e: Expr) -> Bdd {
        let named = |name: &str| self.set.mk_var(self.variables[name]);
        match c.op(e) {
            Op::Constant(true) => self.set.mk_true(),
            Op::Constant(false) => self.set.mk_false(),
            Op::Net(n) => named(&c.nets()[n.index()].name),
            Op::Q(x) => named(&c.elements()[x.index()].name),
            Op::QInverted(x) => named(&c.elements()[x.index()].name).not(),
            Op::Not(a) => self.of(c, a).not(),
            Op::And(a, b) => self.of(c, a).and(&self.of(c, b)),
            Op::Or(a, b) => self.of(c, a).or(&self.of(c, b)),
            Op::Xor(a, b) => self.of(c, a).xor(&self.of(c, b)),
            Op::Choose(w, a, b) => {
                let w = self.of(c, w);
                w.and(&self.of(c, a)).or(&w.not().and(&self.of(c, b)))
            }
        }
    }

    /// When a pin is driven, and when it is driven high.
    fn pin(&self, c: &Circuit, name: &str) -> [Bdd; 2] {
        let mut driven = [self.set.mk_false(), self.set.mk_false()];
        for d in c.nets().iter().filter(|n| n.name == name).flat_map(|n| &n.drivers) {
            let enable = self.of(c, d.enable);
            driven = [driven[0].or(&enable), driven[1].or(&enable.and(&self.of(c, d.level)))];
        }
        driven
    }
}

/// Whether the second does exactly what the first does, or starts in one of the ways in which the first may.
fn same(first: &Circuit, second: &Circuit) -> Result<(), String> {
    let f = Functions::new([first, second]);
    let pins = |c: &Circuit| c.contacts().iter().map(|k| (k.label.clone(), k.name.clone())).collect::<BTreeSet<_>>();
    if pins(first) != pins(second) {
        return Err("other contacts".to_owned());
    }
    for contact in first.contacts() {
        let net = &first.nets()[contact.net.index()].name;
        if f.pin(first, net) != f.pin(second, net) {
            return Err(format!("{net} is driven otherwise"));
        }
    }
    if first.elements().len() != second.elements().len() {
        return Err("another number of registers".to_owned());
    }
    for a in first.elements() {
        let Some(b) = second.elements().iter().find(|b| b.name == a.name) else { return Err(format!("no {}", a.name)) };
        let (Kind::Register { clock, data }, Kind::Register { clock: clock_b, data: data_b }) = (a.kind, b.kind) else {
            return Err(format!("{} is no register", a.name));
        };
        let pairs = [
            ("clock", clock, clock_b),
            ("data", data, data_b),
            ("clear", a.clear, b.clear),
            ("preset", a.preset, b.preset),
        ];
        for (what, x, y) in pairs {
            if f.of(first, x) != f.of(second, y) {
                return Err(format!("{} has another {what}", a.name));
            }
        }
        if a.start != Start::Any && a.start != b.start {
            return Err(format!("{} starts otherwise", a.name));
        }
    }
    Ok(())
}

/// A drawn plan, and a few fuses of the array anyhow.
fn drawn_map(device: &Device, drawn: &mut Drawn) -> Fuses {
    let mut fuses = device.encode(&plans::drawn(device, drawn)).unwrap();
    for _ in 0..6 {
        let fuse = drawn.next(device.rows * device.columns());
        fuses.set(fuse, drawn.next(2) == 0);
    }
    fuses
}

/// Through the bytes of a file.
fn written(device: &Device, fuses: &Fuses) -> Fuses {
    let file = FuseFile { fuses: fuses.clone(), lines: device.lines(), ..FuseFile::default() };
    fusefile::read("drawn.jed", &write(&file)).unwrap().0.fuses
}

#[test]
fn drawn_maps_are_the_same_functions_after_being_taken_apart_and_written_again() {
    let mut drawn = Drawn(0x1618);
    let (mut found, mut flipped) = (0, 0);
    for device in all().iter().filter(|d| d.fuses > 0) {
        for round in 0..25 {
            let fuses = drawn_map(device, &mut drawn);
            let first = device.lift(&fuses).unwrap();
            let again = device.encode(&device.decode(&fuses).unwrap()).unwrap();
            let second = device.lift(&written(device, &again)).unwrap();
            same(&first, &second).unwrap_or_else(|e| panic!("{} {round}: {e}", device.name));
            // and a link more in the array is another function, if it stands in a term that counts
            let blown: Vec<usize> =
                (0..device.rows * device.columns()).filter(|f| again.get(*f) == Some(true)).collect();
            if blown.is_empty() {
                continue;
            }
            let mut wrong = again.clone();
            wrong.set(blown[drawn.next(blown.len())], false);
            flipped += 1;
            found += usize::from(same(&first, &device.lift(&wrong).unwrap()).is_err());
        }
    }
    println!("{found} of {flipped} single links more are another function");
    assert!(found * 4 > flipped, "{found} of {flipped}");
}

#[test]
fn drawn_maps_of_bipolar_devices_are_the_same_functions_in_what_replaces_them() {
    let mut drawn = Drawn(0x1978);
    let mut done = BTreeMap::new();
    for old in all().iter().filter(|d| d.fuses > 0 && d.replacement.is_some()) {
        for round in 0..25 {
            let fuses = drawn_map(old, &mut drawn);
            let (new, map) = old.replace(&fuses).unwrap();
            let first = old.lift(&fuses).unwrap();
            let second = new.lift(&written(new, &map)).unwrap();
            same(&first, &second).unwrap_or_else(|e| panic!("{} in a {}, {round}: {e}", old.name, new.name));
            // and again through a plan of the new device
            let again = new.encode(&new.decode(&map).unwrap()).unwrap();
            same(&first, &new.lift(&again).unwrap()).unwrap_or_else(|e| panic!("{}, {round}: {e}", old.name));
            *done.entry((old.name, new.name)).or_insert(0) += 1;
        }
    }
    println!("{done:?}");
    assert!(done.len() >= 5, "{done:?}");
}
