//! What the words of a source stand for: its fields with their types, and the conditions that it gave a name.
use std::ops::Range;

use super::tokens::Text;

/// A field of the circuit.
pub(crate) struct Field<'t> {
    pub(crate) name: &'t str,
    /// The tokens of its type.
    pub(crate) tokens: Range<usize>,
    pub(crate) kind: &'t str,
}

/// A condition that has a name, from this token on.
pub(crate) struct Named<'t> {
    pub(crate) name: &'t str,
    pub(crate) from: usize,
}

pub(crate) fn fields<'t>(text: &Text<'t>) -> Vec<Field<'t>> {
    let Some(open) = text.find(&["pub", "struct"]).map(|k| k + 3) else { return Vec::new() };
    let end = text.behind(open) - 1;
    let mut all = Vec::new();
    let mut k = open + 1;
    while k < end {
        let from = k + 2;
        let (mut to, mut depth) = (from, 0);
        while to < end && (depth > 0 || text.word(to) != ",") {
            match text.word(to) {
                "<" | "[" => depth += 1,
                ">" | "]" => depth -= 1,
                _ => {}
            }
            to += 1;
        }
        all.push(Field { name: text.word(k), tokens: from..to, kind: text.said(from..to) });
        k = to + 1;
    }
    all
}

/// The tokens of `fn wire`.
pub(crate) fn wiring(text: &Text<'_>) -> Range<usize> {
    let Some(at) = text.find(&["fn", "wire"]) else { return 0..0 };
    let open = (at..text.tokens.len()).find(|&k| text.word(k) == "{").unwrap_or(at);
    open..text.behind(open)
}

pub(crate) fn conditions<'t>(text: &Text<'t>) -> Vec<Named<'t>> {
    let mut all: Vec<Named<'t>> = Vec::new();
    for k in wiring(text).filter(|&k| text.word(k) == "let") {
        let equals = (k..).find(|&k| text.word(k) == "=").unwrap_or(k);
        let end = (equals..).find(|&k| text.word(k) == ";").unwrap_or(equals);
        let pairs: Vec<(usize, usize)> = match text.word(k + 1) {
            // one name for each value
            "(" => {
                let names = (k + 2..equals).step_by(2);
                let mut values = Vec::new();
                let mut at = equals + 2;
                while let Some(value) = text.operand(at) {
                    values.push(value.start);
                    at = value.end + 1;
                }
                names.zip(values).collect()
            }
            _ => vec![(k + 1, equals + 1)],
        };
        for (name, value) in pairs {
            let sum = text.sum(value);
            let is_condition = |operand: &Range<usize>| {
                let call = (operand.start..operand.end).rev().find(|&k| text.is_name(k)).map_or("", |k| text.word(k));
                matches!(call, "asserted" | "is_high" | "is_low" | "is" | "selected")
                    || all.iter().any(|n| n.name == call)
            };
            if sum.iter().flatten().next().is_some() && sum.iter().flatten().all(is_condition) {
                all.push(Named { name: text.word(name), from: end });
            }
        }
    }
    all
}
