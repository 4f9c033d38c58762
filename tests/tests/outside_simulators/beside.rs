//! One sequence of events on the original and on an emitted file.
use std::fmt::Write;

use gluewright::circuit::{Circuit, Label};
use gluewright::netlist::{Direction, Netlist};
use gluewright::simulate::{Shown, Simulator};
use gluewright_tests::gates::Numbers;

use super::tools::{Language, run};

/// What a contact shows: driven to a level, or not driven.
type Seen = Option<bool>;

/// Levels at the start, one contact changed after another, and what the original shows at each port after each event.
pub struct Run {
    start: Vec<bool>,
    /// The port and its new level.
    events: Vec<(usize, bool)>,
    /// For the start and each event, for each port, unless the starts of the original differ there.
    seen: Vec<Vec<Option<Seen>>>,
    /// Events that bring both to a state that doesn't depend on power-up.
    home: usize,
}

impl Run {
    pub fn new(
        circuit: &Circuit,
        netlist: &Netlist,
        home: &[(&str, bool)],
        events: usize,
        numbers: &mut Numbers,
    ) -> Self {
        let labels: Vec<Label> = netlist.ports.iter().map(|p| p.label.clone()).collect();
        let start: Vec<bool> = labels
            .iter()
            .map(|l| home.iter().find(|(h, _)| Label::new(h) == *l).is_none_or(|(_, high)| !high))
            .collect();
        let levels: Vec<(Label, bool)> = labels.iter().cloned().zip(start.iter().copied()).collect();
        let (mut original, _) = Simulator::new(circuit, &levels, |_, _| numbers.below(2) == 1).expect("its contacts");
        // a contact that nothing reads is no port
        let port = |label: &str| labels.iter().position(|l| *l == Label::new(label));
        let mut list: Vec<(usize, bool)> =
            home.iter().filter_map(|(label, high)| Some((port(label)?, *high))).collect();
        let homing = list.len();
        // the reset comes first in every homing
        let rest = list.first().map(|&(port, high)| (port, !high));
        let mut now = start.clone();
        for &(port, high) in &list {
            now[port] = high;
        }
        let moved: Vec<usize> = (0..labels.len()).filter(|&p| netlist.ports[p].direction != Direction::Out).collect();
        let inputs: Vec<usize> =
            moved.iter().copied().filter(|&p| netlist.ports[p].direction == Direction::In).collect();
        for _ in 0..events {
            // contacts that are only inputs every second time: clocks, gates and resets are among them
            let from = if numbers.below(2) == 0 { &moved } else { &inputs };
            let mut port = from[numbers.below(from.len())];
            if rest == Some((port, now[port])) && numbers.below(6) > 0 {
                port = from[numbers.below(from.len())];
            }
            now[port] ^= true;
            list.push((port, now[port]));
        }
        let mut seen = Vec::with_capacity(list.len() + 1);
        let look = |original: &Simulator| {
            labels
                .iter()
                .map(|label| {
                    let mut lanes = (0..64).map(|lane| match original.shown(label, lane).expect("a contact") {
                        Shown::High => Some(true),
                        Shown::Low => Some(false),
                        Shown::Floating | Shown::PulledHigh | Shown::PulledLow => None,
                    });
                    let first = lanes.next()?;
                    lanes.all(|s| s == first).then_some(first)
                })
                .collect()
        };
        seen.push(look(&original));
        for &(port, high) in &list {
            let happened = original.event(&[(labels[port].clone(), high)]).expect("a contact");
            assert_eq!(happened.restless, 0);
            seen.push(look(&original));
        }
        Run { start, events: list, seen, home: homing }
    }

    /// Levels that are the same from every start, after the homing.
    pub fn known(&self) -> usize {
        self.seen.iter().skip(self.home).flatten().flatten().count()
    }

    /// All levels after the homing.
    pub fn asked(&self) -> usize {
        self.seen.iter().skip(self.home).map(Vec::len).sum()
    }
}

