//! Random boards drawn by the statistics of published ones: the share of each type, how many pins a net has, how clocks and
//! clears are wired.
use std::fmt::Write;

use gluewright::board::{Library, PinRole};
use gluewright::circuit::{Polarity, Stage};
use gluewright_parts::ttl;

use crate::gates::Numbers;

/// Packages of each type. Source: published boards, counted (six boards, 81 packages of TTL, 60 of them here: those with
/// 48 pins are left out, for a drawn board would be all one package, and so are the drivers of displays).
pub const TYPES: [(&str, usize); 14] = [
    ("74LS193", 16),
    ("74LS541", 16),
    ("74LS90", 6),
    ("74LS138", 5),
    ("74LS00", 4),
    ("74LS573", 4),
    ("74LS688", 2),
    ("74LS245", 2),
    ("74LS244", 2),
    ("74LS377", 1),
    ("CD4060", 1),
    ("74LS174", 1),
    ("74LS93", 1),
    ("74LS01", 1),
];

/// Nets by how many pins of logic they have: two, three, … nine. Source: published boards, counted (266 nets of more than
/// one pin).
pub const FAN_OUT: [usize; 8] = [91, 83, 40, 23, 0, 1, 24, 4];

/// Clock pins, and the nets that they are on: most have a net of their own, few share one. Source: published boards, counted.
pub const CLOCKS: (usize, usize) = (34, 31);

/// The statistics, for whoever reads a campaign's table.
pub fn statistics() -> String {
    let mut text = "published boards, counted: packages by type".to_owned();
    for (kind, count) in TYPES {
        let _ = write!(text, " {kind} {count}");
    }
    let _ = write!(text, "; nets of 2 to 9 pins {FAN_OUT:?}; {} clock pins on {} nets", CLOCKS.0, CLOCKS.1);
    text + "; clears on a net or left at their rail: one to one, common practice, no source"
}

fn weighted(n: &mut Numbers, weights: &[usize]) -> usize {
    let mut at = n.below(weights.iter().sum());
    for (i, &w) in weights.iter().enumerate() {
        match at.checked_sub(w) {
            Some(less) => at = less,
            None => return i,
        }
    }
    0
}

/// A board's trace with this many packages, drawn. What can float is pulled up.
pub fn trace(n: &mut Numbers, packages: usize, inputs: usize) -> String {
    let mut rows = "ref,part,pin,net\n".to_owned();
    // nets that may be read, and how many pins more they take
    let mut open: Vec<(String, usize)> = Vec::new();
    let room = |n: &mut Numbers| 1 + weighted(n, &FAN_OUT);
    for i in 0..inputs {
        rows += &format!("J1,contacts,{},in{i}\n", i + 1);
        open.push((format!("in{i}"), room(n) + 1));
    }
    let mut clocks: Vec<String> = vec!["in0".to_owned()];
    let mut shown = Vec::new();
    for u in 1..=packages {
        let kind = TYPES[weighted(n, &TYPES.map(|t| t.1))].0;
        let Some(part) = ttl().part(kind) else { continue };
        let polarity = |label: &gluewright::circuit::Label| {
            part.circuit().contacts().iter().find(|c| c.label == *label).map_or(Polarity::Data, |c| c.polarity)
        };
        let mut outputs = Vec::new();
        for (label, role) in part.pins() {
            let net = match role {
                PinRole::Supply(rail) => if rail == gluewright::circuit::Rail::Vcc { "VCC" } else { "GND" }.to_owned(),
                PinRole::Output(stage) | PinRole::InOut(stage) => {
                    let net = format!("u{u}_{label}");
                    if stage != Stage::PushPull {
                        rows += &format!("R{u}{label},resistor 4k7,1,VCC\nR{u}{label},resistor 4k7,2,{net}\n");
                    }
                    outputs.push(net.clone());
                    net
                }
                PinRole::Input => match polarity(label) {
                    Polarity::Clock if n.below(CLOCKS.0) >= CLOCKS.1 => clocks[n.below(clocks.len())].clone(),
                    Polarity::ActiveLow if n.below(2) == 0 => "VCC".to_owned(),
                    Polarity::ActiveHigh if n.below(2) == 0 => "GND".to_owned(),
                    _ => {
                        let at = n.below(open.len());
                        let net = open[at].0.clone();
                        open[at].1 = open[at].1.saturating_sub(1);
                        if open[at].1 == 0 && open.len() > 2 {
                            open.swap_remove(at);
                        }
                        if polarity(label) == Polarity::Clock {
                            clocks.push(net.clone());
                        }
                        net
                    }
                },
                _ => continue,
            };
            rows += &format!("U{u},{kind},{label},{net}\n");
        }
        for net in outputs {
            if n.below(3) == 0 {
                shown.push(net.clone());
            }
            let room = room(n);
            open.push((net, room));
        }
    }
    while shown.len() > 6 {
        shown.swap_remove(n.below(shown.len()));
    }
    for (i, net) in shown.iter().enumerate() {
        rows += &format!("J1,contacts,{},{net}\n", 41 + i);
    }
    rows
}
