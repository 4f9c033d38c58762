//! A board with the delays of its parts in a simulator from outside: each part a Verilog module (IEEE 1364-2001) with
//! specify paths, written from its logic and its sheet's figures, run by Icarus Verilog.
//!
//! It shares nothing with the analysis of times. An output that lets go is a change of its driver, whatever its net reads.
use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::Path;
use std::process::Command;

use gluewright::board::{Board, Chip, Netlist};
use gluewright::circuit::{Circuit, Direction, Driver, Expr, Kind, Label, Op, Stage};
use gluewright::figures::{Change, OpenInput, PartFigures};
use gluewright::timing::Run;

/// How long everything may take to come to rest, in ns.
const REST: u64 = 10_000;

/// So many runs go side by side into one simulation: starting the simulator costs more than a run.
const TOGETHER: usize = 16;

/// Which of the figures of a delay is taken.
pub type Pick<'p> = &'p mut dyn FnMut(&PartFigures, &Label, &Label, Change) -> f64;

/// The longest delay that a sheet allows under every condition; nought where it gives none.
pub fn longest(figures: &PartFigures, from: &Label, to: &Label, change: Change) -> f64 {
    let all = figures.delays.iter().filter(|d| d.from == *from && d.to == *to && d.change == change);
    all.map(|d| d.most.value).min_by(f64::total_cmp).unwrap_or(0.0)
}

/// What a run did: for each event, each wire that changed, in order, with the time since the event in ns and the new value.
#[derive(Debug, Default)]
pub struct Seen {
    /// Wires: a net by its name, and what a pin puts on it by `U1-3`.
    pub events: Vec<BTreeMap<String, Vec<(f64, char)>>>,
}

/// Runs each run of a board. Times are in ns.
///
/// # Panics
/// If the simulator is not there or refuses what was written.
pub fn play(board: &Board, runs: &[Run], folder: &Path, pick: Pick<'_>) -> Vec<Seen> {
    let netlist = board.netlist();
    let mut modules = String::new();
    for (at, chip) in netlist.chips.iter().enumerate() {
        module(&mut modules, at, chip, pick);
    }
    let batches = runs.chunks(TOGETHER).enumerate();
    batches.flat_map(|(number, runs)| simulated(&netlist, &modules, runs, folder, number)).collect()
}

fn module(text: &mut String, at: usize, chip: &Chip, pick: Pick<'_>) {
    let circuit = chip.part.circuit();
    let mut w = Part { circuit, body: String::new(), done: Vec::new() };
    let outputs: Vec<_> = circuit.contacts().iter().filter(|c| c.direction != Direction::Input).collect();
    let inputs: Vec<_> = circuit.contacts().iter().filter(|c| c.direction != Direction::Output).collect();
    for (number, e) in circuit.elements().iter().enumerate() {
        let [gate, data, clear, preset] = [e.gate(), e.data(), e.clear, e.preset].map(|x| w.wire(x));
        let _ = writeln!(w.body, "wire clr{number} = {clear}, pre{number} = {preset}, gate{number} = {gate};");
        let _ = writeln!(w.body, "assign both[{number}] = clr{number} & pre{number};");
        let q = format!("q[{number}]");
        let forced = format!("if (clr{number} === 1'b1) {q} = 0; else if (pre{number} === 1'b1) {q} = 1;");
        let _ = match e.kind {
            Kind::Register { .. } => writeln!(
                w.body,
                "always @(clr{number} or pre{number}) {forced}\n\
                 always @(posedge gate{number}) if (armed && clr{number} === 1'b0 && pre{number} === 1'b0) {q} <= {data};"
            ),
            Kind::Latch { .. } => {
                writeln!(w.body, "always @(*) begin {forced} else if (gate{number} === 1'b1) {q} = {data}; end")
            }
        };
    }
    let mut paths = String::new();
    for output in &outputs {
        let drivers = circuit.nets()[output.net.index()].drivers.clone();
        let pulls = drivers.iter().all(|d| d.stage == Stage::OpenCollector);
        for (number, Driver { enable, level, stage, .. }) in drivers.into_iter().enumerate() {
            let (enable, level) = (w.wire(enable), w.wire(level));
            let value = if stage == Stage::OpenCollector { "1'b0".to_owned() } else { level.clone() };
            // several pins on one net change one after another in a simulator: what is there when all have is what counts
            let (held, now) = (format!("s{}_{number}", output.label), format!("{{{enable}, {value}}}"));
            let _ = writeln!(
                w.body,
                "reg [1:0] {held}; initial begin #1 {held} = {now}; forever @({enable} or {level}) #0 {held} = {now}; end\n\
                 assign y{} = {held}[1] ? {held}[0] : 1'bz;",
                output.label
            );
        }
        for input in &inputs {
            let Some(figures) = chip.part.figures() else { continue };
            let its = figures.delays.iter().any(|d| d.from == input.label && d.to == output.label);
            if !its {
                continue;
            }
            let mut ns = |change| pick(figures, &input.label, &output.label, change);
            let (rise, fall) = (ns(Change::Rises), ns(Change::Falls));
            let [low_off, on_high, high_off, on_low] = match pulls {
                true => [rise, rise, rise, fall],
                false => [Change::LetsGoLow, Change::DrivesHigh, Change::LetsGoHigh, Change::DrivesLow].map(ns),
            };
            let _ = writeln!(
                paths,
                "(p{} => y{}) = ({rise}, {fall}, {low_off}, {on_high}, {high_off}, {on_low});",
                input.label, output.label
            );
        }
    }
    let ports: Vec<String> = (inputs.iter().map(|c| format!("p{}", c.label)))
        .chain(outputs.iter().map(|c| format!("y{}", c.label)))
        .collect();
    let list = |all: &[String], word: &str| match all {
        [] => String::new(),
        all => format!("{word} {};\n", all.join(", ")),
    };
    let (ins, outs) = ports.split_at(inputs.len());
    let bits = circuit.elements().len().max(1) - 1;
    let specify = if paths.is_empty() { String::new() } else { format!("specify\n{paths}endspecify\n") };
    let _ = writeln!(
        text,
        "module part{at}({});\nparameter [{bits}:0] START = 0;\n{}{}reg [{bits}:0] q; wire [{bits}:0] both; reg armed;\n\
         initial begin armed = 0; q = START; #{REST} armed = 1; end\n{}{specify}endmodule",
        ports.join(", "),
        list(ins, "input"),
        list(outs, "output"),
        w.body
    );
}

