//! Names of nets as names of Rust: identifiers, polarity by the usual marks, and numbered runs.
use std::collections::HashSet;

/// Words that Rust keeps for itself, or that a wiring uses.
const KEPT: [&str; 56] = [
    "abstract", "as", "async", "await", "become", "box", "break", "const", "continue", "crate", "do", "dyn", "else",
    "enum", "extern", "false", "final", "fn", "for", "gen", "if", "impl", "in", "let", "loop", "macro", "match", "mod",
    "move", "mut", "override", "priv", "pub", "ref", "return", "self", "static", "struct", "super", "trait", "true",
    "try", "type", "typeof", "unsafe", "unsized", "use", "virtual", "where", "while", "yield", "on", "each", "choose",
    "follow", "wire",
];

/// A name without its mark of polarity, and whether it had one: `_n`, `_l`, `_b`, `/`, `~`, `!`, `#`, `*`, and a bar before
/// the name (common practice, no source).
pub(super) fn without_mark(name: &str) -> (&str, bool) {
    let trimmed = name.trim();
    for start in ['/', '~', '!', '-', '*'] {
        if let Some(rest) = trimmed.strip_prefix(start).filter(|r| !r.is_empty()) {
            return (rest, true);
        }
    }
    for end in ["_n", "_N", "_l", "_L", "_b", "#", "*", "/", "_bar", "_BAR"] {
        if let Some(rest) = trimmed.strip_suffix(end).filter(|r| !r.is_empty()) {
            return (rest, true);
        }
    }
    (trimmed, false)
}

/// A name as an identifier of Rust in small letters.
pub(super) fn of_value(name: &str) -> String {
    let mut text = String::new();
    let mut before: Option<char> = None;
    for c in name.chars() {
        if c.is_ascii_alphanumeric() {
            // a new word within: `busEnable`
            if c.is_ascii_uppercase() && before.is_some_and(|b| b.is_ascii_lowercase()) {
                text.push('_');
            }
            text.push(c.to_ascii_lowercase());
        } else if c == '+' {
            text.push_str("_plus");
        } else if !text.ends_with('_') && !text.is_empty() {
            text.push('_');
        }
        before = Some(c);
    }
    let text = text.trim_end_matches('_');
    if text.is_empty() {
        "net".to_owned()
    } else if text.starts_with(|c: char| c.is_ascii_digit()) {
        format!("n{text}")
    } else {
        unkept(text)
    }
}

/// A name that Rust does not keep for itself.
pub(super) fn unkept(text: &str) -> String {
    if KEPT.contains(&text) { format!("{text}_") } else { text.to_owned() }
}

/// A name as a type of Rust.
pub(super) fn of_type(name: &str) -> String {
    let value = of_value(name);
    let mut text = String::new();
    for word in value.split('_').filter(|w| !w.is_empty()) {
        let mut letters = word.chars();
        text.extend(letters.next().map(|c| c.to_ascii_uppercase()));
        text.extend(letters);
    }
    if text.is_empty() { "Card".to_owned() } else { text }
}

/// A name that nothing bears yet.
pub(super) fn fresh(wanted: &str, taken: &mut HashSet<String>) -> String {
    let mut name = wanted.to_owned();
    let mut number = 2;
    while !taken.insert(name.clone()) {
        name = format!("{wanted}_{number}");
        number += 1;
    }
    name
}

/// A name that ends in a number: what stands before it, and the number.
pub(super) fn numbered(name: &str) -> Option<(&str, usize)> {
    let head = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = name.get(head.len()..)?;
    if digits.is_empty() || digits.len() > 1 && digits.starts_with('0') {
        return None;
    }
    let word = head.trim_end_matches('_');
    (!word.is_empty()).then_some(())?;
    Some((word, digits.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_nets_become_identifiers() {
        let all = [
            ("ended_n", "ended_n"),
            ("A12", "a12"),
            ("/RES", "res"),
            ("1", "n1"),
            ("type", "type_"),
            ("U3.q[2]", "u3_q_2"),
            ("busEnable", "bus_enable"),
            ("+5V", "_plus5v"),
            ("***", "net"),
            ("IO/M", "io_m"),
        ];
        for (name, value) in all {
            assert_eq!(of_value(name), value, "{name}");
        }
        assert_eq!(of_type("sample_card"), "SampleCard");
        assert_eq!(without_mark("reset_n"), ("reset", true));
        assert_eq!(without_mark("/WR"), ("WR", true));
        assert_eq!(without_mark("on"), ("on", false));
        assert_eq!(numbered("d12"), Some(("d", 12)));
        assert_eq!(numbered("q_3"), Some(("q", 3)));
        assert_eq!(numbered("d01"), None);
        assert_eq!(numbered("12"), None);
    }
}
