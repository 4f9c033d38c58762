//! Joins the net names of a sheet over jumpers and resistors, and keeps what pulls them; what a resistor does is decided
//! in `series`.
use std::collections::{HashMap, HashSet};

use super::finding::{Finding, FindingKind, Findings, Subject, shown};
use super::package::{Fitted, Package, Pin};
use super::vocabulary::{Jumper, Passive, Supply, Wire, supply};
use crate::circuit::{Label, Origin};

/// Names of nets, and which of them are one net.
pub(super) struct Joining {
    by_name: HashMap<String, usize>,
    names: Vec<(String, Origin)>,
    parents: Vec<usize>,
    supplies: Vec<Option<Supply>>,
    pulls: Vec<PullResistor>,
    pub(super) holds: Vec<HoldResistor>,
    /// Ends of resistors that stay: positions of the package and of its pin.
    pub(super) staying: HashSet<(usize, usize)>,
    loose: Vec<(usize, String, Origin)>,
}

/// A resistor from a net to a rail.
pub(super) struct PullResistor {
    pub(super) net: usize,
    pub(super) up: bool,
    pub(super) ohms: Option<f64>,
    pub(super) origin: Origin,
}

/// A resistor from an output to a net whose other outputs can let go: while they do, it holds the net at the output's
/// level.
pub(super) struct HoldResistor {
    /// A name of the net.
    pub(super) net: usize,
    /// A name of the net of the output that holds it.
    pub(super) by: usize,
    /// Position of the resistor's package.
    pub(super) package: usize,
    pub(super) origin: Origin,
}

impl Joining {
    pub(super) fn new(packages: &[Package], untraced: &[(String, Origin)]) -> Self {
        let mut joining = Joining {
            by_name: HashMap::new(),
            names: Vec::new(),
            parents: Vec::new(),
            supplies: Vec::new(),
            pulls: Vec::new(),
            holds: Vec::new(),
            staying: HashSet::new(),
            loose: Vec::new(),
        };
        let mut rails: HashMap<Supply, usize> = HashMap::new();
        let rows = packages.iter().flat_map(|p| &p.pins).filter_map(|pin| match &pin.wire {
            Wire::Net(name) => Some((name, &pin.origin)),
            _ => None,
        });
        for (name, origin) in rows.chain(untraced.iter().map(|(name, origin)| (name, origin))) {
            if joining.by_name.contains_key(name) {
                continue;
            }
            let id = joining.names.len();
            joining.by_name.insert(name.clone(), id);
            joining.names.push((name.clone(), origin.clone()));
            joining.parents.push(id);
            joining.supplies.push(supply(name));
            // VCC and +5V are one net, GND and 0V another; other voltages are what their names say
            if let Some(rail @ (Supply::Vcc | Supply::Gnd)) = supply(name) {
                let first = *rails.entry(rail).or_insert(id);
                joining.unite(first, id);
            }
        }
        joining
    }

    /// All names, in the order of the sheet.
    pub(super) fn names(&self) -> Vec<(String, usize)> {
        self.names.iter().map(|(name, _)| name.clone()).zip(0..).collect()
    }

    pub(super) fn id(&self, name: &str) -> Option<usize> {
        self.by_name.get(name).copied()
    }

    pub(super) fn name(&self, id: usize) -> String {
        self.names.get(id).map(|(name, _)| name.clone()).unwrap_or_default()
    }

    pub(super) fn origin(&self, id: usize) -> Origin {
        self.names.get(id).map(|(_, origin)| origin.clone()).unwrap_or_default()
    }

    /// The id that stands for the whole net.
    pub(super) fn root(&mut self, id: usize) -> usize {
        let mut at = id;
        while let Some(&parent) = self.parents.get(at).filter(|&&parent| parent != at) {
            // halves the way for the next one who asks
            let above = self.parents.get(parent).copied().unwrap_or(parent);
            if let Some(here) = self.parents.get_mut(at) {
                *here = above;
            }
            at = above;
        }
        at
    }

    pub(super) fn supply(&mut self, id: usize) -> Option<Supply> {
        let root = self.root(id);
        self.supplies.get(root).copied().flatten()
    }

    pub(super) fn pulls(&self) -> &[PullResistor] {
        &self.pulls
    }

    /// Nets that a passive part leads away from, to where nobody has looked.
    pub(super) fn loose_ends(&self) -> Vec<(usize, String, Origin)> {
        self.loose.clone()
    }

    /// Makes two nets one; the one named first stays the root. False if they are different rails.
    pub(super) fn unite(&mut self, a: usize, b: usize) -> bool {
        let (a, b) = (self.root(a), self.root(b));
        let (root, other) = (a.min(b), a.max(b));
        let rails = (self.supply(root), self.supply(other));
        if root != other {
            if matches!(rails, (Some(one), Some(two)) if one != two) {
                return false;
            }
            if let Some(parent) = self.parents.get_mut(other) {
                *parent = root;
            }
            if let Some(rail) = self.supplies.get_mut(root) {
                *rail = rails.0.or(rails.1);
            }
        }
        true
    }

