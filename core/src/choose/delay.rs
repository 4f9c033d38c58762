//! The longest way through a fitted device from one contact to another, in nanoseconds of a speed grade.
use std::collections::BTreeMap;

use serde::Serialize;

use crate::device::{Device, Figure, Function, Grade, Provenance};
use crate::fit::{Drive, Fitted, FittedCell};
use crate::timing::{Kind, replacement};

/// The worst delay of a fit by the figures of one speed grade.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Delay {
    /// The grade's name.
    pub grade: &'static str,
    /// The longest delay in nanoseconds, over what is known; nothing if nothing is known.
    pub nanoseconds: Option<f64>,
    /// From where to where.
    pub path: String,
    /// False if a figure that another way would need is not known: the worst may be worse.
    pub complete: bool,
    /// Whether a figure that it is made of was not looked up in a data sheet.
    pub from_memory: bool,
}

/// Where a signal that a macrocell reads comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Source {
    Contact,
    Register,
}

/// A way through the device: where it begins, and how often it goes through the array.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Way {
    from: Source,
    passes: u32,
}

/// The longest delay from a contact or a clock edge to a contact: through the array, from the clock, to a driver turned
/// on or off, through the reset. What several passes through the array take is added up.
pub fn worst_delay(fitted: &Fitted, device: &Device, grade: &Grade) -> Delay {
    let times = replacement(fitted, device, grade);
    if times.gap.is_some() {
        return through_blocks(fitted, grade);
    }
    let outward = |k: Kind| matches!(k, Kind::Propagation | Kind::ClockToOutput | Kind::Enable | Kind::Disable);
    let rows = times.rows.iter().filter(|r| outward(r.kind));
    let worst = rows.clone().max_by(|a, b| a.time.ns.total_cmp(&b.time.ns)).filter(|r| r.time.ns > 0.0);
    Delay {
        grade: grade.name,
        nanoseconds: worst.map(|r| (r.time.ns * 10.0).round() / 10.0),
        path: worst.map_or_else(String::new, |r| format!("{}, {} to {}", r.kind, r.from.name, r.to.name)),
        complete: rows.clone().all(|r| r.time.is_complete()),
        from_memory: worst.is_some_and(|r| r.time.path.iter().any(|s| s.source == Provenance::Memory.to_string())),
    }
}

/// The same by the figures that a fit leaves on a device of logic blocks, where a pass is a macrocell. The feedback of a
/// register is taken to arrive with its output where no figure of its own is known.
pub(super) fn through_blocks(fitted: &Fitted, grade: &Grade) -> Delay {
    let mut sum = Sum { worst: None, path: String::new(), complete: true, from_memory: false };
    let mut ways = Ways { fitted, known: BTreeMap::new(), open: Vec::new() };
    let inside = |way: Way| -> Vec<Option<Figure>> {
        // all but the last pass
        let mut figures = vec![grade.propagation; way.passes.saturating_sub(1) as usize];
        if way.from == Source::Register {
            figures.push(grade.clock_to_feedback.or(grade.clock_to_output));
        }
        figures
    };
    let from = |way: Way| if way.from == Source::Register { "clock" } else { "input" };
    for cell in fitted.cells.iter().filter(|c| c.label.is_some()) {
        if cell.function == Function::Registered {
            // a clock that takes a product term has a figure of its own, which no grade holds
            let by_term = cell.control.as_ref().and_then(|c| c.gate.as_ref()).is_some_and(|g| g.pin.is_none());
            sum.consider(&[grade.clock_to_output.filter(|_| !by_term)], || format!("clock to {}", cell.name));
        } else {
            for way in ways.of(cell) {
                let figures: Vec<_> = inside(way).into_iter().chain([grade.propagation]).collect();
                sum.consider(&figures, || format!("{} to {}", from(way), cell.name));
            }
        }
        if let Drive::While(product) = &cell.drive {
            let plan = cell.pin.and_then(|pin| fitted.plan.cells.get(&pin));
            let own = cell.control.as_ref().is_some_and(|c| c.enable.is_some());
            let pin = own || plan.is_some_and(|c| c.enable == crate::device::Enable::Pin);
            let (on, off) =
                if pin { (grade.pin_enable, grade.pin_disable) } else { (grade.term_enable, grade.term_disable) };
            for way in ways.through(product.iter().map(|(v, _)| *v)) {
                for last in [on, off] {
                    let figures: Vec<_> = inside(way).into_iter().chain([last]).collect();
                    sum.consider(&figures, || format!("{} to the driver of {}", from(way), cell.name));
                }
            }
        }
    }
    for cell in fitted.cells.iter().filter(|c| c.label.is_some()) {
        for line in cell.control.iter().flat_map(|c| [&c.clear, &c.preset]).flatten() {
            for way in ways.through(line.product.iter().map(|(v, _)| *v)) {
                let figures: Vec<_> = inside(way).into_iter().chain([grade.reset_to_output]).collect();
                sum.consider(&figures, || format!("{} through the reset to {}", from(way), cell.name));
            }
        }
    }
    let shown = fitted.cells.iter().find(|c| c.label.is_some() && c.function == Function::Registered);
    if let (Some(reset), Some(shown)) = (&fitted.reset, shown) {
        for way in ways.through(reset.iter().map(|(v, _)| *v)) {
            let figures: Vec<_> = inside(way).into_iter().chain([grade.reset_to_output]).collect();
            sum.consider(&figures, || format!("{} through the reset to {}", from(way), shown.name));
        }
    }
    let Sum { worst, path, complete, from_memory } = sum;
    Delay { grade: grade.name, nanoseconds: worst, path, complete, from_memory }
}

