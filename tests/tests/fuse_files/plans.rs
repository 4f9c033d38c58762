//! What goes into the devices of these tests: plans by hand and drawn ones.
use gluewright::device::{Cell, Device, Enable, EnableSource, Function, Literal, Mode, Plan, Source, Term, find};

use super::chip::Drawn;

fn term(literals: &[(Source, bool)]) -> Term {
    literals.iter().map(|&(source, high)| Literal { source, complement: !high }).collect()
}

fn pin(n: u16) -> Source {
    Source::Pin(n)
}

fn at(n: u16) -> Source {
    Source::Feedback(n)
}

fn cell(function: Function, inverted: bool, enable: Enable, terms: Vec<Term>) -> Cell {
    Cell { function, inverted, enable, terms, exclusive: Vec::new() }
}

/// Two bits of a counter with a reset, a switched pin and a latch of product terms.
pub(crate) fn mixed_22v10() -> (&'static Device, Plan) {
    let (combinational, registered) = (Function::Combinational, Function::Registered);
    // with S0 = 1 the true feedback column is the complement of the pin
    let toggle = vec![term(&[(at(23), true)])];
    let carry = vec![term(&[(at(22), true), (at(23), false)]), term(&[(at(22), false), (at(23), true)])];
    let bus = vec![term(&[(pin(6), true), (at(22), true)])];
    let latch = vec![
        term(&[(pin(7), true), (pin(8), true)]),
        term(&[(pin(7), false), (at(20), true)]),
        term(&[(pin(8), true), (at(20), true)]),
    ];
    let cells = [
        (23, cell(registered, false, Enable::Always, toggle)),
        (22, cell(registered, false, Enable::Always, carry)),
        (21, cell(combinational, false, Enable::While(term(&[(pin(5), false)])), bus)),
        (20, cell(combinational, false, Enable::Always, latch)),
    ];
    (find("22V10").unwrap(), Plan { cells: cells.into(), reset: Some(term(&[(pin(2), false)])), ..Plan::default() })
}

/// A decoder with a two-bit wait counter behind an enable pin: registered mode.
pub(crate) fn counter_16v8() -> (&'static Device, Plan) {
    let device = find("16V8").unwrap();
    let mode = device.modes.iter().position(|m| m.name == "registered").unwrap();
    let start = (pin(2), true);
    let bit0 = vec![term(&[start, (at(19), false)])];
    let bit1 = vec![term(&[start, (at(18), true), (at(19), false)]), term(&[start, (at(18), false), (at(19), true)])];
    let ready = vec![term(&[(at(19), true), (at(18), true), (pin(3), false)]), term(&[(pin(3), true), (pin(4), true)])];
    let cells = [
        (19, cell(Function::Registered, false, Enable::Pin, bit0)),
        (18, cell(Function::Registered, true, Enable::Pin, bit1)),
        (17, cell(Function::Combinational, true, Enable::While(term(&[(pin(5), true)])), ready)),
    ];
    (device, Plan { mode, cells: cells.into(), ..Plan::default() })
}

/// An address decoder: complex mode.
pub(crate) fn decoder_16v8() -> (&'static Device, Plan) {
    let device = find("16V8").unwrap();
    let mode = device.modes.iter().position(|m| m.name == "complex").unwrap();
    let select = |bits: u16| (2..6).map(|p| (pin(p), bits >> (p - 2) & 1 == 1)).collect::<Vec<_>>();
    let cells = (0..6u16).map(|i| {
        let mut wide = select(i);
        wide.push((pin(1), false));
        let enable = if i < 3 { Enable::Always } else { Enable::While(term(&[(pin(11), false)])) };
        (12 + i, cell(Function::Combinational, i % 2 == 0, enable, vec![term(&wide), term(&select(15 - i))]))
    });
    (device, Plan { mode, cells: cells.collect(), ..Plan::default() })
}

/// A drawn plan: a few short terms in every macrocell.
pub(crate) fn drawn(device: &Device, drawn: &mut Drawn) -> Plan {
    let index = drawn.next(device.modes.len());
    let mode = &device.modes[index];
    let mut plan = Plan { mode: index, ..Plan::default() };
    for macrocell in &mode.macrocells {
        let configuration = &macrocell.configurations[drawn.next(macrocell.configurations.len())];
        if configuration.function == Function::Input || drawn.next(5) == 0 {
            continue;
        }
        let count = 1 + drawn.next(configuration.rows.len().min(4));
        let terms = (0..count).map(|_| drawn_term(mode, drawn)).collect();
        let enable = match (configuration.enable, drawn.next(3)) {
            (EnableSource::Pin(_), _) => Enable::Pin,
            (EnableSource::Always, _) => Enable::Always,
            (EnableSource::Never, _) => Enable::Never,
            (EnableSource::Row(_), 0) => Enable::While(drawn_term(mode, drawn)),
            (EnableSource::Row(_), _) => Enable::Always,
        };
        let inverted = macrocell.polarity.is_none() || drawn.next(2) == 0;
        let mut cell = cell(configuration.function, inverted, enable, terms);
        if !configuration.exclusive.is_empty() {
            let count = drawn.next(configuration.exclusive.len() + 1);
            cell.exclusive = (0..count).map(|_| drawn_term(mode, drawn)).collect();
        }
        plan.cells.insert(macrocell.pin, cell);
    }
    plan.reset = mode.reset.map(|_| drawn_term(mode, drawn));
    plan.signature = device.signature.iter().map(|_| b'G').collect();
    plan
}

fn drawn_term(mode: &Mode, drawn: &mut Drawn) -> Term {
    let literal = |_| Literal { source: mode.columns[drawn.next(mode.columns.len())], complement: drawn.next(2) == 0 };
    let mut literals: Vec<Literal> = (0..3).map(literal).collect();
    literals.sort();
    literals.dedup_by_key(|l| l.source);
    Term(literals)
}
