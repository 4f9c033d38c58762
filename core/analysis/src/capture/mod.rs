//! Captures: whether some start of a circuit explains what a logic analyser saw at its contacts, and if none does, the
//! first moment that nothing explains and the single faults that would.
//!
//! A capture is a value change dump (IEEE 1364) or a table in CSV. Outputs that the circuit does not drive are another's
//! and are not compared, unless the list of channels says at which level the board lets them rest.
mod bounded;
mod channels;
mod disagree;
mod dump;
mod error;
mod exercise;
mod fault;
mod moments;
mod record;
mod search;
mod table;
#[cfg(test)]
mod tests;
mod track;

use std::fmt;
use std::io::BufRead;
use std::time::Duration;

use gluewright_kernel::circuit::{Circuit, Direction, Label, Origin};
use gluewright_kernel::limit::{Limit, Over};
use gluewright_kernel::machine::Machine;
use gluewright_kernel::nearest::nearest;

pub use channels::Channels;
pub use error::{CaptureError, CaptureErrorKind};
pub use exercise::Exercise;
pub use record::{Capture, Sample};

use channels::Wired;
use moments::{Moment, Moments};
use search::MOST_FAULTS;
use track::{Track, Verdict};

/// How far apart in time channels may show what happens at once, unless it is told otherwise: three levels of LS logic
/// and one sample at 24 MHz, rounded up (from memory).
pub const SKEW: Duration = Duration::from_nanos(100);

/// A capture together with the circuits that may explain it.
#[derive(Debug)]
pub struct Observed {
    capture: Capture,
    wired: Wired,
    unused: Vec<String>,
    original: Circuit,
    replacement: Circuit,
    /// The original as it goes where the order of changes is known; without it, as the phases have it.
    in_time: Option<Machine>,
    skew: u64,
    limit: Limit,
}

/// One contact that was seen to do what the circuit would not.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Disagreement {
    /// The contact.
    pub label: Label,
    /// Its name.
    pub name: String,
    /// What was seen.
    pub seen: Sample,
    /// What the circuit would show, if all its possible states show the same.
    pub would: Option<Sample>,
}

/// What of a circuit a capture shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Shows {
    /// The contacts that the circuit drives and the capture shows: label and name.
    pub compared: Vec<(Label, String)>,
    /// The contacts that the circuit drives and the capture does not show, so that nothing is said of them.
    pub not_seen: Vec<(Label, String)>,
    /// Channels of the capture that are on no contact, each with the name that may be meant.
    pub unused: Vec<(String, Option<String>)>,
}

/// A single fault that explains all of a capture.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Fault {
    /// In words.
    pub words: String,
    /// Where the thing stands that has it: a row of the trace, a line of the source.
    pub origin: Origin,
}

/// What a capture says of one circuit.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum Finding {
    /// Some start explains all of it.
    Explained {
        /// How many moments were compared.
        moments: usize,
    },
    /// Nothing explains it from this moment on.
    Unexplained {
        /// When, in nanoseconds of the capture's own time.
        nanoseconds: f64,
        /// How many moments before it are explained.
        explained: usize,
        /// What the board did there: label, name, level.
        inputs: Vec<(Label, String, bool)>,
        /// The contacts that disagree.
        disagreements: Vec<Disagreement>,
    },
}

/// What a search for a fault found.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Faults {
    /// Single faults that explain all of the capture, the plainer ones first.
    pub found: Vec<Fault>,
    /// How many were tried.
    pub tried: usize,
    /// How many of them leave too many states open to say.
    pub open: usize,
    /// Whether every contact of the original has a channel already.
    pub all_captured: bool,
    /// Whether the time was too short for all of them.
    pub cut_short: bool,
    /// Whether the original was held against it with an order of changes by delays, which no fault was tried with.
    pub without_delays: bool,
    /// How long it took.
    pub time: Duration,
}

