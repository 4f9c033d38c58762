//! Rows of the lists that continuity reads, with their lines and columns.
use super::error::{At, ContinuityError, ContinuityErrorKind};

/// The text of a file, without a byte-order mark.
pub(super) fn text<'t>(file: &str, content: &'t [u8]) -> Result<&'t str, ContinuityError> {
    let text = std::str::from_utf8(content).map_err(|error| {
        let good = content.get(..error.valid_up_to()).unwrap_or_default();
        let line = 1 + good.iter().filter(|&&b| b == b'\n').count() as u64;
        let message = "this line holds a character that is not in UTF-8";
        At { file, line }.wrong(ContinuityErrorKind::Row, message, "save the sheet as CSV in UTF-8")
    })?;
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// The rows of a sheet with their lines; empty ones and comments are left out.
pub(super) fn records<'t>(
    file: &'t str,
    text: &'t str,
    delimiter: u8,
) -> impl Iterator<Item = Result<(u64, csv::StringRecord), ContinuityError>> + 't {
    let reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .delimiter(delimiter)
        .from_reader(text.as_bytes());
    reader.into_records().filter_map(move |record| match record {
        Ok(record) if record.iter().all(str::is_empty) => None,
        Ok(record) => Some(Ok((record.position().map_or(1, csv::Position::line), record))),
        Err(e) => {
            let line = e.position().map_or(1, csv::Position::line);
            let message = "this row can't be read";
            Some(Err(At { file, line }.wrong(ContinuityErrorKind::Row, message, "save the sheet as CSV in UTF-8")))
        }
    })
}

/// Where the columns of a sheet stand.
pub(super) struct Columns<const N: usize>([Option<usize>; N]);

impl<const N: usize> Columns<N> {
    /// From the first row. The first `needed` columns must be there.
    pub(super) fn of(
        at: At<'_>,
        record: &csv::StringRecord,
        names: [&[&str]; N],
        needed: usize,
        form: &str,
    ) -> Result<Self, ContinuityError> {
        let place = |names: &[&str]| record.iter().position(|f| names.iter().any(|n| f.eq_ignore_ascii_case(n)));
        let places = names.map(place);
        match places.iter().take(needed).all(Option::is_some) {
            true => Ok(Columns(places)),
            false => {
                let message = format!("the first row does not name the columns `{form}`");
                Err(at.wrong(ContinuityErrorKind::Header, message, format!("start the file with the row `{form}`")))
            }
        }
    }

    /// The fields of a row; empty where it ends before one.
    pub(super) fn fields<'r>(&self, record: &'r csv::StringRecord) -> [&'r str; N] {
        self.0.map(|place| place.and_then(|at| record.get(at)).unwrap_or_default())
    }
}
