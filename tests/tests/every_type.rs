//! Every type of the library beside itself: the prover's model of it against the checker's, which was written apart from it.
//! The certificate's circuits are compared function by function, so one pin that is read otherwise is an objection.
use std::collections::BTreeMap;
use std::time::Duration;

use gluewright::board::Library;
use gluewright::prove::{Failure, Question};
use gluewright_kernel::solver::Effort;
use gluewright_parts::ttl;
use gluewright_tests::boards::board;
use gluewright_tests::checked::judged;

/// A card that holds one package: every pin of it is a contact.
fn alone(kind: &str) -> Option<String> {
    let part = ttl().part(kind)?;
    let mut rows = "ref,part,pin,net\n".to_owned();
    for (label, role) in part.pins() {
        match role {
            gluewright::board::PinRole::Supply(rail) => {
                let net = if rail == gluewright::circuit::Rail::Vcc { "VCC" } else { "GND" };
                rows += &format!("U1,{kind},{label},{net}\n");
            }
            gluewright::board::PinRole::Unconnected => {}
            _ => rows += &format!("U1,{kind},{label},n{label}\nJ1,contacts,{label},n{label}\n"),
        }
    }
    Some(rows)
}

/// What came of some types: how many by outcome, and what the checker objects to.
fn compared(kinds: impl Iterator<Item = String>) -> (BTreeMap<&'static str, Vec<String>>, Vec<String>) {
    let (mut outcomes, mut objections) = (BTreeMap::<&str, Vec<String>>::new(), Vec::new());
    for kind in kinds {
        let Some(text) = alone(&kind) else { continue };
        let Some(circuit) = board(&text) else {
            outcomes.entry("no logic").or_default().push(kind);
            continue;
        };
        let effort = Effort { milliseconds: 2_000, ..Effort::default() };
        let question = Question::new(circuit.clone(), circuit).settled_only().within(effort);
        let question = question.in_time(Duration::from_secs(20)).to_depth(6).walking(1 << 12);
        let outcome = match question.ask() {
            Ok(proof) => {
                let verdict = judged(&proof, &text, &text);
                if !verdict.stands() {
                    objections.push(format!("{kind}: {}", verdict.objections.join("; ")));
                }
                "compared"
            }
            Err(Failure::Refuted(_)) => "its sheet leaves open what it does",
            Err(_) => "not proved",
        };
        outcomes.entry(outcome).or_default().push(kind);
    }
    for (outcome, kinds) in &outcomes {
        println!("{} {outcome}: {}", kinds.len(), kinds.join(" "));
    }
    (outcomes, objections)
}

fn types() -> Vec<String> {
    ttl().names()
}

#[test]
fn a_sample_of_types_is_one_to_the_checker_too() {
    let (outcomes, objections) = compared(types().into_iter().step_by(9));
    assert!(objections.is_empty(), "{objections:#?}");
    assert!(outcomes["compared"].len() > 15, "{outcomes:?}");
}

#[test]
#[ignore = "233 types: minutes"]
fn every_type_is_one_to_the_checker_too() {
    let (outcomes, objections) = compared(types().into_iter());
    assert!(objections.is_empty(), "{objections:#?}");
    assert!(outcomes["compared"].len() > 200, "{outcomes:?}");
}
