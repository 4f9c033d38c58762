//! The page of a refutation, written where the user asks for it: the only thing that a refuted job writes.
use std::io::Write;
use std::path::Path;

use super::error::{JobError, Of};
use gluewright_analysis::mend::Mends;
use gluewright_devices::device::Device;
use gluewright_devices::fit::{Wishes, fit};
use gluewright_kernel::explain::Explanation;
use gluewright_kernel::prove::Failure;
use gluewright_report::{proved_page, refutation_page};

/// Lays the refutation out for the bench, if the error is one: that of a source with the pins that it would have in this
/// device, if it fits.
pub(super) fn explanation(error: &JobError, device: Option<(&Device, &Wishes)>) -> Option<Explanation> {
    let JobError::Proof { of, failure: Failure::Refuted(r) } = error else { return None };
    let explanation = r.explain();
    let fitted = device
        .filter(|_| *of == Of::Source)
        .and_then(|(device, wishes)| fit(r.evidence().question.replacement(), device, wishes).ok());
    Some(match fitted {
        Some(f) => explanation.with_device_pins(f.wires.iter().map(|w| (w.label.clone(), w.pin))),
        None => explanation,
    })
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
        Err(e) => format!("can't write {file_name}: {e}; what was there is as it was"),
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
            format!("can't write {file_name}: {e}. It holds a page of an EARLIER run, which is not about this one.")
        }
    })
}

fn put(file: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let parent = file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or_else(|| Path::new("."));
    let mut fresh = tempfile::Builder::new().prefix(".writing-").tempfile_in(parent)?;
    fresh.write_all(bytes)?;
    // a temporary file is closed to others; a page is a file like any other
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fresh.as_file().set_permissions(std::fs::Permissions::from_mode(0o644))?;
    }
    fresh.persist(file).map(drop).map_err(|e| e.error)
}

#[cfg(test)]
pub(super) mod tests {
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
        let told = explanation(&error, Some((gluewright_devices::device::find("16V8").unwrap(), &Wishes::none())))
            .unwrap()
            .text();
        assert!(told.contains("contact 2 y (replacement: device pin "), "{told}");
    }
}
