//! The question as a user asks it: a circuit's type, the original, assumptions over its contacts.
use std::borrow::Cow;
use std::error::Error;
use std::marker::PhantomData;
use std::sync::Arc;
use std::time::Duration;

use crate::board::Board;
use crate::circuit::{Circuit, Expr, Label};
use crate::limit::Stop;
use crate::signals::{BuildError, Condition, Parameters, Source, Wiring, build_with, give};
use crate::solver::Effort;

use super::property::{Claimed, Property, Shape, Stated};
use super::{Assumption, Failure, Formula, Proof, Question, Refusal, Restriction, Way};

/// Something that can stand as the original: a traced board, a circuit, a device lifted from its fuses.
pub trait Original {
    /// The circuit that it is.
    ///
    /// # Errors
    /// Why it can't be one, in words.
    fn original(&self) -> Result<Cow<'_, Circuit>, Box<dyn Error + Send + Sync>>;

    /// What nobody has traced to its end: the net of the circuit that it touches, if any, and why.
    fn untraced(&self) -> Vec<(Option<String>, String)> {
        Vec::new()
    }
}

impl Original for Circuit {
    fn original(&self) -> Result<Cow<'_, Circuit>, Box<dyn Error + Send + Sync>> {
        Ok(Cow::Borrowed(self))
    }
}

impl Original for Board {
    fn original(&self) -> Result<Cow<'_, Circuit>, Box<dyn Error + Send + Sync>> {
        Ok(Cow::Owned(self.circuit()?))
    }

    fn untraced(&self) -> Vec<(Option<String>, String)> {
        Board::untraced(self).into_iter().map(|u| (u.net, u.why)).collect()
    }
}

/// Something that the board is taken to keep: at every moment, or in every event.
#[derive(Clone, Copy, Debug)]
#[must_use = "it bears on a proof only when it is returned to `assuming`, or to `that` as a property"]
pub struct Assumed {
    condition: Expr,
    kind: Kind,
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    Always,
    Never,
    /// What this reads changes this way only while the condition holds.
    Only(Expr, Way),
}

fn assumed(condition: impl Condition, kind: Kind) -> Assumed {
    Assumed { condition: condition.truth().expression(), kind }
}

/// This never happens.
pub fn never(condition: impl Condition) -> Assumed {
    assumed(condition, Kind::Never)
}

/// This always holds.
pub fn always(condition: impl Condition) -> Assumed {
    assumed(condition, Kind::Always)
}

/// The contacts that `what` reads change only while `condition` holds, before the change and after it.
pub fn changes_only_while(what: impl Condition, condition: impl Condition) -> Assumed {
    assumed(condition, Kind::Only(what.truth().expression(), Way::Either))
}

/// The contacts that `what` reads go from low to high only while `condition` holds, before the change and after it.
pub fn goes_high_only_while(what: impl Condition, condition: impl Condition) -> Assumed {
    assumed(condition, Kind::Only(what.truth().expression(), Way::Up))
}

/// The contacts that `what` reads go from high to low only while `condition` holds, before the change and after it.
pub fn goes_low_only_while(what: impl Condition, condition: impl Condition) -> Assumed {
    assumed(condition, Kind::Only(what.truth().expression(), Way::Down))
}

impl Claimed for Assumed {
    /// The same words, claimed instead of assumed.
    fn property(self) -> Property {
        Property::new(match self.kind {
            Kind::Always => Shape::Always(self.condition),
            Kind::Never => Shape::Never(self.condition),
            Kind::Only(what, way) => Shape::Changes(what, way, self.condition),
        })
    }
}

type Assume<C> = Box<dyn Fn(&C) -> Assumed + Send>;

type Setting = Box<dyn Fn(Question) -> Question + Send>;

/// Starts a proof about the circuit `C`.
pub fn prove<C: Wiring>() -> Claim<C> {
    Claim { assumed: Vec::new(), settings: Vec::new(), parameters: None, circuit: PhantomData }
}

/// A proof that lacks its original.
pub struct Claim<C> {
    assumed: Vec<Assume<C>>,
    settings: Vec<Setting>,
    parameters: Option<Parameters>,
    circuit: PhantomData<fn() -> C>,
}

impl<C> std::fmt::Debug for Claim<C> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Claim").field("assumed", &self.assumed.len()).field("settings", &self.settings.len()).finish()
    }
}

