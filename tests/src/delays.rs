//! A board with the delays of its parts in a simulator from outside: each part a Verilog module (IEEE 1364-2001) whose outputs
//! follow their inputs by its sheet's figures, run by Icarus Verilog.
//!
//! No specify paths: they take the shortest of all inputs that changed at once, also of those whose change could not bring
//! about the output's, and Icarus Verilog gives a later change the time of an earlier one that is still under way.
//!
//! It shares nothing with the analysis of times. An output that lets go is a change of its driver, whatever its net reads.
use std::collections::{BTreeMap, BTreeSet};
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

/// Runs side by side in one simulation: starting the simulator costs more than a run.
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
    for input in &inputs {
        let at = &input.label;
        let _ = writeln!(
            w.body,
            "real up{at}, down{at}; initial begin up{at} = -1; down{at} = -1; end\n\
             always @(p{at}) begin if (p{at} !== 1'b0) up{at} = $realtime; if (p{at} !== 1'b1) down{at} = $realtime; end"
        );
    }
    for output in &outputs {
        let drivers = circuit.nets()[output.net.index()].drivers.clone();
        let pulls = drivers.iter().all(|d| d.stage == Stage::OpenCollector);
        let y = &output.label;
        let _ = writeln!(w.body, "wire f{y};");
        let (mut turns, mut levels) = (Causes::new(circuit), Causes::new(circuit));
        for Driver { enable, level, stage, .. } in drivers {
            turns.look(enable, Brings::SAME);
            levels.look(level, Brings::SAME);
            let (enable, level) = (w.wire(enable), w.wire(level));
            let value = if stage == Stage::OpenCollector { "1'b0".to_owned() } else { level };
            let _ = writeln!(w.body, "assign f{y} = {enable} ? {value} : 1'bz;");
        }
        // what its inputs' changes at this moment may bring about, each after its time: the shortest counts
        let mut delays = String::new();
        for input in &inputs {
            let Some(figures) = chip.part.figures() else { continue };
            if !figures.delays.iter().any(|d| d.from == input.label && d.to == *y) {
                continue;
            }
            let mut ns = |change| pick(figures, &input.label, y, change);
            let (rise, fall) = (ns(Change::Rises), ns(Change::Falls));
            let [low_off, on_high, high_off, on_low] = match pulls {
                true => [rise, rise, rise, fall],
                false => [Change::LetsGoLow, Change::DrivesHigh, Change::LetsGoHigh, Change::DrivesLow].map(ns),
            };
            let (turns, levels) = (turns.of(&input.label), levels.of(&input.label));
            for (edge, word) in ["up", "down"].into_iter().enumerate() {
                let [[on, off], [up, down]] = [turns, levels].map(|brings| brings.0[edge]);
                let kinds = [
                    (up, "01", rise),
                    (down, "10", fall),
                    (off, "0z", low_off),
                    (off, "1z", high_off),
                    (on, "z1", on_high),
                    (on, "z0", on_low),
                ];
                for (_, change, ns) in kinds.into_iter().filter(|(brings, ..)| *brings) {
                    let _ = writeln!(
                        delays,
                        "if ({word}{} == $realtime && {{y{y}, f{y}}} === 2'b{change} && {ns} < d) d = {ns};",
                        input.label
                    );
                }
            }
        }
        // one change is under way: a later one takes it back. Several pins on one net change one after another in a
        // simulator: what is there when all have is what counts
        let _ = writeln!(
            w.body,
            "reg r{y}, t{y}; assign y{y} = r{y}; reg [32:0] due{y}; integer n{y};\n\
             initial begin n{y} = 0; #1 r{y} = f{y}; t{y} = f{y}; end\n\
             always @(f{y}) if ($realtime >= 1) begin : late{y} real d;\n#0 if (f{y} !== t{y}) begin\n\
             t{y} = f{y}; n{y} = n{y} + 1; d = {REST};\n{delays}\
             if (f{y} !== y{y}) due{y} <= #(d < {REST} ? d : 0) {{n{y}, f{y}}};\nend\nend\n\
             always @(due{y}) if (due{y}[32:1] == n{y}) r{y} = due{y}[0];"
        );
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
    let _ = writeln!(
        text,
        "module part{at}({});\nparameter [{bits}:0] START = 0;\n{}{}reg [{bits}:0] q; wire [{bits}:0] both; reg armed;\n\
         initial begin armed = 0; q = START; #{REST} armed = 1; end\n{}endmodule",
        ports.join(", "),
        list(ins, "input"),
        list(outs, "output"),
        w.body
    );
}

