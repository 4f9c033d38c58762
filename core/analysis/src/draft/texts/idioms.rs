//! Counters, shift registers and decoders by the idioms of the language.
use gluewright_kernel::circuit::{ElementId, Expr, Op};

use super::text::{Binds, Text, any};
use super::{Let, Shared, Texts};
use crate::draft::fields::Field;
use crate::draft::found::{Incoming, Line, Stepping, Steps, When};
use crate::draft::names::fresh;

impl<'c> Texts<'c> {
    /// A condition that is true while these levels hold.
    pub(super) fn all_or_any(&mut self, when: &When) -> Text {
        let texts: Vec<Text> = when.literals.iter().map(|(e, high)| self.text(*e, *high)).collect();
        match (&texts[..], when.all) {
            ([], true) => Text::constant(true),
            ([one], _) => one.clone(),
            (all, true) => {
                let words: Vec<String> = all.iter().map(|t| t.within(Binds::And)).collect();
                Text::joined(words.join(" & "), Binds::And, &all.iter().collect::<Vec<_>>())
            }
            (all, false) => any(all),
        }
    }

    pub(super) fn while_(&mut self, when: &When) -> String {
        let text = self.all_or_any(when);
        self.words(text)
    }

    /// A `let` with the next state of registers that step together; its name.
    pub(in crate::draft) fn steps(&mut self, s: &Stepping) -> String {
        let fields: Vec<Option<&Field>> = s.bits.iter().map(|b| self.field_of(*b)).collect();
        let levels: Vec<String> = s.bits.iter().map(|b| self.bit_level(*b, false)).collect();
        let bits = self.array(&fields, &levels);
        let (wanted, idiom, mut value) = match &s.steps {
            Steps::Count { up: Some(up), enabled, decade, .. } => {
                let (up, decades) = (self.while_(up), in_decades(*decade));
                let value = format!("count_up_or_down({bits}, {up}){decades}{}", self.enabled(enabled));
                ("count", "count_up_or_down", value)
            }
            Steps::Count { down, enabled, decade, .. } => {
                let idiom = if *down { "count_down" } else { "count_up" };
                ("count", idiom, format!("{idiom}({bits}){}{}", in_decades(*decade), self.enabled(enabled)))
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
    pub(super) fn field_at(&self, e: Expr) -> Option<&'c Field> {
        match self.circuit.op(e) {
            Op::Net(n) => self.fields.of_net.get(&n).and_then(|&i| self.fields.all.get(i)),
            _ => None,
        }
    }

    /// Several levels: an array of fields where they are one, else one by one.
    pub(super) fn array(&self, fields: &[Option<&Field>], levels: &[String]) -> String {
        match self.fields.array(fields) {
            Some(name) => format!("self.{name}"),
            None => format!("[{}]", levels.join(", ")),
        }
    }

    pub(super) fn enabled(&mut self, when: &When) -> String {
        if when.all && when.literals.is_empty() {
            return String::new();
        }
        format!(".enabled_while({})", self.while_(when))
    }

    pub(super) fn into(&mut self, bit: Incoming) -> String {
        match bit {
            Incoming::Constant(level) => if level { "Level::HIGH" } else { "Level::LOW" }.to_owned(),
            Incoming::Level(e, inverted) => self.level(e, inverted),
        }
    }

    /// The level of a stored bit, or its complement.
    pub(super) fn bit_level(&self, x: ElementId, inverted: bool) -> String {
        match self.field_of(x) {
            Some(f) => format!("{}{}", if inverted != f.inverted { "!" } else { "" }, self.held(f)),
            None => "Level::LOW".to_owned(),
        }
    }

    /// All that a line of a decoder is met as, and whether that is high while its number is asked for.
    pub(super) fn stands_for(&self, line: &Line) -> [(Shared, bool); 2] {
        let (bare, inverted) = self.bare(line.level);
        let shared = match self.circuit.op(bare) {
            Op::Net(n) => Shared::Net(n),
            _ => Shared::Expr(bare),
        };
        [(Shared::Net(line.net), !line.is_low), (shared, line.is_low == inverted)]
    }

    /// A `let` with all lines of a decoder.
    pub(super) fn decode(&mut self, at: usize) {
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
}

fn in_decades(decade: bool) -> &'static str {
    if decade { ".in_decades()" } else { "" }
}
