//! Signals of a circuit that has no source, by their names: what a property of a traced board reads.
use std::panic::Location;

use super::arena::{self, Build, level_of};
use super::driven::driven;
use super::error::{BuildError, Mistake};
use super::level::{Assertion, Level};
use super::stopped;
use crate::circuit::{Circuit, Expr, Label, Origin};
use crate::nearest::{mistyped, nearest};

/// A circuit without a source: a traced board, a device lifted from its fuses.
#[derive(Debug)]
pub struct Traced(());

impl Traced {
    /// The level at a contact, of a net, or what a register or latch holds: `b.level("read_n").is_low()`. A contact is found
    /// by its name, or else by its label.
    #[track_caller]
    pub fn level(&self, name: &str) -> Level {
        let origin = Origin::from(Location::caller());
        Level(level_of(|b| {
            let net = contact(&b.circuit, name).or_else(|| b.circuit.find_net(name));
            if let Some(net) = net {
                return b.circuit.net(net);
            }
            match b.circuit.find_element(name) {
                Some(element) => b.circuit.q(element),
                None => no_such(b, "net, register or latch", name, origin),
            }
        }))
    }

    /// True while the board's own drivers drive this contact, or one of the other drivers of this net is on.
    #[track_caller]
    pub fn drives(&self, name: &str) -> Assertion {
        let origin = Origin::from(Location::caller());
        Assertion(level_of(|b| match contact(&b.circuit, name).or_else(|| b.circuit.find_net(name)) {
            Some(net) => driven(&mut b.circuit, &[net], &[name.to_owned()]),
            None => no_such(b, "contact or net", name, origin),
        }))
    }
}

fn contact(circuit: &Circuit, name: &str) -> Option<crate::circuit::NetId> {
    let label = Label::new(name);
    let all = circuit.contacts();
    all.iter().find(|c| c.name == name).or_else(|| all.iter().find(|c| c.label == label)).map(|c| c.net)
}

fn no_such(b: &mut Build, what: &'static str, name: &str, origin: Origin) -> Expr {
    let c = &b.circuit;
    let contacts = c.contacts().iter().map(|c| c.name.as_str());
    let all =
        contacts.chain(c.nets().iter().map(|n| n.name.as_str())).chain(c.elements().iter().map(|e| e.name.as_str()));
    let near = nearest(name, all, mistyped(name)).first().map(|near| (*near).to_owned());
    let circuit = c.name.clone();
    b.mistake(Mistake::NoSuchName { circuit, what, name: name.to_owned(), near, origin });
    Expr::LOW
}

/// The circuit with the conditions that `describe` makes over it.
///
/// # Errors
/// A name that nothing has; what can't be right in what `describe` does, with file and line.
pub fn over<T>(circuit: Circuit, describe: impl FnOnce(&Traced) -> T) -> Result<(Circuit, T), BuildError> {
    let open = arena::Open::over(circuit);
    match stopped::caught(|| describe(&Traced(()))) {
        Ok(made) => open.close().map(|(circuit, _)| (circuit, made)),
        Err(mistake) => Err(open.stop(mistake)),
    }
}
