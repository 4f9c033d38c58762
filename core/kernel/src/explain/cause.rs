//! The chain of cause in one circuit, back from what a contact shows: which driver, its condition, which register, which
//! edge.
use crate::circuit::{By, ElementId, Expr, Kind, Label, NetId, Op, Origin, Pull, Stage};

use super::replay::Track;
use super::words::{Leaf, Literal, condition, level, list, literal_of, literals, name, reasons};

/// One link of a chain of cause.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
#[non_exhaustive]
pub struct Cause {
    /// How far back: 0 is the contact itself, its causes are 1, and so on.
    pub depth: usize,
    /// What happens there and why, in words.
    pub text: String,
    /// Where it was written: a line of the replacement's source, a row of the trace.
    pub origin: Origin,
    /// The contacts at whose levels it looks.
    #[serde(skip)]
    spoken: Vec<Label>,
}

impl Cause {
    /// Whether its words depend on the level of a contact.
    pub(super) fn speaks_of(&self, label: &Label) -> bool {
        self.spoken.contains(label)
    }
}

/// What about a contact is to be explained.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Aspect {
    /// Whether it is driven.
    Drive,
    /// The level to which it is driven.
    Level,
    /// The resistor that pulls it.
    Pull,
}

/// The most links that are told: what lies further back is rarely read.
const LONGEST: usize = 9;
const FURTHEST: usize = 6;

/// A chain in the making.
pub(super) struct Chain<'t> {
    track: &'t Track,
    causes: Vec<Cause>,
    visited: Vec<(Leaf, usize)>,
}

impl<'t> Chain<'t> {
    /// Why a contact shows what it shows at a moment.
    pub(super) fn of(track: &'t Track, label: &Label, aspect: Aspect, moment: usize) -> Vec<Cause> {
        let mut chain = Chain { track, causes: Vec::new(), visited: Vec::new() };
        match track.circuit.find_contact(label).and_then(|c| track.circuit.contacts().get(c.index())) {
            Some(contact) => chain.contact(contact.net, aspect, moment),
            None => chain.say(0, "it has no such contact, so nothing drives it".to_owned(), &Origin::Nowhere),
        }
        chain.causes
    }

    fn say(&mut self, depth: usize, text: String, origin: &Origin) {
        self.causes.push(Cause { depth, text, origin: origin.clone(), spoken: Vec::new() });
    }

    fn contact(&mut self, id: NetId, aspect: Aspect, moment: usize) {
        let circuit = std::sync::Arc::clone(&self.track.circuit);
        let Some(net) = circuit.nets().get(id.index()) else { return };
        match aspect {
            Aspect::Level => self.net(0, id, moment),
            Aspect::Pull => {
                let text = match net.pull {
                    Pull::None => "no resistor pulls it",
                    Pull::Up => "a resistor pulls it high",
                    Pull::Down => "a resistor pulls it low",
                };
                self.say(0, text.to_owned(), &net.origin);
            }
            Aspect::Drive if net.drivers.is_empty() => {
                self.say(0, "nothing on it ever drives".to_owned(), &net.origin);
            }
            Aspect::Drive => {
                let on: Vec<_> = net.drivers.iter().filter(|d| self.track.value(d.enable, moment)).collect();
                let told = if on.is_empty() { net.drivers.iter().collect() } else { on };
                for d in told {
                    let drives = self.track.value(d.enable, moment);
                    let why = reasons(self.track, d.enable, moment);
                    let words = literals(&circuit, &why);
                    let verb = if d.stage == Stage::OpenCollector { "pulls low" } else { "drives" };
                    let who = d.by.quoted();
                    let text = match (drives, d.enable.as_constant(), condition(&circuit, d.enable)) {
                        (true, Some(_), _) => format!("{who} always {verb}"),
                        (false, Some(_), _) => format!("{who} never {verb}"),
                        (true, None, Some(c)) => format!("{who} {verb} while {c}, and so it is"),
                        (true, None, None) => format!("{who} {verb}, because {words}"),
                        (false, None, Some(c)) => format!("{who} {verb} only while {c}; now {words}"),
                        (false, None, None) => format!("{who} does not drive, because {words}"),
                    };
                    self.say(0, text, &d.origin);
                    self.follow(1, &why, moment);
                }
            }
        }
    }

