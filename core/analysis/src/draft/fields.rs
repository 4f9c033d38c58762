//! The fields of a draft: each contact, each stored bit and each loop of gates, with its type and its name.
use std::collections::{BTreeMap, HashMap, HashSet};

use gluewright_kernel::circuit::{Circuit, ContactId, Driver, ElementId, Expr, Kind, Label, NetId, Op, Pull, Stage};

use super::NoDraft;
use super::found::Stepping;
use super::names::{fresh, numbered, of_value, unkept, without_mark};

/// What a level at a field means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Sense {
    Data,
    High,
    Low,
    Clock,
}

/// What kind of field.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Sort {
    Input,
    Output,
    InOut,
    Register,
    Latch,
    Node,
}

/// How it drives its contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Drive {
    None,
    Always,
    ThreeState,
    OpenCollector,
}

/// One signal of the draft.
#[derive(Clone, Debug)]
pub(super) struct Field {
    pub(super) name: String,
    pub(super) index: Option<usize>,
    pub(super) sort: Sort,
    pub(super) sense: Sense,
    pub(super) drive: Drive,
    pub(super) pull: Pull,
    pub(super) label: Option<Label>,
    pub(super) net: Option<NetId>,
    /// The stored bit that it is.
    pub(super) element: Option<ElementId>,
    /// Whether the pin is the complement of the stored bit.
    pub(super) inverted: bool,
    /// Why this polarity was chosen.
    pub(super) because: Option<&'static str>,
}

impl Field {
    /// Its name in a wiring.
    pub(super) fn path(&self) -> String {
        match self.index {
            Some(i) => format!("self.{}[{i}]", self.name),
            None => format!("self.{}", self.name),
        }
    }

    /// For a stored bit with a polarity: whether it is asserted while the bit is high.
    pub(super) fn asserted_high(&self) -> bool {
        (self.sense == Sense::Low) == self.inverted
    }

    fn kind(&self) -> (Sort, Sense, Drive, bool, bool) {
        (self.sort, self.sense, self.drive, self.inverted, self.element.is_some())
    }
}

/// All fields.
pub(super) struct Fields {
    pub(super) all: Vec<Field>,
    pub(super) of_net: HashMap<NetId, usize>,
    pub(super) of_element: HashMap<ElementId, usize>,
}

/// Why a field is low when true.
const MARKED: &str = "by its name";

/// Whether a driver is on all the time.
pub(super) fn is_always(d: &Driver) -> bool {
    d.enable == Expr::HIGH && d.stage != Stage::OpenCollector
}

/// Whether gates make what these drivers show.
fn is_computed(circuit: &Circuit, drivers: &[&Driver]) -> bool {
    let simple = |d: &Driver| {
        let mut e = behind(circuit, d.level);
        while let Op::Not(a) = circuit.op(e) {
            e = a;
        }
        matches!(circuit.op(e), Op::Net(_) | Op::Q(_) | Op::QInverted(_) | Op::Constant(_) | Op::Choose(..))
    };
    !drivers.iter().any(|d| simple(d))
}

/// The stored bit that a level is, and whether it is its complement.
pub(super) fn stored(circuit: &Circuit, e: Expr) -> Option<(ElementId, bool)> {
    match circuit.op(e) {
        Op::Q(x) => Some((x, false)),
        Op::QInverted(x) => Some((x, true)),
        Op::Not(a) => stored(circuit, a).map(|(x, inverted)| (x, !inverted)),
        _ => None,
    }
}

/// A level, followed back through inner nets that only pass it on.
pub(super) fn behind(circuit: &Circuit, mut e: Expr) -> Expr {
    for _ in 0..circuit.nets().len() {
        let Op::Net(n) = circuit.op(e) else { break };
        let Some(net) = circuit.nets().get(n.index()) else { break };
        match &net.drivers[..] {
            [d] if is_always(d) && net.contact.is_none() => e = d.level,
            _ => break,
        }
    }
    e
}

/// The name of each net, and whether it is a net of the board: a value inside a package has the name of the net of the board
/// that it alone drives, if it does.
pub(super) fn called(circuit: &Circuit) -> Vec<(String, bool)> {
    let mut names: Vec<(String, bool)> =
        circuit.nets().iter().map(|n| (n.name.clone(), n.value_of.is_none())).collect();
    for net in circuit.nets() {
        let [d] = net.drivers.as_slice() else { continue };
        let mut level = d.level;
        while is_always(d)
            && let Op::Net(n) = circuit.op(level)
        {
            let Some(inner) = circuit.nets().get(n.index()).filter(|n| n.value_of.is_some()) else { break };
            if let Some(name) = names.get_mut(n.index()) {
                *name = (net.name.clone(), true);
            }
            match inner.drivers.as_slice() {
                [d] if is_always(d) => level = d.level,
                _ => break,
            }
        }
    }
    names
}