    /// Joins over jumpers and over resistors of no ohms.
    pub(super) fn join_wires(&mut self, packages: &[Package], findings: &mut Findings) {
        for package in packages {
            let Fitted::Passive(passive) = &package.fitted else { continue };
            let joined: Vec<Vec<&Pin>> = match passive {
                Passive::Jumper(Jumper::Open) => continue,
                Passive::Jumper(Jumper::All) => vec![package.pins.iter().collect()],
                Passive::Jumper(Jumper::Pair(a, b)) => {
                    for label in [a, b] {
                        if package.pin(label).is_none() {
                            findings.push(no_row(package, label));
                        }
                    }
                    vec![[a, b].into_iter().filter_map(|label| package.pin(label)).collect()]
                }
                Passive::Resistors { ohms: Some(0.0), links, .. } => {
                    links.iter().filter_map(|&link| ends(package, link, links, findings)).map(Vec::from).collect()
                }
                _ => continue,
            };
            for pins in joined {
                if pins.len() < 2 && matches!(passive, Passive::Jumper(Jumper::All)) {
                    findings.push(no_row(package, &Label::from(if pins.is_empty() { 1 } else { 2 })));
                }
                for pair in pins.windows(2) {
                    if let [a, b] = pair {
                        self.wire(package, a, b, findings);
                    }
                }
            }
        }
    }

    fn wire(&mut self, package: &Package, a: &Pin, b: &Pin, findings: &mut Findings) {
        let Some((x, y)) = self.nets(package, a, b) else { return };
        if !self.unite(x, y) {
            let message = format!("{} joins {} and {}", package.called(), shown(&self.name(x)), shown(&self.name(y)));
            let mend = "two supplies can't be one net: is a pin on the wrong net, or the jumper open?";
            findings.push(Finding::error(FindingKind::RailsShorted, &b.origin, message, mend));
        }
    }

    pub(super) fn pull(
        &mut self,
        package: &Package,
        net: usize,
        rail: Supply,
        ohms: Option<f64>,
        (origin, is_logic): (&Origin, bool),
        findings: &mut Findings,
    ) {
        let (who, name) = (package.called(), self.name(net));
        match rail {
            Supply::Vcc | Supply::Gnd => {}
            Supply::Higher => {
                let message = format!("{who} pulls {} to more than VCC", shown(&name));
                let mend = "logic reads it as high; what replaces the card must stand that voltage";
                let warning = Finding::warning(FindingKind::OtherSupply, origin, message, mend);
                let warning = warning.about([Subject::Net(name.clone())]);
                findings.push(warning.folding(4, "nets that resistors pull to more than VCC: ", ""));
            }
            Supply::Negative if !is_logic => {
                let message = format!("{who} pulls {} below GND, where no logic is", shown(&name));
                findings.push(Finding::note(FindingKind::Ignored, origin, message, ""));
                return;
            }
            Supply::Negative => {
                let message = format!("{who} pulls {} below GND", shown(&name));
                let mend = "that is no level of TTL: cut the card there and make the net behind it a contact";
                findings.push(Finding::error(FindingKind::OtherSupply, origin, message, mend));
                return;
            }
        }
        let up = rail != Supply::Gnd;
        self.pulls.push(PullResistor { net, up, ohms, origin: origin.clone() });
    }

    /// The nets of two ends. If one end is untraced, the other's net is a loose end; if one is open, nothing is joined.
    pub(super) fn nets(&mut self, package: &Package, a: &Pin, b: &Pin) -> Option<(usize, usize)> {
        let id = |pin: &Pin| match &pin.wire {
            Wire::Net(name) => self.by_name.get(name).copied(),
            _ => None,
        };
        let (x, y) = (id(a), id(b));
        let (near, far) = match (x, y) {
            (Some(x), Some(y)) => return Some((x, y)),
            (Some(x), None) => (x, b),
            (None, Some(y)) => (y, a),
            (None, None) => return None,
        };
        if far.wire == Wire::Untraced {
            let why = format!(
                "{} leads away from it, and {} is not yet traced",
                package.called(),
                package.pin_called(&far.label)
            );
            self.loose.push((near, why, far.origin.clone()));
        }
        None
    }
}

/// The two ends of a resistor, if both have rows. An end without a row is an error, except at the unused resistors of a
/// network whose common pin has its row.
pub(super) fn ends<'a>(
    package: &'a Package,
    (a, b): (u16, u16),
    links: &[(u16, u16)],
    findings: &mut Findings,
) -> Option<[&'a Pin; 2]> {
    let (a, b) = (Label::from(a), Label::from(b));
    match (package.pin(&a), package.pin(&b)) {
        (Some(x), Some(y)) => Some([x, y]),
        (None, None) => None,
        (Some(_), None) => {
            // the first end of every link is the common pin, if there is one
            let common = links.len() > 1 && links.iter().all(|link| Some(link.0) == a.number());
            if !common {
                findings.push(no_row(package, &b));
            }
            None
        }
        (None, Some(_)) => {
            findings.push(no_row(package, &a));
            None
        }
    }
}

fn no_row(package: &Package, label: &Label) -> Finding {
    let message = format!("{} has no row for pin {label}", package.called());
    let mend = "write where it goes: a net, `open` if it was measured open, `untraced` if nobody has looked";
    Finding::error(FindingKind::Row, &package.origin, message, mend)
}
