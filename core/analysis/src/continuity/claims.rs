//! Joints that the parts make unlikely: rails that are joined, outputs that fight. Such a claim weighs as much as one
//! reading, so that a joint which was read three times stands.
use std::collections::{BTreeMap, BTreeSet};

use gluewright_kernel::board::PinRole;
use gluewright_kernel::board::written::{PartKind, rail_of};
use gluewright_kernel::circuit::{Rail, Stage};

use super::judge::{Joints, ONE, Seen};
use super::neighbours::Beside;
use super::parts::Parts;
use super::readings::Point;

/// Points of a kind that are compared in one group.
const MOST_OF_A_KIND: usize = 10;

/// What a point is to its net.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Is {
    Supply(bool),
    /// Drives at all times.
    Output,
    /// Drives at times; or nobody knows.
    Source,
    OpenCollector,
    Input,
    Contact,
    /// A resistor, a capacitor, a name.
    Other,
    /// Is connected to nothing inside.
    Nothing,
}

/// What is odd about a joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Odd {
    Rails,
    OutputOnRail,
    Outputs,
    OnePart,
    /// One reading that is easily wrong.
    Single,
}

/// Points that are joined and should not be.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Claim {
    pub(super) odd: Odd,
    pub(super) words: String,
}

/// A claim with its two points, and what it weighs.
pub(super) type Claimed = ((usize, usize), i64, Claim);

/// What every point is, by its number.
pub(super) struct Claims<'b> {
    pub(super) is: Vec<Is>,
    /// The part of each point, by its place in the list.
    pub(super) part: Vec<Option<usize>>,
    beside: &'b Beside,
}

impl<'b> Claims<'b> {
    pub(super) fn of(seen: &Seen, parts: &Parts, beside: &'b Beside) -> Self {
        let (mut is, mut part) = (Vec::new(), Vec::new());
        for point in &seen.points {
            let (what, of) = match point {
                Point::Name(name) => (rail_of(name).map_or(Is::Other, |rail| Is::Supply(rail == Rail::Vcc)), None),
                Point::Pin { reference, pin } => match parts.find(reference) {
                    None => (Is::Other, None),
                    Some((at, listed)) => {
                        let role = match (listed.role(pin), &listed.kind) {
                            (Some(PinRole::Supply(rail)), _) => Is::Supply(rail == Rail::Vcc),
                            (Some(PinRole::Input), _) => Is::Input,
                            (Some(PinRole::Output(Stage::PushPull)), _) => Is::Output,
                            (Some(PinRole::Output(Stage::OpenCollector)), _) => Is::OpenCollector,
                            (Some(PinRole::Output(Stage::ThreeState) | PinRole::InOut(_)), _) => Is::Source,
                            (Some(PinRole::Unconnected), _) => Is::Nothing,
                            (Some(PinRole::Analog), _) => Is::Other,
                            (None, PartKind::Contacts) => Is::Contact,
                            (None, PartKind::Stays | PartKind::Unknown | PartKind::Type) => Is::Source,
                            (None, _) => Is::Other,
                        };
                        (role, Some(at))
                    }
                },
            };
            is.push(what);
            part.push(of);
        }
        Claims { is, part, beside }
    }

    pub(super) fn what(&self, point: usize) -> Is {
        self.is.get(point).copied().unwrap_or(Is::Other)
    }

    /// Points that are joined and should not be, what that weighs, and why.
    pub(super) fn within(&self, seen: &Seen, joints: &Joints) -> Vec<Claimed> {
        let mut groups: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        (0..seen.points.len()).for_each(|p| groups.entry(joints.group(p)).or_default().push(p));
        let mut all = Vec::new();
        for members in groups.values().filter(|m| m.len() > 1) {
            self.of_group(seen, members, &mut all);
        }
        self.single_joints(seen, joints, &mut all);
        all
    }

    /// Whether the parts speak against joining two groups.
    pub(super) fn part(&self, seen: &Seen, joints: &Joints, (a, b): (usize, usize)) -> bool {
        let members: Vec<usize> = (0..seen.points.len()).filter(|&p| [a, b].contains(&joints.group(p))).collect();
        let mut all = Vec::new();
        self.of_group(seen, &members, &mut all);
        all.iter().any(|((x, y), ..)| joints.group(*x) != joints.group(*y))
    }

