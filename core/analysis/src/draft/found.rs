//! Counters, shift registers and decoders among the packages of a trace: found by what they do, whatever gates they have.
use std::collections::{BTreeMap, HashMap, HashSet};

use gluewright_kernel::circuit::{By, Circuit, ElementId, Expr, Kind, NetId};

use super::cone::{Cone, Table};
use super::fields::{behind, is_always, stored};
use super::texts::package;

/// The most variables of a function: its truth table has two to this power places.
const MOST: usize = 20;
/// The most signals that control what a counter or a shift register does next.
const CONTROLS: usize = 5;
/// The fewest bits of a shift register.
const SHIFTS: usize = 3;
/// The most inputs of a decoder.
const INPUTS: usize = 8;

/// Some levels of expressions: all of them, or one at least.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct When {
    pub(super) literals: Vec<(Expr, bool)>,
    pub(super) all: bool,
}

/// A level that goes into a bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Incoming {
    Constant(bool),
    /// That of an expression, or its complement.
    Level(Expr, bool),
}

/// What the bits of a package do next while neither load nor clear comes first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Steps {
    /// They count: up, down, or up while a condition is true; in binary, or in decades.
    Count { up: Option<When>, down: bool, decade: bool, enabled: When },
    /// They shift: each to the next place, or to the one before.
    Shift { up: Option<(When, Incoming)>, down: Option<(When, Incoming)> },
}

/// Registers of one package that count or shift.
#[derive(Clone, Debug)]
pub(super) struct Stepping {
    pub(super) package: String,
    /// The lowest first.
    pub(super) bits: Vec<ElementId>,
    pub(super) steps: Steps,
    pub(super) load: Option<(When, Vec<Incoming>)>,
    pub(super) clear: Option<When>,
    /// What the next state is made of.
    pub(super) leaves: Vec<Expr>,
}

/// A line of a decoder.
#[derive(Clone, Debug)]
pub(super) struct Line {
    pub(super) net: NetId,
    pub(super) level: Expr,
    /// Whether it is low while its number is asked for.
    pub(super) is_low: bool,
    /// The levels of what selects it.
    pub(super) number: Vec<bool>,
}

/// Lines of one package of which each is asserted for a number of its own.
#[derive(Clone, Debug)]
pub(super) struct Decoder {
    pub(super) package: String,
    pub(super) lines: Vec<Line>,
    pub(super) select: Vec<Expr>,
    pub(super) enable: When,
}

/// All registers that step together. What clears and presets them acts beside their steps: where a counter is loaded without
/// its clock, each bit has its own.
pub(super) fn steppings(circuit: &Circuit) -> Vec<Stepping> {
    let mut groups: BTreeMap<(String, Expr), Vec<(ElementId, Expr)>> = BTreeMap::new();
    let packages = packages(circuit);
    for (id, e) in circuit.numbered_elements() {
        let Kind::Register { clock, .. } = e.kind else { continue };
        if circuit.loads_unknown(id) == Expr::LOW
            && let Some(package) = packages.get(&id)
        {
            groups.entry((package.clone(), clock)).or_default().push((id, e.clear));
        }
    }
    let step = |((package, _), bits): ((String, Expr), Vec<(ElementId, Expr)>)| {
        let all = bits.iter().map(|(bit, _)| *bit).collect();
        if let Some(together) = stepping(circuit, package.clone(), all) {
            return vec![together];
        }
        let mut alike: BTreeMap<Expr, Vec<ElementId>> = BTreeMap::new();
        for (bit, clear) in bits {
            alike.entry(clear).or_default().push(bit);
        }
        alike.into_values().filter_map(|bits| stepping(circuit, package.clone(), bits)).collect()
    };
    groups.into_iter().flat_map(step).collect()
}

/// The package of each stored bit that some pin shows.
pub(super) fn packages(circuit: &Circuit) -> HashMap<ElementId, String> {
    let drivers = circuit.nets().iter().flat_map(|n| &n.drivers);
    drivers.filter_map(|d| Some((stored(circuit, behind(circuit, d.level))?.0, package(&d.by)?))).collect()
}

