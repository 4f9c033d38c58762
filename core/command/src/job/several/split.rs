//! The circuit split over several devices.
use std::path::Path;

use super::contacts::at_contacts;
use super::read::burn;
use super::result::{Burned, Division, Several};
use super::written::About;
use crate::job::alone::find_device;
use crate::job::burning::Burning;
use crate::job::{Job, JobError, choosing, progress};
use gluewright_analysis::choose::{MOST_DEVICES, Split, Stock, split, split_over};
use gluewright_analysis::synchronisers;
use gluewright_devices::drawer::Drawer;
use gluewright_devices::emit;
use gluewright_devices::fit::Fitted;
use gluewright_devices::seat::seat_all;
use gluewright_kernel::board::{Severity, compare_contacts};
use gluewright_kernel::signals::Wiring;
use gluewright_report::Probing;

impl<C: Wiring> Job<C> {
    /// Splits the circuit over several devices and proves them together: fewest devices first, then fewest wires between
    /// them. All are of the type that is named; without one they are what the drawer holds. Takes no more devices than are in
    /// the drawer, and at most [`MOST_DEVICES`].
    ///
    /// # Errors
    /// The first thing that stands in the way; nothing is written then.
    pub fn act_split(self, device: Option<&str>, drawer: &Drawer, out: &Path) -> Result<Several, JobError> {
        let device = device.map(find_device).transpose()?;
        if let Some(device) = device {
            choosing::in_stock(Some(drawer), device)?;
        }
        let board = self.card?;
        let (replacement, question) =
            self.claim.question(&board).map_err(|failure| JobError::Proof { what: "", failure })?;
        let original = board.circuit()?;
        let differences = compare_contacts(&original, &replacement);
        if differences.iter().any(|f| f.severity == Severity::Error) {
            let all: Vec<_> = differences.iter().map(ToString::to_string).collect();
            return Err(JobError::Contacts(all.join("\n")));
        }
        let question = progress::shown(question);
        let Split { shares, between, wires, fewest_devices, fewest_wires } = match device {
            Some(device) => {
                let most = drawer.count(device).map_or(MOST_DEVICES, |n| n as usize);
                split(&replacement, device, most, &self.wishes)?
            }
            None => split_over(&replacement, &Stock::of(drawer), &self.wishes)?,
        };
        let source = question.ask().map_err(|failure| JobError::Proof { what: "", failure })?;
        let burning = Burning { testing: self.testing, source: Some(&source), package: self.package.as_deref() };
        let mut read = Vec::with_capacity(shares.len());
        for share in shares {
            read.push(burn(&share.reference, share.fitted, share.device, burning)?);
        }
        let seats: Vec<_> = read.iter().map(|r| (&r.circuit, &r.burned.fitted)).collect();
        let joined = seat_all(&seats, &replacement);
        let probing = Probing::new(&question, &joined);
        let fuses = question
            .about(joined)
            .ask()
            .map_err(|failure| JobError::Proof { what: "From the files that would be written: ", failure })?;
        let fitted: Vec<Fitted> = read.iter().map(|r| r.burned.fitted.clone()).collect();
        let wiring = emit::wiring(&fitted, original.supplies())?;
        let notes: Vec<String> = board.findings().iter().chain(&differences).map(ToString::to_string).collect();
        let burned: Vec<&Burned> = read.iter().map(|r| &r.burned).collect();
        let (times, currents) = at_contacts(&board, &[], &burned, &self.budget, Some(drawer));
        let sampled = synchronisers::beside(
            &synchronisers::sampled(&original, &self.in_step),
            &synchronisers::sampled(&replacement, &self.in_step),
        );
        let mut done = Several {
            circuit: replacement.name.clone(),
            folder: out.join(&replacement.name),
            files: Vec::new(),
            source: Some(source),
            fuses,
            devices: Vec::new(),
            kept: Vec::new(),
            replaced: Vec::new(),
            split: Some(Division { between, wires, fewest_devices, fewest_wires }),
            times,
            currents,
            sampled,
            findings: notes,
        };
        done.write(read, wiring, &About { board: &board, original: &original, probing: &probing })?;
        Ok(done)
    }
}
