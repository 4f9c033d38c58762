//! What a board must know about parts: their pins, their logic, and which of them are no logic.
use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use crate::circuit::{Circuit, Direction, Label, Rail, Stage};
use crate::figures::{OpenInput, PartFigures};

/// A drawer of parts, by type number.
pub trait Library {
    /// The part with this type number, as it is printed on a package: no difference between upper and lower case, and
    /// maker's prefixes and package suffixes stand for the same part.
    fn part(&self, type_number: &str) -> Option<Part>;

    /// The type numbers that it has, for "did you mean".
    fn names(&self) -> Vec<String>;

    /// A library of the same types that lasts as long as the program: a board keeps it, so that a part beside the card can be
    /// looked up later. Without it a board knows its own types only.
    fn lasting(&self) -> Option<&'static (dyn Library + Send + Sync)> {
        None
    }
}

/// A library that a board keeps, if there is one that lasts.
#[derive(Clone, Copy, Default)]
pub(super) struct Lasting(Option<&'static (dyn Library + Send + Sync)>);

impl Lasting {
    pub(super) fn of(library: &dyn Library) -> Self {
        Lasting(library.lasting())
    }

    pub(super) fn part(self, type_number: &str) -> Option<Part> {
        self.0?.part(type_number)
    }

    pub(super) fn names(self) -> Vec<String> {
        self.0.map_or_else(Vec::new, |library| library.names())
    }
}

impl fmt::Debug for Lasting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_some() { "Lasting" } else { "Nothing" })
    }
}

/// Whether settled logic can stand for a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Behaviour {
    /// It can.
    Logic,
    /// It can't: analog and timing parts. The circuit is the pinout only.
    Refused {
        /// Why not.
        why: String,
        /// What to do instead.
        mend: String,
    },
}

/// What a package pin does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PinRole {
    /// Carries a supply rail.
    Supply(Rail),
    /// Reads its net.
    Input,
    /// Drives its net.
    Output(Stage),
    /// Drives its net at times and reads it.
    InOut(Stage),
    /// Is connected to nothing inside.
    Unconnected,
    /// Is no logic pin: the timing pins of a one-shot.
    Analog,
}

/// One type of package: its pins and its logic.
#[derive(Clone)]
pub struct Part {
    name: String,
    circuit: Arc<Circuit>,
    behaviour: Behaviour,
    pins: BTreeMap<Label, PinRole>,
    doubts: Vec<String>,
    figures: Option<Arc<PartFigures>>,
}

impl Part {
    /// A logic part. The circuit's contacts are the package pins, its supplies are the supply pins; an output's stage is
    /// that of the drivers on its net. A circuit that [is none](Circuit::check) makes a part that is refused.
    pub fn logic(type_number: impl Into<String>, circuit: Arc<Circuit>) -> Self {
        if let Err(malformed) = circuit.check() {
            let mend = "mend the part's circuit in the library that the board is read with";
            return Part::refused(type_number, circuit, malformed.to_string(), mend);
        }
        let pins = roles(&circuit, false);
        Part::new(type_number.into(), circuit, Behaviour::Logic, pins)
    }

    /// A part that settled logic can't stand for, with its pinout: the circuit has contacts and supplies, and no drivers.
    /// Its outputs count as push-pull, and contacts of both directions as analog.
    pub fn refused(
        type_number: impl Into<String>,
        pinout: Arc<Circuit>,
        why: impl Into<String>,
        mend: impl Into<String>,
    ) -> Self {
        let pins = roles(&pinout, true);
        let behaviour = Behaviour::Refused { why: why.into(), mend: mend.into() };
        Part::new(type_number.into(), pinout, behaviour, pins)
    }

    fn new(name: String, circuit: Arc<Circuit>, behaviour: Behaviour, pins: BTreeMap<Label, PinRole>) -> Self {
        Part { name, circuit, behaviour, pins, doubts: Vec::new(), figures: None }
    }

    /// The same part with package pins that are connected to nothing inside.
    #[must_use]
    pub fn with_unconnected<L: Into<Label>>(mut self, pins: impl IntoIterator<Item = L>) -> Self {
        for label in pins {
            self.pins.entry(label.into()).or_insert(PinRole::Unconnected);
        }
        self
    }

    /// The same part with sentences about what its data sheets leave open, and what its circuit does there. A trace with the
    /// part repeats them as notes.
    #[must_use]
    pub fn with_doubts<D: Into<String>>(mut self, doubts: impl IntoIterator<Item = D>) -> Self {
        self.doubts.extend(doubts.into_iter().map(Into::into));
        self
    }

    /// The same part with the figures of its data sheets.
    #[must_use]
    pub fn with_figures(mut self, figures: Arc<PartFigures>) -> Self {
        self.figures = Some(figures);
        self
    }

    /// What its inputs read while they are open; high, as those of TTL, if there are no figures.
    pub fn open_inputs(&self) -> OpenInput {
        self.figures.as_ref().map(|figures| figures.open_input).unwrap_or_default()
    }

    /// The figures of its data sheets, if the library has any for this very type.
    pub fn figures(&self) -> Option<&Arc<PartFigures>> {
        self.figures.as_ref()
    }

    /// What its data sheets leave open, and what its circuit does there.
    pub fn doubts(&self) -> &[String] {
        &self.doubts
    }

    /// The type number under which the library lists it.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its logic, or its pinout if it is refused.
    pub fn circuit(&self) -> &Arc<Circuit> {
        &self.circuit
    }

    /// Whether settled logic can stand for it.
    pub fn behaviour(&self) -> &Behaviour {
        &self.behaviour
    }

    /// What a pin does, if the package has it.
    pub fn pin(&self, label: &Label) -> Option<PinRole> {
        self.pins.get(label).copied()
    }

    /// All pins, in the order of their labels.
    pub fn pins(&self) -> impl Iterator<Item = (&Label, PinRole)> {
        self.pins.iter().map(|(label, &role)| (label, role))
    }
}

impl fmt::Debug for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Part").field("name", &self.name).field("behaviour", &self.behaviour).finish_non_exhaustive()
    }
}

fn roles(circuit: &Circuit, refused: bool) -> BTreeMap<Label, PinRole> {
    let mut pins = BTreeMap::new();
    for contact in circuit.contacts() {
        let drivers = circuit.nets().get(contact.net.index()).map_or(&[][..], |net| &net.drivers);
        // the strongest stage decides: what is push-pull at one time fights like push-pull
        let stage = [Stage::PushPull, Stage::ThreeState, Stage::OpenCollector]
            .into_iter()
            .find(|&stage| drivers.iter().any(|d| d.stage == stage));
        let role = match (contact.direction, stage) {
            (Direction::Input, _) => PinRole::Input,
            (Direction::Output, Some(stage)) => PinRole::Output(stage),
            (Direction::InOut, Some(stage)) => PinRole::InOut(stage),
            (Direction::Output, None) if refused => PinRole::Output(Stage::PushPull),
            (Direction::InOut, None) if refused => PinRole::Analog,
            // an output that never drives, and a contact of both directions that only ever reads
            (Direction::Output, None) => PinRole::Output(Stage::ThreeState),
            (Direction::InOut, None) => PinRole::Input,
        };
        pins.insert(contact.label.clone(), role);
    }
    for (label, rail) in circuit.supplies() {
        pins.insert(label.clone(), PinRole::Supply(*rail));
    }
    pins
}
