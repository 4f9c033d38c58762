//! Which pins are on which net, once jumpers and series resistors have joined the names of the sheet, and what pulls it.
use std::collections::{BTreeMap, HashMap, HashSet};

use super::finding::{Finding, FindingKind, Findings, shown};
use super::join::{Joining, PullResistor};
use super::library::PinRole;
use super::package::{Fitted, Package, Pin};
use super::value::pulled;
use super::vocabulary::{Passive, Supply, Wire};
use crate::circuit::{Label, Origin, Pull, Stage};
use crate::figures::OpenInput;

/// All nets of a card.
#[derive(Clone, Debug, Default)]
pub(super) struct Nets {
    by_name: HashMap<String, usize>,
    all: Vec<Net>,
}

/// One net.
#[derive(Clone, Debug)]
pub(super) struct Net {
    /// The name of the contact's net if a contact is on it, else the name that comes first in the sheet.
    pub(super) name: String,
    pub(super) supply: Option<Supply>,
    pub(super) uses: Vec<Use>,
    pub(super) pull: Pull,
    /// Its resistors to rails: up or down, and the resistance if it was written.
    pub(super) pulls: Vec<(bool, Option<f64>)>,
    /// The resistor that holds it at the level of another net while nothing drives it.
    pub(super) hold: Option<Hold>,
    /// What its inputs read while nothing drives or pulls it.
    pub(super) open_read: OpenInput,
    /// Its contact's label if it reaches logic and no contact but a part that stays: that part's first pin on it.
    pub(super) boundary: Option<Label>,
    /// Why nobody knows all of it.
    pub(super) untraced: Option<(String, Origin)>,
    /// The first row that names it.
    pub(super) origin: Origin,
}

/// A resistor that holds a net.
#[derive(Clone, Debug)]
pub(super) struct Hold {
    /// Position of the net at whose level.
    pub(super) by: usize,
    /// Position of the resistor's package.
    pub(super) package: usize,
    pub(super) origin: Origin,
}

/// A pin on a net: positions of the package and of its pin.
#[derive(Clone, Copy, Debug)]
pub(super) struct Use {
    pub(super) package: usize,
    pub(super) pin: usize,
    pub(super) role: Role,
}

/// What a pin is to its net.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// A pin of a known part.
    Pin(PinRole),
    /// A contact: the board outside.
    Contact,
    /// A pin of a part that stays: the outside as well.
    Outside,
    /// The end of a resistor, a jumper, a capacitor …
    Passive,
    /// A pin of a package of unknown type, or of an empty position.
    Unknown,
}

impl Role {
    /// The stage, if the pin drives.
    pub(super) fn stage(self) -> Option<Stage> {
        match self {
            Role::Pin(PinRole::Output(stage) | PinRole::InOut(stage)) => Some(stage),
            _ => None,
        }
    }

    /// True for a pin of a logic part.
    pub(super) fn is_logic(self) -> bool {
        self.reads() || self.stage().is_some()
    }

    /// True for a pin of a known part that carries no level of logic.
    pub(super) fn is_analog(self) -> bool {
        self == Role::Pin(PinRole::Analog)
    }

    /// True if the pin reads.
    pub(super) fn reads(self) -> bool {
        matches!(self, Role::Pin(PinRole::Input | PinRole::InOut(_)))
    }
}

/// What a pin is to its net.
pub(super) fn role(package: &Package, pin: &Pin) -> Role {
    match &package.fitted {
        Fitted::Contacts => Role::Contact,
        Fitted::Chip(part) => part.pin(&pin.label).map_or(Role::Unknown, Role::Pin),
        Fitted::Passive(_) => Role::Passive,
        Fitted::Stays(_) => Role::Outside,
        Fitted::Unknown | Fitted::Empty => Role::Unknown,
    }
}

impl Net {
    /// True if it leaves what is replaced: a contact is on it, or a part that stays.
    pub(super) fn has_outside(&self) -> bool {
        self.uses.iter().any(|u| matches!(u.role, Role::Contact | Role::Outside))
    }

    /// Takes up an input that is on it already: inputs that don't agree leave the level open.
    fn read_by(&mut self, open: OpenInput) {
        let inputs = self.uses.iter().filter(|u| u.role.reads()).count();
        if inputs <= 1 {
            self.open_read = open;
        } else if self.open_read != open {
            self.open_read = OpenInput::Unknown;
        }
    }

