//! Texts that are one character away from a type number of the library: most likely that type misspelt, unless the character
//! is a digit, for then it may as well be another type of the series.
use super::library::Library;

/// What a text may be a slip for.
#[derive(Debug, Default)]
pub(super) struct Slips {
    /// Types that it can only be by a slip: a letter for a digit, a character missing or too many, two exchanged.
    pub(super) misspelt: Vec<String>,
    /// Types whose number differs in digits alone: another type as likely as a slip.
    pub(super) numbered_alike: Vec<String>,
}

/// The types of the library that `text` may be a slip for: one character missing, too many or another, or two neighbours
/// exchanged, whatever maker's letters stand before and package letters behind.
pub(super) fn slips_for(text: &str, library: &dyn Library, names: &[String]) -> Slips {
    let upper = text.trim().to_uppercase();
    let core = upper.trim_start_matches(|c: char| c.is_ascii_alphabetic());
    let mut slips = Slips::default();
    let mut add = |candidate: &str, name: &str| {
        let near = if is_other_number(candidate, name) { &mut slips.numbered_alike } else { &mut slips.misspelt };
        if !near.iter().any(|n| n == name) && near.len() < 3 {
            near.push(name.to_owned());
        }
    };
    let candidates: Vec<&str> = std::iter::once(upper.as_str()).chain(beginnings(core)).collect();
    for name in names {
        let own = name.to_uppercase();
        if let Some(candidate) = candidates.iter().find(|c| is_slip(c, &own)) {
            add(candidate, &own);
        }
    }
    // the same functions in the family that is written
    for candidate in &candidates {
        let Some((family, _)) = numbered(candidate) else { continue };
        for name in names {
            let Some((_, function)) = numbered(name) else { continue };
            let own = format!("{family}{function}");
            if is_slip(candidate, &own) && library.part(&own).is_some() {
                add(candidate, &own);
            }
        }
    }
    slips
}

/// Whether two type numbers differ in the number of their function alone, and the first is one: two digits, or more of which
/// the first is no nought.
fn is_other_number(text: &str, name: &str) -> bool {
    let parted = |of: &'_ str| {
        let letters = of.rfind(|c: char| !c.is_ascii_digit()).map_or(0, |at| at + 1);
        (letters, of.len() - letters)
    };
    let ((of_text, digits), (of_name, _)) = (parted(text), parted(name));
    let function = text.get(of_text..).unwrap_or_default();
    text.get(..of_text) == name.get(..of_name) && (digits == 2 || digits > 2 && !function.starts_with('0'))
}

/// `74LS` and `138`.
fn numbered(name: &str) -> Option<(&str, &str)> {
    let series = name.bytes().take_while(u8::is_ascii_digit).count();
    let letters = name.bytes().skip(series).take_while(u8::is_ascii_alphabetic).count();
    let (family, function) = name.split_at_checked(series + letters)?;
    (series == 2 && !function.is_empty()).then_some((family, function))
}

/// What may be the type number in a printed text: the text without package letters and what follows them.
fn beginnings(core: &str) -> impl Iterator<Item = &str> {
    let ends = core.char_indices().map(|(at, _)| at).chain([core.len()]).filter(|&at| at > 0);
    ends.filter_map(|at| {
        let (start, rest) = core.split_at_checked(at)?;
        let is_suffix = rest.chars().next().is_none_or(|c| !c.is_ascii_digit());
        (is_suffix && start.len() >= 4).then_some(start)
    })
}

/// One slip away. The first two digits name a series: another digit there is another part, a `7805` and no `7405`; and so
/// is a digit more or less in a number that has no letters, for nothing else tells a `741` from a `7410`.
fn is_slip(text: &str, name: &str) -> bool {
    if text.len().abs_diff(name.len()) > 1 || strsim::osa_distance(text, name) != 1 {
        return false;
    }
    let all_digits = |of: &str| of.bytes().all(|b| b.is_ascii_digit());
    if text.len() != name.len() {
        return !(all_digits(text) && all_digits(name));
    }
    let differs = |(_, (a, b)): &(usize, (u8, u8))| a != b;
    match text.bytes().zip(name.bytes()).enumerate().find(differs) {
        Some((at, (a, b))) => at >= 2 || !(a.is_ascii_digit() && b.is_ascii_digit()),
        None => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_character_is_a_slip_and_another_series_is_another_part() {
        for (text, name) in [
            ("74LS0O", "74LS00"),
            ("74L500", "74LS00"),
            ("74SL00", "74LS00"),
            ("7LS00", "74LS00"),
            ("74LS000", "74LS00"),
            ("74LS47", "74LS42"),
            ("4O51", "4051"),
            ("7A05", "7405"),
        ] {
            assert!(is_slip(text, name), "{text} for {name}");
        }
        for (text, name) in
            [("7805", "7405"), ("7381", "7481"), ("741", "7410"), ("27C128", "74C128"), ("7400", "7400")]
        {
            assert!(!is_slip(text, name), "{text} for {name}");
        }
        for (text, name) in [("74LS47", "74LS42"), ("74LS03", "74LS30"), ("74LS628", "74LS28"), ("4051", "4050")] {
            assert!(is_other_number(text, name), "{text} is another type of the series as likely as a slip for {name}");
        }
        for (text, name) in [("74LS0O", "74LS00"), ("74LS0", "74LS00"), ("74LS044", "74LS04"), ("74L04", "74LS04")] {
            assert!(!is_other_number(text, name), "{text} is no type");
        }
        let found: Vec<&str> = beginnings("74LS0ON").collect();
        assert!(found.contains(&"74LS0O"), "{found:?}");
    }
}
