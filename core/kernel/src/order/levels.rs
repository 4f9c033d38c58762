//! Levels of an event that may be undetermined: of nets and expressions, before, after, or all that they may show.
use std::collections::HashMap;

use super::dependencies::Signal;
use super::waves::{Follows, Mode, Waves};
use crate::circuit::{Driver, Expr, NetId, Op, Pull, Stage};
use crate::machine::{Algebra, Rails};

impl<A: Algebra> Waves<'_, A> {
    pub(super) fn follower(&mut self, of: Follows, mode: &dyn Fn(Signal) -> Mode) -> Rails<A::Value> {
        match of {
            Follows::Net(n) => self.net(n, mode),
            Follows::Level(e) => self.rails(e, mode),
        }
    }

    /// The level of a net from what its drivers read.
    pub(super) fn net(&mut self, id: NetId, mode: &dyn Fn(Signal) -> Mode) -> Rails<A::Value> {
        self.driven((id, Mode::Before), &|waves, e| waves.leaf(e, mode))
    }

    /// The level of a net over what `leaf` gives for the nets and stored bits that its drivers read, and where nothing drives it
    /// over what the board puts there, before or after.
    pub(super) fn driven(
        &mut self,
        (id, board): (NetId, Mode),
        leaf: &dyn Fn(&mut Self, Expr) -> Rails<A::Value>,
    ) -> Rails<A::Value> {
        let ways = &self.moving.ways;
        let low = Rails::of(self.algebra, self.no);
        let Some(net) = ways.circuit.nets().get(id.index()) else { return low };
        if let [Driver { enable, level, .. }] = net.drivers.as_slice()
            && *enable == Expr::HIGH
        {
            return self.folded(*level, leaf);
        }
        let (mut drive, mut pulled) = (low, low);
        for d in &net.drivers {
            let (enable, level) = (self.folded(d.enable, leaf), self.folded(d.level, leaf));
            let down = enable.and(self.algebra, level.not());
            drive = drive.or(self.algebra, enable);
            pulled = pulled.or(self.algebra, down);
        }
        let otherwise = match (net.contact, net.pull) {
            (Some(c), _) => match (self.outside.get(c.index()).copied(), board) {
                (None, _) => low,
                (Some([before, _]), Mode::Before) => Rails::of(self.algebra, before),
                (Some([_, after]), Mode::After) => Rails::of(self.algebra, after),
                (Some(levels), Mode::Any | Mode::Early | Mode::Late) => {
                    let [before, after] = levels.map(|level| Rails::of(self.algebra, level));
                    before.join(self.algebra, after)
                }
            },
            (None, Pull::Down) => low,
            (None, Pull::Up) => low.not(),
            (None, Pull::None) if net.drivers.iter().all(|d| d.stage == Stage::OpenCollector) => low.not(),
            // it floats: either
            (None, Pull::None) => Rails { high: self.yes, low: self.yes },
        };
        drive.choose(self.algebra, pulled.not(), otherwise)
    }

    /// An expression over levels that may be undetermined.
    pub(super) fn rails(&mut self, root: Expr, mode: &dyn Fn(Signal) -> Mode) -> Rails<A::Value> {
        self.folded(root, &|waves, e| waves.leaf(e, mode))
    }

    /// An expression over what `leaf` gives for the nets and stored bits in it.
    pub(super) fn folded(&mut self, root: Expr, leaf: &dyn Fn(&mut Self, Expr) -> Rails<A::Value>) -> Rails<A::Value> {
        let ways = &self.moving.ways;
        let mut done: HashMap<Expr, Rails<A::Value>> = HashMap::new();
        let low = Rails { high: self.no, low: self.yes };
        for e in ways.below(&[root]) {
            let at = |x: Expr| done.get(&x).copied().unwrap_or(low);
            let rails = match ways.circuit.op(e) {
                Op::Constant(true) => low.not(),
                Op::Constant(false) => low,
                Op::Net(_) | Op::Q(_) | Op::QInverted(_) => leaf(self, e),
                Op::Not(a) => at(a).not(),
                Op::And(a, b) => at(a).and(self.algebra, at(b)),
                Op::Or(a, b) => at(a).or(self.algebra, at(b)),
                Op::Xor(a, b) => at(a).xor(self.algebra, at(b)),
                Op::Choose(c, a, b) => at(c).choose(self.algebra, at(a), at(b)),
            };
            done.insert(e, rails);
        }
        done.get(&root).copied().unwrap_or(low)
    }

    pub(super) fn leaf(&mut self, e: Expr, mode: &dyn Fn(Signal) -> Mode) -> Rails<A::Value> {
        let levels = self.levels(e);
        let first = levels.first().copied().unwrap_or(self.no);
        let Some(signal) = self.moving.ways.leaf(e) else { return Rails::of(self.algebra, first) };
        let last = levels.last().copied().unwrap_or(first);
        let steady = match mode(signal) {
            Mode::Before => return Rails::of(self.algebra, first),
            Mode::After => return Rails::of(self.algebra, last),
            Mode::Any => None,
            Mode::Early => Some(first),
            Mode::Late => Some(last),
        };
        let shakes = self.shakes(signal);
        let mut any = Rails { high: shakes, low: shakes };
        for level in levels {
            let here = Rails::of(self.algebra, level);
            any = any.join(self.algebra, here);
        }
        steady.map_or(any, |level| {
            let level = Rails::of(self.algebra, level);
            Rails::of(self.algebra, shakes).choose(self.algebra, any, level)
        })
    }
}
