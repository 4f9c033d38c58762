//! Jobs that end with more than one package in the socket: a split over several devices, a device beside kept packages.
use std::path::{Path, PathBuf};

use super::alone::find_device;
use super::burning::Burning;
use super::emitted::Emitted;
use super::seat::{landing, seat_all};
use super::{Job, JobError, bench, choosing, emitted, folder, progress, record};
use crate::board::{Board, Remainder, Severity, compare_contacts};
use crate::choose::{Between, MOST_DEVICES, Split, Stock, split, split_over};
use crate::circuit::{Circuit, Label};
use crate::device::Device;
use crate::drawer::Drawer;
use crate::emit;
use crate::fit::{Fitted, fit};
use crate::hazard::{self, Hazards};
use crate::loading::{self, Loading};
use crate::prove::Proof;
use crate::report::{Chapter, KeptPin, Probing, Report, Seated};
use crate::signals::Wiring;
use crate::synchronisers::{self, Habit};
use crate::timing::{self, Budget, GradeChoice};
use crate::vectors::{self, Vectors};

/// Everything that such a job has.
#[derive(Debug)]
pub struct Several {
    /// The circuit's name.
    pub circuit: String,
    /// The folder that was written.
    pub folder: PathBuf,
    /// The names of the files in it.
    pub files: Vec<String>,
    /// The proof of the source; a job that keeps packages has none, since its device is derived from the trace.
    pub source: Option<Proof>,
    /// The proof of all packages in the socket as one circuit, with what was read back from the written files.
    pub fuses: Proof,
    /// The devices to burn.
    pub devices: Vec<Burned>,
    /// The packages of the original that stay: reference and part.
    pub kept: Vec<(String, String)>,
    /// The packages of the original that the device replaces, if others stay.
    pub replaced: Vec<(String, String)>,
    /// How the circuit was split, if it was.
    pub split: Option<Division>,
    /// The times at the contacts beside the original's, over all devices and kept packages.
    pub times: GradeChoice,
    /// The currents at the contacts beside the original's.
    pub currents: Loading,
    /// The contacts that registers sample, beside the original's habit; none if packages stay.
    pub sampled: Vec<Habit>,
    /// What there is to think about, though nothing stands in the way.
    pub findings: Vec<String>,
}

/// A device of a job with several.
#[derive(Debug)]
pub struct Burned {
    /// What the wiring list calls it.
    pub reference: String,
    /// What it holds.
    pub fitted: Fitted,
    /// Its fuse file, or the netlist that its maker's fitter takes.
    pub file: String,
    /// The fuse checksum of that file; a netlist has none.
    pub checksum: Option<u16>,
    /// Its type.
    pub device: &'static Device,
    /// Its test vectors, if there is a fuse file and any are wanted.
    pub vectors: Option<Vectors>,
}

/// What is to be said of a split.
#[derive(Clone, Debug)]
pub struct Division {
    /// Wires that carry signals without a contact.
    pub between: Vec<Between>,
    /// Wires from device to device, shared contacts included.
    pub wires: usize,
    /// Whether fewer devices are proved impossible.
    pub fewest_devices: bool,
    /// Whether fewer wires are proved impossible.
    pub fewest_wires: bool,
}

/// A device with its files, as read back.
struct Read {
    burned: Burned,
    files: Vec<(String, Vec<u8>)>,
    circuit: Circuit,
    remarks: Vec<String>,
}

/// Writes a device and reads it back. Its files are named after it, so that those of several devices lie side by side.
fn burn(reference: &str, fitted: Fitted, device: &'static Device, burning: Burning<'_>) -> Result<Read, JobError> {
    let Emitted { file, files, circuit, checksum, remarks, vectors, .. } = emitted::emitted(&fitted, device, burning)?;
    let named = |name: &str| {
        if name.contains(&fitted.circuit) { name.to_owned() } else { format!("{}_{name}", reference.to_lowercase()) }
    };
    let file = named(&file);
    let files = files.into_iter().map(|(name, bytes)| (named(&name), bytes)).collect();
    let remarks = remarks.into_iter().map(|r| format!("{reference}: {r}")).collect();
    let reference = reference.to_owned();
    let burned = Burned { reference, fitted, file, checksum, device, vectors };
    Ok(Read { burned, files, circuit, remarks })
}

