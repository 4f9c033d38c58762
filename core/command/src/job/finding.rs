//! What a job gives to think about though nothing stands in the way, as values.
use std::fmt;

use super::around::listed;
use super::made::Package;
use gluewright_analysis::hazard::{Hazard, Hazards};
use gluewright_devices::fusefile;
use gluewright_devices::logic::LogicError;
use gluewright_kernel::board::{self, Severity};
use gluewright_kernel::circuit::Circuit;

/// Something to think about.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Finding {
    /// What the trace leaves open.
    Trace(board::Finding),
    /// A contact at which card and circuit are not declared alike.
    Contacts(board::Finding),
    /// Something irregular about a written fuse file.
    File {
        /// The device, if there are several packages in the socket.
        device: Option<String>,
        /// What it is.
        finding: fusefile::Finding,
    },
    /// A level of a device that may shake.
    OnDevice {
        /// The device, if there are several packages in the socket.
        device: Option<String>,
        /// What may shake.
        hazard: Hazard,
    },
    /// Something of a device that was not searched for hazards.
    NotSearchedOnDevice {
        /// The device, if there are several packages in the socket.
        device: Option<String>,
        /// What, and why.
        what: String,
    },
    /// A level of the original that may shake: it worked with that.
    OnOriginal(Hazard),
    /// Something of the original that was not searched for hazards: what, and why.
    NotSearchedOnOriginal(String),
    /// The original was not searched for hazards at all.
    OriginalNotSearched(LogicError),
    /// Something that is not known of the part in the drawer.
    Part {
        /// The device, if there are several packages in the socket.
        device: Option<String>,
        /// What.
        doubt: PartDoubt,
    },
    /// What a split costs beside the original.
    Split(SplitCost),
    /// The source is proved in the whole board, and not at the boundary of the packages that it replaces.
    InWholeBoard {
        /// Those packages.
        replaced: Vec<Package>,
        /// The packages that stay.
        staying: Vec<Package>,
        /// What came of the boundary.
        boundary: String,
    },
    /// Properties that were stated of the source, while the device is derived from the trace.
    PropertiesNotAsked,
}

/// What is not known of the part that lies in the drawer.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum PartDoubt {
    /// Its limits, fuses and power-up levels: no sheet of it is here.
    NoLimits(String),
    /// The figures of its grade: no sheet of that grade is here.
    NoGrade(String),
    /// Which kind of this type is meant: none is in the drawer as often as it is needed.
    NotOneKind {
        /// The type.
        device: &'static str,
        /// How many are needed.
        needed: usize,
    },
}

impl fmt::Display for PartDoubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PartDoubt::NoLimits(part) => write!(
                f,
                "no sheet of {part} is known here: its currents, levels and supply current are not known, and the number of \
                 fuses and the levels at power-up are those of the generic type; look them up in its maker's sheet"
            ),
            PartDoubt::NoGrade(part) => write!(
                f,
                "no times of {part} in this grade are known here: the times are those of the generic type; compare them with its \
                 maker's sheet before a grade is called safe"
            ),
            PartDoubt::NotOneKind { device, needed } => write!(
                f,
                "no kind of {device} is in the drawer {needed} times: figures and limits are those of the generic type, and \
                 makers differ; use parts of one kind, or compare each one's sheet"
            ),
        }
    }
}

/// What a split draws and which grades it takes, where that is more than a person may expect.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct SplitCost {
    /// How many devices there are.
    pub devices: usize,
    /// What the original draws from the supply, in words.
    pub before: String,
    /// What the devices draw.
    pub after: String,
    /// The slowest grade that is safe, if one is known to be.
    pub grade: Option<String>,
}

impl fmt::Display for SplitCost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} devices draw {} where the original drew {}: check the board's regulator, its heat and the adapter's supply wires",
            self.devices, self.after, self.before
        )?;
        match &self.grade {
            Some(grade) => write!(
                f,
                ". Signals pass through several devices, so nothing slower than {grade} is safe: the faster the grade, the \
                 more it draws and the more it rings on old wiring. Packages that stay (--keep) or another device may do with \
                 less; --survey compares"
            ),
            None => f.write_str(
                ". Signals pass through several devices, and no grade is known to be safe everywhere. Packages that stay \
                 (--keep) or another device may do with less; --survey compares",
            ),
        }
    }
}

