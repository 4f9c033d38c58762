//! A netlist as Verilog, IEEE 1364-2001. What is written here is exactly what `read` reads.
use std::fmt::Write;

use super::model::{Cell, Direction, Driver, Holder, Netlist, Port, Term};

impl Netlist {
    /// The Verilog file.
    pub fn verilog(&self) -> String {
        let mut s = String::new();
        for line in self.head() {
            let _ = writeln!(s, "{}", format!("// {line}").trim_end());
        }
        let _ = writeln!(s, "`timescale 1 ns / 1 ps\n\nmodule {} (", self.name);
        let names: Vec<String> = self.ports.iter().map(|p| format!("    {}", p.name)).collect();
        let _ = writeln!(s, "{}\n);", names.join(",\n"));
        for port in &self.ports {
            let direction = match port.direction {
                Direction::In => "input",
                Direction::Out => "output",
                Direction::Both => "inout",
            };
            let _ = writeln!(s, "    {direction} {}; // {}", port.name, port.comment());
        }
        s.push('\n');
        for (name, holds) in self.inner() {
            let _ = writeln!(s, "    {} {name};", if holds { "reg" } else { "wire" });
        }
        for line in &self.lines {
            let unless = line.unless.iter().map(|clear| format!(" & ~{clear}"));
            let _ = writeln!(s, "\n    assign {} = {}{};", line.name, product(&line.term), unless.collect::<String>());
        }
        for cell in &self.cells {
            let _ = writeln!(s, "\n    // {}", cell.about);
            s.push_str(&verilog_cell(cell));
        }
        s.push_str("endmodule\n");
        s
    }

    /// What a reader of the file should know first.
    pub(super) fn head(&self) -> Vec<String> {
        let mut lines = vec![
            format!("{} in a {}, written by Gluewright from the fitted functions.", self.circuit, self.device),
            "Every level below is the level of a pin or macrocell: 1 is high. A comment beside a port names its contact"
                .into(),
            "and the device's pin. Registers change one nanosecond after the edge in a simulator; synthesis leaves that"
                .into(),
            "out.".into(),
        ];
        if self.for_fitter {
            lines.extend([
                String::new(),
                "The maker's own fitter makes the programming file from this netlist. Lock the pins as the ports say, let".into(),
                "it keep all logic as it stands (product terms that look needless keep a level steady), and compare its".into(),
                "report: pins, equations, power-up levels. It may drive pins without a signal: leave those open.".into(),
            ]);
            if self.port.is_empty() {
                lines.push("The programming port is given up: its pins carry signals.".into());
            } else {
                let pins: Vec<String> = self.port.iter().map(|p| format!("{} pin {}", p.signal, p.pin)).collect();
                lines.push(format!("Kept for the programming port: {}.", pins.join(", ")));
            }
        }
        lines
    }
}

impl Port {
    /// Contact and pin, as they stand beside a port.
    pub(super) fn comment(&self) -> String {
        let pins: Vec<String> = self.pins.iter().map(ToString::to_string).collect();
        let word = if pins.len() == 1 { "pin" } else { "pins" };
        format!("contact {}, {word} {}", self.label, pins.join(" and "))
    }
}

fn verilog_cell(cell: &Cell) -> String {
    let mut s = String::new();
    let Some(level) = &cell.level else {
        if let Some((port, Driver::While(term))) = &cell.port {
            let _ = writeln!(s, "    assign {port} = {} ? 1'b0 : 1'bz;", bracketed(term));
        } else if let Some((port, Driver::Always)) = &cell.port {
            let _ = writeln!(s, "    assign {port} = 1'b1 ? 1'b0 : 1'bz;");
        }
        return s;
    };
    match &cell.holder {
        Holder::None => {
            let _ = writeln!(s, "    assign {level} = {};", sum(&cell.sum, cell.inverted, "        "));
        }
        Holder::Register { clock, clear, preset, start, next } => {
            let _ = writeln!(s, "    assign {next} = {};", sum(&cell.sum, cell.inverted, "        "));
            if let Some(start) = start {
                let _ = writeln!(s, "    initial {level} = 1'b{};", u8::from(*start));
            }
            let at_once = [(clear, 0), (preset, 1)];
            let edges = at_once.iter().filter_map(|(l, _)| l.as_ref()).map(|l| format!(" or posedge {l}"));
            let _ = writeln!(s, "    always @(posedge {clock}{})", edges.collect::<String>());
            s.push_str("        ");
            for (line, bit) in at_once {
                if let Some(line) = line {
                    let _ = write!(s, "if ({line}) {level} <= #1 1'b{bit};\n        else ");
                }
            }
            let _ = writeln!(s, "{level} <= #1 {next};");
        }
        Holder::Latch { gate, clear, preset } => {
            let mut parts: Vec<String> = Vec::new();
            for (line, bit) in [(clear, 0), (preset, 1)] {
                if let Some(line) = line {
                    parts.push(format!("if {} {level} = 1'b{bit};", bracketed(line)));
                }
            }
            if let Some(gate) = gate {
                let sum = sum(&cell.sum, cell.inverted, "            ");
                parts.push(format!("if {} {level} = {sum};", bracketed(gate)));
            }
            // without any line it keeps what it had at power-up
            if !parts.is_empty() {
                let _ = writeln!(s, "    always @*\n        {}", parts.join("\n        else "));
            }
        }
    }
    match &cell.port {
        Some((port, Driver::Always)) => {
            let _ = writeln!(s, "    assign {port} = {level};");
        }
        Some((port, Driver::While(term))) => {
            let _ = writeln!(s, "    assign {port} = {} ? {level} : 1'bz;", bracketed(term));
        }
        None => {}
    }
    s
}

fn bracketed(term: &Term) -> String {
    format!("({})", product(term))
}

fn product(term: &Term) -> String {
    if term.is_empty() {
        return "1'b1".into();
    }
    term.iter().map(|(n, high)| format!("{}{n}", if *high { "" } else { "~" })).collect::<Vec<_>>().join(" & ")
}

/// A sum over several lines, inverted or not.
fn sum(terms: &[Term], inverted: bool, indent: &str) -> String {
    let alone = |term: &Term| if term.len() > 1 { bracketed(term) } else { product(term) };
    match (terms, inverted) {
        ([], _) => format!("1'b{}", u8::from(inverted)),
        ([one], false) => product(one),
        ([one], true) => format!("~{}", bracketed(one)),
        (terms, _) => {
            let sum = terms.iter().map(alone).collect::<Vec<_>>().join(&format!("\n{indent}| "));
            if inverted { format!("~({sum})") } else { sum }
        }
    }
}
