//! The chapter about currents at the contacts.
use gluewright_analysis::loading::{Loading, alike, alike_checks, row};
use gluewright_analysis::timing::{At, spans};

use crate::Chapter;

/// The chapter about currents: both sides contact by contact, what to look at, the supply, parts that do more than logic.
pub fn currents(loading: &Loading) -> Chapter {
    let mut chapter = Chapter::new("Currents at the contacts").paragraph(format!(
        "From the supply: before {} at most, after {}.",
        loading.supply_before, loading.supply_after
    ));
    if !loading.supply_before.missing.is_empty() {
        let missing = loading.supply_before.missing.join(", ");
        chapter = chapter.paragraph(format!("Not known of the original: {missing}."));
    }
    let from_memory = [&loading.supply_before, &loading.supply_after].map(|s| s.from_memory.join(", "));
    for (side, names) in ["original", "replacement"].into_iter().zip(from_memory).filter(|(_, names)| !names.is_empty())
    {
        chapter = chapter.paragraph(format!("From memory in the sum of the {side}, so look it up: {names}."));
    }
    let found = alike(loading).into_iter().map(|(contacts, finding)| format!("{}: {finding}", spans(&contacts)));
    let beyond = loading.beyond.iter().map(|part| {
        let contacts = spans(&part.contacts.iter().collect::<Vec<_>>());
        let on = if contacts.is_empty() { String::new() } else { format!(" (on {contacts})") };
        format!("{}{on}: {}", part.part, part.what)
    });
    chapter = chapter.list(found.chain(beyond));
    let checked: Vec<Vec<String>> = alike_checks(loading)
        .into_iter()
        .map(|(contacts, check)| (spans(&contacts), check))
        .chain(loading.supply_check.iter().map(|check| ("the supply".to_owned(), check)))
        .map(|(at, check)| {
            let margin = check.margin.map_or_else(String::new, |m| format!("{m:.2} {}", check.aspect.unit()));
            vec![at, check.aspect.to_string(), check.verdict.to_string(), margin, check.words.clone()]
        })
        .collect();
    if !checked.is_empty() {
        let head = ["contact", "", "", "margin", "by these figures"];
        chapter = chapter.table("With what hangs on the contacts, by host.csv", &head, checked);
    }
    let mut lines: Vec<(Vec<&At>, [Vec<String>; 2])> = Vec::new();
    for c in &loading.contacts {
        let cells = [("original", &c.original), ("device", &c.replacement)].map(|(side, of)| {
            let mut cells = vec![side.to_owned()];
            cells.extend(row(of));
            cells.push(of.pulls.join(", "));
            cells
        });
        match lines.last_mut() {
            Some((contacts, known)) if *known == cells => contacts.push(&c.at),
            _ => lines.push((vec![&c.at], cells)),
        }
    }
    let rows: Vec<Vec<String>> = lines
        .iter()
        .flat_map(|(contacts, sides)| {
            let called = [spans(contacts), String::new()];
            sides
                .iter()
                .zip(called)
                .map(|(cells, called)| std::iter::once(called).chain(cells.iter().cloned()).collect())
        })
        .collect();
    let head = ["contact", "", "drives", "sinks", "sources", "load, low", "load, high", "resistors"];
    let caption = format!("{} beside {}, in mA, worst cases", loading.original, loading.replacement);
    chapter.table(caption, &head, rows).list(loading.notes.iter().cloned())
}
