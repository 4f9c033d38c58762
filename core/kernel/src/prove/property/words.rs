//! What can be claimed of a card by itself, and each claim in words.
use crate::circuit::{By, Circuit, Driver, Expr, NetId, Op};
use crate::prove::Way;
use crate::signals::{Condition, Moment};

/// Something that a card or a board is claimed to keep, whatever the board around it does: at every point at which it is
/// at rest, at power-up and after each event.
#[derive(Clone, Debug)]
#[must_use = "a property is asked about only when it is returned to `that`"]
pub struct Property {
    pub(in crate::prove) shape: Shape,
    /// It counts from the first point at which this holds.
    pub(in crate::prove) once: Option<Expr>,
    /// What it is called, if not by its own words.
    pub(in crate::prove) called: Option<String>,
}

/// What is claimed, by conditions of the circuit that is being built.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::prove) enum Shape {
    /// This is never so.
    Never(Expr),
    /// This is always so.
    Always(Expr),
    /// While the first holds, the second does.
    Whenever(Expr, Expr),
    /// The first changes so only while the second holds, before the event and after it.
    Changes(Expr, Way, Expr),
    /// After an event in which the first goes high, and before which the second held, the third holds.
    After(Expr, Expr, Expr),
    /// From a point at which `from` holds, `holds` comes before `edge` has gone high so many times more, or then.
    Within { from: Expr, edges: u32, edge: Expr, holds: Expr },
    /// From a point at which `from` holds, `holds` does too, until `until` does.
    Until { from: Expr, holds: Expr, until: Expr },
    /// Some run comes to a point at which this is so.
    Reachable(Expr),
}

fn truth(condition: impl Condition) -> Expr {
    condition.truth().expression()
}

impl Property {
    pub(in crate::prove) fn new(shape: Shape) -> Self {
        Property { shape, once: None, called: None }
    }

    /// It counts from the first point at which this holds: a reset that the card must have seen.
    pub fn once(mut self, condition: impl Condition) -> Self {
        self.once = Some(truth(condition));
        self
    }

    /// What it is called in verdicts and records, instead of its own words.
    pub fn called(mut self, name: impl Into<String>) -> Self {
        self.called = Some(name.into());
        self
    }
}

/// Some run comes to a point at which this is so: the verdict shows the shortest, or says that there is none.
pub fn reachable(condition: impl Condition) -> Property {
    Property::new(Shape::Reachable(truth(condition)))
}

/// The first is true only while the second is.
pub fn true_only_while(this: impl Condition, condition: impl Condition) -> Property {
    whenever(this).holds(condition).into()
}

/// Begins a property about the points at which a condition holds.
pub fn whenever(condition: impl Condition) -> Whenever {
    Whenever(truth(condition))
}

/// Begins a property about what stands after an event in which this edge comes.
pub fn after(edge: impl Moment) -> After {
    After { edge: edge.edge().expression(), when: Expr::HIGH }
}

/// Whenever a condition holds: what then?
#[derive(Clone, Copy, Debug)]
#[must_use = "say what then: `.holds(…)`, or `.within(…)` with `.holds(…)`"]
pub struct Whenever(Expr);

/// Whenever one condition holds, another one does too: a property, and with [`until`](Holding::until) another one.
#[derive(Clone, Copy, Debug)]
#[must_use = "a property is asked about only when it is returned to `that`"]
pub struct Holding {
    from: Expr,
    holds: Expr,
}

/// Within so many edges: what comes?
#[derive(Clone, Copy, Debug)]
#[must_use = "say what comes: `.holds(…)`"]
pub struct Within {
    from: Expr,
    edges: u32,
    edge: Expr,
}

/// After an edge: what stands?
#[derive(Clone, Copy, Debug)]
#[must_use = "say what stands then: `.holds(…)`"]
pub struct After {
    edge: Expr,
    when: Expr,
}

impl Whenever {
    /// This holds too.
    pub fn holds(self, condition: impl Condition) -> Holding {
        Holding { from: self.0, holds: truth(condition) }
    }

    /// Something comes before this edge has come so many times, or as the last of them comes.
    pub fn within(self, edges: u32, of: impl Moment) -> Within {
        Within { from: self.0, edges, edge: of.edge().expression() }
    }
}

impl Holding {
    /// And stays, until this holds. It need not ever come.
    pub fn until(self, condition: impl Condition) -> Property {
        Property::new(Shape::Until { from: self.from, holds: self.holds, until: truth(condition) })
    }

