//! What a proof by induction rests on, as questions that any solver can answer again: each must have no solution.
use std::collections::HashMap;
use std::fmt::Write;
use std::sync::Arc;

use crate::terms::{Node, Term, Terms};

use super::context::Context;
use super::matching::Relation;
use super::pair::{Event, ORIGINAL, Pair, REPLACEMENT};
use super::start::{Begin, Power};
use super::{Proof, SIDES};

/// One question of a proof. Its answer must be that nothing satisfies it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Obligation {
    /// A name for a file, without an extension.
    pub name: String,
    /// The kind of event that it is about, or "power-up", or "at rest".
    pub event: String,
    /// What may not happen.
    pub never: String,
    /// SMT-LIB 2.6: declarations, definitions and assertions, without `check-sat`.
    pub text: String,
}

/// What is needed to write a proof's obligations.
#[derive(Clone)]
pub(super) struct Certificate {
    pub(super) pair: Arc<Pair>,
    pub(super) relation: Relation,
    /// The starts of the original, one of which matches whatever the replacement starts with.
    pub(super) begins: Vec<Vec<Begin>>,
}

impl Proof {
    /// The questions on which the proof rests, in a fixed order; none if it was not by induction.
    ///
    /// Together they say: at power-up the matching holds; every kind of event keeps it, brings both sides to rest, and
    /// shows the same at every contact on the way.
    pub fn obligations(&self) -> Vec<Obligation> {
        self.certificate.as_ref().map(Certificate::obligations).unwrap_or_default()
    }

    /// Cells of the replacement that never change by the matching, with what they hold; nothing if there is no matching.
    pub(super) fn constant(&self) -> Option<Vec<(usize, bool)>> {
        let classes = self.certificate.as_ref()?.relation.classes.iter().filter(|class| class.is_constant);
        let bits = classes.flat_map(|class| &class.bits).filter(|((side, _), _)| *side == REPLACEMENT);
        Some(bits.map(|&((_, cell), opposite)| (cell, opposite)).collect())
    }

    /// All obligations as one SMT-LIB 2.6 script: for each, `check-sat` must answer `unsat`.
    pub fn smt2(&self) -> String {
        let mut text = String::new();
        let _ = writeln!(text, "; `{}` in place of `{}`", self.replacement, self.original);
        for a in &self.assumptions {
            let _ = writeln!(text, "; assuming {}", a.replace(['\n', '\r'], " "));
        }
        let all = self.obligations();
        if all.is_empty() {
            text.push_str(match self.certificate {
                Some(_) => {
                    "; every obligation was closed by structure: both sides are the same functions, node by node\n"
                }
                None if self.parts.is_empty() => {
                    "; proved by visiting every state: there is no induction whose obligations could stand here\n"
                }
                None => "; proved part by part, not all by induction: there are no obligations of the whole\n",
            });
        } else {
            let _ = writeln!(text, "; {} obligations; the answer to each must be unsat", all.len());
        }
        text.push_str("(set-option :print-success false)\n(set-info :smt-lib-version 2.6)\n(set-logic QF_UF)\n");
        for o in &all {
            let _ = write!(
                text,
                "\n; {}: {}: never {}\n(push 1)\n{}(check-sat) ; unsat\n(pop 1)\n",
                o.name, o.event, o.never, o.text
            );
        }
        text.push_str("(exit)\n");
        text
    }

    /// Each obligation as a file of its own, and `manifest.csv`, which says what each is: for a farm of solvers.
    pub fn obligation_files(&self) -> Vec<(String, String)> {
        let all = self.obligations();
        let quoted = |s: &str| format!("\"{}\"", s.replace('"', "\"\""));
        let mut manifest = "file,event,never,expected\n".to_owned();
        let mut files = Vec::with_capacity(all.len() + 1);
        for o in &all {
            let name = format!("{}.smt2", o.name);
            let _ = writeln!(manifest, "{name},{},{},unsat", quoted(&o.event), quoted(&o.never));
            let text = format!(
                "; {}: never {}\n(set-option :print-success false)\n(set-info :smt-lib-version 2.6)\n\
                 (set-info :status unsat)\n(set-logic QF_UF)\n{}(check-sat)\n(exit)\n",
                o.event, o.never, o.text
            );
            files.push((name, text));
        }
        files.push(("manifest.csv".to_owned(), manifest));
        files
    }
}

impl std::fmt::Debug for Certificate {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Certificate of {} classes", self.relation.classes.len())
    }
}

impl Certificate {
    /// The obligations after those of other parts, in whose numbers they go on.
    fn obligations(&self) -> Vec<Obligation> {
        let mut all = List { of: self, all: Vec::new() };
        all.power_up();
        all.at_rest();
        all.events();
        all.all
    }

    fn bit_words(&self, (side, cell): (usize, usize)) -> String {
        let name = self.pair.machines[side].cells().get(cell).map_or("?", |c| c.name.as_str());
        format!("`{name}` of the {}", SIDES[side])
    }

    /// A class in words.
    pub(super) fn class_words(&self, class: usize) -> String {
        let Some(class) = self.relation.classes.get(class) else { return String::new() };
        let bits: Vec<_> = class
            .bits
            .iter()
            .map(|&(bit, opposite)| format!("{}{}", if opposite { "¬" } else { "" }, self.bit_words(bit)))
            .collect();
        let same = bits.join(" = ");
        if class.is_constant { format!("{same} = low") } else { same }
    }

    /// The bits of a cluster in words.
    pub(super) fn cluster_words(&self, cluster: usize) -> String {
        let bits = self.relation.clusters.get(cluster).map_or(&[][..], |c| &c.bits);
        bits.iter().map(|&(bit, _)| self.bit_words(bit)).collect::<Vec<_>>().join(", ")
    }
}

