//! The folder of a job with more than one package in the socket.
use super::read::Read;
use super::result::{Division, Several};
use crate::job::{JobError, bench, emitted, folder, record};
use gluewright_analysis::hazard::{self, Hazards};
use gluewright_devices::emit;
use gluewright_kernel::board::Board;
use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_report::chapters;
use gluewright_report::{Chapter, KeptPin, Probing, Report, Seated};

/// What the report needs beside the result.
pub(super) struct About<'a> {
    pub(super) board: &'a Board,
    pub(super) original: &'a Circuit,
    pub(super) probing: &'a Probing,
}

impl Several {
    pub(super) fn write(&mut self, read: Vec<Read>, wiring: String, about: &About<'_>) -> Result<(), JobError> {
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
            currents: Some(&self.currents),
            safe_grade: self.times.chosen().map(|g| g.name.as_str()),
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
        all.push(chapters::hazards(&shaky, hazard::of_original(original).ok().as_ref()));
        all.push(chapters::times(&self.times));
        all.push(chapters::currents(&self.currents));
        if !self.sampled.is_empty() {
            all.push(chapters::sampled(&self.sampled));
        }
        for device in &self.devices {
            all.extend(device.vectors.as_ref().map(|v| chapters::vectors_of(&device.reference, v)));
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
