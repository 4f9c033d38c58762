//! Changes on their way through a device: where they come from and how long they have taken.
use super::{At, Edge, Kind, Longest, Step, Time};
use gluewright_devices::device::{Figure, Grade, Provenance};

/// Where a change comes from.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Origin {
    Contact(At),
    /// A contact, through the clear of all registers.
    Reset(At),
    /// The clock, through a register.
    Clock(At),
}

/// A change that arrives at the array, or at a pin.
#[derive(Clone, Debug)]
pub(super) struct Arrival {
    pub(super) origin: Origin,
    /// The change there.
    pub(super) from: Edge,
    /// The change here.
    pub(super) edge: Edge,
    pub(super) time: Time,
}

impl Arrival {
    /// Both changes of a contact, where it begins.
    pub(super) fn at(contact: &At) -> [Arrival; 2] {
        Edge::BOTH.map(|edge| Arrival {
            origin: Origin::Contact(contact.clone()),
            from: edge,
            edge,
            time: Time::default(),
        })
    }

    /// The same where the level is inverted.
    #[must_use]
    pub(super) fn inverted_if(mut self, inverts: bool) -> Arrival {
        if inverts {
            self.edge = self.edge.other();
        }
        self
    }

    /// What it may bring about in a register or a driver: either change.
    pub(super) fn either(self) -> [Arrival; 2] {
        Edge::BOTH.map(|edge| Arrival { edge, ..self.clone() })
    }
}

/// One arrival for each change of each origin: the latest, with what is missing of any.
pub(super) fn merged(arrivals: impl IntoIterator<Item = Arrival>) -> Vec<Arrival> {
    let mut all: Vec<Arrival> = Vec::new();
    for arrival in arrivals {
        let same = |a: &&mut Arrival| a.edge == arrival.edge && a.from == arrival.from && a.origin == arrival.origin;
        match all.iter_mut().find(same) {
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
        let (kind, from) = match &arrival.origin {
            Origin::Contact(from) | Origin::Reset(from) => (direct, from),
            Origin::Clock(from) => (clocked, from),
        };
        if kind != direct || from.label != to.label {
            self.take(kind, (from, Some(arrival.from)), (to, Some(arrival.edge)), arrival.time);
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

    /// The changes of a driver after one of what enables it, with the kinds of their times. Its edge is that of the level
    /// that is driven from then on, or was until then.
    pub(super) fn after<'a>(
        &'a self,
        arrival: &'a Arrival,
        who: &'a str,
    ) -> impl Iterator<Item = (Arrival, [Kind; 2])> + 'a {
        let (kind, word, what, figure) = match arrival.edge {
            Edge::Rise => (Kind::Enable, "on", "enable time", self.on),
            Edge::Fall => (Kind::Disable, "off", "disable time", self.off),
        };
        let time = after(arrival.time.clone(), &format!("{who} {word}"), what, figure);
        let kinds = if self.pulls { [Kind::Propagation, Kind::ClockToOutput] } else { [kind; 2] };
        let turned = Arrival { time, ..arrival.clone() };
        // what pulls low and nothing else falls when it is turned on
        let pulls = self.pulls;
        turned.either().into_iter().filter(move |a| !pulls || a.edge != arrival.edge).map(move |a| (a, kinds))
    }
}
