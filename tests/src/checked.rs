//! A proof of the prover's before the checker of other descent.
use std::fs;

use gluewright::prove::{Proof, Tied};
use gluewright_checker::folder::{Verdict, check};

/// What the checker says of a claim about two traces.
///
/// # Panics
/// If no folder can be written.
#[allow(clippy::expect_used, reason = "a check stops where it can't write")]
pub fn judged(proof: &Proof, original: &str, replacement: &str) -> Verdict {
    let room = tempfile::tempdir().expect("a folder");
    let files = [("trace", "trace.csv", original), ("replacement trace", "replacement.csv", replacement)];
    let tied: Vec<Tied<'_>> =
        files.iter().map(|(role, name, text)| Tied { role, name, bytes: text.as_bytes() }).collect();
    for (_, name, text) in files {
        fs::write(room.path().join(name), text).expect("written");
    }
    fs::write(room.path().join("certificate.json"), proof.certificate(&tied, None)).expect("written");
    check(room.path())
}
