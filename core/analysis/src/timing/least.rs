//! The shortest delays of a device with one array, where its sheet gives them: a way to an output is no shorter than its last
//! stretch.
use super::{Kind, Row};
use gluewright_devices::device::{Cell, Enable, Figure, Function, Grade, Provenance};
use gluewright_devices::fit::Fitted;

/// What a time to an output is at least, in ns, whatever way it takes; nothing if the sheet does not say so.
pub(super) fn least(row: &Row, fitted: &Fitted, grade: &Grade) -> Option<f64> {
    let pins = fitted.wires.iter().filter(|w| w.label.as_str() == row.to.label).map(|w| w.pin);
    let cells = pins.filter_map(|pin| fitted.plan.cells.get(&pin)).filter(|cell| cell.function != Function::Input);
    // several pins on one contact: the first that moves
    let each: Option<Vec<f64>> = cells.map(|cell| of_cell(row.kind, cell, grade)).collect();
    each?.into_iter().reduce(f64::min)
}

fn of_cell(kind: Kind, cell: &Cell, grade: &Grade) -> Option<f64> {
    let shortest = &grade.shortest;
    let turns = match cell.enable {
        Enable::Always | Enable::Never => None,
        Enable::While(_) => Some([shortest.term_enable, shortest.term_disable]),
        Enable::Pin => Some([shortest.pin_enable, shortest.pin_disable]),
    };
    let moved = match (kind, cell.function) {
        (Kind::Enable, _) => return value(turns?[0]),
        (Kind::Disable, _) => return value(turns?[1]),
        (Kind::ClockToOutput, Function::Registered) => shortest.clock_to_output,
        (Kind::Propagation, Function::Registered) => shortest.reset_to_output,
        (Kind::ClockToOutput | Kind::Propagation, _) => shortest.propagation,
        _ => return None,
    };
    // an output that only pulls low changes by its enable
    let all = std::iter::once(moved).chain(turns.into_iter().flatten());
    all.map(value).collect::<Option<Vec<f64>>>()?.into_iter().reduce(f64::min)
}

/// What is only remembered promises nothing.
fn value(figure: Option<Figure>) -> Option<f64> {
    figure.filter(|f| f.from != Provenance::Memory).map(|f| f.value)
}
