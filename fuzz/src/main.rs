//! Every reader under libFuzzer. The environment variable READER says which: `trace`, `ipc`, `edif`, `house`, `fuse_file`,
//! `dump`, `hex`, `capture_vcd`, `capture_csv`, `channels`, `netlist`, `drawer`, `continuity`.
//!
//! A reader takes anything: what it can't read is an error. A panic, an endless loop and a memory without bounds are finds.
#![no_main]
#![allow(clippy::unwrap_used, clippy::panic)] // what fails here is a find
use std::sync::LazyLock;
use std::time::Duration;

use gluewright::board::{Board, PartsList, Reading};
use gluewright::capture::{self, Channels};
use gluewright::circuit::Circuit;
use gluewright::continuity::{Parts, Readings, study};
use gluewright::device::all;
use gluewright::drawer::Drawer;
use gluewright::{fusefile, netlist};
use gluewright_parts::{Content, Dump, PulledTo, prom, ttl};
use libfuzzer_sys::fuzz_target;

const FILE: &str = "given.file";

/// A gate whose contacts are 1, 2 and 3.
const CARD: &[u8] = b"ref,part,pin,net\nU1,74LS00,1,a\nU1,74LS00,2,b\nU1,74LS00,3,y\nU1,74LS00,14,VCC\nU1,74LS00,7,GND\n\
    J1,contacts,1,a\nJ1,contacts,2,b\nJ1,contacts,3,y\n";

static READER: LazyLock<fn(&[u8])> = LazyLock::new(|| {
    let name = std::env::var("READER").unwrap_or_default();
    match name.as_str() {
        "trace" => trace,
        "ipc" => ipc,
        "edif" => edif,
        "house" => house,
        "fuse_file" => fuse_file,
        "dump" => dump,
        "hex" => hex,
        "capture_vcd" => |bytes| captured("capture.vcd", bytes),
        "capture_csv" => |bytes| captured("capture.csv", bytes),
        "channels" => |bytes| drop(Channels::from_csv(FILE, bytes)),
        "netlist" => |bytes| drop(netlist::read(&String::from_utf8_lossy(bytes))),
        "drawer" => |bytes| drop(Drawer::from_csv(FILE, bytes)),
        "continuity" => continuity,
        other => panic!("READER is `{other}`: name one of those that src/main.rs lists"),
    }
});

static GATE: LazyLock<Circuit> =
    LazyLock::new(|| Board::from_csv("card.csv", CARD, ttl()).unwrap().circuit().unwrap());

fn looked_at(board: &Board) {
    drop(board.circuit());
    drop(board.untraced());
    let first: Vec<String> = board.chips().map(|(reference, _)| reference.to_owned()).take(2).collect();
    drop(board.replacing(&first));
    drop(board.cut_to(&first));
    drop(board.netlist());
}

/// Both ways to read: as a trace that was written for it, and as a schematic that was not.
fn trace(bytes: &[u8]) {
    for reading in [Reading::new(), Reading::new().others_stay().printed_supplies()] {
        match reading.csv(FILE, bytes, ttl()) {
            Ok(board) => looked_at(&board),
            Err(error) => drop(error.to_string()),
        }
    }
}

/// A list of parts, an empty line with nothing but `%`, a netlist.
fn ipc(bytes: &[u8]) {
    let at = bytes.windows(3).position(|w| w == b"\n%\n").unwrap_or(0);
    let (list, netlist) = bytes.split_at(at);
    let parts = PartsList { file: "parts.csv", content: list };
    let netlist = netlist.get(3..).unwrap_or_default();
    if let Ok(board) = Reading::new().others_stay().ipc_d_356a(FILE, netlist, parts, ttl()) {
        looked_at(&board);
    }
}

fn edif(bytes: &[u8]) {
    if let Ok(board) = Reading::new().others_stay().edif(FILE, bytes, None, ttl()) {
        looked_at(&board);
    }
}

fn house(bytes: &[u8]) {
    let read = Reading::new().house_numbers(FILE, bytes).and_then(|r| r.staying_list(FILE, bytes));
    if let Ok(reading) = read {
        drop(reading.csv("card.csv", CARD, ttl()));
    }
}

fn fuse_file(bytes: &[u8]) {
    let Ok((file, findings)) = fusefile::read(FILE, bytes) else { return };
    findings.iter().for_each(|f| drop(f.to_string()));
    let again = fusefile::read(FILE, &fusefile::write(&file)).unwrap().0;
    assert_eq!(again.fuses, file.fuses);
    for device in all() {
        if let (Ok(plan), Ok(circuit)) = (device.decode(&file.fuses), device.lift(&file.fuses)) {
            circuit.check().unwrap();
            device.encode(&plan).unwrap();
            device.remarks(&file.fuses).iter().for_each(|r| drop(r.to_string()));
            drop(gluewright::emit::lifted_equations(device, &plan));
        }
    }
}

fn dump(bytes: &[u8]) {
    let dump = || Dump::new("U4", [1u16, 2, 3], [18u16, 19]).unwrap();
    drop(dump().with_binary(PulledTo::Ground, FILE, bytes));
    if let Ok(text) = std::str::from_utf8(bytes)
        && let Ok(read) = dump().with_csv(FILE, text)
    {
        drop(read.part());
    }
}

fn hex(bytes: &[u8]) {
    let from_hex = std::str::from_utf8(bytes).ok().and_then(|text| Content::from_intel_hex(FILE, text).ok());
    for content in [from_hex, Content::from_binary(FILE, bytes).ok()].into_iter().flatten() {
        drop(prom("74S288", "U1", &content));
    }
}

fn captured(file: &str, bytes: &[u8]) {
    let skew = Duration::from_nanos(100);
    let observed = capture::read(file, bytes, &Channels::by_name(), [&GATE, &GATE], skew, |_| ());
    if let Ok(observed) = observed {
        drop(observed.original(|_| ()));
    }
}

/// A list of parts, a line with nothing but `%`, readings; or readings alone.
fn continuity(bytes: &[u8]) {
    let at = bytes.windows(3).position(|w| w == b"\n%\n");
    let (list, rows) = at.map_or((&b""[..], bytes), |at| (&bytes[..=at], &bytes[at + 3..]));
    let parts = match list.is_empty() {
        true => Ok(Parts::none()),
        false => Parts::from_csv("parts.csv", list, ttl()),
    };
    let Ok(readings) = parts.and_then(|parts| Readings::from_csv(FILE, rows, parts)) else { return };
    let study = study(&readings, ttl());
    drop(study.to_string());
    // a trace that was written can be read
    match Reading::new().others_stay().printed_supplies().csv("trace.csv", study.trace(), ttl()) {
        Ok(board) => drop(board.circuit()),
        Err(error) => drop(error.to_string()),
    }
}

fuzz_target!(|bytes: &[u8]| READER(bytes));
