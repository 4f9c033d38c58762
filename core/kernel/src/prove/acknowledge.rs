//! Acknowledgements by name: of what settling hides in a net or a register, or of the pulses of a contact. Each is of one
//! finding, on one side, at one place.
use std::collections::BTreeSet;

use crate::circuit::{Circuit, Label};
use crate::nearest::{did_you_mean, nearest};

use super::hidden::{Hidden, Of, Why};

/// What an acknowledgement can be about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Net,
    Register,
    Contact,
}

const KINDS: [(Kind, &str); 3] = [(Kind::Net, "net"), (Kind::Register, "register"), (Kind::Contact, "contact")];

/// All names of a pair of circuits.
pub(super) struct Names {
    of: [BTreeSet<String>; 3],
}

impl Names {
    pub(super) fn new(circuits: [&Circuit; 2]) -> Self {
        let nets = circuits.iter().flat_map(|c| c.nets().iter().map(|n| n.name.clone()));
        let elements = circuits.iter().flat_map(|c| c.elements().iter().map(|e| e.name.clone()));
        let contacts =
            circuits.iter().flat_map(|c| c.contacts().iter().flat_map(|c| [c.name.clone(), c.label.to_string()]));
        Names { of: [nets.collect(), elements.collect(), contacts.collect()] }
    }

    fn has(&self, kind: Kind, name: &str) -> bool {
        KINDS.iter().zip(&self.of).any(|((k, _), names)| *k == kind && names.contains(name))
    }

    /// Whether a contact bears this name, and a net or register too: then the kind must be said.
    fn is_shared(&self, name: &str) -> bool {
        self.has(Kind::Contact, name) && (self.has(Kind::Net, name) || self.has(Kind::Register, name))
    }

    /// Whether a contact bears this name or label, so that a net or register of that name must stand after its kind.
    fn is_contact(&self, name: &str) -> bool {
        self.has(Kind::Contact, name)
    }

    /// Whether an acknowledgement names exactly one thing that is there; else why not, with the mend.
    pub(super) fn check(&self, acknowledged: &str) -> Result<(), String> {
        if self.is_shared(acknowledged) {
            let others: Vec<String> = KINDS
                .iter()
                .filter(|(k, _)| *k != Kind::Contact && self.has(*k, acknowledged))
                .map(|(_, word)| format!("`{word} {acknowledged}`"))
                .collect();
            return Err(format!(
                "`{acknowledged}` is acknowledged, but a contact bears that name and something else too: say `contact \
                 {acknowledged}` if the contact's pulses do not matter, {} if what settling hides there does not",
                others.join(" or ")
            ));
        }
        let is_known = KINDS.iter().any(|&(kind, word)| {
            self.has(kind, acknowledged)
                || within(acknowledged, word).is_some_and(|name| self.has(kind, name))
                || self.of.iter().flatten().any(|name| exact(acknowledged, kind, name))
        });
        if is_known {
            return Ok(());
        }
        let bare = KINDS.iter().find_map(|(_, word)| within(acknowledged, word)).unwrap_or(acknowledged);
        let is_near = |slips, name: &str| slips <= 3 && slips < name.chars().count();
        let near = nearest(bare, self.of.iter().flatten().map(String::as_str), is_near);
        let near = did_you_mean(&near).map_or(String::new(), |question| format!(": {question}"));
        Err(format!(
            "`{acknowledged}` is acknowledged, but no net, register, contact or finding is called that; of a finding take \
             the very words that it asks for{near}"
        ))
    }
}

/// A contact by label and name.
pub(super) fn contact(label: &Label, name: &str) -> String {
    if name == label.as_str() { name.to_owned() } else { format!("{label} {name}") }
}

/// The name after the word of its kind.
fn within<'a>(acknowledged: &'a str, word: &str) -> Option<&'a str> {
    acknowledged.strip_prefix(word)?.strip_prefix(' ')
}

/// Whether an acknowledgement begins with a name, with its kind or without, and says of which side it is.
fn exact(acknowledged: &str, kind: Kind, name: &str) -> bool {
    let bare = KINDS.iter().find(|(k, _)| *k == kind).and_then(|(_, word)| within(acknowledged, word));
    [Some(acknowledged), bare].into_iter().flatten().any(|text| {
        text.strip_prefix(name).is_some_and(|rest| {
            [Of::Original, Of::Replacement].iter().any(|&of| rest.starts_with(&side(of)))
                || [" always low", " always high", IGNORED, STILL, OPEN_AGAIN].contains(&rest)
        })
    })
}

/// What stands behind a name in an acknowledgement of vacuity.
const IGNORED: &str = " ignored";
const STILL: &str = " never moving";
const OPEN_AGAIN: &str = " open again and again";