/// Runs a file and compares every known level after the homing.
pub fn compare(run_: &Run, netlist: &Netlist, language: Language, file: &str) -> Result<(), String> {
    let bench = match language {
        Language::Verilog => verilog(run_, netlist),
        Language::Vhdl => vhdl(run_, netlist),
    };
    let printed = run(language, file, &bench)?;
    let lines: Vec<&str> = printed.lines().filter(|l| l.starts_with("at ")).collect();
    if lines.len() != run_.seen.len() {
        return Err(format!("{} of {} lines were printed: {printed}", lines.len(), run_.seen.len()));
    }
    for (event, (line, seen)) in lines.iter().zip(&run_.seen).enumerate().skip(run_.home) {
        let words = line.split_whitespace().skip(1);
        for ((word, seen), port) in words.zip(seen).zip(&netlist.ports) {
            let Some(seen) = seen else { continue };
            // an input is driven by the bench itself
            let shown = if port.direction == Direction::In { None } else { strength(word)? };
            if shown != *seen {
                return Err(format!("event {event}: {} shows {word}, the original {seen:?}", port.signal));
            }
        }
    }
    Ok(())
}

/// Driven or not, from a strength of Verilog or a value of VHDL.
fn strength(word: &str) -> Result<Seen, String> {
    match word {
        "St0" | "0" => Ok(Some(false)),
        "St1" | "1" => Ok(Some(true)),
        "We0" | "We1" | "L" | "H" => Ok(None),
        other => Err(format!("event with a level that is none: {other}")),
    }
}

fn verilog(run: &Run, netlist: &Netlist) -> String {
    let mut s = "`timescale 1 ns / 1 ps\nmodule bench;\n".to_owned();
    for (port, start) in netlist.ports.iter().zip(&run.start) {
        let name = &port.name;
        let _ = writeln!(s, "wire {name}; reg outside_{name}; initial outside_{name} = {};", u8::from(*start));
        match port.direction {
            Direction::In => writeln!(s, "assign {name} = outside_{name};"),
            Direction::Both => writeln!(s, "assign (weak1, weak0) {name} = outside_{name};"),
            Direction::Out => Ok(()),
        }
        .expect("text");
    }
    let names: Vec<&str> = netlist.ports.iter().map(|p| p.name.as_str()).collect();
    let wires: Vec<String> = names.iter().map(|n| format!(".{n}({n})")).collect();
    let _ = writeln!(s, "{} device({});", netlist.name, wires.join(", "));
    let format = vec!["%v"; names.len()].join(" ");
    let look = format!("#50 $display(\"at {format}\", {});", names.join(", "));
    let _ = writeln!(s, "initial begin\n{look}");
    for &(port, high) in &run.events {
        let _ = writeln!(s, "outside_{} = {}; {look}", names[port], u8::from(high));
    }
    s.push_str("$finish;\nend\nendmodule\n");
    s
}

fn vhdl(run: &Run, netlist: &Netlist) -> String {
    let mut s = "library ieee; use ieee.std_logic_1164.all; use std.textio.all;\nentity bench is end bench;\narchitecture run of bench is\n".to_owned();
    for (port, start) in netlist.ports.iter().zip(&run.start) {
        let level = outside(port.direction, *start);
        let _ = writeln!(s, "signal {0} : std_logic; signal outside_{0} : std_logic := '{level}';", port.name);
    }
    s.push_str("function image(level : std_logic) return character is variable text : string(1 to 3);\nbegin text := std_logic'image(level); return text(2); end image;\nbegin\n");
    let names: Vec<&str> = netlist.ports.iter().map(|p| p.name.as_str()).collect();
    for port in netlist.ports.iter().filter(|p| p.direction != Direction::Out) {
        let _ = writeln!(s, "{0} <= outside_{0};", port.name);
    }
    let wires: Vec<String> = names.iter().map(|n| format!("{n} => {n}")).collect();
    let _ = writeln!(s, "device : entity work.{} port map ({});", netlist.name, wires.join(", "));
    s.push_str("process variable l : line;\nprocedure look is begin\nwait for 50 ns; write(l, string'(\"at\"));\n");
    for name in &names {
        let _ = writeln!(s, "write(l, ' '); write(l, image({name}));");
    }
    s.push_str("writeline(output, l);\nend look;\nbegin\nlook;\n");
    for &(port, high) in &run.events {
        let level = outside(netlist.ports[port].direction, high);
        let _ = writeln!(s, "outside_{} <= '{level}'; look;", names[port]);
    }
    s.push_str("wait;\nend process;\nend run;\n");
    s
}

/// What the board does to a contact: strongly where it alone drives, weakly where the device may.
fn outside(direction: Direction, high: bool) -> char {
    match (direction, high) {
        (Direction::In, false) => '0',
        (Direction::In, true) => '1',
        (_, false) => 'L',
        (_, true) => 'H',
    }
}
