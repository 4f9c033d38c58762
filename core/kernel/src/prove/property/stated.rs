//! Properties as a user states them: of a source, or of a traced board by its names.
use crate::limit::Stop;
use crate::prove::claim::under;
use crate::prove::hidden::Of;
use crate::prove::{Assumed, Claim, Original, Question, Refusal};
use crate::signals::{Traced, Wiring, over};

use std::time::Duration;

use super::verdict::{Broken, Held};
use super::words::{Claimed, Property};
use crate::circuit::Circuit;

type Say<C> = Box<dyn Fn(&C) -> Property + Send>;

/// Properties of the circuit that a source describes, ready to be asked about.
pub struct Stated<C> {
    claim: Claim<C>,
    properties: Vec<Say<C>>,
}

impl<C> std::fmt::Debug for Stated<C> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Stated").field("claim", &self.claim).field("properties", &self.properties.len()).finish()
    }
}

impl<C: Wiring> Stated<C> {
    pub(in crate::prove) fn new(claim: Claim<C>) -> Self {
        Stated { claim, properties: Vec::new() }
    }

    /// And that it keeps this.
    #[must_use]
    pub fn that<P: Claimed>(mut self, property: impl Fn(&C) -> P + Send + 'static) -> Self {
        self.properties.push(Box::new(move |c| property(c).property()));
        self
    }

    /// Under this assumption; see [`Claim::assuming`].
    #[must_use]
    pub fn assuming(mut self, assumed: impl Fn(&C) -> Assumed + Send + 'static) -> Self {
        self.claim = self.claim.assuming(assumed);
        self
    }

    /// Knowing what settling hides at this net, register or contact; see [`Question::acknowledging`].
    #[must_use]
    pub fn acknowledging(mut self, name: impl Into<String>) -> Self {
        self.claim = self.claim.acknowledging(name);
        self
    }

    /// Asks about each property, in order.
    pub fn verdicts(&self) -> Vec<Result<Held, Broken>> {
        match self.claim.alone(|c| self.properties.iter().map(|p| p(c)).collect()) {
            Err(refusal) => vec![Err(Broken::Refused(refusal))],
            Ok((question, properties)) => all(&question, &properties, Of::Replacement),
        }
    }

    /// Asks about each property, in order, until one does not hold.
    ///
    /// # Errors
    /// The first that is refuted, undecided, withheld or refused.
    pub fn run(&self) -> Result<Vec<Held>, Broken> {
        self.claim
            .alone(|c| self.properties.iter().map(|p| p(c)).collect())
            .map_err(Broken::Refused)
            .and_then(|(question, properties)| each(&question, &properties, Of::Replacement))
    }
}

fn all(question: &Question, properties: &[Property], of: Of) -> Vec<Result<Held, Broken>> {
    properties.iter().map(|p| question.keeps(p, of)).collect()
}

fn each(question: &Question, properties: &[Property], of: Of) -> Result<Vec<Held>, Broken> {
    properties.iter().map(|p| question.keeps(p, of)).collect()
}

/// Starts a proof about a traced board, or a circuit without a source, by itself: `prove_of(&board).that(|b| …)`.
pub fn prove_of<O: Original>(of: &O) -> StatedOf<'_, O> {
    StatedOf { of, assumed: Vec::new(), properties: Vec::new(), settings: Vec::new() }
}

type Setting = Box<dyn Fn(Question) -> Question + Send>;

/// Properties of a circuit that has no source, by names.
pub struct StatedOf<'o, O> {
    of: &'o O,
    assumed: Vec<Box<dyn Fn(&Traced) -> Assumed + Send>>,
    properties: Vec<Say<Traced>>,
    settings: Vec<Setting>,
}

impl<O> std::fmt::Debug for StatedOf<'_, O> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("StatedOf")
            .field("assumed", &self.assumed.len())
            .field("properties", &self.properties.len())
            .finish_non_exhaustive()
    }
}

impl<O: Original> StatedOf<'_, O> {
    /// That it keeps this: `|b| never(b.level("read_n").is_low() & b.level("write_n").is_low())`.
    #[must_use]
    pub fn that<P: Claimed>(mut self, property: impl Fn(&Traced) -> P + Send + 'static) -> Self {
        self.properties.push(Box::new(move |c| property(c).property()));
        self
    }

    /// Under this assumption, over the board's contacts.
    #[must_use]
    pub fn assuming(mut self, assumed: impl Fn(&Traced) -> Assumed + Send + 'static) -> Self {
        self.assumed.push(Box::new(assumed));
        self
    }

    /// Knowing what settling hides at this net, register or contact; see [`Question::acknowledging`].
    #[must_use]
    pub fn acknowledging(self, name: impl Into<String>) -> Self {
        let name = name.into();
        self.set(move |q| q.acknowledging(name.clone()))
    }

    /// What only typical delays of the board's parts decide counts as open: nothing is proved by them.
    #[must_use]
    pub fn by_causality_alone(self) -> Self {
        self.set(Question::by_causality_alone)
    }

    /// No longer than this for each property; see [`Question::in_time`].
    #[must_use]
    pub fn in_time(self, time: Duration) -> Self {
        self.set(move |q| q.in_time(time))
    }

    /// Until somebody stops it with this token; see [`Question::stopped_by`].
    #[must_use]
    pub fn stopped_by(self, stop: Stop) -> Self {
        self.set(move |q| q.stopped_by(stop))
    }

    /// Search for runs of at most this many events.
    #[must_use]
    pub fn to_depth(self, events: usize) -> Self {
        self.set(move |q| q.to_depth(events))
    }

    fn set(mut self, setting: impl Fn(Question) -> Question + Send + 'static) -> Self {
        self.settings.push(Box::new(setting));
        self
    }

    fn question(&self) -> Result<(Question, Vec<Property>), Refusal> {
        let unbuilt = |e: String| Refusal::Unbuilt(e);
        let circuit = self.of.original().map_err(|e| unbuilt(e.to_string()))?.into_owned();
        // what is not traced drives nothing here, and would be said to do so
        if let Some((net, why)) = self.of.untraced().into_iter().next() {
            let at = net.map_or_else(String::new, |net| format!(" at net `{net}`"));
            return Err(unbuilt(format!(
                "the trace is not finished{at} ({why}): a property of what is not traced can't be told"
            )));
        }
        let built = over(circuit, |names| {
            let assumed: Vec<Assumed> = self.assumed.iter().map(|a| a(names)).collect();
            let properties: Vec<Property> = self.properties.iter().map(|p| p(names)).collect();
            (assumed, properties)
        });
        let (circuit, (assumed, properties)) = built.map_err(|e| unbuilt(e.to_string()))?;
        let mut question = Question::new(circuit.clone(), Circuit::new("nothing"));
        for setting in &self.settings {
            question = setting(question);
        }
        Ok((under(question, &circuit, assumed)?, properties))
    }

    /// Asks about each property, in order.
    pub fn verdicts(&self) -> Vec<Result<Held, Broken>> {
        match self.question() {
            Err(refusal) => vec![Err(Broken::Refused(refusal))],
            Ok((question, properties)) => all(&question, &properties, Of::Original),
        }
    }

    /// Asks about each property, in order, until one does not hold.
    ///
    /// # Errors
    /// The first that is refuted, undecided, withheld or refused.
    pub fn run(&self) -> Result<Vec<Held>, Broken> {
        let (question, properties) = self.question().map_err(Broken::Refused)?;
        each(&question, &properties, Of::Original)
    }
}
