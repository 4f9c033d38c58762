//! Equations for people, in the notation of ISO 80000-2: each with its polarity in words, its pin, and why a term stays.
use std::fmt::Write;

use crate::device::{Function, PinNumber};
use crate::fit::{Control, Drive, Fitted, FittedCell, Note, SumTerm};
use crate::logic::{Diagram, Output, Product, Register};
use gluewright_kernel::circuit::{Label, Polarity, Rail, Stage};

/// Where the lines under an equation start.
const INDENT: &str = "    ";

/// What a fitted device does, as text for a person.
///
/// A name stands for the truth of a signal that is asserted at one level, and for a high level of any other. An equation
/// is written as the device holds it: for the complement where that takes fewer product terms.
pub fn equations(fitted: &Fitted) -> String {
    let page = Page { fitted };
    let mut text = page.head();
    text.push_str(&page.signals());
    let (buried, outside): (Vec<_>, Vec<_>) = fitted.cells.iter().partition(|c| c.label.is_none());
    for (title, cells) in [("At the contacts", outside), ("Inside the device", buried)] {
        if !cells.is_empty() {
            let _ = write!(text, "\n{title}\n");
            cells.iter().for_each(|cell| text.push_str(&page.cell(cell)));
        }
    }
    text.push_str(&page.foot());
    text
}

/// One macrocell's equation.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Equation {
    /// The signal's name.
    pub name: String,
    /// The contact, unless it is buried.
    #[serde(rename = "contact")]
    pub label: Option<Label>,
    /// The pin, if the macrocell has one.
    pub pin: Option<PinNumber>,
    /// The equation, with its polarity in words; a sum may take several lines.
    pub text: String,
    /// What there is to say about it.
    pub about: Vec<String>,
}

/// The same equations one by one, in the order of [`Fitted::cells`].
pub fn equation_list(fitted: &Fitted) -> Vec<Equation> {
    let page = Page { fitted };
    fitted.cells.iter().map(|cell| page.entry(cell)).collect()
}

struct Page<'a> {
    fitted: &'a Fitted,
}

