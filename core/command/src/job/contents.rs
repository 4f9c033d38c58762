//! The files of a finished job beside those of its devices: lists, records, and the report that names them all.
use super::finding::Finding;
use super::made::{Beside, Burned, Division, Made};
use super::{JobError, bench, bring_up, evidence, record, screen};
use gluewright_analysis::hazard::Hazards;
use gluewright_devices::emit;
use gluewright_kernel::circuit::Label;
use gluewright_report::adapter::Adapter;
use gluewright_report::build::{self, Layout};
use gluewright_report::chapters;
use gluewright_report::{Chapter, KeptPin, Report, Seated};

/// Adds them.
pub(super) fn add(made: &mut Made) -> Result<(), JobError> {
    let layout = layout(made);
    let adapter = adapter(made);
    let netlist = made.board.netlist();
    let ohms = |label: &Label| {
        let net = netlist.nets.iter().find(|n| n.contacts.contains(label))?;
        net.pulls.iter().find_map(|(_, ohms)| *ohms)
    };
    let devices: Vec<(String, String)> =
        made.devices.iter().map(|d| (d.reference.clone(), screen::type_of(d))).collect();
    let more = [
        ("adapter.ipc", build::netlist(&made.circuit, &layout).into_bytes()),
        ("adapter_wires.csv", build::wires(&layout)?),
        ("adapter_parts.csv", build::parts(&devices, made.kept(), &adapter, ohms)?),
        ("equations.txt", equations(made).into_bytes()),
        ("wiring.csv", emit::wiring(&made.wires)?.into_bytes()),
        ("timing.csv", bench::times_csv(&made.times)?),
        ("loading.csv", bench::currents_csv(&made.currents)?),
        ("runs.json", bench::runs_json(&made.times).into_bytes()),
        ("proof.json", record::folder(made).into_bytes()),
        (bring_up::FORM, bring_up::form(made)?),
    ];
    made.files.extend(more.map(|(name, bytes)| (name.to_owned(), bytes)));
    evidence::add(made)?;
    made.files.sort();
    let page = report(made, &layout);
    made.files.push(("report.html".to_owned(), page.into_bytes()));
    Ok(())
}

fn equations(made: &Made) -> String {
    if let Some(one) = made.alone() {
        return emit::equations(&one.fitted);
    }
    let head = |b: &Burned| format!("{} ({})\n\n{}", b.reference, b.fitted.device, emit::equations(&b.fitted));
    made.devices.iter().map(head).collect::<Vec<_>>().join("\n\n")
}

/// The devices as the report has them.
fn seated(made: &Made) -> Vec<Seated<'_>> {
    made.devices
        .iter()
        .map(|b| Seated {
            reference: &b.reference,
            fitted: &b.fitted,
            device: &b.device,
            grade: b.grade(&made.times).filter(|_| made.times.chosen().is_some()),
            file: &b.file,
            checksum: b.checksum(),
        })
        .collect()
}

/// The pins of packages that stay.
fn kept_pins(made: &Made) -> Vec<KeptPin> {
    let stays = made.wires.iter().filter(|w| made.kept().iter().any(|(kept, _)| *kept == w.device));
    stays.map(|w| KeptPin { label: w.contact.clone(), reference: w.device.clone(), pin: w.pin.clone() }).collect()
}

pub(super) fn adapter(made: &Made) -> Adapter {
    Adapter::new(&seated(made), &made.original, &kept_pins(made))
}

/// Where contacts and pins are.
fn layout(made: &Made) -> Layout {
    let contacts = made.original.contacts().iter().map(|c| &c.label);
    let supplies = made.original.supplies().iter().map(|(label, _)| label);
    let declared = made.devices.iter().flat_map(|d| &d.fitted.supplies).flat_map(|s| &s.labels);
    let labels: Vec<&Label> = contacts.chain(supplies).chain(declared).collect();
    let pins = |reference: &str| {
        let device = made.devices.iter().find(|d| d.reference == reference)?;
        Some(device.device.pins.len())
    };
    Layout::new(&made.wires, pins, |label| labels.contains(&label), &adapter(made).beside)
}

fn report(made: &Made, layout: &Layout) -> String {
    let seated = seated(made);
    let kept_pins = kept_pins(made);
    let findings: Vec<String> = made.findings.iter().filter(|f| !f.is_in_chapter()).map(Finding::to_string).collect();
    Report {
        name: &made.circuit,
        board: &made.board,
        original: &made.original,
        devices: &seated,
        kept: made.kept(),
        kept_pins: &kept_pins,
        source: made.source.as_ref(),
        fuses: &made.written,
        properties: &made.properties,
        currents: Some(&made.currents),
        safe_grade: made.times.chosen().map(|g| g.name.as_str()),
        layout: Some(layout),
        probing: &made.probing,
        findings: &findings,
        chapters: &all_chapters(made),
        files: &made.files,
        date: None,
    }
    .html()
}

/// The report's chapters beside those that every report has.
fn all_chapters(made: &Made) -> Vec<Chapter> {
    let mut all = match &made.beside {
        Beside::Nothing => Vec::new(),
        Beside::Devices(division) => vec![split(made.devices.len(), division)],
        Beside::Packages { kept, .. } => {
            let text = "They sit on the adapter beside the device: taken from the card, or others of the same types if it \
                        is lost. They do the rest of the work, and the proof covers them together with the device. Every pin \
                        of theirs is wired as on the card; a joint without a contact has the name of a pin.";
            let rows = kept.iter().map(|(reference, part)| vec![reference.clone(), part.clone()]).collect();
            vec![Chapter::new("Packages that stay").paragraph(text).table("", &["Package", "Type"], rows)]
        }
    };
    let mut hazards = Hazards::default();
    for device in &made.devices {
        hazards.list.extend(device.hazards.list.iter().cloned());
        hazards.left_out.extend(device.hazards.left_out.iter().cloned());
    }
    all.push(chapters::hazards(&hazards, made.original_hazards.as_ref().ok()));
    all.push(chapters::times(&made.times));
    all.push(chapters::currents(&made.currents));
    // of packages that stay no habit is known; a circuit that samples nothing says so
    if made.alone().is_some() || !made.sampled.is_empty() {
        all.push(chapters::sampled(&made.sampled));
    }
    for device in &made.devices {
        let of = |vectors| match made.alone() {
            Some(_) => chapters::vectors(vectors),
            None => chapters::vectors_of(&device.reference, vectors),
        };
        all.extend(device.vectors.as_ref().map(of));
    }
    all
}

fn split(devices: usize, division: &Division) -> Chapter {
    let Division { between, wires, fewest_devices, fewest_wires } = division;
    let proved = |fewest: bool| if fewest { "fewer are proved impossible" } else { "fewer may be possible" };
    let rows = between.iter().map(|b| vec![b.label.clone(), b.signal.clone(), b.from.clone(), b.to.join(", ")]);
    let chapter = Chapter::new("How it is split").paragraph(format!(
        "{devices} devices: {}. {wires} wires lead from device to device, shared contacts among them: {}. The devices were \
         proved together, as one circuit.",
        proved(*fewest_devices),
        proved(*fewest_wires)
    ));
    let head = ["Wire", "Signal", "Driven by", "Read by"];
    let rows: Vec<Vec<String>> = rows.collect();
    if rows.is_empty() { chapter } else { chapter.table("Wires without a contact", &head, rows) }
}