struct List<'c> {
    of: &'c Certificate,
    all: Vec<Obligation>,
}

impl List<'_> {
    fn add(&mut self, event: &str, never: String, terms: &Terms, all: &[Term], names: &HashMap<u32, String>) {
        if all.contains(&Term::FALSE) {
            return;
        }
        let name = format!("obligation_{:05}", self.all.len() + 1);
        let text = terms.smt(all, &|v| names.get(&v).cloned());
        self.all.push(Obligation {
            name,
            event: event.replace(['\n', '\r'], " "),
            never: never.replace(['\n', '\r'], " "),
            text,
        });
    }

    fn contact(&self, c: usize) -> String {
        let contact = &self.of.pair.contacts[c];
        format!("{} {}", contact.label, contact.name)
    }

    fn levels(&self, levels: &[Term], terms: &Terms, names: &mut HashMap<u32, String>) {
        for (c, &t) in levels.iter().enumerate() {
            if let Node::Variable(v) = terms.node(t) {
                names.insert(v, format!("contact {}: the level from the board", self.contact(c)));
            }
        }
    }

    fn power_up(&mut self) {
        let mut power = Power::new(&self.of.pair);
        let starts: Vec<_> = self.of.begins.iter().map(|b| power.start(&self.of.pair, &self.of.relation, b)).collect();
        let mut names = HashMap::new();
        self.levels(&power.levels, &power.terms, &mut names);
        for (cell, &t) in power.cells.iter().enumerate() {
            if let Node::Variable(v) = power.terms.node(t) {
                names.insert(v, format!("{} at power-up", self.of.bit_words((1, cell))));
            }
        }
        let never = format!("the {} does not come to rest", SIDES[REPLACEMENT]);
        self.add("power-up", never, &power.terms, &[power.allowed, power.unsettled], &names);
        let [start] = &starts[..] else {
            // whatever the replacement starts with, one of several starts of the original matches
            let mut all = vec![power.allowed];
            all.extend(starts.iter().map(|s| s.bad(&mut power.terms)));
            let never = format!("all {} starts of the original that are tried fail to match", starts.len());
            return self.add("power-up", never, &power.terms, &all, &names);
        };
        let never = format!("the {} does not come to rest", SIDES[ORIGINAL]);
        self.add("power-up", never, &power.terms, &[power.allowed, start.unsettled], &names);
        for (class, apart) in &start.apart {
            let never = format!("not {}", self.of.class_words(*class));
            self.add("power-up", never, &power.terms, &[power.allowed, *apart], &names);
        }
        for (cluster, outside) in &start.outside {
            let never = format!("none of the combinations of {}", self.of.cluster_words(*cluster));
            self.add("power-up", never, &power.terms, &[power.allowed, *outside], &names);
        }
        for (contact, differs) in &start.differ {
            let never = format!("contact {} differs", self.contact(*contact));
            self.add("power-up", never, &power.terms, &[power.allowed, *differs], &names);
        }
    }

    fn context(&self) -> (Context, HashMap<u32, String>) {
        let mut context = Context::new(&self.of.pair, &self.of.relation.classes);
        context.assume(&self.of.pair, &self.of.relation);
        let mut names = HashMap::new();
        self.levels(&context.levels, &context.terms, &mut names);
        for (class, &value) in context.values.iter().enumerate() {
            if let Node::Variable(v) = context.terms.node(value) {
                names.insert(v, self.of.class_words(class));
            }
        }
        (context, names)
    }

    fn at_rest(&mut self) {
        let (mut context, names) = self.context();
        let everywhere: Vec<usize> =
            (0..self.of.pair.contacts.len()).filter(|c| !self.of.relation.alike.contains(c)).collect();
        for (c, differs) in context.contacts_differ(&self.of.pair, &everywhere, [&[]; 2]) {
            let mut all = context.hypothesis.parts().to_vec();
            all.push(differs);
            self.add("at rest", format!("contact {} differs", self.contact(c)), &context.terms, &all, &names);
        }
    }

    fn event(&self, event: &Event) -> String {
        let contacts: Vec<_> = event.contacts.iter().map(|&c| self.contact(c)).collect();
        match contacts.as_slice() {
            [only] => format!("contact {only} changes"),
            all => format!("contacts {} change together", all.join(", ")),
        }
    }

    fn events(&mut self) {
        let pair = Arc::clone(&self.of.pair);
        for event in &pair.events {
            // a context of its own for each, so that a file says no more than it needs
            let (mut context, names) = self.context();
            let case = context.case(&pair, &self.of.relation.classes, event);
            let event = self.event(event);
            let outside: Vec<Term> = self
                .of
                .relation
                .clusters
                .iter()
                .map(|c| context.outside(&pair, &case, std::slice::from_ref(c)))
                .collect();
            let ask = |list: &mut Self, never: String, bad: Term| {
                let mut all = context.hypothesis.parts().to_vec();
                all.extend([case.may, bad]);
                list.add(&event, never, &context.terms, &all, &names);
            };
            for (side, of) in SIDES.iter().enumerate() {
                ask(self, format!("the {of} does not come to rest"), case.unsettled[side]);
            }
            for &(class, apart) in &case.apart {
                ask(self, format!("afterwards not {}", self.of.class_words(class)), apart);
            }
            for (cluster, &outside) in outside.iter().enumerate() {
                ask(
                    self,
                    format!("afterwards none of the combinations of {}", self.of.cluster_words(cluster)),
                    outside,
                );
            }
            for &(c, differs) in &case.differ {
                ask(self, format!("contact {} differs on the way or afterwards", self.contact(c)), differs);
            }
        }
    }
}
