//! Circuits that were built on delays: what typical delays are said to decide is what a simulator with drawn delays does.
//!
//! Each is a register whose clock comes late by a chain of inverters, or a latch whose gate and data come from one contact by
//! two chains. It is written twice: as a trace for the prover, and as Verilog (IEEE 1364-2001) for Icarus Verilog, with each
//! delay drawn within 20 % of 0.6 of the sheet's longest (Motorola, FAST AND LS TTL DATA: 74LS04 15 ns; 74LS74 25 ns to a rise
//! and 40 ns to a fall). Neither knows of the other.
use std::fmt::Write;
use std::process::Command;

use gluewright::board::Board;
use gluewright::circuit::Circuit;
use gluewright::prove::{Failure, Of, Question};
use gluewright_tests::gates::Numbers;
use gluewright_tests::icarus;

/// A circuit that was built on delays.
#[derive(Clone, Copy, Debug)]
struct Built {
    is_latch: bool,
    /// Inverters on the way of the clock or gate; an even number.
    clock: usize,
    /// Inverters on the way of the data; an odd number turns them, which only latches have.
    data: usize,
}

impl Built {
    fn drawn(n: &mut Numbers) -> Built {
        let is_latch = n.below(2) == 0;
        let data = if is_latch { n.below(8) } else { 2 * n.below(3) };
        Built { is_latch, clock: 2 * n.below(6), data }
    }

    /// Its trace.
    fn trace(self) -> String {
        let mut csv = "ref,part,pin,net\nJ1,contacts,1,x\nJ1,contacts,2,d\nJ1,contacts,3,out\n".to_owned();
        let mut left = Vec::new();
        let mut packages = 0;
        let mut inverter = |csv: &mut String, from: &str, to: &str| {
            if left.is_empty() {
                packages += 1;
                left = [(13, 12), (11, 10), (9, 8), (5, 6), (3, 4), (1, 2)].map(|p| (packages, p)).to_vec();
                let _ = writeln!(csv, "V{packages},74LS04,14,VCC\nV{packages},74LS04,7,GND");
            }
            let (at, (a, y)) = left.pop().expect("there are some");
            let _ = writeln!(csv, "V{at},74LS04,{a},{from}\nV{at},74LS04,{y},{to}");
        };
        let mut chain = |csv: &mut String, from: &str, to: &str, count: usize| {
            let name = |i: usize| if i == 0 { from.to_owned() } else { format!("{to}{i}") };
            (0..count).for_each(|i| inverter(csv, &name(i), &name(i + 1)));
            name(count)
        };
        let clock = chain(&mut csv, "x", "k", self.clock);
        if self.is_latch {
            let data = chain(&mut csv, "x", "w", self.data);
            // bit 1 of a 74LS75: 1D pin 2, enable of 1 and 2 pin 13, 1Q pin 16
            let _ = writeln!(csv, "U1,74LS75,2,{data}\nU1,74LS75,13,{clock}\nU1,74LS75,16,out");
            let _ = writeln!(csv, "U1,74LS75,5,VCC\nU1,74LS75,12,GND\nU1,74LS75,others,open");
        } else {
            let data = chain(&mut csv, "q", "w", self.data);
            let _ = writeln!(csv, "U1,74LS74,2,d\nU1,74LS74,3,x\nU1,74LS74,5,q\nU1,74LS74,12,{data}");
            let _ = writeln!(csv, "U1,74LS74,11,{clock}\nU1,74LS74,9,out");
            let _ = writeln!(csv, "U1,74LS74,14,VCC\nU1,74LS74,7,GND");
            for pin in [1, 4, 10, 13] {
                let _ = writeln!(csv, "U1,74LS74,{pin},VCC");
            }
            let _ = writeln!(csv, "U1,74LS74,others,open");
        }
        csv
    }

