//! Orders that typical delays of one board decide, where causality does not: sums along the ways from the last common cause.
//!
//! A delay is typically 0.6 of the sheet's longest (from memory: 9 of 15, 13 of 25, 12 of 18, 20 of 30 ns are the usual pairs
//! of the LS family), and the gates of one board keep within 20 % of that (common practice, no source). Setup and hold times
//! count by half.
use serde::Serialize;

use super::dependencies::{Signal, What};
use super::moving::Moving;
use super::{Doubt, Rule, Site};
use crate::circuit::{By, Net, NetId, Span};

/// A typical delay, as a share of the sheet's longest.
const TYPICAL: f64 = 0.6;
/// How far a gate of one board may be off, as a share of its typical delay.
const SPREAD: f64 = 0.2;
/// The share of a setup or hold time that is typically needed.
const NEEDED: f64 = 0.5;

/// What typical delays say of a register or latch whose data race its clock or gate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Typically {
    /// Whether it takes the new data: they come before the edge. Else the old.
    pub new: bool,
    /// The greatest spread at which the order still holds, as a share of the typical delays.
    pub spread: f64,
    /// The typical delays of what clocks or closes, from the last common cause, in ns: shortest and longest way.
    pub clock_ns: (f64, f64),
    /// Of the data.
    pub data_ns: (f64, f64),
}

impl Moving {
    /// What typical delays decide of this doubt: nothing where they leave it open, or a figure is missing.
    pub(crate) fn typically(&self, doubt: &Doubt) -> Option<Typically> {
        let (Site::Element(e), Rule::Race) = (doubt.site, doubt.rule) else { return None };
        let own = self.ways.of_element(e);
        let inputs = self.ways.inputs.get(own.index())?;
        let steady = self.ways.circuit.delays().steady_of(e);
        let mut decided: Option<Typically> = None;
        for k in self.movers(&inputs.clock) {
            for &d in &doubt.open {
                let here = self.pair(k, d, [steady.setup?, steady.hold?])?;
                decided = Some(match decided {
                    None => here,
                    Some(known) if known.new != here.new => return None,
                    Some(known) if known.spread <= here.spread => known,
                    Some(_) => here,
                });
            }
        }
        decided
    }

    /// The order of one clock and one of its data.
    fn pair(&self, k: Signal, d: Signal, [setup, hold]: [f64; 2]) -> Option<Typically> {
        // one net on both is neither before nor after itself
        let top = self.common(k, d).filter(|_| k != d)?;
        let (clock, data) = (self.span(top, k)?, self.span(top, d)?);
        // the first comes a gap before the second
        let spread = |first: Span, second: Span, gap: f64| {
            let (most, least) = (TYPICAL * first.most, TYPICAL * second.least);
            if most + least <= 0.0 { -1.0 } else { (least - most - gap) / (least + most) }
        };
        let new = spread(data, clock, NEEDED * setup);
        let old = spread(clock, data, NEEDED * hold);
        let (new, spread) = if new >= SPREAD {
            (true, new)
        } else if old >= SPREAD {
            (false, old)
        } else {
            return None;
        };
        let ns = |s: Span| (TYPICAL * s.least, TYPICAL * s.most);
        Some(Typically { new, spread, clock_ns: ns(clock), data_ns: ns(data) })
    }

    /// How long a change takes from a signal to one that it dominates, over all ways; nothing if one of them goes round, or
    /// a figure is missing.
    fn span(&self, top: Signal, to: Signal) -> Option<Span> {
        let mut known: Vec<Option<Span>> = vec![None; self.ways.count()];
        *known.get_mut(top.index())? = Some(Span::of(0.0));
        if top == to {
            return Some(Span::of(0.0));
        }
        // what stands on a way between the two
        let mut between = vec![false; self.ways.count()];
        let mut open = vec![to];
        while let Some(s) = open.pop() {
            if s == top || std::mem::replace(between.get_mut(s.index())?, true) {
                continue;
            }
            if self.round(s).is_some() {
                return None;
            }
            open.extend(self.movers(&self.ways.acting[s.index()]));
        }
        for &s in self.order.iter().filter(|s| between[s.index()]) {
            let mut here: Option<Span> = None;
            for m in self.movers(&self.ways.acting[s.index()]) {
                let through = self.through(m, s, &known)?;
                here = Some(here.map_or(through, |h| h.join(through)));
            }
            known[s.index()] = here;
        }
        known[to.index()]
    }

    /// How long a signal takes through one that moves it. A level inside a package stands for the pins that move it: the
    /// sheet's rows are from pin to pin.
    fn through(&self, by: Signal, to: Signal, known: &[Option<Span>]) -> Option<Span> {
        if self.net(by).is_none() || !self.is_inside(by) || self.is_inside(to) {
            return Some((*known.get(by.index())?)?.then(self.between(by, to)?));
        }
        let mut here: Option<Span> = None;
        for pin in self.movers(&self.ways.acting[by.index()]) {
            let through = self.through(pin, to, known)?;
            here = Some(here.map_or(through, |h| h.join(through)));
        }
        here
    }

    fn net(&self, s: Signal) -> Option<(NetId, &Net)> {
        match self.ways.what(s) {
            What::Net(n) => Some((n, self.ways.circuit.nets().get(n.index())?)),
            What::Element(_) => None,
        }
    }

    /// What a package stores, and its levels inside.
    fn is_inside(&self, s: Signal) -> bool {
        self.net(s)
            .is_none_or(|(_, n)| !n.drivers.is_empty() && n.drivers.iter().all(|d| matches!(d.by, By::Within { .. })))
    }

    /// The delay of one signal behind another that moves it.
    fn between(&self, from: Signal, to: Signal) -> Option<Span> {
        let Some((to, _)) = self.net(to).filter(|_| !self.is_inside(to)) else { return Some(Span::of(0.0)) };
        let from = if self.is_inside(from) { None } else { self.net(from).map(|(n, _)| n) };
        self.ways.circuit.delays().between(from, to)
    }
}
