//! The page of a refutation, written where the user asks for it: the only thing that a refuted job writes.
use std::path::Path;

use super::powered::Powered;
use super::{JobError, whole};
use gluewright_analysis::mend::Mends;
use gluewright_kernel::explain::Explanation;
use gluewright_kernel::prove::Failure;
use gluewright_report::{proved_page, refutation_page};

/// Lays the refutation out for the bench, if the error is one; from the device's own power-up, if that is known. No pin of a
/// device is named: nothing of this source is in one.
pub(super) fn explanation(error: &JobError, powered: Option<&Powered>) -> Option<Explanation> {
    let JobError::Proof { failure: Failure::Refuted(r), .. } = error else { return None };
    Some(powered.map_or_else(|| r.explain(), |powered| powered.explained(r)))
}

/// Writes the page of a refutation, with the changes that would mend it if they were looked for, whole or not at all; gives
/// what is to be said of it.
pub(super) fn write(file: &Path, explanation: Option<&Explanation>, mends: Option<&Mends>) -> String {
    let file_name = file.display();
    let Some(explanation) = explanation else {
        return format!("{file_name} was not written: there is nothing refuted to explain.");
    };
    match put(file, refutation_page(explanation, mends).as_bytes()) {
        Ok(()) => format!("The refutation stands in {file_name}, with its waveform. Nothing on it is to be burned."),
        Err(e) => format!("{e}; what was there is as it was"),
    }
}

/// A page that an earlier refutation left does not outlive a proof: what stands there then says that nothing is refuted. Where
/// no file is, none is made. Gives what is to be said of it.
pub(super) fn outlived(file: &Path, circuit: &str) -> Option<String> {
    if !file.exists() {
        return None;
    }
    let file_name = file.display();
    Some(match put(file, proved_page(circuit).as_bytes()) {
        Ok(()) => format!("{file_name} held an earlier page; it now says that nothing is refuted."),
        Err(e) => {
            format!("{e}. {file_name} holds a page of an EARLIER run, which is not about this one.")
        }
    })
}

fn put(file: &Path, bytes: &[u8]) -> Result<(), JobError> {
    whole::beside(file, bytes)?.place()
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::Of;
    use super::*;
    use gluewright_kernel::circuit::{By, Circuit, Contact, Direction, Driver, Expr, Label, Origin, Polarity, Stage};
    use gluewright_kernel::prove::Question;

    /// Contact 2 follows contact 1, or its complement.
    fn wire(inverted: bool) -> Circuit {
        let mut c = Circuit::new("wire");
        let [a, y] = ["a", "y"].map(|name| c.add_net(name, Origin::Nowhere));
        let value = c.net(a);
        let level = if inverted { c.not(value) } else { value };
        let (enable, stage, name, origin) = (Expr::HIGH, Stage::PushPull, "y".to_owned(), Origin::Nowhere);
        c.drive(y, Driver { enable, level, stage, by: By::signal(name), origin });
        for (number, net, name, direction) in [(1, a, "a", Direction::Input), (2, y, "y", Direction::Output)] {
            let (label, name, polarity) = (Label::from(number), name.to_owned(), Polarity::Data);
            c.add_contact(Contact { label, name, net, polarity, direction, origin: Origin::Nowhere });
        }
        c
    }

    /// A replacement that inverts what it should not.
    pub(crate) fn refuted() -> Failure {
        Question::new(wire(false), wire(true)).ask().unwrap_err()
    }

    #[test]
    fn only_a_refutation_is_written_and_whole() {
        let room = tempfile::tempdir().unwrap();
        let file = room.path().join("why.html");
        let write = |file: &Path, error: &JobError| drop(write(file, explanation(error, None).as_ref(), None));
        write(&file, &JobError::Contacts(Vec::new()));
        assert!(!file.exists());
        let error = JobError::Proof { of: Of::Source, failure: refuted() };
        write(&room.path().join("no/such/folder/why.html"), &error);
        assert_eq!(std::fs::read_dir(room.path()).unwrap().count(), 0);
        write(&file, &error);
        let page = std::fs::read_to_string(&file).unwrap();
        assert!(page.contains("is refuted") && page.contains("<svg") && page.trim_end().ends_with("</html>"));
        assert_eq!(std::fs::read_dir(room.path()).unwrap().count(), 1, "nothing is left beside it");
        // the mistake is mended, and the page with it
        assert!(outlived(&file, "wire").is_some() && outlived(&room.path().join("other.html"), "wire").is_none());
        let later = std::fs::read_to_string(&file).unwrap();
        assert!(!later.contains("<svg") && later.contains("Nothing is refuted"), "{later}");
        assert_eq!(std::fs::read_dir(room.path()).unwrap().count(), 1);
        write(&file, &error);
        let told = explanation(&error, None).unwrap().text();
        assert!(told.contains("contact 2 y") && !told.contains("device pin"), "nothing was burned: {told}");
    }
}
