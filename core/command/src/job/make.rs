//! The one way from a source and a card to everything that a job gives: prove, fit, emit, read back, prove again.
use std::borrow::Cow;

use super::burning::Burning;
use super::chosen::Chosen;
use super::emitted::{Emitted, Share};
use super::error::Of;
use super::finding::{Finding, SplitCost, at_contacts};
use super::made::{Beside, Division, FileKind, Made};
use super::{Job, JobError, choosing, contents, parts};
use gluewright_analysis::choose::{MOST_DEVICES, Split, Stock, split, split_over};
use gluewright_analysis::hazard;
use gluewright_analysis::loading;
use gluewright_analysis::synchronisers;
use gluewright_analysis::timing;
use gluewright_devices::device::Device;
use gluewright_devices::drawer::Drawer;
use gluewright_devices::emit::{wires, wires_beside};
use gluewright_devices::fit::{Fitted, fit};
use gluewright_devices::seat::{landing, seat_all};
use gluewright_kernel::board::{Board, Remainder};
use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_kernel::signals::Wiring;
use gluewright_report::Probing;

/// What goes into the socket.
#[derive(Clone, Debug, Default)]
pub(super) enum Layout {
    /// One device for the whole card.
    #[default]
    One,
    /// As few devices as it takes: of this type, or of what the drawer holds.
    Split(Option<Chosen>),
    /// One device beside these packages of the original.
    Keep(Vec<String>),
}

/// The devices before they are written.
struct Placed {
    shares: Vec<Share>,
    beside: Beside,
    /// The packages that stay, with what they are wired to.
    remainder: Option<Remainder>,
}

