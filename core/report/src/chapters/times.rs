//! Times as a chapter of the report: rows that say the same of several contacts stand in one line.
use gluewright_analysis::timing::{At, Compared, Edge, GradeChoice, Kind, change, early_words, judged, short, spans};

use crate::Chapter;

/// Rows of one kind whose times are the same.
struct Line<'a> {
    kind: Kind,
    from: Vec<&'a At>,
    to: Vec<&'a At>,
    /// The changes of both; nothing for a pulse, and where both changes say the same.
    edges: [Option<Edge>; 2],
    /// Original, replacement, judgement.
    cells: [String; 3],
}

/// Joins what differs in its contacts only, first over outputs, then over inputs, and last what differs in a change only.
fn lines(rows: &[Compared]) -> Vec<Line<'_>> {
    let mut lines: Vec<Line<'_>> = Vec::new();
    for row in rows {
        let cells = [short(row.original.as_ref()), short(row.replacement.as_ref()), judged(row)];
        let edges = [row.from_edge, row.to_edge];
        let same =
            |l: &&mut Line<'_>| l.kind == row.kind && l.from == [&row.from] && l.edges == edges && l.cells == cells;
        match lines.iter_mut().find(same) {
            Some(line) => line.to.push(&row.to),
            None => lines.push(Line { kind: row.kind, from: vec![&row.from], to: vec![&row.to], edges, cells }),
        }
    }
    let mut joined: Vec<Line<'_>> = Vec::new();
    for line in lines {
        // a pulse is at one contact
        let is_pulse = line.from == line.to;
        let same = |l: &&mut Line<'_>| {
            l.kind == line.kind && l.to == line.to && l.edges == line.edges && l.cells == line.cells && !is_pulse
        };
        match joined.iter_mut().find(same) {
            Some(known) => known.from.extend(line.from),
            None => joined.push(line),
        }
    }
    [1, 0].into_iter().fold(joined, either)
}

/// Joins two lines that differ in this change only.
fn either(lines: Vec<Line<'_>>, which: usize) -> Vec<Line<'_>> {
    let mut joined: Vec<Line<'_>> = Vec::new();
    for line in lines {
        let [other, own] = [1 - which, which];
        let same = |l: &&mut Line<'_>| {
            (l.kind, &l.from, &l.to, &l.cells) == (line.kind, &line.from, &line.to, &line.cells)
                && l.edges[other] == line.edges[other]
                && l.edges[own].is_some_and(|edge| line.edges[own] == Some(edge.other()))
        };
        match joined.iter_mut().find(same) {
            Some(known) => known.edges[own] = None,
            None => joined.push(line),
        }
    }
    joined
}

/// The chapter about times: the grade to take, both sides' times, what may come earlier than it did.
pub fn times(choice: &GradeChoice) -> Chapter {
    let mut chapter = Chapter::new("Times at the contacts");
    let Some(grade) = choice.best() else {
        return chapter.paragraph("No speed grade of the device is known, so nothing can be said about times.");
    };
    let c = &grade.comparison;
    chapter = chapter.paragraph(match choice.chosen() {
        Some(_) => format!(
            "The slowest speed grade that is safe at every contact is {}: take it and no faster one, because fast edges ring \
             on old wiring.",
            grade.name
        ),
        None => format!(
            "No speed grade is known to be safe at every contact. The one with the fewest objections is {}; the table is \
             about it.",
            grade.name
        ),
    });
    let demands = choice.demands();
    if !demands.is_empty() {
        chapter = chapter
            .paragraph(
                "With this grade the host must give or bear what follows; where it does, say so in host.csv, with where that is \
                 known from (the word in brackets goes into the column `what`).",
            )
            .list(demands);
    }
    let slower = choice.exceeding_words().into_iter().map(|words| format!("Grade {words}"));
    chapter = chapter.list(slower.chain(choice.open_words())).paragraph(
        "Times are in nanoseconds. The original's is what a run of it shows, whatever its registers come up as, every part as slow as its \
         data sheet allows: timing.csv names its path, runs.json the run. The replacement's is a sum over its slowest path that it never exceeds. \
         Setup, hold, recovery, period and pulses are the least that is needed. A plus sign says that a figure is not known, so \
         that the time may be longer; not known, that no run was found and none could be ruled out.",
    );
    let rows = lines(&c.rows)
        .into_iter()
        .map(|line| {
            let [original, replacement, judgement] = line.cells.clone();
            let [from, to] = line.edges;
            let said = |all: &[&At], words: Option<&str>| match words {
                Some(words) => format!("{} {words}", spans(all)),
                None => spans(all),
            };
            let from = said(&line.from, from.map(|e| change(Kind::Setup, e)));
            let to = said(&line.to, to.map(|e| change(line.kind, e)));
            vec![line.kind.to_string(), from, to, original, replacement, judgement]
        })
        .collect();
    let caption = format!("{} beside {}", c.original, c.replacement);
    chapter = chapter.table(caption, &["", "from", "to", "original", "replacement", ""], rows);
    if !c.early.is_empty() {
        let outputs = |is_known: bool| -> Vec<&At> {
            let all = c.early.iter().filter(|e| e.hold_ns.is_none() && e.least_ns.is_some() == is_known).map(|e| &e.to);
            all.collect::<std::collections::BTreeSet<_>>().into_iter().collect()
        };
        let (known, unknown) = (outputs(true), outputs(false));
        if !known.is_empty() {
            let least = c.early.iter().filter_map(|e| e.least_ns).fold(f64::INFINITY, f64::min);
            chapter = chapter.paragraph(format!(
                "These outputs may change earlier than they did, by the sheet's shortest delays no sooner than {least} ns after \
                 what changes them: {}. What the board clocks with that must need no more (`needs_after` in host.csv).",
                spans(&known)
            ));
        }
        if !unknown.is_empty() {
            chapter = chapter.paragraph(format!(
                "These outputs may change earlier than they did: {}. How early is not in the figures used here, so a hold time of what the board \
                 clocks with them can't be promised; check it there.",
                spans(&unknown)
            ));
        }
        chapter = chapter.list(c.early.iter().filter(|e| e.hold_ns.is_some()).map(early_words));
    }
    chapter.list(c.notes.iter().cloned())
}
