//! What a job says about times at the contacts: the chosen grade, a file for a spreadsheet.
use std::fmt::Write;

use gluewright_analysis::loading::Loading;
use gluewright_analysis::synchronisers::Habit;
use gluewright_analysis::timing::{Comparison, GradeChoice, Judgement, Put};

/// `timing.csv`: every time of both sides, for the grade that is chosen.
pub(super) fn times_csv(choice: &GradeChoice) -> Result<Vec<u8>, csv::Error> {
    let mut to = csv::Writer::from_writer(Vec::new());
    to.write_record(Comparison::COLUMNS)?;
    for row in choice.best().into_iter().flat_map(|g| g.comparison.table()) {
        to.write_record(row)?;
    }
    to.into_inner().map_err(|e| csv::Error::from(e.into_error()))
}

/// `runs.json`: the runs of the original that show its times; `timing.csv` says where.
pub(super) fn runs_json(choice: &GradeChoice) -> String {
    let runs: Vec<serde_json::Value> = choice
        .best()
        .map_or(&[][..], |g| &g.comparison.runs)
        .iter()
        .map(|run| {
            let levels = |all: &[Put]| -> serde_json::Map<String, serde_json::Value> {
                all.iter().map(|put| (put.at.clone(), put.high.into())).collect()
            };
            let start: serde_json::Map<String, serde_json::Value> =
                run.start.iter().map(|held| (held.part.clone(), levels(&held.bits).into())).collect();
            let events: Vec<_> = run.events.iter().map(|put| serde_json::json!([put.at, put.high])).collect();
            serde_json::json!({ "start": start, "levels": levels(&run.levels), "events": events })
        })
        .collect();
    format!("{}\n", serde_json::Value::from(runs))
}

/// A few lines for the terminal.
pub(super) fn times_summary(choice: &GradeChoice) -> String {
    let Some(grade) = choice.best() else { return String::new() };
    let mut s = String::new();
    let by = |wanted: fn(&Judgement) -> bool| grade.comparison.rows.iter().filter(|r| wanted(&r.judgement)).count();
    let head = match choice.chosen() {
        Some(grade) => {
            format!("Times by data sheets: the slowest speed grade that is safe everywhere is {}", grade.name)
        }
        None => {
            format!("Times by data sheets: no speed grade is known to be safe everywhere; nearest is {}", grade.name)
        }
    };
    let _ = writeln!(
        s,
        "{head} ({} times within the original's, {} longer, {} not known, {} on one side only; timing.csv has them all).",
        by(|j| *j == Judgement::Within),
        by(|j| matches!(j, Judgement::Over(_))),
        by(|j| *j == Judgement::Unknown),
        by(|j| *j == Judgement::OneSided)
    );
    for words in choice.exceeding_words() {
        let _ = writeln!(s, "  Grade {words}.");
    }
    if let Some(words) = choice.open_words() {
        let _ = writeln!(s, "  {words}.");
    }
    if !grade.comparison.early.is_empty() {
        let _ = writeln!(
            s,
            "  {} outputs may change earlier than they did; how early is not known here: check what the board clocks \
             with them.",
            grade.comparison.early.iter().map(|e| &e.to).collect::<std::collections::BTreeSet<_>>().len()
        );
    }
    s
}

/// A few lines about currents and sampled contacts: only what is to be looked at.
pub(super) fn currents_summary(currents: &Loading, sampled: &[Habit]) -> String {
    let mut s = format!(
        "Currents by data sheets: from the supply {} before, {} after; {} of {} contacts to look at (report.html has them \
         all).\n",
        currents.supply_before,
        currents.supply_after,
        currents.to_look_at().count(),
        currents.contacts.len()
    );
    for part in &currents.beyond {
        let _ = writeln!(s, "  {}: {}", part.part, part.what);
    }
    for habit in sampled.iter().filter(|h| h.is_worse) {
        let _ = writeln!(s, "  {habit}");
    }
    s
}
