//! The obligations of a proof by induction, derived from both circuits and the relation alone.
use std::collections::{BTreeSet, HashMap};

use crate::certificate::{Bit, Holds, Relation, Side};
use crate::graph::{Graph, Lit, value};
use crate::machine::{Freedom, Limits, Point, Unknown, Values};
use crate::pair::{Pair, Place};
use crate::sat::{Answer, Counts, ask};

/// How far settling is followed, in turn: a circuit that does not rest within the first is given more.
const LIMITS: [Limits; 4] = [
    Limits { phases: 4, rounds: 6 },
    Limits { phases: 8, rounds: 12 },
    Limits { phases: 16, rounds: 24 },
    Limits { phases: 32, rounds: 48 },
];

/// What came of an induction.
#[derive(Debug, Default)]
pub struct Report {
    /// What does not hold.
    pub objections: Vec<String>,
    /// Obligations, by kind: initial, step, output, rest, settles.
    pub obligations: HashMap<&'static str, usize>,
    /// What nobody knows of the original, where a choice was made in the replacement's favour.
    pub chosen: BTreeSet<String>,
    /// Questions and proofs.
    pub counts: Counts,
}

type Found = (usize, Place, bool);

struct Class {
    bits: Vec<Found>,
    constant: bool,
    words: String,
}

struct Group {
    bits: Vec<Found>,
    points: Option<Vec<Vec<bool>>>,
    words: String,
}

/// Checks that the relation holds at power-up, is kept by every event, and shows the same at every contact.
pub fn check(pair: &Pair<'_>, relation: &Relation) -> Report {
    let mut report = Report::default();
    let induction = match Induction::new(pair, relation) {
        Ok(induction) => induction,
        Err(why) => {
            report.objections.push(why);
            return report;
        }
    };
    for (lap, &limits) in LIMITS.iter().enumerate() {
        let mut attempt = Report::default();
        let restless = induction.run(limits, &mut attempt);
        attempt.counts.questions += report.counts.questions;
        attempt.counts.proofs += report.counts.proofs;
        attempt.counts.lemmas += report.counts.lemmas;
        report = attempt;
        if !restless || lap + 1 == LIMITS.len() {
            break;
        }
    }
    report
}

struct Induction<'p> {
    pair: &'p Pair<'p>,
    classes: Vec<Class>,
    groups: Vec<Group>,
    /// Contacts that show the same at rest.
    alike: Vec<usize>,
    starts: Vec<HashMap<Place, Begin>>,
}

/// What a bit of the original begins with.
enum Begin {
    Level(bool),
    /// What this bit of the replacement holds, or the opposite.
    Like(Place, bool),
}

/// The replacement at rest, and what every start of the original shares.
struct Woken<'w> {
    point: &'w Point,
    values: &'w Values,
    levels: &'w [Lit],
    coded: HashMap<Place, Lit>,
    float: Vec<Lit>,
}

/// One thing that must not happen.
struct Bad {
    kind: &'static str,
    when: Lit,
    words: String,
}

struct State {
    points: [Point; 2],
    values: [Values; 2],
    levels: Vec<Lit>,
    hypothesis: Vec<Lit>,
}

