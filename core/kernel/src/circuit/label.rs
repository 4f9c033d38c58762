//! What a contact or a package pin is called: a number, or the letters of an edge connector.
use std::cmp::Ordering;
use std::fmt;

/// The label of a contact or pin as it is printed on the socket: `7`, or `A12` on an edge connector.
///
/// Labels are ordered as a person counts them: `2` before `10`, `A2` before `A10`.
#[derive(Clone, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(transparent)]
pub struct Label(String);

impl Label {
    /// A label from its text; spaces around it don't count.
    pub fn new(text: impl AsRef<str>) -> Self {
        Label(text.as_ref().trim().to_owned())
    }

    /// The text of the label.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The label's number, if it is nothing but a number.
    pub fn number(&self) -> Option<u16> {
        self.0.parse().ok()
    }
}

impl From<u16> for Label {
    fn from(number: u16) -> Self {
        Label(number.to_string())
    }
}

impl From<&str> for Label {
    fn from(text: &str) -> Self {
        Label::new(text)
    }
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Ord for Label {
    fn cmp(&self, other: &Self) -> Ordering {
        let (mut a, mut b) = (self.0.as_str(), other.0.as_str());
        loop {
            let (x, rest_a) = run(a);
            let (y, rest_b) = run(b);
            let order = match (number(x), number(y)) {
                (Some(m), Some(n)) => m.cmp(&n).then_with(|| x.len().cmp(&y.len())),
                _ => x.cmp(y),
            };
            if order != Ordering::Equal || (x.is_empty() && y.is_empty()) {
                return order;
            }
            (a, b) = (rest_a, rest_b);
        }
    }
}

impl PartialOrd for Label {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Splits off the longest run of digits, or of anything else.
fn run(text: &str) -> (&str, &str) {
    let digit = text.starts_with(|c: char| c.is_ascii_digit());
    let end = text.find(|c: char| c.is_ascii_digit() != digit).unwrap_or(text.len());
    text.split_at(end)
}

fn number(run: &str) -> Option<u64> {
    run.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_are_counted_as_a_person_counts() {
        let mut labels: Vec<Label> = ["10", "A10", "2", "B1", "A2", "1"].map(Label::new).into();
        labels.sort();
        assert_eq!(labels, ["1", "2", "10", "A2", "A10", "B1"].map(Label::new));
    }

    #[test]
    fn equal_means_same_text() {
        assert_eq!(Label::new("07").cmp(&Label::new("7")), Ordering::Greater);
        assert_eq!(Label::from(7).cmp(&Label::new(" 7 ")), Ordering::Equal);
    }
}
