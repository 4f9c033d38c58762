//! What the words of a source stand for: its fields with their types, what it defines, and the conditions that it gave a name.
use std::ops::Range;

use super::tokens::Text;

/// A field of the circuit.
pub(crate) struct Field<'t> {
    pub(crate) name: &'t str,
    /// The tokens of its type.
    pub(crate) tokens: Range<usize>,
    pub(crate) kind: &'t str,
}

/// What has a name, from this token on.
pub(crate) struct Named<'t> {
    pub(crate) name: &'t str,
    /// The tokens of what it stands for.
    pub(crate) tokens: Range<usize>,
    pub(crate) from: usize,
}

pub(crate) fn fields<'t>(text: &Text<'t>) -> Vec<Field<'t>> {
    let Some(open) = text.find(&["pub", "struct"]).map(|k| k + 3) else { return Vec::new() };
    let end = text.behind(open) - 1;
    let mut all = Vec::new();
    let mut k = open + 1;
    while k < end {
        if text.word(k) == "pub" {
            k += 1;
        }
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

/// What a `let` gives a name, and what the wiring defines.
pub(crate) fn definitions<'t>(text: &Text<'t>) -> Vec<Named<'t>> {
    let mut all = named(text);
    let within = wiring(text);
    let last = all.iter().map(|n| n.from).max().unwrap_or(within.start);
    let Some(open) = (last + 1..within.end).find(|&k| text.word(k) == "{") else { return all };
    let end = text.behind(open) - 1;
    let mut k = open + 1;
    while k < end {
        let to = until_comma(text, k + 2..end);
        all.push(Named { name: text.word(k), tokens: k + 2..to, from: end });
        k = to + 1;
    }
    all
}

/// Where the comma stands that ends what begins here, or the end.
fn until_comma(text: &Text<'_>, within: Range<usize>) -> usize {
    let mut k = within.start;
    while k < within.end && text.word(k) != "," {
        k = if matches!(text.word(k), "(" | "[" | "{") { text.behind(k) } else { k + 1 };
    }
    k.min(within.end)
}

/// What a `let` gives a name.
fn named<'t>(text: &Text<'t>) -> Vec<Named<'t>> {
    let mut all = Vec::new();
    for k in wiring(text).filter(|&k| text.word(k) == "let") {
        let equals = (k..).find(|&k| text.word(k) == "=").unwrap_or(k);
        let end = (equals..).find(|&k| text.word(k) == ";").unwrap_or(equals);
        if text.word(k + 1) != "(" {
            all.push(Named { name: text.word(k + 1), tokens: equals + 1..end, from: end });
            continue;
        }
        // one name for each value
        let mut from = equals + 2;
        for name in (k + 2..equals - 1).step_by(2) {
            let to = until_comma(text, from..end - 1);
            all.push(Named { name: text.word(name), tokens: from..to, from: end });
            from = to + 1;
        }
    }
    all
}

/// The conditions that have a name.
pub(crate) fn conditions<'t>(text: &Text<'t>) -> Vec<Named<'t>> {
    let mut all: Vec<Named<'t>> = Vec::new();
    for of in named(text) {
        let sum = text.sum(of.tokens.start);
        let is_condition = |operand: &Range<usize>| {
            let call = (operand.start..operand.end).rev().find(|&k| text.is_name(k)).map_or("", |k| text.word(k));
            matches!(call, "asserted" | "is_high" | "is_low" | "is" | "selected") || all.iter().any(|n| n.name == call)
        };
        if sum.iter().flatten().next().is_some() && sum.iter().flatten().all(is_condition) {
            all.push(of);
        }
    }
    all
}