impl<C: Wiring> Job<C> {
    /// Does the whole job and gives everything as values, the files with their bytes among them: proves the source, fits it,
    /// makes the fuse files with their vectors, reads them back, and proves what was read. Silent: nothing is printed and
    /// nothing is written, and no progress is shown but to whom [`watched`](Job::watched) names.
    ///
    /// # Errors
    /// The first thing that stands in the way.
    pub fn make(self) -> Result<Made, JobError> {
        let chosen = match &self.layout {
            Layout::One | Layout::Keep(_) => Some(&self.device),
            Layout::Split(device) => device.as_ref(),
        };
        let device = chosen.map(Chosen::device).transpose()?;
        // a device of one's own is at hand, whatever the drawer says
        let is_named = matches!(chosen, Some(Chosen::Named(_)));
        if let Some(device) = device.as_ref().filter(|_| is_named) {
            choosing::in_stock(self.drawer.as_ref(), device)?;
        }
        let board = self.card?;
        let remainder = match &self.layout {
            Layout::Keep(packages) => Some(board.keeping(packages)?),
            Layout::One | Layout::Split(_) => None,
        };
        let (replacement, question) =
            self.claim.question(&board).map_err(|failure| JobError::Proof { of: Of::Source, failure })?;
        let question = match self.watch {
            Some(tell) => question.watched(move |step| tell(step)),
            None => question,
        };
        let original = board.circuit()?;
        let differences = match &remainder {
            // the device is derived from the trace
            Some(_) => Vec::new(),
            None => at_contacts(&original, &replacement).map_err(JobError::Contacts)?,
        };
        // whether a circuit splits is soon known, and a split is the longest way to a proof
        let split = match (&self.layout, &device) {
            (Layout::Split(_), Some(device)) => {
                let at_hand = self.drawer.as_ref().and_then(|drawer| drawer.count(device));
                let most = at_hand.filter(|_| is_named).map_or(MOST_DEVICES, |n| n as usize);
                Some(divided(split(&replacement, device, most, &self.wishes)?, |_| device.clone()))
            }
            (Layout::Split(_), None) => {
                let stock = Stock::of(&self.drawer.clone().unwrap_or_else(Drawer::generic));
                Some(divided(split_over(&replacement, &stock, &self.wishes)?, Cow::Borrowed))
            }
            (Layout::One | Layout::Keep(_), _) => None,
        };
        let source = match &remainder {
            Some(_) => None,
            None => Some(question.ask().map_err(|failure| JobError::Proof { of: Of::Source, failure })?),
        };
        let mut findings: Vec<Finding> = board.findings().iter().cloned().map(Finding::Trace).collect();
        findings.extend(differences.into_iter().map(Finding::Contacts));

        // a device of one's own is no part of the drawer
        let drawer = self.drawer.as_ref().filter(|_| is_named || split.is_some());
        let placed = match (split, remainder, device) {
            (Some(mut split), ..) => {
                if let Some(drawer) = drawer {
                    let by = |shares: &[Share]| times(&board, &[], &seated(shares), false, &self.budget);
                    findings.extend(parts::several(drawer, &mut split.shares, by));
                }
                split
            }
            (None, Some(remainder), Some(device)) => {
                let wishes = self.wishes.for_share(&remainder.rest, Vec::new());
                let reference = free_reference(&board);
                let staying: Vec<String> = remainder.kept.iter().map(|(of, _)| of.clone()).collect();
                let held = |device: &Device| fitted(&remainder.rest, device, &wishes);
                let by = |device: &Device, fitted: &Fitted| {
                    let alone = timing::Seated { reference: &reference, fitted, device };
                    times(&board, &staying, &[alone], false, &self.budget)
                };
                let (device, mut fitted) = kind(drawer, device, held, by)?;
                fitted.circuit = format!("{}_{reference}", replacement.name);
                let beside = Beside::Packages { kept: remainder.kept.clone(), replaced: remainder.replaced.clone() };
                Placed { shares: vec![Share { reference, device, fitted }], beside, remainder: Some(remainder) }
            }
            (None, _, device) => {
                let device = device.map_or_else(|| self.device.device(), Ok)?;
                let held = |device: &Device| fitted(&replacement, device, &self.wishes);
                let by = |device: &Device, fitted: &Fitted| {
                    let alone = timing::Seated { reference: "D1", fitted, device };
                    times(&board, &[], &[alone], true, &self.budget)
                };
                let (device, fitted) = kind(drawer, device, held, by)?;
                let share = Share { reference: "D1".to_owned(), device, fitted };
                Placed { shares: vec![share], beside: Beside::Nothing, remainder: None }
            }
        };

        let burning = Burning { testing: self.testing, source: source.as_ref(), package: self.package.as_deref() };
        let is_alone = matches!(placed.beside, Beside::Nothing);
        let emitted: Result<Vec<Emitted>, JobError> =
            placed.shares.into_iter().map(|share| share.emitted(is_alone, burning)).collect();
        let emitted = emitted?;
        let joined = match (&placed.remainder, emitted.as_slice()) {
            (Some(remainder), [one]) => beside_kept(remainder, &one.burned.reference, &one.circuit, &one.burned.fitted),
            (_, all) => {
                let seats: Vec<_> = all.iter().map(|e| (&e.circuit, &e.burned.fitted)).collect();
                seat_all(&seats, &replacement)
            }
        };
        let probing = Probing::new(&question, &joined);
        let of = match emitted.as_slice() {
            [one] if is_alone && one.burned.kind == FileKind::Verilog => Of::Verilog,
            [_] if is_alone => Of::Fuses,
            _ => Of::Files,
        };
        let written =
            question.about(joined).in_another_form().ask().map_err(|failure| JobError::Proof { of, failure })?;

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
        let original_hazards = hazard::of_original(&original);
        findings.extend(Finding::of_original(&original_hazards));
        let supplies = original.supplies();
        let wires = match (&placed.remainder, devices.as_slice()) {
            (Some(remainder), [one]) => wires_beside(remainder, &one.reference, &one.fitted, supplies),
            (_, all) => wires(all.iter().map(|b| &b.fitted), supplies),
        };
        let staying: Vec<String> = placed.remainder.iter().flat_map(|r| &r.kept).map(|(of, _)| of.clone()).collect();
        let seated: Vec<timing::Seated<'_>> = devices
            .iter()
            .map(|b| timing::Seated { reference: &b.reference, fitted: &b.fitted, device: &b.device })
            .collect();
        let times = times(&board, &staying, &seated, is_alone, &self.budget);
        let times = choosing::at_hand(self.drawer.as_ref(), times);
        let grades: Vec<_> = devices.iter().map(|b| (&b.fitted, &*b.device, b.grade(&times))).collect();
        let currents = loading::loading_together(&board, &staying, &grades);
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
        let sampled = match &placed.remainder {
            Some(_) => Vec::new(),
            None => synchronisers::beside(
                &synchronisers::sampled(&original, &self.in_step),
                &synchronisers::sampled(&replacement, &self.in_step),
            ),
        };
        let mut made = Made {
            circuit: replacement.name,
            board,
            original,
            source,
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
        contents::add(&mut made)?;
        Ok(made)
    }
}

fn fitted(circuit: &Circuit, device: &Device, wishes: &gluewright_devices::fit::Wishes) -> Result<Fitted, JobError> {
    fit(circuit, device, wishes)
        .map_err(|reason| JobError::NoFit { device: device.name.to_owned(), reason: Box::new(reason) })
}

/// The shares of a split, each with its device.
fn divided<'d>(split: Split<'d>, of: impl Fn(&'d Device) -> Cow<'static, Device>) -> Placed {
    let Split { shares, between, wires, fewest_devices, fewest_wires } = split;
    let shares =
        shares.into_iter().map(|s| Share { reference: s.reference, device: of(s.device), fitted: s.fitted }).collect();
    let division = Division { between, wires, fewest_devices, fewest_wires };
    Placed { shares, beside: Beside::Devices(division), remainder: None }
}

/// The shares as the analysis of times takes them.
fn seated(shares: &[Share]) -> Vec<timing::Seated<'_>> {
    shares
        .iter()
        .map(|s| timing::Seated { reference: &s.reference, fitted: &s.fitted, device: &s.device })
        .collect()
}

/// The device as the part of the drawer that it is, with its fit; without a drawer it is the generic type.
fn kind(
    drawer: Option<&Drawer>,
    device: Cow<'static, Device>,
    held: impl Fn(&Device) -> Result<Fitted, JobError>,
    times: impl Fn(&Device, &Fitted) -> timing::GradeChoice,
) -> Result<(Cow<'static, Device>, Fitted), JobError> {
    match drawer {
        Some(drawer) => parts::one(drawer, device, held, times),
        None => held(&device).map(|fitted| (device, fitted)),
    }
}

/// The times at the card's contacts with these devices, and packages that stay, in its place.
fn times(
    board: &Board,
    staying: &[String],
    devices: &[timing::Seated<'_>],
    is_alone: bool,
    budget: &timing::Budget,
) -> timing::GradeChoice {
    match devices {
        [one] if is_alone => timing::choose_grade(&timing::original(board), one.fitted, one.device, budget),
        all => timing::choose_grades(board, staying, all, budget),
    }
}

/// The kept packages with the device beside them.
fn beside_kept(remainder: &Remainder, reference: &str, device: &Circuit, fitted: &Fitted) -> Circuit {
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
