//! The job of a circuit: check the trace, prove, fit, emit, read back, prove again; as values, as a folder, as a program.
mod around;
mod bench;
mod bring_up;
mod bundle;
mod burning;
mod capture;
mod choosing;
mod chosen;
mod clustered;
mod contents;
mod drafted;
mod emitted;
mod error;
mod evidence;
mod explained;
mod finding;
mod folder;
mod lay;
mod made;
mod make;
mod mending;
mod metered;
mod options;
mod parts;
mod powered;
mod program;
mod progress;
mod readback;
mod record;
mod run;
mod saved;
mod screen;
mod traced;
mod values;
mod voice;
mod whole;

use std::time::Duration;

use around::Around;
use gluewright_analysis::timing::Budget;
use gluewright_analysis::vectors::Strength;
use gluewright_devices::drawer::Drawer;
use gluewright_devices::fit::Wishes;
use gluewright_kernel::board::{Board, TraceError};
use gluewright_kernel::circuit::Label;
use gluewright_kernel::limit::Stop;
use gluewright_kernel::prove::{Assumed, Claim, Stated, Step, prove};
use gluewright_kernel::signals::Wiring;
use lay::Layout;

pub use chosen::Chosen;
pub use error::{JobError, Of};
pub use finding::{Finding, PartDoubt, SplitCost};
pub use gluewright_devices::seat::{seat, seat_all};
pub use made::{Beside, Burned, Division, FileKind, Made, Package};
pub use program::program;
pub use readback::{LostCover, ReadDevice, Readback, WrongFuse};
pub use saved::{Same, Saved};
pub use values::SCHEMA;

/// A job: one circuit, one traced card. Without a word about it, one 22V10 is to do the work of the whole card.
///
/// [`make`](Job::make) gives everything as values and is silent; [`run`](Job::run) is a whole program on top of it.
pub struct Job<C> {
    card: Result<Board, JobError>,
    /// The board that the card is cut out of, if it is.
    around: Option<Around>,
    claim: Claim<C>,
    wishes: Wishes,
    device: Chosen,
    layout: Layout,
    budget: Budget,
    in_step: Vec<(Label, Label)>,
    testing: Option<Strength>,
    drawer: Option<Drawer>,
    package: Option<String>,
    source: Option<String>,
    host: Option<HostFile>,
    stated: Vec<Stated<C>>,
    watch: Option<Tell>,
}

/// A file about the board around the card, not yet read.
#[derive(Clone, Debug)]
pub(crate) struct HostFile {
    name: String,
    bytes: Vec<u8>,
}

type Tell = Box<dyn Fn(&Step) + Send + Sync>;

impl<C> std::fmt::Debug for Job<C> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Job")
            .field("claim", &self.claim)
            .field("device", &self.device)
            .field("layout", &self.layout)
            .finish_non_exhaustive()
    }
}

/// The job for the circuit `C` and the card that it replaces; `run` is a user's whole `main`.
pub fn job<C: Wiring>(card: Result<Board, TraceError>) -> Job<C> {
    Job {
        card: card.map_err(JobError::from),
        around: None,
        claim: prove::<C>(),
        wishes: Wishes::none(),
        device: "22V10".into(),
        layout: Layout::One,
        budget: Budget::as_original(),
        in_step: Vec::new(),
        testing: Some(Strength::default()),
        drawer: None,
        package: None,
        source: None,
        host: None,
        stated: Vec::new(),
        watch: None,
    }
}

impl<C: Wiring> Job<C> {
    /// Under this assumption about the board; see [`Claim::assuming`].
    #[must_use]
    pub fn assuming(mut self, assumed: impl Fn(&C) -> Assumed + Send + 'static) -> Self {
        self.claim = self.claim.assuming(assumed);
        self
    }

    /// The source must keep these properties too, or nothing is made: `prove::<Card>().that(…).assuming(…)`, with the
    /// assumptions and the limits that are given there. They stand in `proof.json`. What they are proved of is the source, so a
    /// job that keeps packages, whose device is derived from the trace, does not ask about them, and says so.
    #[must_use]
    pub fn stating(mut self, stated: Stated<C>) -> Self {
        self.stated.push(stated);
        self
    }

    /// With these values for the circuit's parameters; see [`Claim::with`].
    #[must_use]
    pub fn with(mut self, parameters: C::Parameters) -> Self
    where
        C::Parameters: Send + Sync,
    {
        self.claim = self.claim.with(parameters);
        self
    }

    /// Each proof in this time; see [`Claim::in_time`].
    #[must_use]
    pub fn in_time(mut self, time: Duration) -> Self {
        self.claim = self.claim.in_time(time);
        self
    }

    /// Until somebody stops it with this token: its proofs (see [`Claim::stopped_by`]), the fit, the split and the test
    /// vectors. Say it after [`wishing`](Job::wishing).
    #[must_use]
    pub fn stopped_by(mut self, stop: Stop) -> Self {
        self.claim = self.claim.stopped_by(stop);
        let limit = self.wishes.limit().or_when(Some(stop));
        self.wishes = self.wishes.within(limit);
        self
    }

    /// With these times that the board can bear, where they differ from what the original needed. Without a word about it,
    /// a time may be as long as the original's. `held` names an output that the board clocks itself, and how long that
    /// needs it steady after its clock: a device that is faster than that is not safe.
    ///
    /// ```
    /// # mod gluewright { pub use gluewright_analysis::*; pub use gluewright_command::job::job; }
    /// use gluewright::timing::{Budget, Kind};
    ///
    /// let budget = Budget::as_original()
    ///     .at_most(Kind::Propagation, Some("7"), Some("17"), 60.0) // strobe to wait: the processor looks after 60 ns
    ///     .held("19", 5.0); // sampled by the next card, whose register holds for 5 ns
    /// // gluewright::job::<SampleCard>(lost_card()).with_budget(budget).run()
    /// # let _ = budget;
    /// ```
    #[must_use]
    pub fn with_budget(mut self, budget: Budget) -> Self {
        self.budget = budget;
        self
    }

