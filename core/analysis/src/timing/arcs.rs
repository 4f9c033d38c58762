//! The delays of a board's parts as arcs from net to net.
use std::collections::BTreeMap;
use std::sync::Arc;

use super::Step;
use super::influence::{Influence, Sense, Way, influences, reads};
use gluewright_kernel::board::{Behaviour, Chip, Netlist};
use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_kernel::figures::{Change, Figure, PartFigures};

/// A delay of one part between two nets.
#[derive(Clone, Debug)]
pub(super) struct DelayArc {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) way: Way,
    pub(super) sense: Sense,
    /// Whether the output only rises, or only falls.
    pub(super) only: Option<bool>,
    /// It turns a bus on that the board drives too: what is read there then is not followed into the card.
    pub(super) is_end: bool,
    pub(super) through: Arc<str>,
    /// To a rise and to a fall of the output; for an enable to being driven high and low.
    pub(super) rise: Option<Figure>,
    pub(super) fall: Option<Figure>,
    /// To letting go.
    pub(super) off: Option<Figure>,
}

/// Data that must be steady around an edge.
#[derive(Clone, Debug)]
pub(super) struct Sampling {
    pub(super) data: usize,
    pub(super) clock: usize,
    pub(super) through: String,
    pub(super) setup: Option<Figure>,
    pub(super) hold: Option<Figure>,
    /// A release of a clear or preset: it has no hold time.
    pub(super) is_recovery: bool,
}

/// All arcs and samplings of a board.
#[derive(Clone, Debug, Default)]
pub(super) struct Arcs {
    pub(super) delays: Vec<DelayArc>,
    pub(super) samplings: Vec<Sampling>,
    /// What there is to say, with the package that it is about.
    pub(super) notes: Vec<(String, String)>,
}

/// Reads them off a board.
pub(super) fn arcs(netlist: &Netlist) -> Arcs {
    let mut arcs = Arcs::default();
    let mut known: BTreeMap<*const Circuit, Arc<Vec<Influence>>> = BTreeMap::new();
    for chip in &netlist.chips {
        if *chip.part.behaviour() != Behaviour::Logic {
            arcs.notes.push((
                chip.reference.clone(),
                format!("{} is no logic: no path leads through it here", chip.called()),
            ));
            continue;
        }
        let circuit = chip.part.circuit();
        let found = known.entry(Arc::as_ptr(circuit)).or_insert_with(|| Arc::new(influences(circuit)));
        let found = Arc::clone(found);
        let figures = chip.part.figures().map(Arc::as_ref);
        if figures.is_none_or(|f| f.delays.is_empty()) {
            arcs.notes.push((
                chip.reference.clone(),
                format!("no figures are known for {}: its delays count as nought", chip.called()),
            ));
        }
        arcs.delays_of(netlist, chip, &found, figures);
        arcs.samplings_of(netlist, chip, figures);
    }
    arcs
}

impl Arcs {
    fn delays_of(&mut self, netlist: &Netlist, chip: &Chip, found: &[Influence], figures: Option<&PartFigures>) {
        for influence in found {
            let (Some(from), Some(to)) = (signal(netlist, chip, &influence.from), signal(netlist, chip, &influence.to))
            else {
                continue;
            };
            let longest = |change| figures.and_then(|f| f.longest(&influence.from, &influence.to, change)).cloned();
            let (rise, fall, off) = match influence.way {
                Way::Enabled => (longest(Change::DrivesHigh), longest(Change::DrivesLow), longest(Change::LetsGo)),
                Way::Through | Way::Clocked => (longest(Change::Rises), longest(Change::Falls), None),
            };
            let through = format!("{} pin {} to {}", chip.called(), influence.from, influence.to);
            let (way, sense, only) = (influence.way, influence.sense, influence.only);
            let is_bus = netlist.nets.get(to).is_some_and(|net| !net.contacts.is_empty());
            let is_end = way == Way::Enabled && is_bus;
            self.delays.push(DelayArc { from, to, way, sense, only, is_end, through: through.into(), rise, fall, off });
        }
    }

    fn samplings_of(&mut self, netlist: &Netlist, chip: &Chip, figures: Option<&PartFigures>) {
        let mut pairs: BTreeMap<(Label, Label), bool> = BTreeMap::new();
        let circuit = chip.part.circuit();
        for element in circuit.elements() {
            let clocks = reads(circuit, element.gate());
            for pin in reads(circuit, element.data()) {
                for clock in clocks.iter().filter(|&clock| *clock != pin) {
                    pairs.insert((pin.clone(), clock.clone()), false);
                }
            }
        }
        let windows = figures.map_or(&[][..], |f| &f.windows);
        for window in windows {
            // a release before an edge has no hold time
            pairs.entry((window.pin.clone(), window.clock.clone())).or_insert(window.hold.is_none());
        }
        for ((pin, clock), is_recovery) in pairs {
            let (Some(data), Some(clocked)) = (signal(netlist, chip, &pin), signal(netlist, chip, &clock)) else {
                continue;
            };
            let both = || windows.iter().filter(|w| w.pin == pin && w.clock == clock);
            let most = |figures: &mut dyn Iterator<Item = &Figure>| {
                figures.max_by(|a, b| a.value.total_cmp(&b.value)).cloned()
            };
            self.samplings.push(Sampling {
                data,
                clock: clocked,
                through: format!("{} pin {pin} before pin {clock}", chip.called()),
                setup: most(&mut both().filter_map(|w| w.setup.as_ref())),
                hold: most(&mut both().filter_map(|w| w.hold.as_ref())),
                is_recovery,
            });
        }
    }
}

/// The net of a pin, unless it is a rail.
fn signal(netlist: &Netlist, chip: &Chip, pin: &Label) -> Option<usize> {
    chip.net(pin).filter(|&net| netlist.nets.get(net).is_some_and(|net| !net.is_rail))
}

/// A stretch of a path over this figure.
pub(super) fn step(through: &str, figure: Option<&Figure>) -> Step {
    Step {
        through: through.to_owned(),
        ns: figure.map(|f| f.value),
        source: figure.map_or_else(|| "not known".to_owned(), |f| f.source.to_string()),
        from_memory: figure.is_some_and(|f| f.from_memory),
    }
}