    fn of_group(&self, seen: &Seen, members: &[usize], all: &mut Vec<Claimed>) {
        let of = |is: Is| members.iter().copied().filter(|&p| self.what(p) == is).collect::<Vec<_>>();
        let (high, low) = (of(Is::Supply(true)), of(Is::Supply(false)));
        let name = |p: usize| seen.points.get(p).map(ToString::to_string).unwrap_or_default();
        if !high.is_empty() && !low.is_empty() {
            spread(Odd::Rails, (&high, &low), all, |a, b| {
                format!("{} and {} are supply pins of both rails", name(a), name(b))
            });
        }
        let outputs = of(Is::Output);
        let rail = if high.len() > low.len() { &high } else { &low };
        if !rail.is_empty() {
            for &output in outputs.iter().take(MOST_OF_A_KIND) {
                spread(Odd::OutputOnRail, (&[output], rail), all, |a, b| {
                    format!("{} is an output, and {} a supply pin", name(a), name(b))
                });
            }
            return;
        }
        for (i, &a) in outputs.iter().enumerate().take(MOST_OF_A_KIND) {
            for &b in outputs.iter().skip(i + 1).take(MOST_OF_A_KIND) {
                let words = format!("{} and {} are outputs that always drive", name(a), name(b));
                all.push(((a, b), ONE, Claim { odd: Odd::Outputs, words }));
            }
        }
        let mut by_part: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for &p in members {
            if let (Is::Source | Is::Contact, Some(part)) = (self.what(p), self.part.get(p).copied().flatten()) {
                by_part.entry(part).or_default().push(p);
            }
        }
        for of_part in by_part.values() {
            for two in of_part.windows(2).take(MOST_OF_A_KIND) {
                let &[a, b] = two else { continue };
                let words = format!("{} and {} are two pins of one part", name(a), name(b));
                all.push(((a, b), ONE, Claim { odd: Odd::OnePart, words }));
            }
        }
    }

    /// Joints that depend on one reading which is easily wrong: between neighbours, where a probe slips, and one that
    /// joins two nets which were thought to be complete.
    fn single_joints(&self, seen: &Seen, joints: &Joints, all: &mut Vec<Claimed>) {
        let time = |pair: usize| {
            let lines = seen.pairs.get(pair).map(|p| p.joined.as_slice()).unwrap_or_default();
            lines.iter().min().map_or(0, |&line| seen.time(line))
        };
        for &i in &joints.bridges {
            let Some(pair) = seen.pairs.get(i).filter(|p| p.joined.len() == 1) else { continue };
            let name = |p: usize| seen.points.get(p).map(ToString::to_string).unwrap_or_default();
            let (a, b) = pair.ends;
            let older = |p: usize| joints.of.get(p).into_iter().flatten().any(|&(_, other)| time(other) < time(i));
            if self.beside.are(a, b) {
                let words = format!("{} and {} are neighbours: a probe may have slipped", name(a), name(b));
                all.push((pair.ends, ONE, Claim { odd: Odd::Single, words }));
            } else if older(a) || older(b) {
                let words = format!(
                    "{} and {} hang together by this reading alone, made after others of their nets",
                    name(a),
                    name(b)
                );
                all.push((pair.ends, ONE, Claim { odd: Odd::Single, words }));
            }
        }
    }
}

/// One claim of two kinds of points, spread over some pairs of them: the edge that parts all of them is the one to blame.
fn spread(
    odd: Odd,
    (left, right): (&[usize], &[usize]),
    all: &mut Vec<Claimed>,
    words: impl Fn(usize, usize) -> String,
) {
    let left: BTreeSet<usize> = left.iter().copied().take(MOST_OF_A_KIND).collect();
    let right: BTreeSet<usize> = right.iter().copied().take(MOST_OF_A_KIND).collect();
    let each = (ONE / (left.len() * right.len()).max(1) as i64).max(1);
    for &a in &left {
        for &b in right.iter().filter(|&&b| b != a) {
            all.push(((a, b), each, Claim { odd, words: words(a, b) }));
        }
    }
}
