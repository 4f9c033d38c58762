//! One condition in Rust: its words, how tightly they bind, and the packages behind it.
use std::collections::BTreeSet;

/// How tightly a text binds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Binds {
    Or,
    Xor,
    And,
    All,
}

/// A condition in Rust.
#[derive(Clone, Debug)]
pub(super) struct Text {
    pub(super) words: String,
    binds: Binds,
    /// Always true, or never.
    pub(super) constant: Option<bool>,
    /// What it is the inversion of.
    pub(super) inverts: Option<Box<Text>>,
    /// Inversions in it.
    inversions: usize,
    /// The packages whose gates it stands for.
    pub(super) from: BTreeSet<String>,
}

impl Text {
    pub(super) fn whole(words: impl Into<String>) -> Self {
        let (words, from) = (words.into(), BTreeSet::new());
        Text { words, binds: Binds::All, constant: None, inverts: None, inversions: 0, from }
    }

    /// True always, or never.
    pub(super) fn constant(always: bool) -> Self {
        let words = if always { "Assertion::ALWAYS" } else { "Assertion::NEVER" };
        Text { constant: Some(always), ..Text::whole(words) }
    }

    pub(super) fn not(of: &Text) -> Self {
        if let Some(always) = of.constant {
            return Text { from: of.from.clone(), ..Text::constant(!always) };
        }
        let (words, inversions) = (format!("!{}", of.within(Binds::All)), of.inversions + 1);
        Text { inverts: Some(Box::new(of.clone())), inversions, from: of.from.clone(), ..Text::whole(words) }
    }

    pub(super) fn joined(words: String, binds: Binds, of: &[&Text]) -> Self {
        let from = of.iter().flat_map(|t| t.from.iter().cloned()).collect();
        Text { words, binds, constant: None, inverts: None, inversions: of.iter().map(|t| t.inversions).sum(), from }
    }

    /// True while both are, or while one of them is at least.
    pub(super) fn of_two(a: &Text, b: &Text, is_and: bool) -> Self {
        match (a.constant, b.constant) {
            (Some(always), _) => if always == is_and { b } else { a }.clone(),
            (_, Some(always)) => if always == is_and { a } else { b }.clone(),
            (None, None) if a.words == b.words => a.clone(),
            (None, None) => {
                let (binds, sign) = if is_and { (Binds::And, "&") } else { (Binds::Or, "|") };
                Text::joined(format!("{} {sign} {}", a.within(binds), b.within(binds)), binds, &[a, b])
            }
        }
    }

    /// The one while a condition is true, the other while it is not.
    pub(super) fn chosen(when: &Text, then: &Text, otherwise: &Text) -> Self {
        if let Some(first) = when.constant {
            return if first { then } else { otherwise }.clone();
        }
        match (then.constant, otherwise.constant) {
            _ if then.words == otherwise.words => then.clone(),
            (Some(one), Some(_)) => when.clone().is(one),
            (Some(one), None) => Text::of_two(&when.clone().is(one), otherwise, !one),
            (None, Some(other)) => Text::of_two(&when.clone().is(!other), then, !other),
            (None, None) => {
                let words = format!("choose({}, {}, {})", when.words, then.words, otherwise.words);
                Text::joined(words, Binds::All, &[when, then, otherwise])
            }
        }
    }

    /// The same, or its inversion.
    pub(super) fn is(self, so: bool) -> Self {
        if so { self } else { Text::not(&self) }
    }

    pub(super) fn within(&self, least: Binds) -> String {
        if self.binds < least { format!("({})", self.words) } else { self.words.clone() }
    }

    /// How it reads: fewer inversions first, then the shorter.
    pub(super) fn weight(&self) -> (usize, usize) {
        (self.inversions, self.words.len())
    }
}

/// True while one of these is.
pub(super) fn any(of: &[Text]) -> Text {
    if let Some(always) = of.iter().find(|t| t.constant == Some(true)) {
        return always.clone();
    }
    let some: Vec<&Text> = of.iter().filter(|t| t.constant.is_none()).collect();
    match &some[..] {
        [] => Text::constant(false),
        [one] => (*one).clone(),
        all => {
            let words: Vec<String> = all.iter().map(|t| t.within(Binds::Xor)).collect();
            Text::joined(words.join(" | "), Binds::Or, all)
        }
    }
}