/// All decoders.
pub(super) fn decoders(circuit: &Circuit) -> Vec<Decoder> {
    let mut of_package: BTreeMap<&str, Vec<(NetId, Expr)>> = BTreeMap::new();
    for (id, net) in circuit.numbered_nets() {
        if let [d] = net.drivers.as_slice()
            && let By::Pin { package, .. } = &d.by
            && is_always(d)
        {
            of_package.entry(package).or_default().push((id, d.level));
        }
    }
    let mut all = Vec::new();
    for (package, nets) in of_package {
        let mut alike: BTreeMap<Vec<Expr>, Vec<(NetId, Expr)>> = BTreeMap::new();
        for (net, level) in nets {
            let mut cone = Cone::new(circuit, package, &[]);
            if cone.reach(level).is_some() && cone.leaves.len() <= INPUTS {
                let mut leaves = cone.leaves;
                leaves.sort_unstable();
                alike.entry(leaves).or_default().push((net, level));
            }
        }
        all.extend(alike.into_values().filter_map(|nets| decoder(circuit, package, &nets)));
    }
    all
}

fn decoder(circuit: &Circuit, package: &str, nets: &[(NetId, Expr)]) -> Option<Decoder> {
    const LINES: usize = 3;
    if nets.len() < LINES {
        return None;
    }
    let mut cone = Cone::new(circuit, package, &[]);
    for (_, level) in nets {
        cone.reach(*level)?;
    }
    let (count, places) = (cone.leaves.len(), 1_usize << cone.leaves.len());
    let mut lines = Vec::new();
    for &(net, level) in nets {
        let table = cone.table(level)?;
        let high: Vec<usize> = (0..places).filter(|&p| table.at(p)).take(2).collect();
        let low: Vec<usize> = (0..places).filter(|&p| !table.at(p)).take(2).collect();
        let (place, is_low) = match (&high[..], &low[..]) {
            ([one], [_, ..]) => (*one, false),
            ([_, ..], [one]) => (*one, true),
            _ => return None,
        };
        lines.push((net, level, is_low, (0..count).map(|v| place >> v & 1 == 1).collect::<Vec<bool>>()));
    }
    let (first, rest) = lines.split_first()?;
    let varies: Vec<bool> = (0..count).map(|v| rest.iter().any(|l| l.3.get(v) != first.3.get(v))).collect();
    let of = |wanted: bool| -> Vec<usize> { (0..count).filter(|&v| varies.get(v) == Some(&wanted)).collect() };
    let (selects, enables) = (of(true), of(false));
    let numbers: HashSet<&Vec<bool>> = lines.iter().map(|l| &l.3).collect();
    if selects.len() < 2 || numbers.len() != lines.len() {
        return None;
    }
    let leaf = |v: &usize| cone.leaves.get(*v).copied();
    let literals = enables.iter().filter_map(|v| Some((leaf(v)?, *first.3.get(*v)?))).collect();
    let select = selects.iter().filter_map(leaf).collect();
    let lines = lines.iter().map(|(net, level, is_low, number)| Line {
        net: *net,
        level: *level,
        is_low: *is_low,
        number: selects.iter().filter_map(|v| number.get(*v).copied()).collect(),
    });
    Some(Decoder { package: package.to_owned(), lines: lines.collect(), select, enable: When { literals, all: true } })
}

/// What one bit becomes while the controls have given levels.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Next {
    Constant(bool),
    Bit(usize, bool),
    Leaf(usize, bool),
    /// A function of several bits, for each state.
    States(Vec<bool>),
}

/// What all bits become.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Mode {
    Hold,
    Clear,
    Load(Vec<Incoming>),
    Count { down: bool, decade: bool },
    Shift { down: bool, into: Incoming },
}

