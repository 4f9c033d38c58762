//! Fuse maps of the bipolar originals, and what replaces them.
use gluewright::circuit::Start;
use gluewright::device::{self, Device, DeviceError, EnableSource, Function};
use gluewright::fusefile::Fuses;

use super::by_hand::Map;
use super::evaluator::{Levels, pin, register};

fn find(name: &str) -> &'static Device {
    device::find(name).unwrap()
}

/// Inputs that are nothing else, and outputs by kind: TI SRPS011D p.1, SRPS059 p.1 and SRPS021A p.1; of those with ten outputs
/// from memory. Clock and enable pins of registered parts aren't counted as inputs there.
#[test]
fn counts_are_those_of_the_data_sheets() {
    for (name, inputs, output_only, registered, io) in [
        ("16L8", 10, 2, 0, 6),
        ("16R4", 8, 0, 4, 4),
        ("16R6", 8, 0, 6, 2),
        ("16R8", 8, 0, 8, 0),
        ("20L8", 14, 2, 0, 6),
        ("20R4", 12, 0, 4, 4),
        ("20R6", 12, 0, 6, 2),
        ("20R8", 12, 0, 8, 0),
        ("20L10", 12, 2, 0, 8),
        ("20X4", 10, 0, 4, 6),
        ("20X8", 10, 0, 8, 2),
        ("20X10", 10, 0, 10, 0),
    ] {
        let d = find(name);
        let mode = &d.modes[0];
        let has = |pin, f| mode.macrocell(pin).is_some_and(|m| m.configuration(f).is_some());
        let read = |pin| mode.reads(pin).is_some();
        let pins: Vec<u16> = d.pins.iter().map(|p| p.number).collect();
        let count = |of: &dyn Fn(u16) -> bool| pins.iter().filter(|&&p| of(p)).count();
        assert_eq!(count(&|p| read(p) && !d.has_macrocell(p)), inputs, "{name}");
        assert_eq!(count(&|p| has(p, Function::Combinational) && !read(p)), output_only, "{name}");
        assert_eq!(count(&|p| has(p, Function::Registered)), registered, "{name}");
        assert_eq!(count(&|p| has(p, Function::Combinational) && read(p)), io, "{name}");
        // National 20-pin Medium PAL Family p.1, Philips PLUS20R8D/-7 p.1: 16 input pairs, 64 AND gates
        let size = match name {
            "20L10" | "20X4" | "20X8" | "20X10" => (1600, 40),
            _ if name.starts_with("16") => (2048, 64),
            _ => (2560, 64),
        };
        assert_eq!((d.fuses, d.rows), size, "{name}");
    }
    // TI SRPS011D p.1, drawing
    let output_only = |p: &u16| find("16L8").modes[0].reads(*p).is_none();
    assert_eq!((12..=19).filter(output_only).collect::<Vec<_>>(), [12, 19]);
}

#[test]
fn an_unprogrammed_part_drives_nothing_or_high() {
    // every link intact: all terms are false, enable terms too
    for name in ["16L8", "20L8", "16R4", "20R8", "20L10", "20X4", "20X10"] {
        let d = find(name);
        let c = d.lift(&Fuses::new(d.fuses, false)).unwrap();
        for m in &d.modes[0].macrocells {
            let shown = match m.configurations[0].enable {
                EnableSource::Row(_) => None,
                _ => Some(true),
            };
            assert_eq!(pin(&c, m.pin, &Levels::default()), shown, "{name} pin {}", m.pin);
        }
    }
}

/// A 16R4: pin 17 loads pin 2 ∧ feedback 14, pin 14 loads ¬feedback 14; pin 12 = ¬pin 9 while feedback 17 is low.
fn sixteen_r4() -> Fuses {
    Map::new(2048).row(512..=543, &[0, 22]).row(1280..=1311, &[23]).row(1792..=1823, &[11]).row(1824..=1855, &[28]).0
}

#[test]
fn registered_pins_show_and_feed_back_the_complement() {
    let c = find("16R4").lift(&sixteen_r4()).unwrap();
    assert_eq!(c.elements().len(), 4);
    assert!(c.elements().iter().all(|e| e.start == Start::Any), "makers disagree about power-up");
    assert_eq!(find("16R4").pin_at_power_up(true), None);
    // feedback 14 is high while the register is low
    assert_eq!(register(&c, 17, &Levels::high(&[2])), Some((true, false, false)));
    assert_eq!(register(&c, 17, &Levels::high(&[2]).holding(&[14])), Some((false, false, false)));
    assert_eq!(register(&c, 14, &Levels::default()), Some((false, false, false)));
    assert_eq!(register(&c, 14, &Levels::default().holding(&[14])), Some((true, false, false)));
    assert_eq!(pin(&c, 14, &Levels::default()), Some(true));
    assert_eq!(pin(&c, 14, &Levels::high(&[11])), None);
    assert_eq!(pin(&c, 12, &Levels::default()), None);
    assert_eq!(pin(&c, 12, &Levels::default().holding(&[17])), Some(true));
    assert_eq!(pin(&c, 12, &Levels::high(&[9]).holding(&[17])), Some(false));
}