impl<'p> Induction<'p> {
    fn new(pair: &'p Pair<'p>, relation: &Relation) -> Result<Self, String> {
        let found = |bit: &Bit| {
            let side = usize::from(bit.side == Side::Replacement);
            let of = if side == 0 { "original" } else { "replacement" };
            let place = pair.bit(side, &bit.bit);
            place
                .map(|p| (side, p, bit.inverted))
                .ok_or_else(|| format!("the relation names `{}` of the {of}: there is no such bit", bit.bit))
        };
        let words = |bits: &[Bit]| {
            let one = |b: &Bit| {
                let of = if b.side == Side::Original { "original" } else { "replacement" };
                format!("{}`{}` of the {of}", if b.inverted { "¬" } else { "" }, b.bit)
            };
            bits.iter().map(one).collect::<Vec<_>>().join(" = ")
        };
        let mut classes = Vec::new();
        for c in &relation.classes {
            let bits = c.bits.iter().map(found).collect::<Result<Vec<_>, _>>()?;
            let words = words(&c.bits) + if c.constant { " = low" } else { "" };
            classes.push(Class { bits, constant: c.constant, words });
        }
        let mut groups = Vec::new();
        for c in &relation.combinations {
            let bits = c.bits.iter().map(found).collect::<Result<Vec<_>, _>>()?;
            let points = c
                .points
                .as_ref()
                .map(|points| points.iter().map(|p| p.chars().map(|c| c == '1').collect()).collect::<Vec<Vec<bool>>>());
            if points.iter().flatten().any(|p| p.len() != bits.len()) {
                return Err("a combination of the relation has not one value for each bit".to_owned());
            }
            groups.push(Group { bits, points, words: words(&c.bits) });
        }
        let mut starts = Vec::new();
        for start in &relation.starts {
            let mut all = HashMap::new();
            for s in start {
                let begin = match &s.holds {
                    Holds::Level(level) => Begin::Level(*level),
                    Holds::Like(bit) => match found(bit)? {
                        (1, place, inverted) => Begin::Like(place, inverted),
                        _ => return Err(format!("a start of the original is told by itself: `{}`", bit.bit)),
                    },
                };
                all.extend(pair.bit(0, &s.bit).map(|place| (place, begin)));
            }
            starts.push(all);
        }
        if starts.is_empty() {
            starts.push(HashMap::new());
        }
        let contact = |label: &String| {
            let found = pair.contacts.iter().position(|c| c.label == *label);
            found.ok_or_else(|| format!("the relation names contact {label}: there is none"))
        };
        let alike = relation.alike.iter().map(contact).collect::<Result<Vec<_>, _>>()?;
        Ok(Induction { pair, classes, groups, alike, starts })
    }

    /// Two settled points that match.
    fn state(&self, g: &mut Graph) -> State {
        let pair = self.pair;
        let mut bound: [HashMap<Place, Lit>; 2] = Default::default();
        for class in &self.classes {
            let value = if class.constant { Lit::FALSE } else { g.free() };
            for &(side, place, inverted) in &class.bits {
                if !matches!(place, Place::Net(_) | Place::Never) {
                    bound[side].entry(place).or_insert(value.flip(inverted));
                }
            }
        }
        let levels = pair.levels(g);
        let points = [0, 1].map(|side| {
            let m = &pair.machines[side];
            let mut of = |g: &mut Graph, place: Place| *bound[side].entry(place).or_insert_with(|| g.free());
            Point {
                held: (0..m.model.elements.len()).map(|e| of(g, Place::Held(e))).collect(),
                mark: (0..m.model.elements.len())
                    .map(|e| if m.marked[e] { of(g, Place::Mark(e)) } else { Lit::FALSE })
                    .collect(),
                cut: (0..m.cuts.len()).map(|c| of(g, Place::Cut(c))).collect(),
                outside: pair.outside(side, &levels),
                float: pair.floats(g, side),
            }
        });
        let values = [0, 1].map(|s| pair.machines[s].evaluate(g, &points[s]));
        let mut hypothesis = vec![pair.allowed(g, &levels)];
        for s in 0..2 {
            hypothesis.push(pair.machines[s].settled(g, &points[s], &values[s]));
        }
        // what the binding did not say by itself: nets, and bits that stand in two classes
        for bad in self.broken(g, &points, &values, "") {
            hypothesis.push(!bad.when);
        }
        State { points, values, levels, hypothesis }
    }

    /// Where the relation does not hold between two points.
    fn broken(&self, g: &mut Graph, points: &[Point; 2], values: &[Values; 2], when: &str) -> Vec<Bad> {
        let at =
            |&(side, place, inverted): &Found| self.pair.at(side, place, &points[side], &values[side]).flip(inverted);
        let kind = if when == "power-up" { "initial" } else { "step" };
        let mut all = Vec::new();
        for class in &self.classes {
            let mut bits: Vec<Lit> = class.bits.iter().map(at).collect();
            if class.constant {
                bits.push(Lit::FALSE);
            }
            let apart: Vec<Lit> = bits.windows(2).map(|w| g.xor(w[0], w[1])).collect();
            let words = format!("{when}: the relation is not kept: {}", class.words);
            all.push(Bad { kind, when: g.any(apart), words });
        }
        for group in &self.groups {
            let Some(points) = &group.points else { continue };
            let bits: Vec<Lit> = group.bits.iter().map(at).collect();
            let holds = among(g, points, &bits);
            all.push(Bad { kind, when: !holds, words: format!("{when}: the combinations are left: {}", group.words) });
        }
        for &c in &self.alike {
            let differs = self.pair.differs(g, c, [&values[0], &values[1]], [&[], &[]]);
            let label = &self.pair.contacts[c].label;
            all.push(Bad {
                kind,
                when: differs,
                words: format!("{when}: contact {label} shows another level at rest"),
            });
        }
        all
    }

