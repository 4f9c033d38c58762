//! The program that a user's `main` calls: check the trace, prove, fit, emit, read back, prove again.
mod alone;
mod bench;
mod burning;
mod capture;
mod choosing;
mod emitted;
mod error;
mod explained;
mod folder;
mod mending;
mod options;
mod progress;
mod readback;
mod record;
mod run;
mod saved;
mod screen;
mod several;
mod voice;

use gluewright_analysis::timing::Budget;
use gluewright_analysis::vectors::Strength;
use gluewright_devices::drawer::Drawer;
use gluewright_devices::fit::Wishes;
use gluewright_kernel::board::{Board, TraceError};
use gluewright_kernel::circuit::Label;
use gluewright_kernel::prove::{Assumed, Claim, prove};
use gluewright_kernel::signals::Wiring;

pub use alone::Done;
pub use error::JobError;
pub use gluewright_devices::seat::{seat, seat_all};
pub use readback::{Readback, WrongFuse};
pub use saved::{Saved, saved_fuses};
pub use several::{Burned, Division, Several, beside_kept};

/// A job: one circuit, one traced card.
#[derive(Debug)]
pub struct Job<C> {
    card: Result<Board, TraceError>,
    claim: Claim<C>,
    wishes: Wishes,
    device: String,
    budget: Budget,
    in_step: Vec<(Label, Label)>,
    testing: Option<Strength>,
    drawer: Option<Drawer>,
    package: Option<String>,
}

/// The job for the circuit `C` and the card that it replaces; `run` is a user's whole `main`.
pub fn job<C: Wiring>(card: Result<Board, TraceError>) -> Job<C> {
    Job {
        card,
        claim: prove::<C>(),
        wishes: Wishes::none(),
        device: "22V10".to_owned(),
        budget: Budget::as_original(),
        in_step: Vec::new(),
        testing: Some(Strength::default()),
        drawer: None,
        package: None,
    }
}

impl<C: Wiring> Job<C> {
    /// Under this assumption about the board; see [`Claim::assuming`].
    #[must_use]
    pub fn assuming(mut self, assumed: impl Fn(&C) -> Assumed + 'static) -> Self {
        self.claim = self.claim.assuming(assumed);
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

    /// Fits this device if the command line names none; without this, a 22V10.
    #[must_use]
    pub fn fitting(mut self, device: impl Into<String>) -> Self {
        self.device = device.into();
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

    /// With no devices but those of this drawer: the one that is fitted must be in it, and the speed grade is chosen among
    /// what it holds.
    #[must_use]
    pub fn having(mut self, drawer: Drawer) -> Self {
        self.drawer = Some(drawer);
        self
    }
}