impl<C: Wiring> Claim<C> {
    /// Under this assumption, over the circuit's input contacts: `|c| never(c.read.asserted() & c.write.asserted())`.
    #[must_use]
    pub fn assuming(mut self, assumed: impl Fn(&C) -> Assumed + Send + 'static) -> Self {
        self.assumed.push(Box::new(assumed));
        self
    }

    /// With these values for the circuit's parameters.
    #[must_use]
    pub fn with(mut self, parameters: C::Parameters) -> Self
    where
        C::Parameters: Send + Sync,
    {
        self.parameters = Some(Arc::new(move || give::<C>(parameters.clone())));
        self
    }

    /// The circuit, with what is made of its fields.
    fn built<T>(&self, also: impl FnOnce(&C) -> T) -> Result<(Circuit, T), BuildError> {
        let _given = self.parameters.as_ref().map(|give| give());
        build_with::<C, T>(also)
    }

    fn set(mut self, setting: impl Fn(Question) -> Question + Send + 'static) -> Self {
        self.settings.push(Box::new(setting));
        self
    }

    /// These contacts change at one moment, never one alone.
    #[must_use]
    pub fn together<L: Into<Label>>(self, contacts: impl IntoIterator<Item = L>) -> Self {
        let contacts: Vec<Label> = contacts.into_iter().map(Into::into).collect();
        self.set(move |q| q.together(contacts.iter().cloned()))
    }

    /// Exactly one of these contacts is high at every moment, and they change together.
    #[must_use]
    pub fn one_high<L: Into<Label>>(self, contacts: impl IntoIterator<Item = L>) -> Self {
        let contacts: Vec<Label> = contacts.into_iter().map(Into::into).collect();
        self.set(move |q| q.one_of(contacts.iter().cloned(), true))
    }

    /// Exactly one of these contacts is low at every moment, and they change together.
    #[must_use]
    pub fn one_low<L: Into<Label>>(self, contacts: impl IntoIterator<Item = L>) -> Self {
        let contacts: Vec<Label> = contacts.into_iter().map(Into::into).collect();
        self.set(move |q| q.one_of(contacts.iter().cloned(), false))
    }

    /// Knowing what settling hides at this net, register or contact; see [`Question::acknowledging`].
    #[must_use]
    pub fn acknowledging(self, name: impl Into<String>) -> Self {
        let name = name.into();
        self.set(move |q| q.acknowledging(name.clone()))
    }

    /// A proof of the contacts that depend on nothing untraced will do; see [`Proof::is_whole`].
    #[must_use]
    pub fn in_part(self) -> Self {
        self.set(Question::in_part)
    }

    /// What only typical delays of the original's parts decide counts as open: nothing is proved by them.
    #[must_use]
    pub fn by_causality_alone(self) -> Self {
        self.set(Question::by_causality_alone)
    }

    /// No longer than this for one question to the solver.
    #[must_use]
    pub fn within(self, effort: Effort) -> Self {
        self.set(move |q| q.within(effort))
    }

    /// No longer than this for everything; see [`Question::in_time`].
    #[must_use]
    pub fn in_time(self, time: Duration) -> Self {
        self.set(move |q| q.in_time(time))
    }

    /// Until somebody stops it with this token; see [`Question::stopped_by`].
    #[must_use]
    pub fn stopped_by(self, stop: Stop) -> Self {
        self.set(move |q| q.stopped_by(stop))
    }

    /// Search for refutations of at most this many events.
    #[must_use]
    pub fn to_depth(self, events: usize) -> Self {
        self.set(move |q| q.to_depth(events))
    }

    /// Walk over the states of a small pair with at most this many runs of one event; see [`Question::walking`].
    #[must_use]
    pub fn walking(self, runs: usize) -> Self {
        self.set(move |q| q.walking(runs))
    }

    /// The replacement as a circuit, and the question about it.
    ///
    /// # Errors
    /// [`Failure::Refused`] if the circuit or an assumption can't be built, or the original can't be a circuit.
    pub fn question(&self, original: &impl Original) -> Result<(Circuit, Question), Failure> {
        let (replacement, assumed) = self
            .built(|c| -> Vec<Assumed> { self.assumed.iter().map(|a| a(c)).collect() })
            .map_err(|e| Failure::Refused(Refusal::Unbuilt(e.to_string())))?;
        let circuit = original.original().map_err(|e| Failure::Refused(Refusal::Unbuilt(e.to_string())))?;
        let source = Source::with::<C>(self.parameters.clone());
        let mut question = Question::new(circuit.into_owned(), replacement.clone()).written(source);
        for (net, why) in original.untraced() {
            question = question.untraced(net, why);
        }
        for setting in &self.settings {
            question = setting(question);
        }
        question = under(question, &replacement, assumed).map_err(Failure::Refused)?;
        Ok((replacement, question))
    }