    /// What does the same if the new data are taken, or the old: written without delays.
    fn settled(self, new: bool) -> String {
        let head = "ref,part,pin,net\nJ1,contacts,1,x\nJ1,contacts,2,d\nJ1,contacts,3,out\n";
        match (self.is_latch, new) {
            (true, true) => {
                // the latch is open while x is high, and has what x falls to in the end
                let mut wire = Built { is_latch: true, clock: 0, data: 0 }.wire();
                if self.data % 2 == 1 {
                    wire = "V1,74LS04,1,x\nV1,74LS04,2,out\nV1,74LS04,14,VCC\nV1,74LS04,7,GND\n".to_owned();
                }
                format!("{head}{wire}")
            }
            (true, false) => {
                let rail = if self.data % 2 == 1 { "GND" } else { "VCC" };
                format!(
                    "{head}U1,74LS75,2,{rail}\nU1,74LS75,13,x\nU1,74LS75,16,out\nU1,74LS75,5,VCC\nU1,74LS75,12,GND\n\
                     U1,74LS75,others,open\n"
                )
            }
            (false, true) => format!(
                "{head}U1,74LS74,2,d\nU1,74LS74,3,x\nU1,74LS74,5,out\nU1,74LS74,1,VCC\nU1,74LS74,4,VCC\nU1,74LS74,14,VCC\n\
                 U1,74LS74,7,GND\nU1,74LS74,others,open\n"
            ),
            (false, false) => Built { is_latch: false, clock: 0, data: 0 }.trace(),
        }
    }

    fn wire(self) -> String {
        "V1,74LS04,1,x\nV1,74LS04,2,y\nV1,74LS04,3,y\nV1,74LS04,4,out\nV1,74LS04,14,VCC\nV1,74LS04,7,GND\n".to_owned()
    }

    /// What it shows after each event, if it takes the new data or the old. An event is a change of x or of d.
    fn expected(self, events: &[bool], new: bool) -> Vec<bool> {
        let turned = self.data % 2 == 1;
        let (mut x, mut d, mut q, mut out) = (false, false, false, false);
        events
            .iter()
            .map(|&of_x| {
                if of_x {
                    x = !x;
                } else {
                    d = !d;
                }
                match (self.is_latch, of_x, x) {
                    (true, true, true) => out = !turned,
                    (true, true, false) if new => out = turned,
                    (false, true, true) => {
                        out = if new { d } else { q };
                        q = d;
                    }
                    _ => {}
                }
                out
            })
            .collect()
    }

    /// The same as Verilog with drawn delays, in ps, and a bench that prints what it shows after each event.
    fn verilog(self, events: &[bool], n: &mut Numbers) -> String {
        let mut delay = |most: usize| most * 600 * (800 + n.below(401)) / 1_000;
        let mut v = "`timescale 1ps/1ps\nmodule bench;\nreg x = 0, d = 0;\n".to_owned();
        let mut chain = |v: &mut String, from: &str, to: &str, count: usize| {
            let name = |i: usize| if i == 0 { from.to_owned() } else { format!("{to}{i}") };
            for i in 0..count {
                let _ = writeln!(v, "wire #({}, {}) {} = ~{};", delay(15), delay(15), name(i + 1), name(i));
            }
            name(count)
        };
        let clock = chain(&mut v, "x", "k", self.clock);
        if self.is_latch {
            let data = chain(&mut v, "x", "w", self.data);
            let _ = writeln!(v, "reg out = 0;\nalways @({clock} or {data}) if ({clock} === 1) out = {data};");
        } else {
            let data = chain(&mut v, "q", "w", self.data);
            let (rise, fall) = (delay(25), delay(40));
            let _ = writeln!(v, "reg s = 0, out = 0;\nwire #({rise}, {fall}) q = s;");
            let _ = writeln!(v, "always @(posedge x) s = d;\nalways @(posedge {clock}) out = {data};");
        }
        v.push_str("initial begin\n#1000000;\n");
        // what power-up left does not count
        v.push_str("out = 0;\n");
        for &of_x in events {
            let name = if of_x { "x" } else { "d" };
            let _ = writeln!(v, "{name} = ~{name}; #1000000; $display(\"%b\", out);");
        }
        v.push_str("$finish;\nend\nendmodule\n");
        v
    }
}

fn circuit(csv: &str) -> Circuit {
    let board = Board::from_csv("built.csv", csv, gluewright_parts::ttl()).unwrap_or_else(|e| panic!("{e}\n{csv}"));
    board.circuit().unwrap_or_else(|e| panic!("{e}\n{csv}"))
}

