//! What an untraced part of the original leaves to prove: the contacts outside its fan-out.
use crate::circuit::Circuit;

use super::pair::{ORIGINAL, Pair};

/// Something of the original that nobody has traced to its end.
#[derive(Clone, Debug)]
pub(super) struct Gap {
    /// The net that it touches.
    pub(super) net: Option<String>,
    pub(super) why: String,
}

/// A contact that is not compared.
#[derive(Clone, Debug)]
pub(super) struct LeftOut {
    pub(super) contact: usize,
    /// The contact and why, for messages.
    pub(super) words: String,
}

/// The contacts whose logic in the original touches a gap, through gates, registers and latches.
pub(super) fn left_out(original: &Circuit, pair: &Pair, gaps: &[Gap]) -> Vec<LeftOut> {
    let mut all: Vec<LeftOut> = Vec::new();
    for gap in gaps {
        let Some(name) = &gap.net else { continue };
        let touched = original.fan_out(original.find_net(name), |_| true);
        for (contact, joined) in pair.contacts.iter().enumerate() {
            let of = joined.ports[ORIGINAL].and_then(|p| original.contacts().get(p));
            let hangs = of.is_some_and(|c| touched.contains(c.net));
            if hangs && !all.iter().any(|l| l.contact == contact) {
                all.push(LeftOut { contact, words: format!("{} {}: {}", joined.label, joined.name, gap.why) });
            }
        }
    }
    all.sort_by_key(|l| l.contact);
    all
}