impl Finding {
    /// Whether nothing is to be decided or measured for it.
    pub(super) fn is_note(&self) -> bool {
        match self {
            Finding::Trace(finding) | Finding::Contacts(finding) => finding.severity == Severity::Note,
            Finding::File { .. }
            | Finding::OnDevice { .. }
            | Finding::NotSearchedOnDevice { .. }
            | Finding::OnOriginal(_)
            | Finding::NotSearchedOnOriginal(_)
            | Finding::OriginalNotSearched(_)
            | Finding::Part { .. }
            | Finding::Split(_)
            | Finding::InWholeBoard { .. }
            | Finding::PropertiesNotAsked => false,
        }
    }

    /// Whether the report's chapter on hazards tells it. That chapter is about all devices together, so what names one of
    /// several stands beside it.
    pub(super) fn is_in_chapter(&self) -> bool {
        match self {
            Finding::OnDevice { device, .. } | Finding::NotSearchedOnDevice { device, .. } => device.is_none(),
            Finding::OnOriginal(_) | Finding::NotSearchedOnOriginal(_) => true,
            Finding::Trace(_)
            | Finding::Contacts(_)
            | Finding::File { .. }
            | Finding::OriginalNotSearched(_)
            | Finding::Part { .. }
            | Finding::Split(_)
            | Finding::InWholeBoard { .. }
            | Finding::PropertiesNotAsked => false,
        }
    }

    /// Those of a device's hazards.
    pub(super) fn of_device<'h>(device: Option<&'h str>, hazards: &'h Hazards) -> impl Iterator<Item = Finding> + 'h {
        let owned = move || device.map(str::to_owned);
        let list = hazards.list.iter().map(move |h| Finding::OnDevice { device: owned(), hazard: h.clone() });
        let left = hazards.left_out.iter();
        list.chain(left.map(move |what| Finding::NotSearchedOnDevice { device: owned(), what: what.clone() }))
    }

    /// Those of the original's hazards.
    pub(super) fn of_original(hazards: &Result<Hazards, LogicError>) -> Vec<Finding> {
        match hazards {
            Ok(hazards) => {
                let left = hazards.left_out.iter().cloned().map(Finding::NotSearchedOnOriginal);
                hazards.list.iter().cloned().map(Finding::OnOriginal).chain(left).collect()
            }
            Err(e) => vec![Finding::OriginalNotSearched(e.clone())],
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let named = |f: &mut fmt::Formatter<'_>, device: &Option<String>| match device {
            Some(device) => write!(f, "{device}: "),
            None => Ok(()),
        };
        match self {
            Finding::Trace(finding) | Finding::Contacts(finding) => finding.fmt(f),
            Finding::File { device, finding } => named(f, device).and_then(|()| finding.fmt(f)),
            Finding::OnDevice { device, hazard } => named(f, device).and_then(|()| hazard.fmt(f)),
            Finding::NotSearchedOnDevice { device, what } => named(f, device).and_then(|()| f.write_str(what)),
            Finding::OnOriginal(hazard) => hazard.fmt(f),
            Finding::NotSearchedOnOriginal(what) => f.write_str(what),
            Finding::OriginalNotSearched(e) => write!(f, "the original was not searched for hazards: {e}"),
            Finding::Part { device, doubt } => named(f, device).and_then(|()| doubt.fmt(f)),
            Finding::Split(cost) => cost.fmt(f),
            Finding::InWholeBoard { replaced, staying, boundary } => write!(
                f,
                "proved in the whole board only: it rests on the packages that stay as they are traced ({}), and on the board's wires \
                 between them; it holds on no other board. At the boundary of {}, whatever is around it: {}",
                listed(staying),
                listed(replaced),
                boundary.trim()
            ),
            Finding::PropertiesNotAsked => f.write_str(
                "properties were stated of the source, and nothing was asked about them: while packages stay, the device is derived \
                 from the trace; ask the trace instead, with `prove_of(&board).that(…)`",
            ),
        }
    }
}

/// Contacts at which card and circuit differ.
pub(super) fn at_contacts(
    original: &Circuit,
    replacement: &Circuit,
) -> Result<Vec<board::Finding>, Vec<board::Finding>> {
    let differences = board::compare_contacts(original, replacement);
    if differences.iter().any(|f| f.severity == board::Severity::Error) { Err(differences) } else { Ok(differences) }
}
