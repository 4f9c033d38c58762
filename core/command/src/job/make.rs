//! The one way from a source and a card to everything that a job gives: prove, fit, emit, read back, prove again.
use super::burning::Burning;
use super::emitted::Emitted;
use super::error::Of;
use super::finding::{Finding, SplitCost};
use super::lay::{staying, times};
use super::made::{Beside, FileKind, Made};
use super::powered::NotMade;
use super::{Job, JobError, choosing, contents, parts};
use gluewright_analysis::hazard;
use gluewright_analysis::loading;
use gluewright_analysis::synchronisers;
use gluewright_analysis::timing;
use gluewright_kernel::signals::Wiring;

impl<C: Wiring> Job<C> {
    /// Does the whole job and gives everything as values, the files with their bytes among them: proves the source, fits it,
    /// makes the fuse files with their vectors, reads them back, and proves what was read. Silent: nothing is printed and
    /// nothing is written, and no progress is shown but to whom [`watched`](Job::watched) names.
    ///
    /// # Errors
    /// The first thing that stands in the way.
    pub fn make(self) -> Result<Made, JobError> {
        self.making().map_err(|not_made| not_made.error)
    }

    /// The same; if the source is refuted, with what the device that would have held it shows from its own power-up.
    pub(super) fn making(mut self) -> Result<Made, NotMade> {
        let stated = std::mem::take(&mut self.stated);
        let mut begun = self.begun()?;
        let (source, in_board) = match &begun.remainder {
            Some(_) => (None, None),
            None => match begun.prove_source() {
                Ok((proof, in_board)) => (Some(proof), in_board),
                Err(error) => return Err(NotMade::of_source(&mut begun, error)),
            },
        };
        let mut properties = Vec::new();
        if source.is_some() {
            for stated in &stated {
                properties.extend(stated.run().map_err(|broken| JobError::Property(Box::new(broken)))?);
            }
        }
        let mut findings: Vec<Finding> = begun.board.findings().iter().cloned().map(Finding::Trace).collect();
        findings.extend(in_board);
        findings.extend(std::mem::take(&mut begun.differences).into_iter().map(Finding::Contacts));
        if source.is_none() && !stated.is_empty() {
            findings.push(Finding::PropertiesNotAsked);
        }
        let (placed, of_parts) = begun.placed()?;
        findings.extend(of_parts);

        let plan = &begun.plan;
        let burning = Burning {
            testing: plan.testing,
            source: source.as_ref(),
            package: plan.package.as_deref(),
            limit: plan.wishes.limit(),
        };
        let is_alone = placed.is_alone();
        let emitted: Result<Vec<Emitted>, JobError> =
            placed.shares.into_iter().map(|share| share.emitted(is_alone, burning)).collect();
        let emitted = emitted?;
        let seats: Vec<_> =
            emitted.iter().map(|e| (e.burned.reference.as_str(), &e.circuit, &e.burned.fitted)).collect();
        let joined = begun.joined(&seats);
        let wires = begun.wires(&seats);
        let probing = begun.probing(&joined, &seats, &wires);
        let of = match emitted.as_slice() {
            [one] if is_alone && one.burned.kind == FileKind::Verilog => Of::Verilog,
            [_] if is_alone => Of::Fuses,
            _ => Of::Files,
        };
        let written =
            begun.question.about(joined).in_another_form().ask().map_err(|failure| JobError::Proof { of, failure })?;

        let (mut devices, mut files) = (Vec::with_capacity(emitted.len()), Vec::new());
        for one in emitted {
            let named = (!is_alone).then_some(one.burned.reference.as_str());
            let file = |finding| Finding::File { device: named.map(str::to_owned), finding };
            findings.extend(one.findings.into_iter().map(file));
            findings.extend(Finding::of_device(named, &one.burned.hazards));
            findings.extend(parts::doubts(named, &one.burned.device));
            files.extend(one.files);
            devices.push(one.burned);
        }
        let (board, original, replacement) = (begun.board, begun.original, begun.replacement);
        let original_hazards = hazard::of_original(&original);
        findings.extend(Finding::of_original(&original_hazards));
        let kept = begun.remainder.as_ref().map_or_else(Vec::new, staying);
        let seated: Vec<timing::Seated<'_>> = devices
            .iter()
            .map(|b| timing::Seated { reference: &b.reference, fitted: &b.fitted, device: &b.device })
            .collect();
        let times = times(&board, &kept, &seated, is_alone, &plan.budget);
        let times = choosing::at_hand(plan.drawer.as_ref(), times);
        let grades: Vec<_> = devices.iter().map(|b| (&b.fitted, &*b.device, b.grade(&times))).collect();
        let known = plan.host.as_ref().zip(times.best());
        let known = known.map(|((host, _), best)| loading::Known { host, times: &best.comparison });
        let currents = loading::loading_together(&board, &kept, &grades, known);
        let (before, after) = (&currents.supply_before, &currents.supply_after);
        let is_more = after.ma > before.ma || !after.missing.is_empty();
        if matches!(placed.beside, Beside::Devices(_)) && devices.len() > 1 && is_more {
            findings.push(Finding::Split(SplitCost {
                devices: devices.len(),
                before: before.to_string(),
                after: after.to_string(),
                grade: times.chosen().map(|g| g.name.clone()),
            }));
        }
        let sampled = match &begun.remainder {
            Some(_) => Vec::new(),
            None => synchronisers::beside(
                &synchronisers::sampled(&original, &plan.in_step),
                &synchronisers::sampled(&replacement, &plan.in_step),
            ),
        };
        let mut made = Made {
            circuit: replacement.name,
            board,
            original,
            source,
            properties,
            written,
            devices,
            beside: placed.beside,
            wires,
            times,
            currents,
            sampled,
            original_hazards,
            probing,
            findings,
            files,
        };
        // while packages stay, nothing was asked about the source: it is no part of what was made
        if let Some(text) = begun.plan.source.filter(|_| made.source.is_some()) {
            made.files.push((made.source_file(), text.into_bytes()));
        }
        if let Some((_, text)) = begun.plan.host {
            made.files.push(("host.csv".to_owned(), text));
        }
        contents::add(&mut made)?;
        Ok(made)
    }
}
