//! Bad input for every reader: damaged, cut short, absurd, enormous. An error that names the file, or a result; no panic,
//! and no more time and memory than the input is worth.
//!
//! The long run mutates seeds for as many seconds as `GLUEWRIGHT_FUZZ_SECONDS` says (60 without it):
//! `cargo test --release -p gluewright-tests --test checks fuzz_readers:: -- --ignored --nocapture`.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]
use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

use gluewright::board::Board;
use gluewright::capture::{self, Channels};
use gluewright::continuity::{Parts, Readings, study};
use gluewright::device::{Plan, all, find};
use gluewright::drawer::Drawer;
use gluewright::fusefile::{self, FuseFile};
use gluewright::host::Host;
use gluewright::netlist;
use gluewright_parts::{Content, Dump, PulledTo, fused, prom, ttl};
use proptest::prelude::*;

/// A reader: takes anything; `Err` is its message.
struct Reader {
    name: &'static str,
    read: fn(&[u8]) -> Result<(), String>,
    seeds: Vec<Vec<u8>>,
    /// Whether messages name the file.
    names_file: bool,
}

const FILE: &str = "given.file";

fn trace(bytes: &[u8]) -> Result<(), String> {
    let board = Board::from_csv(FILE, bytes, ttl()).map_err(|e| e.to_string())?;
    board.circuit().map(|_| ()).map_err(|e| e.to_string())
}

fn fuses(bytes: &[u8]) -> Result<(), String> {
    let (file, findings) = fusefile::read(FILE, bytes).map_err(|e| e.to_string())?;
    findings.iter().for_each(|f| drop(f.to_string()));
    // what was read can be written and reads the same, vectors included
    let again = fusefile::read(FILE, &fusefile::write(&file)).map_err(|e| format!("{FILE}: written again: {e}"))?.0;
    assert_eq!(again.fuses, file.fuses);
    for device in all() {
        if let (Ok(plan), Ok(circuit)) = (device.decode(&file.fuses), device.lift(&file.fuses)) {
            assert!(!circuit.contacts().is_empty());
            assert!(device.encode(&plan).is_ok());
            let _ = device.remarks(&file.fuses);
            (0..file.fuses.len()).step_by(97).for_each(|f| drop(device.meaning(&file.fuses, f).to_string()));
        }
    }
    Ok(())
}

fn fused_part(bytes: &[u8]) -> Result<(), String> {
    fused("PAL16L8", "U1", FILE, bytes).map(|_| ()).map_err(|e| e.to_string())
}

fn hex(bytes: &[u8]) -> Result<(), String> {
    let text = std::str::from_utf8(bytes).map_err(|e| format!("{FILE}: {e}"))?;
    let content = Content::from_intel_hex(FILE, text).map_err(|e| e.to_string())?;
    prom("74S288", "U1", &content).map(|_| ()).map_err(|e| format!("{FILE}: {e}"))
}

fn binary(bytes: &[u8]) -> Result<(), String> {
    let content = Content::from_binary(FILE, bytes).map_err(|e| e.to_string())?;
    prom("74S288", "U1", &content).map(|_| ()).map_err(|e| format!("{FILE}: {e}"))
}

fn dump(bytes: &[u8]) -> Result<(), String> {
    let dump = || Dump::new("U4", [1u16, 2, 3], [18u16, 19]).unwrap();
    let _ = dump().with_binary(PulledTo::Ground, FILE, bytes);
    let text = std::str::from_utf8(bytes).map_err(|e| format!("{FILE}: {e}"))?;
    let read = dump().with_csv(FILE, text).map_err(|e| e.to_string())?;
    read.part().map(|_| ()).map_err(|e| format!("{FILE}: {e}"))
}

fn drawer(bytes: &[u8]) -> Result<(), String> {
    Drawer::from_csv(FILE, bytes).map(|_| ()).map_err(|e| e.to_string())
}

fn verilog(bytes: &[u8]) -> Result<(), String> {
    netlist::read(&String::from_utf8_lossy(bytes)).map(|_| ()).map_err(|e| e.to_string())
}