    /// Asks about everything at once, and about each if that fails. True if nothing but settling failed.
    fn never(&self, g: &mut Graph, given: &[Lit], bad: &[Bad], report: &mut Report) -> bool {
        for b in bad {
            *report.obligations.entry(b.kind).or_default() += 1;
        }
        let any = g.any(bad.iter().map(|b| b.when));
        let mut all = given.to_vec();
        all.push(any);
        match ask(g, &all, &mut report.counts) {
            Answer::Never => false,
            Answer::Unknown(why) => {
                report.objections.push(format!("{}: {why}", bad.first().map_or("", |b| &b.words)));
                false
            }
            Answer::Model(values) => {
                let wrong: Vec<&Bad> = bad.iter().filter(|b| value(&values, b.when)).collect();
                report.objections.extend(wrong.iter().map(|b| b.words.clone()));
                wrong.iter().all(|b| b.kind == "settles")
            }
        }
    }

    fn run(&self, limits: Limits, report: &mut Report) -> bool {
        let mut restless = self.power_up(limits, report);
        if restless {
            return true;
        }
        let mut g = Graph::default();
        let state = self.state(&mut g);
        let before = [&state.values[0], &state.values[1]];
        let mut bad = Vec::new();
        for c in 0..self.pair.contacts.len() {
            let when = self.pair.differs(&mut g, c, before, [&[], &[]]);
            let label = &self.pair.contacts[c].label;
            bad.push(Bad { kind: "rest", when, words: format!("at rest: contact {label} shows another level") });
        }
        self.never(&mut g, &state.hypothesis, &bad, report);
        for event in &self.pair.events {
            restless |= self.event(event, limits, report);
        }
        restless
    }

    fn event(&self, event: &[usize], limits: Limits, report: &mut Report) -> bool {
        let pair = self.pair;
        let mut g = Graph::default();
        let g = &mut g;
        let state = self.state(g);
        let when = pair.words(event);
        let next = pair.next(g, event, &state.levels);
        let may = pair.may(g, &state.levels, &next, &pair.card(&state.values[1]));
        let replacement =
            pair.machines[1].step(g, &state.points[1], &pair.change(1, event, &next), Freedom::Against, limits);
        // what no sheet says is loaded: what the replacement has by then, since any choice is the original's
        let mut loads = HashMap::new();
        for class in &self.classes {
            let lead = class.bits.iter().find(|(side, ..)| *side == 1);
            let value = match lead {
                _ if class.constant => Some(Lit::FALSE),
                Some(&(side, place, inverted)) => {
                    Some(pair.at(side, place, &replacement.point, &replacement.values).flip(inverted))
                }
                None => None,
            };
            for &(side, place, inverted) in &class.bits {
                if let (0, Place::Held(e), Some(value)) = (side, place, value) {
                    loads.insert(e, value.flip(inverted));
                }
            }
        }
        let change = pair.change(0, event, &next);
        let original = pair.machines[0].step(g, &state.points[0], &change, Freedom::Usual(&loads), limits);
        let mut bad = vec![
            Bad {
                kind: "settles",
                when: original.unsettled,
                words: format!("{when}: the original does not come to rest"),
            },
            Bad {
                kind: "settles",
                when: replacement.unsettled,
                words: format!("{when}: the replacement does not come to rest"),
            },
        ];
        for c in 0..pair.contacts.len() {
            let differs =
                pair.differs(g, c, [&state.values[0], &state.values[1]], [&original.views, &replacement.views]);
            let label = &pair.contacts[c].label;
            let words = format!("{when}: contact {label} shows another sequence");
            bad.push(Bad { kind: "output", when: differs, words });
        }
        let met = original.met;
        let points = [original.point, replacement.point];
        let values = [original.values, replacement.values];
        bad.extend(self.broken(g, &points, &values, &when));
        for (s, of) in ["original", "replacement"].iter().enumerate() {
            let settled = pair.machines[s].settled(g, &points[s], &values[s]);
            bad.push(Bad {
                kind: "step",
                when: !settled,
                words: format!("{when}: the {of} is not settled afterwards"),
            });
        }
        let mut given = state.hypothesis;
        given.push(may);
        let restless = self.never(g, &given, &bad, report);
        for (kind, at, when) in met {
            let model = &pair.machines[0].model;
            let name = match kind {
                Unknown::Loop => model.nets.get(at).map(|n| &n.name),
                _ => model.elements.get(at).map(|e| &e.name),
            };
            let words = format!("`{}`: {}", name.map_or("?", String::as_str), choice(kind));
            if report.chosen.contains(&words) {
                continue;
            }
            let mut all = given.clone();
            all.push(when);
            if !matches!(ask(g, &all, &mut report.counts), Answer::Never) {
                report.chosen.insert(words);
            }
        }
        restless
    }

