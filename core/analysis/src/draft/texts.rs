//! Expressions of a circuit as conditions and levels of the language, with a `let` for what several things share.
use std::collections::{HashMap, HashSet};

use gluewright_kernel::circuit::{By, Circuit, Driver, ElementId, Expr, NetId, Op, Stage};

use super::fields::{Field, Fields, Sense, Sort, called};
use super::names::{fresh, of_value, without_mark};

/// How tightly a text binds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Binds {
    Or,
    Xor,
    And,
    All,
}

/// A condition in Rust.
#[derive(Clone, Debug)]
struct Text {
    words: String,
    binds: Binds,
}

impl Text {
    fn whole(words: impl Into<String>) -> Self {
        Text { words: words.into(), binds: Binds::All }
    }

    fn within(&self, least: Binds) -> String {
        if self.binds < least { format!("({})", self.words) } else { self.words.clone() }
    }

    /// How it reads: fewer inversions first, then the shorter.
    fn weight(&self) -> (usize, usize) {
        (self.words.matches('!').count(), self.words.len())
    }
}

/// A `let` of the wiring.
#[derive(Clone, Debug)]
pub(super) struct Let {
    pub(super) name: String,
    pub(super) value: String,
    /// The packages that it stands for.
    pub(super) packages: Vec<String>,
}

/// What a shared thing is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Shared {
    Net(NetId),
    Expr(Expr),
}

/// Writes expressions.
pub(super) struct Texts<'c> {
    circuit: &'c Circuit,
    fields: &'c Fields,
    taken: HashSet<String>,
    uses: HashMap<Shared, usize>,
    known: HashMap<(Expr, bool), Text>,
    /// Names of what is shared, and whether the name stands for its high level.
    names: HashMap<Shared, (String, bool)>,
    /// What each net is called.
    nets: Vec<String>,
    pub(super) lets: Vec<Let>,
}

/// So many signals at least make an expression worth a name of its own.
const WORTH: usize = 2;

impl<'c> Texts<'c> {
    pub(super) fn new(circuit: &'c Circuit, fields: &'c Fields) -> Self {
        let mut texts = Texts {
            circuit,
            fields,
            taken: fields.names(),
            uses: HashMap::new(),
            known: HashMap::new(),
            names: HashMap::new(),
            nets: called(circuit),
            lets: Vec::new(),
        };
        texts.count();
        texts
    }

    /// How often each net and each expression is used by what is written.
    fn count(&mut self) {
        let circuit = self.circuit;
        let mut open: Vec<Expr> = Vec::new();
        for e in circuit.elements() {
            open.extend(e.inputs());
        }
        for f in self.fields.all.iter().filter(|f| f.element.is_none()) {
            if let Some(net) = f.net.and_then(|n| circuit.nets().get(n.index())) {
                open.extend(net.inputs());
            }
        }
        for f in self.fields.all.iter().filter(|f| f.element.is_some()) {
            if let Some(net) = f.net.and_then(|n| circuit.nets().get(n.index())) {
                open.extend(net.drivers.iter().map(|d| d.enable));
            }
        }
        let mut seen = HashSet::new();
        let mut nets = HashSet::new();
        while let Some(e) = open.pop() {
            let e = self.bare(e).0;
            *self.uses.entry(Shared::Expr(e)).or_default() += 1;
            if let Op::Net(n) = circuit.op(e) {
                *self.uses.entry(Shared::Net(n)).or_default() += 1;
                if !self.fields.of_net.contains_key(&n) && nets.insert(n) {
                    let drivers = circuit.nets().get(n.index()).map_or(&[][..], |n| &n.drivers);
                    open.extend(drivers.iter().flat_map(|d| [d.enable, d.level]));
                }
            } else if seen.insert(e) {
                open.extend(circuit.op(e).operands());
            }
        }
    }

    /// An expression without inversions, and whether there was an odd number of them.
    fn bare(&self, mut e: Expr) -> (Expr, bool) {
        let mut inverted = false;
        loop {
            match self.circuit.op(e) {
                Op::Not(a) => (e, inverted) = (a, !inverted),
                // a net that passes on what another shows, or its complement
                Op::Net(n) if !self.fields.of_net.contains_key(&n) => match self.passed_on(n) {
                    Some(level) => e = level,
                    None => return (e, inverted),
                },
                _ => return (e, inverted),
            }
        }
    }

