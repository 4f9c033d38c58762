//! The tables can tell a part from one with a single mistake in it.
use gluewright::circuit::{Circuit, Direction, Element, Expr, Kind, Stage};
use gluewright_parts::ttl;

use super::bench::logic_of;
use super::{TABLES, arithmetic, equations, sequence, table};

/// Every part with each of these mistakes in each place: a clock or enable inverted, data inverted or taken from the
/// neighbour, a clear or preset left out or both exchanged, an output inverted, never off or never on.
fn mutants(logic: &Circuit) -> Vec<(String, Circuit)> {
    let mut mutants = Vec::new();
    for (i, element) in logic.elements().iter().enumerate() {
        let neighbour = logic.elements().get(i + 1).map(|e| data(e.kind));
        let mut c = logic.clone();
        let (clock, next) = (turned(&mut c, element.kind, true), turned(&mut c, element.kind, false));
        let changed = [
            ("clock inverted", Element { kind: clock, ..element.clone() }),
            ("data inverted", Element { kind: next, ..element.clone() }),
            ("no clear", Element { clear: Expr::LOW, ..element.clone() }),
            ("no preset", Element { preset: Expr::LOW, ..element.clone() }),
            ("exchanged", Element { clear: element.preset, preset: element.clear, ..element.clone() }),
            ("neighbour", Element { kind: with_data(element.kind, neighbour), ..element.clone() }),
        ];
        for (what, wrong) in changed.into_iter().filter(|(_, wrong)| wrong != element) {
            let mut c = c.clone();
            let place = c.find_element(&element.name).and_then(|id| c.element_mut(id));
            *place.unwrap_or_else(|| panic!("no {}", element.name)) = wrong;
            mutants.push((format!("{what}: {}", element.name), c));
        }
    }
    for contact in logic.contacts().iter().filter(|c| c.direction != Direction::Input) {
        for what in ["inverted", "never off", "never on", "enable inverted"] {
            let mut c = logic.clone();
            let driver = c.nets()[contact.net.index()].drivers[0].clone();
            let (enable, level) = match (what, driver.stage) {
                ("inverted", Stage::OpenCollector) => (c.not(driver.enable), driver.level),
                ("inverted", _) => (driver.enable, c.not(driver.level)),
                ("never off", _) => (Expr::HIGH, driver.level),
                ("never on", _) => (Expr::LOW, driver.level),
                (_, _) => (c.not(driver.enable), driver.level),
            };
            if (enable, level) != (driver.enable, driver.level) {
                let net = c.net_mut(contact.net).unwrap_or_else(|| panic!("no net of {}", contact.name));
                (net.drivers[0].enable, net.drivers[0].level) = (enable, level);
                mutants.push((format!("{what}: {}", contact.name), c));
            }
        }
    }
    mutants
}

fn data(kind: Kind) -> Expr {
    match kind {
        Kind::Register { data, .. } | Kind::Latch { data, .. } => data,
    }
}

fn with_data(kind: Kind, data: Option<Expr>) -> Kind {
    match (kind, data) {
        (kind, None) => kind,
        (Kind::Register { clock, .. }, Some(data)) => Kind::Register { clock, data },
        (Kind::Latch { open, .. }, Some(data)) => Kind::Latch { open, data },
    }
}

fn turned(c: &mut Circuit, kind: Kind, moment: bool) -> Kind {
    match (kind, moment) {
        (Kind::Register { clock, data }, true) => Kind::Register { clock: c.not(clock), data },
        (Kind::Register { clock, data }, false) => Kind::Register { clock, data: c.not(data) },
        (Kind::Latch { open, data }, true) => Kind::Latch { open: c.not(open), data },
        (Kind::Latch { open, data }, false) => Kind::Latch { open, data: c.not(data) },
    }
}

/// True if some table of the part says that this logic is not it.
fn is_found_out(part: &str, logic: &Circuit) -> bool {
    let mut report = String::new();
    let holds = |parts: &[String]| parts.iter().any(|p| p == part);
    for (file, text) in TABLES {
        for table in table::read(file, text).iter().filter(|t| holds(&t.parts)) {
            table.run_on(part, logic, &mut report);
        }
        for steps in sequence::read_steps(file, text).iter().filter(|s| holds(s.parts())) {
            steps.run_on(part, logic, &mut report);
        }
        for count in sequence::read_counts(file, text).iter().filter(|c| holds(c.parts())) {
            count.run_on(part, logic, &mut report);
        }
        if !report.is_empty() {
            return true;
        }
    }
    for equations in equations::read(include_str!("tables/equations.txt")).iter().filter(|e| e.part == part) {
        equations.run_on(logic, &mut report);
    }
    !report.is_empty() || arithmetic::miscount(part, logic).is_some()
}

#[test]
#[ignore = "takes minutes: cargo test -p gluewright-tests --test checks function_tables:: -- --ignored"]
fn every_single_mistake_in_a_part_is_found_out() {
    let (mut count, mut survived) = (0, Vec::new());
    for kind in ttl().types().filter(|t| t.logic().is_some()) {
        let part = kind.type_number();
        for (what, mutant) in mutants(&logic_of(part)) {
            count += 1;
            if !is_found_out(part, &mutant) {
                survived.push(format!("{part} {what}"));
            }
        }
    }
    println!("{count} mutants");
    assert!(survived.is_empty(), "{} of {count} survived:\n{}", survived.len(), survived.join("\n"));
}
