//! A survey as a table for a terminal.
use std::fmt;

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

use super::{Delay, Outcome, Row, Several, Survey};

/// Characters in a line of the table.
const WIDTH: u16 = 118;

impl fmt::Display for Survey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Which devices hold `{}`? (drawer: {})\n", self.circuit, self.drawer)?;
        self.verdict(f)?;
        let (fitting, others): (Vec<&Row>, Vec<&Row>) = self.rows.iter().partition(|r| r.fits());
        if fitting.is_empty() {
            writeln!(f, "No single device does.\n")?;
        } else {
            let mut table = table(["device", "macrocells", "terms", "widest equation", "pins left", "worst delay"]);
            for row in fitting {
                if let Outcome::Fits { mode, macrocells, terms, widest, pins_left, delays } = &row.outcome {
                    let widest = widest
                        .as_ref()
                        .map_or_else(String::new, |w| format!("{}: {} of {}", w.signal, w.terms, w.capacity));
                    let mode = if mode.is_empty() { String::new() } else { format!("\n{mode} mode") };
                    table.add_row([
                        called(row) + &mode,
                        macrocells.to_string(),
                        terms.to_string(),
                        widest,
                        pins_left.to_string(),
                        delays_text(delays),
                    ]);
                }
            }
            for column in [1, 2, 4] {
                if let Some(column) = table.column_mut(column) {
                    column.set_cell_alignment(CellAlignment::Right);
                }
            }
            writeln!(f, "{table}\n")?;
        }
        if !others.is_empty() {
            let mut table = table(["device", "why it doesn't fit"]);
            let mut told: Vec<(String, Vec<&Row>, &str)> = Vec::new();
            for row in others {
                if let Outcome::DoesNotFit { reason } = &row.outcome {
                    // the same reason but for the device's name is told once
                    let key = reason.replace(row.device, "");
                    match told.iter_mut().find(|(k, ..)| *k == key) {
                        Some((_, rows, _)) => rows.push(row),
                        None => told.push((key, vec![row], reason)),
                    }
                }
            }
            for (_, rows, reason) in told {
                let names: Vec<&str> =
                    rows.iter().map(|r| if r.full_type.is_empty() { r.device } else { r.full_type.as_str() }).collect();
                table.add_row([names.join(", "), reason.to_owned()]);
            }
            writeln!(f, "{table}\n")?;
        }
        Ok(())
    }
}

impl Survey {
    /// What to do, before the tables that say why.
    fn verdict(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.rows.iter().find(|r| r.fits()), &self.keep, self.several.as_slice()) {
            (Some(row), None, []) => writeln!(f, "A {0} is the first that holds it: --device {0}.", row.device)?,
            (None, None, []) => return Ok(()),
            _ => {}
        }
        if let Some(keep) = &self.keep {
            let parts = |of: &[(String, String)]| of.iter().map(|(r, p)| format!("{r} ({p})")).collect::<Vec<_>>();
            let references: Vec<&str> = keep.kept.iter().map(|(r, _)| r.as_str()).collect();
            let fewest = if keep.fewest { "" } else { " (not all smaller sets were tried)" };
            writeln!(
                f,
                "Best: leave {} in place and burn one {} for {}{fewest}: {} macrocells, {} wires to it, {} pins left. \
                 Do that with --keep {} --device {}.",
                list(&parts(&keep.kept)),
                keep.device,
                list(&parts(&keep.replaced)),
                keep.macrocells,
                keep.wires,
                keep.pins_left,
                references.join(","),
                keep.device
            )?;
            if let Some(whole) = self.rows.iter().find(|r| r.fits()) {
                writeln!(
                    f,
                    "One {} holds it all too, by its limits: its maker's fitter decides, and no fuses are proved.",
                    whole.device
                )?;
            }
        } else if let Some(least) = self.several.first() {
            writeln!(f, "Best: the split over {}.", least.who())?;
        }
        for several in &self.several {
            let Several { device, mixed, fewest, wires, between, .. } = several;
            let fewest = if *fewest { "fewer can't" } else { "fewer were not found, nor ruled out" };
            let how = if *mixed { "--split".to_owned() } else { format!("--split --device {device}") };
            writeln!(
                f,
                "{} hold it together ({fewest}): {wires} wires between them, {between} of these for signals without a \
                 contact. Burn them with {how}.",
                several.who()
            )?;
        }
        writeln!(f)
    }
}

/// `a`, `a and b`, `a, b and c`.
fn list(words: &[String]) -> String {
    match words.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, before)) => format!("{} and {last}", before.join(", ")),
        None => String::new(),
    }
}

fn table<const N: usize>(header: [&str; N]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::UTF8_HORIZONTAL_ONLY);
    table.set_content_arrangement(ContentArrangement::Dynamic).set_width(WIDTH).set_header(header);
    table
}

/// What it is, which one, and how many.
fn called(row: &Row) -> String {
    let mut text = row.device.to_owned();
    if !row.full_type.eq_ignore_ascii_case(row.device) {
        text = format!("{text}\n{} {}", row.maker, row.full_type).replace("\n ", "\n");
    } else if !row.maker.is_empty() {
        text = format!("{text}\n{}", row.maker);
    }
    text += &format!("\n{}", row.package);
    if let Some(count) = row.count {
        text += &format!(", {count} there");
    }
    if let Some(instead) = row.burn_instead {
        text += &format!("\nburn a {instead} in its place");
    }
    text
}

/// Each delay with its grade; grades with the same delay stand together.
fn delays_text(delays: &[Delay]) -> String {
    let Some(first) = delays.first() else { return "no figures for this grade".to_owned() };
    let mut lines: Vec<String> = delays
        .iter()
        .map(|d| {
            let grade = if d.grade.is_empty() { String::new() } else { format!("{}: ", d.grade) };
            match d.nanoseconds {
                None => format!("{grade}not known"),
                Some(ns) => {
                    let at_least = if d.complete { "" } else { "at least " };
                    let memory = if d.from_memory { ", from memory" } else { "" };
                    format!("{grade}{at_least}{ns} ns{memory}")
                }
            }
        })
        .collect();
    if !first.path.is_empty() {
        lines.push(format!("({})", first.path));
    }
    lines.join("\n")
}
