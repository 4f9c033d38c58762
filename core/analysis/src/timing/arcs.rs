//! The delays of a board's parts as arcs from net to net.
use std::collections::BTreeMap;
use std::sync::Arc;

use super::influence::{Edges, Influence, Way, influences, reads};
use super::{Edge, Step};
use gluewright_kernel::board::{Behaviour, Chip, Netlist};
use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_kernel::figures::{Change, Figure, PartFigures};

/// Where an arc or a sampling is in its part.
#[derive(Clone, Debug)]
pub(super) struct Pins {
    /// Position in [`Netlist::chips`].
    pub(super) chip: usize,
    pub(super) from: Label,
    pub(super) to: Label,
}

/// A delay of one part between two nets.
#[derive(Clone, Debug)]
pub(super) struct DelayArc {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) way: Way,
    pub(super) edges: Edges,
    /// It turns a bus on that the board drives too: what is read there then is not followed into the card.
    pub(super) is_end: bool,
    pub(super) through: Arc<str>,
    /// By the output's edge: the longest delay, under whatever condition.
    pub(super) most: [Option<Figure>; 2],
    /// The longest that the sheet allows under every condition.
    pub(super) sure: [Option<Figure>; 2],
    /// Nothing for a device.
    pub(super) pins: Option<Pins>,
}

/// Data that must be steady around an edge, or a clear that must have ended before it.
#[derive(Clone, Debug)]
pub(super) struct Sampling {
    pub(super) data: usize,
    pub(super) clock: usize,
    pub(super) through: Arc<str>,
    /// The changes of the data that are meant, by [`Edge::index`]: of a clear its release only.
    pub(super) data_edges: [bool; 2],
    /// The edges at the clock pin after which the data no longer count.
    pub(super) clock_edges: [bool; 2],
    /// Longest over the conditions of the sheet, and what it asks for under every one.
    pub(super) setup: [Option<Figure>; 2],
    pub(super) hold: [Option<Figure>; 2],
    /// A release of a clear or preset: it has no hold time.
    pub(super) is_recovery: bool,
    /// Nothing for a device.
    pub(super) pins: Option<Pins>,
}

impl Sampling {
    /// What the figure before the edge is called.
    pub(super) fn before(&self) -> &'static str {
        if self.is_recovery { "recovery time" } else { "setup time" }
    }
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
    for (at, chip) in netlist.chips.iter().enumerate() {
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
        arcs.delays_of(netlist, at, chip, &found, figures);
        arcs.samplings_of(netlist, at, chip, figures);
    }
    arcs
}

/// What an output does, by way and edge.
fn change(way: Way, edge: Edge) -> Change {
    match (way, edge) {
        (Way::Through | Way::Clocked, Edge::Rise) => Change::Rises,
        (Way::Through | Way::Clocked, Edge::Fall) => Change::Falls,
        (Way::On, Edge::Rise) => Change::DrivesHigh,
        (Way::On, Edge::Fall) => Change::DrivesLow,
        (Way::Off, Edge::Rise) => Change::LetsGoHigh,
        (Way::Off, Edge::Fall) => Change::LetsGoLow,
    }
}

/// The most that is asked for under some condition, and the least that is under every one.
fn span<'f>(all: impl Iterator<Item = &'f Figure> + Clone) -> [Option<Figure>; 2] {
    let by = |a: &&Figure, b: &&Figure| a.value.total_cmp(&b.value);
    [all.clone().max_by(by).cloned(), all.min_by(by).cloned()]
}

impl Arcs {
    fn delays_of(
        &mut self,
        netlist: &Netlist,
        at: usize,
        chip: &Chip,
        found: &[Influence],
        figures: Option<&PartFigures>,
    ) {
        for influence in found {
            let (from_pin, to_pin, way) = (&influence.from, &influence.to, influence.way);
            let (Some(from), Some(to)) = (signal(netlist, chip, from_pin), signal(netlist, chip, to_pin)) else {
                continue;
            };
            let most = |edge| figures.and_then(|f| f.longest(from_pin, to_pin, change(way, edge))).cloned();
            let sure = |edge| figures.and_then(|f| f.least_of_longest(from_pin, to_pin, change(way, edge))).cloned();
            let is_bus = netlist.nets.get(to).is_some_and(|net| !net.contacts.is_empty());
            self.delays.push(DelayArc {
                from,
                to,
                way,
                edges: influence.edges,
                is_end: matches!(way, Way::On | Way::Off) && is_bus,
                through: format!("{} pin {from_pin} to {to_pin}", chip.called()).into(),
                most: Edge::BOTH.map(most),
                sure: Edge::BOTH.map(sure),
                pins: Some(Pins { chip: at, from: from_pin.clone(), to: to_pin.clone() }),
            });
        }
    }

    fn samplings_of(&mut self, netlist: &Netlist, at: usize, chip: &Chip, figures: Option<&PartFigures>) {
        // of each pair of pins: the edges of the data and of the clock, and whether it is a recovery
        let mut pairs: BTreeMap<(Label, Label, bool), [[bool; 2]; 2]> = BTreeMap::new();
        let mut pair = |pin: &Label, clock: &Label, is_recovery, edges: [[bool; 2]; 2]| {
            let known = pairs.entry((pin.clone(), clock.clone(), is_recovery)).or_default();
            for (known, new) in known.iter_mut().flatten().zip(edges.into_iter().flatten()) {
                *known |= new;
            }
        };
        let circuit = chip.part.circuit();
        for element in circuit.elements() {
            let acts = if element.is_register() { Edge::Rise } else { Edge::Fall };
            let clocks = reads(circuit, element.gate());
            let forced = [element.clear, element.preset].map(|e| reads(circuit, e));
            for (clock, edges) in &clocks {
                let clock_edges = Edge::BOTH.map(|edge| edges.has(edge, acts));
                for pin in reads(circuit, element.data()).keys().filter(|pin| *pin != clock) {
                    pair(pin, clock, false, [[true; 2], clock_edges]);
                }
                for (pin, edges) in forced.iter().flatten().filter(|(pin, _)| *pin != clock && element.is_register()) {
                    pair(pin, clock, true, [Edge::BOTH.map(|edge| edges.has(edge, Edge::Fall)), clock_edges]);
                }
            }
        }
        let windows = figures.map_or(&[][..], |f| &f.windows);
        for window in windows {
            // what a sheet asks for beyond what the logic shows; a release before an edge has no hold time
            let known = pairs.keys().any(|(pin, clock, _)| *pin == window.pin && *clock == window.clock);
            if !known {
                let clock_edges = [window.rising, !window.rising];
                let edges = [[true; 2], clock_edges];
                pairs.insert((window.pin.clone(), window.clock.clone(), window.hold.is_none()), edges);
            }
        }
        for ((pin, clock, is_recovery), [data_edges, clock_edges]) in pairs {
            let (Some(data), Some(clocked)) = (signal(netlist, chip, &pin), signal(netlist, chip, &clock)) else {
                continue;
            };
            let both = windows.iter().filter(|w| w.pin == pin && w.clock == clock);
            self.samplings.push(Sampling {
                data,
                clock: clocked,
                through: format!("{} pin {pin} before pin {clock}", chip.called()).into(),
                data_edges,
                clock_edges,
                setup: span(both.clone().filter_map(|w| w.setup.as_ref())),
                hold: span(both.filter_map(|w| w.hold.as_ref())),
                is_recovery,
                pins: Some(Pins { chip: at, from: pin, to: clock }),
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
