//! A lost programmable part with a saved fuse file is a reference like any other.
#![allow(clippy::unwrap_used, reason = "the card and the fuse map are those of this file")]
use std::collections::BTreeMap;

use gluewright::board::Board;
use gluewright::device::{Cell, Device, Enable, Function, Literal, Plan, Source, Term, find};
use gluewright::fusefile::{FuseFile, Fuses, write};
use gluewright::prelude::*;
use gluewright::prove::{Failure, Proof, prove};
use gluewright_parts::{Drawer, FusedError, fused};

/// The pick counter of a loom: counts two bits while enabled, shows them while read, says that it is full.
#[derive(Circuit)]
struct PickCounter {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    enable: Input<ActiveHigh>,
    #[contact(3)]
    read: Input<ActiveLow>,
    #[contact(4, 5)]
    count: [Output<Data, ThreeState>; 2],
    #[contact(6)]
    full: Output<ActiveLow>,
}

impl Wiring for PickCounter {
    fn wire(&self) -> PickCounterWiring {
        let count = Word::of(self.count);
        let next = choose(self.enable.asserted(), count.plus_one(), count);
        PickCounterWiring {
            count: each(|i| on(self.clock.rises()).load(next[i]).drive_while(self.read.asserted())),
            full: assert_while(count.is(3) & self.enable.asserted()),
        }
    }
}

const CARD: &str = "ref,part,pin,net\n\
    J1,contacts,1,clk\nJ1,contacts,2,en\nJ1,contacts,3,rd_n\nJ1,contacts,4,q0\nJ1,contacts,5,q1\nJ1,contacts,6,full_n\n\
    J1,contacts,7,GND\nJ1,contacts,14,VCC\n\
    U1,pick counter,1,clk\nU1,pick counter,2,en\nU1,pick counter,11,rd_n\nU1,pick counter,17,q0\n\
    U1,pick counter,16,q1\nU1,pick counter,19,full_n\nU1,pick counter,10,GND\nU1,pick counter,20,VCC\n\
    U1,pick counter,others,open\n";

fn device() -> &'static Device {
    find("16R4").unwrap()
}

/// Pins 17 and 16 count while pin 2 is high; pin 19 is low while both are high and pin 2 is. Every output of the part
/// inverts: the terms say when the pin goes low.
fn pick_counter() -> Fuses {
    let (en, b0, b1) = (Source::Pin(2), Source::Feedback(17), Source::Feedback(16));
    let (h, l) = (Literal::high, Literal::low);
    let cell = |function, enable, terms: Vec<Vec<Literal>>| Cell {
        function,
        inverted: true,
        enable,
        terms: terms.into_iter().map(Term::from_iter).collect(),
        exclusive: Vec::new(),
    };
    let cells = BTreeMap::from([
        (17, cell(Function::Registered, Enable::Pin, vec![vec![h(b0), h(en)], vec![l(b0), l(en)]])),
        (
            16,
            cell(
                Function::Registered,
                Enable::Pin,
                vec![vec![h(b1), h(b0), h(en)], vec![l(b1), l(b0)], vec![l(b1), l(en)]],
            ),
        ),
        (19, cell(Function::Combinational, Enable::Always, vec![vec![h(b0), h(b1), h(en)]])),
    ]);
    device().encode(&Plan { cells, ..Plan::default() }).unwrap()
}

fn saved(fuses: Fuses) -> Vec<u8> {
    write(&FuseFile { design: "pick counter".into(), fuses, lines: device().lines(), ..FuseFile::default() })
}

fn prove_against(fuses: Fuses) -> Result<Proof, Failure> {
    let (part, findings) = fused("DM16R4ANC", "pick counter", "pick.jed", &saved(fuses)).unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    let card = Board::from_csv("loom.csv", CARD, &Drawer::new().with(part)).unwrap();
    prove::<PickCounter>().against(&card).run()
}

#[test]
fn a_replacement_is_proved_against_a_fuse_file_and_refuted_against_any_other_link() {
    let fuses = pick_counter();
    prove_against(fuses.clone()).unwrap();
    // a row in which every link is left can never be true: it holds no function
    let columns = device().columns();
    let is_used = |row: usize| (0..columns).any(|c| fuses.get(row * columns + c) == Some(true));
    let links: Vec<usize> = (0..fuses.len()).filter(|&f| fuses.get(f) == Some(false) && is_used(f / columns)).collect();
    assert_eq!(links.len(), 2 + 2 + 3 + 2 + 2 + 3, "the literals of the six terms");
    for link in links {
        let mut other = fuses.clone();
        other.set(link, true);
        let said = prove_against(other);
        assert!(matches!(said, Err(Failure::Refuted(_))), "fuse {link} blown: {said:?}");
    }
}

#[test]
fn what_makes_no_part_is_said() {
    let said = |type_number: &str, bytes: &[u8]| match fused(type_number, "x", "u1.jed", bytes) {
        Ok(_) => panic!("{type_number} made a part"),
        Err(error) => error,
    };
    let good = saved(pick_counter());
    assert!(matches!(said("82S153", &good), FusedError::NoDevice { known, .. } if known.contains("16R4")));
    assert!(matches!(said("16R4", b"not a fuse file"), FusedError::File(_)));
    let shorter = said("16L8A", &good[..good.len() / 2]).to_string();
    assert!(shorter.contains("u1.jed") && shorter.contains("cut short"), "{shorter}");
    let other = said("22V10", &good).to_string();
    assert!(other.contains("u1.jed") && other.contains("fuses"), "{other}");
}