impl<C: Wiring> Job<C> {
    /// Splits the circuit over several devices and proves them together: fewest devices first, then fewest wires between
    /// them. All are of the type that is named; without one they are what the drawer holds. Takes no more devices than are in
    /// the drawer, and at most [`MOST_DEVICES`].
    ///
    /// # Errors
    /// The first thing that stands in the way; nothing is written then.
    pub fn act_split(self, device: Option<&str>, drawer: &Drawer, out: &Path) -> Result<Several, JobError> {
        let device = device.map(find_device).transpose()?;
        let board = self.card?;
        let (replacement, question) =
            self.claim.question(&board).map_err(|failure| JobError::Proof { what: "", failure })?;
        let original = board.circuit()?;
        let differences = compare_contacts(&original, &replacement);
        if differences.iter().any(|f| f.severity == Severity::Error) {
            let all: Vec<_> = differences.iter().map(ToString::to_string).collect();
            return Err(JobError::Contacts(all.join("\n")));
        }
        let question = progress::shown(question);
        let Split { shares, between, wires, fewest_devices, fewest_wires } = match device {
            Some(device) => {
                let most = drawer.count(device).map_or(MOST_DEVICES, |n| n as usize);
                split(&replacement, device, most, &self.wishes)?
            }
            None => split_over(&replacement, &Stock::of(drawer), &self.wishes)?,
        };
        let source = question.ask().map_err(|failure| JobError::Proof { what: "", failure })?;
        let burning = Burning { testing: self.testing, source: Some(&source), package: self.package.as_deref() };
        let mut read = Vec::with_capacity(shares.len());
        for share in shares {
            read.push(burn(&share.reference, share.fitted, share.device, burning)?);
        }
        let seats: Vec<_> = read.iter().map(|r| (&r.circuit, &r.burned.fitted)).collect();
        let joined = seat_all(&seats, &replacement);
        let probing = Probing::new(&question, &joined);
        let fuses = question
            .about(joined)
            .ask()
            .map_err(|failure| JobError::Proof { what: "From the files that would be written: ", failure })?;
        let fitted: Vec<Fitted> = read.iter().map(|r| r.burned.fitted.clone()).collect();
        let wiring = emit::wiring(&fitted, original.supplies())?;
        let notes: Vec<String> = board.findings().iter().chain(&differences).map(ToString::to_string).collect();
        let burned: Vec<&Burned> = read.iter().map(|r| &r.burned).collect();
        let (times, currents) = at_contacts(&board, &[], &burned, &self.budget, Some(drawer));
        let sampled = synchronisers::beside(
            &synchronisers::sampled(&original, &self.in_step),
            &synchronisers::sampled(&replacement, &self.in_step),
        );
        let mut done = Several {
            circuit: replacement.name.clone(),
            folder: out.join(&replacement.name),
            files: Vec::new(),
            source: Some(source),
            fuses,
            devices: Vec::new(),
            kept: Vec::new(),
            replaced: Vec::new(),
            split: Some(Division { between, wires, fewest_devices, fewest_wires }),
            times,
            currents,
            sampled,
            findings: notes,
        };
        done.write(read, wiring, &About { board: &board, original: &original, probing: &probing })?;
        Ok(done)
    }

    /// Leaves packages of the original in place and replaces the rest by one device. What that has to do is derived from
    /// the trace, not from the source; kept packages and device are proved together against the whole card.
    ///
    /// # Errors
    /// The first thing that stands in the way; nothing is written then.
    pub fn act_keep(self, kept: &[String], device: &str, out: &Path) -> Result<Several, JobError> {
        let device = find_device(device)?;
        choosing::in_stock(self.drawer.as_ref(), device)?;
        let board = self.card?;
        let remainder = board.keeping(kept)?;
        let (replacement, question) =
            self.claim.question(&board).map_err(|failure| JobError::Proof { what: "", failure })?;
        let question = progress::shown(question);
        let wishes = self.wishes.for_share(&remainder.rest, Vec::new());
        let mut fitted = fit(&remainder.rest, device, &wishes)
            .map_err(|reason| JobError::NoFit { device: device.name.to_owned(), reason: Box::new(reason) })?;
        let reference = free_reference(&board);
        fitted.circuit = format!("{}_{reference}", replacement.name);
        let read = burn(
            &reference,
            fitted,
            device,
            Burning { testing: self.testing, source: None, package: self.package.as_deref() },
        )?;
        let joined = beside_kept(&remainder, &reference, &read.circuit, &read.burned.fitted);
        let probing = Probing::new(&question, &joined);
        let fuses = question
            .about(joined)
            .ask()
            .map_err(|failure| JobError::Proof { what: "From the files that would be written: ", failure })?;
        let original = board.circuit()?;
        let wiring = emit::wiring_beside(&remainder, &reference, &read.burned.fitted, original.supplies())?;
        let staying: Vec<String> = remainder.kept.iter().map(|(reference, _)| reference.clone()).collect();
        let (times, currents) = at_contacts(&board, &staying, &[&read.burned], &self.budget, self.drawer.as_ref());
        let mut done = Several {
            circuit: replacement.name.clone(),
            folder: out.join(&replacement.name),
            files: Vec::new(),
            source: None,
            fuses,
            devices: Vec::new(),
            kept: remainder.kept,
            replaced: remainder.replaced,
            split: None,
            times,
            currents,
            sampled: Vec::new(),
            findings: board.findings().iter().map(ToString::to_string).collect(),
        };
        let about = About { board: &board, original: &original, probing: &probing };
        done.write(vec![read], wiring, &about)?;
        Ok(done)
    }
}

