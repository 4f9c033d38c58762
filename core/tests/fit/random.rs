//! Random circuits: what fits does what was asked, and refusals are refusals, not panics.
use proptest::prelude::*;

use super::bench::{Bench, run_beside};
use gluewright::circuit::{By, Direction, Driver, Expr, Kind, Stage, Start};
use gluewright::device::find;
use gluewright::fit::{Wishes, fit};
use gluewright::hazard::of_device;

/// A recipe: gates over earlier signals, then what holds and what drives.
#[derive(Clone, Debug)]
struct Recipe {
    gates: Vec<(u8, u8, u8, bool)>,
    registers: Vec<u8>,
    high: bool,
    reset: bool,
    latch: Option<(u8, u8)>,
    outputs: Vec<(u8, u8, u8)>,
    read_bus: bool,
}

fn recipe() -> impl Strategy<Value = Recipe> {
    let gates = prop::collection::vec((0u8..5, any::<u8>(), any::<u8>(), any::<bool>()), 3..14);
    let registers = prop::collection::vec(any::<u8>(), 0..4);
    let latch = prop::option::weighted(0.3, (any::<u8>(), any::<u8>()));
    let outputs = prop::collection::vec((0u8..5, any::<u8>(), any::<u8>()), 1..6);
    (gates, registers, any::<bool>(), any::<bool>(), latch, outputs, any::<bool>()).prop_map(
        |(gates, registers, high, reset, latch, outputs, read_bus)| Recipe {
            gates,
            registers,
            high,
            reset,
            latch,
            outputs,
            read_bus,
        },
    )
}

fn cook(r: &Recipe) -> Bench {
    let mut b = Bench::new();
    let (clock, reset) = (b.input("clock"), b.input("reset"));
    let mut signals: Vec<Expr> = b.inputs::<4>("i").into();
    let inputs = signals.clone();
    let pick = |signals: &[Expr], n: u8| signals[n as usize % signals.len()];
    let start = if r.high { Start::High } else { Start::Low };
    let held: Vec<_> =
        (0..r.registers.len()).map(|i| b.register(&format!("r{i}"), clock, Expr::LOW, Expr::LOW, start)).collect();
    for &e in &held {
        if r.reset {
            let element = b.c.element_mut(e).unwrap();
            if r.high { element.preset = reset } else { element.clear = reset }
        }
        signals.push(b.c.q(e));
    }
    // the latch follows inputs, so that it settles and both sides start alike (all contacts start high)
    let latch = r.latch.map(|(open, data)| {
        let (open, data) = (pick(&inputs, open), pick(&inputs, data));
        b.element("latch", Kind::Latch { open, data })
    });
    if let Some(latch) = latch {
        signals.push(b.c.q(latch));
    }
    let bus = r.read_bus.then(|| b.contact("bus", Direction::InOut));
    if let Some(bus) = bus {
        signals.push(b.c.net(bus));
    }
    for (k, &(op, x, y, node)) in r.gates.iter().enumerate() {
        let (x, y) = (pick(&signals, x), pick(&signals, y));
        let e = match op {
            0 => b.c.and(x, y),
            1 => b.c.or(x, y),
            2 => b.c.xor(x, y),
            3 => b.c.not(x),
            _ => b.c.choose(inputs[0], x, y),
        };
        signals.push(if node {
            let net = b.c.add_node(format!("n{k}"), e, Default::default());
            b.c.net(net)
        } else {
            e
        });
    }
    for (&e, &data) in held.iter().zip(&r.registers) {
        let data = pick(&signals, data);
        b.load(e, data);
    }
    if let Some(bus) = bus {
        let (enable, stage) = (inputs[1], Stage::ThreeState);
        let driver = Driver { enable, level: inputs[2], stage, by: By::signal("bus"), origin: Default::default() };
        b.c.drive(bus, driver);
    }
    for (k, &(stage, level, enable)) in r.outputs.iter().enumerate() {
        let (level, enable, name) = (pick(&signals, level), pick(&signals, enable), format!("y{k}"));
        match stage {
            0 | 1 => b.output(&name, level),
            2 => b.driven(&name, enable, Expr::LOW, Stage::OpenCollector),
            _ => b.driven(&name, enable, level, Stage::ThreeState),
        };
    }
    b
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]
    #[test]
    fn what_fits_does_what_was_asked(r in recipe()) {
        let b = cook(&r);
        for name in ["22V10", "16V8", "20V8", "CPLD-32"] {
            let device = find(name).unwrap();
            match fit(&b.c, device, &Wishes::none()) {
                Ok(fitted) => {
                    prop_assert!(fitted.cells.iter().all(|c| c.terms.len() <= c.capacity));
                    let hazards = of_device(&fitted);
                    prop_assert_eq!(hazards.logic().count(), 0, "{} {:?}\n{}", name, hazards.list, gluewright::emit::equations(&fitted));
                    run_beside(&b.c, &fitted, device, 300);
                }
                Err(no) => prop_assert!(!no.to_string().is_empty()),
            }
        }
    }
}
