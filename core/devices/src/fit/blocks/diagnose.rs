//! The first reason why a circuit has no place in a device of logic blocks, and what would help.
use super::Site;
use super::globals::Globals;
use super::locks::locks;
use super::needs::Needs;
use super::partition::partition;
use super::pins::Pins;
use crate::device::Function;
use crate::fit::NoFit;
use gluewright_kernel::circuit::Label;

/// Whether there are enough terms, macrocells and pins at all.
pub(super) fn counts(needs: &Needs, site: Site<'_>, globals: &Globals) -> Result<(), NoFit> {
    let device = site.device.name;
    for need in &needs.list {
        if globals.span(need) > site.blocks.chain.value {
            return Err(NoFit::TooWide {
                signal: need.name.clone(),
                needed: need.terms.len(),
                fewest: need.fewest,
                widest: site.blocks.widest() - globals.terms_taken(need),
                spare: site.blocks.macrocells.len().saturating_sub(needs.list.len()),
                device,
                mode: "",
                origin: need.origin.clone(),
            });
        }
    }
    let (needed, available) = (needs.list.iter().map(|n| globals.span(n)).sum::<usize>(), site.blocks.macrocells.len());
    if needed > available {
        return Err(NoFit::TooManyMacrocells {
            needed,
            available,
            device,
            mode: "",
            list: list(needs, globals),
            mend: "Leave out a signal, write a sum that borrows terms as two nodes, or choose a larger device".into(),
        });
    }
    let outputs = needs.list.iter().filter(|n| n.output.is_some()).count();
    let (inputs, pins) = (needs.inputs().len(), site.signal_pins().count());
    if inputs + outputs > pins {
        let over = inputs + outputs - pins;
        let port = if site.wishes.port { site.blocks.port.len() } else { 0 };
        return Err(NoFit::TooFewPins { inputs, outputs, available: pins, over, port, device });
    }
    Ok(())
}

/// What the macrocells are needed for.
fn list(needs: &Needs, globals: &Globals) -> String {
    let count = |f: &dyn Fn(&super::needs::Need) -> bool| needs.list.iter().filter(|n| f(n)).count();
    let outputs = count(&|n| n.output.is_some());
    let registers = count(&|n| n.output.is_none() && n.function == Function::Registered);
    let latches = count(&|n| n.output.is_none() && n.function == Function::Latch);
    let nodes = count(&|n| n.output.is_none() && n.function == Function::Combinational);
    let borrowed: usize = needs.list.iter().map(|n| globals.span(n) - 1).sum();
    let parts = [
        (outputs, "contact", "contacts"),
        (registers, "buried register", "buried registers"),
        (latches, "buried latch", "buried latches"),
        (nodes, "node", "nodes"),
        (borrowed, "macrocell that lends its terms", "macrocells that lend their terms"),
    ];
    let some = parts.into_iter().filter(|(n, ..)| *n > 0);
    some.map(|(n, one, many)| format!("{n} {}", if n == 1 { one } else { many })).collect::<Vec<_>>().join(", ")
}

/// Why no place was found though the counts are right.
pub(super) fn reason(needs: &Needs, site: Site<'_>, globals: &Globals) -> NoFit {
    let device = site.device.name;
    let limit = site.blocks.inputs.value;
    let locked = locks(needs, site);
    let free = Pins::unlocked(needs, site, globals);
    if !locked.is_empty() && partition(needs, site, globals, &free, limit).is_some() {
        if site.wishes.straight {
            let contact = needs.logic.outputs.first().map_or_else(|| Label::new("none"), |o| o.label.clone());
            let why = "the contacts leave some signal no macrocell: use an adapter".to_owned();
            return NoFit::NotStraight { contact, device, why };
        }
        return NoFit::PinnedTogether { contacts: locked.list(needs), circuit: needs.logic.name.clone(), device };
    }
    match partition(needs, site, globals, &free, usize::MAX) {
        Some(found) => NoFit::BlockInputs { found: found.widest, limit, device },
        None => NoFit::Chains { wide: wide(needs, globals), chain: site.blocks.chain.value, device },
    }
}

/// The signals that borrow terms.
fn wide(needs: &Needs, globals: &Globals) -> String {
    let wide = needs.list.iter().filter(|n| globals.span(n) > 1);
    let names: Vec<String> = wide.map(|n| format!("`{}` ({} terms)", n.name, n.terms.len())).collect();
    if names.is_empty() { "no signal".into() } else { names.join(", ") }
}
