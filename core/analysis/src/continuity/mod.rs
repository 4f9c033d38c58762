//! From readings of a meter on a borrowed board to its trace: nets, contradictions, what is not settled, what to measure
//! next.
mod captured;
mod claims;
mod error;
mod judge;
mod narrow;
mod neighbours;
mod parts;
mod readings;
mod settle;
mod table;
#[cfg(test)]
mod tests;
mod text;
mod trace;
mod values;

use std::collections::{BTreeMap, BTreeSet};

use gluewright_kernel::board::Library;
use gluewright_kernel::board::written::PartKind;
use serde::Serialize;

use claims::{Claims, Is};
use judge::{Judged, Keeps, Open, Seen, judge};
use neighbours::Beside;
use settle::Unsettled;

pub use error::{ContinuityError, ContinuityErrorKind};
pub use narrow::Narrowed;
pub use parts::Parts;
pub use readings::{JOINED_UP_TO_OHMS, Point, Reading, Readings, Shows, To};
pub use settle::{Next, Reason};

/// What the readings of a board come to.
#[derive(Clone, Debug, Serialize)]
#[non_exhaustive]
pub struct Study {
    /// The file of the readings.
    pub file: String,
    /// How many readings there are.
    pub readings: usize,
    /// The least number of readings that these joints need: one less than a net has points.
    pub joints: usize,
    /// The nets of two points and more.
    pub nets: Vec<Joined>,
    /// Readings that contradict each other, and what to measure again.
    pub contradictions: Vec<Contradiction>,
    /// Readings that the others outweigh, by their lines: they count for nothing.
    pub overruled: Vec<u64>,
    /// Readings of two points that were joined at one time and apart at another, by their lines, once all of that is decided.
    pub both_ways: Vec<Vec<u64>>,
    /// Joints that are odd for the parts on them, and that readings confirm.
    pub confirmed: Vec<String>,
    /// Pins that nobody has measured, or found apart from everything.
    pub open_pins: Vec<Point>,
    /// Neighbours of which nobody knows whether they are bridged.
    pub open_pairs: Vec<(Point, Point)>,
    /// The readings to make next, in an order that walks over the board. After them others may be needed.
    pub next: Vec<Next>,
    /// What unknown packages may be.
    pub narrowed: Vec<Narrowed>,
    /// What to take before the board goes back.
    pub before_it_goes: Vec<String>,
    /// What no reading bears out.
    pub on_trust: Vec<String>,
    #[serde(skip)]
    trace: Vec<u8>,
}

/// A net.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Joined {
    /// What the trace calls it.
    pub name: String,
    /// What is on it.
    pub points: Vec<Point>,
}

/// Readings that can't all be right.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Contradiction {
    /// Lines of the readings that say *apart*.
    pub apart: Vec<u64>,
    /// Lines of those that say *joined*, each of which would have to be wrong for the others to be right; if it takes more
    /// than one of them, all on the way.
    pub joined: Vec<u64>,
    /// What else speaks against the joint: the parts on it.
    pub parts: Vec<String>,
    /// The reading that settles it, or leads on: measure from here
    pub from: Point,
    /// to there.
    pub to: Point,
}

impl Study {
    /// Every pin is joined to something or was found alone, neighbouring pins of packages and connectors are joined or were
    /// found apart, every net has something that drives it or was found to have nothing else on it, and no two readings
    /// contradict each other.
    pub fn is_settled(&self) -> bool {
        self.contradictions.is_empty()
            && self.open_pins.is_empty()
            && self.open_pairs.is_empty()
            && self.next.is_empty()
    }

    /// The trace as CSV with the columns `ref,part,pin,net`. What is not settled stands in it as `untraced`.
    pub fn trace(&self) -> &[u8] {
        &self.trace
    }
}

