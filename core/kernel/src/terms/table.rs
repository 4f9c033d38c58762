//! Small questions answered by a truth table, 64 rows at a time: quicker than a solver, and with nothing to believe.
use std::collections::HashMap;

use super::{Node, Term, Terms};

/// Rows of 64 times terms: a table may cost this many words.
const WORDS: usize = 1 << 16;

/// Terms with more variables have no table.
const VARIABLES: usize = 16;

/// The columns of the first six variables.
const COLUMNS: [u64; 6] = [
    0xaaaa_aaaa_aaaa_aaaa,
    0xcccc_cccc_cccc_cccc,
    0xf0f0_f0f0_f0f0_f0f0,
    0xff00_ff00_ff00_ff00,
    0xffff_0000_ffff_0000,
    0xffff_ffff_0000_0000,
];

/// Room for tables, used again and again.
#[derive(Debug, Default)]
pub(crate) struct Table {
    /// For each node of the graph, the last question that reached it, and its place in that question's table.
    places: Vec<(u32, u32)>,
    question: u32,
}

/// A gate of the table: its operands' places and inversions.
enum Row {
    False,
    Variable(usize),
    And([(usize, u64); 2]),
}

impl Table {
    /// Whether a small truth table shows that a term is never true; false if there is none of a size.
    pub(crate) fn is_never(&mut self, terms: &Terms, term: Term) -> bool {
        term == Term::FALSE || matches!(self.satisfy(terms, &[term]), Some(None))
    }

    /// These terms in groups that have no variable in common: all can be true at once if and only if each group can.
    pub(crate) fn divide(&mut self, terms: &Terms, wanted: &[Term]) -> Vec<Vec<Term>> {
        self.question += 1;
        self.places.resize(terms.len().max(self.places.len()), (0, 0));
        let mut nodes = Vec::new();
        let mut stack: Vec<Term> = wanted.to_vec();
        while let Some(t) = stack.pop() {
            let Some(place) = self.places.get_mut(t.node()) else { continue };
            if place.0 == self.question {
                continue;
            }
            *place = (self.question, nodes.len() as u32);
            nodes.push(t);
            if let Node::And(a, b) = terms.node(t) {
                stack.extend([a, b]);
            }
        }
        // each node points to one of its group, the first of a group to itself
        let mut to: Vec<u32> = (0..nodes.len() as u32).collect();
        fn first(to: &mut [u32], mut i: u32) -> u32 {
            while to[i as usize] != i {
                to[i as usize] = to[to[i as usize] as usize];
                i = to[i as usize];
            }
            i
        }
        for (i, &t) in nodes.iter().enumerate() {
            if let Node::And(a, b) = terms.node(t) {
                for operand in [a, b] {
                    let Some((other, _)) = self.place(operand) else { continue };
                    let (x, y) = (first(&mut to, i as u32), first(&mut to, other as u32));
                    to[x.max(y) as usize] = x.min(y);
                }
            }
        }
        let mut groups: Vec<Vec<Term>> = Vec::new();
        let mut of: HashMap<u32, usize> = HashMap::new();
        for &t in wanted {
            let Some((place, _)) = self.place(t) else { continue };
            let group = *of.entry(first(&mut to, place as u32)).or_insert_with(|| {
                groups.push(Vec::new());
                groups.len() - 1
            });
            groups[group].push(t);
        }
        groups
    }

    /// Whether all these terms can be true at once, with a value for each of their variables if they can; `None` if a
    /// table would be too large.
    pub(crate) fn satisfy(&mut self, terms: &Terms, wanted: &[Term]) -> Option<Option<Vec<(u32, bool)>>> {
        self.question += 1;
        self.places.resize(terms.len().max(self.places.len()), (0, 0));
        let mut nodes = Vec::new();
        let mut variables = Vec::new();
        let mut stack: Vec<Term> = wanted.to_vec();
        while let Some(t) = stack.pop() {
            let place = self.places.get_mut(t.node())?;
            if place.0 == self.question {
                continue;
            }
            place.0 = self.question;
            nodes.push(t);
            match terms.node(t) {
                Node::False => {}
                Node::Variable(v) => variables.push(v),
                Node::And(a, b) => stack.extend([a, b]),
            }
            if variables.len() > VARIABLES || nodes.len() > WORDS {
                return None;
            }
        }
        let blocks = 1usize << variables.len().saturating_sub(6);
        if blocks * nodes.len() > WORDS {
            return None;
        }
        // operands stand before what uses them
        nodes.sort_unstable_by_key(|t| t.node());
        variables.sort_unstable();
        let mut rows = Vec::with_capacity(nodes.len());
        for (i, &t) in nodes.iter().enumerate() {
            self.places.get_mut(t.node())?.1 = i as u32;
            rows.push(match terms.node(t) {
                Node::False => Row::False,
                Node::Variable(v) => Row::Variable(variables.binary_search(&v).ok()?),
                Node::And(a, b) => Row::And([self.place(a)?, self.place(b)?]),
            });
        }
        let goals = wanted.iter().map(|&t| self.place(t)).collect::<Option<Vec<_>>>()?;
        let mut values = vec![0u64; rows.len()];
        for block in 0..blocks {
            for (i, row) in rows.iter().enumerate() {
                values[i] = match *row {
                    Row::False => 0,
                    Row::Variable(v) => match COLUMNS.get(v) {
                        Some(&column) => column,
                        None if (block >> (v - COLUMNS.len())) & 1 == 1 => u64::MAX,
                        None => 0,
                    },
                    Row::And([(a, x), (b, y)]) => (values[a] ^ x) & (values[b] ^ y),
                };
            }
            let all = goals.iter().fold(u64::MAX, |all, &(i, invert)| all & (values[i] ^ invert));
            if all != 0 {
                let row = (block << 6) | all.trailing_zeros() as usize;
                return Some(Some(variables.iter().enumerate().map(|(i, &v)| (v, (row >> i) & 1 == 1)).collect()));
            }
        }
        Some(None)
    }

