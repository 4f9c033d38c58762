//! What withholds a proof: contacts that show nothing but what settling hides, registers that race, and the order of
//! changes where nothing decides it.
mod constant;
mod reach;

pub(super) use constant::constants;

use super::acknowledge::Kind as Named;
use crate::order::Rule;

/// Which circuit of a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Of {
    /// The traced one.
    Original,
    /// The one that was written.
    Replacement,
}

impl std::fmt::Display for Of {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Of::Original => "original",
            Of::Replacement => "replacement",
        })
    }
}

/// What a proof over settled levels can't see.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Why {
    /// The net has this level whenever everything is at rest, although its inputs change: a pulse on it is not seen.
    Constant(bool),
    /// Data, clear or preset of this register can change together with its clock: what it does then is not known.
    Race,
    /// The order of changes is not decided by causality, and it matters.
    Order {
        /// By which rule.
        rule: Rule,
        /// The contacts that change.
        event: String,
        /// Whether the name is that of a net: one that may pulse.
        at_net: bool,
        /// The way from the common cause to what clocks, opens, clears or pulses, by names.
        first: Vec<String>,
        /// The way to what it races.
        second: Vec<String>,
    },
    /// One event moves this contact and the others together in the original and one after the other in the replacement, or
    /// the other way round.
    InTurn {
        /// The contacts that change.
        event: String,
    },
    /// The original pulses at this contact only if one change comes before another, and no delay decides which does.
    Fades {
        /// The contacts that change.
        event: String,
        /// The way from the common cause to one change, by names.
        first: Vec<String>,
        /// The way to the other.
        second: Vec<String>,
    },
    /// The replacement ignores this contact, but what the original shows depends on it.
    Ignored {
        /// In how many of 64 drawn runs another level there shows.
        runs: u32,
        /// A contact at which it does.
        shows: String,
    },
    /// The replacement never moves this contact, but nearly every start of the original does.
    Still {
        /// In how many of 64 drawn runs the original moves it.
        runs: u32,
    },
    /// The original could show what the replacement shows only by loading again and again what its data sheets leave open.
    OpenAgain,
    /// What this register loads depends on nets that nothing drives at times: what a floating net reads is not known, also in
    /// the moment of the clock.
    Floats {
        /// The nets, by name.
        nets: Vec<String>,
    },
}

/// Something that settling hides, by the name with which it is acknowledged.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hidden {
    /// Which circuit it is in.
    pub of: Of,
    /// The net's name, or the register's.
    pub name: String,
    /// What acknowledges it, and it alone: the name; with its kind, its side or its place where another finding or a contact
    /// answers to the name too.
    pub call: String,
    /// Other names of the same net; or the other registers of the same place that race with it.
    pub others: Vec<String>,
    /// What is hidden.
    pub why: Why,
    /// What it reaches: clocks, clears and presets, latch gates, drive conditions, contacts.
    pub reaches: Vec<String>,
}

impl Hidden {
    /// Whether it says that the proof has little worth, and not that settling hides something.
    pub(super) fn is_vacuous(&self) -> bool {
        matches!(self.why, Why::Ignored { .. } | Why::Still { .. } | Why::OpenAgain)
    }

    /// Whether it is acknowledged by a call of its own, with its kind of event.
    pub(super) fn has_own_call(&self) -> bool {
        matches!(self.why, Why::Order { .. } | Why::InTurn { .. } | Why::Fades { .. })
    }

    /// A contact by its label and name.
    fn contact(&self) -> String {
        let label = self.others.last().filter(|label| **label != self.name);
        label.map_or_else(|| self.name.clone(), |label| format!("{label} {}", self.name))
    }

    /// What bears the name.
    pub(super) fn kind(&self) -> Named {
        match self.why {
            Why::Constant(_) => Named::Net,
            Why::Race | Why::Floats { .. } | Why::OpenAgain => Named::Register,
            Why::Ignored { .. } | Why::Still { .. } | Why::InTurn { .. } | Why::Fades { .. } => Named::Contact,
            Why::Order { rule: Rule::Loop, .. } => Named::Net,
            Why::Order { at_net: true, .. } => Named::Net,
            Why::Order { .. } => Named::Register,
        }
    }
}

impl std::fmt::Display for Hidden {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.why {
            Why::Constant(high) => write!(
                f,
                "net `{}` of the {} is always {} once settled, although what drives it changes; it reaches {}",
                self.name,
                self.of,
                if *high { "high" } else { "low" },
                self.reaches.join(", ")
            ),
            Why::InTurn { event } => {
                let (together, in_turn) = match self.of {
                    Of::Original => (Of::Replacement, Of::Original),
                    Of::Replacement => (Of::Original, Of::Replacement),
                };
                write!(
                    f,
                    "contacts {}, {}, when {event} changes: the {together} moves them together, the {in_turn} one after the \
                     other; what reads them as one word sees other words on the way",
                    self.name,
                    self.others.join(", ")
                )
            }
            Why::Fades { event, first, second } => write!(
                f,
                "contact {} of the original, when {event} changes: whether it pulses hangs on what comes first, {} or {}",
                self.name,
                first.join(" → "),
                second.join(" → ")
            ),
            Why::Ignored { runs, shows } => write!(
                f,
                "contact {} is ignored by the replacement, but what the original shows hangs on it: in {runs} of 64 drawn runs \
                 the other level there shows, first at contact {shows}",
                self.contact()
            ),
            Why::Still { runs } => write!(
                f,
                "contact {} never moves in the replacement; the original moves it in {runs} of 64 drawn runs",
                self.contact()
            ),
            Why::OpenAgain => write!(
                f,
                "what the replacement shows is explained only if `{}` of the original loads again and again what its data \
                 sheet leaves open",
                self.name
            ),
            Why::Floats { nets } => write!(
                f,
                "`{}` of the {} loads what hangs on {}, which nothing drives at times: what a floating net reads then, and \
                 whether it changes in the moment of the clock, nobody knows",
                self.name,
                self.of,
                nets.iter().map(|n| format!("net `{n}`")).collect::<Vec<_>>().join(", ")
            ),
            Why::Race => write!(
                f,
                "data, clear or preset of `{}` of the {} can change in the same moment as its clock",
                self.name, self.of
            ),
            Why::Order { rule, event, first, second, .. } => order(f, self, *rule, event, [first, second]),
        }
    }
}

/// A finding of time in words.
fn order(
    f: &mut std::fmt::Formatter<'_>,
    of: &Hidden,
    rule: Rule,
    event: &str,
    [first, second]: [&[String]; 2],
) -> std::fmt::Result {
    let (first, second) = (first.join(" → "), second.join(" → "));
    let others = match &of.others[..] {
        [] => String::new(),
        [other] => format!(" and `{other}`"),
        [.., last] => format!(" and {} others to `{last}`", of.others.len()),
    };
    write!(f, "`{}`{others} of the {}, when {event} changes: ", of.name, of.of)?;
    match rule {
        Rule::Race => write!(f, "its data may change before its clock or gate or after it ({second} against {first})"),
        Rule::Recovery => {
            write!(
                f,
                "clear or preset may be released before its clock or gate changes or after it ({second} against {first})"
            )
        }
        Rule::JointRelease => write!(f, "clear or preset may be released first ({first} against {second})"),
        Rule::Pulse(_) => write!(f, "it may pulse ({first}); it is {}", of.reaches.join(", ")),
        Rule::Loop if second.is_empty() => write!(f, "gates that feed back on themselves may see a pulse ({first})"),
        Rule::Loop => write!(f, "gates that feed back on themselves may see {first} before {second} or after it"),
    }
}
