//! The certificate of a proof: everything that a checker of other descent needs, as one JSON document.
//!
//! It holds the question (assumptions, restrictions, groups, what is acknowledged), both transition relations as they were
//! built, each with its names and neither simplified nor mixed with the other, and what the proof found: the matching
//! relation and the combinations of an induction with a start of the original, or the table of states of a walk. It names
//! every obligation of every kind of event, none left out because structure closed it; their text is
//! [`Proof::script`](super::Proof::script). It is tied to files by their SHA-256 digests.
//!
//! A checker takes the question, the relation and the invariants from it, and derives the rest itself.
mod form;
mod product;
mod script;
mod systems;
mod table;

pub use product::Product;

use std::collections::HashMap;
use std::sync::Arc;

use crate::circuit::Pull;
use crate::digest::sha256;

use super::obligations::Certificate;
use super::pair::{Compared, ORIGINAL, Pair, REPLACEMENT};
use super::start::Begin;
use super::{Method, Proof, Question};

pub(super) use table::Table;

/// What a proof rests on, whatever its method.
#[derive(Clone)]
pub(super) struct Ground {
    /// The question as it was put, about whole circuits.
    pub(super) asked: Arc<Question>,
    /// The pair that was proved, its contacts compared as they were.
    pub(super) pair: Arc<Pair>,
    /// What a walk visited; nothing if it is too large to be written.
    pub(super) table: Option<Table>,
    /// What was proved of contacts that have nothing in common with others but inputs, where there is no proof of the whole.
    pub(super) apart: Vec<Apart>,
}

/// The proof of a part, without the question that it was put about the whole.
#[derive(Clone)]
pub(super) struct Apart {
    pair: Arc<Pair>,
    certificate: Option<Certificate>,
    table: Option<Table>,
}

impl Apart {
    pub(super) fn of(proof: &Proof) -> Self {
        let Ground { pair, table, .. } = &proof.ground;
        Apart { pair: Arc::clone(pair), certificate: proof.certificate.clone(), table: table.clone() }
    }

    fn written(&self) -> form::Part {
        let compared = self.pair.contacts.iter().filter(|c| c.compared != Compared::Not);
        form::Part {
            contacts: compared.map(|c| c.label.to_string()).collect(),
            relation: self.certificate.as_ref().map(Certificate::relation),
            walk: self.table.as_ref().map(|t| t.written(&self.pair)),
        }
    }
}

impl std::fmt::Debug for Ground {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Ground of {} contacts", self.pair.contacts.len())
    }
}

/// A file that a certificate speaks of.
#[derive(Clone, Copy, Debug)]
pub struct Tied<'f> {
    /// What it is: `trace`, `wiring`, `parts`, `fuses`, `replacement trace`, or another word.
    pub role: &'f str,
    /// Its name.
    pub name: &'f str,
    /// Its content.
    pub bytes: &'f [u8],
}

/// A method as it stands in a certificate.
fn written(method: &Method) -> &'static str {
    match method {
        Method::Induction => "induction",
        Method::Walk { .. } => "walk",
    }
}

