//! A job's folder, or the bundle that holds it: its digests, its two circuits, and what the certificate claims of them.
use std::collections::HashSet;
use std::path::Path;

use sha2::{Digest, Sha256};

use crate::bundle::Bundle;
use crate::certificate::{Certificate, Relation, SIDES, VERSION};
use crate::pair::Pair;
use crate::part::Library;
use crate::trace::Trace;
use crate::verdict::Verdict;
use crate::{compare, induction, socket, walk};

/// SHA-256 in hexadecimal digits (FIPS 180-4).
pub(crate) fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// Checks a folder, or a bundle if the path is a file.
pub fn check(path: &Path) -> Verdict {
    let mut verdict = Verdict::default();
    if let Err(why) = checked_at(path, &mut verdict) {
        verdict.objects(why);
    }
    verdict
}

fn checked_at(path: &Path, verdict: &mut Verdict) -> Result<(), String> {
    if !path.is_file() {
        return checked(&|name| std::fs::read(path.join(name)).map_err(|e| format!("{name}: {e}")), verdict);
    }
    let file = std::fs::File::open(path).map_err(|e| format!("{}: {e}", path.display()))?;
    let bundle = Bundle::read(std::io::BufReader::new(file))?;
    bundle.check(verdict)?;
    checked(&|name| bundle.file(name), verdict)
}

/// Checks what the certificate claims of these files.
fn checked(files: &dyn Fn(&str) -> Result<Vec<u8>, String>, verdict: &mut Verdict) -> Result<(), String> {
    let read = |name: &str| -> Result<Vec<u8>, String> {
        if name.contains(['/', '\\']) {
            return Err(format!("`{name}` is no name of a file of the folder"));
        }
        files(name)
    };
    let text = |name: &str| read(name).map(|bytes| String::from_utf8_lossy(&bytes).into_owned());
    let certificate: Certificate =
        serde_json::from_slice(&read("certificate.json")?).map_err(|e| format!("certificate.json: {e}"))?;
    if certificate.format != "gluewright certificate" || certificate.version != VERSION {
        return Err(format!("certificate.json: the checker reads version {VERSION} of a gluewright certificate"));
    }
    for file in &certificate.files {
        match read(&file.name) {
            Ok(bytes) if digest(&bytes) == file.sha256 => {}
            Ok(_) => verdict.objects(format!("{}: its SHA-256 digest is not the one in the certificate", file.name)),
            Err(why) => verdict.objects(why),
        }
    }
    let named = |role: &str| {
        let file = certificate.files.iter().find(|f| f.role == role);
        file.map(|f| f.name.as_str()).ok_or_else(|| format!("the certificate names no file for `{role}`"))
    };
    let library = Library::read()?;
    let trace = Trace::read(&text(named("trace")?)?)?;
    let mut original = trace.model(&library)?;
    let supplies = trace.supplies();
    let other = named("replacement trace").ok().map(|name| Trace::read(&text(name)?)).transpose()?;
    let wiring = if other.is_none() { text(named("wiring")?)? } else { String::new() };
    let declared = other.as_ref().map_or_else(|| socket::supplies(&wiring), Trace::supplies);
    // a replacement that declares supply contacts of a rail, but not this one, must drive it alike
    for (label, &high) in supplies.iter().filter(|(label, _)| !declared.contains_key(*label)) {
        if declared.values().any(|&rail| rail == high) {
            original.strap(label, high);
        }
    }
    let replacement = match &other {
        Some(trace) => trace.model(&library)?,
        None => {
            let contacts: Vec<String> = original.contacts.iter().map(|c| c.label.clone()).collect();
            // only files whose digest the certificate holds
            let fuses = |name: &str| match certificate.files.iter().any(|f| f.name == name) {
                true => read(name),
                false => Err(format!("{name}: the certificate has no digest of it")),
            };
            socket::model((&*text(named("parts")?)?, &wiring), fuses, &contacts, &supplies, &library)?
        }
    };
    // by side: a net that only the other side names is not to be cut here
    let mut named = [HashSet::new(), HashSet::new()];
    for bit in certificate.relation.iter().flat_map(Relation::bits) {
        named[bit.side as usize].insert(bit.bit.clone());
    }
    let mut cuts = named.clone();
    // a walk's states hold idle bits as well: they are named, and nothing hangs on them
    if let Some(walk) = &certificate.walk {
        cuts.iter_mut().zip(&walk.bits).for_each(|(cuts, bits)| cuts.extend(bits.iter().cloned()));
    }
    let pair = Pair::new([original, replacement], [cuts, named], &certificate.claim)?;
    let both = [&certificate.systems.original, &certificate.systems.replacement];
    for (own, (theirs, whose)) in pair.machines.iter().zip(both.into_iter().zip(SIDES)) {
        compare::differences(own, theirs, whose, verdict);
    }
    let claim = &certificate.claim;
    let taken = [
        ("assuming", claim.assumptions.iter().map(|a| a.text.clone()).collect::<Vec<_>>()),
        ("assuming", claim.restrictions.iter().map(|r| r.text.clone()).collect()),
        ("these contacts change together:", claim.groups.iter().map(|g| g.join(", ")).collect()),
        ("acknowledged:", claim.acknowledged.clone()),
        ("only before and after each event: contact", claim.settled_contacts.clone()),
        ("not covered: contact", claim.left_out.clone()),
        ("on trust:", certificate.trusted.clone()),
    ];
    verdict.taken.extend(taken.into_iter().flat_map(|(head, all)| all.into_iter().map(move |a| format!("{head} {a}"))));
    match (&certificate.relation, &certificate.walk, certificate.parts.len()) {
        (Some(relation), ..) => induction::check(&pair, relation, verdict),
        (None, Some(table), _) => walk::check(&pair, table, verdict),
        (.., 0) => return Err("the certificate has neither a relation nor a table of states".to_owned()),
        (.., n) => {
            return Err(format!(
                "the proof was made of {n} parts, not all by induction: nothing here is about the whole"
            ));
        }
    }
    let each: Vec<String> = verdict.obligations.iter().map(|(kind, n)| format!("{n} {kind}")).collect();
    let (total, asked): (usize, _) = (verdict.obligations.values().sum(), verdict.counts);
    verdict.figures = vec![
        format!("{total} obligations over {} kinds of events: {}", pair.events.len(), each.join(", ")),
        format!(
            "{} questions to the solver, {} of its proofs checked, {} lemmas",
            asked.questions, asked.proofs, asked.lemmas
        ),
    ];
    Ok(())
}
