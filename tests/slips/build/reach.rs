//! Which outputs depend on a place of a source, by the names that its definitions read.
use std::collections::BTreeSet;
use std::ops::Range;

use super::names::{Field, Named, definitions, fields};
use super::tokens::Text;

/// What a source defines, and from what.
pub(crate) struct Reach<'t> {
    text: Text<'t>,
    fields: Vec<Field<'t>>,
    definitions: Vec<Named<'t>>,
}

impl<'t> Reach<'t> {
    pub(crate) fn of(source: &'t str) -> Self {
        let text = Text::of(source);
        Reach { fields: fields(&text), definitions: definitions(&text), text }
    }

    /// The outputs on which a change of these bytes can tell: more rather than fewer, for a name that is given twice is one.
    pub(crate) fn outputs(&self, changed: &[Range<usize>]) -> BTreeSet<&'t str> {
        let mut reached: BTreeSet<&str> = changed.iter().filter_map(|at| self.changed(at)).collect();
        loop {
            let reads = |of: &Range<usize>| of.clone().any(|k| reached.contains(self.text.word(k)));
            let more: Vec<&str> = self.definitions.iter().filter(|d| reads(&d.tokens)).map(|d| d.name).collect();
            let known = reached.len();
            reached.extend(more);
            if reached.len() == known {
                break;
            }
        }
        let is_output = |f: &&Field<'t>| ["Output<", "InOut<"].iter().any(|of| f.kind.contains(of));
        self.fields.iter().filter(is_output).map(|f| f.name).filter(|name| reached.contains(name)).collect()
    }

    /// What is defined or declared where these bytes stand.
    fn changed(&self, at: &Range<usize>) -> Option<&'t str> {
        let within = |tokens: &Range<usize>| {
            let bytes = self.text.bytes(tokens.clone());
            bytes.start <= at.start && at.end <= bytes.end
        };
        let defined = self.definitions.iter().find(|d| within(&d.tokens)).map(|d| d.name);
        let declared = || self.fields.iter().find(|f| within(&f.tokens)).map(|f| f.name);
        // a contact: its field stands before it
        let joined = || {
            let first = self.text.tokens.iter().position(|t| t.at.end > at.start)?;
            let name = (0..first).rev().find(|&k| self.text.is_name(k))?;
            self.fields.iter().find(|f| f.name == self.text.word(name)).map(|f| f.name)
        };
        defined.or_else(declared).or_else(joined)
    }
}
