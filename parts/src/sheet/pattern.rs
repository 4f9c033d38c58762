//! Names of pins with room for what counts: `nA` is 1A, 2A and so on, `Qx` is QA, QB and so on, `*` is all.
use std::collections::BTreeMap;

/// What each small letter of a pattern stands for in a name.
pub(super) type Bound = BTreeMap<char, String>;

/// Matches a name against a pattern. Capital letters, digits and signs stand for themselves, `x` for one letter, any other
/// small letter for one or more digits, and `*` for any name.
pub(super) fn matches(pattern: &str, name: &str) -> Option<Bound> {
    if pattern == "*" {
        return Some(Bound::new());
    }
    let mut bound = Bound::new();
    walk(pattern, name, &mut bound).then_some(bound)
}

fn walk(pattern: &str, name: &str, bound: &mut Bound) -> bool {
    let mut letters = pattern.chars();
    let Some(first) = letters.next() else { return name.is_empty() };
    let rest = letters.as_str();
    if !first.is_ascii_lowercase() {
        return name.strip_prefix(first).is_some_and(|name| walk(rest, name, bound));
    }
    let most = if first == 'x' {
        usize::from(name.starts_with(|c: char| c.is_ascii_uppercase()))
    } else {
        name.bytes().take_while(u8::is_ascii_digit).count()
    };
    // the longest run first: `Yn` is Y10, not Y1 and a rest
    (1..=most).rev().any(|length| {
        let Some((taken, name)) = name.split_at_checked(length) else { return false };
        if bound.get(&first).is_some_and(|before| before != taken) {
            return false;
        }
        let before = bound.clone();
        bound.insert(first, taken.to_owned());
        let all = walk(rest, name, bound);
        if !all {
            *bound = before;
        }
        all
    })
}

/// True if no letter stands for two things.
pub(super) fn agree(a: &Bound, b: &Bound) -> bool {
    a.iter().all(|(letter, taken)| b.get(letter).is_none_or(|other| other == taken))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_stand_for_what_counts() {
        assert!(matches("nA", "1A").is_some());
        assert!(matches("nA", "1B").is_none());
        assert!(matches("nA", "A").is_none());
        assert!(matches("Yn", "Y15").is_some());
        assert!(matches("Qx", "QH").is_some());
        assert!(matches("Qx", "QH'").is_none());
        assert!(matches("R0(n)", "R0(2)").is_some());
        assert!(matches("nYm", "1Y3").is_some());
        assert!(matches("*", "anything").is_some());
    }

    #[test]
    fn a_letter_stands_for_one_thing_on_both_sides() {
        let one = matches("nA", "1A").unwrap();
        assert!(agree(&one, &matches("nY", "1Y").unwrap()));
        assert!(!agree(&one, &matches("nY", "2Y").unwrap()));
        assert!(agree(&one, &matches("Ym", "Y2").unwrap()));
    }
}