impl Page<'_> {
    fn head(&self) -> String {
        let f = self.fitted;
        let mode = if f.mode.is_empty() { String::new() } else { format!(" in {} mode", f.mode) };
        let mut text = format!("{} in a {}{mode}\n\n", f.circuit, f.device);
        text.push_str("∧ is and, ∨ is or, ¬ is not. ");
        let logic = &f.logic;
        let low = logic.signals.iter().map(|s| s.polarity).chain(logic.outputs.iter().map(|o| o.polarity));
        text.push_str(match low.into_iter().any(|p| p == Polarity::ActiveLow) {
            true => "A name that is low when true stands for its truth, not for its level.\n",
            false => "Each name stands for the high level of its wire.\n",
        });
        let macrocells = if f.cells.len() == 1 { "macrocell" } else { "macrocells" };
        let terms = if f.term_count() == 1 { "product term" } else { "product terms" };
        let _ = writeln!(text, "{} {macrocells}, {} {terms}.", f.cells.len(), f.term_count());
        text
    }

    /// Contacts that are read.
    fn signals(&self) -> String {
        let logic = &self.fitted.logic;
        let mut text = String::new();
        for input in &logic.inputs {
            let pins: Vec<String> =
                self.fitted.wires.iter().filter(|w| w.label == input.label).map(|w| w.pin.to_string()).collect();
            if pins.is_empty() {
                continue;
            }
            let polarity = logic.signals.get(input.variable).map_or(Polarity::Data, |s| s.polarity);
            let words = match polarity {
                Polarity::ActiveLow => ", low when true",
                Polarity::ActiveHigh => ", high when true",
                Polarity::Clock => ", a clock",
                Polarity::Data => "",
            };
            let plural = if pins.len() == 1 { "pin" } else { "pins" };
            let _ = writeln!(
                text,
                "{INDENT}{}: contact {}, {plural} {}{words}",
                input.name,
                input.label,
                pins.join(" and ")
            );
        }
        if text.is_empty() { text } else { format!("\nInputs\n{text}") }
    }

    fn cell(&self, cell: &FittedCell) -> String {
        let Equation { text, about, .. } = self.entry(cell);
        let indent = format!("\n{INDENT}");
        format!("\n{INDENT}{}\n{INDENT}{INDENT}{}\n", text.replace('\n', &indent), about.join("; "))
    }

    fn entry(&self, cell: &FittedCell) -> Equation {
        let output = cell.output.and_then(|o| self.fitted.logic.outputs.get(o));
        let register = self.register(cell).filter(|_| cell.function == Function::Registered);
        let collector = output.filter(|o| o.stage == Stage::OpenCollector);
        let equation = match collector {
            Some(output) => self.pulled(output, cell),
            None => self.equation(cell, output, register),
        };
        let mut about = vec![match &cell.label {
            Some(label) => match (cell.pin, &cell.control) {
                (Some(pin), None) => format!("contact {label}, pin {pin}"),
                (Some(pin), Some(_)) => format!("contact {label}, pin {pin}, macrocell {}", cell.macrocell),
                (None, _) => format!("contact {label}"),
            },
            None => Self::buried(cell, &self.fitted.notes),
        }];
        if output.is_some() {
            about.extend(self.shows(cell));
        }
        if let Some(register) = register {
            about.extend(self.reset(cell, output, register));
        }
        if let Some(control) = &cell.control {
            about.extend(self.lines(cell, output, control));
        }
        match (&cell.drive, collector) {
            (_, Some(_)) => {
                let condition = self.condition(cell);
                about.push(format!("open collector: a constant low, driven while {condition}, floating otherwise"));
            }
            (Drive::While(product), None) => {
                about.push(format!("driven while {}, floating otherwise", self.product(product)));
            }
            (Drive::Always | Drive::Never, None) => {}
        }
        if collector.is_none() {
            let plural = if cell.capacity == 1 { "product term" } else { "product terms" };
            about.push(format!("{} of {} {plural}", cell.terms.len(), cell.capacity));
        }
        Equation { name: cell.name.clone(), label: cell.label.clone(), pin: cell.pin, text: equation, about }
    }

    /// What a pin with a name of its own shows of what is held here and read in other equations.
    fn shows(&self, cell: &FittedCell) -> Option<String> {
        let names: Vec<String> = cell
            .holds
            .iter()
            .map(|&(v, complement)| (self.fitted.logic.name_of(v), complement))
            .filter(|(name, _)| *name != cell.name)
            .map(|(name, complement)| format!("{}{name}", if complement { "¬" } else { "" }))
            .collect();
        (!names.is_empty()).then(|| format!("the pin shows {}", names.join(" and ")))
    }

    /// Where a signal without a contact is.
    fn buried(cell: &FittedCell, notes: &[Note]) -> String {
        match (cell.pin, cell.function) {
            (None, function) => {
                let what = match function {
                    Function::Registered => "register",
                    Function::Latch => "latch",
                    Function::Combinational | Function::Input => "node",
                };
                format!("buried {what} in macrocell {}", cell.macrocell)
            }
            (Some(pin), Function::Registered) => {
                let never = notes.contains(&Note::BuriedRegister { pin, name: cell.name.clone() });
                let what = if never { "is never driven: leave it open" } else { "shows it: connect it to nothing" };
                format!("buried register, pin {pin} {what}")
            }
            (Some(pin), _) => format!("pin {pin} is driven and read back: connect it to nothing"),
        }
    }

    /// The lines of a macrocell that has its own, in words.
    fn lines(&self, cell: &FittedCell, output: Option<&Output>, control: &Control) -> Vec<String> {
        let by = |pin: Option<u16>, what: &str| pin.map(|pin| format!("{what} on global pin {pin}"));
        let mut words = Vec::new();
        let gate = if cell.function == Function::Latch { "gate" } else { "clock" };
        words.extend(control.gate.as_ref().and_then(|l| by(l.pin, gate)));
        for (line, high) in [(&control.clear, false), (&control.preset, true)] {
            let Some(line) = line else { continue };
            words.push(self.at_once(cell, output, high, &self.product(&line.product)));
            words.extend(by(line.pin, "clear"));
        }
        words.extend(by(control.enable, "enable"));
        words
    }

    /// An open collector by its condition.
    fn pulled(&self, output: &Output, cell: &FittedCell) -> String {
        let condition = self.condition(cell);
        match output.polarity {
            Polarity::ActiveLow => format!("{} (low when true) = {condition}", output.name),
            Polarity::ActiveHigh => format!("{} (high when true) = ¬({condition})", output.name),
            Polarity::Data | Polarity::Clock => format!("{} = ¬({condition})", output.name),
        }
    }

    /// When the pin is driven.
    fn condition(&self, cell: &FittedCell) -> String {
        match &cell.drive {
            Drive::While(product) => self.product(product),
            Drive::Always => "true".into(),
            Drive::Never => "false".into(),
        }
    }

    fn equation(&self, cell: &FittedCell, output: Option<&Output>, register: Option<&Register>) -> String {
        let polarity = output.map_or(Polarity::Data, |o| o.polarity);
        let words = match polarity {
            Polarity::ActiveLow => " (low when true)",
            Polarity::ActiveHigh => " (high when true)",
            Polarity::Data | Polarity::Clock => "",
        };
        // a buried element is named by what it holds, an output by its pin
        let (name, shown) = match (output, cell.holds.first()) {
            (Some(o), _) => (o.name.clone(), false),
            (None, Some(&(_, shown))) => (cell.name.clone(), shown),
            (None, None) => (cell.name.clone(), false),
        };
        let level = cell.inverted == shown;
        let truth = if polarity == Polarity::ActiveLow { !level } else { level };
        let gate = cell.control.as_ref().and_then(|c| c.gate.as_ref()).map(|l| &l.product);
        let after = match (cell.function, gate, register, self.fitted.clock) {
            (Function::Latch, Some(gate), ..) => format!(", followed while {},", self.product(gate)),
            (Function::Registered, Some(gate), ..) => self.edge(gate),
            (_, _, Some(_), Some(clock)) => format!(", after the rise of {}", self.fitted.logic.name_of(clock)),
            _ => String::new(),
        };
        let left = format!("{name}{words}{after} = ");
        // the left side is the name alone: beside "low when true" a complement there would invert twice
        match (cell.terms.as_slice(), truth) {
            ([], truth) => format!("{left}{}", !truth),
            ([SumTerm { product, .. }], truth) if product.is_empty() => format!("{left}{truth}"),
            ([SumTerm { product, steadies }], false) if product.len() == 1 && steadies.is_empty() => {
                let opposite: Product = product.iter().map(|&(signal, high)| (signal, !high)).collect();
                format!("{left}{}", self.product(&opposite))
            }
            (terms, truth) => {
                let left = if truth { left } else { format!("{left}¬(") };
                let indent = " ".repeat(left.chars().count() - 2);
                let sum: Vec<String> = terms.iter().map(|t| self.term(t, cell)).collect();
                let close = match terms.last() {
                    _ if truth => String::new(),
                    // a remark ends its line
                    Some(last) if !last.steadies.is_empty() => format!("\n{indent})"),
                    _ => ")".to_owned(),
                };
                format!("{left}{}{close}", sum.join(&format!("\n{indent}∨ ")))
            }
        }
    }

    /// The moment when a product becomes true.
    fn edge(&self, gate: &Product) -> String {
        match gate.as_slice() {
            [(clock, true)] => format!(", after the rise of {}", self.fitted.logic.name_of(*clock)),
            [(clock, false)] => format!(", after the fall of {}", self.fitted.logic.name_of(*clock)),
            _ => format!(", each time that {} becomes true,", self.product(gate)),
        }
    }

    /// A term of a sum, with the reason why it must stay if there is one.
    fn term(&self, term: &SumTerm, cell: &FittedCell) -> String {
        let product = self.product(&term.product);
        let product = if cell.terms.len() > 1 && term.product.len() > 1 { format!("({product})") } else { product };
        if term.steadies.is_empty() {
            return product;
        }
        let names: Vec<&str> = term.steadies.iter().map(|&v| self.fitted.logic.name_of(v)).collect();
        let level = if cell.inverted { "low" } else { "high" };
        format!("{product}   must stay: it alone keeps the pin {level} while {} changes", names.join(" or "))
    }

    fn product(&self, product: &Product) -> String {
        self.fitted.logic.term_text(product)
    }

    fn register(&self, cell: &FittedCell) -> Option<&Register> {
        let held = |r: &&Register| cell.holds.iter().any(|(v, _)| *v == r.variable);
        self.fitted.logic.registers.iter().find(held)
    }

    /// What a reset does to a register, in the words of its polarity.
    fn reset(&self, cell: &FittedCell, output: Option<&Output>, register: &Register) -> Option<String> {
        let condition = self.product(self.fitted.reset.as_ref()?);
        let high = register.clear == Diagram::LOW;
        let shown = cell.holds.iter().any(|(v, shown)| *v == register.variable && *shown);
        Some(self.at_once(cell, output, high != shown, &condition))
    }

    /// That a pin goes to this level at once while a condition is true, in the words of its polarity; of a buried
    /// element, what it then holds.
    fn at_once(&self, cell: &FittedCell, output: Option<&Output>, pin: bool, condition: &str) -> String {
        let level = |high: bool| if high { "high" } else { "low" };
        match output.map(|o| o.polarity) {
            Some(Polarity::ActiveLow) => format!("at once {} (the pin {}) while {condition}", !pin, level(pin)),
            Some(Polarity::ActiveHigh) => format!("at once {pin} while {condition}"),
            Some(Polarity::Data | Polarity::Clock) => format!("at once {} while {condition}", level(pin)),
            None => {
                let shown = cell.holds.first().is_some_and(|(_, shown)| *shown);
                format!("at once {} while {condition}", level(pin != shown))
            }
        }
    }

    fn foot(&self) -> String {
        let f = self.fitted;
        let rail = |rail: Rail| {
            let pins: Vec<String> = f.supplies.iter().filter(|s| s.rail == rail).map(|s| s.pin.to_string()).collect();
            pins.join(", ")
        };
        let (vcc, gnd) = (rail(Rail::Vcc), rail(Rail::Gnd));
        let word = |pins: &str| if pins.contains(',') { "pins" } else { "pin" };
        let mut text = format!("\nPins\n{INDENT}supply: {} {vcc}, ground: {} {gnd}\n", word(&vcc), word(&gnd));
        if !f.unused.is_empty() {
            let pins: Vec<String> = f.unused.iter().map(ToString::to_string).collect();
            let _ = writeln!(text, "{INDENT}without a signal, never driven: {}", pins.join(", "));
        }
        // what stands beside an equation already is not said again
        let beside = |n: &&Note| {
            matches!(
                n,
                Note::Steadies { .. }
                    | Note::BuriedRegister { .. }
                    | Note::DrivenRegister { .. }
                    | Note::Isolated { .. }
                    | Note::SpareInputs { .. }
                    | Note::SpareMacrocells { .. }
            )
        };
        let rest: Vec<&Note> = f.notes.iter().filter(|n| !beside(n)).collect();
        if !rest.is_empty() {
            text.push_str("\nTo know\n");
            rest.iter().for_each(|note| {
                let _ = writeln!(text, "{INDENT}{note}");
            });
        }
        text
    }
}