/// A 20X8 whose pin 22 loads (pin 2 ∨ pin 3) ⊕ feedback 22, and whose pin 14 is ¬pin 11 while pin 10 is high; in rows of 40
/// columns, four rows for each pin from 23 on. From memory.
#[test]
fn a_register_loads_the_exclusive_or_of_two_sums() {
    let columns = |row: usize| row * 40..=row * 40 + 39;
    let map = Map::new(1600)
        .row(columns(4), &[0])
        .row(columns(5), &[4])
        .row(columns(7), &[6])
        .row(columns(36), &[32])
        .row(columns(37), &[36])
        .0;
    let d = find("20X8");
    let c = d.lift(&map).unwrap();
    for (high, held, loads) in [
        // feedback 22 is high while the register is low
        (vec![], vec![], true),
        (vec![2], vec![], false),
        (vec![3], vec![], false),
        (vec![2, 3], vec![], false),
        (vec![], vec![22], false),
        (vec![3], vec![22], true),
    ] {
        let levels = Levels::high(&high).holding(&held);
        assert_eq!(register(&c, 22, &levels), Some((loads, false, false)), "{high:?} {held:?}");
        assert_eq!(pin(&c, 22, &levels), Some(held.is_empty()));
    }
    assert_eq!(pin(&c, 14, &Levels::default()), None);
    assert_eq!(pin(&c, 14, &Levels::high(&[10])), Some(true));
    assert_eq!(pin(&c, 14, &Levels::high(&[10, 11])), Some(false));
    assert_eq!(pin(&c, 22, &Levels::high(&[13])), None);
    // both ways: what the map holds is a plan, and the plan is the map
    let plan = d.decode(&map).unwrap();
    assert_eq!((plan.cells[&22].terms.len(), plan.cells[&22].exclusive.len()), (2, 1));
    let again = d.encode(&plan).unwrap();
    assert_eq!(d.decode(&again).unwrap(), plan);
    assert_eq!(
        d.meaning(&map, 7 * 40 + 6).to_string(),
        "row 7, product term 2 of the second sum of pin 22: whether it reads feedback 22"
    );
    let error = d.replace(&map).unwrap_err();
    assert_eq!(error, DeviceError::NoReplacement { device: "20X8" });
}

/// From memory; that a 16V8 replaces the family: Lattice GAL16V8 Data Sheet p.1.
#[test]
fn replacements_are_set_up_as_the_table_says() {
    // SYN, AC0, pins with AC1 = 1; AC1 fuses count down from the highest pin
    for (name, other, syn, ac0, highest, ac1) in [
        ("16L8", "16V8", true, true, 19, vec![12, 13, 14, 15, 16, 17, 18, 19]),
        ("16R4", "16V8", false, true, 19, vec![12, 13, 18, 19]),
        ("16R6", "16V8", false, true, 19, vec![12, 19]),
        ("16R8", "16V8", false, true, 19, vec![]),
        ("20L8", "20V8", true, true, 22, vec![15, 16, 17, 18, 19, 20, 21, 22]),
    ] {
        let d = find(name);
        let mut original = Fuses::new(d.fuses, false);
        (0..d.fuses).filter(|f| f % 7 == 3).for_each(|f| assert!(original.set(f, true)));
        let (replacement, map) = d.replace(&original).unwrap();
        assert_eq!(replacement.name, other);
        assert_eq!(map.states()[..d.fuses], *original.states());
        let (xor, first_ac1, first_term, first_mode) =
            if other == "16V8" { (2048, 2120, 2128, 2192) } else { (2560, 2632, 2640, 2704) };
        let at = |fuse: usize| map.get(fuse).unwrap();
        assert!((xor..xor + 8).all(|f| !at(f)), "{name}");
        assert!((first_term..first_term + 64).all(at), "{name}");
        assert_eq!((at(first_mode), at(first_mode + 1)), (syn, ac0), "{name}");
        let ones: Vec<usize> = (0..8).rev().filter(|&i| at(first_ac1 + i)).map(|i| highest - i).collect();
        assert_eq!(ones, ac1, "{name}");
    }
    let error = find("22V10").replace(&Fuses::new(5892, true)).unwrap_err();
    assert_eq!(error, DeviceError::NoReplacement { device: "22V10" });
}
