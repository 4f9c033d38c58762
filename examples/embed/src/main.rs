//! Gluewright in somebody else's program: proves the sample card, simulates it, and gets its equations and the bytes of its
//! fuse file as values. Nothing is printed but by this file, and nothing is written.
#[path = "../../src/sample_card.rs"]
#[allow(unreachable_pub)] // the same file is a module of a library elsewhere
mod sample_card;

use std::error::Error;

use gluewright::circuit::{Circuit, Label};
use gluewright::device;
use gluewright::emit::{Equation, equation_list};
use gluewright::fit::{Wishes, fit};
use gluewright::fusefile::{self, FuseFile};
use gluewright::prove::{Failure, Proof, Question};
use gluewright::seat::seat;
use gluewright::simulate::{Shown, Simulator};
use sample_card::{SampleCard, lost_card};

/// What this program wants to know of a card.
struct Known {
    /// The proof of the source.
    source: Proof,
    /// The proof of the fuse file's bytes.
    bytes: Proof,
    /// One equation for each macrocell.
    equations: Vec<Equation>,
    /// The fuse file by JESD3.
    fuse_file: Vec<u8>,
    /// What the output `wait` shows before the strobe and while it is there.
    wait: [Shown; 2],
}

type Anything = Box<dyn Error + Send + Sync>;

fn known() -> Result<Known, Anything> {
    let card = lost_card()?;
    let (replacement, question) = gluewright::prove::prove::<SampleCard>().question(&card)?;
    let source = question.ask()?;

    let device = device::find("22V10").ok_or("a 22V10 has a description")?;
    let fitted = fit(&replacement, device, &Wishes::none())?;
    let design = format!("{} for {}", fitted.circuit, device.name);
    let file = FuseFile { design, fuses: device.encode(&fitted.plan)?, lines: device.lines(), ..FuseFile::default() };
    let fuse_file = fusefile::write(&file);
    let bytes = proved_from(&question, &fuse_file, |lifted| seat(lifted, &fitted, &replacement), device)?;

    Ok(Known { source, bytes, equations: equation_list(&fitted), fuse_file, wait: wait(&replacement)? })
}

/// The proof of a fuse file: what is read back from its bytes takes the place of the source in the same question.
fn proved_from(
    question: &Question,
    bytes: &[u8],
    seated: impl Fn(&Circuit) -> Circuit,
    device: &device::Device,
) -> Result<Proof, Anything> {
    let (read, irregular) = fusefile::read("sample_card.jed", bytes)?;
    if let Some(finding) = irregular.first() {
        return Err(finding.to_string().into());
    }
    let proof: Result<Proof, Failure> = question.clone().about(seated(&device.lift(&read.fuses)?)).ask();
    Ok(proof?)
}

/// The simulator: `wait` while the card is being read, without the strobe and with it.
fn wait(circuit: &Circuit) -> Result<[Shown; 2], Anything> {
    let at = |contact: u16, high: bool| (Label::from(contact), high);
    // clock, select, read, reset, strobe
    let levels = [at(1, false), at(2, false), at(3, false), at(6, true), at(7, false)];
    let (mut simulator, _) = Simulator::new(circuit, &levels, |_, _| false)?;
    let before = simulator.shown(&Label::from(17), 0)?;
    simulator.event(&[at(7, true)])?;
    Ok([before, simulator.shown(&Label::from(17), 0)?])
}

fn main() -> Result<(), Anything> {
    let Known { source, bytes, equations, fuse_file, wait } = known()?;
    println!(
        "{source}\n\nProved again from {} bytes of fuse file: {} questions.",
        fuse_file.len(),
        bytes.figures.questions
    );
    println!("wait is {} without the strobe, {} with it.", wait[0], wait[1]);
    for equation in equations {
        println!("{}", equation.text);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_comes_as_a_value() {
        let known = known().expect("the stand-in is sound");
        assert!(known.source.is_whole() && known.bytes.is_whole());
        assert_eq!(known.equations.len(), 10);
        assert_eq!(known.wait, [Shown::High, Shown::Low], "wait is low when true");
        // STX and ETX stand around a file by JESD3
        assert_eq!(known.fuse_file.first(), Some(&2));
        assert!(known.fuse_file.contains(&3));
    }

    /// A wrong fuse is no proof: the polarity of one macrocell is turned round.
    #[test]
    fn a_wrong_fuse_is_refuted() {
        let card = lost_card().expect("sound");
        let (replacement, question) = gluewright::prove::prove::<SampleCard>().question(&card).expect("sound");
        let device = device::find("22V10").expect("known");
        let fitted = fit(&replacement, device, &Wishes::none()).expect("fits");
        let mut plan = fitted.plan.clone();
        let cell = plan.cells.values_mut().find(|c| !c.terms.is_empty()).expect("a sum");
        cell.inverted = !cell.inverted;
        let lifted = device.lift(&device.encode(&plan).expect("fuses")).expect("lifts");
        let failure = question.about(seat(&lifted, &fitted, &replacement)).ask().expect_err("one polarity is wrong");
        assert!(matches!(failure, Failure::Refuted(_)), "{failure}");
    }
}