/// Times and currents at the card's contacts with these devices, and packages that stay, in its place.
fn at_contacts(
    board: &Board,
    kept: &[String],
    burned: &[&Burned],
    budget: &Budget,
    drawer: Option<&Drawer>,
) -> (GradeChoice, Loading) {
    let seated: Vec<timing::Seated<'_>> = burned
        .iter()
        .map(|b| timing::Seated { reference: &b.reference, fitted: &b.fitted, device: b.device })
        .collect();
    let mut types: Vec<&Device> = Vec::new();
    for b in burned {
        if !types.iter().any(|d| d.name == b.device.name) {
            types.push(b.device);
        }
    }
    let times = choosing::at_hand(drawer, &types, timing::choose_grades(board, kept, &seated, budget));
    let named = |b: &Burned| {
        let best = times.best()?;
        // with several types the choice names each with its grade
        let is_it = |g: &&crate::device::Grade| {
            best.name == g.name || best.name.split(" and ").any(|n| n == format!("{} {}", b.device.name, g.name))
        };
        b.device.grades.iter().find(is_it)
    };
    let devices: Vec<_> = burned.iter().map(|b| (&b.fitted, b.device, named(b))).collect();
    let currents = loading::loading_together(board, kept, &devices);
    (times, currents)
}

/// The kept packages with the device beside them.
pub fn beside_kept(remainder: &Remainder, reference: &str, device: &Circuit, fitted: &Fitted) -> Circuit {
    let mut joined = remainder.host.clone();
    joined.name = format!("{}, {} for the rest", remainder.host.name, device.name);
    joined.place(reference, device, |pin: &Label| landing(pin, fitted, &remainder.nets));
    joined
}

/// A reference that no package of the card has.
fn free_reference(board: &Board) -> String {
    let taken = |name: &str| board.chips().any(|(reference, _)| reference.eq_ignore_ascii_case(name));
    (1..).map(|n| format!("D{n}")).find(|name| !taken(name)).unwrap_or_default()
}

/// What the report needs beside the result.
struct About<'a> {
    board: &'a Board,
    original: &'a Circuit,
    probing: &'a Probing,
}

impl Several {
    fn write(&mut self, read: Vec<Read>, wiring: String, about: &About<'_>) -> Result<(), JobError> {
        let kept_pins = self.kept_pins(&wiring)?;
        let mut files: Vec<(String, Vec<u8>)> = vec![
            ("wiring.csv".to_owned(), wiring.into_bytes()),
            ("timing.csv".to_owned(), bench::times_csv(&self.times)?),
        ];
        let mut equations = String::new();
        for r in read {
            let several = format!("{} ({})\n\n", r.burned.reference, r.burned.fitted.device);
            if !equations.is_empty() {
                equations.push_str("\n\n");
            }
            equations.push_str(&several);
            equations.push_str(&emit::equations(&r.burned.fitted));
            files.extend(r.files);
            self.findings.extend(r.remarks);
            self.devices.push(r.burned);
        }
        let told_already = self.findings.clone();
        self.findings.extend(emitted::of_original(about.original));
        let chapters = self.chapters(about.original);
        files.push(("equations.txt".to_owned(), equations.into_bytes()));
        files.push(("proof.json".to_owned(), record::document(&record::several(self), &[]).into_bytes()));
        files.push(("proof.smt2".to_owned(), self.fuses.smt2().into_bytes()));
        files.sort();
        let page = self.page(about, &kept_pins, &chapters, &told_already, &files);
        files.push(("report.html".to_owned(), page.into_bytes()));
        folder::write(&self.folder, &files).map_err(|(path, error)| JobError::Write { path, error })?;
        self.files = files.into_iter().map(|(name, _)| name).collect();
        Ok(())
    }