/// How each net is read: as a clock, in an override or an enable while it is low, and in any other way.
#[derive(Clone, Copy, Debug, Default)]
struct Read {
    clock: bool,
    low: bool,
    other: bool,
    /// As data that are loaded, followed or shown as they are.
    plain: bool,
}

fn reads(circuit: &Circuit) -> Vec<Read> {
    let mut all = vec![Read::default(); circuit.nets().len()];
    let mut mark = |e: Expr, how: &dyn Fn(&mut Read)| {
        let net = match circuit.op(e) {
            Op::Net(n) => Some(n),
            _ => None,
        };
        if let Some(read) = net.and_then(|n| all.get_mut(n.index())) {
            how(read);
        }
    };
    let other = |e: Expr, mark: &mut dyn FnMut(Expr, &dyn Fn(&mut Read))| {
        let (mut seen, mut open) = (HashSet::new(), vec![e]);
        while let Some(e) = open.pop() {
            if seen.insert(e) {
                mark(e, &|r| r.other = true);
                open.extend(circuit.op(e).operands());
            }
        }
    };
    let data_of = |e: Expr, mark: &mut dyn FnMut(Expr, &dyn Fn(&mut Read))| {
        let mut open = vec![e];
        while let Some(e) = open.pop() {
            match circuit.op(e) {
                Op::Net(_) => mark(e, &|r| r.plain = true),
                Op::Not(a) => open.push(a),
                Op::Choose(_, a, b) => open.extend([a, b]),
                _ => {}
            }
        }
        other(e, mark);
    };
    let condition = |e: Expr, mark: &mut dyn FnMut(Expr, &dyn Fn(&mut Read))| match circuit.op(e) {
        Op::Not(a) if matches!(circuit.op(a), Op::Net(_)) => mark(a, &|r| r.low = true),
        _ => other(e, mark),
    };
    for e in circuit.elements() {
        match e.kind {
            Kind::Register { clock, data } => {
                let edge = if let Op::Not(a) = circuit.op(clock) { a } else { clock };
                if matches!(circuit.op(edge), Op::Net(_)) {
                    mark(edge, &|r| r.clock = true);
                } else {
                    other(clock, &mut mark);
                }
                data_of(data, &mut mark);
            }
            Kind::Latch { open, data } => {
                condition(open, &mut mark);
                data_of(data, &mut mark);
            }
        }
        condition(e.clear, &mut mark);
        condition(e.preset, &mut mark);
    }
    for d in circuit.nets().iter().flat_map(|n| &n.drivers) {
        condition(d.enable, &mut mark);
        data_of(d.level, &mut mark);
    }
    all
}

impl Fields {
    /// The fields of a circuit.
    pub(super) fn of(circuit: &Circuit, steppings: &[Stepping]) -> Result<Self, NoDraft> {
        if let Some(joined) = circuit.joined_contacts().iter().find(|j| j.len() > 1) {
            let labels: Vec<String> = joined.iter().map(Label::to_string).collect();
            return Err(NoDraft::NotWritable {
                what: format!("contacts {} on one net", labels.join(" and ")),
                mend: "trace one of them, and join the others to it at the adapter".to_owned(),
            });
        }
        let reads = reads(circuit);
        let mut fields = Fields { all: Vec::new(), of_net: HashMap::new(), of_element: HashMap::new() };
        let mut contacts: Vec<ContactId> = circuit.numbered_contacts().map(|(id, _)| id).collect();
        contacts.sort_by_key(|id| circuit.contacts().get(id.index()).map(|c| c.label.clone()));
        for id in contacts {
            if let Some(field) = fields.contact(circuit, &reads, id) {
                fields.push(field);
            }
        }
        let names = named_bits(circuit);
        let counts: HashSet<ElementId> = steppings.iter().flat_map(|s| s.bits.iter().copied()).collect();
        for (id, e) in circuit.numbered_elements() {
            if fields.of_element.contains_key(&id) {
                continue;
            }
            let data = e.data();
            let is_plain = matches!(circuit.op(data), Op::Net(_) | Op::Q(_) | Op::QInverted(_) | Op::Constant(_));
            let is_data = is_plain || counts.contains(&id) || e.clear != Expr::LOW && e.preset != Expr::LOW;
            let name = names.get(&id).cloned().unwrap_or_else(|| of_value(&e.name));
            fields.push(Field {
                name,
                index: None,
                sort: if e.is_register() { Sort::Register } else { Sort::Latch },
                sense: if is_data { Sense::Data } else { Sense::High },
                drive: Drive::None,
                pull: Pull::None,
                label: None,
                net: None,
                element: Some(id),
                inverted: false,
                because: (!is_data).then_some("it loads a condition"),
            });
        }
        let nets = called(circuit);
        for net in loops(circuit, &fields) {
            let (bare, is_low) = nets.get(net.index()).map_or(("node", false), |(name, _)| without_mark(name));
            fields.push(Field {
                name: of_value(bare),
                index: None,
                sort: Sort::Node,
                sense: if is_low { Sense::Low } else { Sense::High },
                drive: Drive::None,
                pull: Pull::None,
                label: None,
                net: Some(net),
                element: None,
                inverted: false,
                because: Some(if is_low { MARKED } else { "gates hold it" }),
            });
        }
        fields.name();
        Ok(fields)
    }

