//! Every device's fuse file, read again by a reader that shares nothing with the writer.
use gluewright::device::all;
use gluewright::fusefile::{FuseFile, Note, write};

use super::chip::Drawn;
use super::plans;
use super::reader::read;

#[test]
fn a_strict_reader_takes_the_file_of_every_device() {
    let mut drawn = Drawn(0x3141);
    for device in all().iter().filter(|d| d.fuses > 0) {
        for _ in 0..8 {
            let fuses = device.encode(&plans::drawn(device, &mut drawn)).unwrap();
            let file = FuseFile {
                design: format!("tide gauge for {}", device.name),
                notes: vec![Note::new("circuit tide gauge"), Note::before(0, "the first row")],
                fuses: fuses.clone(),
                lines: device.lines(),
                ..FuseFile::default()
            };
            let plain = read(&write(&file)).unwrap_or_else(|e| panic!("{}: {e}", device.name));
            assert_eq!(plain.fuses, fuses.states(), "{}", device.name);
            assert_eq!(plain.security, Some(false), "the security fuse is off");
            assert_eq!(plain.notes.len(), 2);
            assert!(plain.design.contains(device.name));
            assert!(plain.longest_line <= 80, "{}: {}", device.name, plain.longest_line);
        }
    }
}