fn stepping(circuit: &Circuit, package: String, bits: Vec<ElementId>) -> Option<Stepping> {
    if bits.len() < 2 {
        return None;
    }
    let data: Vec<Expr> = bits.iter().filter_map(|b| circuit.elements().get(b.index())).map(|e| e.data()).collect();
    let mut cone = Cone::new(circuit, &package, &bits);
    for e in &data {
        cone.reach(*e)?;
    }
    let count = cone.variables();
    if count > MOST {
        return None;
    }
    let tables: Vec<Table> = data.iter().map(|e| cone.table(*e)).collect::<Option<_>>()?;
    let leaves = cone.leaves.clone();
    // controls are read by several bits, by all of them where two bits load the same; data by one
    [2, bits.len()].iter().find_map(|least| {
        let stands = |leaf: &usize| tables.iter().filter(|t| t.depends(bits.len() + leaf)).count() >= *least;
        let controls: Vec<usize> = (0..leaves.len()).filter(stands).collect();
        if controls.len() > CONTROLS {
            return None;
        }
        stepped(&package, &bits, &tables, (&leaves, &controls))
    })
}

/// The registers as what steps, if they do under these controls.
fn stepped(
    package: &str,
    bits: &[ElementId],
    tables: &[Table],
    (leaves, controls): (&[Expr], &[usize]),
) -> Option<Stepping> {
    let count = bits.len() + leaves.len();
    let settings = 1_usize << controls.len();
    let next: Vec<Vec<Next>> = (0..settings)
        .map(|s| {
            let set = |t: &Table| {
                let numbered = controls.iter().enumerate();
                numbered.fold(t.clone(), |t, (i, c)| t.fixed(bits.len() + c, s >> i & 1 == 1))
            };
            tables.iter().map(|t| next(&set(t), bits.len(), count)).collect()
        })
        .collect::<Option<_>>()?;
    let order = next.iter().find_map(|n| order(n))?;
    let bits: Vec<ElementId> = order.iter().filter_map(|&i| bits.get(i).copied()).collect();
    let modes: Vec<Mode> = next.iter().map(|n| mode(n, &order, leaves)).collect::<Option<_>>()?;
    let find = |is: &dyn Fn(&Mode) -> bool| -> Vec<usize> {
        (0..settings).filter(|&s| modes.get(s).is_some_and(is)).collect()
    };
    let when = |on: &[usize], off: &[usize]| when(controls, leaves, on, off);
    let (clears, loads) = (find(&|m| *m == Mode::Clear), find(&|m| matches!(m, Mode::Load(_))));
    let [ups, downs] = [false, true]
        .map(|way| find(&|m| matches!(m, Mode::Count { down, .. } | Mode::Shift { down, .. } if *down == way)));
    let holds = find(&|m| *m == Mode::Hold);
    let joined = |of: &[&Vec<usize>]| of.iter().flat_map(|v| v.iter().copied()).collect::<Vec<usize>>();
    let clear = match &clears[..] {
        [] => None,
        on => Some(when(on, &joined(&[&loads, &ups, &downs, &holds]))?),
    };
    let load = match modes.iter().find_map(|m| if let Mode::Load(bits) = m { Some(bits.clone()) } else { None }) {
        None => None,
        Some(bits) if modes.iter().all(|m| !matches!(m, Mode::Load(other) if *other != bits)) => {
            Some((when(&loads, &joined(&[&ups, &downs, &holds]))?, bits))
        }
        Some(_) => return None,
    };
    let into = |way: bool| -> Option<Option<Incoming>> {
        let mut all = modes.iter().filter_map(|m| match m {
            Mode::Shift { down, into } if *down == way => Some(*into),
            _ => None,
        });
        let first = all.next();
        all.all(|i| Some(i) == first).then_some(first)
    };
    let [binary, decades] =
        [false, true].map(|of| modes.iter().any(|m| matches!(m, Mode::Count { decade, .. } if *decade == of)));
    let shifts = modes.iter().any(|m| matches!(m, Mode::Shift { .. }));
    let steps = match (binary != decades, shifts) {
        (true, false) => Steps::Count {
            decade: decades,
            up: if ups.is_empty() || downs.is_empty() { None } else { Some(when(&ups, &downs)?) },
            down: ups.is_empty(),
            enabled: when(&joined(&[&ups, &downs]), &holds)?,
        },
        (false, true) if !binary => Steps::Shift {
            up: match into(false)? {
                Some(bit) => Some((when(&ups, &joined(&[&downs, &holds]))?, bit)),
                None => None,
            },
            down: match into(true)? {
                Some(bit) => Some((when(&downs, &holds)?, bit)),
                None => None,
            },
        },
        _ => return None,
    };
    // two registers one behind the other read better as they are
    let is_short = shifts && bits.len() < SHIFTS;
    (!is_short).then(|| Stepping { package: package.to_owned(), bits, steps, load, clear, leaves: leaves.to_vec() })
}

