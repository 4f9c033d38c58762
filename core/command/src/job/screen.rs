//! What a finished job prints for a person.
use std::fmt::Write;
use std::path::Path;

use gluewright_analysis::timing::{Judgement, Kind, Time};
use gluewright_devices::fit::Note;
use gluewright_kernel::prove::Proof;

use super::around::listed;
use super::bench;
use super::finding::Finding;
use super::made::{Burned, Division, Made};
use super::readback::counted;

/// All of it, as it was written into this folder: the verdict and what is to be burned, what to decide or measure before,
/// where the rest is; what it rests on comes last.
pub(super) fn made(made: &Made, folder: &Path) -> String {
    let mut s = String::new();
    verdict(&mut s, made);
    before(&mut s, made);
    rest(&mut s, made, folder);
    let _ = writeln!(s, "\nWhat it rests on\n");
    if let Some(source) = &made.source {
        let _ = writeln!(s, "{source}\n");
    }
    for property in &made.properties {
        let _ = writeln!(s, "The source by itself. {property}\n");
    }
    match made.alone() {
        Some(device) => one(&mut s, made, device),
        None => several(&mut s, made),
    }
    let _ = write!(s, "{}", bench::times_summary(&made.times));
    let _ = writeln!(s, "{}", bench::currents_summary(&made.currents, &made.sampled));
    probing(&mut s, made);
    s
}

/// What was proved, what is to be burned into what, and which pins to leave open or tie.
fn verdict(s: &mut String, made: &Made) {
    let typical = match (&made.source, &made.written) {
        (Some(source), written) if !source.typical.is_empty() || !written.typical.is_empty() => {
            let most = if source.typical.len() > written.typical.len() { source } else { written };
            most.by_typical()
        }
        (_, written) => written.by_typical(),
    };
    let (what, who) = match (&made.source, made.kept().is_empty()) {
        (Some(_), true) => ("source and written file", format!("`{}`", made.circuit)),
        (Some(_), false) => {
            ("source and written file, in the whole board only, beside the packages that stay", "the board".to_owned())
        }
        (None, true) => ("the written file", format!("`{}`", made.circuit)),
        (None, false) => (
            "the written file with the packages that stay (made from the trace; the source was not looked at)",
            "what is in the socket".to_owned(),
        ),
    };
    let _ =
        writeln!(s, "Proved{typical}, {what}: whatever {who} shows at its contacts, the original could have shown.");
    for left in made.written.left_out.iter().chain(&made.written.untraced) {
        let _ = writeln!(s, "  not covered: {left}");
    }
    let grade = made.times.chosen().map(|grade| grade.name.clone());
    for device in &made.devices {
        let goes = match (&grade, device.fitted.for_fitter) {
            (Some(_), false) => "Ready to burn",
            (Some(_), true) => "Ready for the maker's fitter",
            (None, _) => {
                "To be made only once the times below are settled, since no speed grade is known to be safe everywhere"
            }
        };
        let sum = device.checksum().map_or_else(String::new, |sum| format!(" (fuse checksum {sum:04X})"));
        let grade = grade.as_ref().map_or_else(String::new, |grade| format!(" of speed grade {grade} or faster"));
        let _ = writeln!(s, "{goes}: {}{sum}, for a {}{grade}.", device.file, type_of(device));
        // what is to be left open or tied, line by line; of what repeats and is about no pin, the first and how many more
        let is_of_pin = |note: &&Note| !matches!(note, Note::Copied { .. } | Note::Steadies { .. });
        let (pins, others): (Vec<&Note>, Vec<&Note>) = device.fitted.notes.iter().partition(is_of_pin);
        for note in pins {
            let _ = writeln!(s, "  {note}");
        }
        let (copied, steady): (Vec<&Note>, Vec<&Note>) =
            others.into_iter().partition(|note| matches!(note, Note::Copied { .. }));
        for alike in [copied, steady] {
            let Some((first, more)) = alike.split_first() else { continue };
            let more = match more.len() {
                0 => String::new(),
                n => format!("; and so {n} more, which equations.txt names"),
            };
            let _ = writeln!(s, "  {first}{more}");
        }
    }
    if let Some(spare) = tightest(made) {
        let _ = writeln!(s, "  {spare}");
    }
    let _ = writeln!(s);
}