/// Which changes of something a change of a contact may bring about: for its rise and its fall, rises and falls.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Brings([[bool; 2]; 2]);

impl Brings {
    const NONE: Brings = Brings([[false; 2]; 2]);
    const SAME: Brings = Brings([[true, false], [false, true]]);
    const OPPOSITE: Brings = Brings([[false, true], [true, false]]);
    const ANY: Brings = Brings([[true; 2]; 2]);
    const RISE: Brings = Brings([[true; 2], [false; 2]]);

    /// This, of which that comes.
    fn then(self, next: Brings) -> Brings {
        let to = |from: [bool; 2], edge: usize| from[0] && next.0[0][edge] || from[1] && next.0[1][edge];
        Brings(self.0.map(|from| [to(from, 0), to(from, 1)]))
    }

    fn or(self, other: Brings) -> Brings {
        Brings([0, 1].map(|from| [0, 1].map(|to| self.0[from][to] || other.0[from][to])))
    }
}

/// The contacts of a part whose changes bring about those of an expression.
struct Causes<'c> {
    circuit: &'c Circuit,
    found: BTreeMap<Label, Brings>,
    seen: BTreeSet<(usize, Brings)>,
}

impl<'c> Causes<'c> {
    fn new(circuit: &'c Circuit) -> Self {
        Causes { circuit, found: BTreeMap::new(), seen: BTreeSet::new() }
    }

    fn of(&self, contact: &Label) -> Brings {
        self.found.get(contact).copied().unwrap_or(Brings::NONE)
    }

    fn look(&mut self, e: Expr, brings: Brings) {
        if !self.seen.insert((e.index(), brings)) {
            return;
        }
        match self.circuit.op(e) {
            Op::Constant(_) => {}
            Op::Net(n) => {
                let net = &self.circuit.nets()[n.index()];
                let contact = net.contact.map(|c| &self.circuit.contacts()[c.index()]);
                if let Some(contact) = contact.filter(|c| c.direction != Direction::Output) {
                    let known = self.found.entry(contact.label.clone()).or_insert(Brings::NONE);
                    *known = known.or(brings);
                    return;
                }
                for driver in &net.drivers {
                    self.look(driver.enable, Brings::ANY.then(brings));
                    self.look(driver.level, brings);
                }
            }
            Op::Q(x) => self.held(x.index(), brings),
            Op::QInverted(x) => self.held(x.index(), Brings::OPPOSITE.then(brings)),
            Op::Not(a) => self.look(a, Brings::OPPOSITE.then(brings)),
            Op::And(a, b) | Op::Or(a, b) => [a, b].into_iter().for_each(|x| self.look(x, brings)),
            Op::Xor(a, b) => [a, b].into_iter().for_each(|x| self.look(x, Brings::ANY.then(brings))),
            Op::Choose(w, a, b) => {
                self.look(w, Brings::ANY.then(brings));
                [a, b].into_iter().for_each(|x| self.look(x, brings));
            }
        }
    }

    /// A register or latch: what clears and presets it may show its data again when it ends.
    fn held(&mut self, number: usize, brings: Brings) {
        let e = &self.circuit.elements()[number];
        let (clear, preset) =
            if e.is_register() && (e.clear.as_constant().is_some() || e.preset.as_constant().is_some()) {
                (Brings([[false, true], [false; 2]]), Brings([[true, false], [false; 2]]))
            } else {
                (Brings::ANY, Brings::ANY)
            };
        self.look(e.clear, clear.then(brings));
        self.look(e.preset, preset.then(brings));
        self.look(e.gate(), Brings::RISE.then(brings));
        if !e.is_register() {
            self.look(e.data(), brings);
        }
    }
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
    let compiled = Command::new("iverilog").args(["-g2005", "-s", "top", "-o"]).arg(&program).arg(&source).output();
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
        if let Some(high) = high(&run.loops, &net.name) {
            let _ = writeln!(top, "initial begin force n{n} = 1'b{}; #2 release n{n}; end", u8::from(high));
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
                    // where drivers disagree, low is taken
                    let _ = writeln!(top, "assign (strong1, supply0) n{n} = {wire};");
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
