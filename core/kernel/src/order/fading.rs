//! Pulses that the phases show and some order of changes does not: two changes reach one gate, and none is the cause of the
//! other.
use std::collections::HashMap;

use super::dependencies::{Signal, What};
use super::glitch::done;
use super::moving::Moving;
use super::waves::{Follows, Waves};
use crate::circuit::{Expr, NetId};
use crate::machine::Algebra;

impl Moving {
    /// The ways of two changes that meet at a gate on the way to a net, none the cause of the other; nothing if there are none.
    pub(crate) fn meets(&self, net: NetId) -> Option<[Vec<Signal>; 2]> {
        let mut open = vec![self.ways.of_net(net)];
        let mut known = open.clone();
        while let Some(s) = open.pop() {
            // what a register shows is asked about at its clock
            if matches!(self.ways.what(s), What::Element(_)) || self.round(s).is_some() {
                continue;
            }
            let movers = self.movers(self.ways.acting.get(s.index())?);
            for (i, &a) in movers.iter().enumerate() {
                if let Some(&b) = movers.iter().skip(i + 1).find(|&&b| self.is_unordered(a, b)) {
                    let (a, b) = self.ways_to(a, b);
                    return Some([a, b]);
                }
            }
            for m in movers {
                if !known.contains(&m) {
                    known.push(m);
                    open.push(m);
                }
            }
        }
        None
    }

    fn is_unordered(&self, a: Signal, b: Signal) -> bool {
        !self.dominates(a, b) && !self.dominates(b, a)
    }
}

impl<A: Algebra> Waves<'_, A> {
    /// Where a net pulses in the phases, or something that drives it, and in some order of changes does not.
    pub(crate) fn fades(&mut self, net: NetId) -> A::Value {
        let moving = self.moving;
        let Some(driven) = moving.ways.circuit.nets().get(net.index()) else { return self.no };
        let drivers: Vec<Expr> = driven.drivers.iter().flat_map(|d| [d.enable, d.level]).collect();
        let acting = moving.ways.acting.get(moving.ways.of_net(net).index());
        self.prepare(&acting.into_iter().collect::<Vec<_>>());
        let mut known = HashMap::new();
        let mut any = self.follower_fades(Follows::Net(net), &mut known);
        for e in drivers {
            let here = self.follower_fades(Follows::Level(e), &mut known);
            any = self.algebra.or(any, here);
        }
        any
    }

    fn follower_fades(&mut self, of: Follows, known: &mut HashMap<Signal, A::Value>) -> A::Value {
        let moving = self.moving;
        let ways = &moving.ways;
        let (levels, signals) = match of {
            Follows::Net(n) => (self.of_signal(ways.of_net(n)), ways.acting[ways.of_net(n).index()].clone()),
            Follows::Level(e) => (self.levels(e), ways.leaves(&[e])),
        };
        let pulses = self.wiggles(&levels);
        if pulses == self.no {
            return self.no;
        }
        let mut changing = moving.movers(&signals);
        changing.retain(|&m| self.happens(m) != self.no);
        // what pulses itself, and what else comes at any time
        let (mut fades, mut pulsing) = (self.no, self.no);
        for &m in &changing {
            let course = self.of_signal(m);
            let pulse = self.wiggles(&course);
            if pulse == self.no {
                continue;
            }
            pulsing = self.algebra.or(pulsing, pulse);
            let own = self.signal_fades(m, known);
            fades = self.algebra.or(fades, own);
            for &other in changing.iter().filter(|&&o| o != m && moving.is_unordered(o, m)) {
                let comes = self.happens(other);
                let here = self.algebra.and(pulse, comes);
                fades = self.algebra.or(fades, here);
            }
        }
        // the others change once each
        let steady = self.algebra.not(pulsing);
        let calm = match self.sets(&changing) {
            Some(allowed) => self.calm(of, &changing, &allowed),
            None => self.yes,
        };
        let calm = self.algebra.and(steady, calm);
        fades = self.algebra.or(fades, calm);
        self.algebra.and(pulses, fades)
    }

    fn signal_fades(&mut self, s: Signal, known: &mut HashMap<Signal, A::Value>) -> A::Value {
        if let Some(&fades) = known.get(&s) {
            return fades;
        }
        let fades = match self.moving.ways.what(s) {
            What::Net(n) if self.moving.round(s).is_none() => self.follower_fades(Follows::Net(n), known),
            What::Net(_) | What::Element(_) => self.no,
        };
        known.insert(s, fades);
        fades
    }

    /// Where some order of these changes lets a level change once at most.
    fn calm(&mut self, of: Follows, changing: &[Signal], allowed: &[u32]) -> A::Value {
        // for each set that may have come: where it can have been reached without a change, and with one
        let mut reached: HashMap<u32, [A::Value; 2]> = HashMap::new();
        let mut stood = self.no;
        for &set in allowed {
            let level = self.follower(of, &|s| done(changing, set, s)).high;
            if set == 0 {
                stood = level;
                reached.insert(set, [self.yes, self.no]);
                continue;
            }
            let (mut before, mut after) = (self.no, self.no);
            for bit in (0..changing.len()).filter(|bit| (set >> bit) & 1 == 1) {
                let Some(&[none, one]) = reached.get(&(set & !(1 << bit))) else { continue };
                before = self.algebra.or(before, none);
                after = self.algebra.or(after, one);
            }
            let differs = self.algebra.xor(level, stood);
            let same = self.algebra.not(differs);
            let once = self.algebra.or(before, after);
            let here = [self.algebra.and(before, same), self.algebra.and(once, differs)];
            reached.insert(set, here);
        }
        let last = allowed.last().and_then(|set| reached.get(set)).copied().unwrap_or([self.yes; 2]);
        self.algebra.or(last[0], last[1])
    }
}