/// Reads a capture for two circuits. `file` decides by its ending: `.csv` and `.txt` are tables, all else is a value change
/// dump. `progress` is told the line that was reached.
///
/// # Errors
/// What is wrong with the file or with the list of channels, with its line and what would mend it.
pub fn read(
    file: &str,
    content: impl BufRead,
    channels: &Channels,
    [original, replacement]: [&Circuit; 2],
    skew: Duration,
    progress: impl FnMut(u64),
) -> Result<Observed, CaptureError> {
    let ending = file.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
    let circuits = [original, replacement];
    for circuit in circuits {
        circuit.check().map_err(|malformed| {
            let mend = "mend the circuit first";
            CaptureError::new(file, None, CaptureErrorKind::Circuit, malformed.to_string(), mend)
        })?;
    }
    let (capture, wired, names) = if ending == "csv" || ending == "txt" {
        let table = table::Table::open(file, content)?;
        let (known, names) = (table.channels(), table.names());
        let wired = channels.wired(file, circuits, &known)?;
        (table.read(&wired, progress)?, wired, names)
    } else {
        let dump = dump::Dump::open(file, content)?;
        let (known, names) = (dump.channels(), dump.names());
        let wired = channels.wired(file, circuits, &known)?;
        (dump.read(&wired, progress)?, wired, names)
    };
    if wired.wires.is_empty() {
        return Err(CaptureError::new(
            file,
            None,
            CaptureErrorKind::Channel,
            "no channel is named like a contact",
            "write a list of rows `channel,contact` and give it with --channels",
        ));
    }
    let skew = u64::try_from(skew.as_nanos()).unwrap_or(u64::MAX).saturating_mul(1000);
    // a channel goes by its own name and by its path: used by one of them it is used, and it is told once
    let is_used = |name: &String| wired.by_channel.contains_key(&name.to_lowercase());
    let mut unused: Vec<String> = Vec::new();
    for channel in names.into_iter().filter(|names| !names.iter().any(is_used)) {
        unused.extend(channel.into_iter().next().filter(|name| !unused.contains(name)));
    }
    Ok(Observed {
        capture,
        wired,
        unused,
        original: original.clone(),
        replacement: replacement.clone(),
        skew,
        in_time: None,
        limit: Limit::default(),
    })
}

impl Observed {
    /// The same, with a limit of time and a token that stops for everything that is asked of it.
    #[must_use]
    pub fn within(mut self, limit: Limit) -> Self {
        self.limit = limit;
        self
    }

    /// How many changes were captured.
    pub fn changes(&self) -> usize {
        self.capture.len()
    }

    /// Which of the original's contacts the capture shows: nothing is said of the others.
    pub fn shows(&self) -> Shows {
        let driven = self.original.contacts().iter().filter(|c| c.direction != Direction::Input);
        let (compared, not_seen): (Vec<_>, Vec<_>) =
            driven.map(|c| (c.label.clone(), c.name.clone())).partition(|(l, _)| self.has_channel(l));
        let names: Vec<&str> = not_seen.iter().map(|(_, name)| name.as_str()).collect();
        // channels are named freely: a name that shares three tenths of its letters may be meant
        let is_near = |channel: &str, slips: usize, name: &str| {
            10 * slips < 7 * channel.chars().count().max(name.chars().count())
        };
        let meant = |channel: &String| {
            let near = nearest(channel, names.iter().copied(), |slips, name| is_near(channel, slips, name));
            (channel.clone(), near.first().map(|name| (*name).to_owned()))
        };
        Shows { compared, not_seen: not_seen.clone(), unused: self.unused.iter().map(meant).collect() }
    }

    fn has_channel(&self, label: &Label) -> bool {
        self.wired.wires.iter().any(|w| w.label == *label)
    }

    /// The original goes as this machine of it does, which knows how the order of changes turns out:
    /// [`Question::original_in_time`](gluewright_kernel::prove::Question::original_in_time).
    #[must_use]
    pub fn in_time(self, original: Machine) -> Self {
        Observed { in_time: Some(original), ..self }
    }

    /// Whether some start of the original explains the capture. `progress` is told how far of 1.0 it is.
    ///
    /// # Errors
    /// If a contact that it reads has no level, or too many states stay possible.
    pub fn original(&self, progress: impl FnMut(f64)) -> Result<Finding, CaptureError> {
        self.original_exercised(progress).map(|(finding, _)| finding)
    }

    /// The same, and what the capture did not exercise: what is explained says nothing of a fault that shows only there.
    ///
    /// # Errors
    /// As [`original`](Observed::original).
    pub fn original_exercised(&self, progress: impl FnMut(f64)) -> Result<(Finding, Exercise), CaptureError> {
        let (finding, compared) = self.check_track(&self.original, self.of_original(), self.skew, progress)?;
        Ok((finding, Exercise::new(self, &compared)))
    }

    /// The shortest larger skew, of a few, with which some start of the original explains the capture: then it may be the
    /// analyser's channels that lie apart, and no fault.
    pub fn explained_with(&self) -> Option<Duration> {
        let skews = [2, 4, 8, 16].into_iter().map(|times| self.skew.saturating_mul(times));
        let explains = |skew: &u64| {
            let said = self.check_track(&self.original, self.of_original(), *skew, |_| ());
            matches!(said, Ok((Finding::Explained { .. }, _)))
        };
        skews.filter(|skew| *skew > self.skew).find(explains).map(|skew| Duration::from_nanos(skew / 1000))
    }

