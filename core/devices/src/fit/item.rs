//! What needs a pin of the device.
use super::demand::Demands;
use gluewright_kernel::circuit::Label;

/// Something that needs a pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Item {
    /// The clock of all registers: the variable.
    Clock(usize),
    /// The pin that enables all registers: the variable of its contact.
    Enable(usize),
    /// A macrocell: index in [`Demands::list`].
    Macrocell(usize),
    /// An input that the array reads: the variable.
    Input(usize),
}

/// The contact of an item.
pub(super) fn label(demands: &Demands, item: Item) -> Option<&Label> {
    let input = |v: usize| demands.logic.inputs.iter().find(|i| i.variable == v).map(|i| &i.label);
    match item {
        Item::Clock(v) | Item::Enable(v) | Item::Input(v) => input(v),
        Item::Macrocell(i) => {
            let output = demands.list.get(i)?.output?;
            demands.logic.outputs.get(output).map(|o| &o.label)
        }
    }
}