    fn follow(&mut self, depth: usize, of: &[Literal], moment: usize) {
        let nets = of.iter().filter_map(|l| match l.leaf {
            Leaf::Net(n) => self.track.circuit.nets().get(n.index())?.contact,
            Leaf::Q(_) => None,
        });
        let labels = nets.filter_map(|c| self.track.circuit.contacts().get(c.index())).map(|c| c.label.clone());
        let spoken: Vec<Label> = labels.collect();
        if let Some(cause) = self.causes.last_mut() {
            cause.spoken.extend(spoken);
        }
        for &l in of {
            if depth > FURTHEST || self.causes.len() >= LONGEST || self.visited.contains(&(l.leaf, moment)) {
                continue;
            }
            self.visited.push((l.leaf, moment));
            match l.leaf {
                Leaf::Net(n) => self.net(depth, n, moment),
                Leaf::Q(e) => self.element(depth, e, moment),
            }
        }
    }

    /// Why a net has its level; says nothing of what the board drives.
    fn net(&mut self, depth: usize, id: NetId, moment: usize) {
        let circuit = std::sync::Arc::clone(&self.track.circuit);
        let Some(net) = circuit.nets().get(id.index()) else { return };
        let called = name(&circuit, Leaf::Net(id));
        let Some(d) = net.drivers.iter().find(|d| self.track.value(d.enable, moment)) else {
            if net.contact.is_none() {
                let read = match net.undriven_level() {
                    Some(high) => format!("it reads {}", level(high)),
                    None => "what a CMOS input reads there nobody knows".to_owned(),
                };
                self.say(depth, format!("nothing drives {called}: {read}"), &net.origin);
            }
            return;
        };
        let high = self.track.value(d.level, moment);
        let mut why = Vec::new();
        if d.enable != Expr::HIGH {
            why.extend(reasons(self.track, d.enable, moment));
        }
        why.extend(reasons(self.track, d.level, moment).into_iter().filter(|&l| !is_in(&why, l)).collect::<Vec<_>>());
        let who = d.by.quoted();
        // a contact that shows its own register is no link of its own
        if let [Literal { leaf: Leaf::Q(e), high: held }] = why[..]
            && held == high
            && circuit.elements().get(e.index()).is_some_and(|e| d.by == By::Signal(e.name.clone()))
        {
            return self.element(depth, e, moment);
        }
        // the contact of a field has the field's name: it is not said twice
        let same = net.contact.is_some() && !d.by.is_pin();
        let subject =
            if same { format!("{who} is {}", level(high)) } else { format!("{who} makes {called} {}", level(high)) };
        let text = match why.as_slice() {
            [] => format!("{subject}, always"),
            why => format!("{subject}: {}", literals(&circuit, why)),
        };
        self.say(depth, text, &d.origin);
        self.follow(depth + 1, &why, moment);
    }

    /// Why an element holds what it holds: the last edge, clear, preset or opening that gave it that.
    fn element(&mut self, depth: usize, id: ElementId, moment: usize) {
        let circuit = std::sync::Arc::clone(&self.track.circuit);
        let Some(e) = circuit.elements().get(id.index()) else { return };
        let called = name(&circuit, Leaf::Q(id));
        let track = self.track;
        let last_of_event = |m: usize| track.moments.get(m + 1).is_none_or(|n| n.event != track.moments[m].event);
        for now in (0..=moment).rev() {
            // a register acts one phase after its cause: what the last phase shown began is not yet seen
            let seen = now < moment || last_of_event(now) || matches!(e.kind, Kind::Latch { .. });
            if !seen {
                continue;
            }
            let when = step(track, now);
            for (forced, verb) in [(e.clear, "cleared"), (e.preset, "preset")] {
                if track.value(forced, now) {
                    let why = reasons(track, forced, now);
                    self.say(
                        depth,
                        format!("{when}: {called} is {verb}, because {}", literals(&circuit, &why)),
                        &e.origin,
                    );
                    return self.follow(depth + 1, &why, now);
                }
            }
            match e.kind {
                Kind::Latch { open, data } if track.value(open, now) => {
                    let why = reasons(track, data, now);
                    let high = level(track.value(data, now));
                    let text = format!("{when}: {called} is open and takes {high}{}", because(&circuit, &why));
                    self.say(depth, text, &e.origin);
                    return self.follow(depth + 1, &why, now);
                }
                Kind::Register { clock, data } => {
                    let Some(before) = now.checked_sub(1) else { continue };
                    let was_forced = track.value(e.clear, before) || track.value(e.preset, before);
                    let rises = !track.value(clock, before) && track.value(clock, now);
                    if rises && !was_forced {
                        return self.loaded(depth, id, [clock, data], before, &when);
                    }
                }
                Kind::Latch { .. } => {}
            }
        }
        let held = level(track.value_held(id, moment));
        let would = match e.kind {
            Kind::Register { clock, .. } => literal_of(&circuit, clock)
                .map(|l| format!("it would load when {} goes {}", name(&circuit, l.leaf), level(l.high))),
            Kind::Latch { open, .. } => condition(&circuit, open).map(|c| format!("it would follow while {c}")),
        };
        let would = would.unwrap_or_else(|| "nothing has changed it".to_owned());
        self.say(depth, format!("{called} holds {held} since power-up: {would}"), &e.origin);
    }