    fn passed_on(&self, n: NetId) -> Option<Expr> {
        let [d] = self.circuit.nets().get(n.index())?.drivers.as_slice() else { return None };
        let is_always = d.enable == Expr::HIGH && d.stage != Stage::OpenCollector;
        let mut e = d.level;
        while let Op::Not(a) = self.circuit.op(e) {
            e = a;
        }
        let is_one = matches!(self.circuit.op(e), Op::Net(_) | Op::Q(_) | Op::QInverted(_) | Op::Constant(_));
        (is_always && is_one).then_some(d.level)
    }

    /// How many signals an expression reads, counted as often as it is written.
    fn size(&self, e: Expr, most: usize) -> usize {
        if most == 0 {
            return 0;
        }
        match self.circuit.op(self.bare(e).0) {
            Op::Net(_) | Op::Q(_) | Op::QInverted(_) | Op::Constant(_) => 1,
            op => op.operands().fold(0, |n, e| if n >= most { n } else { n + self.size(e, most - n) }),
        }
    }

    /// A condition that is true while the expression has this level.
    pub(super) fn condition(&mut self, e: Expr, high: bool) -> String {
        self.text(e, high).words
    }

    fn text(&mut self, e: Expr, high: bool) -> Text {
        let (e, inverted) = self.bare(e);
        let high = high != inverted;
        if let Some(known) = self.known.get(&(e, high)) {
            return known.clone();
        }
        let shared = match self.circuit.op(e) {
            Op::Net(n) => Some(Shared::Net(n)),
            Op::Q(_) | Op::QInverted(_) | Op::Constant(_) => None,
            _ => Some(Shared::Expr(e)),
        };
        let named = shared.and_then(|s| self.named(s, e));
        let text = match named {
            Some((name, is_high)) => Text::whole(if is_high == high { name } else { format!("!{name}") }),
            None => self.open(e, high),
        };
        self.known.insert((e, high), text.clone());
        text
    }

    /// The name of something that is shared, with a `let` for it.
    fn named(&mut self, shared: Shared, e: Expr) -> Option<(String, bool)> {
        if let Some(known) = self.names.get(&shared) {
            return Some(known.clone());
        }
        let uses = self.uses.get(&shared).copied().unwrap_or(0);
        if uses < 2 {
            return None;
        }
        let (name, is_high, packages) = match shared {
            Shared::Net(n) if self.fields.of_net.contains_key(&n) => return None,
            Shared::Net(n) => {
                let net = self.circuit.nets().get(n.index())?;
                if net.drivers.iter().all(|d| self.size(d.level, 2) + self.size(d.enable, 2) < WORTH) {
                    return None;
                }
                let (bare, is_low) = without_mark(self.nets.get(n.index())?);
                let mut packages: Vec<String> = net.drivers.iter().filter_map(|d| package(&d.by)).collect();
                packages.dedup();
                (of_value(bare), !is_low, packages)
            }
            Shared::Expr(e) => {
                if self.size(e, 4) < 4 {
                    return None;
                }
                ("part".to_owned(), true, Vec::new())
            }
        };
        let value = self.open(e, is_high).words;
        let name = fresh(&name, &mut self.taken);
        self.lets.push(Let { name: name.clone(), value, packages });
        self.names.insert(shared, (name.clone(), is_high));
        Some((name, is_high))
    }

    /// The text of what an expression is made of.
    fn open(&mut self, e: Expr, high: bool) -> Text {
        match self.circuit.op(e) {
            Op::Constant(level) => Text::whole(if level == high { "Assertion::ALWAYS" } else { "Assertion::NEVER" }),
            Op::Q(x) => self.bit(x, high),
            Op::QInverted(x) => self.complement(x, high),
            Op::Net(n) => self.net(n, high),
            Op::Not(a) => self.text(a, !high),
            Op::And(a, b) => self.joined((a, b), high, true),
            Op::Or(a, b) => self.joined((a, b), high, false),
            Op::Xor(a, b) => {
                let [x, y] = [self.text(a, true), self.text(b, true)];
                let words = format!("{} ^ {}", x.within(Binds::Xor), y.within(Binds::Xor));
                if high { Text { words, binds: Binds::Xor } } else { Text::whole(format!("!({words})")) }
            }
            Op::Choose(c, a, b) => {
                let [c, a, b] = [self.text(c, true), self.text(a, high), self.text(b, high)];
                Text::whole(format!("choose({}, {}, {})", c.words, a.words, b.words))
            }
        }
    }

