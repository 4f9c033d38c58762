//! A source text cut into tokens, and the ends of operands in it.
use std::ops::Range;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Name,
    Number,
    Sign,
}

#[derive(Clone, Debug)]
pub(crate) struct Token {
    pub(crate) kind: Kind,
    pub(crate) at: Range<usize>,
}

/// A text and its tokens; comments are none.
pub(crate) struct Text<'t> {
    pub(crate) text: &'t str,
    pub(crate) tokens: Vec<Token>,
}

/// Signs of more than one letter.
const LONG: [&str; 8] = ["..=", "..", "::", "->", "=>", "&&", "||", "=="];

impl<'t> Text<'t> {
    pub(crate) fn of(text: &'t str) -> Self {
        let mut tokens = Vec::new();
        let mut at = 0;
        while let Some(c) = text[at..].chars().next() {
            let rest = &text[at..];
            let run = |f: fn(char) -> bool| rest.find(|c| !f(c)).unwrap_or(rest.len());
            let (kind, length) = if rest.starts_with("//") {
                (None, run(|c| c != '\n'))
            } else if c.is_whitespace() {
                (None, run(char::is_whitespace))
            } else if c == '"' {
                (None, rest[1..].find('"').map_or(rest.len(), |n| n + 2))
            } else if c.is_ascii_digit() {
                (Some(Kind::Number), run(|c| c.is_ascii_alphanumeric() || c == '_'))
            } else if c.is_alphabetic() || c == '_' {
                (Some(Kind::Name), run(|c| c.is_alphanumeric() || c == '_'))
            } else {
                let long = LONG.iter().find(|l| rest.starts_with(**l));
                (Some(Kind::Sign), long.map_or(c.len_utf8(), |l| l.len()))
            };
            tokens.extend(kind.map(|kind| Token { kind, at: at..at + length }));
            at += length;
        }
        Text { text, tokens }
    }

    /// The word of a token; nothing past the end.
    pub(crate) fn word(&self, k: usize) -> &'t str {
        self.tokens.get(k).map_or("", |t| &self.text[t.at.clone()])
    }

    pub(crate) fn is_name(&self, k: usize) -> bool {
        self.tokens.get(k).is_some_and(|t| t.kind == Kind::Name)
    }

    pub(crate) fn is_number(&self, k: usize) -> bool {
        self.tokens.get(k).is_some_and(|t| t.kind == Kind::Number)
    }

    /// The bytes of tokens `from` up to `to`, which is not among them.
    pub(crate) fn bytes(&self, tokens: Range<usize>) -> Range<usize> {
        self.tokens[tokens.start].at.start..self.tokens[tokens.end - 1].at.end
    }

    pub(crate) fn said(&self, tokens: Range<usize>) -> &'t str {
        &self.text[self.bytes(tokens)]
    }

    /// The token behind the bracket that closes the one at `open`.
    pub(crate) fn behind(&self, open: usize) -> usize {
        let mut depth = 0;
        for k in open..self.tokens.len() {
            match self.word(k) {
                "(" | "[" | "{" => depth += 1,
                ")" | "]" | "}" => depth -= 1,
                _ => {}
            }
            if depth == 0 {
                return k + 1;
            }
        }
        self.tokens.len()
    }

    /// Where these words follow each other first.
    pub(crate) fn find(&self, words: &[&str]) -> Option<usize> {
        (0..self.tokens.len()).find(|&k| words.iter().enumerate().all(|(i, w)| self.word(k + i) == *w))
    }

    /// The operand that begins at a token: its `!`, its name or bracket, and what follows that by dots and brackets.
    pub(crate) fn operand(&self, from: usize) -> Option<Range<usize>> {
        let mut k = from;
        while self.word(k) == "!" {
            k += 1;
        }
        k = match self.word(k) {
            "(" => self.behind(k),
            _ if self.is_name(k) || self.is_number(k) => k + 1,
            _ => return None,
        };
        loop {
            k = match self.word(k) {
                "." | "::" if self.is_name(k + 1) => k + 2,
                "(" | "[" => self.behind(k),
                _ => return Some(from..k),
            };
        }
    }

    /// The sum of products that begins at a token: operands in it, by products.
    pub(crate) fn sum(&self, from: usize) -> Vec<Vec<Range<usize>>> {
        let mut sum: Vec<Vec<Range<usize>>> = Vec::new();
        let mut k = from;
        loop {
            let mut product = Vec::new();
            while let Some(operand) = self.operand(k) {
                k = operand.end;
                product.push(operand);
                if self.word(k) != "&" {
                    break;
                }
                k += 1;
            }
            if product.is_empty() {
                return sum;
            }
            sum.push(product);
            if self.word(k) != "|" {
                return sum;
            }
            k += 1;
        }
    }

    /// Whether an expression begins at a token.
    pub(crate) fn begins(&self, k: usize) -> bool {
        let before = |n: usize| k.checked_sub(n).map_or("", |k| self.word(k));
        let opens = |w: &str| matches!(w, "(" | "," | "=" | ":" | "{");
        opens(before(1)) || (before(1) == "|" && before(3) == "|" && opens(before(4)))
    }
}