/// A gate whose contacts are 1, 2 and 3.
const CARD: &[u8] =
    b"ref,part,pin,net\nU1,74LS00,1,a\nU1,74LS00,2,b\nU1,74LS00,3,y\nU1,74LS00,14,VCC\nU1,74LS00,7,GND\n\
    J1,contacts,1,a\nJ1,contacts,2,b\nJ1,contacts,3,y\n";

/// A capture of the gate, read and checked; the ending decides which reader it is.
fn captured(file: &str, bytes: &[u8]) -> Result<(), String> {
    let card = Board::from_csv("card.csv", CARD, ttl()).unwrap().circuit().unwrap();
    let skew = Duration::from_nanos(100);
    let observed = capture::read(file, bytes, &Channels::by_name(), [&card, &card], skew, |_| ());
    observed.and_then(|o| o.original(|_| ())).map(|_| ()).map_err(|e| e.to_string().replace(file, FILE))
}

fn value_changes(bytes: &[u8]) -> Result<(), String> {
    captured("capture.vcd", bytes)
}

fn samples(bytes: &[u8]) -> Result<(), String> {
    captured("capture.csv", bytes)
}

fn host(bytes: &[u8]) -> Result<(), String> {
    let card = Board::from_csv("card.csv", CARD, ttl()).unwrap();
    Host::from_csv(FILE, bytes, &card).map(|_| ()).map_err(|e| e.to_string())
}

/// Readings over a gate that the list of parts names; what they come to is said too.
fn meter(bytes: &[u8]) -> Result<(), String> {
    let parts = Parts::from_csv("parts.csv", MEASURED, ttl()).unwrap();
    let readings = Readings::from_csv(FILE, bytes, parts).map_err(|e| e.to_string())?;
    drop(study(&readings, ttl()).to_string());
    Ok(())
}

fn parts(bytes: &[u8]) -> Result<(), String> {
    Parts::from_csv(FILE, bytes, ttl()).map(|_| ()).map_err(|e| e.to_string())
}

/// What sits on the board whose readings are read.
const MEASURED: &[u8] = b"ref,part,pins\nJ1,contacts,1-4\nU1,74LS00,\nR1,resistor,\n";

fn channels(bytes: &[u8]) -> Result<(), String> {
    Channels::from_csv(FILE, bytes).map(|_| ()).map_err(|e| e.to_string())
}

fn readers() -> Vec<Reader> {
    let reader = |name, read, names_file, seeds: Vec<Vec<u8>>| Reader { name, read, seeds, names_file };
    let fuse_file = |device: &str| {
        let device = find(device).unwrap();
        let fuses = device.encode(&Plan { mode: device.modes.len() - 1, ..Plan::default() }).unwrap();
        fusefile::write(&FuseFile { fuses, lines: device.lines(), design: "seed".into(), ..FuseFile::default() })
    };
    let worked = b"\x02Seed*\r\nQF24*QP4*QV2*F0*X0*N note*L0000 101011000000000000000000*K8 5A*E10100111*U10110110*\
        P 1 2 3 4*V0001 0HCZ*V0002 1LCN*G0*\x030000"
        .to_vec();
    let changes = b"$timescale 1 ns $end $scope module top $end $var wire 1 ! 1 $end $var wire 1 \" 2 $end\n\
        $var reg 1 # 3 $end $upscope $end $enddefinitions $end\n#0 $dumpvars 0! 1\" 1# $end\n#400 1!\n#412 0#\n#900 b0 !\n\
        #920 1#\n";
    let rows = b"time (ns),1,2,3\n0,0,1,1\n400,1,1,1\n412,1,1,0\n900,0,1,0\n920,0,1,1\n";
    let list = b"channel,contact,rest\nD0,1\nD1,y,high\nlow,2\n";
    let records =
        b":10000000000102030405060708090A0B0C0D0E0F78\n:100010001011121314151617181920212223242544\n:00000001FF\n";
    let readings = b"pull,1,2,3,18,19\nup,L,L,L,H,L\ndown,L,L,L,L,L\nup,H,L,L,H,H\n# a remark\ndown,H,L,L,H,H\n";
    let have = b"maker,type,grade,package,count\nany,22V10,-15,DIP-24,2\nany,16V8,-25,DIP-20,1\n";
    let around =
        b"contact,what,value,part,edge,known_from\n3,load_low,0.4,,,sheet\n2,stable_before,250,,1 rises,measured\n";
    let measured =
        b"from,to,ohms\nU1.14,VCC,0.2\nU1.7,GND,0.1\nU1.7,4,0\n1,U1.1,0.2\n2,U1.2,open\nU1.3,3,0.55 V\nR1.1,R1.2,4k7\n\
        U1.4,others,open\n";
    let module = b"module card(input clock, input d, output q);\n  reg r;\n  assign q = r;\n  always @(posedge clock) \
        r <= d;\nendmodule\n";
    vec![
        reader("trace", trace, true, vec![CARD.to_vec()]),
        reader("fuse file", fuses, true, vec![worked, fuse_file("16L8"), fuse_file("16V8"), fuse_file("22V10")]),
        reader("fuse file of a part", fused_part, true, vec![fuse_file("16L8")]),
        reader("Intel HEX", hex, true, vec![records.to_vec()]),
        reader("PROM binary", binary, true, vec![(0..32).collect()]),
        reader("dump", dump, true, vec![readings.to_vec()]),
        reader("drawer", drawer, true, vec![have.to_vec()]),
        reader("value change dump", value_changes, true, vec![changes.to_vec()]),
        reader("table of samples", samples, true, vec![rows.to_vec()]),
        reader("list of channels", channels, true, vec![list.to_vec()]),
        reader("host", host, true, vec![around.to_vec()]),
        reader("readings of a meter", meter, true, vec![measured.to_vec()]),
        reader("list of parts", parts, true, vec![MEASURED.to_vec()]),
        reader("netlist", verilog, false, vec![module.to_vec()]),
    ]
}