    /// A product or a sum, or what it is by De Morgan's rule: what reads better.
    fn joined(&mut self, (a, b): (Expr, Expr), high: bool, is_and: bool) -> Text {
        let direct = [self.text(a, true), self.text(b, true)];
        let turned = [self.text(a, false), self.text(b, false)];
        let join = |[x, y]: &[Text; 2], is_and: bool| {
            let (binds, sign) = if is_and { (Binds::And, "&") } else { (Binds::Or, "|") };
            Text { words: format!("{} {sign} {}", x.within(binds), y.within(binds)), binds }
        };
        let not = |t: Text| Text::whole(format!("!({})", t.words));
        let [one, other] = if high {
            [join(&direct, is_and), not(join(&turned, !is_and))]
        } else {
            [join(&turned, !is_and), not(join(&direct, is_and))]
        };
        if other.weight() < one.weight() { other } else { one }
    }

    /// A condition on a stored bit.
    fn bit(&self, e: ElementId, high: bool) -> Text {
        let Some(f) = self.field_of(e) else { return Text::whole("Assertion::NEVER") };
        match f.sense {
            // the wire of a contact that others drive too is not what it holds
            Sense::Low | Sense::High if f.sort != Sort::InOut => {
                let asserted = format!("{}.asserted()", f.path());
                Text::whole(if f.asserted_high() == high { asserted } else { format!("!{asserted}") })
            }
            _ => Text::whole(format!("{}.{}", held(f), if high != f.inverted { "is_high()" } else { "is_low()" })),
        }
    }

    fn complement(&self, e: ElementId, high: bool) -> Text {
        let both =
            self.circuit.elements().get(e.index()).is_some_and(|e| e.clear != Expr::LOW && e.preset != Expr::LOW);
        match self.field_of(e).filter(|f| both && matches!(f.sort, Sort::Register | Sort::Latch)) {
            Some(f) => {
                Text::whole(format!("{}.q_inverted().{}", f.path(), if high { "is_high()" } else { "is_low()" }))
            }
            None => self.bit(e, !high),
        }
    }

