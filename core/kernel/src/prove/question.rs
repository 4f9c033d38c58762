//! The question and how it is put: circuits, assumptions, limits, and what is acknowledged.
use std::collections::BTreeSet;
use std::time::Duration;

use crate::circuit::{Circuit, Label};
use crate::limit::Stop;
use crate::signals::Source;
use crate::solver::Effort;

use super::acknowledge::Names;
use super::partial::Gap;
use super::progress::{Step, Watcher};
use super::{Assumption, Restriction};

/// How long everything may take, unless another limit is asked for.
const TIME: Duration = Duration::from_secs(600);

/// A question: does this replacement refine this original?
#[derive(Clone, Debug)]
pub struct Question {
    pub(super) original: Circuit,
    pub(super) replacement: Circuit,
    pub(super) assumptions: Vec<Assumption>,
    pub(super) restrictions: Vec<Restriction>,
    pub(super) groups: Vec<Vec<Label>>,
    pub(super) effort: Effort,
    pub(super) deepest: usize,
    pub(super) walk: usize,
    pub(super) time: Option<Duration>,
    pub(super) stop: Option<Stop>,
    pub(super) acknowledged: Vec<String>,
    pub(super) all_acknowledged: bool,
    pub(super) by_causality: bool,
    pub(super) another_form: bool,
    pub(super) untraced: Vec<Gap>,
    pub(super) in_part: bool,
    /// Registers, latches and nets that are the same package's on both sides.
    pub(super) staying: BTreeSet<String>,
    pub(super) watcher: Watcher,
    /// What builds the replacement, if it has a source.
    pub(super) source: Option<Source>,
}

impl Question {
    /// Does `replacement` refine `original`?
    pub fn new(original: Circuit, replacement: Circuit) -> Self {
        Question {
            original,
            replacement,
            assumptions: Vec::new(),
            restrictions: Vec::new(),
            groups: Vec::new(),
            effort: Effort::default(),
            deepest: 24,
            walk: 1 << 20,
            time: Some(TIME),
            stop: None,
            acknowledged: Vec::new(),
            all_acknowledged: false,
            by_causality: false,
            another_form: false,
            untraced: Vec::new(),
            in_part: false,
            staying: BTreeSet::new(),
            watcher: Watcher::default(),
            source: None,
        }
    }

    /// Under this assumption.
    #[must_use]
    pub fn assuming(mut self, assumption: Assumption) -> Self {
        self.assumptions.push(assumption);
        self
    }

    /// Under this restriction of what one event may be.
    #[must_use]
    pub fn restricted(mut self, restriction: Restriction) -> Self {
        self.restrictions.push(restriction);
        self
    }

    /// These contacts change together, never alone.
    #[must_use]
    pub fn together(mut self, contacts: impl IntoIterator<Item = Label>) -> Self {
        self.groups.push(contacts.into_iter().collect());
        self
    }

    /// The original.
    pub fn original(&self) -> &Circuit {
        &self.original
    }

    /// The replacement.
    pub fn replacement(&self) -> &Circuit {
        &self.replacement
    }

    /// The restrictions of events under which it is asked.
    pub fn restrictions(&self) -> &[Restriction] {
        &self.restrictions
    }

    /// The assumptions under which it is asked.
    pub fn assumptions(&self) -> &[Assumption] {
        &self.assumptions
    }

    /// The groups of contacts that change together.
    pub fn groups(&self) -> &[Vec<Label>] {
        &self.groups
    }

    /// No longer than this for one question to the solver: some minutes' work, if nothing is said.
    #[must_use]
    pub fn within(mut self, effort: Effort) -> Self {
        self.effort = effort;
        self
    }

    /// Search for refutations of at most this many events.
    #[must_use]
    pub fn to_depth(mut self, events: usize) -> Self {
        self.deepest = events;
        self
    }

    /// Walk over the states of a small pair with at most this many runs of one event, when induction stays open.
    #[must_use]
    pub fn walking(mut self, runs: usize) -> Self {
        self.walk = runs;
        self
    }

    /// Exactly one of these contacts is high (or low) at every moment, and they change together: a one-hot group.
    #[must_use]
    pub fn one_of(self, contacts: impl IntoIterator<Item = Label>, high: bool) -> Self {
        let contacts: Vec<Label> = contacts.into_iter().collect();
        let assumption = Assumption::one_of(&contacts, high, &|l| self.named(l));
        self.assuming(assumption).together(contacts)
    }

    fn named(&self, label: &Label) -> String {
        let mut all = self.replacement.contacts().iter().chain(self.original.contacts());
        all.find(|c| &c.label == label).map_or_else(|| label.to_string(), |c| format!("{label} {}", c.name))
    }