    fn push(&mut self, field: Field) {
        let at = self.all.len();
        if let Some(net) = field.net {
            self.of_net.insert(net, at);
        }
        if let Some(element) = field.element {
            self.of_element.insert(element, at);
        }
        self.all.push(field);
    }

    fn contact(&self, circuit: &Circuit, reads: &[Read], id: ContactId) -> Option<Field> {
        let contact = circuit.contacts().get(id.index())?;
        let net = circuit.nets().get(contact.net.index())?;
        let read = reads.get(contact.net.index()).copied().unwrap_or_default();
        let drivers: Vec<&Driver> = net.drivers.iter().filter(|d| d.enable != Expr::LOW).collect();
        let drive = match &drivers[..] {
            [] => Drive::None,
            all if all.iter().any(|d| is_always(d)) => Drive::Always,
            all if all.iter().all(|d| d.stage == Stage::OpenCollector) => Drive::OpenCollector,
            _ => Drive::ThreeState,
        };
        let is_read = read.clock || read.low || read.other;
        let sort = match drive {
            Drive::None => Sort::Input,
            Drive::ThreeState | Drive::OpenCollector if is_read => Sort::InOut,
            _ => Sort::Output,
        };
        let (bare, is_low) = without_mark(&contact.name);
        let (sense, because) = if sort == Sort::Input && read.clock && !read.low && !read.other {
            (Sense::Clock, Some("it clocks registers and does nothing else"))
        } else if is_low {
            (Sense::Low, Some(MARKED))
        } else if sort == Sort::Input && read.low && !read.other && !read.clock {
            (Sense::Low, Some("it feeds active-low pins and nothing else"))
        } else if sort == Sort::Input && is_read && !read.plain && !read.clock && numbered(bare).is_none() {
            (Sense::High, Some("it is used as a condition and nowhere as data"))
        } else if drive == Drive::Always && numbered(bare).is_none() && is_computed(circuit, &drivers) {
            (Sense::High, Some("it shows a condition"))
        } else {
            (Sense::Data, None)
        };
        // the stored bit that stands at the pin alone
        let at_pin = match &drivers[..] {
            [d] if d.stage != Stage::OpenCollector => stored(circuit, behind(circuit, d.level)),
            _ => None,
        };
        let both = |e: ElementId| {
            circuit.elements().get(e.index()).is_none_or(|e| e.clear != Expr::LOW && e.preset != Expr::LOW)
        };
        // what a pin shows says nothing of the complementary output while both overrides act: both are high then
        let is_complemented = |e: ElementId| circuit.expressions().any(|x| circuit.op(x) == Op::QInverted(e));
        let shows_all = |e: ElementId, inverted: bool| !inverted && matches!(sense, Sense::Data) && !is_complemented(e);
        let at_pin =
            at_pin.filter(|&(e, inverted)| !self.of_element.contains_key(&e) && (!both(e) || shows_all(e, inverted)));
        Some(Field {
            name: of_value(bare),
            index: None,
            sort,
            sense,
            drive,
            pull: net.pull,
            label: Some(contact.label.clone()),
            net: Some(contact.net),
            element: at_pin.map(|p| p.0),
            inverted: at_pin.is_some_and(|p| p.1),
            because,
        })
    }

