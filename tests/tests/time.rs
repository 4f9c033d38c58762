//! How seldom ordinary boards have anything to say of time.
use std::collections::BTreeMap;

use gluewright::circuit::Circuit;
use gluewright::order::Rule;
use gluewright::prove::{Failure, Question, Why};
use gluewright_tests::boards::{board, trace};
use gluewright_tests::gates::Numbers;

/// What a board has to say of time: findings by rule; nothing if the verdict is another one.
fn found(circuit: &Circuit) -> Option<BTreeMap<String, usize>> {
    let mut all = BTreeMap::new();
    match Question::new(circuit.clone(), circuit.clone()).in_time(std::time::Duration::from_secs(20)).ask() {
        Ok(_) => {}
        Err(Failure::Withheld(w)) => {
            for h in &w.hidden {
                let rule = match &h.why {
                    Why::Order { rule: Rule::Pulse(_), .. } => "a pulse".to_owned(),
                    Why::Order { rule, .. } => format!("{rule:?}"),
                    Why::Race => "Race".to_owned(),
                    Why::Constant(_) => "nothing but pulses".to_owned(),
                };
                *all.entry(rule).or_default() += 1;
            }
        }
        Err(_) => return None,
    }
    Some(all)
}

/// Printed with `--nocapture`: how many of the drawn boards have a finding, by rule.
#[test]
fn drawn_boards_do_not_drown_in_findings() {
    let count = if std::env::var_os("ALL_BOARDS").is_some() { 300 } else { 40 };
    let mut by_rule: BTreeMap<String, usize> = BTreeMap::new();
    let (mut asked, mut with, mut other) = (0, 0, 0);
    let mut seed = 0;
    while asked < count {
        seed += 1;
        let mut n = Numbers(seed);
        let Some(circuit) = board(&trace(&mut n, 6, 12)) else { continue };
        asked += 1;
        match found(&circuit) {
            None => other += 1,
            Some(rules) => {
                with += usize::from(!rules.is_empty());
                for rule in rules.into_keys() {
                    *by_rule.entry(rule).or_default() += 1;
                }
            }
        }
    }
    println!("{asked} drawn boards against themselves: {with} with a finding of time, {other} with another verdict");
    for (rule, boards) in &by_rule {
        println!("  {rule}: {boards}");
    }
    assert!(with * 2 <= asked, "{with} of {asked} drawn boards have a finding: {by_rule:?}");
}