    /// Every start of the replacement comes to rest, and the original has a settled state that matches it.
    fn power_up(&self, limits: Limits, report: &mut Report) -> bool {
        let pair = self.pair;
        let mut g = Graph::default();
        let g = &mut g;
        let levels = pair.levels(g);
        let allowed = pair.allowed(g, &levels);
        if !matches!(ask(g, &[allowed], &mut report.counts), Answer::Model(_)) {
            report.objections.push("no levels at the contacts keep the assumptions: nothing would be shown".to_owned());
            return false;
        }
        self.vacuous(g, &levels, report);
        let replacement = &pair.machines[1];
        let from = Point {
            held: replacement.model.elements.iter().map(|e| e.start.map_or_else(|| g.free(), Lit::from)).collect(),
            mark: vec![Lit::FALSE; replacement.model.elements.len()],
            cut: replacement.cuts.iter().map(|_| g.free()).collect(),
            outside: pair.outside(1, &levels),
            float: pair.floats(g, 1),
        };
        let woken = replacement.rest(g, &from, Freedom::Against, limits);
        let coded: HashMap<Place, Lit> =
            self.groups.iter().flat_map(|group| self.coded(g, group, &woken.point, &woken.values)).collect();
        let float = pair.floats(g, 0);
        let of = Woken { point: &woken.point, values: &woken.values, levels: &levels, coded, float };
        let mut bad = vec![Bad {
            kind: "settles",
            when: woken.unsettled,
            words: "power-up: the replacement does not come to rest".to_owned(),
        }];
        let settled = replacement.settled(g, &woken.point, &woken.values);
        let words = "power-up: the replacement is not settled afterwards".to_owned();
        bad.push(Bad { kind: "initial", when: !settled, words });
        let mut each: Vec<Vec<Bad>> = self.starts.iter().map(|start| self.begun(g, start, &of, limits)).collect();
        if each.len() == 1 {
            bad.append(&mut each.remove(0));
        } else {
            // whatever board and replacement begin with, one of the starts matches; where one has not yet come to rest,
            // more phases may show that it does
            let fails: Vec<Lit> = each.iter().map(|bad| g.any(bad.iter().map(|b| b.when))).collect();
            let none = g.all(fails);
            let restless: Vec<Lit> = each.iter().flatten().filter(|b| b.kind == "settles").map(|b| b.when).collect();
            let restless = g.any(restless);
            for (kind, when) in [("settles", restless), ("initial", !restless)] {
                let words = format!("power-up: none of {} starts of the original matches", each.len());
                bad.push(Bad { kind, when: g.and(none, when), words });
            }
        }
        self.never(g, &[allowed], &bad, report)
    }

    /// The original from one start, beside the replacement at rest: what is not to be.
    fn begun(&self, g: &mut Graph, start: &HashMap<Place, Begin>, woken: &Woken<'_>, limits: Limits) -> Vec<Bad> {
        let pair = self.pair;
        let original = &pair.machines[0];
        let told = |place: Place, bits: &[Found], constant: bool| {
            let (_, _, turned) = bits.iter().find(|&&(s, p, _)| s == 0 && p == place)?;
            if constant {
                return Some(Lit::from(*turned));
            }
            let &(_, lead, inverted) = bits.iter().find(|(s, ..)| *s == 1)?;
            Some(pair.at(1, lead, woken.point, woken.values).flip(inverted != *turned))
        };
        let of = |place: Place| {
            let tied = self.classes.iter().find_map(|c| told(place, &c.bits, c.constant));
            tied.or_else(|| self.spread(place, &woken.coded)).unwrap_or_else(|| match start.get(&place) {
                None => Lit::FALSE,
                Some(&Begin::Level(level)) => Lit::from(level),
                Some(&Begin::Like(like, inverted)) => pair.at(1, like, woken.point, woken.values).flip(inverted),
            })
        };
        let from = Point {
            held: (0..original.model.elements.len()).map(|e| of(Place::Held(e))).collect(),
            mark: (0..original.model.elements.len())
                .map(|e| if original.marked[e] { of(Place::Mark(e)) } else { Lit::FALSE })
                .collect(),
            cut: (0..original.cuts.len()).map(|c| of(Place::Cut(c))).collect(),
            outside: pair.outside(0, woken.levels),
            float: woken.float.clone(),
        };
        let none = HashMap::new();
        let matched = original.rest(g, &from, Freedom::Usual(&none), limits);
        let points = [matched.point, woken.point.clone()];
        let values = [matched.values, woken.values.clone()];
        let mut bad = vec![Bad {
            kind: "settles",
            when: matched.unsettled,
            words: "power-up: the original does not come to rest".to_owned(),
        }];
        bad.extend(self.broken(g, &points, &values, "power-up"));
        let settled = original.settled(g, &points[0], &values[0]);
        let words = "power-up: the original is not settled afterwards".to_owned();
        bad.push(Bad { kind: "initial", when: !settled, words });
        bad
    }