/// What a bit becomes by this function of the bits and what comes from outside.
fn next(table: &Table, bits: usize, count: usize) -> Option<Next> {
    let support: Vec<usize> = (0..count).filter(|&v| table.depends(v)).collect();
    let at_rest = table.at(0);
    match &support[..] {
        [] => Some(Next::Constant(at_rest)),
        [v] if *v < bits => Some(Next::Bit(*v, at_rest)),
        [v] => Some(Next::Leaf(v - bits, at_rest)),
        several if several.iter().all(|v| *v < bits) => {
            Some(Next::States((0..1_usize << bits).map(|state| table.at(state)).collect()))
        }
        _ => None,
    }
}

/// The bits from the lowest on, where a mode counts or shifts.
fn order(next: &[Next]) -> Option<Vec<usize>> {
    let count = next.len();
    let toggles = |i: usize| match next.get(i) {
        Some(Next::Bit(j, true)) if *j == i => Some(1_usize << count),
        Some(Next::States(to)) => {
            Some((0..1_usize << count).filter(|s| to.get(*s) != Some(&(s >> i & 1 == 1))).count())
        }
        _ => None,
    };
    if let Some(toggles) = (0..count).map(toggles).collect::<Option<Vec<usize>>>() {
        let mut order: Vec<usize> = (0..count).collect();
        order.sort_by_key(|&i| std::cmp::Reverse(toggles.get(i).copied()));
        // in a decade the last bit toggles more often than those before it
        let turned = order.iter().copied().take(1).chain(order.iter().copied().skip(1).rev()).collect();
        let lasts = (1..count).map(|i| {
            let mut order = order.clone();
            let last = order.remove(i);
            order.push(last);
            order
        });
        let mut orders = [order.clone(), turned].into_iter().chain(lasts);
        return orders.find(|order| KINDS.iter().any(|kind| counts(next, order, *kind)));
    }
    // the bit into which something comes from outside is one end
    let first = (0..count).find(|&i| matches!(next.get(i), Some(Next::Constant(_) | Next::Leaf(..))))?;
    let mut order = vec![first];
    while let Some(&last) = order.last() {
        match (0..count).find(|&i| next.get(i) == Some(&Next::Bit(last, false)) && !order.contains(&i)) {
            Some(i) => order.push(i),
            None => break,
        }
    }
    if order.len() != count {
        return None;
    }
    if order.first() > order.last() {
        order.reverse();
    }
    Some(order)
}

/// Ways to count: whether down, and whether in decades.
const KINDS: [(bool, bool); 4] = [(false, false), (true, false), (false, true), (true, true)];

/// What comes after a number of four bits in a TTL decade counter, or before: the idiom `in_decades`.
fn in_decades(number: usize, down: bool) -> usize {
    let [a, b, c, d] = [0, 1, 2, 3].map(|bit| number >> bit & 1 == 1);
    let toggles = match down {
        false => [true, a && !d, a && b, a && (d || b && c)],
        true => [true, !a && (b || c || d), !a && !b && (c || d), !a && !b && !c],
    };
    toggles.iter().enumerate().fold(number, |number, (bit, toggles)| number ^ usize::from(*toggles) << bit)
}

