//! A saved fuse file of unknown origin: what it does, and whether it can stand in for a card or for another file.
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Parser;

use super::chosen::named;
use super::error::{JobError, Of};
use super::finding::at_contacts;
use super::voice::Voice;
use gluewright_devices::device::{Device, Macrocell, PinNumber, Plan, all};
use gluewright_devices::emit::lifted_equations;
use gluewright_devices::fusefile::{self, FuseFile};
use gluewright_kernel::board::{Board, Library};
use gluewright_kernel::circuit::{Circuit, Contact, Label, Landing, Origin};
use gluewright_kernel::prove::{Proof, Question};

/// What the command line for saved fuse files offers.
#[derive(Clone, Debug, Parser)]
#[command(
    about = "Reads a saved fuse file, prints what its device does as equations, and proves whether it can stand in for \
             a traced card or for another fuse file",
    after_help = "Exit status: 0 read, and proved if that was asked; 1 refuted or undecided; 2 wrong use or bad input."
)]
pub(super) struct Options {
    /// The fuse file (JESD3)
    file: PathBuf,
    /// The device that it is for, by its generic type number, where the number of fuses leaves a choice
    #[arg(long)]
    device: Option<String>,
    /// Prove that it does what this fuse file of the same package does
    #[arg(long, value_name = "FILE")]
    same_as: Option<PathBuf>,
    /// The device of that file, where the number of fuses leaves a choice
    #[arg(long, value_name = "TYPE", requires = "same_as")]
    same_device: Option<String>,
    /// Prove that it can stand in for this traced card, whose contacts are the device's pins
    #[arg(long, value_name = "FILE", conflicts_with = "same_as")]
    card: Option<PathBuf>,
}

/// A pin that is not described, with the states of the fuses that set it up.
type NotDescribed = (PinNumber, Vec<Option<bool>>);

/// Why two fuse files do the same.
#[derive(Debug)]
pub enum Same {
    /// They set the same device up alike, term for term.
    Structure,
    /// What they do was proved to be the same.
    Behaviour(Box<Proof>),
}

impl std::fmt::Display for Same {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Same::Structure => f.write_str("The same by structure: both files set the device up alike, term for term."),
            Same::Behaviour(proof) => proof.fmt(f),
        }
    }
}

/// A saved fuse file with its device.
#[derive(Clone, Debug)]
pub struct Saved {
    /// The file's name.
    pub name: String,
    /// What it holds.
    pub file: FuseFile,
    /// The device that it is for.
    pub device: &'static Device,
    /// What it does, pins as contacts.
    pub circuit: Circuit,
    /// What is odd about it.
    pub remarks: Vec<String>,
}

impl Saved {
    /// Reads a fuse file from the disk. `device` is needed where several devices have as many fuses.
    ///
    /// # Errors
    /// If it can't be read, no device has as many fuses, or several have and none is named.
    pub fn open(path: &Path, device: Option<&str>) -> Result<Saved, JobError> {
        let bytes = std::fs::read(path).map_err(|error| JobError::Read { path: path.to_owned(), error })?;
        Saved::read(&path.display().to_string(), &bytes, device)
    }

    /// The same from bytes; `name` is what messages call the file.
    ///
    /// # Errors
    /// As [`open`](Saved::open).
    pub fn read(name: &str, bytes: &[u8], device: Option<&str>) -> Result<Saved, JobError> {
        let (file, findings) = fusefile::read(name, bytes)?;
        let device = match device {
            Some(device) => named(device)?,
            None => only_device(name, file.fuses.len())?,
        };
        let circuit = device.lift(&file.fuses)?;
        let mut remarks: Vec<String> = findings.iter().map(ToString::to_string).collect();
        remarks.extend(device.remarks(&file.fuses).iter().map(|r| format!("{name}: {r}")));
        Ok(Saved { name: name.to_owned(), file, device, circuit, remarks })
    }

    /// What it does, as text for a person.
    ///
    /// # Errors
    /// If the fuses set the device up as no data sheet defines.
    pub fn equations(&self) -> Result<String, JobError> {
        let plan = self.device.decode(&self.file.fuses)?;
        let mut text = lifted_equations(self.device, &plan);
        let signature: String = plan.signature.iter().flat_map(|b| b.escape_ascii()).map(char::from).collect();
        let _ = write!(text, "\n{} fuses, fuse checksum {:04X}", self.file.fuses.len(), self.file.fuses.checksum());
        if !signature.is_empty() {
            let _ = write!(text, ", user signature `{signature}`");
        }
        text.push('\n');
        for pin in self.not_described() {
            let _ = writeln!(
                text,
                "pin {pin} is not described: its fuses choose what no data sheet has; taken as not driven"
            );
        }
        Ok(text)
    }

    /// The pins of macrocells whose fuses choose what no data sheet describes, and which have nothing to show.
    pub fn not_described(&self) -> Vec<PinNumber> {
        let mode = self.device.mode_of(&self.file.fuses).map(|(_, mode)| mode);
        mode.map_or_else(|_| Vec::new(), |mode| self.device.not_described(mode, &self.file.fuses))
            .iter()
            .map(|macrocell| macrocell.pin)
            .collect()
    }