/// What the simulator shows.
fn shown(verilog: &str) -> Vec<bool> {
    let room = tempfile::tempdir().expect("a folder");
    std::fs::write(room.path().join("bench.v"), verilog).expect("written");
    let run = |program: &str, arguments: &[&str]| {
        let done = Command::new(program).args(arguments).current_dir(room.path()).output().expect("it starts");
        assert!(done.status.success(), "{}\n{verilog}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).expect("text")
    };
    run("iverilog", &["-g2001", "-o", "bench", "bench.v"]);
    let printed = run("vvp", &["-n", "bench"]);
    let bits = printed.lines().filter_map(|line| match line.trim() {
        "0" => Some(false),
        "1" => Some(true),
        _ => None,
    });
    bits.collect()
}

/// What the prover says of it: new, old, or open.
fn said(built: Built) -> Option<bool> {
    let original = circuit(&built.trace());
    let ask = |new: bool| Question::new(original.clone(), circuit(&built.settled(new))).ask();
    match (ask(true), ask(false)) {
        (Ok(proof), Err(Failure::Refuted(_))) => {
            assert!(built.clock == 0 || proof.typical.len() == 1, "{built:?}: {proof}");
            Some(true)
        }
        (Err(Failure::Refuted(_)), Ok(_)) => Some(false),
        (Err(Failure::Withheld(_)), Err(Failure::Withheld(_))) => None,
        (new, old) => panic!("{built:?}\nnew: {new:?}\nold: {old:?}"),
    }
}

fn campaign(count: usize, draws: usize) {
    if !icarus::is_there() {
        return;
    }
    let mut n = Numbers(1_971);
    let (mut decided, mut open) = ([0; 2], 0);
    for _ in 0..count {
        let built = Built::drawn(&mut n);
        let Some(new) = said(built) else {
            open += 1;
            continue;
        };
        decided[usize::from(new)] += 1;
        for _ in 0..draws {
            let mut events: Vec<bool> = (0..24).map(|_| built.is_latch || n.below(2) == 0).collect();
            // the first edge makes what is shown known
            events.insert(0, true);
            let text = built.verilog(&events, &mut n);
            assert_eq!(shown(&text), built.expected(&events, new), "{built:?}, new {new}\n{text}");
        }
    }
    println!("{count} circuits: {} take the new data, {} the old, {open} are open", decided[1], decided[0]);
    assert!(decided.iter().all(|&d| d > 0) && open > 0, "{decided:?}, {open} open");
}

#[test]
fn what_typical_delays_decide_is_what_drawn_delays_do() {
    campaign(16, 2);
}

#[test]
#[ignore = "a campaign: 200 circuits, eight draws of their delays each"]
fn two_hundred_circuits() {
    campaign(200, 8);
}

/// A package that distributes the clock through two buffers of its own: the first register's answer, 25 ns at most behind one
/// of them by the sheet (Motorola, FAST AND LS TTL DATA: 74LS74), comes long after the other. What the sheet says of its enables
/// says nothing of that.
#[test]
fn a_clock_through_two_buffers_of_one_package_is_decided() {
    let mut csv = "ref,part,pin,net\nJ1,contacts,1,clk\nJ1,contacts,2,d\nJ1,contacts,3,out\n".to_owned();
    csv +=
        "U3,74LS244,2,clk\nU3,74LS244,18,ka\nU3,74LS244,4,clk\nU3,74LS244,16,kb\nU3,74LS244,1,GND\nU3,74LS244,19,VCC\n";
    csv += "U3,74LS244,20,VCC\nU3,74LS244,10,GND\nU3,74LS244,others,open\n";
    csv += "U1,74LS74,2,d\nU1,74LS74,3,ka\nU1,74LS74,5,q\nU1,74LS74,12,q\nU1,74LS74,11,kb\nU1,74LS74,9,out\n";
    for pin in ["1", "4", "10", "13", "14"] {
        let _ = writeln!(csv, "U1,74LS74,{pin},VCC");
    }
    csv += "U1,74LS74,7,GND\nU1,74LS74,others,open\n";
    let card = circuit(&csv);
    // beside itself: what is left open is the replacement's, whose delays prove nothing
    let Err(Failure::Withheld(w)) = Question::new(card.clone(), card).ask() else { panic!("its own delays decide") };
    assert!(w.hidden.iter().all(|h| h.of == Of::Replacement), "{w}");
    assert!(w.proof.typical.len() == 1 && !w.proof.typical[0].by.new, "{w}");
}
