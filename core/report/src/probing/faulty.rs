//! Single faults of the adapter on the bench: each package alone, under what the others and the person put on its wires,
//! beside the same package with one fault in its wires. The first difference that a meter sees finds the fault.
//!
//! Up to that difference the rest of the adapter is as it would be without the fault, so that one package at a time is enough.
//! Where a package of several shows something else between two moments and nothing at the next one, the others may have gone
//! another way: what is seen later does not count then.
use std::collections::HashMap;
use std::rc::Rc;

use super::Expect;
use super::adapter::{Bare, Fault, Found, On};
use super::bench::Bench;
use super::moves::Draw;
use gluewright_kernel::machine::ternary::Ternary;

/// What is wrong with the wires of one package.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
enum Wrong {
    /// This pin has no wire and reads this level.
    Open(usize, bool),
    /// All pins of the package on this net have no wire to the contact and read this level.
    Cut(usize, bool),
    /// This pin is on this net.
    Moved(usize, usize),
    /// These two pins of the package have each other's nets.
    Swapped(usize, usize),
}

/// A package with a fault in its wires.
#[derive(Clone)]
struct Variant<'m> {
    package: usize,
    wrong: Wrong,
    /// The package as it went; none as long as it went as the one without a fault, or once it needs no further look.
    bench: Option<Bench<'m>>,
    found: bool,
    /// Whether the others may have gone another way before anybody read anything.
    astray: bool,
}

/// A fault with the groups of variants that find it: one group is enough, and of that group all must be found.
#[derive(Clone)]
struct Sought {
    fault: Fault,
    groups: Rc<[Vec<usize>]>,
    found: bool,
}

/// The adapter on the bench, with and without faults.
#[derive(Clone)]
pub(super) struct Faulty<'m> {
    bare: &'m Bare,
    whole: Bench<'m>,
    /// The pins of each package, with their ports.
    pins: Rc<[Vec<(usize, usize)>]>,
    /// Each package alone, without a fault.
    alone: Vec<Bench<'m>>,
    /// Whether each package, alone, drives each net, or may.
    drives: Vec<Vec<bool>>,
    /// What is on each net.
    on: Vec<On>,
    variants: Vec<Variant<'m>>,
    faults: Vec<Sought>,
}

const UNKNOWN: On = On { driven: Ternary::Either, level: Ternary::Either, applied: None };

impl<'m> Faulty<'m> {
    /// Power is on, and the person has put these levels on the contacts, by the ports of the whole.
    pub(super) fn new(bare: &'m Bare, outside: Vec<Ternary>) -> Self {
        let whole = Bench::new(&bare.whole, outside);
        let on: Vec<On> = (0..bare.nets.len()).map(|n| bare.on(n, &whole)).collect();
        let of = |package: usize| {
            let pins = bare.pins.iter().enumerate().filter(move |(_, p)| p.package == package);
            pins.filter_map(|(index, p)| Some((index, p.port?))).collect()
        };
        let pins = (0..bare.packages.len()).map(of).collect();
        let (alone, drives, variants, faults) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        let mut faulty = Faulty { bare, whole, pins, alone, drives, on, variants, faults };
        let machines = bare.packages.iter().enumerate();
        faulty.alone = machines.map(|(p, (_, machine))| Bench::new(machine, faulty.outside(p, None))).collect();
        faulty.see_drivers();
        let mut variants: Vec<Variant<'m>> = Vec::new();
        let mut index: HashMap<(usize, Wrong), usize> = HashMap::new();
        let mut add = |package: usize, wrong: Wrong| -> usize {
            let next = variants.len();
            let at = *index.entry((package, wrong.clone())).or_insert(next);
            if at == next {
                variants.push(faulty.begun(package, wrong));
            }
            at
        };
        let package_of = |pin: usize| bare.pins.get(pin).map_or(usize::MAX, |p| p.package);
        let mut sought = Vec::new();
        for fault in bare.faults() {
            let groups = match fault {
                // an open input may read either level: both must be found
                Fault::OpenPin(pin) => {
                    vec![[false, true].map(|level| add(package_of(pin), Wrong::Open(pin, level))).into()]
                }
                Fault::OpenContact(net) => {
                    // where a package may drive the net, the others read it still: only the contact is left alone
                    let driven = bare.pins.iter().any(|p| p.net == net && p.drives);
                    let is_on = |of: &usize| {
                        bare.pins.iter().any(|p| p.package == *of && p.net == net && (p.drives || !driven))
                    };
                    let on: Vec<usize> = (0..bare.packages.len()).filter(is_on).collect();
                    on.into_iter().map(|of| [false, true].map(|level| add(of, Wrong::Cut(net, level))).into()).collect()
                }
                Fault::Short(..) => Vec::new(),
                Fault::Exchange(p, q) if package_of(p) == package_of(q) => {
                    vec![vec![add(package_of(p), Wrong::Swapped(p, q))]]
                }
                Fault::Exchange(p, q) => vec![
                    vec![add(package_of(p), Wrong::Moved(p, bare.net_of(q)))],
                    vec![add(package_of(q), Wrong::Moved(q, bare.net_of(p)))],
                ],
            };
            sought.push(Sought { fault, groups: groups.into(), found: false });
        }
        (faulty.variants, faulty.faults) = (variants, sought);
        faulty.moment();
        faulty
    }