fn side(of: Of) -> String {
    format!(" of the {of}")
}

/// The contact that an acknowledgement is of, among those of a pair, each by its label and its names.
///
/// # Errors
/// If more than one bears that name.
pub(super) fn contact_of<'c>(
    acknowledged: &str,
    contacts: impl Iterator<Item = (usize, &'c Label, Vec<&'c str>)> + Clone,
) -> Result<Option<usize>, String> {
    let text = within(acknowledged, "contact").unwrap_or(acknowledged);
    if let Some((c, ..)) = contacts.clone().find(|(_, label, _)| label.as_str() == text) {
        return Ok(Some(c));
    }
    let named: Vec<(usize, &Label)> =
        contacts.filter(|(.., names)| names.contains(&text)).map(|(c, label, _)| (c, label)).collect();
    match named[..] {
        [] => Ok(None),
        [(c, _)] => Ok(Some(c)),
        _ => {
            let all: Vec<String> = named.iter().map(|(_, label)| format!("`contact {label}`")).collect();
            Err(format!(
                "`{acknowledged}` is acknowledged, but several contacts bear that name, and an acknowledgement is of one: \
                 say {}",
                all.join(" or ")
            ))
        }
    }
}

/// Everything by which a finding can be acknowledged, the shortest first: its name or another of the same net, with or
/// without its kind, its side and its place.
fn spellings(h: &Hidden) -> Vec<String> {
    let word = KINDS.iter().find(|(k, _)| *k == h.kind()).map_or("", |k| k.1);
    let place = match &h.why {
        Why::Constant(high) => format!(" always {}", if *high { "high" } else { "low" }),
        Why::Order { .. } | Why::InTurn { .. } | Why::Fades { .. } => String::new(),
        Why::Race | Why::Floats { .. } => String::new(),
        Why::Ignored { .. } => IGNORED.to_owned(),
        Why::Still { .. } => STILL.to_owned(),
        Why::OpenAgain => OPEN_AGAIN.to_owned(),
    };
    let mut all = Vec::new();
    if h.has_own_call() {
        all.push(h.call.clone());
    }
    // a finding about several registers is acknowledged by its own words only: a name is only one of them
    let is_several = matches!(h.why, Why::Order { .. } | Why::Race | Why::InTurn { .. }) && !h.others.is_empty();
    for name in std::iter::once(&h.name).chain(&h.others).filter(|_| !is_several) {
        // an acknowledgement of a contact's pulses is none of these
        let places = if h.is_vacuous() { vec![place.as_str()] } else { vec!["", &place] };
        let sides = if h.is_vacuous() { vec![String::new()] } else { vec![String::new(), side(h.of)] };
        for place in places {
            for side in &sides {
                for kind in [String::new(), format!("{word} ")] {
                    all.push(format!("{kind}{name}{side}{place}"));
                }
            }
        }
    }
    all
}

/// Gives each finding what acknowledges it and nothing else: as short as that can be said.
pub(super) fn called(findings: &mut [Hidden], names: &Names) {
    let all: Vec<Vec<String>> = findings.iter().map(spellings).collect();
    for (i, h) in findings.iter_mut().enumerate().filter(|(_, h)| !h.has_own_call()) {
        let others = || all.iter().enumerate().filter(|&(k, _)| k != i).flat_map(|(_, s)| s);
        let own = all.get(i).into_iter().flatten();
        if let Some(call) = own.clone().find(|s| !names.is_contact(s) && !others().any(|o| o == *s)).or(own.last()) {
            h.call.clone_from(call);
        }
    }
}

/// Whether one of these acknowledgements answers to a finding.
pub(super) fn is_covered(acknowledged: &[String], finding: &Hidden) -> bool {
    spellings(finding).iter().any(|s| acknowledged.contains(s))
}

/// Which of these findings are acknowledged: each acknowledgement is of one. Findings must have been [called].
///
/// # Errors
/// An acknowledgement that more than one finding answers to, with what to say instead.
pub(super) fn covered(acknowledged: &[String], findings: &[Hidden]) -> Result<Vec<bool>, String> {
    let mut covered = vec![false; findings.len()];
    for a in acknowledged {
        let mine: Vec<usize> = (0..findings.len()).filter(|&i| spellings(&findings[i]).contains(a)).collect();
        match mine[..] {
            [] => {}
            [one] => covered[one] = true,
            _ => {
                let all: Vec<String> = mine.iter().map(|&i| format!("`{}`", findings[i].call)).collect();
                return Err(format!(
                    "`{a}` is acknowledged, but {} findings answer to that, and an acknowledgement is of one: look at each, \
                     and say {}",
                    mine.len(),
                    all.join(", ")
                ));
            }
        }
    }
    Ok(covered)
}
