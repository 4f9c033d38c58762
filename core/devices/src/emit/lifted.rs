//! Equations of a fuse map whose source nobody has: by pins, in the notation of ISO 80000-2.
use std::fmt::Write;

use crate::device::{Cell, Device, Enable, EnableSource, Function, Inverter, Literal, Plan, Source, Term};

/// What a device does by its plan, as text for a person: one equation for each macrocell, over pins and registers.
///
/// A pin's name stands for a high level on it, a register's for what it holds.
pub fn lifted_equations(device: &Device, plan: &Plan) -> String {
    let names = Names { plan };
    let mode = device.mode(plan.mode);
    let of_mode = mode.map(|m| m.name).filter(|name| !name.is_empty());
    let mut text = format!(
        "A {}{} by its fuses. A pin's name stands for a high level on it, a register's for what it holds.\n",
        device.name,
        of_mode.map(|name| format!(" in {name} mode")).unwrap_or_default()
    );
    let clock = mode.and_then(|m| m.clock).map_or_else(|| "its clock".to_owned(), |pin| format!("pin {pin}"));
    for (pin, cell) in &plan.cells {
        let (sum, not_sum) = names.sums(cell);
        text.push('\n');
        match cell.function {
            Function::Registered => {
                let (loads, shows) = match (device.inverter, cell.inverted) {
                    (Inverter::AfterRegister, inverted) => (&sum, inverted),
                    (Inverter::BeforeRegister, true) => (&sum, true),
                    (Inverter::BeforeRegister, false) => (&not_sum, true),
                };
                let shown = if shows { format!("¬register {pin}") } else { format!("register {pin}") };
                let _ = writeln!(text, "register {pin}, when {clock} rises, takes {loads}");
                let _ = writeln!(text, "pin {pin} = {shown}{}", names.enable(device, plan, *pin, cell));
            }
            _ => {
                let level = if cell.inverted { &not_sum } else { &sum };
                let _ = writeln!(text, "pin {pin} = {level}{}", names.enable(device, plan, *pin, cell));
            }
        }
    }
    for (what, term) in [("go low at once", &plan.reset), ("go high with the next rise of the clock", &plan.preset)] {
        if let Some(term) = term {
            let _ = writeln!(text, "\nall registers {what} while {}", names.term(term));
        }
    }
    text
}

struct Names<'a> {
    plan: &'a Plan,
}

impl Names<'_> {
    fn literal(&self, literal: &Literal) -> String {
        let pin = literal.source.pin();
        let registered = self.plan.cells.get(&pin).is_some_and(|c| c.function == Function::Registered);
        match literal.source {
            // the feedback of a register is its complement
            Source::Feedback(_) if registered && literal.complement => format!("register {pin}"),
            Source::Feedback(_) if registered => format!("¬register {pin}"),
            _ if literal.complement => format!("¬pin {pin}"),
            _ => format!("pin {pin}"),
        }
    }

    fn term(&self, term: &Term) -> String {
        match term.0.as_slice() {
            [] => "true".to_owned(),
            [one] => self.literal(one),
            all => format!("({})", all.iter().map(|l| self.literal(l)).collect::<Vec<_>>().join(" ∧ ")),
        }
    }

    /// What a macrocell takes, and its complement: a sum, or the exclusive-or of two.
    fn sums(&self, cell: &Cell) -> (String, String) {
        if cell.exclusive.is_empty() {
            return (self.sum(&cell.terms), self.not_sum(&cell.terms));
        }
        let both = format!("({}) ⊕ ({})", self.sum(&cell.terms), self.sum(&cell.exclusive));
        let not_both = format!("¬({both})");
        (both, not_both)
    }

    fn sum(&self, terms: &[Term]) -> String {
        match terms {
            [] => "false".to_owned(),
            all => all.iter().map(|t| self.term(t)).collect::<Vec<_>>().join(" ∨ "),
        }
    }

    fn not_sum(&self, terms: &[Term]) -> String {
        match terms {
            [] => "true".to_owned(),
            [Term(one)] => match one.as_slice() {
                [] => "false".to_owned(),
                [literal] => self.literal(&Literal { complement: !literal.complement, ..*literal }),
                _ => format!("¬{}", self.sum(terms)),
            },
            _ => format!("¬({})", self.sum(terms)),
        }
    }

    fn enable(&self, device: &Device, plan: &Plan, pin: u16, cell: &Cell) -> String {
        match &cell.enable {
            Enable::Always => String::new(),
            Enable::Never => ", never driven".to_owned(),
            Enable::While(term) => format!(", driven while {}", self.term(term)),
            Enable::Pin => {
                let configuration = device.mode(plan.mode).and_then(|m| m.macrocell(pin)?.configuration(cell.function));
                match configuration.map(|c| c.enable) {
                    Some(EnableSource::Pin(enable)) => format!(", driven while ¬pin {enable}"),
                    _ => ", driven while the enable pin is low".to_owned(),
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::find;

    #[test]
    fn both_sums_of_an_exclusive_or_are_listed() {
        let device = find("20X8").unwrap();
        let high = |pin| Term(vec![Literal::high(Source::Pin(pin))]);
        let held = Term(vec![Literal::low(Source::Feedback(22))]);
        let cell = Cell {
            function: Function::Registered,
            inverted: true,
            enable: Enable::Pin,
            terms: vec![high(2), high(3)],
            exclusive: vec![held],
        };
        let plan = Plan { cells: [(22, cell)].into(), ..Plan::default() };
        let text = lifted_equations(device, &device.decode(&device.encode(&plan).unwrap()).unwrap());
        let line = "register 22, when pin 1 rises, takes (pin 2 ∨ pin 3) ⊕ (register 22)\n";
        assert!(text.contains(line) && text.contains("pin 22 = ¬register 22, driven while ¬pin 13\n"), "{text}");
    }
}
