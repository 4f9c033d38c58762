//! The obligations of a proof by induction, derived from both circuits and the relation alone.
use std::collections::HashMap;

use crate::certificate::{Bit, Group, Holds, Relation, SIDES, Side, levels};
use crate::graph::{Graph, Lit, value};
use crate::machine::{Freedom, Limit, Point, Unknown, Values};
use crate::pair::{Pair, Place};
use crate::sat::{Answer, ask};
use crate::verdict::Verdict;

/// How far settling is followed, in turn: a circuit that does not rest within the first is given more.
const LIMITS: [Limit; 4] = [4, 8, 16, 32];

/// Checks that the relation holds at power-up, is kept by every event, and shows the same at every contact.
pub fn check(pair: &Pair<'_>, relation: &Relation, verdict: &mut Verdict) {
    if let Err(why) = sound(pair, relation) {
        return verdict.objects(why);
    }
    let before = verdict.clone();
    for limit in LIMITS {
        *verdict = Verdict { counts: verdict.counts, ..before.clone() };
        if !(Induction { pair, relation }).run(limit, verdict) {
            return;
        }
    }
}

/// Whether everything that the relation names is there.
fn sound(pair: &Pair<'_>, relation: &Relation) -> Result<(), String> {
    for bit in relation.bits() {
        pair.bit(bit.side as usize, &bit.bit)
            .ok_or_else(|| format!("the relation names {bit}: there is no such bit"))?;
    }
    for group in &relation.combinations {
        if group.points.iter().flatten().any(|p| p.len() != group.bits.len()) {
            return Err("a combination of the relation has not one value for each bit".to_owned());
        }
    }
    for start in relation.starts.iter().flatten() {
        if matches!(&start.holds, Holds::Like(bit) if bit.side == Side::Original) {
            return Err(format!("a start of the original is told by itself: `{}`", start.bit));
        }
    }
    relation.alike.iter().try_for_each(|label| pair.contact(label).map(drop))
}

struct Induction<'p> {
    pair: &'p Pair<'p>,
    relation: &'p Relation,
}