    /// True if a part that stays is on it.
    pub(super) fn has_staying(&self) -> bool {
        self.uses.iter().any(|u| u.role == Role::Outside)
    }

    /// True if a pin of a logic part is on it.
    pub(super) fn has_logic(&self) -> bool {
        self.uses.iter().any(|u| u.role.is_logic())
    }

    /// True if a contact is on it.
    pub(super) fn has_contact(&self) -> bool {
        self.uses.iter().any(|u| u.role == Role::Contact)
    }

    /// Those who drive it, with their stages.
    pub(super) fn drivers(&self) -> impl Iterator<Item = (Use, Stage)> {
        self.uses.iter().filter_map(|u| Some((*u, u.role.stage()?)))
    }
}

impl Nets {
    /// Joins what jumpers and series resistors join, and sorts the pins onto the nets.
    pub(super) fn new(packages: &[Package], untraced: &[(String, Origin)], findings: &mut Findings) -> Self {
        let mut joining = Joining::new(packages, untraced);
        joining.join_wires(packages, findings);
        joining.sort_resistors(packages, findings);
        let mut nets = Nets::default();
        let mut at_root: HashMap<usize, usize> = HashMap::new();
        for (name, id) in joining.names() {
            let root = joining.root(id);
            let at = *at_root.entry(root).or_insert_with(|| {
                nets.all.push(Net {
                    name: name.clone(),
                    supply: joining.supply(root),
                    uses: Vec::new(),
                    pull: Pull::None,
                    pulls: Vec::new(),
                    hold: None,
                    open_read: OpenInput::High,
                    boundary: None,
                    untraced: None,
                    origin: joining.origin(id),
                });
                nets.all.len() - 1
            });
            nets.by_name.insert(name, at);
        }
        nets.place_pins(packages, &joining.staying);
        for (name, origin) in untraced {
            nets.taint(name, || "it is marked as not traced to its end".to_owned(), origin);
        }
        for (id, why, origin) in joining.loose_ends() {
            nets.taint(&joining.name(id), || why.clone(), &origin);
        }
        nets.pull(&joining, findings);
        nets.hold(&joining);
        nets.name_boundaries(packages);
        nets.taint_undriven(packages);
        nets
    }

    /// All nets, in the order in which the sheet names them.
    pub(super) fn all(&self) -> &[Net] {
        &self.all
    }

    /// Position of the net with this name.
    pub(super) fn find(&self, name: &str) -> Option<usize> {
        self.by_name.get(name).copied()
    }

    /// The net with this name.
    pub(super) fn get(&self, name: &str) -> Option<&Net> {
        self.find(name).and_then(|at| self.all.get(at))
    }