    /// Under assumptions, every contact must still be able to change both ways.
    fn vacuous(&self, g: &mut Graph, levels: &[Lit], report: &mut Report) {
        let pair = self.pair;
        let allowed = pair.allowed(g, levels);
        for event in &pair.events {
            let next = pair.next(g, event, levels);
            let card = pair.contacts.iter().map(|_| (g.free(), g.free())).collect();
            let may = pair.may(g, levels, &next, &card);
            if allowed == Lit::TRUE && may == Lit::TRUE {
                continue;
            }
            for &c in event {
                for (way, from) in [("high", !levels[c]), ("low", levels[c])] {
                    let changes = g.xor(levels[c], next[c]);
                    if !matches!(ask(g, &[allowed, may, from, changes], &mut report.counts), Answer::Model(_)) {
                        let label = &pair.contacts[c].label;
                        report.objections.push(format!("under the assumptions contact {label} can never go {way}"));
                    }
                }
            }
        }
    }

    /// The bits of the original in a group, as the first combination has them that goes with the replacement's.
    fn coded(&self, g: &mut Graph, group: &Group, point: &Point, values: &Values) -> Vec<(Place, Lit)> {
        let Some(points) = &group.points else { return Vec::new() };
        let told: Vec<usize> = (0..group.bits.len()).filter(|&k| group.bits[k].0 == 1).collect();
        let mut shown: Vec<(Vec<bool>, &Vec<bool>)> = Vec::new();
        for p in points {
            let key: Vec<bool> = told.iter().map(|&k| p[k]).collect();
            if !shown.iter().any(|(known, _)| *known == key) {
                shown.push((key, p));
            }
        }
        let bits: Vec<Lit> = told
            .iter()
            .map(|&k| {
                let (side, place, inverted) = group.bits[k];
                self.pair.at(side, place, point, values).flip(inverted)
            })
            .collect();
        let of_original = (0..group.bits.len()).filter(|&k| group.bits[k].0 == 0);
        of_original
            .map(|k| {
                let high: Vec<Vec<bool>> = shown.iter().filter(|(_, p)| p[k]).map(|(key, _)| key.clone()).collect();
                (group.bits[k].1, among(g, &high, &bits).flip(group.bits[k].2))
            })
            .collect()
    }

    /// What a bit of the original is told through its class by a bit that a combination tells.
    fn spread(&self, place: Place, coded: &HashMap<Place, Lit>) -> Option<Lit> {
        if let Some(&value) = coded.get(&place) {
            return Some(value);
        }
        self.classes.iter().find_map(|class| {
            let (_, _, turned) = class.bits.iter().find(|&&(s, p, _)| s == 0 && p == place)?;
            let told = class.bits.iter().filter(|(s, ..)| *s == 0);
            let (value, inverted) = told.clone().find_map(|(_, p, i)| coded.get(p).map(|&v| (v, *i)))?;
            Some(value.flip(inverted != *turned))
        })
    }
}

/// True where these bits are one of the points.
fn among(g: &mut Graph, points: &[Vec<bool>], bits: &[Lit]) -> Lit {
    let mut any = Vec::new();
    for p in points {
        let all: Vec<Lit> = bits.iter().zip(p).map(|(&b, &v)| b.flip(!v)).collect();
        any.push(g.all(all));
    }
    g.any(any)
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
