//! A source in which every change stands beside what it replaces; at run time a number says which one counts.
use std::ops::Range;

use crate::points::{Form, Point};

/// The text, and where in it each number's change stands: its own words, and all that was put around the place.
pub struct Woven {
    pub text: String,
    pub places: Vec<(Range<usize>, usize)>,
}

/// Points with their numbers; `on` is the path of the function that is asked.
pub fn weave(source: &str, points: &[(usize, &Point)], on: &str) -> Woven {
    let mut order: Vec<(usize, &Point)> = points.to_vec();
    // outer ones first; what is at the same place stays in order
    order.sort_by_key(|(_, p)| (p.at.start, std::cmp::Reverse(p.at.end), p.form != Form::Statement));
    let mut woven = Woven { text: String::new(), places: Vec::new() };
    let mut rest = order.as_slice();
    woven.write(source, 0..source.len(), &mut rest, on);
    woven
}

impl Woven {
    fn write(&mut self, source: &str, within: Range<usize>, rest: &mut &[(usize, &Point)], on: &str) {
        let mut from = within.start;
        while let Some((_, first)) = rest.first().filter(|(_, p)| p.at.end <= within.end && p.at.start < within.end) {
            self.text.push_str(&source[from..first.at.start]);
            let here = rest.iter().take_while(|(_, p)| p.at == first.at && p.form == first.form).count();
            let (these, later) = rest.split_at(here);
            *rest = later;
            self.put(source, these, rest, on);
            from = first.at.end;
        }
        self.text.push_str(&source[from..within.end]);
    }

    fn put(&mut self, source: &str, these: &[(usize, &Point)], rest: &mut &[(usize, &Point)], on: &str) {
        let start = self.text.len();
        let place = these[0].1.at.clone();
        match these[0].1.form {
            Form::Value => {
                self.text.push('(');
                for (number, point) in these {
                    self.text.push_str(&format!("if {on}({number}) {{ "));
                    self.own_words(*number, &point.becomes);
                    self.text.push_str(" } else ");
                }
                self.text.push_str("{ ");
                self.write(source, place, rest, on);
                self.text.push_str(" })");
            }
            Form::Statement => {
                self.text.push_str(&format!("if !{on}({}) {{ ", these[0].0));
                self.write(source, place, rest, on);
                self.text.push_str(" }");
            }
            Form::Entry => {
                for (number, point) in these {
                    self.text.push_str(&format!(" if {on}({number}) {{ "));
                    self.own_words(*number, &point.becomes);
                    self.text.push_str(" }");
                }
            }
        }
        self.places.extend(these.iter().map(|(number, _)| (start..self.text.len(), *number)));
    }

    fn own_words(&mut self, number: usize, text: &str) {
        let start = self.text.len();
        self.text.push_str(text);
        self.places.push((start..self.text.len(), number));
    }

    /// The changes that what stands in these bytes is about: those of the innermost place around it.
    pub fn about(&self, bytes: &Range<usize>) -> Vec<usize> {
        let around = |place: &Range<usize>| place.start <= bytes.start && bytes.end <= place.end;
        let Some(least) = self.places.iter().filter(|(p, _)| around(p)).map(|(p, _)| p.len()).min() else {
            return Vec::new();
        };
        self.places.iter().filter(|(p, _)| around(p) && p.len() == least).map(|(_, number)| *number).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::points;

    #[test]
    fn what_is_woven_is_a_source_again_and_each_change_stands_in_it() {
        let source = "const N: usize = 4;\nfn f(a: usize, b: usize) -> bool {\n    g(a);\n    match b {\n        \
                      1 if a < b => !h(a + 2),\n        _ => matches!(a, 3) && b == N,\n    }\n}\n";
        let found = points::all(source).unwrap();
        let what: Vec<&str> = found.iter().map(|p| p.what.as_str()).collect();
        assert_eq!(
            what,
            [
                "f returns false",
                "f returns true",
                "without g(a)",
                "true for a < b",
                "false for a < b",
                "<= for < in a < b",
                "> for < in a < b",
                " for ! in !h(a + 2)",
                "- for + in a + 2",
                "3 for 2",
                "|| for && in matches!(a, 3) && b == N",
                "!matches!(a, 3) for matches!(a, 3)",
                "!= for == in b == N",
            ]
        );
        let numbered: Vec<_> = found.iter().enumerate().collect();
        let woven = weave(source, &numbered, "on");
        assert!(syn::parse_file(&woven.text).is_ok(), "{}", woven.text);
        assert!(woven.text.contains("if !on(2) { g(a); }"), "{}", woven.text);
        assert!(
            woven.text.contains("!h((if on(8) { a - 2 } else { a + (if on(9) { 3 } else { 2 }) }))"),
            "{}",
            woven.text
        );
        let at = woven.text.find("a - 2").unwrap();
        assert_eq!(woven.about(&(at..at + 5)), [8]);
    }
}
