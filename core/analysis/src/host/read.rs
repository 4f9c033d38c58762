//! The file about the board: CSV, one row for each thing that is known of a contact.
use std::sync::Arc;

use super::{Hangs, Host, HostError, HostSupply, HostTime, Hung, Problem, ProblemKind, Timed};
use crate::timing::{At, Edge};
use gluewright_kernel::board::{Board, PinRole, ohms};
use gluewright_kernel::circuit::{Label, Origin, Stage};
use gluewright_kernel::nearest::{did_you_mean, mistyped, nearest};

/// The most rows that such a file may have.
const MOST_ROWS: usize = 10_000;

/// The columns, in any order.
const COLUMNS: [&str; 6] = ["contact", "what", "value", "part", "edge", "known_from"];

/// The words of the column `what` beside those of times.
const WORDS: [&str; 9] =
    ["pin", "load_low", "load_high", "load_pf", "pull_up", "pull_down", "driver", "regulator", "others"];

/// Reads everything; what is wrong is collected.
pub(super) fn read(file: &str, bytes: &[u8], board: &Board) -> Result<Host, HostError> {
    let mut reading = Reading { file: file.into(), contacts: Contacts::of(board), board, problems: Vec::new() };
    let host = reading.rows(bytes);
    match reading.problems {
        problems if problems.is_empty() => Ok(host),
        problems => Err(HostError::Wrong(problems)),
    }
}

/// The contacts of a card, with those that carry a supply.
struct Contacts(Vec<(At, bool)>);

impl Contacts {
    fn of(board: &Board) -> Contacts {
        let nets = board.netlist().nets;
        let at = |label: &Label, name: &str| At { label: label.to_string(), name: name.to_owned() };
        let all = nets.iter().flat_map(|net| net.contacts.iter().map(move |l| (at(l, &net.name), net.is_rail)));
        Contacts(all.collect())
    }

    /// The contact of this label, name, or both with a blank between.
    fn find(&self, text: &str) -> Result<&(At, bool), (ProblemKind, String)> {
        let labelled = self.0.iter().find(|(at, _)| at.label == text);
        if let Some(found) = labelled.or_else(|| self.0.iter().find(|(at, _)| at.to_string() == text)) {
            return Ok(found);
        }
        let mut named = self.0.iter().filter(|(at, _)| at.name == text);
        match (named.next(), named.next()) {
            (Some(one), None) => Ok(one),
            (Some((one, _)), Some((other, _))) => {
                let mend = format!("write the label: {} or {}", one.label, other.label);
                Err((ProblemKind::SeveralContacts(text.to_owned()), mend))
            }
            (None, _) => {
                let names = self.0.iter().flat_map(|(at, _)| [at.name.as_str(), at.label.as_str()]);
                let near = did_you_mean(&nearest(text, names, mistyped(text)));
                let some: Vec<String> = self.0.iter().take(30).map(|(at, _)| at.to_string()).collect();
                let mend = near.unwrap_or_else(|| format!("write one of {}, by label or name", some.join(", ")));
                Err((ProblemKind::Contact(text.to_owned()), mend))
            }
        }
    }
}

struct Reading<'b> {
    file: Arc<str>,
    contacts: Contacts,
    board: &'b Board,
    problems: Vec<Problem>,
}

/// One row.
struct Row<'r> {
    line: u32,
    fields: [&'r str; COLUMNS.len()],
}

impl<'r> Row<'r> {
    fn field(&self, name: &'static str) -> &'r str {
        let at = COLUMNS.iter().position(|column| *column == name);
        at.and_then(|at| self.fields.get(at)).copied().unwrap_or_default()
    }
}

/// A row that says nothing that can be used: the problem is noted.
struct Noted;

impl Reading<'_> {
    fn wrong(&mut self, line: u32, field: &'static str, kind: ProblemKind, mend: impl Into<String>) -> Noted {
        let origin = Origin::line(&self.file, line);
        self.problems.push(Problem { origin, field, kind, mend: mend.into() });
        Noted
    }