/// The margin of the grade: the time that comes nearest to what it may be.
fn tightest(made: &Made) -> Option<String> {
    let rows = made.times.chosen()?.comparison.rows.iter();
    let (row, ns) = rows.filter_map(|row| Some((row, row.margin()?))).min_by(|a, b| a.1.total_cmp(&b.1))?;
    let grade = &made.times.chosen()?.name;
    // at least so much: never rounded up
    let ns = (ns * 10.0 + 1e-6).floor() / 10.0;
    Some(format!("margin of grade {grade}: {ns:.1} ns at least, from {} to {}", row.from, row.to))
}

/// What is to be decided or measured before, counted.
fn before(s: &mut String, made: &Made) {
    let (notes, findings): (Vec<&Finding>, Vec<&Finding>) = made.findings.iter().partition(|f| f.is_note());
    let mut all: Vec<String> = findings.iter().map(ToString::to_string).collect();
    let demands = made.times.demands().len();
    if demands > 0 {
        all.push(format!("times that the host must give or bear: {demands}; they stand below, and in timing.csv"));
    }
    all.extend(slower(made));
    let contacts: Vec<String> = made.currents.to_look_at().map(|load| load.at.to_string()).collect();
    if !contacts.is_empty() {
        all.push(format!(
            "contacts whose currents are to be looked at: {} ({}); report.html says why",
            contacts.len(),
            contacts.join(", ")
        ));
    }
    let cold = made.probing.coverage.as_ref().map_or(0, |c| c.missed.len());
    if cold > 0 {
        all.push(format!(
            "faults of the adapter's wires that no step finds: {cold}; report.html says how to check them cold"
        ));
    }
    let notes: Vec<String> = notes.iter().map(ToString::to_string).collect();
    for (head, lines) in [("To decide or measure before", all), ("To know", notes)] {
        if lines.is_empty() {
            continue;
        }
        let _ = writeln!(s, "{head} ({}):", lines.len());
        for line in lines {
            let _ = writeln!(s, "  {line}");
        }
        let _ = writeln!(s);
    }
}

/// Grades that would be safe if the host said how long it waits where a figure of the original is missing.
fn slower(made: &Made) -> Option<String> {
    let chosen = made.times.chosen()?;
    let open = made.times.slower_but_open();
    let slowest = open.first()?;
    let rows = slowest.comparison.rows.iter().filter(|r| r.judgement == Judgement::Unknown);
    // what is missing on the replacement's side no word of the host gives
    let rows: Vec<_> = rows.filter(|r| r.replacement.as_ref().is_some_and(Time::is_complete)).collect();
    let of_host = |kind: Kind| matches!(kind, Kind::Propagation | Kind::ClockToOutput | Kind::Enable | Kind::Disable);
    let (first, more) = rows.split_first().filter(|_| rows.iter().all(|r| of_host(r.kind)))?;
    let more = if more.is_empty() { String::new() } else { format!(", and {} more", more.len()) };
    Some(format!(
        "whether grade {} does instead of {}: figures of the original are missing, so say with --host how long the board waits at \
         {} after {}{more}",
        slowest.name, chosen.name, first.to, first.from
    ))
}

/// Where the rest is.
fn rest(s: &mut String, made: &Made, folder: &Path) {
    let files: Vec<&str> = made.files.iter().map(|(name, _)| name.as_str()).collect();
    let _ = writeln!(s, "Written to {}: {}", folder.display(), files.join(", "));
    let _ = writeln!(
        s,
        "A second program, written apart, checks the certificate: in the folder of Gluewright's sources, \
         cargo run -p gluewright-checker -- {}",
        std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned()).display()
    );
    let _ = writeln!(
        s,
        "Before it goes into a board: power off, supply pins checked against the socket, current-limited first power-up."
    );
}

/// What is said of a bundle.
pub(super) fn bundled(archive: &Path) -> String {
    format!(
        "Bundled in {}; whoever gets it proves it again: in the folder of Gluewright's sources, \
         cargo run -p gluewright-checker -- {}\n",
        archive.display(),
        std::path::absolute(archive).unwrap_or_else(|_| archive.to_owned()).display()
    )
}

fn ms(proof: &Proof) -> f64 {
    proof.figures.time.as_secs_f64() * 1e3
}

/// A device's type, and the part of the drawer that it is.
pub(super) fn type_of(device: &Burned) -> String {
    match &device.device.part {
        Some(part) => format!("{} ({part})", device.fitted.device),
        None => device.fitted.device.to_string(),
    }
}

