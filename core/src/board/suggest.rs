//! "Did you mean": the nearest of the names that would have been right.

/// At most three of `names` that are near to `text`, nearest first; none if nothing is.
pub(super) fn nearest<'a>(text: &str, names: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    const LONGEST: usize = 32;
    if text.len() > LONGEST {
        return Vec::new();
    }
    let wanted = text.to_uppercase();
    let far = if wanted.len() <= 3 { 1 } else { 2 };
    let mut near: Vec<(usize, &str)> = names
        .into_iter()
        .map(|name| (strsim::osa_distance(&wanted, &name.to_uppercase()), name))
        .filter(|&(distance, _)| distance <= far)
        .collect();
    near.sort_unstable();
    near.truncate(3);
    near.into_iter().map(|(_, name)| name).collect()
}

/// `did you mean A, B or C?`, or nothing.
pub(super) fn did_you_mean(near: &[&str]) -> Option<String> {
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
        assert_eq!(nearest("74ls183", names), ["74LS138", "74LS139"]);
        assert_eq!(nearest("74LS47", names).first(), Some(&"74LS74"));
        assert!(nearest("6522", names).is_empty());
        assert_eq!(did_you_mean(&["a", "b", "c"]).as_deref(), Some("did you mean a, b or c?"));
        assert_eq!(did_you_mean(&[]), None);
    }
}