/// Makes nets of the readings and says what they leave open.
///
/// ```
/// use gluewright_analysis::continuity::{Parts, Readings, study};
/// # use gluewright_kernel::board::{Library, Part};
/// # struct Empty;
/// # impl Library for Empty {
/// #     fn part(&self, _: &str) -> Option<Part> { None }
/// #     fn names(&self) -> Vec<String> { Vec::new() }
/// # }
/// # let library = &Empty;
/// let parts = Parts::from_csv("parts.csv", "ref,part,pins\nJ1,contacts,2\nR1,resistor,\n", library)?;
/// let rows = "from,to,ohms\n1,R1.1,0.3\n2,R1.2,0.2\n1,others,open\n2,others,open\n1,2,4k7\n";
/// let study = study(&Readings::from_csv("continuity.csv", rows, parts)?, library);
/// assert!(study.is_settled());
/// assert!(String::from_utf8_lossy(study.trace()).contains("R1,resistor 4.7k,1,J1_1\n"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn study(readings: &Readings, library: &dyn Library) -> Study {
    let parts = &readings.parts;
    let seen = Seen::of(readings);
    let beside = Beside::of(&seen, parts);
    let claims = Claims::of(&seen, parts, &beside);
    let judged = judge(&seen, &claims);
    let unsettled = Unsettled::of(&seen, &claims, &beside, &judged);
    let values = values::resistors(readings, &seen, &judged, parts);
    let unlike = values::unlike(readings, &seen, &judged);
    let names = trace::names(&seen, &claims, &judged);
    let point = |at: usize| seen.points.get(at).cloned().unwrap_or(Point::Name(String::new()));

    let mut members: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    (0..seen.points.len()).for_each(|p| members.entry(judged.group(p)).or_default().push(p));
    let joined = members.iter().filter(|(_, points)| points.len() > 1).map(|(group, points)| Joined {
        name: names.get(group).cloned().unwrap_or_default(),
        points: points.iter().map(|&p| point(p)).collect(),
    });
    let nets: Vec<Joined> = joined.collect();
    let mut contradictions: Vec<Contradiction> = judged.open.iter().map(|open| contradiction(&seen, open)).collect();
    contradictions.extend(unlike.into_iter().map(|unlike| Contradiction {
        apart: unlike.lines,
        joined: Vec::new(),
        parts: vec!["the same two nets, other resistances".to_owned()],
        from: unlike.again.0,
        to: unlike.again.1,
    }));
    let mut confirmed: BTreeMap<usize, String> = BTreeMap::new();
    for (claim, (end, _)) in &judged.confirmed {
        confirmed.entry(judged.group(*end)).or_insert_with(|| claim.words.clone());
    }
    Study {
        file: readings.file.clone(),
        readings: readings.all.len(),
        joints: nets.iter().map(|net| net.points.len() - 1).sum(),
        nets,
        both_ways: both_ways(&seen, &judged),
        overruled: overruled(readings, &seen, &judged),
        contradictions,
        confirmed: confirmed.into_values().collect(),
        open_pins: unsettled.pins.iter().map(|&p| point(p)).collect(),
        open_pairs: unsettled.pairs.iter().map(|&(a, b)| (point(a), point(b))).collect(),
        before_it_goes: before_it_goes(parts, &claims, &seen, &values),
        on_trust: on_trust(readings, &seen, &judged, &unsettled),
        trace: trace::sheet(&seen, parts, &claims, &judged, &unsettled, &values),
        next: unsettled.next,
        narrowed: narrow::narrowed(&seen, parts, &claims, &judged, &names, library),
    }
}

fn contradiction(seen: &Seen, open: &Open) -> Contradiction {
    let (mut apart, mut joined, mut parts) = (BTreeSet::new(), BTreeSet::new(), BTreeSet::new());
    let point = |at: usize| seen.points.get(at).cloned().unwrap_or(Point::Name(String::new()));
    for (keeps, _) in &open.keeps {
        match keeps {
            Keeps::Pair(i) => apart.extend(seen.pairs.get(*i).into_iter().flat_map(|p| p.apart.iter().copied())),
            Keeps::Sweep(i) => apart.extend(seen.sweeps.get(*i).map(|s| s.line)),
            Keeps::Claim(claim) => {
                // many pins of a rail say the same
                if parts.len() < 3 {
                    parts.insert(claim.words.clone());
                }
            }
        }
    }
    for pair in open.joins.iter().filter_map(|&i| seen.pairs.get(i)) {
        joined.extend(pair.joined.iter().copied());
    }
    Contradiction {
        apart: apart.into_iter().collect(),
        joined: joined.into_iter().collect(),
        parts: parts.into_iter().collect(),
        from: point(open.again.0),
        to: point(open.again.1),
    }
}

fn both_ways(seen: &Seen, judged: &Judged) -> Vec<Vec<u64>> {
    let open: BTreeSet<usize> = judged.open.iter().flat_map(|open| open.joins.iter().copied()).collect();
    let both =
        seen.pairs.iter().enumerate().filter(|(i, p)| !p.joined.is_empty() && !p.apart.is_empty() && !open.contains(i));
    let lines = both.map(|(_, p)| {
        let mut lines = [&p.joined[..], &p.apart].concat();
        lines.sort_unstable();
        lines
    });
    lines.collect()
}

