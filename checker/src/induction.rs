//! The obligations of a proof by induction, derived from both circuits and the relation alone.
use std::collections::HashMap;

use anyhow::{Context, Result, ensure};

use crate::certificate::{Bit, Relation, SIDES, Side, Start, levels};
use crate::graph::{Graph, Lit, value};
use crate::machine::{Freedom, Limit, Point, Unknown, Values};
use crate::pair::{Pair, Place};
use crate::sat::ask;
use crate::verdict::Verdict;

/// How far settling is followed, in turn: a circuit that does not rest within the first is given more.
const LIMITS: [Limit; 4] = [4, 8, 16, 32];

/// Checks that the relation holds at power-up, is kept by every event, and shows the same at every contact.
pub fn check(pair: &Pair<'_>, relation: &Relation, verdict: &mut Verdict) {
    if let Err(why) = sound(pair, relation) {
        return verdict.objects(why.to_string());
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
fn sound(pair: &Pair<'_>, relation: &Relation) -> Result<()> {
    for bit in relation.bits() {
        pair.bit(bit.side as usize, &bit.bit)
            .with_context(|| format!("the relation names {bit}: there is no such bit"))?;
    }
    let groups = relation.combinations.iter().map(|group| (group.bits.len(), &group.points));
    for (count, points) in groups.chain(relation.starts.iter().flatten().map(|start| (start.of.len(), &start.high))) {
        ensure!(points.iter().all(|p| p.len() == count), "a combination has not one value for each bit");
    }
    let mut told = relation.starts.iter().flatten().flat_map(|start| &start.of);
    ensure!(told.all(|bit| bit.side == Side::Replacement), "a start of the original is told by itself");
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
            let holds = among(g, &group.points, &of(&group.bits));
            all.push((kind, !holds, format!("{when}: the combinations are left: {}", words(&group.bits))));
        }
        for (c, label) in self.relation.alike.iter().filter_map(|l| Some((self.pair.contact(l).ok()?, l))) {
            let differs = self.pair.differs(g, c, both.map(|b| b.1), [&[], &[]]);
            all.push((kind, differs, format!("{when}: contact {label} shows another level at rest")));
        }
        all
    }

    /// Asks about everything at once. True if something had not come to rest where it fails: with more phases it may.
    fn never(&self, g: &mut Graph, given: &[Lit], bad: &[Bad], verdict: &mut Verdict) -> bool {
        for (kind, ..) in bad {
            *verdict.obligations.entry(kind).or_default() += 1;
        }
        let any = g.any(bad.iter().map(|b| b.1));
        let Some(values) = ask(g, &[given, &[any]].concat(), verdict) else { return false };
        let wrong: Vec<&Bad> = bad.iter().filter(|b| value(&values, b.1)).collect();
        verdict.objections.extend(wrong.iter().map(|b| b.2.clone()));
        // what has not come to rest matches nothing yet, and shows nothing
        wrong.iter().any(|b| b.0 == "settles")
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
            let differs = |(c, label)| {
                let words = format!("at rest: contact {label} shows another level");
                ("rest", pair.differs(g, c, before, [&[], &[]]), words)
            };
            let bad: Vec<Bad> = contacts.map(differs).collect();
            self.never(g, &given, &bad, verdict);
            return false;
        };
        let when = pair.words(event);
        let next = pair.next(g, event, &outside);
        given.push(pair.may(g, &outside, &next, &pair.machines[1].view(&values[1])));
        let replacement = pair.machines[1].step(g, &points[1], &next, Freedom::Against, limit);
        // what no sheet says is loaded: what the replacement has by then, since any choice is the original's
        let loads = self.tell((&replacement.point, &replacement.values));
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
            let words = format!("`{name}`: {}", CHOICES[kind as usize]);
            if !verdict.chosen.contains(&words) && ask(g, &[&*given, &[when]].concat(), verdict).is_some() {
                verdict.chosen.push(words);
            }
        }
        restless
    }

    /// What classes tell the original's bits by what the replacement has.
    fn tell(&self, replacement: At<'_>) -> HashMap<usize, Lit> {
        let mut told = HashMap::new();
        for class in &self.relation.classes {
            let lead = class.bits.iter().find(|b| b.side == Side::Replacement).map(|b| self.value(b, replacement));
            let lead = lead.or(class.constant.then_some(Lit::FALSE));
            for bit in class.bits.iter().filter(|b| b.side == Side::Original) {
                if let (Some(value), Place::Bit(i)) = (lead, self.place(bit)) {
                    told.insert(i, value.flip(bit.inverted));
                }
            }
        }
        told
    }

    /// Every start of the replacement comes to rest, and the original has a settled state that matches it.
    fn power_up(&self, limit: Limit, verdict: &mut Verdict) -> bool {
        let pair = self.pair;
        let g = &mut Graph::default();
        let outside = pair.levels(g);
        let allowed = pair.allowed(g, &outside);
        if ask(g, &[allowed], verdict).is_none() {
            verdict.objects("no levels at the contacts keep the assumptions: nothing would be shown".to_owned());
            return false;
        }
        self.vacuous(g, &outside, verdict);
        let from = pair.started(1, pair.point(g, 1, &outside));
        let woken = pair.machines[1].rest(g, &from, Freedom::Against, limit);
        let woken_point = (&woken.point, &woken.values);
        let told = self.tell(woken_point);
        let floats = pair.point(g, 0, &outside);
        let mut bad = vec![("settles", woken.unsettled, "power-up: the replacement does not come to rest".to_owned())];
        let (mut unsettled, mut fails) = (Vec::new(), Vec::new());
        for start in &self.relation.starts {
            let mut all = told.clone();
            for Start { bit, of, high } in start {
                let bits: Vec<Lit> = of.iter().map(|bit| self.value(bit, woken_point)).collect();
                let value = among(g, high, &bits);
                if let Some(Place::Bit(i)) = pair.bit(0, bit) {
                    all.entry(i).or_insert(value);
                }
            }
            let mut from = floats.clone();
            all.iter().for_each(|(&i, &value)| from.bits[i] = value);
            let started = pair.started(0, from);
            let matched = pair.machines[0].rest(g, &started, Freedom::Usual(&HashMap::new()), limit);
            let broken = self.broken(g, [(&matched.point, &matched.values), woken_point], "power-up");
            unsettled.push(matched.unsettled);
            fails.push(g.any(broken.iter().map(|b| b.1).chain([matched.unsettled])));
        }
        // whatever board and replacement begin with, one of the starts matches; where one has not yet come to rest, more
        // phases may show that it does
        let words = format!("power-up: none of {} starts of the original matches", fails.len());
        let (none, restless) = (g.all(fails), g.any(unsettled));
        bad.push(("settles", g.and(none, restless), words.clone()));
        bad.push(("initial", g.and(none, !restless), words));
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
                    if ask(g, &[allowed, may, from, changes], verdict).is_none() {
                        let label = &pair.contacts[c].label;
                        verdict.objects(format!("under the assumptions contact {label} can never go {way}"));
                    }
                }
            }
        }
    }
}

/// True where these bits are one of the points.
fn among(g: &mut Graph, points: &[String], bits: &[Lit]) -> Lit {
    points.iter().fold(Lit::FALSE, |any, point| {
        let are = g.are(bits, &levels(point));
        g.or(any, are)
    })
}

/// What is chosen of each kind of unknown.
const CHOICES: [&str; 5] = [
    "clear and preset released together: it keeps what it held",
    "clear or preset released with the clock's edge: the edge does not count",
    "data moved with the clock's edge: it takes what stood before",
    "its data sheet leaves open what it loads: it takes what the replacement has",
    "gates of a loop race: it ends as all gates together would bring it",
];
