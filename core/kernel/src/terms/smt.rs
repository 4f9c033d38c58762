//! Terms as SMT-LIB 2.6 text: plain propositional logic that any solver reads.
//!
//! Source: Barrett, Fontaine, Tinelli, "The SMT-LIB Standard, Version 2.6" (2017), theory Core.
use std::fmt::Write;

use super::{Node, Term, Terms};

impl Terms {
    /// Declarations, definitions and assertions that say that all of these terms are true. `named` gives a comment for
    /// a variable by its number, if there is anything to say of it.
    pub fn smt(&self, all: &[Term], named: &dyn Fn(u32) -> Option<String>) -> String {
        let mut text = self.smt_definitions(all, named);
        for &t in all {
            let _ = writeln!(text, "(assert {})", self.smt_edge(t));
        }
        text
    }

    /// Declarations and definitions of everything that these terms hang on.
    pub(crate) fn smt_definitions(&self, all: &[Term], named: &dyn Fn(u32) -> Option<String>) -> String {
        let mut wanted = vec![false; self.len()];
        let mut stack: Vec<usize> = all.iter().map(|t| t.node()).collect();
        while let Some(n) = stack.pop() {
            if std::mem::replace(&mut wanted[n], true) {
                continue;
            }
            if let Node::And(a, b) = self.nodes[n] {
                stack.extend([a.node(), b.node()]);
            }
        }
        let mut text = String::new();
        // operands stand before what uses them
        for (n, node) in self.nodes.iter().enumerate().filter(|&(n, _)| wanted[n]) {
            let _ = match *node {
                Node::False => Ok(()),
                Node::Variable(v) => {
                    let comment = named(v).map(|c| format!(" ; {}", c.replace(['\n', '\r'], " "))).unwrap_or_default();
                    writeln!(text, "(declare-const v{v} Bool){comment}")
                }
                Node::And(a, b) => {
                    writeln!(text, "(define-fun n{n} () Bool (and {} {}))", self.smt_edge(a), self.smt_edge(b))
                }
            };
        }
        text
    }

    /// A term, once what it hangs on is defined.
    pub(crate) fn smt_edge(&self, term: Term) -> String {
        let name = match self.node(term) {
            Node::False => return if term.is_inverted() { "true" } else { "false" }.to_owned(),
            Node::Variable(v) => format!("v{v}"),
            Node::And(..) => format!("n{}", term.node()),
        };
        if term.is_inverted() { format!("(not {name})") } else { name }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_asserted_is_written_and_operands_come_first() {
        let mut t = Terms::new();
        let (a, b, c) = (t.variable(), t.variable(), t.variable());
        let x = t.and(a, !b);
        let _ = t.and(a, c);
        let y = t.and(x, !c);
        let text = t.smt(&[!x, Term::TRUE], &|v| (v == 0).then(|| "the first".to_owned()));
        assert_eq!(
            text,
            "(declare-const v0 Bool) ; the first\n(declare-const v1 Bool)\n\
             (define-fun n4 () Bool (and v0 (not v1)))\n(assert (not n4))\n(assert true)\n"
        );
        let named = t.smt(&[a, a, Term::FALSE], &|_| Some("two\nlines\rof it".to_owned()));
        assert_eq!(named, "(declare-const v0 Bool) ; two lines of it\n(assert v0)\n(assert v0)\n(assert false)\n");
        assert!(
            t.smt(&[y], &|_| None).contains("(define-fun n6 () Bool (and (not v2) n4))"),
            "{}",
            t.smt(&[y], &|_| None)
        );
    }
}
