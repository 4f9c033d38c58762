//! Saved fuse files of unknown origin: equations, and proofs between files.
use std::time::Duration;

use gluewright::board::Board;
use gluewright::circuit::Circuit;
use gluewright::device::{Device, all, find};
use gluewright::fusefile::{FuseFile, Fuses, write};
use gluewright::job::{JobError, Saved};
use gluewright::prove::{Failure, Question};
use gluewright_parts::ttl;

use super::chip::Drawn;
use super::plans;

fn bytes(device: &Device, fuses: &Fuses) -> Vec<u8> {
    write(&FuseFile { fuses: fuses.clone(), lines: device.lines(), ..FuseFile::default() })
}

/// Pin 19 of a 16L8, always enabled, is low while pins 2 and 3 are both high: row 0 enables, row 1 is the term.
fn nand(device: &Device) -> Fuses {
    let mut fuses = Fuses::new(device.fuses, false);
    for column in 0..32 {
        fuses.set(column, true);
        fuses.set(32 + column, column != 0 && column != 4);
    }
    fuses
}

#[test]
fn a_bipolar_file_and_its_replacement_do_the_same_and_a_wrong_link_does_not() {
    let old = find("16L8").unwrap();
    let fuses = nand(old);
    let (new, map) = old.replace(&fuses).unwrap();
    let was = Saved::read("old.jed", &bytes(old, &fuses), Some("16L8")).unwrap();
    let is = Saved::read("new.jed", &bytes(new, &map), None).unwrap();
    assert_eq!(is.device.name, "16V8");
    assert!(was.equations().unwrap().contains("pin 19 = ¬(pin 2 ∧ pin 3)\n"), "{}", was.equations().unwrap());
    is.same_as(&was).unwrap();
    let mut wrong = map.clone();
    wrong.set(32 + 4, true);
    let wrong = Saved::read("wrong.jed", &bytes(new, &wrong), None).unwrap();
    assert!(matches!(wrong.same_as(&was), Err(JobError::Proof { failure: Failure::Refuted(_), .. })));
}

/// One gate of a 74LS00 between contacts that are numbered like the pins of a 20-pin socket.
const GATE: &str = "ref,part,pin,net
J1,contacts,2,a
J1,contacts,3,b
J1,contacts,10,GND
J1,contacts,19,y_n
J1,contacts,20,VCC
U1,74LS00,1,a
U1,74LS00,2,b
U1,74LS00,3,y_n
U1,74LS00,4,GND
U1,74LS00,5,GND
U1,74LS00,7,GND
U1,74LS00,9,GND
U1,74LS00,10,GND
U1,74LS00,12,GND
U1,74LS00,13,GND
U1,74LS00,14,VCC
";

#[test]
fn a_saved_file_is_proved_to_stand_in_for_a_card_and_a_wrong_link_is_refuted() {
    let card = Board::from_csv("gate.csv", GATE, ttl()).unwrap_or_else(|e| panic!("{e}"));
    let device = find("16L8").unwrap();
    let mut fuses = nand(device);
    let saved = Saved::read("gate.jed", &bytes(device, &fuses), Some("16L8")).unwrap();
    saved.stands_in_for(&card).unwrap_or_else(|e| panic!("{e}"));
    // the link of pin 3 in the term: then it is pin 2 alone
    fuses.set(32 + 4, true);
    let wrong = Saved::read("wrong.jed", &bytes(device, &fuses), Some("16L8")).unwrap();
    let said = wrong.stands_in_for(&card).unwrap_err();
    assert!(matches!(&said, JobError::Proof { failure: Failure::Refuted(_), .. }), "{said}");
    // a contact at a pin that the device lacks, or has for its supply
    let moved = GATE.replace("J1,contacts,19,", "J1,contacts,21,");
    let card = Board::from_csv("gate.csv", moved, ttl()).unwrap_or_else(|e| panic!("{e}"));
    assert!(saved.stands_in_for(&card).is_err());
}

#[test]
fn a_number_of_fuses_that_several_devices_have_asks_for_a_name() {
    let fuses = Fuses::new(2048, false);
    let said = Saved::read("old.jed", &bytes(find("16L8").unwrap(), &fuses), None).unwrap_err().to_string();
    assert!(said.contains("old.jed has 2048 fuses") && said.contains("16L8") && said.contains("16R4"), "{said}");
    let said = Saved::read("odd.jed", &bytes(find("16L8").unwrap(), &Fuses::new(77, true)), None).unwrap_err();
    assert!(said.to_string().contains("as no device that is known here"), "{said}");
}

/// Lifted, emitted and lifted again, drawn maps of every device do the same, and the prover says so too (`same.rs` shows it
/// of every map, without it). A drawn map may hold a loop that never rests, of which nothing can be proved; then another
/// one is drawn.
#[test]
#[ignore = "takes minutes: some drawn maps of ten registers are slow to prove"]
fn drawn_maps_do_the_same_after_being_taken_apart_and_written_again() {
    let mut drawn = Drawn(0x1618);
    for device in all().iter().filter(|d| d.fuses > 0) {
        let proved = (0..12).any(|_| {
            let mut fuses = device.encode(&plans::drawn(device, &mut drawn)).unwrap();
            for _ in 0..6 {
                let fuse = drawn.next(device.rows * device.columns());
                fuses.set(fuse, drawn.next(2) == 0);
            }
            let first: Circuit = device.lift(&fuses).unwrap();
            let again = device.encode(&device.decode(&fuses).unwrap()).unwrap();
            let second = device.lift(&again).unwrap();
            match Question::new(first, second).in_time(Duration::from_secs(10)).ask() {
                Ok(_) | Err(Failure::Withheld(_)) => true,
                Err(Failure::Refuted(refutation)) => panic!("{}: {refutation}", device.name),
                Err(_) => false,
            }
        });
        assert!(proved, "{}: no drawn map could be proved", device.name);
    }
}
