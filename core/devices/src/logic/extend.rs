//! Nodes that a fit adds to a collapsed circuit: a condition that needs a macrocell, a part of a wide function.
use std::collections::BTreeSet;

use super::{Diagram, Logic, Node, Signal, SignalInfo};
use gluewright_kernel::circuit::{Origin, Polarity};

impl Logic {
    /// A variable that stands for a function: an output that always shows it or its complement if there is one (with
    /// `true` if it is the complement), a kept node, or a new node of this name.
    pub fn node_for(&mut self, function: Diagram, name: &str, origin: &Origin) -> (usize, bool) {
        let complement = self.diagrams.not(function);
        if let Some(node) = self.nodes.iter().find(|n| n.level == function || n.level == complement) {
            return (node.variable, node.level == complement);
        }
        let always = |o: &&mut super::Output| o.enable == Diagram::HIGH && o.shows.is_none();
        let shown = self.outputs.iter_mut().filter(always).find(|o| o.level == function || o.level == complement);
        if let Some(output) = shown {
            let inverted = output.level == complement;
            let info = SignalInfo {
                signal: Signal::Wire(output.net),
                name: output.name.clone(),
                stands_for: None,
                label: Some(output.label.clone()),
                polarity: output.polarity,
            };
            let variable = *output.read_as.get_or_insert(self.signals.len());
            if variable == self.signals.len() {
                self.signals.push(info);
            }
            return (variable, inverted);
        }
        (self.add_node(function, name, origin), false)
    }

    /// Adds a node with this level and a name that nobody else has, and returns the variable that reads it.
    pub fn add_node(&mut self, level: Diagram, name: &str, origin: &Origin) -> usize {
        let variable = self.signals.len();
        let signal = Signal::Added(variable);
        let taken: BTreeSet<&str> = self
            .signals
            .iter()
            .map(|s| s.name.as_str())
            .chain(self.outputs.iter().map(|o| o.name.as_str()))
            .chain(self.idle.iter().map(|(_, name)| name.as_str()))
            .collect();
        let numbered = (2..).map(|n| format!("{name}_{n}"));
        let name = std::iter::once(name.to_owned()).chain(numbered).find(|n| !taken.contains(n.as_str()));
        let name = name.unwrap_or_default();
        self.signals.push(SignalInfo {
            signal,
            name: name.clone(),
            stands_for: None,
            label: None,
            polarity: Polarity::Data,
        });
        self.nodes.push(Node { net: None, name, variable, level, origin: origin.clone() });
        variable
    }
}