    /// See [`Property::once`].
    pub fn once(self, condition: impl Condition) -> Property {
        Property::from(self).once(condition)
    }

    /// See [`Property::called`].
    pub fn called(self, name: impl Into<String>) -> Property {
        Property::from(self).called(name)
    }
}

/// What may be claimed: a property, or words that are one already.
#[diagnostic::on_unimplemented(
    message = "this claims nothing that could hold or not",
    label = "`{Self}` is not a property",
    note = "a condition becomes one with `never(…)`, `always(…)` or `reachable(…)`",
    note = "`whenever(…)`, `.within(…)` and `after(…)` end in `.holds(…)`",
    note = "a closure in braces gives what stands last in it, without a semicolon"
)]
pub trait Claimed {
    #[doc(hidden)]
    fn property(self) -> Property;
}

impl Claimed for Property {
    fn property(self) -> Property {
        self
    }
}

impl Claimed for Holding {
    fn property(self) -> Property {
        self.into()
    }
}

impl From<Holding> for Property {
    fn from(holding: Holding) -> Property {
        Property::new(Shape::Whenever(holding.from, holding.holds))
    }
}

impl Within {
    /// This holds at some point by then.
    pub fn holds(self, condition: impl Condition) -> Property {
        let Within { from, edges, edge } = self;
        let holds = truth(condition);
        if edges == 0 {
            return Property::new(Shape::Whenever(from, holds));
        }
        Property::new(Shape::Within { from, edges, edge, holds })
    }
}

impl After {
    /// Only if this held before the event.
    pub fn when(mut self, condition: impl Condition) -> Self {
        self.when = truth(condition);
        self
    }

    /// This holds at the point that the event leads to.
    pub fn holds(self, condition: impl Condition) -> Property {
        Property::new(Shape::After(self.edge, self.when, truth(condition)))
    }
}

impl Shape {
    /// The conditions that it reads, each once.
    pub(super) fn conditions(self) -> Vec<Expr> {
        let mut all = match self {
            Shape::Never(a) | Shape::Always(a) | Shape::Reachable(a) => vec![a],
            Shape::Whenever(a, b) | Shape::Changes(a, _, b) => vec![a, b],
            Shape::After(a, b, c) => vec![a, b, c],
            Shape::Within { from, edge, holds, .. } => vec![from, edge, holds],
            Shape::Until { from, holds, until } => vec![from, holds, until],
        };
        all.sort_unstable();
        all.dedup();
        all
    }
}

impl Property {
    /// The property in words: what it is called, or what it says.
    pub(super) fn words(&self, circuit: &Circuit) -> String {
        if let Some(called) = &self.called {
            return called.clone();
        }
        let w = |e: Expr| bare(words(circuit, e));
        let edge = |e: Expr| match circuit.op(e) {
            Op::Net(n) if driven(circuit, n).is_some() => format!("{} begins", words(circuit, e)),
            Op::Net(_) | Op::Q(_) | Op::QInverted(_) => format!("{} rises", leaf(circuit, e)),
            Op::Not(a) if is_leaf(circuit, a) => format!("{} falls", leaf(circuit, a)),
            _ => format!("{} begins", words(circuit, e)),
        };
        let text = match self.shape {
            Shape::Never(a) => format!("never {}", w(a)),
            Shape::Always(a) => format!("always {}", w(a)),
            Shape::Reachable(a) => format!("{} can happen", w(a)),
            Shape::Whenever(a, b) => format!("whenever {}, {}", w(a), w(b)),
            Shape::Changes(what, way, only) => {
                let mut names: Vec<String> = Vec::new();
                leaves(circuit, what, &mut names);
                let way = match way {
                    Way::Either => "changes",
                    Way::Up => "goes high",
                    Way::Down => "goes low",
                };
                format!("{} {way} only while {}", names.join(", "), w(only))
            }
            Shape::After(e, when, holds) if when == Expr::HIGH => format!("after {}, {}", edge(e), w(holds)),
            Shape::After(e, when, holds) => format!("after {} with {} before it, {}", edge(e), w(when), w(holds)),
            Shape::Within { from, edges: 1, edge: e, holds } => {
                format!("whenever {}, {} by the next time that {}", w(from), w(holds), edge(e))
            }
            Shape::Within { from, edges, edge: e, holds } => {
                format!("whenever {}, {} by the {edges}th time that {}", w(from), w(holds), edge(e))
            }
            Shape::Until { from, holds, until } => {
                format!("whenever {}, {} until {}", w(from), w(holds), w(until))
            }
        };
        match self.once {
            Some(once) => format!("{text}, from the first time on that {}", w(once)),
            None => text,
        }
    }
}

