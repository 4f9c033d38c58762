//! A netlist as VHDL, IEEE 1076-1993.
use std::collections::BTreeSet;
use std::fmt::Write;

use super::model::{Cell, Direction, Driver, Holder, Netlist, Term};

impl Netlist {
    /// The VHDL file.
    pub fn vhdl(&self) -> String {
        let mut s = String::new();
        for line in self.head() {
            let _ = writeln!(s, "{}", format!("-- {line}").trim_end());
        }
        let _ = writeln!(s, "library ieee;\nuse ieee.std_logic_1164.all;\n\nentity {} is", self.name);
        // a list of ports must not be empty
        if !self.ports.is_empty() {
            s.push_str("    port (\n");
        }
        for (index, port) in self.ports.iter().enumerate() {
            let direction = match port.direction {
                Direction::In => "in",
                Direction::Out => "out",
                Direction::Both => "inout",
            };
            let end = if index + 1 == self.ports.len() { "" } else { ";" };
            let _ = writeln!(s, "        {} : {direction} std_logic{end} -- {}", port.name, port.comment());
        }
        if !self.ports.is_empty() {
            s.push_str("    );\n");
        }
        let _ = writeln!(s, "end {};\n\narchitecture fitted of {} is", self.name, self.name);
        let starts = |name: &str| self.cells.iter().find(|c| c.level.as_deref() == Some(name)).and_then(Cell::start);
        for (name, _) in self.inner() {
            let start = starts(name).map(|high| format!(" := '{}'", u8::from(high))).unwrap_or_default();
            let _ = writeln!(s, "    signal {name} : std_logic{start};");
        }
        s.push_str("begin\n");
        let page = Page { ports: self.ports.iter().map(|p| p.name.as_str()).collect() };
        for line in &self.lines {
            let unless = line.unless.iter().map(|clear| format!(" and not {clear}"));
            let _ = writeln!(s, "    {} <= {}{};\n", line.name, page.product(&line.term), unless.collect::<String>());
        }
        for cell in &self.cells {
            let _ = writeln!(s, "    -- {}", cell.about);
            s.push_str(&page.cell(cell));
            s.push('\n');
        }
        s.push_str("end fitted;\n");
        s
    }
}

impl Cell {
    fn start(&self) -> Option<bool> {
        match &self.holder {
            Holder::Register { start, .. } => *start,
            Holder::None | Holder::Latch { .. } => None,
        }
    }
}

/// The ports, whose weak levels are made plain where no operator does so.
struct Page<'a> {
    ports: BTreeSet<&'a str>,
}

impl Page<'_> {
    fn cell(&self, cell: &Cell) -> String {
        let mut s = String::new();
        let Some(level) = &cell.level else {
            match &cell.port {
                Some((port, Driver::While(term))) => {
                    let _ = writeln!(s, "    {port} <= '0' when {} else 'Z';", self.condition(term));
                }
                Some((port, Driver::Always)) => {
                    let _ = writeln!(s, "    {port} <= '0';");
                }
                None => {}
            }
            return s;
        };
        match &cell.holder {
            Holder::None => {
                let _ = writeln!(s, "    {level} <= {};", self.sum(&cell.sum, cell.inverted, "        "));
            }
            Holder::Register { clock, clear, preset, next, .. } => {
                let _ = writeln!(s, "    {next} <= {};", self.sum(&cell.sum, cell.inverted, "        "));
                let at_once = [(clear, 0), (preset, 1)];
                let also = at_once.iter().filter_map(|(l, _)| l.as_ref()).map(|l| format!(", {l}"));
                let _ = writeln!(s, "    process ({clock}{})\n    begin", also.collect::<String>());
                let mut word = "if";
                for (line, bit) in at_once {
                    if let Some(line) = line {
                        let _ = writeln!(
                            s,
                            "        {word} {} = '1' then\n            {level} <= '{bit}' after 1 ns;",
                            self.plain(line)
                        );
                        word = "elsif";
                    }
                }
                let _ =
                    writeln!(s, "        {word} rising_edge({clock}) then\n            {level} <= {next} after 1 ns;");
                s.push_str("        end if;\n    end process;\n");
            }
            // without any line it keeps what it had at power-up
            Holder::Latch { gate: None, clear: None, preset: None } => {}
            Holder::Latch { gate, clear, preset } => {
                let lines = [clear, preset, gate].into_iter().flatten().flatten();
                let read: BTreeSet<&str> = lines.chain(cell.sum.iter().flatten()).map(|(n, _)| n.as_str()).collect();
                let read: Vec<&str> = read.into_iter().collect();
                let _ = writeln!(s, "    process ({})\n    begin", read.join(", "));
                let mut word = "if";
                for (line, bit) in [(clear, 0), (preset, 1)] {
                    if let Some(line) = line {
                        let _ = writeln!(
                            s,
                            "        {word} {} then\n            {level} <= '{bit}';",
                            self.condition(line)
                        );
                        word = "elsif";
                    }
                }
                if let Some(gate) = gate {
                    let sum = self.sum(&cell.sum, cell.inverted, "                ");
                    let _ = writeln!(s, "        {word} {} then\n            {level} <= {sum};", self.condition(gate));
                }
                s.push_str("        end if;\n    end process;\n");
            }
        }
        match &cell.port {
            Some((port, Driver::Always)) => {
                let _ = writeln!(s, "    {port} <= {level};");
            }
            Some((port, Driver::While(term))) => {
                let _ = writeln!(s, "    {port} <= {level} when {} else 'Z';", self.condition(term));
            }
            None => {}
        }
        s
    }

    fn condition(&self, term: &Term) -> String {
        if term.is_empty() { "true".into() } else { format!("({}) = '1'", self.product(term)) }
    }

    fn product(&self, term: &Term) -> String {
        if term.is_empty() {
            return "'1'".into();
        }
        if let [(name, true)] = term.as_slice() {
            return self.plain(name);
        }
        term.iter().map(|(n, high)| format!("{}{n}", if *high { "" } else { "not " })).collect::<Vec<_>>().join(" and ")
    }

    /// A sum over several lines, inverted or not.
    fn sum(&self, terms: &[Term], inverted: bool, indent: &str) -> String {
        match terms {
            [] => return format!("'{}'", u8::from(inverted)),
            [one] if one.is_empty() => return format!("'{}'", u8::from(!inverted)),
            _ => {}
        }
        let alone = |term: &Term| if term.len() > 1 { format!("({})", self.product(term)) } else { self.product(term) };
        match (terms, inverted) {
            ([one], false) => self.product(one),
            ([one], true) => format!("not ({})", self.product(one)),
            (terms, _) => {
                let sum = terms.iter().map(alone).collect::<Vec<_>>().join(&format!("\n{indent}or "));
                if inverted { format!("not ({sum})") } else { sum }
            }
        }
    }

    fn plain(&self, name: &str) -> String {
        if self.ports.contains(name) { format!("to_x01({name})") } else { name.to_owned() }
    }
}
