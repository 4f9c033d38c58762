//! A job's folder, or the bundle that holds it: its digests, its two circuits, and what the certificate claims of them.
use std::collections::HashSet;
use std::path::Path;

use anyhow::{Context, Result, ensure};
use sha2::{Digest, Sha256};

use crate::bundle::Bundle;
use crate::certificate::{Certificate, File, Part, Relation, Side, VERSION};
use crate::pair::Pair;
use crate::part::Library;
use crate::sat::Counts;
use crate::trace::Trace;
use crate::verdict::Verdict;
use crate::{compare, induction, socket, walk};

/// The certificate's own name.
const NAME: &str = "certificate.json";

/// SHA-256 in hexadecimal digits (FIPS 180-4).
fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// Objects to every file that is not as a list has it.
pub(crate) fn tied(files: &[File], read: &dyn Fn(&str) -> Result<Vec<u8>>, list: &str, verdict: &mut Verdict) {
    for file in files {
        match read(&file.name) {
            Ok(bytes) if digest(&bytes) == file.sha256 => {}
            Ok(_) => verdict.objects(format!("{}: its SHA-256 digest is not the one in {list}", file.name)),
            Err(why) => verdict.objects(format!("{why:#}")),
        }
    }
}

/// Checks a folder, or a bundle if the path is a file.
pub fn check(path: &Path) -> Verdict {
    let mut verdict = Verdict::default();
    if let Err(why) = checked_at(path, &mut verdict) {
        verdict.objects(format!("{why:#}"));
    }
    verdict
}

fn checked_at(path: &Path, verdict: &mut Verdict) -> Result<()> {
    if !path.is_file() {
        return checked(&|name| std::fs::read(path.join(name)).with_context(|| name.to_owned()), verdict);
    }
    let file = std::fs::File::open(path).with_context(|| path.display().to_string())?;
    let bundle = Bundle::read(std::io::BufReader::new(file))?;
    bundle.check(verdict)?;
    checked(&|name| bundle.file(name), verdict)
}

/// Checks what the certificate claims of these files.
fn checked(files: &dyn Fn(&str) -> Result<Vec<u8>>, verdict: &mut Verdict) -> Result<()> {
    let read = |name: &str| -> Result<Vec<u8>> {
        ensure!(!name.contains(['/', '\\']), "`{name}` is no name of a file of the folder");
        files(name)
    };
    let text = |name: &str| read(name).map(|bytes| String::from_utf8_lossy(&bytes).into_owned());
    let certificate: Certificate = serde_json::from_slice(&read(NAME)?).context(NAME)?;
    let known = certificate.format == "gluewright certificate" && certificate.version == VERSION;
    ensure!(known, "{NAME}: the checker reads version {VERSION} of a gluewright certificate");
    tied(&certificate.files, &read, "the certificate", verdict);
    let named = |role: &str| {
        let file = certificate.files.iter().find(|f| f.role == role);
        file.map(|f| f.name.as_str()).with_context(|| format!("the certificate names no file for `{role}`"))
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
            let fuses = |name: &str| {
                let is_tied = certificate.files.iter().any(|f| f.name == name);
                ensure!(is_tied, "{name}: the certificate has no digest of it");
                read(name)
            };
            socket::model((&*text(named("parts")?)?, &wiring), fuses, &contacts, &supplies, &library)?
        }
    };
    let Certificate { proofs, claim, systems, .. } = &certificate;
    let pair = Pair::new([original, replacement], names(proofs), claim)?;
    for (own, side) in pair.machines.iter().zip([Side::Original, Side::Replacement]) {
        let theirs = systems.get(&side).context("the certificate lacks a circuit")?;
        compare::differences(own, theirs, side, verdict);
    }
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
    let stood = verdict.stands();
    proved(&pair, proofs, verdict);
    verdict.orders = certificate.orders.clone().filter(|_| stood && !verdict.stands()).unwrap_or_default();
    let each: Vec<String> = verdict.obligations.iter().map(|(kind, n)| format!("{n} {kind}")).collect();
    let (total, Counts { questions, proofs, lemmas }) = (verdict.obligations.values().sum::<usize>(), verdict.counts);
    verdict.figures = vec![
        format!("{total} obligations over {} kinds of events: {}", pair.events.len(), each.join(", ")),
        format!("{questions} questions to the solver, {proofs} of its proofs checked, {lemmas} lemmas"),
    ];
    Ok(())
}

/// By side, the nets at which proofs cut loops, and the bits that they name: a net that only the other side names is not to
/// be cut here.
fn names(proofs: &[Part]) -> [[HashSet<String>; 2]; 2] {
    let mut named = [HashSet::new(), HashSet::new()];
    for bit in proofs.iter().filter_map(|p| p.relation.as_ref()).flat_map(Relation::bits) {
        named[bit.side as usize].insert(bit.bit.clone());
    }
    let mut cuts = named.clone();
    // a walk's states hold idle bits as well: they are named, and nothing depends on them
    for walk in proofs.iter().filter_map(|p| p.walk.as_ref()) {
        cuts.iter_mut().zip(&walk.bits).for_each(|(cuts, bits)| cuts.extend(bits.iter().cloned()));
    }
    [cuts, named]
}

/// What was proved must be about every contact that a side drives or pulls. No two proofs may depend on the same bit of the
/// original, which could else explain the one and the other only by different runs.
fn proved(pair: &Pair<'_>, parts: &[Part], verdict: &mut Verdict) {
    let mut taken = HashSet::new();
    for part in parts {
        let own = pair.part(&part.contacts, &names(std::slice::from_ref(part)));
        for item in own.machines[0].holding() {
            if !taken.insert(item) {
                verdict.objects(format!("two proofs hang on {item:?} of the original"));
            }
        }
        match (&part.relation, &part.walk) {
            (Some(relation), _) => induction::check(&own, relation, verdict),
            (None, Some(table)) => walk::check(&own, table, verdict),
            (None, None) => verdict.objects(format!("of contacts {} there is no proof", part.contacts.join(", "))),
        }
    }
    for c in pair.contacts.iter().filter(|c| c.is_compared && (c.is_driven || !c.same_pull)) {
        if !parts.iter().any(|part| part.contacts.contains(&c.label)) {
            verdict.objects(format!("nothing is proved of contact {}", c.label));
        }
    }
}