    /// Numbered runs become arrays; every name is one of its own.
    fn name(&mut self) {
        let mut runs: BTreeMap<(String, (Sort, Sense, Drive, bool, bool)), Vec<(usize, usize)>> = BTreeMap::new();
        for (i, f) in self.all.iter().enumerate() {
            if let Some((head, number)) = numbered(&f.name) {
                let pulled = f.pull == Pull::None;
                if pulled {
                    runs.entry((head.to_owned(), f.kind())).or_default().push((number, i));
                }
            }
        }
        let mut taken: HashSet<String> = HashSet::new();
        let mut named = vec![false; self.all.len()];
        for ((head, _), mut members) in runs {
            members.sort_unstable();
            let is_run = members.len() > 1 && members.windows(2).all(|w| w[1].0 == w[0].0 + 1);
            let in_order = members.windows(2).all(|w| {
                let label = |m: &(usize, usize)| self.all.get(m.1).and_then(|f| f.label.clone());
                label(&w[0]).is_none() == label(&w[1]).is_none()
            });
            if !is_run || !in_order {
                continue;
            }
            let name = fresh(&unkept(&head), &mut taken);
            for (index, (_, i)) in members.into_iter().enumerate() {
                if let Some(f) = self.all.get_mut(i) {
                    f.name.clone_from(&name);
                    f.index = Some(index);
                    if matches!(f.sort, Sort::Register | Sort::Latch) {
                        (f.sense, f.because) = (Sense::Data, None);
                    }
                }
                if let Some(done) = named.get_mut(i) {
                    *done = true;
                }
            }
        }
        for (f, _) in self.all.iter_mut().zip(named).filter(|(_, done)| !done) {
            f.name = fresh(&f.name, &mut taken);
        }
    }

    /// The name of the array that these are, all of it and in its order, if what it carries are levels.
    pub(super) fn array<'f>(&self, of: &[Option<&'f Field>]) -> Option<&'f str> {
        let name = &of.first().copied().flatten()?.name;
        let is_level = |f: &Field| {
            let is_plain = matches!(f.sort, Sort::Input | Sort::Register | Sort::Latch)
                || f.sort == Sort::Output && f.drive == Drive::Always;
            is_plain && f.sense == Sense::Data && !f.inverted
        };
        let in_order =
            of.iter().enumerate().all(|(i, f)| f.is_some_and(|f| f.name == *name && f.index == Some(i) && is_level(f)));
        let whole = self.all.iter().filter(|f| f.name == *name).count() == of.len();
        (in_order && whole).then_some(name.as_str())
    }

    /// All names that are taken.
    pub(super) fn names(&self) -> HashSet<String> {
        self.all.iter().map(|f| f.name.clone()).collect()
    }
}

/// Stored bits by the nets that show them.
fn named_bits(circuit: &Circuit) -> HashMap<ElementId, String> {
    let mut names = HashMap::new();
    for inverted in [false, true] {
        for (net, (name, is_on_board)) in circuit.nets().iter().zip(called(circuit)) {
            let [d] = net.drivers.as_slice() else { continue };
            let Some((e, is_inverted)) = stored(circuit, behind(circuit, d.level)).filter(|_| is_always(d)) else {
                continue;
            };
            if is_inverted != inverted || names.contains_key(&e) {
                continue;
            }
            if !is_on_board {
                continue;
            }
            let (bare, is_low) = without_mark(&name);
            // a complement that bears the mark is called as what it is the complement of
            let name = if inverted && is_low { of_value(bare) } else { of_value(&name) };
            names.insert(e, if inverted && !is_low { format!("not_{name}") } else { name });
        }
    }
    names
}

/// Nets at which loops of gates are cut: those that are reached from themselves and are no field yet.
fn loops(circuit: &Circuit, fields: &Fields) -> Vec<NetId> {
    let is_field = |n: NetId| fields.of_net.contains_key(&n);
    let below = |n: NetId| -> Vec<NetId> {
        let (mut nets, mut seen) = (Vec::new(), HashSet::new());
        let mut open: Vec<Expr> = circuit.nets().get(n.index()).into_iter().flat_map(|n| n.inputs()).collect();
        while let Some(e) = open.pop() {
            if seen.insert(e) {
                if let Op::Net(m) = circuit.op(e) {
                    nets.push(m);
                }
                open.extend(circuit.op(e).operands());
            }
        }
        nets.sort_unstable();
        nets.dedup();
        nets
    };
    let mut cut = Vec::new();
    // 0 not seen, 1 on the way, 2 done
    let mut state = vec![0_u8; circuit.nets().len()];
    for (root, _) in circuit.numbered_nets() {
        let mut stack = vec![(root, None::<Vec<NetId>>)];
        while let Some((n, rest)) = stack.pop() {
            let Some(now) = state.get_mut(n.index()) else { continue };
            let mut rest = match rest {
                Some(rest) => rest,
                None if *now != 0 => continue,
                None if is_field(n) => {
                    *now = 2;
                    continue;
                }
                None => {
                    *now = 1;
                    below(n)
                }
            };
            match rest.pop() {
                Some(next) => {
                    stack.push((n, Some(rest)));
                    match state.get(next.index()) {
                        Some(1) if !is_field(next) && !cut.contains(&next) => cut.push(next),
                        Some(0) => stack.push((next, None)),
                        _ => {}
                    }
                }
                None => {
                    if let Some(now) = state.get_mut(n.index()) {
                        *now = 2;
                    }
                }
            }
        }
    }
    cut
}