/// The lines of readings that don't agree with the nets.
fn overruled(readings: &Readings, seen: &Seen, judged: &Judged) -> Vec<u64> {
    let disputed: BTreeSet<u64> = judged
        .open
        .iter()
        .flat_map(|open| open.keeps.iter())
        .flat_map(|(keeps, _)| match keeps {
            Keeps::Pair(i) => seen.pairs.get(*i).map(|p| [&p.apart[..], &p.joined].concat()).unwrap_or_default(),
            Keeps::Sweep(i) => seen.sweeps.get(*i).map(|s| vec![s.line]).unwrap_or_default(),
            Keeps::Claim(_) => Vec::new(),
        })
        .collect();
    let sweeps: BTreeSet<u64> =
        judged.overruled_sweeps.iter().filter_map(|&i| seen.sweeps.get(i)).map(|s| s.line).collect();
    let is_wrong = |reading: &&Reading| match &reading.to {
        To::Others => sweeps.contains(&reading.line),
        To::Point(to) => {
            let groups = [&reading.from, to].map(|p| seen.at.get(p).map(|&at| judged.group(at)));
            (reading.shows == Shows::Joined) != (groups[0] == groups[1])
        }
    };
    readings.all.iter().filter(is_wrong).map(|r| r.line).filter(|line| !disputed.contains(line)).collect()
}

/// What only the board itself can tell, as long as it is here.
fn before_it_goes(parts: &Parts, claims: &Claims<'_>, seen: &Seen, values: &BTreeMap<String, f64>) -> Vec<String> {
    let named = |wanted: &dyn Fn(&parts::Listed) -> bool| {
        let all: Vec<&str> = parts.all().iter().filter(|l| wanted(l)).map(|l| l.reference.as_str()).collect();
        match all.len() {
            0..=12 => all.join(", "),
            more => format!("{} and {} more", all.get(..12).unwrap_or_default().join(", "), more - 12),
        }
    };
    let mut all = vec![
        "photographs of both sides, sharp enough to follow the traces, with a scale and pin 1 in the picture"
            .to_owned(),
        "the markings of every part: type, maker, date code, and the board's own number and revision".to_owned(),
    ];
    let bare = named(&|l| l.kind == PartKind::Resistor(None) && !values.contains_key(&l.reference));
    if !bare.is_empty() {
        all.push(format!("the values of {bare}: colours, and ohms between the two nets"));
    }
    let unknown = named(&|l| l.kind == PartKind::Unknown);
    if !unknown.is_empty() {
        all.push(format!("whatever can be read on {unknown}, also under the light from the side"));
    }
    let other = named(&|l| l.kind == PartKind::Stays || l.kind == PartKind::Type && l.part.is_none());
    if !other.is_empty() {
        all.push(format!("what {other} hold, if they are memories or programmed devices and can be read without harm"));
    }
    let is_source = |p: usize| matches!(claims.what(p), Is::OpenCollector | Is::Source);
    if (0..seen.points.len()).any(is_source) {
        all.push(
            "the pull-ups of every net that open collectors or three-state outputs drive: ohms from it to VCC"
                .to_owned(),
        );
    }
    if parts.contacts().next().is_some() {
        all.push(
            "captures of all contacts with a logic analyser: power-up, each thing that the machine can do, rest"
                .to_owned(),
        );
    }
    all.push(
        "the setting of every jumper, switch and trimmer, and what is fitted at empty positions elsewhere".to_owned(),
    );
    all
}

/// What no reading bears out, or one alone.
fn on_trust(readings: &Readings, seen: &Seen, judged: &Judged, unsettled: &Unsettled) -> Vec<String> {
    let mut all = Vec::new();
    let good = |p: &&judge::Pair| p.weight() > 0 && judged.group(p.ends.0) == judged.group(p.ends.1);
    let once = seen.pairs.iter().filter(good).filter(|p| p.joined.len() == 1).count();
    if once > 0 {
        all.push(format!("{once} joints were read once"));
    }
    if unsettled.trusted > 0 {
        all.push(format!(
            "{} pairs of nets are no neighbours anywhere and were never measured against each other: they are taken as apart",
            unsettled.trusted
        ));
    }
    let between = |shows: fn(&Shows) -> bool| readings.all.iter().filter(|r| shows(&r.shows)).count();
    let through = between(|s| matches!(s, Shows::Ohms(_) | Shows::Drop(_)));
    if through > 0 {
        all.push(format!(
            "{through} readings of ohms or of a diode's drop count as apart: no joint has more than {JOINED_UP_TO_OHMS} ohms"
        ));
    }
    if readings.parts.all().iter().any(|l| l.part.is_some()) {
        all.push("the types in the list of parts, and with them which pins are supplies and outputs".to_owned());
    }
    all
}
