//! One device beside packages of the original that stay.
use std::path::Path;

use super::contacts::at_contacts;
use super::read::burn;
use super::result::Several;
use super::written::About;
use crate::job::alone::find_device;
use crate::job::burning::Burning;
use crate::job::{Job, JobError, choosing, progress};
use gluewright_devices::emit;
use gluewright_devices::fit::{Fitted, fit};
use gluewright_devices::seat::landing;
use gluewright_kernel::board::{Board, Remainder};
use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_kernel::signals::Wiring;
use gluewright_report::Probing;

impl<C: Wiring> Job<C> {
    /// Leaves packages of the original in place and replaces the rest by one device. What that has to do is derived from
    /// the trace, not from the source; kept packages and device are proved together against the whole card.
    ///
    /// # Errors
    /// The first thing that stands in the way; nothing is written then.
    pub fn act_keep(self, kept: &[String], device: &str, out: &Path) -> Result<Several, JobError> {
        let device = find_device(device)?;
        choosing::in_stock(self.drawer.as_ref(), device)?;
        let board = self.card?;
        let remainder = board.keeping(kept)?;
        let (replacement, question) =
            self.claim.question(&board).map_err(|failure| JobError::Proof { what: "", failure })?;
        let question = progress::shown(question);
        let wishes = self.wishes.for_share(&remainder.rest, Vec::new());
        let mut fitted = fit(&remainder.rest, device, &wishes)
            .map_err(|reason| JobError::NoFit { device: device.name.to_owned(), reason: Box::new(reason) })?;
        let reference = free_reference(&board);
        fitted.circuit = format!("{}_{reference}", replacement.name);
        let read = burn(
            &reference,
            fitted,
            device,
            Burning { testing: self.testing, source: None, package: self.package.as_deref() },
        )?;
        let joined = beside_kept(&remainder, &reference, &read.circuit, &read.burned.fitted);
        let probing = Probing::new(&question, &joined);
        let fuses = question
            .about(joined)
            .ask()
            .map_err(|failure| JobError::Proof { what: "From the files that would be written: ", failure })?;
        let original = board.circuit()?;
        let wiring = emit::wiring_beside(&remainder, &reference, &read.burned.fitted, original.supplies())?;
        let staying: Vec<String> = remainder.kept.iter().map(|(reference, _)| reference.clone()).collect();
        let (times, currents) = at_contacts(&board, &staying, &[&read.burned], &self.budget, self.drawer.as_ref());
        let mut done = Several {
            circuit: replacement.name.clone(),
            folder: out.join(&replacement.name),
            files: Vec::new(),
            source: None,
            fuses,
            devices: Vec::new(),
            kept: remainder.kept,
            replaced: remainder.replaced,
            split: None,
            times,
            currents,
            sampled: Vec::new(),
            findings: board.findings().iter().map(ToString::to_string).collect(),
        };
        let about = About { board: &board, original: &original, probing: &probing };
        done.write(vec![read], wiring, &about)?;
        Ok(done)
    }
}

/// The kept packages with the device beside them.
pub fn beside_kept(remainder: &Remainder, reference: &str, device: &Circuit, fitted: &Fitted) -> Circuit {
    let mut joined = remainder.host.clone();
    joined.name = format!("{}, {} for the rest", remainder.host.name, device.name);
    joined.place(reference, device, |pin: &Label| landing(pin, fitted, &remainder.nets));
    joined
}

/// A reference that no package of the card has.
fn free_reference(board: &Board) -> String {
    let taken = |name: &str| board.chips().any(|(reference, _)| reference.eq_ignore_ascii_case(name));
    (1..).map(|n| format!("D{n}")).find(|name| !taken(name)).unwrap_or_default()
}