impl Proof {
    /// The certificate, tied to these files. `source` is the proof of the source, if there is one: the certificate holds the
    /// digest of the circuit that it was about.
    ///
    /// The document is versioned; its form is described by the structures of the crate's room `prove::certificate::form`
    /// and, for a reader, by `checker/src/certificate.rs`.
    pub fn certificate(&self, files: &[Tied<'_>], source: Option<&Proof>) -> String {
        let ground = &self.ground;
        let document = form::Document {
            format: "gluewright certificate",
            version: form::VERSION,
            gluewright: env!("CARGO_PKG_VERSION"),
            files: files.iter().map(|f| form::File { role: f.role, name: f.name, sha256: sha256(f.bytes) }).collect(),
            source: source.map(|p| form::Source::of(&p.ground.asked.replacement)),
            claim: self.claim(),
            systems: form::Systems {
                original: systems::written(&ground.asked.original),
                replacement: systems::written(&ground.asked.replacement),
            },
            method: written(&self.method),
            proofs: match ground.apart.as_slice() {
                [] => vec![Apart::of(self).written()],
                apart => apart.iter().map(Apart::written).filter(|part| !part.contacts.is_empty()).collect(),
            },
            parts: self
                .parts
                .iter()
                .map(|p| form::Decided { contacts: p.contacts.clone(), method: written(&p.method) })
                .collect(),
            obligations: self.certificate.as_ref().map(script::listed).unwrap_or_default(),
            unknowns: &self.unknowns,
            orders: &self.orders,
            // no judge of settled levels can derive these
            trusted: self.typical.iter().map(ToString::to_string).collect(),
        };
        // nothing in it can fail to be JSON: strings, numbers and truth values only
        serde_json::to_string_pretty(&document).unwrap_or_default() + "\n"
    }

    /// All obligations of an induction as one SMT-LIB 2.6 script, none left out: for each, `check-sat` must answer `unsat`.
    /// The bits of the two sides are variables of their own, and the relation is an assertion like any other. A proof by
    /// walk has none: its table is in the [certificate](Proof::certificate).
    pub fn script(&self) -> String {
        script::script(self)
    }

    /// The proof as a safety problem, with its witness, in AIGER 1.9; nothing if it was not by induction: a walk has no
    /// functions that choose the original's start and its unknowns, and its table stands for them.
    pub fn product(&self) -> Option<Product> {
        self.certificate.as_ref().map(product::product)
    }

    /// The resistors that pull nets of the replacement, by the contact's label or, where there is none, the net's name, and
    /// whether up.
    pub fn pulls(&self) -> Vec<(String, bool)> {
        let circuit = &self.ground.asked.replacement;
        let named = circuit.nets().iter().filter_map(|n| {
            let contact = n.contact.and_then(|c| circuit.contacts().get(c.index()));
            let name = contact.map_or_else(|| n.name.clone(), |c| c.label.to_string());
            match n.pull {
                Pull::None => None,
                Pull::Up => Some((name, true)),
                Pull::Down => Some((name, false)),
            }
        });
        named.collect()
    }

    fn claim(&self) -> form::Claim {
        let (asked, pair) = (&self.ground.asked, &self.ground.pair);
        let labelled = |compared: Compared| {
            let those = pair.contacts.iter().filter(move |c| c.compared == compared);
            those.map(|c| c.label.to_string()).collect()
        };
        form::Claim {
            original: asked.original.name.clone(),
            replacement: asked.replacement.name.clone(),
            assumptions: asked.assumptions.iter().map(form::Assumption::of).collect(),
            restrictions: asked.restrictions.iter().map(form::Restriction::of).collect(),
            groups: asked.groups.iter().map(|g| g.iter().map(ToString::to_string).collect()).collect(),
            settled_contacts: labelled(Compared::Settled),
            left_out: labelled(Compared::Not),
            acknowledged: self.acknowledged.clone(),
        }
    }
}

/// The lowest bits of a word, the first of them first.
fn text(word: u64, bits: usize) -> String {
    (0..bits).map(|k| if (word >> k) & 1 == 1 { '1' } else { '0' }).collect()
}

impl Certificate {
    fn bit(&self, (side, cell): (usize, usize), inverted: bool) -> form::Bit {
        let name = self.pair.machines[side].cells().get(cell).map_or(String::new(), |c| c.name.clone());
        form::Bit { side: if side == ORIGINAL { "original" } else { "replacement" }, bit: name, inverted }
    }

    fn relation(&self) -> form::Relation {
        let classes = self.relation.classes.iter().map(|c| form::Class {
            bits: c.bits.iter().map(|&(bit, opposite)| self.bit(bit, opposite)).collect(),
            constant: c.is_constant,
        });
        let told = self.relation.clusters.iter().filter_map(|c| Some((c, c.points.as_ref()?)));
        let combinations = told.clone().map(|(c, points)| form::Combinations {
            bits: c.bits.iter().map(|&(bit, opposite)| self.bit(bit, opposite)).collect(),
            points: points.iter().map(|&p| text(p, c.bits.len())).collect(),
        });
        // what a cluster tells of the original
        let mut codes: HashMap<usize, (Vec<form::Bit>, Vec<String>)> = HashMap::new();
        for (cluster, _) in told {
            let replacement = cluster.bits.iter().filter(|((side, _), _)| *side == REPLACEMENT);
            let of: Vec<form::Bit> = replacement.map(|&(bit, opposite)| self.bit(bit, opposite)).collect();
            for (cell, high) in cluster.high() {
                let high = high.into_iter().map(|shown| text(shown, of.len())).collect();
                codes.insert(cell, (of.clone(), high));
            }
        }
        let cells = self.pair.machines[ORIGINAL].cells();
        let start = |begin: &Vec<Begin>| {
            let each = cells.iter().zip(begin).enumerate().map(|(cell, (c, &begin))| {
                let (of, high) = codes.get(&cell).cloned().unwrap_or_else(|| match begin {
                    Begin::With(level) => (Vec::new(), if level { vec![String::new()] } else { Vec::new() }),
                    Begin::Like(cell, opposite) => {
                        (vec![self.bit((REPLACEMENT, cell), opposite)], vec!["1".to_owned()])
                    }
                });
                form::Start { bit: c.name.clone(), of, high }
            });
            each.collect()
        };
        let alike = self.relation.alike.iter().filter_map(|&c| self.pair.contacts.get(c));
        form::Relation {
            classes: classes.collect(),
            combinations: combinations.collect(),
            alike: alike.map(|c| c.label.to_string()).collect(),
            starts: self.begins.iter().map(start).collect(),
        }
    }
}