    /// All names that the sheet uses.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.by_name.keys().map(String::as_str)
    }

    fn place_pins(&mut self, packages: &[Package], staying: &HashSet<(usize, usize)>) {
        for (p, package) in packages.iter().enumerate() {
            for (k, pin) in package.pins.iter().enumerate() {
                let Wire::Net(name) = &pin.wire else { continue };
                let role = if staying.contains(&(p, k)) { Role::Outside } else { role(package, pin) };
                let Some(net) = self.by_name.get(name).and_then(|&at| self.all.get_mut(at)) else { continue };
                if role == Role::Contact && !net.has_contact() && net.supply.is_none() {
                    net.name.clone_from(name);
                }
                net.uses.push(Use { package: p, pin: k, role });
                if let Some(part) = package.chip().filter(|_| role.reads()) {
                    net.read_by(part.open_inputs());
                }
                let why = match package.fitted {
                    Fitted::Unknown => "a package whose type nobody knows",
                    Fitted::Empty => "an empty position",
                    _ => continue,
                };
                self.taint(name, || format!("{} is {why}", package.called()), &pin.origin);
            }
        }
    }

    /// Marks a net as not fully known; a rail stays a rail whatever else is on it.
    fn taint(&mut self, name: &str, why: impl FnOnce() -> String, origin: &Origin) {
        if let Some(net) = self.by_name.get(name).and_then(|&at| self.all.get_mut(at))
            && net.supply.is_none()
            && net.untraced.is_none()
        {
            net.untraced = Some((why(), origin.clone()));
        }
    }

    fn hold(&mut self, joining: &Joining) {
        for hold in &joining.holds {
            let places = (self.find(&joining.name(hold.net)), self.find(&joining.name(hold.by)));
            let (Some(at), Some(by)) = places else { continue };
            if let Some(net) = self.all.get_mut(at) {
                net.hold = Some(Hold { by, package: hold.package, origin: hold.origin.clone() });
            }
        }
    }

    /// Gives the nets between logic and parts that stay a contact of their own, called by the first such pin: `U1-11`.
    fn name_boundaries(&mut self, packages: &[Package]) {
        let contacts = packages.iter().filter(|p| matches!(p.fitted, Fitted::Contacts)).flat_map(|p| &p.pins);
        let mut taken: HashSet<Label> = contacts.map(|pin| pin.label.clone()).collect();
        for net in self.all.iter_mut().filter(|net| net.supply.is_none() && !net.has_contact() && net.has_logic()) {
            let first = net.uses.iter().find(|u| u.role == Role::Outside);
            let Some(package) = first.and_then(|u| packages.get(u.package)) else { continue };
            let Some(pin) = first.and_then(|u| package.pins.get(u.pin)) else { continue };
            let mut label = Label::new(format!("{}-{}", package.reference, pin.label));
            while !taken.insert(label.clone()) {
                label = Label::new(format!("{label}'"));
            }
            net.boundary = Some(label);
        }
    }

    fn pull(&mut self, joining: &Joining, findings: &mut Findings) {
        let mut pulls: BTreeMap<usize, Vec<&PullResistor>> = BTreeMap::new();
        for pull in joining.pulls() {
            if let Some(at) = self.find(&joining.name(pull.net)) {
                pulls.entry(at).or_default().push(pull);
            }
        }
        for (at, pulls) in pulls {
            let Some(net) = self.all.get_mut(at).filter(|net| net.supply.is_none()) else { continue };
            let toward =
                |up: bool| -> Vec<Option<f64>> { pulls.iter().filter(|p| p.up == up).map(|p| p.ohms).collect() };
            net.pulls = pulls.iter().map(|p| (p.up, p.ohms)).collect();
            if let Some(pull) = pulled(&toward(true), &toward(false)) {
                net.pull = pull;
            } else if net.has_logic() {
                let origin = pulls.first().map(|pull| pull.origin.clone()).unwrap_or_default();
                let name = shown(&net.name);
                let message = format!("resistors pull {name} up and down, and to which level can't be told");
                let mend =
                    "write their values; between 0.8 V and 2.0 V at 5 V neither level is certain: is a value wrong?";
                findings.push(Finding::error(FindingKind::PullUndecided, &origin, message, mend));
            }
        }
    }

    /// While an output, a contact or an unknown pin waits to be traced, it may be what drives a net without a driver.
    fn taint_undriven(&mut self, packages: &[Package]) {
        let Some((who, origin)) = packages.iter().find_map(waiting_driver) else { return };
        for net in &mut self.all {
            let undriven = net.drivers().next().is_none() && !net.has_outside();
            if undriven && net.supply.is_none() && net.untraced.is_none() {
                net.untraced = Some((format!("nothing drives it yet, and {who}"), origin.clone()));
            }
        }
    }
}

/// What is said of a pin of this package that may drive and is not yet traced.
fn waiting_driver(package: &Package) -> Option<(String, Origin)> {
    let listed = package.pins.iter().filter(|pin| pin.wire == Wire::Untraced);
    let drives = |role: PinRole| matches!(role, PinRole::Output(_) | PinRole::InOut(_) | PinRole::Analog);
    let found = match &package.fitted {
        Fitted::Passive(Passive::Jumper(_) | Passive::Resistors { .. } | Passive::Capacitor { .. }) => None,
        Fitted::Chip(part) => listed.into_iter().find(|pin| part.pin(&pin.label).is_some_and(drives)),
        _ => listed.into_iter().next(),
    };
    if let Some(pin) = found {
        return Some((format!("{} is not yet traced", package.pin_called(&pin.label)), pin.origin.clone()));
    }
    if matches!(package.fitted, Fitted::Unknown) && package.others.is_none() {
        return Some((format!("{} may have more pins", package.called()), package.origin.clone()));
    }
    let (_, origin) = package.others.as_ref().filter(|(wire, _)| *wire == Wire::Untraced)?;
    match &package.fitted {
        Fitted::Chip(_) => {
            let (label, _) = package.pins_without_row().find(|&(_, role)| drives(role))?;
            Some((format!("{} is not yet traced", package.pin_called(label)), origin.clone()))
        }
        _ => Some((format!("{} is not yet traced", package.called()), origin.clone())),
    }
}