/// Reads, and fails with the input if the reader panics, takes too long, or has a message without its file.
fn check(reader: &Reader, bytes: &[u8]) {
    let shown = || String::from_utf8_lossy(bytes.get(..600).unwrap_or(bytes)).into_owned();
    let began = Instant::now();
    let result = catch_unwind(AssertUnwindSafe(|| (reader.read)(bytes)));
    let took = began.elapsed();
    match result {
        Err(_) => panic!("the reader of a {} panics at {} bytes:\n{}", reader.name, bytes.len(), shown()),
        Ok(Err(message)) => {
            assert!(!message.trim().is_empty(), "{}: an empty message", reader.name);
            assert!(message.len() < 200_000, "{}: a message of {} bytes", reader.name, message.len());
            assert!(!reader.names_file || message.contains(FILE), "{}: no file in `{message}`", reader.name);
        }
        Ok(Ok(())) => {}
    }
    let most = Duration::from_secs(5) + Duration::from_micros(60) * u32::try_from(bytes.len()).unwrap_or(u32::MAX);
    assert!(took < most, "{}: {took:?} for {} bytes:\n{}", reader.name, bytes.len(), shown());
}

/// A generator of drawn numbers (xorshift, Marsaglia 2003).
struct Drawn(u64);

impl Drawn {
    fn next(&mut self, below: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as usize % below.max(1)
    }

    /// A damaged copy.
    fn mutant(&mut self, seed: &[u8]) -> Vec<u8> {
        const WORDS: [&[u8]; 16] = [
            b"99999999999999999999",
            b"-1",
            b"4294967296",
            b"\xFF\xFE",
            b"\xEF\xBB\xBF",
            b"\0",
            b"*",
            b"\x02",
            b"\x03",
            b"QF4194304*",
            b"L4194303 1*",
            b"\"",
            b"\n\n",
            b":0400000500000000F7\n",
            b":02000004FFFFFC\n",
            "Ω".as_bytes(),
        ];
        let mut bytes = seed.to_vec();
        for _ in 0..1 + self.next(6) {
            let at = self.next(bytes.len() + 1);
            let end = (at + self.next(12)).min(bytes.len());
            match self.next(7) {
                0 => bytes.truncate(at),
                1 => drop(bytes.splice(at..at, WORDS[self.next(WORDS.len())].iter().copied())),
                2 => drop(bytes.drain(at..end)),
                3 => {
                    let copy = bytes[at..end].to_vec();
                    bytes.splice(at..at, copy.into_iter().cycle().take(1 + self.next(300)));
                }
                4 | 5 if at < bytes.len() => bytes[at] = (self.next(256)) as u8,
                _ if at < bytes.len() => bytes[at] ^= 1 << self.next(8),
                _ => {}
            }
        }
        bytes
    }
}

