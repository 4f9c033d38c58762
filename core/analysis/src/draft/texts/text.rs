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
    /// What it is the inversion of.
    pub(super) inverts: Option<Box<Text>>,
    /// Inversions in it.
    inversions: usize,
    /// The packages whose gates it stands for.
    pub(super) from: BTreeSet<String>,
}

impl Text {
    pub(super) fn whole(words: impl Into<String>) -> Self {
        Text { words: words.into(), binds: Binds::All, inverts: None, inversions: 0, from: BTreeSet::new() }
    }

    pub(super) fn not(of: &Text) -> Self {
        let (words, inversions) = (format!("!{}", of.within(Binds::All)), of.inversions + 1);
        Text { inverts: Some(Box::new(of.clone())), inversions, from: of.from.clone(), ..Text::whole(words) }
    }

    pub(super) fn joined(words: String, binds: Binds, of: &[&Text]) -> Self {
        let from = of.iter().flat_map(|t| t.from.iter().cloned()).collect();
        Text { words, binds, inverts: None, inversions: of.iter().map(|t| t.inversions).sum(), from }
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
    match of {
        [] => Text::whole("Assertion::NEVER"),
        [one] => one.clone(),
        all => {
            let words: Vec<String> = all.iter().map(|t| t.within(Binds::Xor)).collect();
            Text::joined(words.join(" | "), Binds::Or, &all.iter().collect::<Vec<_>>())
        }
    }
}
