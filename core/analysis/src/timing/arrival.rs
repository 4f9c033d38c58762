//! Changes on their way through a device: where they come from and how long they have taken.
use super::{At, Kind, Longest, Step, Time};
use gluewright_devices::device::{Figure, Grade, Provenance};

/// Where a change comes from.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Origin {
    Contact(At),
    /// The clock, through a register.
    Clock(At),
}

/// A change that arrives at the array, or at a pin.
#[derive(Clone, Debug)]
pub(super) struct Arrival {
    pub(super) origin: Origin,
    pub(super) time: Time,
}

/// One arrival for each origin: the latest, with what is missing of any.
pub(super) fn merged(arrivals: impl IntoIterator<Item = Arrival>) -> Vec<Arrival> {
    let mut all: Vec<Arrival> = Vec::new();
    for arrival in arrivals {
        match all.iter_mut().find(|a| a.origin == arrival.origin) {
            Some(known) if known.time.ns >= arrival.time.ns => known.time.missing.extend(arrival.time.missing),
            Some(known) => {
                let missing = std::mem::replace(&mut known.time, arrival.time).missing;
                known.time.missing.extend(missing);
            }
            None => all.push(arrival),
        }
    }
    for arrival in &mut all {
        arrival.time.missing.sort();
        arrival.time.missing.dedup();
    }
    all
}

/// A time and one stretch more.
pub(super) fn after(mut time: Time, through: &str, what: &str, figure: Option<&Figure>) -> Time {
    time.path.push(Step {
        through: through.to_owned(),
        ns: figure.map(|f| f.value),
        source: figure.map_or_else(|| "not known".to_owned(), |f| f.from.to_string()),
        from_memory: figure.is_some_and(|f| f.from == Provenance::Memory),
    });
    match figure {
        Some(figure) => time.ns += figure.value,
        None => {
            let missing = format!("no {what} in this grade");
            if !time.missing.contains(&missing) {
                time.missing.push(missing);
            }
        }
    }
    time
}

impl Longest {
    /// A change arrives at a contact: these are the kinds of its time if it comes from a contact, and if from a clock.
    pub(super) fn arrives(&mut self, to: &At, arrival: Arrival, [direct, clocked]: [Kind; 2]) {
        match &arrival.origin {
            Origin::Contact(from) if from.label != to.label => self.take(direct, from, to, arrival.time),
            Origin::Contact(_) => {}
            Origin::Clock(from) => self.take(clocked, from, to, arrival.time),
        }
    }
}

/// What turns a driver on and off.
pub(super) struct Turns<'g> {
    pub(super) on: Option<&'g Figure>,
    pub(super) off: Option<&'g Figure>,
    /// A constant low that is turned on and off is what an open collector was: its times are those of a level.
    pub(super) pulls: bool,
}

impl<'g> Turns<'g> {
    /// By a product term.
    pub(super) fn by_term(grade: &'g Grade, pulls: bool) -> Self {
        Turns { on: grade.term_enable.as_ref(), off: grade.term_disable.as_ref(), pulls }
    }

    /// By a pin.
    pub(super) fn by_pin(grade: &'g Grade, pulls: bool) -> Self {
        Turns { on: grade.pin_enable.as_ref(), off: grade.pin_disable.as_ref(), pulls }
    }

    /// The changes of a driver after one of what enables it, with the kinds of their times.
    pub(super) fn after<'a>(
        &'a self,
        arrival: &'a Arrival,
        who: &'a str,
    ) -> impl Iterator<Item = (Arrival, [Kind; 2])> + 'a {
        let turns = [(Kind::Enable, "on", "enable time", self.on), (Kind::Disable, "off", "disable time", self.off)];
        turns.into_iter().map(move |(kind, word, what, figure)| {
            let time = after(arrival.time.clone(), &format!("{who} {word}"), what, figure);
            let kinds = if self.pulls { [Kind::Propagation, Kind::ClockToOutput] } else { [kind; 2] };
            (Arrival { origin: arrival.origin.clone(), time }, kinds)
        })
    }
}