    fn loaded(&mut self, depth: usize, id: ElementId, [clock, data]: [Expr; 2], before: usize, when: &str) {
        let circuit = std::sync::Arc::clone(&self.track.circuit);
        let Some(e) = circuit.elements().get(id.index()) else { return };
        let called = name(&circuit, Leaf::Q(id));
        let value = self.track.value(data, before);
        let high = level(value);
        let why = reasons(self.track, data, before);
        let (own, others): (Vec<Literal>, Vec<Literal>) = why.into_iter().partition(|l| l.leaf == Leaf::Q(id));
        // what it held is a reason for the opposite too, in a register that toggles
        let keeps = matches!((circuit.op(data), own.as_slice()), (Op::Choose(..), [own]) if own.high == value);
        let mut all = others.clone();
        if !keeps {
            all.extend(own);
        }
        let verb = if keeps { "keeps" } else { "loads" };
        let was = before_the_edge(&circuit, if keeps { &others } else { &all });
        let was = if was.is_empty() { was } else { format!(", because before that {was}") };
        let edge = self.edge(clock, before);
        self.say(depth, format!("{when}: {called} {verb} {high} when {edge}{was}"), &e.origin);
        self.follow(depth + 1, &all, before);
    }

    /// What made a clock rise after this moment, in words.
    fn edge(&self, clock: Expr, before: usize) -> String {
        let track = self.track;
        let moved = reasons(track, clock, before + 1).into_iter().filter(|l| track.leaf(l.leaf, before) != l.high);
        let words: Vec<String> = moved
            .map(|l| {
                let goes = if matches!(l.leaf, Leaf::Q(_)) { "changes to" } else { "goes" };
                format!("{} {goes} {}", name(&track.circuit, l.leaf), level(l.high))
            })
            .collect();
        if words.is_empty() { "its clock's edge comes".to_owned() } else { words.join(" and ") }
    }
}

/// Literals as they stood before an edge: `contact 7 strobe was low`, `` `fresh` held high ``.
fn before_the_edge(circuit: &crate::circuit::Circuit, of: &[Literal]) -> String {
    let words: Vec<String> = of
        .iter()
        .map(|l| {
            let verb = if matches!(l.leaf, Leaf::Q(_)) { "held" } else { "was" };
            format!("{} {verb} {}", name(circuit, l.leaf), level(l.high))
        })
        .collect();
    list(&words)
}

impl Track {
    fn leaf(&self, leaf: Leaf, moment: usize) -> bool {
        match leaf {
            Leaf::Q(e) => self.value_held(e, moment),
            Leaf::Net(n) => {
                let node = self.machine.node_of_net(n);
                let point = self.moments.get(moment).map(|m| &m.point);
                node.zip(point).is_some_and(|(node, point)| self.machine.value(point, node) & 1 == 1)
            }
        }
    }

    fn value_held(&self, id: ElementId, moment: usize) -> bool {
        let held = self.moments.get(moment).map(|m| self.machine.held(&m.point)).unwrap_or_default();
        held.get(id.index()).is_some_and(|w| w & 1 == 1)
    }
}

fn because(circuit: &crate::circuit::Circuit, why: &[Literal]) -> String {
    if why.is_empty() { String::new() } else { format!(", because {}", literals(circuit, why)) }
}

fn is_in(all: &[Literal], one: Literal) -> bool {
    all.contains(&one)
}

fn step(track: &Track, moment: usize) -> String {
    match track.moments.get(moment).map_or(0, |m| m.event) {
        0 => "at power-up".to_owned(),
        n => format!("step {n}"),
    }
}
