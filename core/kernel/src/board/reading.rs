//! How a trace is read: which parts stay on the card, what house numbers stand for, where supply pins come from.
use std::collections::{BTreeMap, BTreeSet};

use thiserror::Error;

use super::finding::{Findings, TraceError, shown};
use super::library::Library;
use super::{Board, assemble, sheet};

/// How a trace is read, where it differs from what [`Board::from_csv`] does.
///
/// ```
/// use gluewright_kernel::board::Reading;
///
/// let reading = Reading::new().staying(["68000", "AT28C*", "switch"]).printed_supplies();
/// # let _ = reading;
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reading {
    staying: BTreeSet<String>,
    others_stay: bool,
    printed_supplies: bool,
    house: BTreeMap<String, String>,
}

/// A list beside a trace that can't be read.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{file}:{line}: {wrong}; {mend}")]
pub struct ListError {
    /// The list's file name.
    pub file: String,
    /// The line, counted from 1.
    pub line: u32,
    /// What is wrong.
    pub wrong: String,
    /// What to do about it.
    pub mend: String,
}

/// The most entries that a list beside a trace may have.
const MOST_ENTRIES: usize = 10_000;

impl Reading {
    /// As [`Board::from_csv`] reads.
    pub fn new() -> Self {
        Reading::default()
    }

    /// Parts with these texts stay on the card: their pins are the outside of what is replaced. A text is the whole
    /// column `part`, or its first word (`switch`), or a beginning that ends with `*`: `AT28C*`. Upper and lower case
    /// are the same.
    #[must_use]
    pub fn staying<S: AsRef<str>>(mut self, parts: impl IntoIterator<Item = S>) -> Self {
        let texts = parts.into_iter().map(|part| part.as_ref().trim().to_uppercase());
        self.staying.extend(texts.filter(|text| !text.is_empty()));
        self
    }

    /// The same from a list: one part a line, up to the first comma; `#` starts a comment.
    ///
    /// # Errors
    /// If it is not text in UTF-8, or too long.
    pub fn staying_list(self, file: &str, content: impl AsRef<[u8]>) -> Result<Self, ListError> {
        let entries = entries(file, content.as_ref())?;
        Ok(self.staying(entries.into_iter().map(|(_, fields)| fields.into_iter().next().unwrap_or_default())))
    }

    /// Everything that is no logic of the library stays: unknown types, and parts that settled logic can't stand for. A
    /// text that is one character away from a known type remains an error, for it may be that type misspelt; list it if it
    /// isn't.
    #[must_use]
    pub fn others_stay(mut self) -> Self {
        self.others_stay = true;
        self
    }

    /// Supply pins without a row are on the rails that the data sheet prints: for netlists of schematics, which hide them.
    #[must_use]
    pub fn printed_supplies(mut self) -> Self {
        self.printed_supplies = true;
        self
    }

    /// House numbers of the user's own and the types that they stand for: rows like `1820-1112,74LS74`; `#` starts a
    /// comment.
    ///
    /// # Errors
    /// If a line doesn't hold two words, a number stands for two types, or the file is not text in UTF-8.
    pub fn house_numbers(mut self, file: &str, content: impl AsRef<[u8]>) -> Result<Self, ListError> {
        for (line, fields) in entries(file, content.as_ref())? {
            let error = |wrong: String, mend: &str| ListError { file: file.into(), line, wrong, mend: mend.into() };
            let [number, part] = &fields[..] else {
                let wrong = format!("{} columns where a number and a type belong", fields.len());
                return Err(error(wrong, "write `1820-1112,74LS74`"));
            };
            if number.is_empty() || part.is_empty() {
                return Err(error("the number or the type is missing".into(), "write `1820-1112,74LS74`"));
            }
            let before = self.house.insert(number.to_uppercase(), part.clone());
            if before.as_ref().is_some_and(|before| !before.eq_ignore_ascii_case(part)) {
                let wrong = format!("{} stands for {} already", shown(number), shown(&before.unwrap_or_default()));
                return Err(error(wrong, "take one of the two rows out"));
            }
        }
        Ok(self)
    }

    /// Reads a trace from a CSV file's content, as [`Board::from_csv`] does.
    ///
    /// # Errors
    /// If the trace has an error; everything that was found in it comes along.
    pub fn csv(&self, file: &str, content: impl AsRef<[u8]>, library: &dyn Library) -> Result<Board, TraceError> {
        let mut findings = Findings::default();
        let content = content.as_ref();
        let rows = sheet::read(file, content, &mut findings);
        let board = self.board(file, rows, findings, library)?;
        // who reads the text again knows no other way of reading
        let text = (*self == Reading::default()).then(|| content.into());
        Ok(Board { text, ..board })
    }

    /// The board of rows from a file.
    pub(super) fn board(
        &self,
        file: &str,
        rows: Vec<sheet::Row>,
        findings: Findings,
        library: &dyn Library,
    ) -> Result<Board, TraceError> {
        let base = file.rsplit(['/', '\\']).next().unwrap_or(file);
        let name = base.rsplit_once('.').map_or(base, |(stem, _)| stem);
        let board = assemble::board(name.to_owned(), file.to_owned(), rows, library, self, findings)?;
        Ok(board.knowing(library))
    }

    /// Whether a list names this part as one that stays.
    pub(super) fn is_listed(&self, part: &str) -> bool {
        let part = part.trim().to_uppercase();
        let first = part.split_whitespace().next().unwrap_or_default();
        self.staying.contains(&part)
            || self.staying.contains(first)
            || self
                .staying
                .iter()
                .filter_map(|text| text.strip_suffix('*'))
                .any(|start| !start.is_empty() && part.starts_with(start))
    }

    /// Whether all that is no logic stays.
    pub(super) fn do_others_stay(&self) -> bool {
        self.others_stay
    }

    /// Whether supply pins without a row are where the sheet prints them.
    pub(super) fn has_printed_supplies(&self) -> bool {
        self.printed_supplies
    }

    /// The type that a house number stands for.
    pub(super) fn house_number(&self, part: &str) -> Option<&str> {
        self.house.get(&part.trim().to_uppercase()).map(String::as_str)
    }
}

/// The lines of a list that say something, with their fields.
fn entries(file: &str, content: &[u8]) -> Result<Vec<(u32, Vec<String>)>, ListError> {
    let error = |line: usize, wrong: &str, mend: &str| ListError {
        file: file.into(),
        line: u32::try_from(line).unwrap_or(u32::MAX),
        wrong: wrong.into(),
        mend: mend.into(),
    };
    let text = std::str::from_utf8(content).map_err(|e| {
        let good = content.get(..e.valid_up_to()).unwrap_or_default();
        let line = 1 + good.iter().filter(|&&b| b == b'\n').count();
        error(line, "this line holds a character that is not in UTF-8", "save the list as text in UTF-8")
    })?;
    let mut all = Vec::new();
    for (at, line) in text.trim_start_matches('\u{feff}').lines().enumerate() {
        let said = line.split('#').next().unwrap_or_default().trim();
        if said.is_empty() {
            continue;
        }
        if all.len() == MOST_ENTRIES {
            return Err(error(at + 1, "the list is too long", "is this the right file?"));
        }
        let fields = said.split(',').map(|field| field.trim().trim_matches('"').trim().to_owned()).collect();
        all.push((u32::try_from(at + 1).unwrap_or(u32::MAX), fields));
    }
    Ok(all)
}