struct Part<'c> {
    circuit: &'c Circuit,
    body: String,
    done: Vec<usize>,
}

impl Part<'_> {
    fn wire(&mut self, e: Expr) -> String {
        let i = e.index();
        if !self.done.contains(&i) {
            self.done.push(i);
            let text = match self.circuit.op(e) {
                Op::Constant(v) => format!("1'b{}", u8::from(v)),
                Op::Net(n) => self.net(n.index()),
                Op::Q(x) => format!("q[{0}] | both[{0}]", x.index()),
                Op::QInverted(x) => format!("~q[{0}] | both[{0}]", x.index()),
                Op::Not(a) => format!("~{}", self.wire(a)),
                Op::And(a, b) => format!("{} & {}", self.wire(a), self.wire(b)),
                Op::Or(a, b) => format!("{} | {}", self.wire(a), self.wire(b)),
                Op::Xor(a, b) => format!("{} ^ {}", self.wire(a), self.wire(b)),
                Op::Choose(w, a, b) => format!("{} ? {} : {}", self.wire(w), self.wire(a), self.wire(b)),
            };
            let _ = writeln!(self.body, "wire x{i}; assign x{i} = {text};");
        }
        format!("x{i}")
    }

    /// A contact that is read, or a net within the part.
    fn net(&mut self, n: usize) -> String {
        let net = &self.circuit.nets()[n];
        let contact = net.contact.map(|c| &self.circuit.contacts()[c.index()]);
        if let Some(contact) = contact.filter(|c| c.direction != Direction::Output) {
            return format!("p{}", contact.label);
        }
        let drivers = net.drivers.clone();
        let low: Vec<String> =
            drivers.iter().map(|d| format!("({} & ~{})", self.wire(d.enable), self.wire(d.level))).collect();
        format!("~({})", if low.is_empty() { "1'b0".to_owned() } else { low.join(" | ") })
    }
}