    /// Power went off and came on again, with these levels on the contacts: what was found stays found, and what might have gone
    /// another way begins anew.
    pub(super) fn restart(&mut self, outside: Vec<Ternary>) {
        let mut fresh = Faulty::new(self.bare, outside);
        for (new, old) in fresh.variants.iter_mut().zip(&self.variants).filter(|(_, old)| old.found) {
            (new.found, new.bench) = (old.found, None);
        }
        fresh.faults.iter_mut().zip(&self.faults).for_each(|(new, old)| new.found |= old.found);
        *self = fresh;
    }

    /// A package with this fault as power comes on.
    fn begun(&self, package: usize, wrong: Wrong) -> Variant<'m> {
        let outside = self.outside(package, Some(&wrong));
        let as_alone = self.alone.get(package).is_some_and(|alone| alone.outside() == outside);
        let machine = self.bare.packages.get(package).map(|(_, machine)| machine).filter(|_| !as_alone);
        let bench = machine.map(|machine| Bench::new(machine, outside));
        Variant { package, wrong, bench, found: false, astray: false }
    }

    /// The net that a pin is on under a fault; of a pin without a wire the level that it then reads.
    fn net_under(&self, pin: usize, wrong: Option<&Wrong>) -> Result<usize, bool> {
        let net = self.bare.net_of(pin);
        match wrong {
            Some(Wrong::Open(p, level)) if *p == pin => Err(*level),
            Some(Wrong::Cut(n, level)) if *n == net => Err(*level),
            Some(Wrong::Moved(p, n)) if *p == pin => Ok(*n),
            Some(Wrong::Swapped(p, q)) if *p == pin => Ok(self.bare.net_of(*q)),
            Some(Wrong::Swapped(p, q)) if *q == pin => Ok(self.bare.net_of(*p)),
            _ => Ok(net),
        }
    }

    /// The pins of a package, each with its port.
    fn pins(&self, package: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.pins.get(package).into_iter().flatten().copied()
    }

    /// Sees which nets the packages drive now.
    fn see_drivers(&mut self) {
        let of = |(package, bench): (usize, &Bench<'_>)| {
            let mut drives = vec![false; self.bare.nets.len()];
            for (pin, _) in self.pins(package).filter(|(_, port)| bench.shown(*port).0 != Ternary::Low) {
                drives.get_mut(self.bare.net_of(pin)).into_iter().for_each(|drives| *drives = true);
            }
            drives
        };
        self.drives = self.alone.iter().enumerate().map(of).collect();
    }

    fn on(&self, net: usize) -> On {
        self.on.get(net).copied().unwrap_or(UNKNOWN)
    }

    /// What others than this package put on a net: while the package drives it, none of them does.
    fn others(&self, package: usize, net: usize) -> On {
        let on = self.on(net);
        if self.drives.get(package).and_then(|nets| nets.get(net)) == Some(&true) {
            On { driven: Ternary::Low, level: Ternary::Either, applied: on.applied }
        } else {
            on
        }
    }

    /// The levels outside a package, in the order of its ports.
    fn outside(&self, package: usize, wrong: Option<&Wrong>) -> Vec<Ternary> {
        let Some((_, machine)) = self.bare.packages.get(package) else { return Vec::new() };
        let mut outside = vec![Ternary::Either; machine.ports().len()];
        for (pin, port) in self.pins(package) {
            let level = match self.net_under(pin, wrong) {
                Err(level) => Ternary::of(level),
                Ok(net) if net == self.bare.net_of(pin) => self.on(net).read(),
                Ok(net) => self.others(package, net).read(),
            };
            if let Some(slot) = outside.get_mut(port) {
                *slot = level;
            }
        }
        outside
    }

    /// Something happens at the contacts, by the ports of the whole.
    pub(super) fn event(&mut self, change: &[(usize, Ternary)]) {
        if self.bare.packages.len() > 1 {
            // what differs before anybody reads it may lead the other packages another way
            let astray: Vec<bool> = self.variants.iter().map(|v| is_open(v) && self.differs(v)).collect();
            for (variant, astray) in self.variants.iter_mut().zip(astray).filter(|(_, astray)| *astray) {
                (variant.astray, variant.bench) = (astray, None);
            }
        }
        self.whole.event(change);
        let after: Vec<On> = (0..self.bare.nets.len()).map(|n| self.bare.on(n, &self.whole)).collect();
        // what the person does comes first, what other packages make of it after that
        let ports = |net: usize| self.bare.nets.get(net).and_then(|n| n.port);
        let first = (0..after.len()).filter(|&n| ports(n).is_some_and(|port| change.iter().any(|(p, _)| *p == port)));
        for net in first.collect::<Vec<_>>() {
            if let (Some(now), Some(then)) = (self.on.get_mut(net), after.get(net)) {
                *now = *then;
            }
        }
        self.follow();
        self.on = after;
        self.follow();
    }

    /// Every package follows what is on its wires.
    fn follow(&mut self) {
        let of_alone: Vec<Vec<Ternary>> = (0..self.alone.len()).map(|p| self.outside(p, None)).collect();
        let of_variants: Vec<Option<Vec<Ternary>>> =
            self.variants.iter().map(|v| is_open(v).then(|| self.outside(v.package, Some(&v.wrong)))).collect();
        for (variant, outside) in self.variants.iter_mut().zip(of_variants) {
            let Some(outside) = outside else { continue };
            let alone = (of_alone.get(variant.package), self.alone.get(variant.package));
            match (&mut variant.bench, alone) {
                (Some(bench), _) => put(bench, &outside),
                (None, (Some(same), _)) if *same == outside => {}
                (slot, (_, Some(before))) => {
                    let mut bench = before.clone();
                    put(&mut bench, &outside);
                    *slot = Some(bench);
                }
                (None, (_, None)) => {}
            }
        }
        for (bench, outside) in self.alone.iter_mut().zip(&of_alone) {
            put(bench, outside);
        }
        self.see_drivers();
    }

    /// What a pin of the faulty package shows.
    fn shown(&self, variant: &Variant<'_>, port: usize) -> (Ternary, Ternary) {
        match &variant.bench {
            Some(bench) => bench.shown(port),
            None => self.alone.get(variant.package).map_or((Ternary::Either, Ternary::Either), |b| b.shown(port)),
        }
    }

    /// What is found on a net with the faulty package on it.
    fn found_with(&self, variant: &Variant<'_>, net: usize) -> Option<Found> {
        let mut own: Option<Ternary> = None;
        for (pin, port) in self.pins(variant.package) {
            if self.net_under(pin, Some(&variant.wrong)) != Ok(net) {
                continue;
            }
            match self.shown(variant, port) {
                (Ternary::Low, _) => {}
                (Ternary::High, level) if own.is_none_or(|o| o == level) => own = Some(level),
                // two that drive against each other, or a driver that may be on: nobody knows what is seen
                (Ternary::High | Ternary::Either, _) => return None,
            }
        }
        let others = self.others(variant.package, net);
        let of = |level: Ternary| level.known().map(|high| if high { Found::High } else { Found::Low });
        match (own, others.driven) {
            (None, _) => others.found(),
            (Some(level), Ternary::High) if others.level.known() == level.known() => of(level),
            (Some(level), Ternary::Low) => of(level),
            (Some(_), _) => None,
        }
    }

    /// Whether a person with a meter finds something else than without the fault: at a contact, or at a pin on a wire that
    /// has no contact.
    fn differs(&self, variant: &Variant<'_>) -> bool {
        let mut nets: Vec<usize> = Vec::new();
        for (pin, _) in self.pins(variant.package) {
            nets.push(self.bare.net_of(pin));
            nets.extend(self.net_under(pin, Some(&variant.wrong)));
        }
        nets.sort_unstable();
        nets.dedup();
        let differs = |&net: &usize| {
            let good = self.on(net).found();
            good.is_some() && self.found_with(variant, net).is_some_and(|found| Some(found) != good)
        };
        nets.iter().any(differs)
            || self.pins(variant.package).any(|(pin, port)| self.differs_at_pin(variant, pin, port))
    }

    /// Whether a wire between packages reads otherwise at this pin: such wires are read at each of their pins.
    fn differs_at_pin(&self, variant: &Variant<'_>, pin: usize, port: usize) -> bool {
        let good = self.bare.net_of(pin);
        if self.bare.nets.get(good).is_none_or(|n| n.is_contact) {
            return false;
        }
        let expected = self.on(good).found();
        let seen = match self.net_under(pin, Some(&variant.wrong)) {
            Ok(net) if net == good => return false,
            Ok(net) => self.found_with(variant, net),
            Err(_) if self.shown(variant, port).0 == Ternary::Low => Some(Found::Floats),
            Err(_) => None,
        };
        expected.is_some() && seen.is_some() && seen != expected
    }

    /// Whether a package alone shows what it shows among the others: else nothing is said of its faults.
    fn agrees(&self, package: usize) -> bool {
        let Some(bench) = self.alone.get(package) else { return false };
        self.pins(package).all(|(pin, port)| {
            let ((driven, level), on) = (bench.shown(port), self.on(self.bare.net_of(pin)));
            let both = driven == Ternary::High && on.driven == Ternary::High;
            !both || level.known().zip(on.level.known()).is_none_or(|(a, b)| a == b)
        })
    }

    /// The person reads everything.
    pub(super) fn moment(&mut self) {
        let agree: Vec<bool> = (0..self.alone.len()).map(|p| self.agrees(p)).collect();
        let agrees = |v: &Variant<'_>| agree.get(v.package) == Some(&true);
        let finds: Vec<bool> = self.variants.iter().map(|v| is_open(v) && agrees(v) && self.differs(v)).collect();
        for (variant, finds) in self.variants.iter_mut().zip(finds) {
            if finds {
                (variant.found, variant.bench) = (true, None);
            }
        }
        let found: Vec<Option<Found>> = self.on.iter().map(|on| on.found()).collect();
        let at = |n: usize| found.get(n).copied().flatten();
        let variants = &self.variants;
        let is_found = |v: &usize| variants.get(*v).is_some_and(|v| v.found);
        for sought in &mut self.faults {
            sought.found |= match sought.fault {
                // both read the same under a short
                Fault::Short(a, b, _) => at(a).zip(at(b)).is_some_and(|(a, b)| a != b),
                _ => sought.groups.iter().any(|group| group.iter().all(is_found)),
            };
        }
    }

    /// The faults, and whether each is found.
    pub(super) fn all(&self) -> impl Iterator<Item = (Fault, bool)> + '_ {
        self.faults.iter().map(|s| (s.fault, s.found))
    }

    /// How much has been seen: faults, and the ways in which an open input can read.
    pub(super) fn seen(&self) -> usize {
        let faults = self.faults.iter().filter(|s| s.found).count();
        faults + self.variants.iter().filter(|v| v.found).count()
    }

    /// The same with a few of the open faults, and no eye for the others.
    pub(super) fn narrowed(&self, few: usize, draw: &mut Draw) -> Faulty<'m> {
        let mut narrowed = self.clone();
        let mut open: Vec<usize> =
            (0..self.variants.len()).filter(|&v| self.variants.get(v).is_some_and(is_open)).collect();
        while open.len() > few {
            let v = open.swap_remove(draw.below(open.len()));
            if let Some(variant) = narrowed.variants.get_mut(v) {
                (variant.astray, variant.bench) = (true, None);
            }
        }
        narrowed
    }

    /// Whether one package may lead another one astray.
    pub(super) fn are_several(&self) -> bool {
        self.bare.packages.len() > 1
    }

    /// The wires between packages: name, pins, what they show.
    pub(super) fn wires(&self) -> Vec<(String, String, Expect)> {
        let inner = self.bare.nets.iter().enumerate().filter(|(_, n)| !n.is_contact);
        let shown = inner.filter_map(|(net, n)| {
            Some((self.bare.net_words(net), self.bare.pins_words(net), self.whole.shows(n.port?)))
        });
        shown.collect()
    }

    pub(super) fn bare(&self) -> &'m Bare {
        self.bare
    }
}

fn is_open(variant: &Variant<'_>) -> bool {
    !variant.found && !variant.astray
}

/// These levels come on the ports, all at one moment.
fn put(bench: &mut Bench<'_>, outside: &[Ternary]) {
    let now = bench.outside();
    let changes = outside.iter().zip(&now).enumerate().filter(|(_, (new, old))| new != old);
    let changes: Vec<(usize, Ternary)> = changes.map(|(port, (new, _))| (port, *new)).collect();
    if !changes.is_empty() {
        bench.event(&changes);
    }
}
