//! Contacts in a row, said shortly.
use super::At;
use gluewright_kernel::circuit::Label;

/// These contacts in words; three and more whose numbers and names follow each other as `10 a0 to 17 a7`.
pub fn spans(all: &[&At]) -> String {
    let mut words = Vec::new();
    let mut rest = all;
    while let Some((first, _)) = rest.split_first() {
        let run = rest.windows(2).take_while(|pair| follows(pair[0], pair[1])).count() + 1;
        let (now, later) = rest.split_at(run);
        match now {
            [_, _, .., last] => words.push(format!("{first} to {last}")),
            few => words.extend(few.iter().map(ToString::to_string)),
        }
        rest = later;
    }
    words.join(", ")
}

/// Whether a contact is the next one: `10 a0` after `9 a…` is not, `11 a1` after `10 a0` is.
fn follows(a: &At, b: &At) -> bool {
    let number = |at: &At| Label::new(&at.label).number();
    let stem = |at: &At| at.name.trim_end_matches(|c: char| c.is_ascii_digit() || "[]".contains(c)).to_owned();
    let counted = |at: &At| at.name.chars().filter(char::is_ascii_digit).collect::<String>().parse::<u32>().ok();
    let next = |a: Option<u32>, b: Option<u32>| a.zip(b).is_some_and(|(a, b)| a.checked_add(1) == Some(b));
    next(number(a).map(u32::from), number(b).map(u32::from)) && stem(a) == stem(b) && next(counted(a), counted(b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_contacts_in_a_row_are_drawn_together() {
        let at = |label: &str, name: &str| At { label: label.to_owned(), name: name.to_owned() };
        let all = [at("8", "g0"), at("9", "g1"), at("10", "g2"), at("11", "x3"), at("13", "d0"), at("14", "d1")];
        let all: Vec<&At> = all.iter().collect();
        assert_eq!(spans(&all), "8 g0 to 10 g2, 11 x3, 13 d0, 14 d1");
        let bus = [at("4", "data[9]"), at("5", "data[10]"), at("6", "data[11]"), at("A7", "data[12]")];
        assert_eq!(spans(&bus.iter().collect::<Vec<_>>()), "4 data[9] to 6 data[11], A7 data[12]");
        assert_eq!(spans(&[]), "");
    }
}
