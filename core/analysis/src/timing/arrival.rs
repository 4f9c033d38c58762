//! Changes on their way through a device: where they come from and how long they have taken.
use super::{At, Step, Time};
use gluewright_devices::device::Figure;

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
