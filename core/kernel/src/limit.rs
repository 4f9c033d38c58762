//! When a long computation must end: a time limit, and a token with which somebody else can stop it. Nothing else.
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Stops long computations from outside: of another thread, or of a handler of signals.
///
/// A token is copied freely, and all copies are one; what it stands on lives as long as the program.
#[derive(Clone, Copy)]
pub struct Stop(&'static AtomicBool);

impl Stop {
    /// A token that nobody has used yet.
    #[allow(clippy::new_without_default)] // two defaults would be two tokens
    #[must_use]
    pub fn new() -> Self {
        Stop(Box::leak(Box::new(AtomicBool::new(false))))
    }

    /// Stops everything that heeds this token, within 0.2 seconds, for good.
    pub fn stop(self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether somebody did.
    #[must_use]
    pub fn is_stopped(self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

impl std::fmt::Debug for Stop {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(if self.is_stopped() { "Stop(stopped)" } else { "Stop" })
    }
}

impl PartialEq for Stop {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self.0, other.0)
    }
}

impl Eq for Stop {}

/// When a computation must end, whatever it has reached. Without a time and a token it may go on for ever.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Limit {
    until: Option<Instant>,
    stop: Option<Stop>,
}

/// Why a computation had to end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, thiserror::Error, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Over {
    /// Its time is over.
    #[error("no time left")]
    Time,
    /// Somebody stopped it.
    #[error("stopped")]
    Stopped,
}

impl Limit {
    /// None.
    pub const NONE: Limit = Limit { until: None, stop: None };

    /// This long from now.
    #[must_use]
    pub fn within(time: Duration) -> Self {
        // a time that no clock can tell is none
        Limit { until: Instant::now().checked_add(time), stop: None }
    }

    /// At this moment.
    #[must_use]
    pub fn until(moment: Instant) -> Self {
        Limit { until: Some(moment), stop: None }
    }

    /// Or when somebody says so.
    #[must_use]
    pub fn or_when(self, stop: Option<Stop>) -> Self {
        Limit { stop: stop.or(self.stop), ..self }
    }

    /// The earlier of two; the token is this one's, if it has one.
    #[must_use]
    pub fn and(self, other: Limit) -> Self {
        let until = match (self.until, other.until) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        Limit { until, stop: self.stop.or(other.stop) }
    }

    /// Why it must end now, if it must. Cheap enough to ask in a loop whose round takes a microsecond.
    #[must_use]
    pub fn over(&self) -> Option<Over> {
        if self.stop.is_some_and(Stop::is_stopped) {
            return Some(Over::Stopped);
        }
        self.until.is_some_and(|until| Instant::now() >= until).then_some(Over::Time)
    }

    /// Goes on, or says why not.
    ///
    /// # Errors
    /// If it must end now.
    pub fn check(&self) -> Result<(), Over> {
        self.over().map_or(Ok(()), Err)
    }

    /// How long there is, if there is a time.
    #[must_use]
    pub fn left(&self) -> Option<Duration> {
        self.until.map(|until| until.saturating_duration_since(Instant::now()))
    }

    /// The token, if there is one.
    #[must_use]
    pub fn stop(&self) -> Option<Stop> {
        self.stop
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_ends_by_its_time_or_by_its_token() {
        assert_eq!(Limit::default().over(), None);
        assert_eq!(Limit::within(Duration::ZERO).over(), Some(Over::Time));
        assert_eq!(Limit::within(Duration::MAX).over(), None, "longer than any clock tells");
        let stop = Stop::new();
        let limit = Limit::within(Duration::from_secs(3600)).or_when(Some(stop));
        assert_eq!(limit.check(), Ok(()));
        let copy = limit;
        std::thread::spawn(move || stop.stop()).join().expect("it ran");
        assert_eq!(copy.check(), Err(Over::Stopped));
        assert_ne!(Stop::new(), Stop::new());
    }

    #[test]
    fn of_two_limits_the_earlier_holds() {
        let (soon, late) = (Limit::within(Duration::ZERO), Limit::within(Duration::from_secs(3600)));
        assert_eq!(soon.and(late).over(), Some(Over::Time));
        assert_eq!(late.and(soon).over(), Some(Over::Time));
        assert_eq!(late.and(Limit::default()).over(), None);
        assert!(Limit::default().and(late).left().is_some());
    }
}
