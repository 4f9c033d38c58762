//! Which types an unknown package may be: its supply pins, and what its pins are joined to, leave few.
use std::collections::{BTreeMap, BTreeSet};

use gluewright_kernel::board::written::PartKind;
use gluewright_kernel::board::{Behaviour, Library, Part, PinRole};
use gluewright_kernel::circuit::{Label, Rail, Stage};
use serde::Serialize;

use super::captured::On;
use super::claims::{Claims, Is};
use super::judge::{Judged, Seen};
use super::parts::{Listed, Parts};
use super::readings::Point;

/// Types that are looked at.
const MOST_TYPES: usize = 4096;

/// What an unknown package may be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Narrowed {
    /// The package.
    pub reference: String,
    /// How many pins it has.
    pub pins: usize,
    /// Its pins that are joined to VCC and to GND.
    pub supplies: Vec<String>,
    /// The types of the library that nothing speaks against; those that drive most nets without another source first.
    pub types: Vec<String>,
    /// How many types of the library have as many pins.
    pub of: usize,
    /// Types that suit the joints, and of which no start explains what a logic analyser saw.
    pub excluded: Vec<String>,
    /// What each pin that was measured is on.
    #[serde(skip)]
    pub(super) wired: Vec<(Label, On)>,
}

/// What each unknown package may be.
pub(super) fn narrowed(
    seen: &Seen,
    parts: &Parts,
    claims: &Claims<'_>,
    judged: &Judged,
    names: &BTreeMap<usize, String>,
    library: &dyn Library,
) -> Vec<Narrowed> {
    let unknown: Vec<&Listed> = parts.all().iter().filter(|l| l.kind == PartKind::Unknown).collect();
    if unknown.is_empty() {
        return Vec::new();
    }
    let mut types: Vec<Part> = library.names().iter().take(MOST_TYPES).filter_map(|n| library.part(n)).collect();
    // a type that goes by several names is one
    let mut met = BTreeSet::new();
    types.retain(|part| met.insert(part.name().to_owned()));
    let about = About { seen, claims, judged, names };
    unknown.into_iter().map(|listed| about.narrow(listed, &types)).collect()
}

struct About<'s> {
    seen: &'s Seen,
    claims: &'s Claims<'s>,
    judged: &'s Judged,
    /// What the trace calls the nets.
    names: &'s BTreeMap<usize, String>,
}

/// What is known of the net on a pin.
struct Wired {
    group: usize,
    /// Its pin was measured.
    is_joined: bool,
    rail: Option<Rail>,
    /// Something else drives it at all times.
    is_driven: bool,
    /// Something else may drive it.
    has_source: bool,
}

impl About<'_> {
    fn narrow(&self, listed: &Listed, types: &[Part]) -> Narrowed {
        let wired: Vec<(&Label, Wired)> =
            listed.pins.iter().filter_map(|pin| Some((pin, self.wired(listed, pin)?))).collect();
        let numbers = listed.pins.iter().filter_map(Label::number).max().map_or(0, usize::from);
        let pins = numbers.max(listed.pins.len());
        // a package whose last pins nobody measured may be larger
        let fits = |part: &Part| {
            let count = part.pins().count();
            if listed.pins.len() == numbers { count == pins } else { count >= pins }
        };
        let of: Vec<&Part> = types.iter().filter(|p| fits(p)).collect();
        let mut left: Vec<(i64, &Part)> =
            of.iter().filter_map(|part| Some((self.suits(part, &wired)?, *part))).collect();
        left.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.name().cmp(b.1.name())));
        let rails = wired.iter().filter_map(|(pin, w)| {
            let rail = if w.rail? == Rail::Vcc { "VCC" } else { "GND" };
            Some(format!("{pin} {rail}"))
        });
        Narrowed {
            reference: listed.reference.clone(),
            pins,
            supplies: rails.collect(),
            types: left.iter().map(|(_, part)| part.name().to_owned()).collect(),
            of: of.len(),
            excluded: Vec::new(),
            wired: wired.iter().map(|(pin, net)| ((*pin).clone(), self.on(net))).collect(),
        }
    }

    fn on(&self, net: &Wired) -> On {
        match (net.rail, self.names.get(&net.group)) {
            (Some(rail), _) => On::Rail(rail),
            (None, Some(name)) if net.is_joined => On::Net(name.clone()),
            (None, _) => On::Alone,
        }
    }

    fn wired(&self, listed: &Listed, pin: &Label) -> Option<Wired> {
        let own = Point::Pin { reference: listed.reference.clone(), pin: pin.clone() };
        let at = *self.seen.at.get(&own)?;
        let group = self.judged.group(at);
        let part = self.claims.part.get(at).copied().flatten();
        let others: Vec<usize> = (0..self.seen.points.len())
            .filter(|&p| self.judged.group(p) == group && self.claims.part.get(p).copied().flatten() != part)
            .collect();
        let supply = others.iter().find_map(|&p| match self.claims.what(p) {
            Is::Supply(high) => Some(if high { Rail::Vcc } else { Rail::Gnd }),
            _ => None,
        });
        let any = |wanted: &[Is]| others.iter().any(|&p| wanted.contains(&self.claims.what(p)));
        Some(Wired {
            group,
            is_joined: !others.is_empty(),
            rail: supply,
            is_driven: any(&[Is::Output]),
            has_source: any(&[Is::Output, Is::Source, Is::Contact, Is::OpenCollector, Is::Other]),
        })
    }

    /// How well a type suits: nothing if it can't be.
    fn suits(&self, part: &Part, wired: &[(&Label, Wired)]) -> Option<i64> {
        let mut score = 0;
        let mut driven = BTreeSet::new();
        let known: i64 = if *part.behaviour() == Behaviour::Logic { 1 } else { 0 };
        for (pin, net) in wired {
            match part.pin(pin)? {
                PinRole::Supply(rail) if net.is_joined && net.rail != Some(rail) => return None,
                PinRole::Supply(_) => score += i64::from(net.is_joined),
                PinRole::Output(stage) => {
                    let always = stage == Stage::PushPull;
                    if always && (net.rail.is_some() || net.is_driven || !driven.insert(net.group)) {
                        return None;
                    }
                    score += if net.rail.is_some() { -1 } else { i64::from(net.is_joined && !net.has_source) };
                }
                PinRole::Input if net.is_joined && !net.has_source && net.rail.is_none() => score -= 1,
                PinRole::Unconnected if net.is_joined && net.rail.is_none() => score -= 1,
                _ => {}
            }
        }
        Some(score * 2 + known)
    }
}
