//! Single slips in each of the examples: what undoes itself must be found again, and soon.
//!
//! `cargo test --release -p gluewright-examples --test mended -- --include-ignored --nocapture` prints what each search took.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::collections::BTreeMap;
use std::time::Duration;

use gluewright::board::Board;
use gluewright::circuit::Circuit;
use gluewright::edit::{Edit, EditKind, edits_by_line};
use gluewright::prove::{Claim, Failure, Question, prove};
use gluewright_examples::{loom_bridge, organ_memory, organ_pistons, sample_card};

/// Kinds of slips that are their own mend.
const UNDONE: [EditKind; 5] = [
    EditKind::EdgeSwapped,
    EditKind::ConditionInverted,
    EditKind::LevelInverted,
    EditKind::SignalsExchanged,
    EditKind::ContactsExchanged,
];

/// The first slip of each kind that the original tells from the source, and one in the middle of the list.
fn slips(question: &Question) -> Vec<(Edit, Box<gluewright::prove::Refutation>)> {
    let replacement = question.replacement();
    let mut by_kind: BTreeMap<EditKind, Vec<Edit>> = BTreeMap::new();
    for edit in edits_by_line(replacement) {
        if UNDONE.contains(&edit.kind) {
            by_kind.entry(edit.kind).or_default().push(edit);
        }
    }
    let mut all = Vec::new();
    for edits in by_kind.into_values() {
        let refuted = |edit: &Edit| match question.clone().about(edit.apply(replacement)).ask() {
            Err(Failure::Refuted(r)) => Some((edit.clone(), r)),
            _ => None,
        };
        all.extend(edits.iter().take(4).find_map(refuted));
    }
    all
}

fn each_is_mended(name: &str, question: &Question, board: &Board) {
    let slips = slips(question);
    assert!(slips.len() >= 2, "{name}: {} slips", slips.len());
    for (slip, refutation) in slips {
        let mends = refutation.mend_with_trace(board, Some(gluewright_parts::ttl()), Duration::from_secs(300));
        println!(
            "{name}: {:.2} s, {} asked, {} open, {} found: {}",
            mends.time.as_secs_f64(),
            mends.asked,
            mends.undecided,
            mends.found.len(),
            slip.words()
        );
        assert!(!mends.cut_short && !mends.found.is_empty(), "{name}, {}: {mends}", slip.words());
        // bounded by work, not by the clock
        assert!(mends.asked <= 96, "{mends}");
    }
}

fn ask<C: gluewright::Wiring>(claim: Claim<C>, card: Board) -> (Question, Board) {
    let (_, question) = claim.question(&card).expect("it builds");
    (question, card)
}

#[test]
fn slips_of_the_sample_card() {
    let (question, card) = ask(prove::<sample_card::SampleCard>(), sample_card::lost_card().expect("sound"));
    each_is_mended("sample card", &question, &card);
}

#[test]
#[ignore = "a measurement: finding the refutations of so wide a pair takes longer than mending them"]
fn slips_of_the_loom_bridge() {
    let claim = prove::<loom_bridge::LoomBridge>().acknowledging("clash_n");
    let (question, card) = ask(claim, loom_bridge::lost_bridge().expect("sound"));
    each_is_mended("loom bridge", &question, &card);
}

#[test]
fn slips_of_the_organ() {
    let (question, card) = ask(prove::<organ_memory::OrganMemory>(), organ_memory::lost_card().expect("sound"));
    each_is_mended("organ memory", &question, &card);
    let (question, card) = ask(
        prove::<organ_pistons::OrganPistons>().assuming(organ_pistons::breaks_before_it_makes),
        organ_pistons::lost_card().expect("sound"),
    );
    each_is_mended("organ pistons", &question, &card);
}

/// A whole card on the wrong edge: every register at once.
#[test]
#[ignore = "a measurement: finding the refutation of so wide a pair takes longer than mending it"]
fn a_wrong_clock_edge_of_the_whole_card() {
    let claim = prove::<loom_bridge::LoomBridge>().acknowledging("clash_n");
    let (question, card) = ask(claim, loom_bridge::lost_bridge().expect("sound"));
    let right: &Circuit = question.replacement();
    let edits = edits_by_line(right);
    let whole = edits.iter().filter(|e| e.kind == EditKind::EdgeSwapped).max_by_key(|e| e.name.len());
    let whole = whole.expect("it has registers");
    println!("{}", whole.words());
    let Err(Failure::Refuted(r)) = question.clone().about(whole.apply(right)).ask() else { panic!("refuted") };
    let mends = r.mend_with_trace(&card, Some(gluewright_parts::ttl()), Duration::from_secs(300));
    println!("{mends}");
    assert!(mends.found.iter().any(|m| m.words.contains("`clock` counts at its other level")), "{mends}");
}
