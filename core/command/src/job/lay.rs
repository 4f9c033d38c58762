//! What goes into the socket, before anything is written or proved: the question, the devices with their fits, the packages
//! that stay. Making a job and reading its parts back both begin here.
use std::borrow::Cow;

use super::around::Around;
use super::chosen::Chosen;
use super::emitted::Share;
use super::error::Of;
use super::finding::{Finding, at_contacts};
use super::made::{Beside, Division};
use super::{Job, JobError, choosing, parts};
use gluewright_analysis::choose::{MOST_DEVICES, Split, Stock, split, split_over};
use gluewright_analysis::host::Host;
use gluewright_analysis::timing;
use gluewright_analysis::vectors::Strength;
use gluewright_devices::device::Device;
use gluewright_devices::drawer::Drawer;
use gluewright_devices::emit::{Wire, wires, wires_beside};
use gluewright_devices::fit::{Fitted, Wishes, fit};
use gluewright_devices::seat::{landing, probed, seat_all, seat_probed};
use gluewright_kernel::board::{self, Board, Remainder};
use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_kernel::prove::Question;
use gluewright_report::Probing;
use gluewright_report::probing::Wiring;

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

/// A job whose question is known, and whose circuit splits if it is to.
pub(super) struct Begun {
    pub(super) board: Board,
    pub(super) original: Circuit,
    pub(super) replacement: Circuit,
    pub(super) question: Question,
    pub(super) differences: Vec<board::Finding>,
    /// The packages that stay, with what they are wired to.
    pub(super) remainder: Option<Remainder>,
    /// The board around the card, if it is cut out of one.
    pub(super) around: Option<Around>,
    split: Option<Placed>,
    /// The device that the job names, if it names one.
    device: Option<Cow<'static, Device>>,
    /// What the choice is made from.
    pub(super) plan: Plan,
}

/// What the job says about devices.
pub(super) struct Plan {
    /// The device for one package.
    usual: Chosen,
    /// Whether the device is one that the drawer can hold: a device of one's own is at hand, whatever the drawer says.
    is_named: bool,
    pub(super) wishes: Wishes,
    pub(super) budget: timing::Budget,
    pub(super) drawer: Option<Drawer>,
    pub(super) in_step: Vec<(Label, Label)>,
    pub(super) testing: Option<Strength>,
    pub(super) package: Option<String>,
    /// The text of the source.
    pub(super) source: Option<String>,
    /// What is known of the board around the card, with the file as it was.
    pub(super) host: Option<(Host, Vec<u8>)>,
}

/// The devices before they are written.
pub(super) struct Placed {
    pub(super) shares: Vec<Share>,
    pub(super) beside: Beside,
}

impl Placed {
    /// Whether nothing else is in the socket.
    pub(super) fn is_alone(&self) -> bool {
        matches!(self.beside, Beside::Nothing)
    }
}

impl<C: gluewright_kernel::signals::Wiring> Job<C> {
    /// Reads the card, builds the question, and splits the circuit if that is wanted: whether it splits is soon known, and a
    /// split is the longest way to a proof.
    pub(super) fn begun(self) -> Result<Begun, JobError> {
        let chosen = match &self.layout {
            Layout::One | Layout::Keep(_) => Some(&self.device),
            Layout::Split(device) => device.as_ref(),
        };
        let device = chosen.map(Chosen::device).transpose()?;
        let is_named = matches!(chosen, Some(Chosen::Named(_)));
        if let Some(device) = device.as_ref().filter(|_| is_named) {
            choosing::in_stock(self.drawer.as_ref(), device)?;
        }
        let board = self.card?;
        let host = match self.host {
            Some(file) => Some((Host::from_csv(&file.name, &file.bytes, &board)?, file.bytes)),
            None => None,
        };
        let budget = host.iter().fold(self.budget, |budget, (host, _)| budget.with_host(host));
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
        let plan = Plan {
            usual: self.device,
            is_named: is_named || split.is_some(),
            wishes: self.wishes,
            budget,
            drawer: self.drawer,
            in_step: self.in_step,
            testing: self.testing,
            package: self.package,
            source: self.source,
            host,
        };
        let around = self.around;
        Ok(Begun { board, original, replacement, question, differences, remainder, around, split, device, plan })
    }
}

impl Begun {
    /// Whether the circuit goes into several devices.
    pub(super) fn is_split(&self) -> bool {
        self.split.is_some()
    }

    /// Fits what goes into the socket; with a drawer, into the parts that it holds. What is to be said of these comes beside.
    pub(super) fn placed(&mut self) -> Result<(Placed, Vec<Finding>), JobError> {
        let plan = &self.plan;
        let drawer = plan.drawer.as_ref().filter(|_| plan.is_named);
        if let Some(mut split) = self.split.take() {
            let by = |shares: &[Share]| times(&self.board, &[], &seated(shares), false, &plan.budget);
            let findings = drawer.map_or_else(Vec::new, |drawer| parts::several(drawer, &mut split.shares, by));
            return Ok((split, findings));
        }
        let device = self.device.take().map_or_else(|| plan.usual.device(), Ok)?;
        let (circuit, reference, staying) = match &self.remainder {
            Some(remainder) => (&remainder.rest, free_reference(&self.board), staying(remainder)),
            None => (&self.replacement, "D1".to_owned(), Vec::new()),
        };
        let is_alone = self.remainder.is_none();
        let wishes = if is_alone { plan.wishes.clone() } else { plan.wishes.for_share(circuit, Vec::new()) };
        let held = |device: &Device| fitted(circuit, device, &wishes);
        let by = |device: &Device, fitted: &Fitted| {
            let alone = timing::Seated { reference: &reference, fitted, device };
            times(&self.board, &staying, &[alone], is_alone, &plan.budget)
        };
        let (device, mut fitted) = match drawer {
            Some(drawer) => parts::one(drawer, device, held, by)?,
            None => held(&device).map(|fitted| (device, fitted))?,
        };
        let beside = match &self.remainder {
            Some(remainder) => {
                fitted.circuit = format!("{}_{reference}", self.replacement.name);
                Beside::Packages { kept: remainder.kept.clone(), replaced: remainder.replaced.clone() }
            }
            None => Beside::Nothing,
        };
        Ok((Placed { shares: vec![Share { reference, device, fitted }], beside }, Vec::new()))
    }

