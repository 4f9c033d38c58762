//! A claim about two traces, put before the checker that shares no code with the prover.
use std::fs;

use gluewright::prove::{Proof, Tied};
use gluewright_checker::folder::check;
use gluewright_checker::verdict::Verdict;

/// What the checker says of a proof about two traces.
pub fn judged(proof: &Proof, original: &str, replacement: &str) -> Verdict {
    checked(&certificate(proof, original, replacement), original, replacement)
}

/// The certificate of a proof about two traces, tied to them.
pub fn certificate(proof: &Proof, original: &str, replacement: &str) -> String {
    let tied: Vec<Tied<'_>> = files(original, replacement)
        .iter()
        .map(|&(role, name, text)| Tied { role, name, bytes: text.as_bytes() })
        .collect();
    proof.certificate(&tied, None)
}

/// What the checker says of a certificate about two traces.
///
/// # Panics
/// If no folder can be written.
#[allow(clippy::expect_used, reason = "a check stops where it can't write")]
pub fn checked(certificate: &str, original: &str, replacement: &str) -> Verdict {
    let room = tempfile::tempdir().expect("a folder");
    for (_, name, text) in files(original, replacement) {
        fs::write(room.path().join(name), text).expect("written");
    }
    fs::write(room.path().join("certificate.json"), certificate).expect("written");
    check(room.path())
}

fn files<'t>(original: &'t str, replacement: &'t str) -> [(&'static str, &'static str, &'t str); 2] {
    [("trace", "trace.csv", original), ("replacement trace", "replacement.csv", replacement)]
}