#[test]
fn seeds_are_read() {
    for reader in readers().iter().filter(|r| !matches!(r.name, "trace" | "dump" | "netlist")) {
        for seed in &reader.seeds {
            assert_eq!((reader.read)(seed), Ok(()), "{}", reader.name);
        }
    }
}

#[test]
fn every_cut_is_an_error_or_a_smaller_file() {
    for reader in &readers() {
        for seed in &reader.seeds {
            (0..seed.len()).step_by(1 + seed.len() / 120).for_each(|end| check(reader, &seed[..end]));
        }
    }
}

#[test]
fn damaged_seeds_never_panic() {
    let mut drawn = Drawn(0x1979);
    for reader in &readers() {
        for round in 0..60 {
            let seed = &reader.seeds[round % reader.seeds.len()];
            check(reader, &drawn.mutant(seed));
        }
    }
}

#[test]
fn a_million_rows_are_refused_or_read_in_bounded_time() {
    for reader in &readers() {
        let row = match reader.name {
            "fuse file" | "fuse file of a part" => "L0 1*\r\n",
            "Intel HEX" => ":10000000000102030405060708090A0B0C0D0E0F78\n",
            "dump" => "up,L,L,L,H,L\n",
            "drawer" => "any,22V10,-15,DIP-24,2\n",
            "netlist" => "wire w;\n",
            _ => "U1,74LS00,1,a\n",
        };
        let head: &[u8] = match reader.name {
            "trace" => b"ref,part,pin,net\n",
            "fuse file" | "fuse file of a part" => b"\x02Many*QF2048*F0*\r\n",
            "dump" => b"pull,1,2,3,18,19\n",
            "drawer" => b"maker,type,grade,package,count\n",
            _ => b"",
        };
        let bytes = [head, row.repeat(1_000_000).as_bytes(), b"\x030000"].concat();
        check(reader, &bytes);
    }
}

#[test]
fn one_enormous_line_is_survived() {
    for reader in &readers() {
        for unit in ["1", ",", "*", "N", "\"", "(", ":"] {
            check(reader, unit.repeat(300_000).as_bytes());
            check(reader, [b"\x02".as_slice(), unit.repeat(100_000).as_bytes(), b"*\x030000"].concat().as_slice());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn anything_at_all_is_survived(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        readers().iter().for_each(|r| check(r, &bytes));
    }
}

/// What a reader says of an input, without the numbers, names and quotations in it.
fn answer(reader: &Reader, bytes: &[u8]) -> String {
    let said = (reader.read)(bytes).err().unwrap_or_default();
    let plain = |part: &str| part.chars().filter(|c| !c.is_numeric()).collect::<String>();
    said.split('`').step_by(2).map(plain).collect()
}

#[test]
#[ignore = "as long as GLUEWRIGHT_FUZZ_SECONDS says"]
fn fuzz() {
    let seconds = std::env::var("GLUEWRIGHT_FUZZ_SECONDS").ok().and_then(|s| s.parse().ok()).unwrap_or(60);
    let began = Instant::now();
    let mut drawn = Drawn(std::process::id().into());
    let mut readers = readers();
    let mut counts = vec![(0usize, 0usize); readers.len()];
    let mut answers: Vec<BTreeSet<String>> =
        readers.iter().map(|r| r.seeds.iter().map(|s| answer(r, s)).collect()).collect();
    while began.elapsed() < Duration::from_secs(seconds) {
        for ((reader, (tried, kept)), answers) in readers.iter_mut().zip(&mut counts).zip(&mut answers) {
            let seed = &reader.seeds[drawn.next(reader.seeds.len())];
            let mutant = drawn.mutant(seed);
            check(reader, &mutant);
            *tried += 1;
            // an answer that nothing had before is a way through the reader that nothing went before
            if mutant.len() < 20_000 && reader.seeds.len() < 2_000 && answers.insert(answer(reader, &mutant)) {
                reader.seeds.push(mutant);
                *kept += 1;
            }
        }
    }
    for (reader, (tried, kept)) in readers.iter().zip(counts) {
        println!("{}: {tried} inputs in {:.0} s, {kept} kept as seeds", reader.name, began.elapsed().as_secs_f64());
    }
}
