//! Slips at the bench: rows of a trace with a wrong type, exchanged pins, a wrong net, or not there.
use std::collections::BTreeMap;

/// A trace with a slip in it.
pub struct TraceSlip {
    /// The kind of slip.
    pub kind: &'static str,
    /// What was done.
    pub words: String,
    /// The trace.
    pub text: String,
}

/// Types that are easily taken for each other: the same package and the same pins for inputs, outputs and supply.
const ALIKE: [&[&str]; 9] = [
    &["74LS00", "74LS03", "74LS08", "74LS32", "74LS86"],
    &["74LS02", "74LS33"],
    &["74LS04", "74LS05", "74LS14"],
    &["74LS10", "74LS11", "74LS27"],
    &["74LS125", "74LS126"],
    &["74LS373", "74LS374", "74LS533"],
    &["74LS163", "74LS161", "74LS160", "74LS162"],
    &["74LS138"],
    &["74LS109"],
];

/// Every slip of a trace with four columns; the supply is right.
pub fn slips(trace: &str) -> Vec<TraceSlip> {
    let lines: Vec<&str> = trace.lines().collect();
    let rows: Vec<Vec<&str>> = lines.iter().map(|l| l.split(',').collect()).collect();
    let is_wire =
        |row: &[&str]| row.len() == 4 && row[1].starts_with("74") && !matches!(row[3], "VCC" | "GND" | "open" | "");
    let mut all = Vec::new();
    let mut add = |kind, words: String, changed: Vec<(usize, Option<String>)>| {
        let line = |(k, l): (usize, &&str)| match changed.iter().find(|c| c.0 == k) {
            Some((_, other)) => other.clone(),
            None => Some((*l).to_owned()),
        };
        let text = lines.iter().enumerate().filter_map(line).map(|l| l + "\n").collect();
        all.push(TraceSlip { kind, words, text });
    };
    let written = |row: &[&str], net: &str| format!("{},{},{},{net}", row[0], row[1], row[2]);
    let types: BTreeMap<&str, &str> =
        rows.iter().filter(|r| r.len() == 4 && r[1].starts_with("74")).map(|r| (r[0], r[1])).collect();
    for (reference, of) in types {
        for other in ALIKE.iter().filter(|group| group.contains(&of)).flat_map(|group| *group).filter(|o| **o != of) {
            let changed = rows.iter().enumerate().filter(|(_, r)| r[0] == reference);
            let changed = changed.map(|(k, r)| (k, Some(format!("{reference},{other},{},{}", r[2], r[3])))).collect();
            add("wrong type", format!("{reference} is a {other} instead of a {of}"), changed);
        }
    }
    let nets: Vec<&str> = rows.iter().filter(|r| is_wire(r)).map(|r| r[3]).collect();
    for (k, row) in rows.iter().enumerate().filter(|(_, r)| is_wire(r)) {
        let name = format!("{} pin {}", row[0], row[2]);
        add("row missing", format!("no row for {name} `{}`", row[3]), vec![(k, None)]);
        if let Some(next) = rows.get(k + 1).filter(|n| is_wire(n) && n[0] == row[0] && n[3] != row[3]) {
            let both = vec![(k, Some(written(row, next[3]))), (k + 1, Some(written(next, row[3])))];
            add("pins exchanged", format!("{name} and {} exchanged", next[2]), both);
        }
        // a net from elsewhere on the board
        if let Some(other) = nets.get((k * 7 + 3) % nets.len()).filter(|n| **n != row[3]) {
            add(
                "wrong net",
                format!("{name} on `{other}` instead of `{}`", row[3]),
                vec![(k, Some(written(row, other)))],
            );
        }
    }
    all
}
