//! The question as a user asks it: a circuit's type, the original, assumptions over its contacts.
use std::borrow::Cow;
use std::error::Error;
use std::marker::PhantomData;

use crate::board::Board;
use crate::circuit::{Circuit, Expr, Label};
use crate::signals::{Condition, Wiring, build_with};
use crate::solver::Effort;

use super::{Assumption, Failure, Formula, Proof, Question};

/// Something that can stand as the original: a traced board, a circuit, a device lifted from its fuses.
pub trait Original {
    /// The circuit that it is.
    ///
    /// # Errors
    /// Why it can't be one, in words.
    fn original(&self) -> Result<Cow<'_, Circuit>, Box<dyn Error>>;
}

impl Original for Circuit {
    fn original(&self) -> Result<Cow<'_, Circuit>, Box<dyn Error>> {
        Ok(Cow::Borrowed(self))
    }
}

impl Original for Board {
    fn original(&self) -> Result<Cow<'_, Circuit>, Box<dyn Error>> {
        Ok(Cow::Owned(self.circuit()?))
    }
}

/// A condition that the board is taken to keep at every moment.
#[derive(Clone, Copy, Debug)]
#[must_use = "an assumption bears on a proof only when it is returned to `assuming`"]
pub struct Assumed {
    condition: Expr,
    holds: bool,
}

/// This never happens.
pub fn never(condition: impl Condition) -> Assumed {
    Assumed { condition: condition.truth().expression(), holds: false }
}

/// This always holds.
pub fn always(condition: impl Condition) -> Assumed {
    Assumed { condition: condition.truth().expression(), holds: true }
}

type Assume<C> = Box<dyn Fn(&C) -> Assumed>;

/// Starts a proof about the circuit `C`.
pub fn prove<C: Wiring>() -> Claim<C> {
    Claim { assumed: Vec::new(), groups: Vec::new(), effort: Effort::default(), depth: None, circuit: PhantomData }
}

/// A proof that lacks its original.
pub struct Claim<C> {
    assumed: Vec<Assume<C>>,
    groups: Vec<Vec<Label>>,
    effort: Effort,
    depth: Option<usize>,
    circuit: PhantomData<fn() -> C>,
}

impl<C> std::fmt::Debug for Claim<C> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Claim").field("assumed", &self.assumed.len()).field("groups", &self.groups).finish()
    }
}

impl<C: Wiring> Claim<C> {
    /// Under this assumption, over the circuit's input contacts: `|c| never(c.read.asserted() & c.write.asserted())`.
    #[must_use]
    pub fn assuming(mut self, assumed: impl Fn(&C) -> Assumed + 'static) -> Self {
        self.assumed.push(Box::new(assumed));
        self
    }

    /// These contacts change at one moment, never one alone.
    #[must_use]
    pub fn together<L: Into<Label>>(mut self, contacts: impl IntoIterator<Item = L>) -> Self {
        self.groups.push(contacts.into_iter().map(Into::into).collect());
        self
    }

    /// No longer than this for one question to the solver.
    #[must_use]
    pub fn within(mut self, effort: Effort) -> Self {
        self.effort = effort;
        self
    }

    /// Search for refutations of at most this many events.
    #[must_use]
    pub fn to_depth(mut self, events: usize) -> Self {
        self.depth = Some(events);
        self
    }

    /// The replacement as a circuit, and the question about it.
    ///
    /// # Errors
    /// [`Failure::Refused`] if the circuit or an assumption can't be built, or the original can't be a circuit.
    pub fn question(&self, original: &impl Original) -> Result<(Circuit, Question), Failure> {
        let (replacement, assumed) = build_with::<C, Vec<Assumed>>(|c| self.assumed.iter().map(|a| a(c)).collect())
            .map_err(|e| Failure::Refused(e.to_string()))?;
        let original = original.original().map_err(|e| Failure::Refused(e.to_string()))?;
        let mut question = Question::new(original.into_owned(), replacement.clone()).within(self.effort);
        if let Some(depth) = self.depth {
            question = question.to_depth(depth);
        }
        for a in assumed {
            let Some(formula) = Formula::from_circuit(&replacement, a.condition) else {
                let why = "an assumption reads something that is not a contact: assume only what the board does";
                return Err(Failure::Refused(why.to_owned()));
            };
            let names = |l: &Label| {
                let contact = replacement.contacts().iter().find(|c| &c.label == l);
                contact.map_or_else(|| l.to_string(), |c| format!("{l} {}", c.name))
            };
            let words = formula.words(&names);
            let (text, holds) = match a.holds {
                true => (format!("always {words}"), formula),
                false => (format!("never {words}"), Formula::Not(formula.into())),
            };
            question = question.assuming(Assumption { text, holds });
        }
        for group in &self.groups {
            question = question.together(group.iter().cloned());
        }
        Ok((replacement, question))
    }

    /// Against this original.
    pub fn against<'o, O: Original>(self, original: &'o O) -> Against<'o, C, O> {
        Against { claim: self, original }
    }
}

/// A proof that can be run.
#[derive(Debug)]
pub struct Against<'o, C, O> {
    claim: Claim<C>,
    original: &'o O,
}

impl<C: Wiring, O: Original> Against<'_, C, O> {
    /// Under this assumption; see [`Claim::assuming`].
    #[must_use]
    pub fn assuming(mut self, assumed: impl Fn(&C) -> Assumed + 'static) -> Self {
        self.claim = self.claim.assuming(assumed);
        self
    }

    /// Proves, or says why not.
    ///
    /// # Errors
    /// Refuted, undecided, or refused.
    pub fn run(self) -> Result<Proof, Failure> {
        let (_, question) = self.claim.question(self.original)?;
        question.ask()
    }
}
