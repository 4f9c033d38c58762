//! Expressions of a circuit as conditions and levels of the language, with a `let` for what several things share.
mod drivers;
mod idioms;
mod text;

use std::cell::Cell;
use std::collections::{BTreeSet, HashMap, HashSet};

use gluewright_kernel::circuit::{By, Circuit, ElementId, Expr, NetId, Op};

use self::text::{Binds, Text};
use super::fields::{Field, Fields, Sense, Sort, called, is_always};
use super::found::{Decoder, Stepping};
use super::names::{fresh, of_value, without_mark};

/// A `let` of the wiring.
#[derive(Clone, Debug)]
pub(super) struct Let {
    pub(super) name: String,
    pub(super) value: String,
    /// The packages that it stands for.
    pub(super) packages: BTreeSet<String>,
}

/// The functions of `gluewright::idioms` that a draft uses: no `let` takes such a name.
const IDIOMS: [&str; 5] = ["count_down", "count_up", "count_up_or_down", "decoded", "shift"];

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
    nets: Vec<(String, bool)>,
    pub(super) lets: Vec<Let>,
    decoders: &'c [Decoder],
    /// The decoder and the line of it that each of these is, until one is written.
    lines: HashMap<Shared, (usize, usize)>,
    /// The packages that stand behind what was written since they were last taken.
    from: BTreeSet<String>,
    /// The idioms that are used.
    pub(super) idioms: BTreeSet<&'static str>,
    /// The number within its array of what is written, and whether it was used.
    own: Option<usize>,
    numbered: Cell<bool>,
}

/// The fewest signals for which an expression gets a name of its own.
const WORTH: usize = 2;

impl<'c> Texts<'c> {
    pub(super) fn new(
        circuit: &'c Circuit,
        fields: &'c Fields,
        (steppings, decoders): (&'c [Stepping], &'c [Decoder]),
    ) -> Self {
        let mut taken = fields.names();
        taken.extend(IDIOMS.map(str::to_owned));
        let mut texts = Texts {
            circuit,
            fields,
            taken,
            uses: HashMap::new(),
            known: HashMap::new(),
            names: HashMap::new(),
            nets: called(circuit),
            lets: Vec::new(),
            decoders,
            lines: HashMap::new(),
            from: BTreeSet::new(),
            idioms: BTreeSet::new(),
            own: None,
            numbered: Cell::new(false),
        };
        for (d, decoder) in decoders.iter().enumerate() {
            for (l, line) in decoder.lines.iter().enumerate() {
                for shared in texts.stands_for(line) {
                    texts.lines.insert(shared.0, (d, l));
                }
            }
        }
        texts.count(steppings);
        texts
    }

    /// How often each net and each expression is used by what is written.
    fn count(&mut self, steppings: &[Stepping]) {
        let circuit = self.circuit;
        let mut open: Vec<Expr> = Vec::new();
        let steps: HashSet<ElementId> = steppings.iter().flat_map(|s| s.bits.iter().copied()).collect();
        for (id, e) in circuit.numbered_elements() {
            match steps.contains(&id) {
                true => open.extend([e.gate(), e.clear]),
                false => open.extend(e.inputs()),
            }
        }
        open.extend(steppings.iter().flat_map(|s| s.leaves.iter().copied()));
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
        let mut e = d.level;
        while let Op::Not(a) = self.circuit.op(e) {
            e = a;
        }
        let is_one = matches!(self.circuit.op(e), Op::Net(_) | Op::Q(_) | Op::QInverted(_) | Op::Constant(_));
        (is_always(d) && is_one).then_some(d.level)
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
        let text = self.text(e, high);
        self.words(text)
    }

    /// A text as it is written.
    fn words(&mut self, text: Text) -> String {
        self.from.extend(text.from);
        text.words
    }

    /// The packages that stand behind what was written since this was last asked.
    pub(super) fn packages(&mut self) -> BTreeSet<String> {
        std::mem::take(&mut self.from)
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
            Some((name, is_high)) => Text::whole(name).is(is_high == high),
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
        if let Some(&(decoder, _)) = self.lines.get(&shared) {
            let before = self.packages();
            self.decode(decoder);
            self.from = before;
            return self.names.get(&shared).cloned();
        }
        let uses = self.uses.get(&shared).copied().unwrap_or(0);
        if uses < 2 {
            return None;
        }
        let (name, is_high, mut packages): (String, bool, BTreeSet<String>) = match shared {
            Shared::Net(n) if self.fields.of_net.contains_key(&n) => return None,
            Shared::Net(n) => {
                let net = self.circuit.nets().get(n.index())?;
                if net.drivers.iter().all(|d| self.size(d.level, 2) + self.size(d.enable, 2) < WORTH) {
                    return None;
                }
                let (bare, is_low) = without_mark(&self.nets.get(n.index())?.0);
                (of_value(bare), !is_low, net.drivers.iter().filter_map(|d| package(&d.by)).collect())
            }
            Shared::Expr(e) => {
                if self.size(e, 4) < 4 {
                    return None;
                }
                ("part".to_owned(), true, BTreeSet::new())
            }
        };
        let value = self.open(e, is_high);
        packages.extend(value.from);
        let value = value.words;
        let name = fresh(&name, &mut self.taken);
        self.lets.push(Let { name: name.clone(), value, packages });
        self.names.insert(shared, (name.clone(), is_high));
        Some((name, is_high))
    }