    fn rows(&mut self, bytes: &[u8]) -> Host {
        let mut host = Host { file: self.file.to_string(), ..Host::default() };
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .delimiter(delimiter(bytes))
            .from_reader(bytes);
        let mut columns: Option<[Option<usize>; COLUMNS.len()]> = None;
        for (count, record) in reader.records().enumerate() {
            let record = match record {
                Ok(record) => record,
                Err(e) => {
                    let line = e.position().map_or(1, |p| line(bytes, p));
                    self.wrong(line, "contact", ProblemKind::NotText, "save the sheet as CSV in UTF-8");
                    continue;
                }
            };
            let line = record.position().map_or(1, |p| line(bytes, p));
            if count > MOST_ROWS {
                let mend = "it has a few rows for each contact; is this the right file?";
                self.wrong(line, "contact", ProblemKind::TooMany(MOST_ROWS), mend);
                return host;
            }
            let Some(at) = &columns else {
                match self.header(line, &record) {
                    Ok(at) => columns = Some(at),
                    Err(Noted) => return host,
                }
                continue;
            };
            if record.iter().all(str::is_empty) {
                continue;
            }
            let fields = at.map(|at| at.and_then(|at| record.get(at)).unwrap_or_default());
            // what is wrong is noted
            let _ = self.row(&Row { line, fields }, &mut host);
        }
        let is_empty = host.hung.is_empty() && host.times.is_empty() && host.supply == HostSupply::default();
        if is_empty && self.problems.is_empty() {
            let mend = "start it with the header `contact,what,value,part,edge,known_from`, then one row for each thing \
                        that is known of a contact";
            self.wrong(1, "contact", ProblemKind::NoRows, mend);
        }
        host
    }

    fn header(&mut self, line: u32, record: &csv::StringRecord) -> Result<[Option<usize>; COLUMNS.len()], Noted> {
        let mut at = [None; COLUMNS.len()];
        for (name, place) in COLUMNS.into_iter().zip(&mut at) {
            let is_it = |field: &str| field.trim_start_matches('\u{feff}').eq_ignore_ascii_case(name);
            let mut found = record.iter().enumerate().filter(|(_, field)| is_it(field)).map(|(i, _)| i);
            *place = found.next();
            if found.next().is_some() {
                return Err(self.wrong(line, name, ProblemKind::ColumnTwice(name), "name each column once"));
            }
        }
        for (name, place) in COLUMNS.into_iter().zip(&at) {
            // without a part or an edge there may be no need of these columns
            if place.is_none() && name != "part" && name != "edge" {
                let mend = "the first row names the columns: `contact,what,value,part,edge,known_from`, in any order";
                return Err(self.wrong(line, name, ProblemKind::NoColumn(name), mend));
            }
        }
        Ok(at)
    }

    fn row(&mut self, row: &Row<'_>, host: &mut Host) -> Result<(), Noted> {
        let word = row.field("what").to_lowercase();
        let timed = Timed::ALL.into_iter().find(|timed| timed.word() == word);
        if timed.is_none() && !WORDS.contains(&word.as_str()) {
            let all = || WORDS.into_iter().chain(Timed::ALL.map(Timed::word));
            let near = did_you_mean(&nearest(&word, all(), mistyped(&word)));
            let mend = near.unwrap_or_else(|| format!("write one of {}", all().collect::<Vec<_>>().join(", ")));
            let kind = match word.is_empty() {
                true => ProblemKind::Missing,
                false => ProblemKind::Word(row.field("what").to_owned()),
            };
            return Err(self.wrong(row.line, "what", kind, mend));
        }
        let known_from: Arc<str> = row.field("known_from").into();
        if known_from.is_empty() {
            let mend = "say where it is known from: a schematic, a data sheet with its page, a measurement";
            return Err(self.wrong(row.line, "known_from", ProblemKind::Missing, mend));
        }
        let needs = [("part", word == "pin"), ("edge", timed.is_some_and(Timed::has_edge))];
        for (field, is_needed) in needs {
            match (is_needed, row.field(field)) {
                (true, "") => {
                    let mend = match field {
                        "part" => "write the type of the part, and its pin in `value`",
                        _ => "write the contact and its change, such as `1 rises`",
                    };
                    return Err(self.wrong(row.line, field, ProblemKind::Missing, mend));
                }
                (false, text) if !text.is_empty() => {
                    let mend = format!("leave it empty: `{word}` needs none");
                    return Err(self.wrong(row.line, field, ProblemKind::Needless(text.to_owned()), mend));
                }
                _ => {}
            }
        }
        match timed {
            Some(what) => self.time(row, what, known_from, host),
            None if word == "regulator" || word == "others" => self.supply(row, &word, known_from, host),
            None => self.hung(row, &word, known_from, host),
        }
    }

