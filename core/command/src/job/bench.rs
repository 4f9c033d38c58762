//! What a job says about times at the contacts: the chosen grade, a file for a spreadsheet.
use std::fmt::Write;

use gluewright_analysis::loading::{Loading, Verdict};
use gluewright_analysis::synchronisers::Habit;
use gluewright_analysis::timing::{Comparison, Early, GradeChoice, Judgement, Put, early_words};

/// More lines than this about what the host must give are left to the report.
const MOST_DEMANDS: usize = 6;

/// `timing.csv`: every time of both sides, for the grade that is chosen.
pub(super) fn times_csv(choice: &GradeChoice) -> Result<Vec<u8>, csv::Error> {
    let mut to = csv::Writer::from_writer(Vec::new());
    to.write_record(Comparison::COLUMNS)?;
    for row in choice.best().into_iter().flat_map(|g| g.comparison.table()) {
        to.write_record(row)?;
    }
    to.into_inner().map_err(|e| csv::Error::from(e.into_error()))
}

/// `loading.csv`: both sides at every contact, and what was checked there.
pub(super) fn currents_csv(currents: &Loading) -> Result<Vec<u8>, csv::Error> {
    let mut to = csv::Writer::from_writer(Vec::new());
    to.write_record(Loading::COLUMNS)?;
    for row in currents.table() {
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
            let loops = levels(&run.loops);
            serde_json::json!({ "start": start, "loops": loops, "levels": levels(&run.levels), "events": events })
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
    let given: Vec<_> = grade.comparison.rows.iter().filter(|r| r.given.is_some()).collect();
    if !given.is_empty() {
        let by = |wanted: fn(&Judgement) -> bool| given.iter().filter(|r| wanted(&r.judgement)).count();
        let least = given.iter().filter_map(|r| r.margin()).reduce(f64::min);
        let _ = writeln!(
            s,
            "  By what the host gives: {} times pass, {} fail{}.",
            by(|j| *j == Judgement::Within),
            by(|j| matches!(j, Judgement::Over(_))),
            least.map_or_else(String::new, |ns| format!("; the least margin is {ns:.1} ns"))
        );
    }
    let demands = choice.demands();
    if !demands.is_empty() {
        let _ = writeln!(s, "  The host must give or bear (if it does, say so in a file for --host):");
        for words in demands.iter().take(MOST_DEMANDS) {
            let _ = writeln!(s, "    {words}");
        }
        if let Some(more) = demands.len().checked_sub(MOST_DEMANDS).filter(|n| *n > 0) {
            let _ = writeln!(s, "    and {more} more: report.html has them all");
        }
    }
    let early = &grade.comparison.early;
    let outputs = |wanted: &dyn Fn(&Early) -> bool| {
        early.iter().filter(|e| wanted(e)).map(|e| &e.to).collect::<std::collections::BTreeSet<_>>().len()
    };
    match (
        outputs(&|e| e.least_ns.is_some() && e.hold_ns.is_none()),
        outputs(&|e| e.least_ns.is_none() && e.hold_ns.is_none()),
    ) {
        (0, 0) => {}
        (known, 0) => {
            let _ = writeln!(
                s,
                "  {known} outputs may change earlier than they did, by the sheet's shortest delays; the report says how early: \
                 check what the board clocks with them."
            );
        }
        (known, unknown) => {
            let _ = writeln!(
                s,
                "  {} outputs may change earlier than they did; how early is not in the figures used here: check what the board clocks with them.",
                known + unknown
            );
        }
    }
    for e in early.iter().filter(|e| e.hold_ns.is_some() && e.is_held() != Some(true)) {
        let _ = writeln!(s, "  {}", early_words(e));
    }
    s
}

/// A few lines about currents and sampled contacts: only what is to be looked at.
pub(super) fn currents_summary(currents: &Loading, sampled: &[Habit]) -> String {
    let mut s = format!(
        "Currents, worst cases: from the supply {} before, {} after; {} of {} contacts to look at (report.html has them \
         all).\n",
        currents.supply_before,
        currents.supply_after,
        currents.to_look_at().count(),
        currents.contacts.len()
    );
    let count = |verdict| currents.checked(verdict).count();
    let (pass, fail, open) = (count(Verdict::Pass), count(Verdict::Fail), count(Verdict::Open));
    if pass + fail + open > 0 {
        let _ = writeln!(
            s,
            "  With what hangs on the contacts: {pass} checks pass, {fail} fail, {open} not known (loading.csv has the margins)."
        );
    }
    for verdict in [Verdict::Fail, Verdict::Open] {
        for (at, check) in currents.checked(verdict) {
            let at = at.map_or_else(|| "supply".to_owned(), ToString::to_string);
            let _ = writeln!(s, "  {at}: {check}");
        }
    }
    for part in &currents.beyond {
        let _ = writeln!(s, "  {}: {}", part.part, part.what);
    }
    for habit in sampled.iter().filter(|h| h.is_worse) {
        let _ = writeln!(s, "  {habit}");
    }
    s
}
