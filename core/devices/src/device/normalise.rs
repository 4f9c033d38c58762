//! Plans in the one form that a fuse map can give back.
use super::{Cell, Device, Enable, EnableSource, Function, Macrocell, Mode, Plan, Term};

impl Device {
    /// The same plan as [`decode`](Device::decode) gives it back: literals in column order and each once, terms that are
    /// never true left out, macrocells that are as idle as encoding would leave them not listed, no padding behind the
    /// signature.
    pub fn normalise(&self, plan: &Plan) -> Plan {
        let mut plan = plan.clone();
        let Some(mode) = self.mode(plan.mode) else { return plan };
        for (&pin, cell) in &mut plan.cells {
            for terms in [&mut cell.terms, &mut cell.exclusive] {
                *terms = terms.iter().filter_map(|t| mode.term(t)).collect();
            }
            if let Enable::While(term) = &cell.enable {
                cell.enable = enable_while(mode.term(term));
            }
            if mode.macrocell(pin).is_some_and(|m| m.polarity.is_none()) {
                cell.inverted = true;
            }
        }
        plan.cells.retain(|&pin, cell| {
            cell.function != Function::Input && mode.macrocell(pin).is_none_or(|m| *cell != m.idle())
        });
        plan.reset = plan.reset.as_ref().and_then(|t| mode.term(t));
        plan.preset = plan.preset.as_ref().and_then(|t| mode.term(t));
        let used = plan.signature.iter().rposition(|&b| b != 0).map_or(0, |last| last + 1);
        plan.signature.truncate(used);
        plan
    }
}

impl Mode {
    /// The term with its literals in column order and each once; `None` if it is never true.
    pub(super) fn term(&self, term: &Term) -> Option<Term> {
        let mut literals = term.0.clone();
        literals.sort_by_key(|l| (self.pair(l.source).unwrap_or(usize::MAX), *l));
        literals.dedup();
        (!term.is_contradiction()).then_some(Term(literals))
    }
}

impl Macrocell {
    /// What an unused macrocell does: undriven if it can be.
    pub(super) fn idle(&self) -> Cell {
        let undriven = |e: EnableSource| matches!(e, EnableSource::Never | EnableSource::Row(_));
        let configuration = self
            .configuration(Function::Input)
            .or_else(|| self.configuration(Function::Combinational).filter(|c| undriven(c.enable)))
            .or_else(|| self.configurations.first());
        Cell {
            function: configuration.map_or(Function::Input, |c| c.function),
            inverted: self.polarity.is_none(),
            enable: match configuration.map(|c| c.enable) {
                Some(EnableSource::Pin(_)) => Enable::Pin,
                Some(EnableSource::Always) => Enable::Always,
                Some(EnableSource::Row(_) | EnableSource::Never) | None => Enable::Never,
            },
            terms: Vec::new(),
            exclusive: Vec::new(),
        }
    }
}

/// What a term in an enable row does; `None` is the row that is never true.
pub(super) fn enable_while(term: Option<Term>) -> Enable {
    match term {
        None => Enable::Never,
        Some(term) if term.0.is_empty() => Enable::Always,
        Some(term) => Enable::While(term),
    }
}
