//! A list of parts beside a netlist: reference and type.
use std::collections::HashMap;

use super::{NetlistError, PartsList, form, text};
use crate::board::sheet::{delimiter, place_of};

/// Names of the column with references, and of that with types, the better ones first.
const REFERENCES: [&str; 8] =
    ["ref", "reference", "references", "refdes", "ref des", "designator", "reference designator", "reference(s)"];
const TYPES: [&str; 9] =
    ["part", "type", "part type", "value", "part number", "device", "mpn", "comment", "description"];

/// The type of each reference, in upper case.
pub(super) fn read(list: PartsList<'_>) -> Result<HashMap<String, String>, NetlistError> {
    let text = text(list.file, list.content)?;
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .delimiter(delimiter(text))
        .from_reader(text.as_bytes());
    let mut columns: Option<(usize, usize)> = None;
    let mut types: HashMap<String, String> = HashMap::new();
    let mend = "the first row names the columns, such as `ref,part`";
    for record in reader.records() {
        let record = record.map_err(|e| {
            let line = e.position().map_or(1, |p| usize::try_from(p.line()).unwrap_or(usize::MAX));
            form(list.file, line, format!("this row can't be read: {e}"), "save the sheet as CSV again")
        })?;
        let line = record.position().map_or(1, |p| usize::try_from(p.line()).unwrap_or(usize::MAX));
        if record.iter().all(str::is_empty) {
            continue;
        }
        let Some((reference, part)) = columns else {
            let place = |names: &[&str]| place_of(&record, names).ok().flatten();
            let (Some(reference), Some(part)) = (place(&REFERENCES), place(&TYPES)) else {
                let wrong = "the header names no column of references or none of types";
                return Err(form(list.file, line, wrong, mend));
            };
            columns = Some((reference, part));
            continue;
        };
        let (Some(references), Some(part)) = (record.get(reference), record.get(part)) else { continue };
        for reference in references.split([',', ';', ' ', '\n', '\t']).map(str::trim).filter(|r| !r.is_empty()) {
            let before = types.insert(reference.to_uppercase(), part.to_owned());
            if before.as_ref().is_some_and(|before| before != part) {
                let wrong = format!("`{reference}` is listed twice, with two types");
                return Err(form(list.file, line, wrong, "take one of the two out"));
            }
        }
    }
    if columns.is_none() {
        return Err(form(list.file, 1, "the list has no rows", mend));
    }
    Ok(types)
}