    /// The text of what an expression is made of.
    fn open(&mut self, e: Expr, high: bool) -> Text {
        match self.circuit.op(e) {
            Op::Constant(level) => Text::constant(level == high),
            Op::Q(x) => self.bit(x, high),
            Op::QInverted(x) => self.complement(x, high),
            Op::Net(n) => self.net(n, high),
            Op::Not(a) => self.text(a, !high),
            Op::And(a, b) => self.joined((a, b), high, true),
            Op::Or(a, b) => self.joined((a, b), high, false),
            Op::Xor(a, b) => {
                let [x, y] = [self.text(a, true), self.text(b, true)];
                let words = format!("{} ^ {}", x.within(Binds::Xor), y.within(Binds::Xor));
                Text::joined(words, Binds::Xor, &[&x, &y]).is(high)
            }
            Op::Choose(c, a, b) => {
                let [c, a, b] = [self.text(c, true), self.text(a, high), self.text(b, high)];
                Text::chosen(&c, &a, &b)
            }
        }
    }

    /// A product or a sum, or what it is by De Morgan's rule: what reads better.
    fn joined(&mut self, (a, b): (Expr, Expr), high: bool, is_and: bool) -> Text {
        let direct = [self.text(a, true), self.text(b, true)];
        let turned = [self.text(a, false), self.text(b, false)];
        let join = |[x, y]: &[Text; 2], is_and: bool| Text::of_two(x, y, is_and);
        let not = |t: Text| Text::not(&t);
        let [one, other] = if high {
            [join(&direct, is_and), not(join(&turned, !is_and))]
        } else {
            [join(&turned, !is_and), not(join(&direct, is_and))]
        };
        if other.weight() < one.weight() { other } else { one }
    }

    /// A condition on a stored bit.
    fn bit(&self, e: ElementId, high: bool) -> Text {
        let Some(f) = self.field_of(e) else { return Text::constant(false) };
        match f.sense {
            // the wire of a contact that others drive too is not what it holds
            Sense::Low | Sense::High if f.sort != Sort::InOut => {
                Text::whole(format!("{}.asserted()", self.path(f))).is(f.asserted_high() == high)
            }
            _ => Text::whole(format!("{}.{}", self.held(f), if high != f.inverted { "is_high()" } else { "is_low()" })),
        }
    }

    fn complement(&self, e: ElementId, high: bool) -> Text {
        let both =
            self.circuit.elements().get(e.index()).is_some_and(|e| e.clear != Expr::LOW && e.preset != Expr::LOW);
        match self.field_of(e).filter(|f| both && matches!(f.sort, Sort::Register | Sort::Latch)) {
            Some(f) => {
                Text::whole(format!("{}.q_inverted().{}", self.path(f), if high { "is_high()" } else { "is_low()" }))
            }
            None => self.bit(e, !high),
        }
    }

    fn field_of(&self, e: ElementId) -> Option<&'c Field> {
        self.fields.of_element.get(&e).and_then(|&i| self.fields.all.get(i))
    }

    /// How a field is called; within one of an array, its own number is `i`.
    fn path(&self, f: &Field) -> String {
        match f.index.filter(|_| self.own.is_some() && f.index == self.own) {
            Some(_) => {
                self.numbered.set(true);
                format!("self.{}[i]", f.name)
            }
            None => f.path(),
        }
    }

    /// A place in a word: `i` where it is the number of the field that is written.
    pub(super) fn number(&self, f: &Field, place: usize) -> String {
        if self.own == Some(place) && f.index == self.own {
            self.numbered.set(true);
            return "i".to_owned();
        }
        place.to_string()
    }

    /// The level that a field holds.
    fn held(&self, f: &Field) -> String {
        match f.sort {
            Sort::Register | Sort::Latch => format!("{}.q()", self.path(f)),
            _ => format!("{}.held()", self.path(f)),
        }
    }

    /// What is written from now on is of this one of an array, if of any; what is shared has been named by then.
    pub(super) fn within(&mut self, own: Option<usize>) {
        self.own = own;
        self.numbered.set(false);
        self.known.clear();
    }

    /// Whether the number of the array's element was used since.
    pub(super) fn is_numbered(&self) -> bool {
        self.numbered.get()
    }

    fn is_named(&self, e: Expr) -> bool {
        self.uses.get(&Shared::Expr(e)).is_some_and(|&n| n > 1)
    }

    fn high_while(&mut self, e: Expr, high: bool) -> String {
        let text = self.text(e, high);
        self.from.extend(text.from);
        match (text.constant, text.inverts) {
            (Some(always), _) => if always { "Level::HIGH" } else { "Level::LOW" }.to_owned(),
            (None, Some(inner)) => format!("low_while({})", inner.words),
            (None, None) => format!("high_while({})", text.words),
        }
    }

    /// The moment at which an expression rises.
    pub(super) fn edge(&mut self, e: Expr) -> String {
        let (bare, inverted) = self.bare(e);
        let way = |rises: bool| if rises { "rises()" } else { "falls()" };
        let field = match self.circuit.op(bare) {
            Op::Net(n) => self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)),
            Op::Q(x) => match self.field_of(x).filter(|f| f.sort != Sort::InOut) {
                Some(f) => return format!("{}.{}", self.path(f), way(inverted == f.inverted)),
                None => None,
            },
            _ => None,
        };
        match field {
            Some(f) => format!("{}.{}", self.path(f), way(!inverted)),
            None => {
                let text = self.text(bare, true);
                self.from.extend(text.from.iter().cloned());
                let (words, begins) = match &text.inverts {
                    Some(inner) => (inner.within(Binds::All), inverted),
                    None => (text.within(Binds::All), !inverted),
                };
                format!("{words}.{}", if begins { "begins()" } else { "ends()" })
            }
        }
    }
}

/// The package of a driver.
pub(super) fn package(by: &By) -> Option<String> {
    match by {
        By::Pin { package, .. } => Some(package.clone()),
        By::Within { package: own, part } => package(part).or_else(|| Some(own.clone())),
        By::Resistor(_) | By::Drivers(_) | By::Signal(_) => None,
    }
}
