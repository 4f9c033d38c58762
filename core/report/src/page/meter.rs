//! What to hold a contact with on the bench, and what a meter reads there: resistors and levels in words.
use gluewright_analysis::loading::{ContactLoad, Drives, Loading, OnBench};
use gluewright_analysis::timing::{At, spans};

/// The lines about levels and resistors, for contacts whose currents these are; without them, what to measure first.
pub(super) fn lines(currents: Option<&Loading>) -> Vec<String> {
    let mut lines = vec![
        "What the device drives reads at most 0.5 V when it is low and at least 2.4 V when it is high. (0.8 V and 2.0 V are what an input still takes: an output that only just meets them is a fault, and so is \
         anything between, or a blur on the scope.)"
            .to_owned(),
        "“Floats”: the contact reads low through the resistor to ground and high through the one to the supply that are \
         given here. On a board that pulls the line itself it reads what the board makes of it."
            .to_owned(),
    ];
    let Some(currents) = currents else {
        lines.push(unknown("every contact"));
        return lines;
    };
    let mut groups: Vec<(Vec<&At>, String)> = Vec::new();
    // what drives all the time is read and never held: two drivers would fight
    let held_at_times = |c: &&ContactLoad| [&c.original, &c.replacement].iter().all(|s| s.drives != Drives::Always);
    for contact in currents.contacts.iter().filter(held_at_times) {
        let words = held(contact);
        match groups.iter_mut().find(|(_, known)| *known == words) {
            Some((contacts, _)) => contacts.push(&contact.at),
            None => groups.push((vec![&contact.at], words)),
        }
    }
    lines.extend(groups.into_iter().map(|(contacts, words)| words.replacen('@', &spans(&contacts), 1)));
    lines
}

fn unknown(at: &str) -> String {
    format!(
        "At {at}: its current is not known here. Hold it through 1 kΩ and measure the voltage across the resistor: up to 0.4 V it \
         is a level; with more take a smaller one."
    )
}

/// How a contact is held, with `@` where its name goes.
fn held(contact: &ContactLoad) -> String {
    let side = &contact.replacement;
    let (Some(low), Some(_)) = (side.load_low_ma, side.load_high_ma) else { return unknown("@") };
    let OnBench { to_ground, to_supply, low_at_most, high_at_least } = side.on_bench();
    let high = match (to_supply, high_at_least) {
        (Some(ohms), Some(volts)) => format!(
            "high through {} to the supply (at least {:.1} V)",
            resistance(ohms),
            (volts * 10.0 + 1e-6).floor() / 10.0
        ),
        _ => "high by a wire to the supply, once it is certain that nothing drives it".to_owned(),
    };
    let low = match (to_ground, low_at_most) {
        (Some(ohms), Some(volts)) => format!(
            "low through {} to ground (at most {:.2} V)",
            resistance(ohms),
            (volts * 100.0 - 1e-6).ceil() / 100.0
        ),
        _ => format!(
            "low by the output of a TTL gate that sinks {low:.1} mA, or by a wire to ground once it is certain that nothing \
             drives it: no resistor that spares a driver carries this current"
        ),
    };
    format!("At @: {low}; {high}.")
}

/// In the unit that is short.
pub(crate) fn resistance(ohms: f64) -> String {
    if ohms >= 1_000.0 { format!("{} kΩ", ohms / 1_000.0) } else { format!("{ohms} Ω") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use gluewright_analysis::loading::Side;

    fn contact(name: &str, low: Option<f64>) -> ContactLoad {
        let side = Side {
            drives: Drives::Never,
            sinks_ma: None,
            sources_ma: None,
            load_low_ma: low,
            load_high_ma: low.map(|_| 0.02),
            pulls: Vec::new(),
            missing: Vec::new(),
        };
        let at = At { label: name.to_owned(), name: format!("signal{name}") };
        ContactLoad { at, original: side.clone(), replacement: side, findings: Vec::new(), checks: Vec::new() }
    }

    #[test]
    fn each_contact_is_held_by_what_its_own_current_allows() {
        let mut contacts =
            vec![contact("1", Some(0.1)), contact("2", Some(0.4)), contact("3", Some(6.4)), contact("4", None)];
        let mut driven = contact("5", Some(0.1));
        driven.replacement.drives = Drives::Always;
        contacts.push(driven);
        let currents = Loading {
            original: "a".into(),
            replacement: "b".into(),
            contacts,
            supply_before: Default::default(),
            supply_after: Default::default(),
            supply_check: None,
            beyond: Vec::new(),
            notes: Vec::new(),
        };
        let said = lines(Some(&currents)).join("\n");
        for wanted in [
            "1 signal1: low through 3.3 kΩ to ground (at most 0.33 V)",
            "2 signal2: low through 1 kΩ to ground (at most 0.40 V)",
            "3 signal3: low by the output of a TTL gate that sinks 6.4 mA",
            "4 signal4: its current is not known here",
        ] {
            assert!(said.contains(wanted), "{wanted}\n{said}");
        }
        assert!(!said.contains("signal5"), "what the device always drives is not held\n{said}");
    }
}
