//! The evidence that a folder carries: the trace, the parts list, the certificate that is tied to them, and its questions
//! in the forms that other solvers read.
use gluewright_kernel::prove::Tied;

use super::made::Made;

/// Adds `trace.csv`, `parts.csv`, `certificate.json`, `proof.smt2` and, of a proof by induction, `product.aig` and
/// `witness.aig` to the files of a folder.
///
/// # Errors
/// Only what the CSV writer reports.
pub(super) fn add(made: &mut Made) -> Result<(), csv::Error> {
    let (parts, of_source) = (parts(made)?, made.source_file());
    // beside packages that stay the source is but a part of the circuit that was proved
    let has_kept = !made.kept().is_empty();
    let (board, fuses, source, files) =
        (&made.board, &made.written, made.source.as_ref().filter(|_| !has_kept), &mut made.files);
    files.push(("trace.csv".to_owned(), board.sheet()));
    files.push(("parts.csv".to_owned(), parts));
    let role = |name: &str| match name {
        "trace.csv" => Some("trace"),
        "parts.csv" => Some("parts"),
        "wiring.csv" => Some("wiring"),
        name if name == of_source => Some("source"),
        _ => made.devices.iter().any(|d| d.file == name).then_some("fuses"),
    };
    let tied: Vec<Tied<'_>> =
        files.iter().filter_map(|(name, bytes)| Some(Tied { role: role(name)?, name, bytes })).collect();
    let certificate = fuses.certificate(&tied, source);
    files.push(("certificate.json".to_owned(), certificate.into_bytes()));
    files.push(("proof.smt2".to_owned(), fuses.script().into_bytes()));
    if let Some(product) = fuses.product() {
        files.push(("product.aig".to_owned(), product.model));
        files.push(("witness.aig".to_owned(), product.witness));
    }
    Ok(())
}

/// What sits in the socket: each device with its file, each package that stays, and resistors on the adapter by what they
/// pull.
fn parts(made: &Made) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(["ref", "part", "file", "contact"])?;
    for d in &made.devices {
        writer.write_record([d.reference.as_str(), d.fitted.device.to_string().as_str(), d.file.as_str(), ""])?;
    }
    for (reference, part) in made.kept() {
        writer.write_record([reference.as_str(), part.as_str(), "", ""])?;
    }
    for (number, (contact, up)) in made.written.pulls().iter().enumerate() {
        let way = if *up { "pull up" } else { "pull down" };
        writer.write_record([format!("adapter {}", number + 1).as_str(), way, "", contact.as_str()])?;
    }
    writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))
}