    /// Contacts that carry a signal, with their change if one stands behind them: one, or `10..17` for all from one number to
    /// another.
    fn contacts(&mut self, row: &Row<'_>, field: &'static str) -> Result<Vec<(At, Option<Edge>)>, Noted> {
        let text = row.field(field);
        let changes = [(" rises", Edge::Rise), (" falls", Edge::Fall)];
        let with = changes.iter().find_map(|(word, edge)| Some((text.strip_suffix(word)?.trim(), *edge)));
        let (name, edge) = with.map_or((text, None), |(name, edge)| (name, Some(edge)));
        if name.is_empty() {
            return Err(self.wrong(row.line, field, ProblemKind::Missing, "write the contact's label or name"));
        }
        let range = name.split_once("..").and_then(|(a, b)| Some(Label::new(a).number()?..=Label::new(b).number()?));
        if let Some(range) = range {
            let is_in = |at: &At| Label::new(&at.label).number().is_some_and(|n| range.contains(&n));
            let all = self.contacts.0.iter().filter(|(at, is_supply)| !is_supply && is_in(at));
            let all: Vec<(At, Option<Edge>)> = all.map(|(at, _)| (at.clone(), edge)).collect();
            if all.is_empty() {
                let mend = "write the lowest and the highest number of contacts that carry signals, such as `10..17`";
                return Err(self.wrong(row.line, field, ProblemKind::Contact(name.to_owned()), mend));
            }
            return Ok(all);
        }
        match self.contacts.find(name).cloned() {
            Ok((_, true)) => {
                let kind = ProblemKind::Wrong("this contact carries a supply, no signal");
                Err(self.wrong(row.line, field, kind, "say it of a contact with a signal"))
            }
            Ok((at, false)) => Ok(vec![(at, edge)]),
            Err((kind, mend)) => Err(self.wrong(row.line, field, kind, mend)),
        }
    }

    /// Whether there is room for more: ranges make many things of one row.
    fn room(&mut self, row: &Row<'_>, host: &Host) -> Result<(), Noted> {
        if host.times.len() + host.hung.len() < MOST_ROWS {
            return Ok(());
        }
        let mend = "say it of fewer contacts";
        Err(self.wrong(row.line, "contact", ProblemKind::TooMany(MOST_ROWS), mend))
    }

    /// A number that is not below nought.
    fn number(&mut self, row: &Row<'_>, what: &'static str) -> Result<f64, Noted> {
        let text = row.field("value");
        let number = text.replace(',', ".").parse::<f64>().ok().filter(|n| n.is_finite() && *n >= 0.0);
        number.ok_or_else(|| {
            let mend = "write a plain number without its unit, such as `12.5`";
            self.wrong(row.line, "value", ProblemKind::Number(text.to_owned(), what), mend)
        })
    }

    fn time(&mut self, row: &Row<'_>, what: Timed, known_from: Arc<str>, host: &mut Host) -> Result<(), Noted> {
        let contacts = self.contacts(row, "contact")?;
        let edges: Vec<(Option<At>, Option<Edge>)> = match what.has_edge() {
            true => self.contacts(row, "edge")?.into_iter().map(|(at, edge)| (Some(at), edge)).collect(),
            false => vec![(None, None)],
        };
        let ns = self.number(row, "time in ns")?;
        for (at, change) in &contacts {
            for (to, its_change) in &edges {
                if to.as_ref() == Some(at) {
                    let kind = ProblemKind::Wrong("a contact stands in no relation to its own change");
                    return Err(self.wrong(row.line, "edge", kind, "write the other contact, the clock for instance"));
                }
                let time = HostTime {
                    what,
                    at: at.clone(),
                    change: *change,
                    to: to.clone(),
                    its_change: *its_change,
                    ns,
                    known_from: Arc::clone(&known_from),
                    origin: Origin::line(&self.file, row.line),
                };
                let same = |t: &&HostTime| {
                    (t.what, &t.at, t.change, &t.to, t.its_change)
                        == (time.what, &time.at, time.change, &time.to, time.its_change)
                };
                if let Some(Origin::Line { line, .. }) = host.times.iter().find(same).map(|t| t.origin.clone()) {
                    let mend = "leave one of the two: the shorter";
                    return Err(self.wrong(row.line, "value", ProblemKind::Twice(line), mend));
                }
                self.room(row, host)?;
                host.times.push(time);
            }
        }
        Ok(())
    }

    fn supply(&mut self, row: &Row<'_>, word: &str, known_from: Arc<str>, host: &mut Host) -> Result<(), Noted> {
        let text = row.field("contact");
        if !text.is_empty() && !matches!(self.contacts.find(text), Ok((_, true))) {
            let kind = ProblemKind::Wrong("this is no contact that carries a supply");
            return Err(self.wrong(row.line, "contact", kind, "leave it empty"));
        }
        let ma = self.number(row, "current in mA")?;
        let place = if word == "regulator" { &mut host.supply.regulator } else { &mut host.supply.others };
        if place.is_some() {
            let kind = ProblemKind::Wrong("the file says it twice");
            return Err(self.wrong(row.line, "what", kind, "leave one of the two"));
        }
        *place = Some((ma, known_from));
        Ok(())
    }