    fn place(&self, t: Term) -> Option<(usize, u64)> {
        let place = self.places.get(t.node())?.1 as usize;
        Some((place, if t.is_inverted() { u64::MAX } else { 0 }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The conjunction that only this assignment fulfils, as a list of its terms.
    fn only(variables: &[Term], row: u32) -> Vec<Term> {
        variables.iter().enumerate().map(|(i, v)| v.inverted_if((row >> i) & 1 == 0)).collect()
    }

    #[test]
    fn the_one_row_that_fulfils_is_found_wherever_it_is() {
        let mut terms = Terms::new();
        let variables: Vec<Term> = (0..9).map(|_| terms.variable()).collect();
        let mut table = Table::default();
        for row in [0, 1, 31, 63, 64, 127, 128, 256, 300, 511] {
            let all = only(&variables, row);
            let expected: Vec<(u32, bool)> = (0..9).map(|i| (i, (row >> i) & 1 == 1)).collect();
            let whole = terms.all(all.iter().copied());
            assert_eq!(table.satisfy(&terms, &all), Some(Some(expected.clone())), "apart, row {row}");
            assert_eq!(table.satisfy(&terms, &[whole]), Some(Some(expected)), "as one, row {row}");
            assert!(!Table::default().is_never(&terms, whole));
            // and one bit otherwise: none
            let (other, another) = (terms.xor(variables[8], variables[0]), terms.xor(variables[8], !variables[0]));
            assert_eq!(table.satisfy(&terms, &[whole, other, another]), Some(None), "row {row}");
        }
    }

    #[test]
    fn what_is_never_true_without_folding_to_false_is_seen_and_a_constant_is() {
        let mut terms = Terms::new();
        let [a, b, c] = [(); 3].map(|()| terms.variable());
        let pairs = [(a, b), (b, c), (a, c)].map(|(x, y)| terms.xor(x, y));
        let never = terms.all(pairs);
        assert_eq!(never.as_constant(), None);
        assert!(Table::default().is_never(&terms, never) && Table::default().is_never(&terms, Term::FALSE));
        assert!(
            !Table::default().is_never(&terms, !never)
                && !Table::default().is_never(&terms, Term::TRUE)
                && !Table::default().is_never(&terms, a)
        );
        assert_eq!(Table::default().satisfy(&terms, &[Term::FALSE]), Some(None));
        assert_eq!(Table::default().satisfy(&terms, &[Term::TRUE]), Some(Some(vec![])));
    }

    #[test]
    fn a_table_has_up_to_sixteen_variables() {
        let mut terms = Terms::new();
        let variables: Vec<Term> = (0..17).map(|_| terms.variable()).collect();
        let mut table = Table::default();
        let row = 0b1010_0110_1001_0101;
        let expected = (0..16).map(|i| (i, (row >> i) & 1 == 1)).collect();
        assert_eq!(table.satisfy(&terms, &only(&variables[..16], row)), Some(Some(expected)));
        assert_eq!(table.satisfy(&terms, &variables), None);
        assert_eq!(table.satisfy(&terms, &variables[..1]), Some(Some(vec![(0, true)])), "and nothing is left of it");
    }

    #[test]
    fn a_table_of_too_many_terms_is_left_to_the_solver() {
        let mut terms = Terms::new();
        let variables: Vec<Term> = (0..16).map(|_| terms.variable()).collect();
        // 1,024 words for each term: the variables, and three for each of the pairs
        let pairs: Vec<Term> =
            (0..17).map(|i| terms.xor(variables[i % 16], variables[(i + 1 + i / 16) % 16])).collect();
        let mut table = Table::default();
        assert!(matches!(table.satisfy(&terms, &pairs[..16]), Some(Some(_))), "64 terms");
        assert_eq!(table.satisfy(&terms, &pairs), None, "67 terms");
        assert!(!Table::default().is_never(&terms, pairs[0]));
    }

    #[test]
    fn terms_with_a_variable_in_common_stand_in_one_group() {
        let mut terms = Terms::new();
        let [a, b, c, d, e] = [(); 5].map(|()| terms.variable());
        let (ab, bc, de) = (terms.and(a, b), terms.xor(b, c), terms.and(!d, e));
        let mut table = Table::default();
        assert_eq!(table.divide(&terms, &[ab, de, !bc, !a]), [vec![ab, !bc, !a], vec![de]]);
        assert_eq!(table.divide(&terms, &[a, b, !a]), [vec![a, !a], vec![b]]);
        let joins = terms.and(c, d);
        assert_eq!(table.divide(&terms, &[ab, de, bc, joins]), [vec![ab, de, bc, joins]]);
        assert_eq!(table.divide(&terms, &[]), Vec::<Vec<Term>>::new());
    }
}
