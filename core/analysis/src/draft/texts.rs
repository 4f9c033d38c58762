//! Expressions of a circuit as conditions and levels of the language, with a `let` for what several things share.
use std::cell::Cell;
use std::collections::{BTreeSet, HashMap, HashSet};

use gluewright_kernel::circuit::{By, Circuit, Driver, ElementId, Expr, NetId, Op, Stage};

use super::fields::{Field, Fields, Sense, Sort, called, is_always};
use super::found::{Decoder, Incoming, Line, Stepping, Steps, When};
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
    /// What it is the inversion of.
    inverts: Option<Box<Text>>,
    /// Inversions in it.
    inversions: usize,
    /// The packages whose gates it stands for.
    from: BTreeSet<String>,
}

impl Text {
    fn whole(words: impl Into<String>) -> Self {
        Text { words: words.into(), binds: Binds::All, inverts: None, inversions: 0, from: BTreeSet::new() }
    }

    fn not(of: &Text) -> Self {
        let (words, inversions) = (format!("!{}", of.within(Binds::All)), of.inversions + 1);
        Text { inverts: Some(Box::new(of.clone())), inversions, from: of.from.clone(), ..Text::whole(words) }
    }

    fn joined(words: String, binds: Binds, of: &[&Text]) -> Self {
        let from = of.iter().flat_map(|t| t.from.iter().cloned()).collect();
        Text { words, binds, inverts: None, inversions: of.iter().map(|t| t.inversions).sum(), from }
    }

    /// The same, or its inversion.
    fn is(self, so: bool) -> Self {
        if so { self } else { Text::not(&self) }
    }

    fn within(&self, least: Binds) -> String {
        if self.binds < least { format!("({})", self.words) } else { self.words.clone() }
    }

    /// How it reads: fewer inversions first, then the shorter.
    fn weight(&self) -> (usize, usize) {
        (self.inversions, self.words.len())
    }
}

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

