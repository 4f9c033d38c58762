//! TTL inputs that nothing drives.
use gluewright::prelude::*;

use super::bench::{Bench, board, circuit, of, proved, refuted};

const OPEN: [(&str, &str, &str); 2] =
    [("J1", "contacts", "1 a, 2 y"), ("U1", "74LS00", "1 a, 2 open, 3 y, 14 VCC, 7 GND")];

#[derive(Circuit)]
struct Inverter {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    y: Output<Data>,
}

impl Wiring for Inverter {
    fn wire(&self) -> InverterWiring {
        InverterWiring { y: follow(!self.a.level()) }
    }
}

#[derive(Circuit)]
struct AlwaysHigh {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    y: Output<Data>,
}

impl Wiring for AlwaysHigh {
    fn wire(&self) -> AlwaysHighWiring {
        let _ = self.a;
        AlwaysHighWiring { y: follow(Level::HIGH) }
    }
}

/// An open input of a 74LS00 reads high (common practice, no source): the gate inverts its other input. An input that
/// read low would make it a constant.
#[test]
fn an_open_input_reads_high_and_is_reported() {
    let traced = board(&OPEN);
    let said: Vec<String> = traced.findings().iter().map(ToString::to_string).collect();
    assert!(said.iter().any(|f| f.contains("pin 2") && f.contains("high")), "{said:?}");
    let card = circuit(&OPEN);
    let mut b = Bench::on(&card, "1L");
    assert_eq!(b.shows(&[2]), "H");
    assert_eq!(b.run(&["1H", "1L"], &[2]), ["L", "H"]);
    proved(&card, &of::<Inverter>());
    refuted(&card, &of::<AlwaysHigh>());
}