    /// These devices, lifted from their files, in the socket: joined with each other, or with the packages that stay.
    pub(super) fn joined(&self, devices: &[(&str, &Circuit, &Fitted)]) -> Circuit {
        joined(self.remainder.as_ref(), &self.replacement, devices)
    }
}

impl Begun {
    /// The wires of the adapter, supplies included, by these devices in the order of their references.
    pub(super) fn wires(&self, devices: &[(&str, &Circuit, &Fitted)]) -> Vec<Wire> {
        let supplies = self.original.supplies();
        match (&self.remainder, devices) {
            (Some(remainder), [(reference, _, fitted)]) => wires_beside(remainder, reference, fitted, supplies),
            (_, all) => wires(all.iter().map(|(.., fitted)| *fitted), supplies),
        }
    }

    /// The probing sheet of the adapter with these devices.
    pub(super) fn probing(&self, joined: &Circuit, devices: &[(&str, &Circuit, &Fitted)], wires: &[Wire]) -> Probing {
        let kept = |reference: &str| self.remainder.iter().flat_map(|r| &r.kept).any(|(of, _)| of == reference);
        let mut packages: Vec<(String, Circuit)> =
            devices.iter().map(|(reference, circuit, _)| ((*reference).to_owned(), (*circuit).clone())).collect();
        let chips = self.board.chips().filter(|(reference, _)| kept(reference));
        packages.extend(chips.map(|(reference, part)| (reference.to_owned(), part.circuit().as_ref().clone())));
        let probed = match &self.remainder {
            Some(remainder) => probed(joined.clone(), &remainder.nets),
            None => {
                let seats: Vec<_> = devices.iter().map(|(_, circuit, fitted)| (*circuit, *fitted)).collect();
                seat_probed(&seats, &self.replacement)
            }
        };
        let own = self.replacement.supplies().iter();
        let supplies = self.original.supplies().iter().chain(own).cloned().collect();
        let wiring = Wiring { wires, packages, probed: &probed, supplies };
        Probing::of_adapter(&self.question, joined, &wiring)
    }
}

/// The devices with their fits in the socket, beside the packages that stay.
fn joined(remainder: Option<&Remainder>, replacement: &Circuit, devices: &[(&str, &Circuit, &Fitted)]) -> Circuit {
    match (remainder, devices) {
        (Some(remainder), [(reference, circuit, fitted)]) => beside_kept(remainder, reference, circuit, fitted),
        (_, all) => {
            let seats: Vec<_> = all.iter().map(|(_, circuit, fitted)| (*circuit, *fitted)).collect();
            seat_all(&seats, replacement)
        }
    }
}

/// The references of the packages that stay.
pub(super) fn staying(remainder: &Remainder) -> Vec<String> {
    remainder.kept.iter().map(|(of, _)| of.clone()).collect()
}

fn fitted(circuit: &Circuit, device: &Device, wishes: &Wishes) -> Result<Fitted, JobError> {
    fit(circuit, device, wishes)
        .map_err(|reason| JobError::NoFit { device: device.name.to_owned(), reason: Box::new(reason) })
}

/// The shares of a split, each with its device.
fn divided<'d>(split: Split<'d>, of: impl Fn(&'d Device) -> Cow<'static, Device>) -> Placed {
    let Split { shares, between, wires, fewest_devices, fewest_wires } = split;
    let shares =
        shares.into_iter().map(|s| Share { reference: s.reference, device: of(s.device), fitted: s.fitted }).collect();
    let division = Division { between, wires, fewest_devices, fewest_wires };
    Placed { shares, beside: Beside::Devices(division) }
}

/// The shares as the analysis of times takes them.
fn seated(shares: &[Share]) -> Vec<timing::Seated<'_>> {
    shares.iter().map(|s| timing::Seated { reference: &s.reference, fitted: &s.fitted, device: &s.device }).collect()
}

/// The times at the card's contacts with these devices, and packages that stay, in its place.
pub(super) fn times(
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
    let mut joined = remainder.with(reference, device, |pin: &Label| landing(pin, fitted, &remainder.nets));
    joined.name = format!("{}, {} for the rest", remainder.host.name, device.name);
    joined
}

/// A reference that no package of the card has.
pub(super) fn free_reference(board: &Board) -> String {
    let taken = |name: &str| board.chips().any(|(reference, _)| reference.eq_ignore_ascii_case(name));
    (1..).map(|n| format!("D{n}")).find(|name| !taken(name)).unwrap_or_default()
}
