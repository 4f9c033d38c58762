//! Figures against relations that the data sheets state between them.
use gluewright::device::{Figure, Provenance, Termination, all, find};

fn value(figure: Option<Figure>) -> f64 {
    figure.unwrap().value
}

/// Lattice "Specifications GAL22V10" p.7: external 1/(tsu+tco), internal 1/(tsu+tcf) in MHz.
#[test]
fn clock_rates_of_the_22v10_follow_from_its_figures() {
    let grades = &find("22V10").unwrap().grades;
    for (name, external, internal) in [("-4", 167.0, 200.0), ("-5", 142.8, 166.0), ("-7", 111.0, 133.0)] {
        let g = grades.iter().find(|g| g.name == name).unwrap();
        assert!((1000.0 / (value(g.setup) + value(g.clock_to_output)) - external).abs() < 1.0, "{name}");
        assert!((1000.0 / (value(g.setup) + value(g.clock_to_feedback)) - internal).abs() < 1.0, "{name}");
    }
}

/// AMD PAL16R8 Family, pub. 16492 Rev D p.2-15 and p.2-17: external rate in MHz.
#[test]
fn clock_rates_of_the_bipolar_parts_follow_from_their_figures() {
    let grades = &find("16R8").unwrap().grades;
    for (name, external) in [("-4", 125.0), ("-5", 117.0), ("-7", 74.0)] {
        let g = grades.iter().find(|g| g.name == name).unwrap();
        assert!((1000.0 / (value(g.setup) + value(g.clock_to_output)) - external).abs() < 1.0, "{name}");
    }
}

#[test]
fn grades_have_names_of_their_own_and_plausible_figures() {
    for d in all() {
        let mut names: Vec<_> = d.grades.iter().map(|g| g.name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), d.grades.len(), "{}", d.name);
        for g in &d.grades {
            for f in [g.propagation, g.clock_to_output, g.setup, g.hold, g.term_enable, g.reset_to_output]
                .into_iter()
                .flatten()
            {
                assert!((0.0..=50.0).contains(&f.value), "{} {}", d.name, g.name);
                assert!(!f.from.to_string().is_empty());
            }
        }
        for e in &d.electrical {
            assert!(
                e.iol.is_none_or(|f| f.value > 0.0) && e.ioh.is_none_or(|f| f.value < 0.0),
                "{} {}",
                d.name,
                e.parts
            );
        }
    }
    let seen = find("22V10").unwrap().grades[0].propagation.unwrap();
    assert_eq!(seen.from, Provenance::Sheet("Lattice \"Specifications GAL22V10\" p.7 (GAL22V10D)"));
    assert_eq!(find("22V10").unwrap().electrical[0].termination.0, Termination::PullUp);
}