    /// Whether some start of the replacement explains the capture.
    ///
    /// # Errors
    /// As [`original`](Observed::original).
    pub fn replacement(&self, progress: impl FnMut(f64)) -> Result<Finding, CaptureError> {
        self.check(&self.replacement, self.skew, progress).map(|(finding, _)| finding)
    }

    /// Whether some start of any other circuit on the same contacts explains the capture.
    pub(crate) fn explained_by(&self, circuit: &Circuit) -> Result<Finding, CaptureError> {
        Ok(self.check(circuit, self.skew, |_| ())?.0)
    }

    /// Whether a contact has a channel, or a level that was said to be its.
    pub(crate) fn has_level(&self, label: &Label) -> bool {
        self.has_channel(label) || self.wired.fixed.iter().any(|(fixed, _)| fixed == label)
    }

    /// What the capture says of a circuit, and which wires were compared at some moment.
    fn check(
        &self,
        circuit: &Circuit,
        skew: u64,
        progress: impl FnMut(f64),
    ) -> Result<(Finding, Vec<bool>), CaptureError> {
        self.check_track(circuit, Track::new(circuit, &self.wired), skew, progress)
    }

    fn of_original(&self) -> Track<'_> {
        match &self.in_time {
            Some(machine) => Track::of(machine.clone(), &self.wired),
            None => Track::new(&self.original, &self.wired),
        }
    }

    fn check_track(
        &self,
        circuit: &Circuit,
        track: Track<'_>,
        skew: u64,
        mut progress: impl FnMut(f64),
    ) -> Result<(Finding, Vec<bool>), CaptureError> {
        let mut track = track.within(self.limit);
        let missing = track.missing();
        if !missing.is_empty() {
            return Err(CaptureError::new(
                &self.capture.file,
                None,
                CaptureErrorKind::NoLevel,
                format!("`{}` reads contacts that have no channel: {}", circuit.name, missing.join(", ")),
                "capture them too, or say in the list of channels that they keep a level: `high,6`",
            ));
        }
        let driven: Vec<_> = circuit.contacts().iter().filter(|c| c.direction != Direction::Input).collect();
        if !driven.iter().any(|c| self.has_channel(&c.label)) {
            let all: Vec<String> = driven.iter().map(|c| format!("{} {}", c.label, c.name)).collect();
            return Err(CaptureError::new(
                &self.capture.file,
                None,
                CaptureErrorKind::Channel,
                format!("no contact that `{}` drives has a channel: there is nothing to compare", circuit.name),
                format!("capture some of {}, or name their channels in a list for --channels", all.join(", ")),
            ));
        }
        let reads = track.reads();
        let mut count = 0;
        for moment in Moments::new(&self.capture, &reads, skew) {
            if let Some(over) = self.limit.over() {
                return Err(self.over(over, count));
            }
            let moment = moment.map_err(|(time, wire)| self.unclear(time, wire))?;
            let verdict = if count == 0 { track.begin(&moment) } else { track.step(&moment) };
            match verdict {
                Verdict::Explained => count += 1,
                Verdict::Not(wrong) => return Ok((self.unexplained(&moment, count, &wrong), track.compared)),
                Verdict::TooOpen => {
                    let at = self.capture.nanoseconds(moment.time);
                    return Err(CaptureError::new(
                        &self.capture.file,
                        None,
                        CaptureErrorKind::TooOpen,
                        format!("at {at} ns too many states are still possible to go on"),
                        match circuit.contacts().iter().all(|c| self.has_channel(&c.label)) {
                            true => {
                                "capture from a reset on, or give a smaller --skew: all contacts are captured already"
                            }
                            false => "capture from a reset on, capture more contacts, or give a smaller --skew",
                        },
                    ));
                }
            }
            if count % 4096 == 0 {
                progress(moment.time as f64 / self.capture.end.max(1) as f64);
            }
        }
        Ok((Finding::Explained { moments: count }, track.compared))
    }

    fn over(&self, over: Over, explained: usize) -> CaptureError {
        CaptureError::new(
            &self.capture.file,
            None,
            CaptureErrorKind::Over,
            format!("{over}: {explained} moments were explained by then"),
            "give it more time, or a shorter capture",
        )
    }

    fn unclear(&self, time: u64, wire: u16) -> CaptureError {
        let contact =
            self.wired.wires.get(usize::from(wire)).map_or(String::new(), |w| format!("{} {}", w.label, w.name));
        CaptureError::new(
            &self.capture.file,
            None,
            CaptureErrorKind::NoLevel,
            format!(
                "contact {contact}, which the circuit reads, has no level at {} ns",
                self.capture.nanoseconds(time)
            ),
            "capture it with a level from the beginning on",
        )
    }

    fn unexplained(&self, moment: &Moment, explained: usize, wrong: &[disagree::Disagreement]) -> Finding {
        let wire = |w: usize| self.wired.wires.get(w).map(|w| (w.label.clone(), w.name.clone()));
        Finding::Unexplained {
            nanoseconds: self.capture.nanoseconds(moment.time),
            explained,
            inputs: moment
                .inputs
                .iter()
                .filter_map(|&(w, high)| wire(usize::from(w)).map(|(label, name)| (label, name, high)))
                .collect(),
            disagreements: wrong
                .iter()
                .filter_map(|d| {
                    let (label, name) = wire(d.wire)?;
                    Some(Disagreement { label, name, seen: d.seen, would: d.would })
                })
                .collect(),
        }
    }
}