    /// These contacts keep their setup and hold times around this clock: a register that samples one on it needs no second
    /// stage.
    #[must_use]
    pub fn in_step<L: Into<Label>>(mut self, clock: impl Into<Label>, contacts: impl IntoIterator<Item = L>) -> Self {
        let clock = clock.into();
        self.in_step.extend(contacts.into_iter().map(|contact| (contact.into(), clock.clone())));
        self
    }

    /// What only typical delays decide counts as open; see [`Claim::by_causality_alone`].
    #[must_use]
    pub fn by_causality_alone(mut self) -> Self {
        self.claim = self.claim.by_causality_alone();
        self
    }

    /// Knowing what settling hides at this net, register or contact; see [`Claim::acknowledging`].
    #[must_use]
    pub fn acknowledging(mut self, name: impl Into<String>) -> Self {
        self.claim = self.claim.acknowledging(name);
        self
    }

    /// With these wishes for the fit.
    #[must_use]
    pub fn wishing(mut self, wishes: Wishes) -> Self {
        self.wishes = wishes;
        self
    }

    /// Fits this device if the command line names none: a type number, or a [`Device`](gluewright_devices::device::Device) of
    /// one's own. Without this, a 22V10.
    #[must_use]
    pub fn fitting(mut self, device: impl Into<Chosen>) -> Self {
        self.device = device.into();
        self
    }

    /// Splits the circuit over as few devices as it takes, then with as few wires between them, out of what the drawer holds;
    /// without a drawer, out of every known type. All are proved together, as one circuit.
    #[must_use]
    pub fn split(mut self) -> Self {
        self.layout = Layout::Split(None);
        self
    }

    /// The same over devices of one type, no more than are in the drawer.
    #[must_use]
    pub fn split_over(mut self, device: impl Into<Chosen>) -> Self {
        self.layout = Layout::Split(Some(device.into()));
        self
    }

    /// Leaves these packages of the original in place and replaces the rest by one device. What that has to do is derived from
    /// the trace, not from the source; kept packages and device are proved together against the whole card.
    #[must_use]
    pub fn keeping(mut self, packages: impl IntoIterator<Item = impl Into<String>>) -> Self {
        self.layout = Layout::Keep(packages.into_iter().map(Into::into).collect());
        self
    }

    /// Replaces these packages of a larger board, and leaves everything else in place: the original is the packages at their
    /// boundary ([`Board::cut_to`]), and the source's contacts are the nets that leave them, with labels such as `U9-1`. What is
    /// proved there holds on the whole board, whatever the rest of it does. If it is not proved there, the whole board is asked,
    /// with the packages that stay the same on both sides: what is proved so rests on them, and a finding says it.
    #[must_use]
    pub fn replacing(mut self, packages: impl IntoIterator<Item = impl Into<String>>) -> Self {
        let packages: Vec<String> = packages.into_iter().map(Into::into).collect();
        self.around = self.card.as_ref().ok().map(|board| Around { board: board.clone(), packages: packages.clone() });
        self.card = self.card.and_then(|board| Ok(board.cut_to(&packages)?));
        self
    }

    /// Tells what the proofs are at.
    #[must_use]
    pub fn watched(mut self, tell: impl Fn(&Step) + Send + Sync + 'static) -> Self {
        self.watch = Some(Box::new(tell));
        self
    }

    /// With test vectors for a tester of this strength; `None`: without. Without this, for one that sees floating pins.
    #[must_use]
    pub fn testing(mut self, strength: Option<Strength>) -> Self {
        self.testing = strength;
        self
    }

    /// With test vectors in the pin order of this package, such as `PLCC-28`, for a programmer that holds the device in it.
    /// Without this, in that of the DIP.
    #[must_use]
    pub fn in_package(mut self, package: impl Into<String>) -> Self {
        self.package = Some(package.into());
        self
    }

    /// With the text of the source that the circuit was written in, `include_str!("my_card.rs")`: it goes into the folder beside
    /// what was made from it, so that a bundle is complete.
    #[must_use]
    pub fn with_source(mut self, text: impl Into<String>) -> Self {
        self.source = Some(text.into());
        self
    }

    /// With what is known of the board around the card: the text of a file as [`Host`](gluewright_analysis::host::Host) reads
    /// it, `with_host("host.csv", include_str!("host.csv"))`. Currents, levels and times are then pass or fail with a margin.
    #[must_use]
    pub fn with_host(mut self, file: impl Into<String>, text: impl Into<Vec<u8>>) -> Self {
        self.host = Some(HostFile { name: file.into(), bytes: text.into() });
        self
    }

    /// With no devices but those of this drawer: the one that is fitted must be in it, and the speed grade is chosen among
    /// what it holds.
    #[must_use]
    pub fn having(mut self, drawer: Drawer) -> Self {
        self.drawer = Some(drawer);
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use gluewright_kernel::prove::Failure;
    use std::error::Error;

    #[test]
    fn errors_keep_their_source() {
        let failure = explained::tests::refuted();
        let proof = JobError::Proof { of: Of::Fuses, failure };
        assert!(proof.source().and_then(|e| e.downcast_ref::<Failure>()).is_some());
        let error = std::io::Error::other("no room left");
        let write = JobError::Write { path: "out".into(), error };
        assert!(write.source().and_then(|e| e.downcast_ref::<std::io::Error>()).is_some());
    }
}