/// So many signals at least make an expression worth a name of its own.
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

    /// A condition that is true while these levels hold.
    fn all_or_any(&mut self, when: &When) -> Text {
        let texts: Vec<Text> = when.literals.iter().map(|(e, high)| self.text(*e, *high)).collect();
        match (&texts[..], when.all) {
            ([], true) => Text::whole("Assertion::ALWAYS"),
            ([one], _) => one.clone(),
            (all, true) => {
                let words: Vec<String> = all.iter().map(|t| t.within(Binds::And)).collect();
                Text::joined(words.join(" & "), Binds::And, &all.iter().collect::<Vec<_>>())
            }
            (all, false) => any(all),
        }
    }

    fn while_(&mut self, when: &When) -> String {
        let text = self.all_or_any(when);
        self.words(text)
    }

    /// A `let` with the next state of registers that step together; its name.
    pub(super) fn steps(&mut self, s: &Stepping) -> String {
        let fields: Vec<Option<&Field>> = s.bits.iter().map(|b| self.field_of(*b)).collect();
        let levels: Vec<String> = s.bits.iter().map(|b| self.bit_level(*b, false)).collect();
        let bits = self.array(&fields, &levels);
        let (wanted, idiom, mut value) = match &s.steps {
            Steps::Count { up: Some(up), enabled, .. } => {
                let up = self.while_(up);
                ("count", "count_up_or_down", format!("count_up_or_down({bits}, {up}){}", self.enabled(enabled)))
            }
            Steps::Count { down, enabled, .. } => {
                let idiom = if *down { "count_down" } else { "count_up" };
                ("count", idiom, format!("{idiom}({bits}){}", self.enabled(enabled)))
            }
            Steps::Shift { up, down } => {
                let mut value = format!("shift({bits})");
                for (word, way) in [("up", up), ("down", down)] {
                    if let Some((when, into)) = way {
                        value += &format!(".{word}_while({}, {})", self.while_(when), self.into(*into));
                    }
                }
                ("shifted", "shift", value)
            }
        };
        if let Some((when, bits)) = &s.load {
            let fields: Vec<Option<&Field>> = bits
                .iter()
                .map(|b| match b {
                    Incoming::Level(e, false) => self.field_at(*e),
                    Incoming::Level(_, true) | Incoming::Constant(_) => None,
                })
                .collect();
            let levels: Vec<String> = bits.iter().map(|b| self.into(*b)).collect();
            value += &format!(".loaded_while({}, Word::of({}))", self.while_(when), self.array(&fields, &levels));
        }
        if let Some(when) = &s.clear {
            value += &format!(".cleared_while({})", self.while_(when));
        }
        value += ".next()";
        self.idioms.insert(idiom);
        let name = fresh(wanted, &mut self.taken);
        let mut packages = self.packages();
        packages.insert(s.package.clone());
        self.lets.push(Let { name: name.clone(), value, packages });
        name
    }

    /// The field whose level an expression is.
    fn field_at(&self, e: Expr) -> Option<&'c Field> {
        match self.circuit.op(e) {
            Op::Net(n) => self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)),
            _ => None,
        }
    }

    /// Several levels: an array of fields where they are one, else one by one.
    fn array(&self, fields: &[Option<&Field>], levels: &[String]) -> String {
        match self.fields.array(fields) {
            Some(name) => format!("self.{name}"),
            None => format!("[{}]", levels.join(", ")),
        }
    }

    fn enabled(&mut self, when: &When) -> String {
        if when.all && when.literals.is_empty() {
            return String::new();
        }
        format!(".enabled_while({})", self.while_(when))
    }

    fn into(&mut self, bit: Incoming) -> String {
        match bit {
            Incoming::Constant(level) => if level { "Level::HIGH" } else { "Level::LOW" }.to_owned(),
            Incoming::Level(e, inverted) => self.level(e, inverted),
        }
    }

    /// The level of a stored bit, or its complement.
    fn bit_level(&self, x: ElementId, inverted: bool) -> String {
        match self.field_of(x) {
            Some(f) => format!("{}{}", if inverted != f.inverted { "!" } else { "" }, self.held(f)),
            None => "Level::LOW".to_owned(),
        }
    }

    /// All that a line of a decoder is met as, and whether that is high while its number is asked for.
    fn stands_for(&self, line: &Line) -> [(Shared, bool); 2] {
        let (bare, inverted) = self.bare(line.level);
        let shared = match self.circuit.op(bare) {
            Op::Net(n) => Shared::Net(n),
            _ => Shared::Expr(bare),
        };
        [(Shared::Net(line.net), !line.is_low), (shared, line.is_low == inverted)]
    }

    /// A `let` with all lines of a decoder.
    fn decode(&mut self, at: usize) {
        let Some(d) = self.decoders.get(at) else { return };
        self.lines.retain(|_, line| line.0 != at);
        // numbered contacts in their order, whatever that of the package's pins
        let mut order: Vec<usize> = (0..d.select.len()).collect();
        let fields: Vec<_> =
            d.select.iter().filter_map(|e| self.field_at(*e).and_then(|f| Some((&f.name, f.index?)))).collect();
        if fields.len() == order.len() && fields.windows(2).all(|w| matches!(w, [a, b] if a.0 == b.0)) {
            order.sort_by_key(|&i| fields.get(i).map(|f| f.1));
        }
        let select: Vec<Expr> = order.iter().filter_map(|&i| d.select.get(i).copied()).collect();
        let fields: Vec<Option<&Field>> = select.iter().map(|e| self.field_at(*e)).collect();
        let levels: Vec<String> = select.iter().map(|e| self.level(*e, false)).collect();
        let enable = self.while_(&d.enable);
        let number = |line: &Line| -> usize {
            order.iter().enumerate().map(|(k, i)| usize::from(line.number.get(*i) == Some(&true)) << k).sum()
        };
        let count = d.lines.iter().map(number).max().map_or(0, |most| most + 1);
        let name = fresh("lines", &mut self.taken);
        let value = format!("decoded(Word::of({}), {enable})", self.array(&fields, &levels));
        let mut packages = self.packages();
        packages.insert(d.package.clone());
        self.idioms.insert("decoded");
        self.lets.push(Let { name: format!("{name}: [Assertion; {count}]"), value, packages });
        for line in &d.lines {
            for (shared, is_high) in self.stands_for(line) {
                self.names.insert(shared, (format!("{name}[{}]", number(line)), is_high));
            }
        }
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
                Text::joined(words, Binds::Xor, &[&x, &y]).is(high)
            }
            Op::Choose(c, a, b) => {
                let [c, a, b] = [self.text(c, true), self.text(a, high), self.text(b, high)];
                let words = format!("choose({}, {}, {})", c.words, a.words, b.words);
                Text::joined(words, Binds::All, &[&c, &a, &b])
            }
        }
    }

    /// A product or a sum, or what it is by De Morgan's rule: what reads better.
    fn joined(&mut self, (a, b): (Expr, Expr), high: bool, is_and: bool) -> Text {
        let direct = [self.text(a, true), self.text(b, true)];
        let turned = [self.text(a, false), self.text(b, false)];
        let join = |[x, y]: &[Text; 2], is_and: bool| {
            let (binds, sign) = if is_and { (Binds::And, "&") } else { (Binds::Or, "|") };
            Text::joined(format!("{} {sign} {}", x.within(binds), y.within(binds)), binds, &[x, y])
        };
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
        let Some(f) = self.field_of(e) else { return Text::whole("Assertion::NEVER") };
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

    fn net(&mut self, n: NetId, high: bool) -> Text {
        if let Some(f) = self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)) {
            return match f.sense {
                Sense::Low | Sense::High => {
                    Text::whole(format!("{}.asserted()", self.path(f))).is((f.sense == Sense::High) == high)
                }
                Sense::Data | Sense::Clock => {
                    Text::whole(format!("{}.level().{}", self.path(f), if high { "is_high()" } else { "is_low()" }))
                }
            };
        }
        let circuit = self.circuit;
        let Some(net) = circuit.nets().get(n.index()) else { return Text::whole("Assertion::NEVER") };
        let reads_high = net.undriven_level() != Some(false);
        let mut text = self.merged(&net.drivers, reads_high, high);
        text.from.extend(net.drivers.iter().filter_map(|d| package(&d.by)));
        text
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
            return low.is(!high);
        }
        let up: Vec<Text> = drivers.iter().map(|d| self.pulls(d, true)).collect();
        let (up, down) = (any(&up), any(&down));
        let words = format!("{} & !{}", up.within(Binds::And), down.within(Binds::All));
        Text::joined(words, Binds::And, &[&up, &down]).is(high)
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
        let words = format!("{} & {}", enable.within(Binds::And), level.within(Binds::And));
        Text::joined(words, Binds::And, &[&enable, &level])
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
        let always = drivers.iter().any(is_always);
        let low: Vec<Text> = drivers.iter().map(|d| self.pulls(d, false)).collect();
        let on = if always { None } else { Some(self.words(any(&on))) };
        (on, self.words(any(&low)))
    }

    /// The level of an expression, or its complement.
    pub(super) fn level(&mut self, e: Expr, inverted: bool) -> String {
        let (bare, odd) = self.bare(e);
        let inverted = inverted != odd;
        let sign = if inverted { "!" } else { "" };
        match self.circuit.op(bare) {
            Op::Constant(level) => if level != inverted { "Level::HIGH" } else { "Level::LOW" }.to_owned(),
            Op::Net(n) => match self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)) {
                Some(f) => format!("{sign}{}.level()", self.path(f)),
                None => self.high_while(bare, !inverted),
            },
            Op::Q(x) => self.bit_level(x, inverted),
            Op::Choose(c, a, b) if !self.is_named(bare) => {
                let c = self.condition(c, true);
                let [a, b] = [a, b].map(|x| self.level(x, inverted));
                format!("choose({c}, {a}, {b})")
            }
            _ => self.high_while(bare, !inverted),
        }
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
        match text.inverts {
            Some(inner) => format!("low_while({})", inner.words),
            None => format!("high_while({})", text.words),
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

/// True while one of these is.
fn any(of: &[Text]) -> Text {
    match of {
        [] => Text::whole("Assertion::NEVER"),
        [one] => one.clone(),
        all => {
            let words: Vec<String> = all.iter().map(|t| t.within(Binds::Xor)).collect();
            Text::joined(words.join(" | "), Binds::Or, &all.iter().collect::<Vec<_>>())
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