impl fmt::Display for Shows {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let list = |of: &[(Label, String)]| of.iter().map(|(l, n)| format!("{l} {n}")).collect::<Vec<_>>().join(", ");
        if !self.compared.is_empty() {
            writeln!(f, "Compared: contacts {}.", list(&self.compared))?;
        }
        if !self.not_seen.is_empty() {
            writeln!(f, "NOT captured, so that nothing is said of them: contacts {}.", list(&self.not_seen))?;
        }
        for (channel, meant) in &self.unused {
            let meant = meant.as_ref().map_or(String::new(), |m| format!("; is it `{m}`?"));
            writeln!(f, "Channel `{channel}` is on no contact, and was not looked at{meant}")?;
        }
        Ok(())
    }
}

impl fmt::Display for Sample {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Sample::Low => "low",
            Sample::High => "high",
            Sample::Floating => "floating",
            Sample::Unknown => "unknown",
        })
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Finding::Explained { moments } => write!(f, "explains all of it ({moments} moments)"),
            Finding::Unexplained { nanoseconds, explained, inputs, disagreements } => {
                writeln!(f, "explains {explained} moments, and nothing from {nanoseconds} ns on")?;
                if !inputs.is_empty() {
                    let all: Vec<_> = inputs
                        .iter()
                        .map(|(label, name, high)| {
                            format!("contact {label} {name} goes {}", if *high { "high" } else { "low" })
                        })
                        .collect();
                    writeln!(f, "  there {}", all.join(", "))?;
                }
                for (k, d) in disagreements.iter().enumerate() {
                    let end = if k + 1 < disagreements.len() { "\n" } else { "" };
                    let would = match d.would {
                        Some(would) => format!("and would be {would}"),
                        None => "which goes with nothing that was seen before".to_owned(),
                    };
                    write!(f, "  contact {} {} was seen {}, {would}{end}", d.label, d.name, d.seen)?;
                }
                Ok(())
            }
        }
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.found.is_empty(), self.cut_short) {
            (true, false) => writeln!(f, "No single fault explains it: {} were tried.", self.tried)?,
            (true, true) => writeln!(f, "No single fault that explains it was found; {} were tried.", self.tried)?,
            (false, _) => writeln!(
                f,
                "Single faults of the original that explain all of it ({} tried in {:.1} s):",
                self.tried,
                self.time.as_secs_f64()
            )?,
        }
        if self.without_delays {
            writeln!(
                f,
                "  with each fault all changes came in the order of the phases, whatever delays or acknowledgements decide for the \
                 original: a fault can be missing here, or explain it so alone"
            )?;
        }
        for fault in &self.found {
            match &fault.origin {
                Origin::Nowhere => writeln!(f, "  {}", fault.words)?,
                origin => writeln!(f, "  {} ({origin})", fault.words)?,
            }
        }
        if self.found.len() >= MOST_FAULTS {
            let tell = match self.all_captured {
                true => "all contacts are captured already: a longer run that moves more of them may tell them apart",
                false => "capture more contacts to tell them apart",
            };
            writeln!(f, "  and perhaps others, which were not tried: {tell}")?;
        }
        match self.open {
            0 => {}
            1 => writeln!(f, "  1 more leaves too many states open to say")?,
            n => writeln!(f, "  {n} more leave too many states open to say")?,
        }
        if self.cut_short {
            writeln!(f, "  the search stopped after {:.0} s, before all had been tried", self.time.as_secs_f64())?;
        }
        Ok(())
    }
}
