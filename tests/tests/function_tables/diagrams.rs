//! Logic diagrams, gate by gate, against the parts as they are written: equal by proof, and not by proof with one gate changed.
use std::collections::BTreeMap;

use gluewright::board::PinRole;
use gluewright::circuit::{By, Circuit, Contact, Driver, Expr, NetId, Origin, Stage};
use gluewright::prove::{Failure, Question};
use gluewright_parts::ttl;

use super::bench::logic_of;
use super::equations::{Equations, Formula};

/// The circuit that the equations of a part say, with a net for each line.
fn drawn(equations: &Equations<'_>, change: impl Fn(&str, Formula) -> Formula) -> Circuit {
    let kind = ttl().find(equations.part).unwrap_or_else(|e| panic!("{e}")).kind;
    let (sheet, logic) = (&kind.sheets()[0], kind.logic().unwrap_or_else(|| panic!("{} has no logic", equations.part)));
    let mut c = Circuit::new(equations.part);
    let mut nets: BTreeMap<&str, NetId> = BTreeMap::new();
    for contact in logic.contacts() {
        let pin = sheet.pin(&contact.label).unwrap_or_else(|| panic!("no pin {}", contact.label));
        let net = c.add_net(&pin.name, Origin::Nowhere);
        nets.insert(&pin.name, net);
        c.add_contact(Contact { net, ..contact.clone() });
    }
    for &(_, name, _) in &equations.lines {
        if !name.ends_with(".oe") && !nets.contains_key(name) {
            nets.insert(name, c.add_net(name, Origin::Nowhere));
        }
    }
    let formulas: BTreeMap<&str, Formula> =
        equations.lines.iter().map(|&(_, name, text)| (name, change(name, Formula::read(text)))).collect();
    for (name, formula) in formulas.iter().filter(|(name, _)| !name.ends_with(".oe")) {
        let level = built(&mut c, formula, &nets);
        let enabled = match formulas.get(format!("{name}.oe").as_str()) {
            Some(enable) => built(&mut c, enable, &nets),
            None => Expr::HIGH,
        };
        let stage = match sheet.pin_named(name).map(|p| p.role) {
            Some(PinRole::Output(stage) | PinRole::InOut(stage)) => stage,
            _ => Stage::PushPull,
        };
        let (enable, level) = if stage == Stage::OpenCollector {
            let low = c.not(level);
            (c.and(enabled, low), Expr::LOW)
        } else {
            (enabled, level)
        };
        c.drive(
            nets[name],
            Driver { enable, level, stage, by: By::signal((*name).to_owned()), origin: Origin::Nowhere },
        );
    }
    c
}

fn built(c: &mut Circuit, formula: &Formula, nets: &BTreeMap<&str, NetId>) -> Expr {
    match formula {
        Formula::Name(name) => c.net(nets[name.as_str()]),
        Formula::Not(a) => {
            let a = built(c, a, nets);
            c.not(a)
        }
        Formula::And(a, b) => {
            let (a, b) = (built(c, a, nets), built(c, b, nets));
            c.and(a, b)
        }
        Formula::Or(a, b) => {
            let (a, b) = (built(c, a, nets), built(c, b, nets));
            c.or(a, b)
        }
        Formula::Xor(a, b) => {
            let (a, b) = (built(c, a, nets), built(c, b, nets));
            c.xor(a, b)
        }
    }
}

/// Asks whether the part as it is written does what its diagram does, and the other way round.
pub(crate) fn compare(equations: &Equations<'_>) -> Result<(), Failure> {
    let diagram = drawn(equations, |_, f| f);
    let written = logic_of(equations.part);
    Question::new(diagram.clone(), written.clone()).ask()?;
    Question::new(written, diagram).ask().map(drop)
}

/// Asks the same with one gate inverted.
pub(crate) fn compare_with_a_wrong_gate(equations: &Equations<'_>, gate: &str) -> Result<(), Failure> {
    let diagram = drawn(equations, |name, f| if name == gate { Formula::Not(Box::new(f)) } else { f });
    let written = logic_of(equations.part);
    Question::new(diagram, written).ask().map(drop)
}
