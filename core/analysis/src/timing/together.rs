//! The times at the contacts of several devices in one socket, and of packages that stay beside them.
use std::sync::Arc;

use super::arcs::{Arcs, DelayArc, Sampling, arcs};
use super::influence::{Edges, Way};
use super::original::times;
use super::{Budget, Edge, GradeChoice, Graded, Kind, Longest, Row, Timing, TypeGrade, compare, original, replacement};
use gluewright_devices::device::{Device, Grade};
use gluewright_devices::fit::Fitted;
use gluewright_kernel::board::{Board, Net, Netlist, PinRole};
use gluewright_kernel::circuit::Label;
use gluewright_kernel::figures::Figure;

/// A device in the socket.
#[derive(Clone, Copy, Debug)]
pub struct Seated<'a> {
    /// What the wiring list calls it.
    pub reference: &'a str,
    /// What it holds; its labels are contacts, wires between devices, or pins of packages that stay: `U1-11`.
    pub fitted: &'a Fitted,
    /// Its type.
    pub device: &'a Device,
}

/// The times at the board's contacts when these devices, by these grades, stand in for all packages but the kept ones. What
/// leads over several of them is added up.
pub fn together(board: &Board, kept: &[String], devices: &[(Seated<'_>, &Grade)]) -> Timing {
    let mut netlist = board.netlist();
    let wires = Wires::of(&netlist);
    let stays = |chip: usize| netlist.chips.get(chip).is_some_and(|c| kept.contains(&c.reference));
    let staying: Vec<bool> = (0..netlist.chips.len()).map(stays).collect();
    let stays = |chip: usize| staying.get(chip) == Some(&true);
    for net in &mut netlist.nets {
        net.pins.retain(|(chip, ..)| stays(*chip));
    }
    // a chip without pins has no times
    for (chip, _) in netlist.chips.iter_mut().zip(&staying).filter(|(_, stays)| !**stays) {
        chip.pins.clear();
    }
    let mut all = arcs(&netlist);
    all.notes.retain(|(reference, _)| kept.contains(reference));
    let mut joined = Joined { netlist, wires, arcs: all, rows: Longest::default(), on_demand: Vec::new(), gap: None };
    let mut name = Vec::new();
    for (seated, grade) in devices {
        let timing = replacement(seated.fitted, seated.device, grade);
        name.push(format!("{} ({})", seated.reference, timing.of));
        joined.add(seated.reference, timing);
    }
    let mut timing = times(&name.join(", "), &joined.netlist, &joined.arcs);
    for row in std::mem::take(&mut timing.rows).into_iter().chain(std::mem::take(&mut joined.rows.rows)) {
        joined.rows.take(row.kind, (&row.from, row.from_edge), (&row.to, row.to_edge), row.time);
    }
    timing.rows = joined.rows.rows;
    timing.on_demand = joined.on_demand;
    timing.gap = timing.gap.take().or(joined.gap);
    timing.finish()
}

/// Compares the original with these devices beside the kept packages, all devices of a type by the same grade.
pub fn choose_grades(board: &Board, kept: &[String], devices: &[Seated<'_>], budget: &Budget) -> GradeChoice {
    let before = original(board);
    let mut types: Vec<&Device> = Vec::new();
    for seated in devices {
        if !types.iter().any(|d| d.name == seated.device.name) {
            types.push(seated.device);
        }
    }
    // each type in each of its grades
    let mut ways: Vec<Vec<&Grade>> = vec![Vec::new()];
    for device in &types {
        let mut longer = Vec::new();
        for way in &ways {
            longer
                .extend(device.grades.iter().map(|grade| way.iter().copied().chain([grade]).collect::<Vec<&Grade>>()));
        }
        ways = longer;
    }
    let graded = ways.iter().map(|way| {
        let grade = |name: &str| types.iter().position(|d| d.name == name).and_then(|at| way.get(at).copied());
        let by: Vec<_> = devices.iter().filter_map(|s| Some((*s, grade(s.device.name)?))).collect();
        let name = match way.as_slice() {
            [only] => only.name.to_owned(),
            several => {
                let each = types.iter().zip(several).map(|(d, g)| format!("{} {}", d.name, g.name));
                each.collect::<Vec<_>>().join(" and ")
            }
        };
        let slowest =
            way.iter().map(|g| g.propagation.map(|f| f.value)).try_fold(0.0, |most: f64, ns| Some(most.max(ns?)));
        let of = types.iter().zip(way).map(|(d, g)| TypeGrade { device: d.name, grade: g.name }).collect();
        Graded::new(name, of, slowest, compare(&before, &together(board, kept, &by), budget))
    });
    GradeChoice::of(graded.collect())
}

/// The nets by what devices call them: contacts, and pins of packages.
struct Wires(Vec<(Label, usize)>);

impl Wires {
    fn of(netlist: &Netlist) -> Wires {
        let mut all = Vec::new();
        for (index, net) in netlist.nets.iter().enumerate() {
            all.extend(net.contacts.iter().map(|label| (label.clone(), index)));
        }
        for chip in &netlist.chips {
            all.extend(chip.pins.iter().map(|(pin, net)| (Label::new(format!("{}-{pin}", chip.reference)), *net)));
        }
        Wires(all)
    }
}

/// The nets and arcs so far.
struct Joined {
    netlist: Netlist,
    wires: Wires,
    arcs: Arcs,
    rows: Longest,
    on_demand: Vec<Row>,
    gap: Option<String>,
}

impl Joined {
    /// The net of a device's contact; a wire between devices is a new one.
    fn net(&mut self, label: &str) -> usize {
        let label = Label::new(label);
        if let Some((_, net)) = self.wires.0.iter().find(|(l, _)| *l == label) {
            return *net;
        }
        let net = self.netlist.nets.len();
        self.netlist.nets.push(Net {
            name: label.to_string(),
            is_rail: false,
            rail_is_high: false,
            contacts: Vec::new(),
            pins: Vec::<(usize, Label, PinRole)>::new(),
            pulls: Vec::new(),
        });
        self.wires.0.push((label, net));
        net
    }

    fn is_contact(&self, net: usize) -> bool {
        self.netlist.nets.get(net).is_some_and(|n| !n.contacts.is_empty())
    }

    /// The times of a device as arcs between nets; what concerns one contact only stays a row.
    fn add(&mut self, reference: &str, timing: Timing) {
        self.gap = self.gap.take().or(timing.gap);
        self.arcs.notes.extend(timing.notes.into_iter().map(|n| (reference.to_owned(), format!("{reference}: {n}"))));
        for row in timing.rows {
            let (from, to) = (self.net(&row.from.label), self.net(&row.to.label));
            let figure = row.time.is_complete().then(|| Figure {
                value: row.time.ns,
                source: source(&row).into(),
                from_memory: row.time.path.iter().any(|step| step.from_memory),
            });
            let through: Arc<str> = format!("{reference} {} to {}", row.from.name, row.to.name).into();
            let way = match row.kind {
                Kind::Propagation => Way::Through,
                Kind::ClockToOutput => Way::Clocked,
                Kind::Enable => Way::On,
                Kind::Disable => Way::Off,
                Kind::Setup | Kind::Hold | Kind::Recovery => {
                    self.sampling((from, row.from_edge), (to, row.to_edge), &through, row.kind, figure);
                    continue;
                }
                Kind::Period | Kind::HighPulse | Kind::LowPulse => {
                    if self.is_contact(from) && self.is_contact(to) {
                        self.rows.take(row.kind, (&row.from, row.from_edge), (&row.to, row.to_edge), row.time);
                    }
                    continue;
                }
            };
            let (Some(from_edge), Some(to_edge)) = (row.from_edge, row.to_edge) else { continue };
            let most = Edge::BOTH.map(|edge| figure.clone().filter(|_| edge == to_edge));
            self.arcs.delays.push(DelayArc {
                from,
                to,
                way,
                edges: Edges::from(from_edge, &[to_edge]),
                is_end: matches!(way, Way::On | Way::Off) && self.is_contact(to),
                through,
                sure: most.clone(),
                most,
                pins: None,
            });
        }
        for row in timing.on_demand {
            let (from, to) = (self.net(&row.from.label), self.net(&row.to.label));
            if self.is_contact(from) && self.is_contact(to) {
                self.on_demand.push(row);
            }
        }
    }

    fn sampling(
        &mut self,
        (data, data_edge): (usize, Option<Edge>),
        (clock, clock_edge): (usize, Option<Edge>),
        through: &Arc<str>,
        kind: Kind,
        figure: Option<Figure>,
    ) {
        let only = |edge: Option<Edge>| Edge::BOTH.map(|e| edge.is_none_or(|only| only == e));
        let (data_edges, clock_edges, is_recovery) = (only(data_edge), only(clock_edge), kind == Kind::Recovery);
        let same = |s: &Sampling| {
            (s.data, s.clock, s.data_edges, s.clock_edges, s.is_recovery)
                == (data, clock, data_edges, clock_edges, is_recovery)
                && s.through == *through
        };
        let index = match self.arcs.samplings.iter().position(same) {
            Some(index) => index,
            None => {
                self.arcs.samplings.push(Sampling {
                    data,
                    clock,
                    through: Arc::clone(through),
                    data_edges,
                    clock_edges,
                    setup: [None, None],
                    hold: [None, None],
                    is_recovery,
                    pins: None,
                });
                self.arcs.samplings.len() - 1
            }
        };
        if let Some(sampling) = self.arcs.samplings.get_mut(index) {
            let both = [figure.clone(), figure];
            match kind {
                Kind::Hold => sampling.hold = both,
                _ => sampling.setup = both,
            }
        }
    }
}

/// Where a device's time comes from, in one line.
fn source(row: &Row) -> String {
    let mut all: Vec<&str> = row.time.path.iter().map(|s| s.source.as_str()).collect();
    all.sort_unstable();
    all.dedup();
    all.join("; ")
}