/// Whether the bits in this order count.
fn counts(next: &[Next], order: &[usize], (down, decade): (bool, bool)) -> bool {
    if decade && order.len() != 4 {
        return false;
    }
    let count = order.len();
    let number = |state: usize| -> usize { order.iter().enumerate().map(|(k, i)| (state >> i & 1) << k).sum() };
    let last = (1_usize << count) - 1;
    (0..=last).all(|state| {
        let to = match (decade, down) {
            (true, _) => in_decades(number(state), down),
            (false, true) => number(state).wrapping_sub(1) & last,
            (false, false) => (number(state) + 1) & last,
        };
        order.iter().enumerate().all(|(k, i)| {
            let bit = match next.get(*i) {
                Some(Next::Bit(j, inverted)) => (state >> j & 1 == 1) != *inverted,
                Some(Next::States(table)) => table.get(state) == Some(&true),
                _ => return false,
            };
            bit == (to >> k & 1 == 1)
        })
    })
}

/// What the bits do together, in their order.
fn mode(next: &[Next], order: &[usize], leaves: &[Expr]) -> Option<Mode> {
    let all: Vec<&Next> = order.iter().filter_map(|i| next.get(*i)).collect();
    let into = |n: &Next| match n {
        Next::Constant(level) => Some(Incoming::Constant(*level)),
        Next::Leaf(l, inverted) => Some(Incoming::Level(*leaves.get(*l)?, *inverted)),
        Next::Bit(..) | Next::States(_) => None,
    };
    if order.iter().zip(&all).all(|(i, n)| **n == Next::Bit(*i, false)) {
        return Some(Mode::Hold);
    }
    if all.iter().all(|n| **n == Next::Constant(false)) {
        return Some(Mode::Clear);
    }
    if let Some(bits) = all.iter().map(|n| into(n)).collect::<Option<Vec<Incoming>>>() {
        return Some(Mode::Load(bits));
    }
    if let Some(&(down, decade)) = KINDS.iter().find(|kind| counts(next, order, **kind)) {
        return Some(Mode::Count { down, decade });
    }
    let follows = |to: &[&Next], from: &[usize]| to.iter().zip(from).all(|(n, i)| **n == Next::Bit(*i, false));
    let ((first, after), (last, before)) = (all.split_first()?, all.split_last()?);
    if let Some(into) = into(first).filter(|_| follows(after, order)) {
        return Some(Mode::Shift { down: false, into });
    }
    let into = into(last).filter(|_| follows(before, order.get(1..).unwrap_or_default()))?;
    Some(Mode::Shift { down: true, into })
}

/// The fewest levels that hold in all of some settings and in none of others; what is in neither may go either way.
fn when(controls: &[usize], leaves: &[Expr], on: &[usize], off: &[usize]) -> Option<When> {
    let product = |on: &[usize], off: &[usize]| -> Option<Vec<(usize, bool)>> {
        let all = (0..3_usize.pow(controls.len().try_into().ok()?)).map(|code| {
            let digits = (0..controls.len()).scan(code, |rest, i| {
                let digit = *rest % 3;
                *rest /= 3;
                Some((i, digit))
            });
            digits.filter(|(_, d)| *d != 2).map(|(i, d)| (i, d == 1)).collect::<Vec<(usize, bool)>>()
        });
        let holds = |p: &[(usize, bool)], s: usize| p.iter().all(|(i, level)| (s >> i & 1 == 1) == *level);
        let fits = |p: &Vec<(usize, bool)>| on.iter().all(|s| holds(p, *s)) && !off.iter().any(|s| holds(p, *s));
        all.filter(fits).min_by_key(Vec::len)
    };
    let literals = |of: Vec<(usize, bool)>, turned: bool| {
        let literal = |(i, level): (usize, bool)| Some((*leaves.get(*controls.get(i)?)?, level != turned));
        of.into_iter().filter_map(literal).collect()
    };
    match product(on, off) {
        Some(all) => Some(When { literals: literals(all, false), all: true }),
        None => product(off, on).map(|none| When { literals: literals(none, true), all: false }),
    }
}
