//! What a job gives to think about though nothing stands in the way, as values.
use std::fmt;

use gluewright_analysis::hazard::{Hazard, Hazards};
use gluewright_devices::fusefile;
use gluewright_devices::logic::LogicError;
use gluewright_kernel::board;
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
}

impl Finding {
    /// Whether the report's chapter on hazards tells it. That chapter is about all devices together, so what names one of
    /// several stands beside it.
    pub(super) fn is_in_chapter(&self) -> bool {
        match self {
            Finding::OnDevice { device, .. } | Finding::NotSearchedOnDevice { device, .. } => device.is_none(),
            Finding::OnOriginal(_) | Finding::NotSearchedOnOriginal(_) => true,
            Finding::Trace(_) | Finding::Contacts(_) | Finding::File { .. } | Finding::OriginalNotSearched(_) => false,
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
