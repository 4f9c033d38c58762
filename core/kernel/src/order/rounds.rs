//! Gates that feed back on themselves, whose inputs change one after the other or shake.
use std::collections::HashMap;

use super::waves::{Mode, Waves};
use super::ways::{Signal, What};
use crate::circuit::{Expr, Kind, NetId, Op};
use crate::machine::{Algebra, Rails};

impl<A: Algebra> Waves<'_, A> {
    /// Where gates that feed back on themselves may end otherwise than the phases say: their inputs change one after the
    /// other, or shake. (Let go from where they stood with these inputs undetermined, then brought to their new levels.)
    pub(super) fn race(&mut self, net: NetId) -> A::Value {
        let moving = self.moving;
        let ways = &moving.ways;
        let signal = ways.of_net(net);
        let Some(component) = moving.round(signal) else { return self.no };
        let members: Vec<Signal> =
            moving.order.iter().copied().filter(|&s| moving.round(s) == Some(component)).collect();
        let outer = moving.outer(&members);
        self.prepare(&[&outer]);
        // only changes at different moments, or pulses: what changes at one moment the machine asks itself
        let (mut apart, mut earlier) = (self.no, self.no);
        let courses: Vec<Vec<A::Value>> = outer.iter().map(|&s| self.of_signal(s)).collect();
        for phase in 1..=self.phases {
            let mut here = self.no;
            for course in &courses {
                let change = self.algebra.xor(course[phase - 1], course[phase]);
                here = self.algebra.or(here, change);
            }
            let again = self.algebra.and(earlier, here);
            apart = self.algebra.or(apart, again);
            earlier = self.algebra.or(earlier, here);
        }
        for &s in &outer {
            let shakes = self.shakes(s);
            apart = self.algebra.or(apart, shakes);
        }
        if apart == self.no {
            return apart;
        }
        let mut state: HashMap<Signal, Rails<A::Value>> = HashMap::new();
        for &m in &members {
            let level = self.of_signal(m).first().copied().unwrap_or(self.no);
            state.insert(m, Rails::of(self.algebra, level));
        }
        for widening in [true, false] {
            for _ in 0..=members.len() {
                let mut moved = false;
                for &m in &members {
                    let mut next = self.member(m, &state, if widening { Mode::Any } else { Mode::After });
                    let Some(&was) = state.get(&m) else { continue };
                    if widening {
                        next = next.join(self.algebra, was);
                    }
                    moved |= next != was;
                    state.insert(m, next);
                }
                if !moved {
                    break;
                }
            }
        }
        let mut open = self.no;
        for &m in &members {
            if let Some(&rails) = state.get(&m) {
                let here = rails.open(self.algebra);
                open = self.algebra.or(open, here);
            }
        }
        self.algebra.and(apart, open)
    }

    /// What one of the gates of a loop shows, the others being in this state.
    pub(super) fn member(
        &mut self,
        s: Signal,
        state: &HashMap<Signal, Rails<A::Value>>,
        mode: Mode,
    ) -> Rails<A::Value> {
        let ways = &self.moving.ways;
        match ways.what(s) {
            What::Net(n) => {
                let Some(net) = ways.circuit.nets().get(n.index()) else {
                    return Rails { high: self.yes, low: self.yes };
                };
                let low = Rails { high: self.no, low: self.yes };
                let (mut drive, mut pulled) = (low, low);
                for d in &net.drivers {
                    let (enable, level) = (self.within(d.enable, state, mode), self.within(d.level, state, mode));
                    let down = enable.and(self.algebra, level.not());
                    drive = drive.or(self.algebra, enable);
                    pulled = pulled.or(self.algebra, down);
                }
                let idle = self.net(n, &|_| Mode::Any);
                drive.choose(self.algebra, pulled.not(), idle)
            }
            What::Element(e) => match ways.circuit.elements().get(e.index()).map(|x| (x, x.kind)) {
                Some((x, Kind::Latch { open, data })) => {
                    let [open, data, clear, preset] =
                        [open, data, x.clear, x.preset].map(|c| self.within(c, state, mode));
                    let held = state.get(&s).copied().unwrap_or(Rails { high: self.yes, low: self.yes });
                    let follows = open.choose(self.algebra, data, held);
                    let set = preset.or(self.algebra, follows);
                    clear.not().and(self.algebra, set)
                }
                _ => Rails { high: self.yes, low: self.yes },
            },
        }
    }

    /// An expression with the members of a loop in this state.
    pub(super) fn within(
        &mut self,
        root: Expr,
        state: &HashMap<Signal, Rails<A::Value>>,
        mode: Mode,
    ) -> Rails<A::Value> {
        let ways = &self.moving.ways;
        self.folded(root, &|waves, e| match ways.leaf(e).and_then(|s| state.get(&s)) {
            Some(rails) if matches!(ways.circuit.op(e), Op::QInverted(_)) => rails.not(),
            Some(rails) => *rails,
            None => waves.leaf(e, &|_| mode),
        })
    }
}