    /// Knowing what settling hides: the net, the register or the contact of this name. A net that is constant once
    /// settled, a net that comes late to a gate and adds nothing there, or a register whose data races its clock, then doesn't
    /// withhold the proof; of a contact only what it shows before and after each event is compared, not its pulses. A name
    /// that nothing has is refused; so is one that a contact and a net or register bear, unless it stands after its kind:
    /// `net irq`, `register irq`, `contact irq`.
    ///
    /// An acknowledgement is of one finding, on one side, at one place. A name to which several answer is refused, with
    /// what to say of each: `irq of the original`, `irq of the replacement beside `clk``.
    #[must_use]
    pub fn acknowledging(mut self, name: impl Into<String>) -> Self {
        self.acknowledged.push(name.into());
        self
    }

    /// Only settled levels are the matter: nets that are constant or idle once settled, and races, withhold nothing. For
    /// circuits whose gates stand for functions, not for packages.
    #[must_use]
    pub fn settled_only(mut self) -> Self {
        self.all_acknowledged = true;
        self
    }

    /// One of the circuits is another form of the one that the acknowledgements were given for: files of the same source,
    /// or a changed trace. What is acknowledged of the order of changes then covers all of the same rule, on the same side
    /// and in the same kind of event, whatever it is called there.
    #[must_use]
    pub fn in_another_form(mut self) -> Self {
        self.another_form = true;
        self
    }

    /// What only typical delays of the original's parts decide counts as open: nothing is proved by them.
    #[must_use]
    pub fn by_causality_alone(mut self) -> Self {
        self.by_causality = true;
        self
    }

    /// Nobody has traced this net of the original to its end: contacts that depend on it are left out of the proof, which
    /// is then none for the whole. Without a net: something is missing that touches no net of the original.
    #[must_use]
    pub fn untraced(mut self, net: Option<String>, why: impl Into<String>) -> Self {
        self.untraced.push(Gap { net, why: why.into() });
        self
    }

    /// A proof of the contacts that depend on nothing untraced will do.
    #[must_use]
    pub fn in_part(mut self) -> Self {
        self.in_part = true;
        self
    }

    /// No longer than this for everything, give or take a tenth of it: ten minutes, if nothing is said. What is reached by
    /// then stands in [`Undecided`](super::Undecided). `Duration::MAX` is no limit.
    #[must_use]
    pub fn in_time(mut self, time: Duration) -> Self {
        self.time = Some(time);
        self
    }

    /// Until somebody stops it with this token: then it ends within 0.2 seconds, undecided.
    #[must_use]
    pub fn stopped_by(mut self, stop: Stop) -> Self {
        self.stop = Some(stop);
        self
    }

    /// Tells how far it has got.
    #[must_use]
    pub fn watched(mut self, tell: impl Fn(&Step) + Send + Sync + 'static) -> Self {
        self.watcher = Watcher::new(tell);
        self
    }

    /// The same question about another replacement with the same contacts.
    #[must_use]
    pub fn about(mut self, replacement: Circuit) -> Self {
        self.replacement = replacement;
        self.source = None;
        self
    }

    /// The replacement is what this source builds.
    #[must_use]
    pub(super) fn written(mut self, source: Source) -> Self {
        self.source = Some(source);
        self
    }

    /// What builds the replacement, if it has a source.
    pub fn source(&self) -> Option<&Source> {
        self.source.as_ref()
    }

    /// The same question against another original with the same contacts.
    #[must_use]
    pub fn against(mut self, original: Circuit) -> Self {
        self.original = original;
        self
    }

    /// The same question about larger circuits that hold these two. What is assumed of contacts that the larger ones do not
    /// have, because the circuit around them says what happens there, is left out, and so are acknowledgements of names that
    /// they do not have.
    #[must_use]
    pub fn around(mut self, original: Circuit, replacement: Circuit) -> Self {
        let has = |label: &Label| original.contacts().iter().any(|c| c.label == *label);
        let all = |labels: Vec<Label>| labels.iter().all(&has);
        self.assumptions.retain(|a| all(super::parts::labels_of(a)));
        self.restrictions.retain(|r| all(super::parts::labels_of_restriction(r)));
        self.groups.iter_mut().for_each(|group| group.retain(&has));
        let names = Names::new([&original, &replacement]);
        self.acknowledged.retain(|name| names.check(name).is_ok());
        self.untraced.clear();
        self.about(replacement).against(original)
    }

    /// The registers, latches and nets of these names are those of packages that stay: the same on both sides. Whatever such a
    /// package holds at power-up, the original's is tried with the same first. It is a hint, and nothing is taken on trust.
    #[must_use]
    pub fn staying(mut self, names: impl IntoIterator<Item = String>) -> Self {
        self.staying.extend(names);
        self
    }

    /// What one question to the solver may cost.
    pub(crate) fn effort(&self) -> Effort {
        self.effort
    }
}