struct Sum {
    worst: Option<f64>,
    path: String,
    complete: bool,
    from_memory: bool,
}

impl Sum {
    fn consider(&mut self, figures: &[Option<Figure>], path: impl Fn() -> String) {
        let Some(known) = figures.iter().copied().collect::<Option<Vec<Figure>>>() else {
            self.complete = false;
            return;
        };
        let total = known.iter().map(|f| f.value).sum::<f64>();
        if self.worst.is_none_or(|worst| total > worst) {
            self.worst = Some(total);
            self.path = path();
            self.from_memory = known.iter().any(|f| f.from == Provenance::Memory);
        }
    }
}

struct Ways<'f> {
    fitted: &'f Fitted,
    known: BTreeMap<usize, Vec<Way>>,
    /// The macrocells that are being followed: a loop of product terms ends there.
    open: Vec<u16>,
}

impl Ways<'_> {
    /// The longest ways through the sum of a combinational macrocell, one for each kind of source.
    fn of(&mut self, cell: &FittedCell) -> Vec<Way> {
        self.open.push(cell.macrocell);
        let gate = cell.control.as_ref().and_then(|c| c.gate.as_ref()).map(|g| &g.product);
        let products = cell.terms.iter().map(|t| &t.product).chain(gate);
        let read: Vec<usize> = products.flat_map(|p| p.iter().map(|(v, _)| *v)).collect();
        let ways = self.through(read);
        self.open.pop();
        ways
    }

    /// One pass more than what leads to these variables.
    fn through(&mut self, variables: impl IntoIterator<Item = usize>) -> Vec<Way> {
        let mut longest: BTreeMap<Source, u32> = BTreeMap::new();
        for variable in variables {
            for way in self.to(variable) {
                let passes = longest.entry(way.from).or_default();
                *passes = (*passes).max(way.passes + 1);
            }
        }
        longest.into_iter().map(|(from, passes)| Way { from, passes }).collect()
    }

    /// The ways to where a variable is read.
    fn to(&mut self, variable: usize) -> Vec<Way> {
        let home = self.fitted.cells.iter().find(|c| c.holds.iter().any(|(v, _)| *v == variable));
        let Some(cell) = home else { return vec![Way { from: Source::Contact, passes: 0 }] };
        if cell.function == Function::Registered {
            return vec![Way { from: Source::Register, passes: 0 }];
        }
        // a pin that others drive at times is a contact too
        let contact = Way { from: Source::Contact, passes: 0 };
        let outside: Vec<Way> = (cell.drive != Drive::Always).then_some(contact).into_iter().collect();
        if self.open.contains(&cell.macrocell) {
            return outside;
        }
        if let Some(known) = self.known.get(&variable) {
            return known.clone();
        }
        let mut ways = self.of(cell);
        ways.extend(outside);
        if self.open.is_empty() {
            self.known.insert(variable, ways.clone());
        }
        ways
    }
}
