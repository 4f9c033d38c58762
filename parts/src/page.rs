//! The list of parts as a page for people, made from the data.
use std::fmt::Write;

use gluewright::figures::OpenInput;

use crate::catalogue::{TtlType, parts, ttl};
use crate::family::Family;
use crate::sheet::{Figure, Sheet, Source};

/// The page `PARTS.md`.
pub fn page() -> String {
    let logic: Vec<&TtlType> = parts().filter(|t| t.logic().is_some()).collect();
    let proms: Vec<&TtlType> = parts().filter(|t| t.memory().is_some()).collect();
    let refused: Vec<&TtlType> = parts().filter(|t| t.logic().is_none() && t.memory().is_none()).collect();
    let mut page = String::new();
    let _ = write!(
        page,
        "# Parts\n\n\
        Made from `parts/data/` by a test, which says how to make it again; don't edit it by hand.\n\n\
        {} types with logic, {} PROMs, {} parts that are no logic. A type number is understood as it is printed on a package \
        (`SN74LS138N`, `CD4011BE`, `N82S123N`) or written in a drawing (`LS374`, `74LS244_Split`, `7404/SN7404`), and the \
        same number in another of {} families has the same logic and pins, but for the exceptions below. Figures are only those of the type that is \
        listed; for any other family they are absent. A figure with `m` is from memory, an empty place is a figure that \
        nobody gave. Delays are the largest of any path at the sheet's load, in ns; IOL is the smallest of any output and \
        ICC the largest of the package, in mA.\n\n\
        ## Logic\n\n\
        | Type | What it is | Pins | Delay | IOL | ICC |\n|---|---|---|---|---|---|\n",
        logic.len(),
        proms.len(),
        refused.len(),
        Family::ALL.len()
    );
    for sheet in logic.iter().flat_map(|t| t.sheets()) {
        row(&mut page, sheet);
    }
    page += "\n## PROMs\n\nTheir logic is their contents, from Intel HEX or a binary file: `prom` makes a part of both. The \
             numbers of other makers behind each are from memory.\n\n";
    list(&mut page, &proms);
    page += "\n## Parts that are no logic\n\nKnown by name and pins, so that a trace can be checked, and refused in a proof: leave \
             them on the card and make their outputs contacts.\n\n";
    list(&mut page, &refused);
    families(&mut page);
    page += "\n## Other things in other families\n\n";
    for (kind, exception) in
        parts().flat_map(|t| t.sheets().iter().flat_map(move |s| s.not_shared.iter().map(move |e| (t, e))))
    {
        let families: Vec<String> = exception.families.iter().map(ToString::to_string).collect();
        let what = if exception.same_pins { "refused in a proof" } else { "not found" };
        let _ = writeln!(page, "- {} in {}: {}; {what}.", kind.function(), families.join(", "), exception.why);
    }
    page += "\n## Doubts\n\nWhere the sheets don't say how a part behaves, and what its logic does there.\n\n";
    for kind in parts() {
        for sheet in kind.sheets() {
            for doubt in &sheet.doubts {
                let _ = writeln!(page, "- {}: {doubt}", sheet.type_number);
            }
            for (families, doubt) in &sheet.family_doubts {
                let families: Vec<String> = families.iter().map(ToString::to_string).collect();
                let _ = writeln!(page, "- {} in {}: {doubt}", kind.function(), families.join(", "));
            }
        }
    }
    page += "\n## Sources\n\n";
    for sheet in parts().flat_map(TtlType::sheets) {
        sources(&mut page, sheet);
    }
    page
}

fn row(page: &mut String, sheet: &Sheet) {
    let f = &sheet.figures;
    let most = |figures: &mut dyn Iterator<Item = Figure>| figures.max_by(|a, b| a.value.total_cmp(&b.value));
    let delay = most(&mut f.delays.iter().filter_map(|d| d.ns.max));
    let drive = f.outputs.values().filter_map(|o| o.low_ma).min_by(|a, b| a.value.total_cmp(&b.value));
    let _ = writeln!(
        page,
        "| {} | {} | {} | {} | {} | {} |",
        sheet.type_number,
        sheet.title,
        sheet.package,
        cell(delay),
        cell(drive),
        cell(f.supply_max())
    );
}

fn cell(figure: Option<Figure>) -> String {
    match figure {
        None => String::new(),
        Some(Figure { value, source: Source::Sheets }) => value.to_string(),
        Some(Figure { value, source: Source::Memory }) => format!("{value} m"),
    }
}

fn list(page: &mut String, types: &[&TtlType]) {
    for sheet in types.iter().flat_map(|t| t.sheets()) {
        let also = if sheet.also.is_empty() { String::new() } else { format!(" ({})", sheet.also.join(", ")) };
        let why = sheet.no_logic.map_or_else(String::new, |reason| format!(": {}", reason.why()));
        let _ = writeln!(page, "- {}{also}: {}, {} pins{why}", sheet.type_number, sheet.title, sheet.package);
        for pulse in &sheet.figures.pulses {
            let of = pulse.of.as_ref().map_or_else(String::new, |of| format!(" ({of})"));
            let valid = pulse.valid.as_ref().map_or_else(String::new, |valid| format!(", {valid}"));
            let again = if pulse.retriggerable { "; a trigger starts it anew" } else { "" };
            let recalled = pulse.factor.is_some_and(|f| f.source == Source::Memory);
            let source = if recalled { ", from memory" } else { "" };
            let _ = writeln!(page, "  - {}{of}{valid}{again}{source}", pulse.formula);
        }
    }
}

/// What the families hold to.
fn families(page: &mut String) {
    *page += "\n## Families\n\nAt 5 V; a single type may differ. Levels in V, IIL, IOL and IOH in mA, IIH in µA.\n\n\
              | Family | VIL | VIH | IIL | IIH | IOL | IOH | Supply | Open input |\n|---|---|---|---|---|---|---|---|---|\n";
    for family in Family::ALL {
        let Some(f) = ttl().family(family) else { continue };
        let open = match family.open_input() {
            OpenInput::High => "high",
            OpenInput::Low => "low",
            OpenInput::Unknown => "unknown",
        };
        let _ = writeln!(
            page,
            "| {family} | {} | {} | {} | {} | {} | {} | {} to {} | {open} |",
            cell(f.vil_max_v),
            cell(f.vih_min_v),
            cell(f.iil_ma),
            cell(f.iih_ua),
            cell(f.iol_ma),
            cell(f.ioh_ma),
            cell(f.vcc_min_v),
            cell(f.vcc_max_v)
        );
    }
}

fn sources(page: &mut String, sheet: &Sheet) {
    let made_as = sheet.made_as.as_ref().map_or(String::new(), |made_as| format!(" (figures of the {made_as})"));
    let seen = if sheet.sheets.is_empty() { "from memory".to_owned() } else { sheet.sheets.join("; ") };
    let recalled = match (sheet.pins_from_memory, sheet.function_from_memory) {
        _ if sheet.sheets.is_empty() => "",
        (true, true) => ". Pins and function are from memory",
        (true, false) => ". Pins are from memory",
        (false, true) => ". The function is from memory",
        (false, false) => "",
    };
    let notes: String = sheet.notes.iter().map(|note| format!(" {note}")).collect();
    let _ = writeln!(page, "- {}{made_as}: {seen}{recalled}.{notes}", sheet.type_number);
}
