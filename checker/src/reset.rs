//! A resistor and a capacitor at inputs: the net is at the capacitor's rail when power comes on, and then goes over for good.
//! What that clears or presets by itself is where the card starts; what also needs a clock, data or a loop is refused.
use anyhow::{Result, ensure};
use petgraph::algo::is_cyclic_directed;
use petgraph::graphmap::DiGraphMap;

use crate::graph::reach;
use crate::model::{Item, Model, Op};

/// The elements that a net clears or presets while it is held at a level, and what they then hold.
///
/// # Errors
/// Why that can't be told.
pub fn starts(model: &Model, net: usize, high: bool) -> Result<Vec<(usize, bool)>> {
    // what follows from what, up to elements
    let mut graph = DiGraphMap::<Item, ()>::new();
    for item in model.items() {
        for below in model.below(item).into_iter().filter(|b| !matches!(b, Item::Element(_))) {
            graph.add_edge(below, item, ());
        }
    }
    let reached = reach([Item::Net(net)], |item| graph.neighbors(item).collect());
    let within = |item: Item| reached.contains(&item);
    ensure!(
        !reached.iter().any(|&item| matches!(item, Item::Net(n) if model.nets[n].contact.is_some())),
        "a contact shows it to the board"
    );
    let hanging = graph.all_edges().filter(|(a, b, ())| within(*a) && within(*b));
    ensure!(!is_cyclic_directed(&hanging.collect::<DiGraphMap<Item, ()>>()), "a loop of gates hangs on it");
    let known = model.known(|id, known| match model.ops[id] {
        Op::Net(n) if n == net => Some(high),
        Op::Net(n) => model.known_net(n, known),
        Op::Held(e) | Op::Complement(e) => {
            let (clear, preset) = (known[model.elements[e].inputs[2]]?, known[model.elements[e].inputs[3]]?);
            let shown = if matches!(model.ops[id], Op::Held(_)) { preset } else { clear };
            (clear || preset).then_some(shown)
        }
        _ => None,
    });
    let mut all = Vec::new();
    for (i, element) in model.elements.iter().enumerate() {
        let [gate, _, clear, preset, _] = element.inputs;
        let level = match (known[clear], known[preset]) {
            (Some(true), Some(false)) => Some(false),
            (Some(false), Some(true)) => Some(true),
            _ => None,
        };
        ensure!(
            !within(Item::Element(i)) || level.is_some() && !within(Item::Op(gate)),
            "what `{}` then holds hangs on a clock, or on other levels",
            element.name
        );
        all.extend(level.map(|level| (i, level)));
    }
    Ok(all)
}