/// One thing that must not happen: its kind, when it does, in words.
type Bad = (&'static str, Lit, String);

/// One side at a moment.
type At<'v> = (&'v Point, &'v Values);

impl Induction<'_> {
    fn value(&self, bit: &Bit, (point, values): At<'_>) -> Lit {
        self.place(bit).at(point, values).flip(bit.inverted)
    }

    fn place(&self, bit: &Bit) -> Place {
        self.pair.bit(bit.side as usize, &bit.bit).unwrap_or(Place::Never)
    }

    /// Where the relation does not hold between two points.
    fn broken(&self, g: &mut Graph, both: [At<'_>; 2], when: &str) -> Vec<Bad> {
        let kind = if when == "power-up" { "initial" } else { "step" };
        let of = |bits: &[Bit]| -> Vec<Lit> { bits.iter().map(|b| self.value(b, both[b.side as usize])).collect() };
        let words = |bits: &[Bit]| bits.iter().map(Bit::to_string).collect::<Vec<_>>().join(" = ");
        let mut all = Vec::new();
        for class in &self.relation.classes {
            let mut bits = of(&class.bits);
            bits.extend(class.constant.then_some(Lit::FALSE));
            let apart = g.differ(&bits, bits.get(1..).unwrap_or_default());
            let low = if class.constant { " = low" } else { "" };
            all.push((kind, apart, format!("{when}: the relation is not kept: {}{low}", words(&class.bits))));
        }
        for group in &self.relation.combinations {
            let Some(points) = &group.points else { continue };
            let holds = among(g, points.iter().map(|p| levels(p)), &of(&group.bits));
            all.push((kind, !holds, format!("{when}: the combinations are left: {}", words(&group.bits))));
        }
        for (c, label) in self.relation.alike.iter().filter_map(|l| Some((self.pair.contact(l).ok()?, l))) {
            let differs = self.pair.differs(g, c, both.map(|b| b.1), [&[], &[]]);
            all.push((kind, differs, format!("{when}: contact {label} shows another level at rest")));
        }
        all
    }

    /// Asks about everything at once, and about each if that fails. True if nothing but settling failed.
    fn never(&self, g: &mut Graph, given: &[Lit], bad: &[Bad], verdict: &mut Verdict) -> bool {
        for (kind, ..) in bad {
            *verdict.obligations.entry(kind).or_default() += 1;
        }
        let any = g.any(bad.iter().map(|b| b.1));
        match ask(g, &[given, &[any]].concat(), &mut verdict.counts) {
            Answer::Never => false,
            Answer::Unknown(why) => {
                verdict.objects(format!("{}: {why}", bad.first().map_or("", |b| &b.2)));
                false
            }
            Answer::Model(values) => {
                let wrong: Vec<&Bad> = bad.iter().filter(|b| value(&values, b.1)).collect();
                verdict.objections.extend(wrong.iter().map(|b| b.2.clone()));
                wrong.iter().all(|b| b.0 == "settles")
            }
        }
    }

    fn run(&self, limit: Limit, verdict: &mut Verdict) -> bool {
        if self.power_up(limit, verdict) {
            return true;
        }
        let mut restless = false;
        for event in std::iter::once(None).chain(self.pair.events.iter().map(Some)) {
            restless |= self.event(event, limit, verdict);
        }
        restless
    }

    /// From any two settled points that match, over one event; without an event, what both show at rest.
    fn event(&self, event: Option<&Vec<usize>>, limit: Limit, verdict: &mut Verdict) -> bool {
        let pair = self.pair;
        let g = &mut Graph::default();
        let outside = pair.levels(g);
        let mut points = [0, 1].map(|side| pair.point(g, side, &outside));
        for class in &self.relation.classes {
            let value = if class.constant { Lit::FALSE } else { g.free() };
            for bit in &class.bits {
                if let Place::Bit(i) = self.place(bit) {
                    points[bit.side as usize].bits[i] = value.flip(bit.inverted);
                }
            }
        }
        let values = [0, 1].map(|side| pair.machines[side].evaluate(g, &points[side]));
        let mut given = vec![pair.allowed(g, &outside)];
        given.extend([0, 1].map(|s| pair.machines[s].settled(g, &points[s], &values[s])));
        // what the binding did not say by itself: nets, and bits that stand in two classes
        let matched = self.broken(g, [0, 1].map(|s| (&points[s], &values[s])), "");
        given.extend(matched.iter().map(|bad| !bad.1));
        let before = [&values[0], &values[1]];
        let contacts = pair.contacts.iter().map(|c| &c.label).enumerate();
        let Some(event) = event else {
            let mut bad = Vec::new();
            for (c, label) in contacts {
                let differs = pair.differs(g, c, before, [&[], &[]]);
                bad.push(("rest", differs, format!("at rest: contact {label} shows another level")));
            }
            self.never(g, &given, &bad, verdict);
            return false;
        };
        let when = pair.words(event);
        let next = pair.next(g, event, &outside);
        given.push(pair.may(g, &outside, &next, &pair.machines[1].view(&values[1])));
        let replacement = pair.machines[1].step(g, &points[1], &next, Freedom::Against, limit);
        // what no sheet says is loaded: what the replacement has by then, since any choice is the original's
        let mut told = HashMap::new();
        self.tell((&replacement.point, &replacement.values), &mut told);
        let loads = told.into_iter().filter_map(|(p, v)| if let Place::Bit(i) = p { Some((i, v)) } else { None });
        let loads: HashMap<usize, Lit> = loads.collect();
        let original = pair.machines[0].step(g, &points[0], &next, Freedom::Usual(&loads), limit);
        let after = [&original, &replacement];
        let mut bad = Vec::new();
        for (of, side) in SIDES.iter().zip(after) {
            bad.push(("settles", side.unsettled, format!("{when}: the {of} does not come to rest")));
        }
        for (c, label) in contacts {
            let differs = pair.differs(g, c, before, after.map(|a| &*a.views));
            bad.push(("output", differs, format!("{when}: contact {label} shows another sequence")));
        }
        bad.extend(self.broken(g, after.map(|a| (&a.point, &a.values)), &when));
        let restless = self.never(g, &given, &bad, verdict);
        let model = &pair.machines[0].model;
        for &(kind, at, when) in &original.met {
            let name = if kind == Unknown::Loop { &model.nets[at].name } else { &model.elements[at].name };
            let words = format!("`{name}`: {}", choice(kind));
            if !verdict.chosen.contains(&words)
                && !matches!(ask(g, &[&*given, &[when]].concat(), &mut verdict.counts), Answer::Never)
            {
                verdict.chosen.insert(words);
            }
        }
        restless
    }

    /// What classes tell the original's bits by what the replacement has, or by what is told already.
    fn tell(&self, replacement: At<'_>, told: &mut HashMap<Place, Lit>) {
        for class in &self.relation.classes {
            let original = || class.bits.iter().filter(|b| b.side == Side::Original);
            let lead = class.bits.iter().find(|b| b.side == Side::Replacement).map(|b| self.value(b, replacement));
            let lead = if class.constant { Some(Lit::FALSE) } else { lead };
            let already = || original().find_map(|b| told.get(&self.place(b)).map(|v| v.flip(b.inverted)));
            if let Some(value) = lead.or_else(already) {
                told.extend(original().map(|b| (self.place(b), value.flip(b.inverted))));
            }
        }
    }

    /// Every start of the replacement comes to rest, and the original has a settled state that matches it.
    fn power_up(&self, limit: Limit, verdict: &mut Verdict) -> bool {
        let pair = self.pair;
        let g = &mut Graph::default();
        let outside = pair.levels(g);
        let allowed = pair.allowed(g, &outside);
        if !matches!(ask(g, &[allowed], &mut verdict.counts), Answer::Model(_)) {
            verdict.objects("no levels at the contacts keep the assumptions: nothing would be shown".to_owned());
            return false;
        }
        self.vacuous(g, &outside, verdict);
        let from = pair.point(g, 1, &outside);
        let from = pair.started(1, from);
        let woken = pair.machines[1].rest(g, &from, Freedom::Against, limit);
        let woken_point = (&woken.point, &woken.values);
        // the original is free in what no combination and no class tells
        let mut told = HashMap::new();
        for group in &self.relation.combinations {
            told.extend(self.coded(g, group, woken_point));
        }
        self.tell(woken_point, &mut told);
        let floats = pair.point(g, 0, &outside);
        let mut bad = vec![("settles", woken.unsettled, "power-up: the replacement does not come to rest".to_owned())];
        let mut each = Vec::new();
        let free = vec![Vec::new()];
        for start in if self.relation.starts.is_empty() { &free } else { &self.relation.starts } {
            let mut all = HashMap::new();
            for start in start {
                let value = match &start.holds {
                    Holds::Level(level) => (*level).into(),
                    Holds::Like(bit) => self.value(bit, woken_point),
                };
                all.extend(pair.bit(0, &start.bit).map(|place| (place, value)));
            }
            all.extend(told.iter().map(|(&place, &value)| (place, value)));
            let mut from = floats.clone();
            for (i, bit) in from.bits.iter_mut().enumerate() {
                if !matches!(pair.machines[0].bits[i], crate::machine::Bit::Float(_)) {
                    *bit = all.get(&Place::Bit(i)).copied().unwrap_or(Lit::FALSE);
                }
            }
            let from = pair.started(0, from);
            let matched = pair.machines[0].rest(g, &from, Freedom::Usual(&HashMap::new()), limit);
            let words = "power-up: the original does not come to rest".to_owned();
            let mut bad = vec![("settles", matched.unsettled, words)];
            bad.extend(self.broken(g, [(&matched.point, &matched.values), woken_point], "power-up"));
            each.push(bad);
        }
        if let [_] = each.as_slice() {
            bad.extend(each.into_iter().flatten());
        } else {
            // whatever board and replacement begin with, one of the starts matches; where one has not yet come to rest,
            // more phases may show that it does
            let fails: Vec<Lit> = each.iter().map(|bad| g.any(bad.iter().map(|b| b.1))).collect();
            let none = g.all(fails);
            let restless = g.any(each.iter().flatten().filter(|b| b.0 == "settles").map(|b| b.1));
            for (kind, when) in [("settles", restless), ("initial", !restless)] {
                let words = format!("power-up: none of {} starts of the original matches", each.len());
                bad.push((kind, g.and(none, when), words));
            }
        }
        self.never(g, &[allowed], &bad, verdict)
    }

    /// Under assumptions, every contact must still be able to change both ways.
    fn vacuous(&self, g: &mut Graph, levels: &[Lit], verdict: &mut Verdict) {
        let pair = self.pair;
        let allowed = pair.allowed(g, levels);
        for event in &pair.events {
            let next = pair.next(g, event, levels);
            let card = pair.contacts.iter().map(|_| (g.free(), g.free())).collect();
            let may = pair.may(g, levels, &next, &card);
            for &c in event.iter().filter(|_| allowed != Lit::TRUE || may != Lit::TRUE) {
                for (way, from) in [("high", !levels[c]), ("low", levels[c])] {
                    let changes = g.xor(levels[c], next[c]);
                    if !matches!(ask(g, &[allowed, may, from, changes], &mut verdict.counts), Answer::Model(_)) {
                        let label = &pair.contacts[c].label;
                        verdict.objects(format!("under the assumptions contact {label} can never go {way}"));
                    }
                }
            }
        }
    }

    /// The bits of the original in a group, as the first combination has them that goes with the replacement's.
    fn coded(&self, g: &mut Graph, group: &Group, replacement: At<'_>) -> Vec<(Place, Lit)> {
        let of = |side: Side| group.bits.iter().enumerate().filter(move |(_, b)| b.side == side);
        let bits: Vec<Lit> = of(Side::Replacement).map(|(_, b)| self.value(b, replacement)).collect();
        let mut shown: Vec<(Vec<bool>, Vec<bool>)> = Vec::new();
        for point in group.points.iter().flatten().map(|p| levels(p)) {
            let key: Vec<bool> = of(Side::Replacement).map(|(k, _)| point[k]).collect();
            if !shown.iter().any(|(known, _)| *known == key) {
                shown.push((key, point));
            }
        }
        let told = of(Side::Original).filter(|_| group.points.is_some()).map(|(k, bit)| {
            let high = shown.iter().filter(|(_, p)| p[k]).map(|(key, _)| key.clone());
            (self.place(bit), among(g, high, &bits).flip(bit.inverted))
        });
        told.collect()
    }
}

/// True where these bits are one of the points.
fn among(g: &mut Graph, points: impl Iterator<Item = Vec<bool>>, bits: &[Lit]) -> Lit {
    points.fold(Lit::FALSE, |any, point| {
        let are = g.are(bits, &point);
        g.or(any, are)
    })
}

fn choice(kind: Unknown) -> &'static str {
    match kind {
        Unknown::JointRelease => "clear and preset released together: it keeps what it held",
        Unknown::Recovery => "clear or preset released with the clock's edge: the edge does not count",
        Unknown::Race => "data moved with the clock's edge: it takes what stood before",
        Unknown::Load => "its data sheet leaves open what it loads: it takes what the replacement has",
        Unknown::Loop => "gates of a loop race: it ends as all gates together would bring it",
    }
}