/// Words without the brackets around all of them.
fn bare(words: String) -> String {
    let inner = words.strip_prefix('(').and_then(|w| w.strip_suffix(')'));
    let balanced = |w: &str| {
        let mut depth = 0i32;
        w.chars().all(|c| {
            depth += match c {
                '(' => 1,
                ')' => -1,
                _ => 0,
            };
            depth >= 0
        })
    };
    match inner {
        Some(inner) if balanced(inner) => inner.to_owned(),
        _ => words,
    }
}

fn is_leaf(circuit: &Circuit, e: Expr) -> bool {
    matches!(circuit.op(e), Op::Net(_) | Op::Q(_) | Op::QInverted(_))
}

/// The contacts, where a net says whether anything drives them.
fn driven(circuit: &Circuit, n: NetId) -> Option<&str> {
    match circuit.nets().get(n.index())?.drivers.as_slice() {
        [Driver { by: By::Drivers(what), .. }] => Some(what),
        _ => None,
    }
}

fn leaf(circuit: &Circuit, e: Expr) -> String {
    match circuit.op(e) {
        Op::Net(n) => circuit.called(n).to_owned(),
        Op::Q(x) => circuit.elements().get(x.index()).map_or_else(String::new, |x| x.name.clone()),
        Op::QInverted(x) => {
            circuit.elements().get(x.index()).map_or_else(String::new, |x| format!("{} inverted", x.name))
        }
        _ => String::new(),
    }
}

fn leaves(circuit: &Circuit, e: Expr, into: &mut Vec<String>) {
    if is_leaf(circuit, e) {
        let name = leaf(circuit, e);
        if !into.contains(&name) {
            into.push(name);
        }
    }
    circuit.op(e).operands().for_each(|a| leaves(circuit, a, into));
}

/// A condition in words: names with their levels, and the signs of ISO 80000-2.
pub(super) fn words(circuit: &Circuit, e: Expr) -> String {
    let w = |e: Expr| words(circuit, e);
    match circuit.op(e) {
        Op::Constant(v) => if v { "always" } else { "never" }.to_owned(),
        Op::Net(n) if let Some(what) = driven(circuit, n) => format!("{what} driven"),
        Op::Net(_) | Op::Q(_) | Op::QInverted(_) => format!("{} high", leaf(circuit, e)),
        Op::Not(a) if is_leaf(circuit, a) => match circuit.op(a) {
            Op::Net(n) if let Some(what) = driven(circuit, n) => format!("{what} not driven"),
            _ => format!("{} low", leaf(circuit, a)),
        },
        Op::Not(a) => format!("¬{}", w(a)),
        Op::And(..) => format!("({})", chain(circuit, e, |op| matches!(op, Op::And(..))).join(" ∧ ")),
        Op::Or(..) => format!("({})", chain(circuit, e, |op| matches!(op, Op::Or(..))).join(" ∨ ")),
        Op::Xor(a, b) => format!("({} ⊕ {})", w(a), w(b)),
        Op::Choose(c, a, b) => format!("({} while {}, else {})", w(a), w(c), w(b)),
    }
}

/// The operands of a chain of one operation, each in words.
fn chain(circuit: &Circuit, e: Expr, same: fn(Op) -> bool) -> Vec<String> {
    let op = circuit.op(e);
    if same(op) { op.operands().flat_map(|a| chain(circuit, a, same)).collect() } else { vec![words(circuit, e)] }
}

/// What must come about, so that a property says anything, beside its own conditions: each conjunct of what is never so.
pub(super) fn conjuncts(circuit: &mut Circuit, e: Expr, holds: bool, into: &mut Vec<Expr>) {
    match (circuit.op(e), holds) {
        (Op::Not(a), _) => conjuncts(circuit, a, !holds, into),
        (Op::And(a, b), true) | (Op::Or(a, b), false) => {
            conjuncts(circuit, a, holds, into);
            conjuncts(circuit, b, holds, into);
        }
        (_, true) => into.push(e),
        (_, false) => {
            let not = circuit.not(e);
            into.push(not);
        }
    }
}
