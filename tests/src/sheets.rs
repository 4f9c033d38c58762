//! How slow each net and each element of a board may be by the sheets of its packages: the jury's own reading of the trace
//! and of the figures that the parts crate holds. The sheets give longest delays only; 1 ns is the shortest here.
use std::collections::HashMap;

use gluewright::board::Library;
use gluewright::circuit::{Circuit, Label};
use gluewright_parts::ttl;

use crate::timed::SLOWEST;

/// The longest delay of every net, then of every element, in ns. What a package holds and what drives its pin share what the
/// sheet gives from pin to pin; a net within a package adds nothing; of what no sheet speaks [`SLOWEST`] is taken.
pub fn longest(circuit: &Circuit, trace: &str) -> Vec<u64> {
    let mut nets: HashMap<&str, u64> = HashMap::new();
    let mut packages: HashMap<&str, u64> = HashMap::new();
    let holds = |reference: &str| {
        circuit.elements().iter().any(|e| e.name.split_once('.').is_some_and(|(package, _)| package == reference))
    };
    for row in trace.lines().skip(1) {
        let [reference, kind, pin, net] = row.split(',').collect::<Vec<_>>()[..] else { continue };
        let Some(part) = ttl().part(kind) else { continue };
        let pin = Label::from(pin);
        let to_pin = part.figures().into_iter().flat_map(|f| &f.delays).filter(|d| d.to == pin);
        let Some(most) = to_pin.map(|d| d.most.value.ceil() as u64).max() else { continue };
        let most = if holds(reference) { most.div_ceil(2) } else { most };
        let slot = packages.entry(reference).or_default();
        *slot = most.max(*slot);
        let slot = nets.entry(net).or_default();
        *slot = most.max(*slot);
    }
    let of_net = circuit.nets().iter().map(|net| match net.name.split_once('.') {
        Some((package, _)) if packages.contains_key(package) => 1,
        _ => nets.get(&*net.name).copied().unwrap_or(SLOWEST),
    });
    let of_element = circuit.elements().iter().map(|e| {
        let package = e.name.split_once('.').map_or("", |(package, _)| package);
        packages.get(package).copied().unwrap_or(SLOWEST)
    });
    of_net.chain(of_element).collect()
}

/// The longest delays of a circuit of which no sheet speaks.
pub fn any(circuit: &Circuit) -> Vec<u64> {
    vec![SLOWEST; circuit.nets().len() + circuit.elements().len()]
}
