//! First drafts: those of the example cards stand beside this file, compile and are proved; drawn and published boards in
//! a campaign.
mod drawn;
mod loom_bridge;
mod organ_memory;
mod organ_pistons;
mod sample_card;

use gluewright::board::Board;
use gluewright::draft::{Form, NoDraft, draft};
use gluewright::prelude::*;
use gluewright_parts::ttl;

/// The trace of an example, as a source beside this file finds it.
fn trace(card: &str) -> String {
    format!("../../../examples/src/{card}.csv")
}

fn board(card: &str) -> Board {
    let path = format!("{}/../examples/src/{card}.csv", env!("CARGO_MANIFEST_DIR"));
    Board::from_csv(card, std::fs::read(path).unwrap(), ttl()).unwrap_or_else(|e| panic!("{e}"))
}

/// Without spaces and commas, which the formatter sets.
fn bare(source: &str) -> String {
    source.chars().filter(|c| !c.is_whitespace() && *c != ',').collect()
}

/// The drafts that stand here are those that the traces give: `GLUEWRIGHT_WRITE=1` writes them again.
#[test]
fn drafts_of_the_examples_are_these() {
    for card in ["sample_card", "loom_bridge", "organ_memory", "organ_pistons"] {
        let draft = draft(&board(card).circuit().unwrap(), &Form::of_trace(&trace(card))).unwrap();
        let path = format!("{}/tests/drafts/{card}.rs", env!("CARGO_MANIFEST_DIR"));
        if std::env::var_os("GLUEWRIGHT_WRITE").is_some() {
            let source = match card {
                // what its original leaves open is acknowledged below
                "loom_bridge" => draft.source.split("#[cfg(test)]").next().unwrap_or_default(),
                _ => &draft.source,
            };
            std::fs::write(&path, source).unwrap();
        }
        let stands = std::fs::read_to_string(path).unwrap();
        // the formatter moves a comment, and breaks braces around a long closure
        let code = |s: &str| s.split("#[cfg(test)]").next().map(str::to_owned).unwrap_or_default();
        let form = |s: &str| bare(&code(s)).replace(['{', '}'], "");
        assert_eq!(form(&draft.source), form(&stands), "{}", draft.source);
    }
}

/// As few stored bits as the source that a person wrote, and fitted into as few macrocells and product terms.
#[test]
fn drafts_fit_as_well_as_the_sources_that_persons_wrote() {
    use gluewright::fit::{Fitted, Wishes, fit};
    let fitted = |c: Result<gluewright::circuit::Circuit, gluewright::BuildError>, device: &str| -> Fitted {
        fit(&c.unwrap(), gluewright::device::find(device).unwrap(), &Wishes::none()).unwrap_or_else(|e| panic!("{e}"))
    };
    let both = [
        (
            "sample card",
            fitted(gluewright::circuit_of::<sample_card::SampleCard>(), "22V10"),
            fitted(gluewright::circuit_of::<gluewright_examples::sample_card::SampleCard>(), "22V10"),
        ),
        (
            "organ memory",
            fitted(gluewright::circuit_of::<organ_memory::OrganMemory>(), "22V10"),
            fitted(gluewright::circuit_of::<gluewright_examples::organ_memory::OrganMemory>(), "22V10"),
        ),
        (
            "organ pistons",
            fitted(gluewright::circuit_of::<organ_pistons::OrganPistons>(), "22V10"),
            fitted(gluewright::circuit_of::<gluewright_examples::organ_pistons::OrganPistons>(), "22V10"),
        ),
    ];
    for (card, draft, person) in both {
        println!("{card}: draft {} terms, person {} terms", draft.term_count(), person.term_count());
        assert!(draft.term_count() <= person.term_count(), "{card}");
    }
}

/// A gate with another polarity in the draft is refuted: the proof looks at it.
#[test]
fn a_draft_of_another_card_is_refuted() {
    let rows = std::fs::read_to_string(format!("{}/../examples/src/organ_pistons.csv", env!("CARGO_MANIFEST_DIR")));
    let rows =
        rows.unwrap().replace(",set_n\n", ",swap\n").replace(",rest_n\n", ",set_n\n").replace(",swap\n", ",rest_n\n");
    let contacts = rows.replace("J1,contacts,9,rest_n", "J1,contacts,9,set_n");
    let contacts = contacts.replace("J1,contacts,10,set_n", "J1,contacts,10,rest_n");
    let other = Board::from_csv("other", contacts, ttl()).unwrap_or_else(|e| panic!("{e}"));
    let answer = prove::<organ_pistons::OrganPistons>().against(&other).run();
    assert!(matches!(answer, Err(Failure::Refuted(_))), "{answer:?}");
}

/// What the original leaves open is to be looked at first; then the draft is proved.
#[test]
fn the_bridge_is_proved_once_its_open_orders_are_acknowledged() {
    let bridge = loom_bridge::traced_loom_bridge().unwrap_or_else(|e| panic!("{e}"));
    let claim = || prove::<loom_bridge::LoomBridge>();
    let Err(Failure::Withheld(w)) = claim().against(&bridge).run() else { panic!("its latches race") };
    let acknowledged = w.hidden.iter().fold(claim(), |claim, h| claim.acknowledging(&h.call));
    acknowledged.against(&bridge).run().unwrap_or_else(|e| panic!("{e}"));
}

#[test]
fn what_meets_no_board_has_no_draft() {
    let empty = gluewright::circuit::Circuit::new("nothing");
    assert_eq!(draft(&empty, &Form::of_trace("nothing.csv")), Err(NoDraft::NoContacts));
}