    fn field_of(&self, e: ElementId) -> Option<&'c Field> {
        self.fields.of_element.get(&e).and_then(|&i| self.fields.all.get(i))
    }

    fn net(&mut self, n: NetId, high: bool) -> Text {
        if let Some(f) = self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)) {
            return match f.sense {
                Sense::Low | Sense::High => {
                    let asserted = format!("{}.asserted()", f.path());
                    Text::whole(if (f.sense == Sense::High) == high { asserted } else { format!("!{asserted}") })
                }
                Sense::Data | Sense::Clock => {
                    Text::whole(format!("{}.level().{}", f.path(), if high { "is_high()" } else { "is_low()" }))
                }
            };
        }
        let circuit = self.circuit;
        let Some(net) = circuit.nets().get(n.index()) else { return Text::whole("Assertion::NEVER") };
        let reads_high = net.undriven_level() != Some(false);
        self.merged(&net.drivers, reads_high, high)
    }

    /// The level of a net from all its drivers: where two disagree, low wins.
    fn merged(&mut self, drivers: &[Driver], undriven: bool, high: bool) -> Text {
        if let [d] = drivers
            && d.enable == Expr::HIGH
        {
            return self.text(d.level, high);
        }
        let down: Vec<Text> = drivers.iter().map(|d| self.pulls(d, false)).collect();
        if undriven {
            let low = any(&down);
            return if high { Text::whole(format!("!{}", low.within(Binds::All))) } else { low };
        }
        let up: Vec<Text> = drivers.iter().map(|d| self.pulls(d, true)).collect();
        let (up, down) = (any(&up), any(&down));
        let words = format!("{} & !{}", up.within(Binds::And), down.within(Binds::All));
        if high { Text { words, binds: Binds::And } } else { Text::whole(format!("!({words})")) }
    }

    /// While a driver drives this level.
    fn pulls(&mut self, d: &Driver, high: bool) -> Text {
        let level = self.text(d.level, high);
        if d.enable == Expr::HIGH {
            return level;
        }
        let enable = self.text(d.enable, true);
        if self.circuit.op(d.level) == Op::Constant(high) {
            return enable;
        }
        Text { words: format!("{} & {}", enable.within(Binds::And), level.within(Binds::And)), binds: Binds::And }
    }

    /// While one of several drivers of a contact is on, and what level it then shows is low.
    pub(super) fn driven(&mut self, drivers: &[Driver]) -> (Option<String>, String) {
        let on: Vec<Text> = drivers
            .iter()
            .map(|d| match d.stage {
                // an open collector that lets go drives nothing
                Stage::OpenCollector => self.pulls(d, false),
                _ => self.text(d.enable, true),
            })
            .collect();
        let always = drivers.iter().any(|d| d.enable == Expr::HIGH && d.stage != Stage::OpenCollector);
        let low: Vec<Text> = drivers.iter().map(|d| self.pulls(d, false)).collect();
        ((!always).then(|| any(&on).words), any(&low).words)
    }

    /// The level of an expression, or its complement.
    pub(super) fn level(&mut self, e: Expr, inverted: bool) -> String {
        let (bare, odd) = self.bare(e);
        let inverted = inverted != odd;
        let sign = if inverted { "!" } else { "" };
        match self.circuit.op(bare) {
            Op::Constant(level) => if level != inverted { "Level::HIGH" } else { "Level::LOW" }.to_owned(),
            Op::Net(n) => match self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)) {
                Some(f) => format!("{sign}{}.level()", f.path()),
                None => self.high_while(bare, !inverted),
            },
            Op::Q(x) => match self.field_of(x) {
                Some(f) => format!("{}{}", if inverted != f.inverted { "!" } else { "" }, held(f)),
                None => "Level::LOW".to_owned(),
            },
            Op::Choose(c, a, b) if !self.is_named(bare) => {
                let c = self.condition(c, true);
                let [a, b] = [a, b].map(|x| self.level(x, inverted));
                format!("choose({c}, {a}, {b})")
            }
            _ => self.high_while(bare, !inverted),
        }
    }

    fn is_named(&self, e: Expr) -> bool {
        self.uses.get(&Shared::Expr(e)).is_some_and(|&n| n > 1)
    }

    fn high_while(&mut self, e: Expr, high: bool) -> String {
        let text = self.text(e, high);
        match text.words.strip_prefix('!') {
            Some(rest) if text.binds == Binds::All && !rest.contains(' ') => format!("low_while({rest})"),
            _ => format!("high_while({})", text.words),
        }
    }

    /// The moment at which an expression rises.
    pub(super) fn edge(&mut self, e: Expr) -> String {
        let (bare, inverted) = self.bare(e);
        let way = |rises: bool| if rises { "rises()" } else { "falls()" };
        let field = match self.circuit.op(bare) {
            Op::Net(n) => self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)),
            Op::Q(x) => match self.field_of(x).filter(|f| f.sort != Sort::InOut) {
                Some(f) => return format!("{}.{}", f.path(), way(inverted == f.inverted)),
                None => None,
            },
            _ => None,
        };
        match field {
            Some(f) => format!("{}.{}", f.path(), way(!inverted)),
            None => {
                let text = self.text(bare, true);
                let (words, begins) = match text.words.strip_prefix('!') {
                    // one inversion of one thing, or of all in brackets
                    Some(rest) if text.binds == Binds::All => (rest.to_owned(), inverted),
                    _ => (text.within(Binds::All), !inverted),
                };
                format!("{words}.{}", if begins { "begins()" } else { "ends()" })
            }
        }
    }
}

/// The level that a field holds.
fn held(f: &Field) -> String {
    match f.sort {
        Sort::Register | Sort::Latch => format!("{}.q()", f.path()),
        _ => format!("{}.held()", f.path()),
    }
}

/// True while one of these is.
fn any(of: &[Text]) -> Text {
    match of {
        [] => Text::whole("Assertion::NEVER"),
        [one] => one.clone(),
        all => {
            let words: Vec<String> = all.iter().map(|t| t.within(Binds::Xor)).collect();
            Text { words: words.join(" | "), binds: Binds::Or }
        }
    }
}

/// The package of a driver.
fn package(by: &By) -> Option<String> {
    match by {
        By::Pin { package, .. } => Some(package.clone()),
        By::Within { part, .. } => package(part),
        By::Resistor(_) | By::Signal(_) => None,
    }
}
