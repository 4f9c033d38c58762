//! Nets by what drives them, and levels.
use gluewright_kernel::circuit::{Driver, Expr, NetId, Op, Stage};

use super::text::{Text, any};
use super::{Texts, package};
use crate::draft::fields::{Sense, is_always};

impl Texts<'_> {
    pub(super) fn net(&mut self, n: NetId, high: bool) -> Text {
        if let Some(f) = self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)) {
            return match f.sense {
                Sense::Low | Sense::High => {
                    Text::whole(format!("{}.asserted()", self.path(f))).is((f.sense == Sense::High) == high)
                }
                Sense::Data | Sense::Clock => {
                    Text::whole(format!("{}.level().{}", self.path(f), if high { "is_high()" } else { "is_low()" }))
                }
            };
        }
        let circuit = self.circuit;
        let Some(net) = circuit.nets().get(n.index()) else { return Text::constant(false) };
        let reads_high = net.undriven_level() != Some(false);
        let mut text = self.merged(&net.drivers, reads_high, high);
        text.from.extend(net.drivers.iter().filter_map(|d| package(&d.by)));
        text
    }

    /// The level of a net from all its drivers: where two disagree, low wins.
    pub(super) fn merged(&mut self, drivers: &[Driver], undriven: bool, high: bool) -> Text {
        if let [d] = drivers
            && d.enable == Expr::HIGH
        {
            return self.text(d.level, high);
        }
        let down: Vec<Text> = drivers.iter().map(|d| self.pulls(d, false)).collect();
        if undriven {
            let low = any(&down);
            return low.is(!high);
        }
        let up: Vec<Text> = drivers.iter().map(|d| self.pulls(d, true)).collect();
        let (up, down) = (any(&up), any(&down));
        Text::of_two(&up, &Text::not(&down), true).is(high)
    }

    /// While a driver drives this level.
    pub(super) fn pulls(&mut self, d: &Driver, high: bool) -> Text {
        let level = self.text(d.level, high);
        if d.enable == Expr::HIGH {
            return level;
        }
        let enable = self.text(d.enable, true);
        if self.circuit.op(d.level) == Op::Constant(high) {
            return enable;
        }
        Text::of_two(&enable, &level, true)
    }

    /// While one of several drivers of a contact is on, and what level it then shows is low.
    pub(in crate::draft) fn driven(&mut self, drivers: &[Driver]) -> (Option<String>, String) {
        let on: Vec<Text> = drivers
            .iter()
            .map(|d| match d.stage {
                // an open collector that lets go drives nothing
                Stage::OpenCollector => self.pulls(d, false),
                _ => self.text(d.enable, true),
            })
            .collect();
        let always = drivers.iter().any(is_always);
        let low: Vec<Text> = drivers.iter().map(|d| self.pulls(d, false)).collect();
        let on = if always { None } else { Some(self.words(any(&on))) };
        (on, self.words(any(&low)))
    }

    /// The level of an expression, or its complement.
    pub(in crate::draft) fn level(&mut self, e: Expr, inverted: bool) -> String {
        let (bare, odd) = self.bare(e);
        let inverted = inverted != odd;
        let sign = if inverted { "!" } else { "" };
        match self.circuit.op(bare) {
            Op::Constant(level) => if level != inverted { "Level::HIGH" } else { "Level::LOW" }.to_owned(),
            Op::Net(n) => match self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)) {
                Some(f) => format!("{sign}{}.level()", self.path(f)),
                None => self.high_while(bare, !inverted),
            },
            Op::Q(x) => self.bit_level(x, inverted),
            Op::Choose(c, a, b) if !self.is_named(bare) => {
                let when = self.text(c, true);
                if let Some(first) = when.constant {
                    return self.level(if first { a } else { b }, inverted);
                }
                let c = self.words(when);
                let [a, b] = [a, b].map(|x| self.level(x, inverted));
                format!("choose({c}, {a}, {b})")
            }
            _ => self.high_while(bare, !inverted),
        }
    }
}
