//! The name that was probably meant, where one stands that nobody has.

/// The most names that are offered.
const MOST: usize = 3;

/// A longer text is no slip for a name, and costs time to compare.
const LONGEST: usize = 200;

/// At most three of `names` that are near to `text`, nearest first, whatever their case. `is_near` decides for a count of
/// slips and the name: a slip is a letter that is missing, too many or another, or two that changed places.
pub fn nearest<'n>(
    text: &str,
    names: impl IntoIterator<Item = &'n str>,
    is_near: impl Fn(usize, &str) -> bool,
) -> Vec<&'n str> {
    if text.len() > LONGEST {
        return Vec::new();
    }
    let wanted = text.to_lowercase();
    let slips = |name: &str| strsim::osa_distance(&wanted, &name.to_lowercase());
    let mut near: Vec<(usize, &str)> =
        names.into_iter().map(|name| (slips(name), name)).filter(|&(slips, name)| is_near(slips, name)).collect();
    near.sort_unstable();
    near.dedup();
    near.truncate(MOST);
    near.into_iter().map(|(_, name)| name).collect()
}

/// What passes for a mistyped number or word: one slip in a short one, two in a longer one.
pub fn mistyped(text: &str) -> impl Fn(usize, &str) -> bool {
    let most = if text.len() <= 3 { 1 } else { 2 };
    move |slips, _| slips <= most
}

/// The same for a name that may stand within a longer text, as a type number among its maker's letters: those with the
/// fewest slips, of which there may be `most`.
pub fn nearest_within<'n>(text: &str, names: impl IntoIterator<Item = &'n str>, most: usize) -> Vec<&'n str> {
    let wanted: Vec<char> = text.to_lowercase().chars().take(LONGEST).collect();
    let slips = |name: &str| {
        let length = name.chars().count().min(wanted.len()).max(1);
        let places = wanted.windows(length);
        places.map(|w| strsim::osa_distance(&w.iter().collect::<String>(), &name.to_lowercase())).min()
    };
    let mut near: Vec<(usize, &str)> =
        names.into_iter().filter_map(|n| slips(n).filter(|&s| s <= most).map(|s| (s, n))).collect();
    near.sort_unstable();
    let fewest = near.first().map(|(slips, _)| *slips);
    near.into_iter().filter(|(slips, _)| Some(*slips) == fewest).take(MOST).map(|(_, name)| name).collect()
}

/// `did you mean A, B or C?`, or nothing.
pub fn did_you_mean(near: &[&str]) -> Option<String> {
    let (last, before) = near.split_last()?;
    Some(match before {
        [] => format!("did you mean {last}?"),
        _ => format!("did you mean {} or {last}?", before.join(", ")),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn swapped_digits_and_slips_are_near() {
        let names = ["74LS00", "74LS138", "74LS139", "74LS74"];
        let near = |text: &str| nearest(text, names, mistyped(text));
        assert_eq!(near("74ls183"), ["74LS138", "74LS139"]);
        assert_eq!(near("74LS47").first(), Some(&"74LS74"));
        assert!(near("6522").is_empty());
        assert!(near(&"74LS74".repeat(1_000_000)).is_empty());
        assert!(nearest("74LS138", names, |slips, name| slips < name.len() && name == "74LS74").len() == 1);
    }

    #[test]
    fn a_type_number_within_a_printed_type() {
        let names = ["16V8", "20V8", "22V10"];
        assert_eq!(nearest_within("XYZ22V1O-15PC", names, 2), ["22V10"]);
        assert_eq!(nearest_within("ABC18V8B", names, 2), ["16V8"]);
        assert!(nearest_within("Z80", names, 2).is_empty() && nearest_within("", names, 2).is_empty());
    }

    #[test]
    fn the_question() {
        assert_eq!(did_you_mean(&["a", "b", "c"]).as_deref(), Some("did you mean a, b or c?"));
        assert_eq!(did_you_mean(&["a"]).as_deref(), Some("did you mean a?"));
        assert_eq!(did_you_mean(&[]), None);
    }
}