    fn hung(&mut self, row: &Row<'_>, word: &str, known_from: Arc<str>, host: &mut Host) -> Result<(), Noted> {
        let contacts = self.contacts(row, "contact")?;
        if contacts.iter().any(|(_, change)| change.is_some()) {
            let kind = ProblemKind::Wrong("what hangs on a contact knows no change of it");
            return Err(self.wrong(row.line, "contact", kind, "write the contact alone"));
        }
        let what = match word {
            "pin" => self.pin(row)?,
            "driver" => Hangs::Driver(self.stage(row)?),
            "load_low" => Hangs::LoadLow(self.number(row, "current in mA")?),
            "load_high" => Hangs::LoadHigh(self.number(row, "current in mA")?),
            "load_pf" => Hangs::Capacitance(self.number(row, "capacitance in pF")?),
            pull => {
                let text = row.field("value");
                let Some(ohms) = ohms(text).filter(|ohms| *ohms > 0.0) else {
                    let kind = ProblemKind::Number(text.to_owned(), "resistance");
                    return Err(self.wrong(row.line, "value", kind, "write it like `330`, `4k7` or `4700`"));
                };
                if pull == "pull_up" { Hangs::PullUp(ohms) } else { Hangs::PullDown(ohms) }
            }
        };
        for (at, _) in contacts {
            self.room(row, host)?;
            let (what, known_from) = (what.clone(), Arc::clone(&known_from));
            host.hung.push(Hung { at, what, known_from, origin: Origin::line(&self.file, row.line) });
        }
        Ok(())
    }

    fn stage(&mut self, row: &Row<'_>) -> Result<Stage, Noted> {
        let text = row.field("value");
        let stages = [
            ("push-pull", Stage::PushPull),
            ("three-state", Stage::ThreeState),
            ("open collector", Stage::OpenCollector),
        ];
        let found = stages.iter().find(|(word, _)| text.eq_ignore_ascii_case(word));
        found.map(|&(_, stage)| stage).ok_or_else(|| {
            let kind = ProblemKind::Number(text.to_owned(), "kind of output");
            self.wrong(row.line, "value", kind, "write `push-pull`, `three-state` or `open collector`")
        })
    }

    fn pin(&mut self, row: &Row<'_>) -> Result<Hangs, Noted> {
        let number = row.field("part");
        let part = match self.board.part(number) {
            Ok(part) => part,
            Err(near) => {
                let near: Vec<&str> = near.iter().map(String::as_str).collect();
                let mend = "write its load instead: `load_low` and `load_high` in mA; of an output, `driver`";
                let mend = did_you_mean(&near).map_or_else(|| mend.to_owned(), |asked| format!("{asked} Else {mend}"));
                return Err(self.wrong(row.line, "part", ProblemKind::Part(number.to_owned()), mend));
            }
        };
        let pin = Label::new(row.field("value"));
        match part.pin(&pin) {
            Some(role @ (PinRole::Input | PinRole::Output(_) | PinRole::InOut(_))) => {
                Ok(Hangs::Pin { part: Box::new(part), pin, role })
            }
            _ => {
                let signal = |r: &PinRole| matches!(r, PinRole::Input | PinRole::Output(_) | PinRole::InOut(_));
                let has: Vec<String> =
                    part.pins().filter(|(_, role)| signal(role)).map(|(pin, _)| pin.to_string()).collect();
                let kind = ProblemKind::Pin { pin: pin.to_string(), part: part.name().to_owned() };
                Err(self.wrong(row.line, "value", kind, format!("write one of {}", has.join(", "))))
            }
        }
    }
}

/// The line on which a row begins: before it there may be empty lines and remarks, which the reader counts to it.
fn line(bytes: &[u8], position: &csv::Position) -> u32 {
    let mut line = position.line() as u32;
    let mut rest = usize::try_from(position.byte()).ok().and_then(|at| bytes.get(at..)).unwrap_or_default();
    while let Some(end) = rest.iter().position(|b| *b == b'\n') {
        let (this, after) = rest.split_at(end + 1);
        if !this.trim_ascii().is_empty() && !this.starts_with(b"#") {
            break;
        }
        (rest, line) = (after, line + 1);
    }
    line
}

/// What parts the columns: semicolons or tabs where the first line has more of them than commas.
fn delimiter(bytes: &[u8]) -> u8 {
    let lines = bytes.split(|b| *b == b'\n');
    let mut heads = lines.filter(|line| !line.starts_with(b"#") && !line.trim_ascii().is_empty());
    let head = heads.next().unwrap_or_default();
    let count = |of: u8| head.iter().filter(|&&b| b == of).count();
    [b';', b'\t'].into_iter().fold(b',', |best, d| if count(d) > count(best) { d } else { best })
}