    fn page(
        &self,
        about: &About<'_>,
        kept_pins: &[KeptPin],
        chapters: &[Chapter],
        findings: &[String],
        files: &[(String, Vec<u8>)],
    ) -> String {
        let seated: Vec<Seated<'_>> = self
            .devices
            .iter()
            .map(|d| Seated {
                reference: &d.reference,
                fitted: &d.fitted,
                device: d.device,
                file: &d.file,
                checksum: d.checksum,
            })
            .collect();
        let report = Report {
            name: &self.circuit,
            board: about.board,
            original: about.original,
            devices: &seated,
            kept: &self.kept,
            kept_pins,
            source: self.source.as_ref(),
            fuses: &self.fuses,
            probing: about.probing,
            findings,
            chapters,
            files,
            date: None,
        };
        report.html()
    }

    /// The report's chapters beside those that every report has.
    fn chapters(&self, original: &Circuit) -> Vec<Chapter> {
        let mut all = self.of_several();
        let mut shaky = Hazards::default();
        for device in &self.devices {
            let its = hazard::of_device(&device.fitted);
            shaky.list.extend(its.list);
            shaky.left_out.extend(its.left_out);
        }
        all.push(hazard::chapter(&shaky, hazard::of_original(original).ok().as_ref()));
        all.push(timing::chapter(&self.times));
        all.push(loading::chapter(&self.currents));
        if !self.sampled.is_empty() {
            all.push(synchronisers::chapter(&self.sampled));
        }
        for device in &self.devices {
            all.extend(device.vectors.as_ref().map(|v| vectors::chapter_of(&device.reference, v)));
        }
        all
    }

    /// What a split or packages that stay add to the report.
    fn of_several(&self) -> Vec<Chapter> {
        let mut all = Vec::new();
        if let Some(Division { between, wires, fewest_devices, fewest_wires }) = &self.split {
            let proved = |fewest: bool| if fewest { "fewer are proved impossible" } else { "fewer may be possible" };
            let rows = between.iter().map(|b| vec![b.label.clone(), b.signal.clone(), b.from.clone(), b.to.join(", ")]);
            let chapter = Chapter::new("How it is split").paragraph(format!(
                "{} devices: {}. {wires} wires lead from device to device, shared contacts among them: {}. The devices were \
                 proved together, as one circuit.",
                self.devices.len(),
                proved(*fewest_devices),
                proved(*fewest_wires)
            ));
            let head = ["Wire", "Signal", "Driven by", "Read by"];
            let rows: Vec<Vec<String>> = rows.collect();
            all.push(if rows.is_empty() { chapter } else { chapter.table("Wires without a contact", &head, rows) });
        }
        if !self.kept.is_empty() {
            let text = "They do the rest of the work, and the proof covers them together with the device. Every pin of \
                        theirs stays wired as on the card; a joint without a contact has the name of a pin.";
            let rows = self.kept.iter().map(|(reference, part)| vec![reference.clone(), part.clone()]).collect();
            let head = ["Package", "Type"];
            all.push(Chapter::new("Packages that stay").paragraph(text).table("", &head, rows));
        }
        all
    }

    /// The pins of the packages that stay, by the wiring list.
    fn kept_pins(&self, wiring: &str) -> Result<Vec<KeptPin>, csv::Error> {
        let mut pins = Vec::new();
        for row in csv::Reader::from_reader(wiring.as_bytes()).into_records() {
            let row = row?;
            let (Some(contact), Some(reference), Some(pin)) = (row.get(0), row.get(2), row.get(3)) else { continue };
            if self.kept.iter().any(|(kept, _)| kept == reference) {
                let (label, reference, pin) = (Label::new(contact), reference.to_owned(), Label::new(pin));
                pins.push(KeptPin { label, reference, pin });
            }
        }
        Ok(pins)
    }
}