    /// Shows that it does at every pin what `other` could have done: by structure where both set the same device up alike, term
    /// for term, else by a proof of their behaviour.
    ///
    /// # Errors
    /// If it doesn't, or it can't be told.
    pub fn same_as(&self, other: &Saved) -> Result<Same, JobError> {
        if self.device == other.device && self.structure()? == other.structure()? {
            return Ok(Same::Structure);
        }
        self.is_described()?;
        other.is_described()?;
        ask(other.circuit.clone(), self.circuit.clone()).map(|proof| Same::Behaviour(Box::new(proof)))
    }

    /// What the fuses set up, whatever the order in which terms are summed, and the pins that are not described, with all their
    /// fuses.
    fn structure(&self) -> Result<(Plan, Vec<NotDescribed>), JobError> {
        let mut plan = self.device.decode(&self.file.fuses)?;
        plan.signature.clear();
        for cell in plan.cells.values_mut() {
            cell.terms.sort();
            cell.terms.dedup();
        }
        let (_, mode) = self.device.mode_of(&self.file.fuses)?;
        let of_pin = |macrocell: &Macrocell| {
            let setup = macrocell.configurations.iter().flat_map(|c| &c.fuses).map(|&(fuse, _)| fuse);
            (macrocell.pin, setup.chain(macrocell.polarity).map(|fuse| self.file.fuses.get(fuse)).collect())
        };
        let open = self.device.not_described(mode, &self.file.fuses);
        Ok((plan, open.into_iter().map(of_pin).collect()))
    }

    /// A proof would speak of every pin.
    fn is_described(&self) -> Result<(), JobError> {
        match self.not_described().as_slice() {
            [] => Ok(()),
            pins => {
                let pins = pins.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
                Err(JobError::NotDescribed { file: self.name.clone(), pins })
            }
        }
    }

    /// Proves that it can stand in for a traced card, straight in its socket: contact 1 is pin 1.
    ///
    /// # Errors
    /// If the contacts don't match, it can't stand in, or it can't be told.
    pub fn stands_in_for(&self, card: &Board) -> Result<Proof, JobError> {
        let original = card.circuit()?;
        let is_met = |pin: &PinNumber| original.contacts().iter().any(|c| c.label == Label::from(*pin));
        if self.not_described().iter().any(is_met) {
            self.is_described()?;
        }
        let mut socket = Circuit::new(format!("{} in its socket", self.name));
        let mut nets = Vec::new();
        for contact in original.contacts() {
            let net = socket.add_net(contact.name.clone(), Origin::Nowhere);
            let pin = self.circuit.contacts().iter().find(|c| c.label == contact.label);
            let direction = pin.map_or(contact.direction, |p| p.direction);
            socket.add_contact(Contact { net, direction, ..contact.clone() });
            nets.push((contact.label.clone(), net));
        }
        for (label, rail) in original.supplies() {
            socket.add_supply(label.clone(), *rail);
        }
        socket.place("D1", &self.circuit, |pin| {
            nets.iter().find(|(label, _)| label == pin).map_or(Landing::Open, |&(_, net)| Landing::Net(net))
        });
        at_contacts(&original, &socket).map_err(JobError::Contacts)?;
        ask(original, socket)
    }
}

fn ask(original: Circuit, replacement: Circuit) -> Result<Proof, JobError> {
    Question::new(original, replacement).ask().map_err(|failure| JobError::Proof { of: Of::Source, failure })
}

/// The device with so many fuses.
fn only_device(name: &str, fuses: usize) -> Result<&'static Device, JobError> {
    let has = |d: &&Device| fuses > 0 && (d.fuses == fuses || d.other_sizes.contains(&fuses));
    let candidates: Vec<&'static Device> = all().iter().filter(has).collect();
    match candidates.as_slice() {
        [only] => Ok(only),
        several => Err(JobError::WhichDevice {
            file: name.to_owned(),
            fuses,
            devices: several.iter().map(|d| d.name).collect::<Vec<_>>().join(", "),
        }),
    }
}

pub(super) fn run(options: &Options, library: &dyn Library) -> ExitCode {
    let mut voice = Voice::new(false);
    let status = match act(options, library, &mut voice) {
        Ok(()) => 0,
        Err(e) => {
            voice.aside(&e);
            e.status()
        }
    };
    voice.ends(status)
}

fn act(options: &Options, library: &dyn Library, voice: &mut Voice) -> Result<(), JobError> {
    let saved = Saved::open(&options.file, options.device.as_deref())?;
    saved.remarks.iter().for_each(|r| voice.aside(r));
    voice.text(saved.equations()?);
    if let Some(other) = &options.same_as {
        let other = Saved::open(other, options.same_device.as_deref())?;
        other.remarks.iter().for_each(|r| voice.aside(r));
        voice.text(format_args!("\n{}\n", saved.same_as(&other)?));
    }
    if let Some(path) = &options.card {
        let content = std::fs::read(path).map_err(|error| JobError::Read { path: path.clone(), error })?;
        let card = Board::from_csv(&path.display().to_string(), content, library)?;
        voice.text(format_args!("\n{}\n", saved.stands_in_for(&card)?));
    }
    Ok(())
}