    /// That the circuit keeps this by itself, without an original: `|c| never(c.read.asserted() & c.write.asserted())`.
    pub fn that<P: Claimed>(self, property: impl Fn(&C) -> P + Send + 'static) -> Stated<C> {
        Stated::new(self).that(property)
    }

    /// The circuit as a question without an original, with what is claimed of it.
    pub(super) fn alone(&self, claimed: impl Fn(&C) -> Vec<Property>) -> Result<(Question, Vec<Property>), Refusal> {
        let built = self
            .built(|c| -> (Vec<Assumed>, Vec<Property>) { (self.assumed.iter().map(|a| a(c)).collect(), claimed(c)) });
        let (circuit, (assumed, properties)) = built.map_err(|e| Refusal::Unbuilt(e.to_string()))?;
        let mut question = Question::new(Circuit::new("nothing"), circuit.clone());
        for setting in &self.settings {
            question = setting(question);
        }
        Ok((under(question, &circuit, assumed)?, properties))
    }

    /// Against this original.
    pub fn against<'o, O: Original>(self, original: &'o O) -> Against<'o, C, O> {
        Against { claim: self, original }
    }
}

/// The question under what is assumed, by conditions over the contacts of this circuit.
pub(super) fn under(mut question: Question, circuit: &Circuit, assumed: Vec<Assumed>) -> Result<Question, Refusal> {
    let formula = |e: Expr| {
        Formula::from_circuit(circuit, e).ok_or_else(|| {
            let why = "an assumption reads something that is not a contact: assume only what the board does";
            Refusal::Unbuilt(why.to_owned())
        })
    };
    let names = |l: &Label| {
        let contact = circuit.contacts().iter().find(|c| &c.label == l);
        contact.map_or_else(|| l.to_string(), |c| format!("{l} {}", c.name))
    };
    for a in assumed {
        let condition = formula(a.condition)?;
        let words = condition.words(&names);
        question = match a.kind {
            Kind::Always => question.assuming(Assumption { text: format!("always {words}"), holds: condition }),
            Kind::Never => {
                question.assuming(Assumption { text: format!("never {words}"), holds: Formula::Not(condition.into()) })
            }
            Kind::Only(what, way) => {
                let mut contacts = Vec::new();
                formula(what)?.contacts(&mut contacts);
                contacts.sort();
                contacts.dedup();
                let listed: Vec<_> = contacts.iter().map(names).collect();
                let changes = match way {
                    Way::Either => "changes",
                    Way::Up => "goes high",
                    Way::Down => "goes low",
                };
                let text = format!("{} {changes} only while {words}", listed.join(", "));
                question.restricted(Restriction { text, contacts, way, only_while: condition })
            }
        };
    }
    Ok(question)
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

    /// A proof of the contacts that depend on nothing untraced will do; see [`Proof::is_whole`].
    #[must_use]
    pub fn in_part(mut self) -> Self {
        self.claim = self.claim.in_part();
        self
    }

    /// What only typical delays of the original's parts decide counts as open: nothing is proved by them.
    #[must_use]
    pub fn by_causality_alone(mut self) -> Self {
        self.claim = self.claim.by_causality_alone();
        self
    }

    /// Proves, or says why not.
    ///
    /// # Errors
    /// Refuted, undecided, withheld, proved in part only, or refused.
    pub fn run(self) -> Result<Proof, Failure> {
        let (_, question) = self.claim.question(self.original)?;
        question.ask()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn may_go_to_another_thread<T: Send>() {}

    #[test]
    fn a_claim_a_question_and_a_verdict_may_go_to_another_thread() {
        // what the derive makes is the same for every circuit: any type will do
        may_go_to_another_thread::<Claim<()>>();
        may_go_to_another_thread::<Against<'static, (), Circuit>>();
        may_go_to_another_thread::<Against<'static, (), Board>>();
        may_go_to_another_thread::<Question>();
        may_go_to_another_thread::<Result<Proof, Failure>>();
    }
}
