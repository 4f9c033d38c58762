//! Clusters of a board's packages that one device of a drawer can replace, ranked: which are worth it.
use std::collections::BTreeSet;
use std::fmt;
use std::time::Duration;

use gluewright_devices::device::Device;
use gluewright_devices::drawer::Drawer;
use gluewright_devices::fit::{Wishes, fit};
use gluewright_kernel::board::{Board, Netlist, PinRole};
use gluewright_kernel::limit::Limit;
use serde::Serialize;

/// Packages that one device can replace.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Cluster {
    /// The packages: reference and type, in the order of the trace.
    pub packages: Vec<(String, String)>,
    /// The contacts of its boundary.
    pub contacts: usize,
    /// The smallest device of the drawer that holds it.
    pub device: &'static str,
    /// Macrocells and product terms in use.
    pub macrocells: usize,
    /// Product terms in use.
    pub terms: usize,
}

/// The most packages in a cluster.
const MOST_PACKAGES: usize = 16;

/// The most clusters that are fitted.
const MOST_FITTED: usize = 60;

/// The longest that a fit may take.
const FIT: Duration = Duration::from_millis(500);

/// Clusters of at least two packages, more packages first, then fewer contacts, at most ten. A cluster within another that
/// is listed is left out. Each grows from one package by the neighbour that leaves the fewest nets at the boundary.
pub fn clusters(board: &Board, drawer: &Drawer, wishes: &Wishes) -> Vec<Cluster> {
    let netlist = board.netlist();
    let mut devices: Vec<&'static Device> = Vec::new();
    for entry in drawer.entries.iter().filter(|e| e.is_there() && e.device.replacement.is_none()) {
        if entry.device.blocks.is_none() && !devices.iter().any(|d| d.name == entry.device.name) {
            devices.push(entry.device);
        }
    }
    devices.sort_by_key(|d| d.pins.len());
    let most = devices.iter().map(|d| d.pins.len()).max().unwrap_or(0);
    let mut candidates: BTreeSet<BTreeSet<usize>> = BTreeSet::new();
    for seed in 0..netlist.chips.len() {
        candidates.extend(grown(&netlist, seed, most));
    }
    let mut ranked: Vec<(usize, usize, BTreeSet<usize>)> =
        candidates.into_iter().map(|c| (c.len(), boundary(&netlist, &c), c)).collect();
    ranked.sort_by(|a, b| (b.0, a.1, &a.2).cmp(&(a.0, b.1, &b.2)));
    let (mut found, mut listed): (Vec<Cluster>, Vec<BTreeSet<usize>>) = (Vec::new(), Vec::new());
    let mut fitted = 0;
    for (_, _, chips) in ranked {
        if listed.iter().any(|l| chips.is_subset(l)) {
            continue;
        }
        let names: Vec<&str> =
            chips.iter().filter_map(|&c| netlist.chips.get(c)).map(|c| c.reference.as_str()).collect();
        let Ok(cluster) = board.replacing(&names) else { continue };
        fitted += 1;
        let wishes = wishes.clone().within(Limit::within(FIT).and(wishes.limit()));
        let holds = devices.iter().find_map(|d| Some((d, fit(&cluster.rest, d, &wishes).ok()?)));
        if let Some((device, held)) = holds {
            found.push(Cluster {
                packages: cluster.replaced.clone(),
                contacts: cluster.rest.contacts().len(),
                device: device.name,
                macrocells: held.cells.len(),
                terms: held.term_count(),
            });
            listed.push(chips);
        }
        if found.len() == 10 || fitted == MOST_FITTED {
            break;
        }
    }
    found
}

/// The clusters on the way from one package, two packages and more.
fn grown(netlist: &Netlist, seed: usize, most: usize) -> Vec<BTreeSet<usize>> {
    let mut now = BTreeSet::from([seed]);
    let mut all = Vec::new();
    while now.len() < MOST_PACKAGES {
        let near: BTreeSet<usize> = nets_of(netlist, &now)
            .into_iter()
            .filter_map(|n| netlist.nets.get(n))
            .flat_map(|n| n.pins.iter().map(|p| p.0))
            .filter(|c| !now.contains(c))
            .collect();
        let with = |c: usize| now.iter().copied().chain([c]).collect::<BTreeSet<usize>>();
        let Some(next) = near.into_iter().map(with).min_by_key(|set| boundary(netlist, set)) else { break };
        // more than twice what any device has will not come back
        let contacts = boundary(netlist, &next);
        if contacts > most * 2 {
            break;
        }
        now = next;
        if contacts <= most {
            all.push(now.clone());
        }
    }
    all
}

/// The nets of these packages, without rails.
fn nets_of(netlist: &Netlist, chips: &BTreeSet<usize>) -> BTreeSet<usize> {
    let pins = chips.iter().filter_map(|&c| netlist.chips.get(c)).flat_map(|c| &c.pins);
    pins.map(|p| p.1).filter(|&n| netlist.nets.get(n).is_some_and(|n| !n.is_rail)).collect()
}

/// How many nets of these packages something else reads or drives.
fn boundary(netlist: &Netlist, chips: &BTreeSet<usize>) -> usize {
    let outside = |n: &usize| {
        netlist.nets.get(*n).is_some_and(|net| {
            let others = net
                .pins
                .iter()
                .any(|(c, _, role)| !chips.contains(c) && !matches!(role, PinRole::Unconnected | PinRole::Supply(_)));
            others || !net.contacts.is_empty()
        })
    };
    nets_of(netlist, chips).iter().filter(|n| outside(n)).count()
}

impl fmt::Display for Cluster {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let packages: Vec<String> = self.packages.iter().map(|(r, p)| format!("{r} {p}")).collect();
        write!(
            f,
            "{} packages ({}), {} contacts: one {} ({} macrocells, {} product terms)",
            self.packages.len(),
            packages.join(", "),
            self.contacts,
            self.device,
            self.macrocells,
            self.terms
        )
    }
}
