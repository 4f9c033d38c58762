//! Devices of logic blocks: their numbers agree with each other, and what needs a fuse map is refused.
use std::collections::BTreeSet;

use gluewright::device::{self, Device, DeviceError, Plan, Role};
use gluewright::fusefile::Fuses;

fn all() -> Vec<&'static Device> {
    device::all().iter().filter(|d| d.blocks.is_some()).collect()
}

#[test]
fn numbers_agree() {
    assert_eq!(all().iter().map(|d| d.name).collect::<Vec<_>>(), ["CPLD-32", "CPLD-64"]);
    for (d, macrocells) in all().into_iter().zip([32, 64]) {
        let b = d.blocks.as_ref().unwrap();
        assert_eq!(b.macrocells.len(), macrocells);
        assert_eq!(macrocells % b.block.value, 0);
        assert_eq!(b.block.value % b.chain.value, 0);
        // 5 product terms each, expandable to 40: Atmel 0995L p.1, 0950P p.1
        assert_eq!((b.terms.value, b.widest()), (5, 40));
        // 44 pins less four supplies and four grounds: 32 with a macrocell and four that are inputs only
        let with: BTreeSet<u16> = b.macrocells.iter().flatten().copied().collect();
        let io = d.pins.iter().filter(|p| p.role == Role::Io).map(|p| p.number).collect::<BTreeSet<_>>();
        assert_eq!((with.len(), with == io), (32, true), "{}", d.name);
        let supply = d.pins.iter().filter(|p| matches!(p.role, Role::Vcc | Role::Gnd)).count();
        assert_eq!((d.pins.len(), supply), (44, 8));
        assert!(b.port.iter().all(|p| with.contains(&p.pin)), "the programming port costs four macrocells their pins");
        assert!(b.clocks.iter().chain(&b.clear).chain(&b.enables).all(|p| d.role(*p).is_some()));
        assert_eq!(b.macrocell_at(4).map(|m| b.block_of(m)), Some(1));
    }
}

/// The second package turns every pin of the first by six (from memory); ports and supplies of the table.
#[test]
fn packages_hold_every_pin_once() {
    for d in all() {
        let tqfp = &d.packages[1];
        let all: BTreeSet<u16> = tqfp.of_dip.iter().copied().collect();
        assert_eq!(all, (1..=44).collect());
        for (plcc, turned) in
            [(43, 37), (2, 40), (41, 35), (1, 39), (44, 38), (7, 1), (13, 7), (32, 26), (38, 32), (3, 41), (15, 9)]
        {
            assert_eq!(tqfp.of_dip[plcc - 1], turned, "{}", d.name);
        }
    }
}

#[test]
fn what_needs_a_fuse_map_is_refused() {
    for d in all() {
        let none = DeviceError::NoFuseMap { device: d.name };
        assert_eq!(d.encode(&Plan::default()).unwrap_err(), none);
        assert_eq!(d.decode(&Fuses::new(0, false)).unwrap_err(), none);
        assert_eq!(d.lift(&Fuses::new(0, false)).unwrap_err(), none);
        assert!(none.to_string().contains("the maker's fitter"));
    }
}