/// Some runs in one simulation, each a board of its own.
fn simulated(netlist: &Netlist, modules: &str, runs: &[Run], folder: &Path, number: usize) -> Vec<Seen> {
    let mut text = String::from("`timescale 1ns/1ps\n");
    text += modules;
    let watched: Vec<Vec<String>> = runs.iter().enumerate().map(|(of, run)| one(&mut text, netlist, run, of)).collect();
    let events = runs.iter().map(|run| run.events.len()).max().unwrap_or(0) as u64;
    let boards: String = (0..runs.len()).map(|of| format!("board{of} b{of}();\n")).collect();
    let _ = writeln!(
        text,
        "module top;\n{boards}initial begin $timeformat(-12, 0, \"\", 1); #{} $finish; end\nendmodule",
        (events + 2) * REST
    );
    let source = folder.join(format!("runs{number}.v"));
    let program = folder.join(format!("runs{number}"));
    fs::write(&source, text).expect("written");
    let compiled =
        Command::new("iverilog").args(["-gspecify", "-g2005", "-s", "top", "-o"]).arg(&program).arg(&source).output();
    let compiled = compiled.expect("iverilog is there");
    assert!(compiled.status.success(), "{}", String::from_utf8_lossy(&compiled.stderr));
    let ran = Command::new("vvp").arg("-n").arg(&program).output().expect("vvp is there");
    let mut seen: Vec<Seen> =
        runs.iter().map(|run| Seen { events: run.events.iter().map(|_| BTreeMap::new()).collect() }).collect();
    for line in String::from_utf8_lossy(&ran.stdout).lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        let [of, k, time, value] = words[..] else { continue };
        let (Ok(of), Ok(k), Ok(ps)) = (of.parse::<usize>(), k.parse::<usize>(), time.parse::<u64>()) else { continue };
        let name = watched.get(of).and_then(|names| names.get(k));
        let (Some(name), Some(value)) = (name, value.chars().next()) else { continue };
        // the first event comes after twice the rest
        let Some(since) = ps.checked_sub(2 * REST * 1000) else { continue };
        let (event, since) = ((since / (REST * 1000)) as usize, since % (REST * 1000));
        if let Some(event) = seen.get_mut(of).and_then(|seen| seen.events.get_mut(event)) {
            event.entry(name.clone()).or_default().push((since as f64 / 1000.0, value));
        }
    }
    seen
}

/// The board of one run as a module; returns what is watched, in order.
fn one(top: &mut String, netlist: &Netlist, run: &Run, of: usize) -> Vec<String> {
    let _ = writeln!(top, "module board{of};");
    let high = |all: &[gluewright::timing::Put], at: &str| all.iter().find(|p| p.at == at).map(|p| p.high);
    let mut watch: Vec<(String, String)> = Vec::new();
    for (n, net) in netlist.nets.iter().enumerate() {
        if net.is_rail {
            let _ = writeln!(top, "wire n{n} = 1'b{};", u8::from(net.rail_is_high));
            continue;
        }
        let _ = writeln!(top, "wire n{n};");
        let label = net.contacts.iter().map(Label::to_string).find(|l| high(&run.levels, l).is_some());
        match label {
            Some(label) => {
                let first = u8::from(high(&run.levels, &label) == Some(true));
                let _ = writeln!(top, "reg h{n}; initial h{n} = {first}; assign (pull1, pull0) n{n} = h{n};");
            }
            None if net.pulls.iter().any(|(up, _)| !up) => {
                let _ = writeln!(top, "pulldown(n{n});");
            }
            None => {
                let _ = writeln!(top, "pullup(n{n});");
            }
        }
        watch.push((format!("n{n}"), net.name.clone()));
    }
    for (at, chip) in netlist.chips.iter().enumerate() {
        let circuit = chip.part.circuit();
        let mut ports = Vec::new();
        for contact in circuit.contacts() {
            let net = chip.net(&contact.label);
            if contact.direction != Direction::Output {
                let open = u8::from(chip.part.open_inputs() != OpenInput::Low);
                ports.push(format!(".p{}({})", contact.label, net.map_or(format!("1'b{open}"), |n| format!("n{n}"))));
            }
            if contact.direction != Direction::Input {
                let wire = format!("y{at}_{}", contact.label);
                let _ = writeln!(top, "wire {wire};");
                if let Some(n) = net {
                    let _ = writeln!(top, "assign n{n} = {wire};");
                }
                watch.push((wire.clone(), format!("{}-{}", chip.reference, contact.label)));
                ports.push(format!(".y{}({wire})", contact.label));
            }
        }
        let held = run.start.iter().find(|h| h.part == chip.reference);
        let bit = |name: &str| held.and_then(|h| high(&h.bits, name)).unwrap_or(false);
        let bits: String = circuit.elements().iter().rev().map(|e| if bit(&e.name) { '1' } else { '0' }).collect();
        let count = bits.len().max(1);
        let bits = if bits.is_empty() { "0".to_owned() } else { bits };
        let _ = writeln!(top, "part{at} #({count}'b{bits}) u{at}({});", ports.join(", "));
    }
    for (k, (wire, _)) in watch.iter().enumerate() {
        let _ = writeln!(top, "always @({wire}) $display(\"{of} {k} %0t %b\", $realtime, {wire});");
    }
    let _ = writeln!(top, "initial begin\n#{REST};");
    for event in &run.events {
        let net = netlist.nets.iter().position(|net| net.contacts.iter().any(|l| l.to_string() == event.at));
        let _ = writeln!(top, "#{REST} h{} = {};", net.expect("a contact"), u8::from(event.high));
    }
    *top += "end\nendmodule\n";
    watch.into_iter().map(|(_, name)| name).collect()
}
