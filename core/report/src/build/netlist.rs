//! The adapter as a netlist in IPC-D-356A, which layout programs and testers of bare boards read: fixed columns, one record for
//! each pad (from memory; the standard is IPC's).
//!
//! | columns | what |
//! |---|---|
//! | 1 to 3 | `317`, a pad with a hole; `999` the end |
//! | 4 to 17 | the net; longer names stand in `P  NNAME…` lines |
//! | 21 to 26, 27, 28 to 31 | the reference, a hyphen, the pin; longer ones have another name there, and a remark says which |
//! | 33 to 38 | `D`, the hole's diameter in thousandths of a millimetre, `P` for plated |
//! | 39 to 41 | `A00`: both sides can be reached |
//! | 42 to 49, 50 to 57 | `X` and `Y` with sign and six digits, in thousandths of a millimetre |
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use super::places::Layout;

/// The longest name of a net, of a part and of a pin that the columns hold.
const NAME: usize = 14;
const REFERENCE: usize = 6;
const PIN: usize = 4;
/// A hole for a pin of a socket, in thousandths of a millimetre (common practice, no source).
const HOLE: u32 = 900;

/// The netlist's text.
pub fn netlist(circuit: &str, layout: &Layout) -> String {
    let mut s = format!(
        "C  IPC-D-356A netlist of the adapter for {}\nC  The places of the socket's contacts are nominal: a row in the order of \
         their labels.\nC  All places and lengths are nominal: measure before you cut.\nC  Packages are placed as dual in-line; of others take the pins' places from the socket's sheet.\nP  JOB   {}\nP  UNITS CUST 1\n",
        plain(circuit),
        plain(circuit)
    );
    let mut short = Vec::new();
    for net in &layout.nets {
        let name = plain(&net.name);
        if name.chars().count() <= NAME {
            short.push(name);
        } else {
            let alias = format!("NNAME{}", short.len() + 1);
            let _ = writeln!(s, "P  {alias} {name}");
            short.push(alias);
        }
    }
    let references = shortened(layout.points.iter().map(|p| plain(&p.reference)), REFERENCE, "X");
    let pins = shortened(layout.points.iter().map(|p| plain(p.pin.as_str())), PIN, "P");
    for (what, all) in [("part", &references), ("pin", &pins)] {
        for (name, alias) in all {
            let _ = writeln!(s, "C  {what} {alias} is {name}");
        }
    }
    let fits = |all: &BTreeMap<String, String>, name: String| all.get(&name).cloned().unwrap_or(name);
    for (net, name) in layout.nets.iter().zip(&short) {
        for point in net.points.iter().filter_map(|p| layout.points.get(*p)) {
            let (x, y) = point.at;
            let _ = writeln!(
                s,
                "317{name:<14}   {:<6}-{:<4} D{HOLE:04}PA00X{}Y{}",
                fits(&references, plain(&point.reference)),
                fits(&pins, plain(point.pin.as_str())),
                place(x),
                place(y)
            );
        }
    }
    s.push_str("999\n");
    s
}

/// Another name for each that is too long for its columns, which no other has.
fn shortened(names: impl Iterator<Item = String>, most: usize, stem: &str) -> BTreeMap<String, String> {
    let names: BTreeSet<String> = names.collect();
    let mut free = (1..).map(|n: usize| format!("{stem}{n}")).filter(|alias| !names.contains(alias));
    let long = names.iter().filter(|name| name.chars().count() > most);
    long.filter_map(|name| Some((name.clone(), free.next()?))).collect()
}

/// Millimetres in thousandths, with sign and six digits.
fn place(mm: f64) -> String {
    let thousandths = (mm * 1000.0).round();
    format!("{}{:06.0}", if thousandths < 0.0 { '-' } else { '+' }, thousandths.abs())
}

/// A name without what would break a record.
fn plain(name: &str) -> String {
    name.chars().map(|c| if c.is_ascii_graphic() { c } else { '_' }).collect()
}

#[cfg(test)]
mod tests {
    use super::super::places::tests::{two, wire};
    use super::*;
    use gluewright_kernel::circuit::Label;

    #[test]
    fn records_stand_in_their_columns() {
        let text = netlist("card", &two());
        let clock: Vec<&str> = text
            .lines()
            .filter(|l| l.get(..3) == Some("317") && l.get(3..17).map(str::trim_end) == Some("clock"))
            .collect();
        assert_eq!(clock.len(), 3, "{text}");
        let columns = |from: usize, to: usize| clock[1].get(from - 1..to).unwrap();
        assert_eq!([columns(21, 26), columns(27, 27), columns(28, 31)], ["D1    ", "-", "1   "]);
        assert_eq!([columns(33, 41), columns(42, 49), columns(50, 57)], ["D0900PA00", "X+000000", "Y+010160"]);
        assert!(
            text.ends_with("999\n")
                && text.contains("C  All places and lengths are nominal: measure before you cut.\n")
        );
    }

    #[test]
    fn a_long_name_is_said_beside() {
        let wires = [wire("1", "the_carry_of_the_low_half", "D1", 1)];
        let text = netlist("card", &Layout::new(&wires, |_| Some(8), |label: &Label| label.number().is_some(), &[]));
        assert!(text.contains("P  NNAME1 the_carry_of_the_low_half\n") && text.contains("317NNAME1 "), "{text}");
    }

    /// A longer name would push everything behind it out of its columns.
    #[test]
    fn a_long_reference_and_a_long_contact_keep_the_columns() {
        let wires = [wire("ROW_A12", "clock", "DECODER1", 1), wire("P1", "d", "X1", 2)];
        let text = netlist("card", &Layout::new(&wires, |_| Some(8), |_: &Label| true, &[]));
        assert!(text.contains("C  part X2 is DECODER1\n") && text.contains("C  pin P2 is ROW_A12\n"), "{text}");
        let pads: Vec<&str> = text.lines().filter(|l| l.starts_with("317")).collect();
        assert!(pads.len() == 4 && pads.iter().all(|p| p.len() == 57 && p.get(26..27) == Some("-")), "{text}");
        assert!(
            text.contains("317clock            J1    -P2   D") && text.contains("317clock            X2    -1    D"),
            "{text}"
        );
    }
}
