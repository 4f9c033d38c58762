//! A small drawer of parts, made by hand: enough for the tests, with the pins of the data sheets.
use std::sync::Arc;

use crate::board::{Library, Part};
use crate::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, Expr, Kind, Label, NetId, Origin, Polarity, Rail, Stage, Start,
};

/// Parts by type number. Pins are letters, from pin 1 on: `i` input, `o` push-pull output, `c` open collector, `z`
/// three-state output, `b` both ways, `n` unconnected, `V` and `G` the rails.
const PINOUTS: [(&str, &str); 11] = [
    ("74LS00", "iioiioGoiioiiV"),
    ("74LS02", "oiioiiGiioiioV"),
    ("74LS04", "ioioioGoioioiV"),
    ("74LS05", "icicicGciciciV"),
    ("74LS08", "iioiioGoiioiiV"),
    ("74LS10", "iiiiioGoiiioiV"),
    ("74LS30", "iiiiiiGonniinV"),
    ("74LS74", "iiiiooGooiiiiV"),
    ("74LS109", "iiiiiooGooiiiiiV"),
    ("74LS173", "iizzzziGiiiiiiiV"),
    ("74LS373", "iziizziizGiziizziizV"),
];

/// The drawer.
pub(super) struct Drawer;

impl Library for Drawer {
    fn part(&self, type_number: &str) -> Option<Part> {
        let wanted = type_number.to_uppercase();
        match wanted.as_str() {
            "74LS245" => return Some(Part::logic("74LS245", Arc::new(pinout("74LS245", "ibbbbbbbbGbbbbbbbbiV")))),
            "74LS123" => {
                let pins = Arc::new(bare("iiiooaaGiiiooaaV"));
                return Some(Part::refused("74LS123", pins, "a one-shot has time", "make its output a contact"));
            }
            _ => {}
        }
        let &(name, pins) = PINOUTS.iter().find(|(name, _)| *name == wanted)?;
        let circuit = match name {
            "74LS00" | "74LS08" => gates(name, pins, &[(&[1, 2], 3), (&[4, 5], 6), (&[9, 10], 8), (&[12, 13], 11)]),
            "74LS04" => gates(name, pins, &[(&[1], 2), (&[3], 4), (&[5], 6), (&[9], 8), (&[11], 10), (&[13], 12)]),
            "74LS05" => collectors(pins),
            _ => pinout(name, pins),
        };
        let free = pins.chars().zip(1u16..).filter(|&(role, _)| role == 'n').map(|(_, pin)| pin);
        Some(Part::logic(name, Arc::new(circuit)).with_unconnected(free))
    }

    fn names(&self) -> Vec<String> {
        PINOUTS.iter().map(|(name, _)| (*name).to_owned()).chain(["74LS245".into(), "74LS123".into()]).collect()
    }
}

/// Contacts and supplies without logic; `a` is an analog pin.
fn bare(pins: &str) -> Circuit {
    let mut circuit = Circuit::new("pinout");
    for (role, pin) in pins.chars().zip(1u16..) {
        let direction = match role {
            'V' => {
                circuit.add_supply(pin.into(), Rail::Vcc);
                continue;
            }
            'G' => {
                circuit.add_supply(pin.into(), Rail::Gnd);
                continue;
            }
            'n' => continue,
            'i' => Direction::Input,
            'b' | 'a' => Direction::InOut,
            _ => Direction::Output,
        };
        let name = format!("p{pin}");
        let net = circuit.add_net(name.clone(), Origin::Nowhere);
        let label = Label::from(pin);
        circuit.add_contact(Contact { label, name, net, polarity: Polarity::Data, direction, origin: Origin::here() });
    }
    circuit
}

fn net(circuit: &Circuit, pin: u16) -> NetId {
    circuit.find_net(&format!("p{pin}")).expect("a pin of the pinout")
}

/// A pinout with outputs that each show a latch of their own: enough where only the pins matter.
fn pinout(name: &str, pins: &str) -> Circuit {
    let mut circuit = bare(pins);
    circuit.name = name.into();
    for (role, pin) in pins.chars().zip(1u16..) {
        let stage = match role {
            'o' => Stage::PushPull,
            'c' => Stage::OpenCollector,
            'z' | 'b' => Stage::ThreeState,
            _ => continue,
        };
        let element = circuit.add_element(Element {
            name: format!("latch{pin}"),
            kind: Kind::Latch { open: Expr::LOW, data: Expr::LOW },
            clear: Expr::LOW,
            unknown_load: Expr::LOW,
            preset: Expr::LOW,
            start: Start::Any,
            origin: Origin::here(),
        });
        let q = circuit.q(element);
        let (enable, level) = match stage {
            Stage::PushPull => (Expr::HIGH, q),
            Stage::ThreeState => (q, q),
            Stage::OpenCollector => (q, Expr::LOW),
        };
        let driver = Driver { enable, level, stage, by: By::signal(format!("p{pin}")), origin: Origin::here() };
        let on = net(&circuit, pin);
        circuit.drive(on, driver);
    }
    circuit
}

/// NAND gates: inputs and output of each; with one input, inverters.
fn gates(name: &str, pins: &str, of: &[(&[u16], u16)]) -> Circuit {
    let mut circuit = bare(pins);
    circuit.name = name.into();
    for &(inputs, output) in of {
        let nets: Vec<NetId> = inputs.iter().map(|&pin| net(&circuit, pin)).collect();
        let all: Vec<Expr> = nets.into_iter().map(|n| circuit.net(n)).collect();
        let all = circuit.all(all);
        let level = if name == "74LS08" { all } else { circuit.not(all) };
        let driver = Driver {
            enable: Expr::HIGH,
            level,
            stage: Stage::PushPull,
            by: By::signal("gate"),
            origin: Origin::here(),
        };
        let on = net(&circuit, output);
        circuit.drive(on, driver);
    }
    circuit
}

/// The six open-collector inverters of a 74LS05.
fn collectors(pins: &str) -> Circuit {
    let mut circuit = bare(pins);
    for (input, output) in [(1, 2), (3, 4), (5, 6), (9, 8), (11, 10), (13, 12)] {
        let (a, y) = (net(&circuit, input), net(&circuit, output));
        let enable = circuit.net(a);
        let stage = Stage::OpenCollector;
        circuit.drive(y, Driver { enable, level: Expr::LOW, stage, by: By::signal("gate"), origin: Origin::here() });
    }
    circuit
}