/// One device for the whole card.
fn one(s: &mut String, made: &Made, device: &Burned) {
    let f = &device.fitted;
    let _ = writeln!(
        s,
        "Fitted: a {} holds `{}` in {} with {}.\n",
        type_of(device),
        f.circuit,
        counted(f.cells.len(), "macrocell", "macrocells"),
        counted(f.term_count(), "product term", "product terms")
    );
    if !f.plan.signature.is_empty() {
        let _ = writeln!(s, "  user signature `{}`", super::burning::signature(&f.plan.signature));
    }
    let _ = writeln!(s, "Proved again from the emitted {} as written, in {:.1} ms.\n", device.kind, ms(&made.written));
    if f.for_fitter {
        s.push_str(&for_fitter(device));
    }
    for finding in &made.written.findings {
        let _ = writeln!(s, "  finding: {finding}");
    }
    if let Some(vectors) = &device.vectors {
        let _ = writeln!(
            s,
            "Test vectors for the device programmer: {}; {}{}.\n",
            vectors.list.len(),
            vectors.coverage.brief(),
            if vectors.coverage.missed.is_empty() { "" } else { ": missed.csv has them all" }
        );
    }
}

/// Several packages.
fn several(s: &mut String, made: &Made) {
    if !made.kept().is_empty() {
        let _ = writeln!(s, "Stays in place: {}. Replaced: {}.\n", listed(made.kept()), listed(made.replaced()));
    }
    if let Some(split) = made.split() {
        divided(s, made.devices.len(), split);
    }
    for b in &made.devices {
        let f = &b.fitted;
        let _ = writeln!(
            s,
            "{}: a {} with {} and {}, made from {}{}.",
            b.reference,
            type_of(b),
            counted(f.cells.len(), "macrocell", "macrocells"),
            counted(f.term_count(), "product term", "product terms"),
            b.file,
            b.checksum().map_or_else(String::new, |sum| format!(" (fuse checksum {sum:04X})"))
        );
        if let Some(vectors) = &b.vectors {
            let _ = writeln!(s, "  test vectors: {}; {}", vectors.list.len(), vectors.coverage.brief());
        }
        if f.for_fitter {
            s.push_str(&for_fitter(b));
        }
    }
    let _ =
        writeln!(s, "\nProved as one circuit, files as written, in {:.1} ms:\n{}\n", ms(&made.written), made.written);
}

/// How the circuit was split.
fn divided(s: &mut String, devices: usize, split: &Division) {
    let known = |fewest: bool| if fewest { "the fewest possible" } else { "fewer were not found, nor ruled out" };
    let _ = writeln!(
        s,
        "Split over {devices} devices ({}), {} wires between them ({}).",
        known(split.fewest_devices),
        split.wires,
        known(split.fewest_wires)
    );
    for wire in &split.between {
        let _ = writeln!(s, "  {} carries {} from {} to {}", wire.label, wire.signal, wire.from, wire.to.join(", "));
    }
    let _ = writeln!(s);
}

/// What the probing sheet finds.
fn probing(s: &mut String, made: &Made) {
    if let Some(coverage) = &made.probing.coverage {
        let _ = writeln!(s, "The probing sheet: {}", coverage.words());
    }
}

/// What comes after a netlist: the maker's fitter, with the pins locked.
fn for_fitter(device: &Burned) -> String {
    let f = &device.fitted;
    let mut s = String::new();
    let _ = writeln!(
        s,
        "A {} has no fuse map here: its maker's own fitter comes after {c}.v or {c}.vhd and makes the programming file.\n\
         Let it keep all logic as it stands, compare its report with equations.txt, and lock the pins:",
        f.device,
        c = f.circuit
    );
    for wire in &f.wires {
        let _ = writeln!(s, "  pin {}: {} (contact {})", wire.pin, wire.signal, wire.label);
    }
    let blocks = device.device.blocks.as_ref();
    if blocks.is_some_and(|b| b.pins_from == gluewright_devices::device::Provenance::Memory) {
        let _ = writeln!(
            s,
            "Which pins this type has where, and how many signals a block of it reads, is from memory: check both against its \
             maker's sheet before you wire the adapter."
        );
    }
    if f.port.is_empty() {
        let _ = writeln!(s, "The programming port is given up: its pins carry signals.\n");
    } else {
        let pins: Vec<String> = f.port.iter().map(|p| format!("{} pin {}", p.signal, p.pin)).collect();
        let _ = writeln!(s, "Kept for the programming port: {}.\n", pins.join(", "));
    }
    s
}
