//! Parts that have nothing in common but inputs, each with its own proof, some by walk: the certificate holds each part's
//! relation or table, and the checker asks for all of them.
#![allow(clippy::unwrap_used)] // a check stops at what it did not expect
use gluewright::prove::{Method, ProvedPart, Question};
use gluewright_tests::boards::board;
use gluewright_tests::checked::{certificate, checked};
use serde_json::{Value, json};

/// Two flip-flops that remember that their clocks rose; a third never changes what it woke up with, and decides whether
/// that is shown. Beside them a gate that has nothing in common with them.
const EITHER: &str = "\
ref,part,pin,net
J1,contacts,1,one
J1,contacts,2,other
J1,contacts,3,first
J1,contacts,11,left
J1,contacts,12,right
J1,contacts,13,sum
U1,74LS74,14,VCC
U1,74LS74,7,GND
U1,74LS74,2,VCC
U1,74LS74,3,one
U1,74LS74,1,VCC
U1,74LS74,4,VCC
U1,74LS74,5,a
U1,74LS74,12,VCC
U1,74LS74,11,other
U1,74LS74,13,VCC
U1,74LS74,10,VCC
U1,74LS74,9,c
U2,74LS32,14,VCC
U2,74LS32,7,GND
U2,74LS32,1,a
U2,74LS32,2,c
U2,74LS32,3,any
U3,74LS86,14,VCC
U3,74LS86,7,GND
U3,74LS86,1,left
U3,74LS86,2,right
U3,74LS86,3,sum
U4,74LS74,14,VCC
U4,74LS74,7,GND
U4,74LS74,2,held
U4,74LS74,3,one
U4,74LS74,1,VCC
U4,74LS74,4,VCC
U4,74LS74,5,held
U5,74LS08,14,VCC
U5,74LS08,7,GND
U5,74LS08,1,any
U5,74LS08,2,held
U5,74LS08,3,first
";

/// What is shown tells which clock came first: every run is one of the other card's, but none of its starts has them all, so
/// that no function tells the start, and only a walk proves it.
const FIRST: &str = "\
ref,part,pin,net
J1,contacts,1,one
J1,contacts,2,other
J1,contacts,3,first
J1,contacts,11,left
J1,contacts,12,right
J1,contacts,13,sum
U1,74LS74,14,VCC
U1,74LS74,7,GND
U1,74LS74,2,one_next
U1,74LS74,3,one
U1,74LS74,1,VCC
U1,74LS74,4,VCC
U1,74LS74,5,first
U1,74LS74,6,not_first
U1,74LS74,12,other_next
U1,74LS74,11,other
U1,74LS74,13,VCC
U1,74LS74,10,VCC
U1,74LS74,9,c
U1,74LS74,8,not_c
U2,74LS32,14,VCC
U2,74LS32,7,GND
U2,74LS32,1,first
U2,74LS32,2,not_c
U2,74LS32,3,one_next
U2,74LS32,4,c
U2,74LS32,5,not_first
U2,74LS32,6,other_next
U3,74LS86,14,VCC
U3,74LS86,7,GND
U3,74LS86,1,left
U3,74LS86,2,right
U3,74LS86,3,sum
";

#[test]
fn each_part_has_its_proof_and_each_is_asked_for() {
    // a budget in which no walk of the whole fits, but one of the part
    let question = |runs| Question::new(board(EITHER).unwrap(), board(FIRST).unwrap()).walking(runs);
    let by_walk = |p: &ProvedPart| matches!(p.method, Method::Walk { .. });
    let proofs = (5..14).filter_map(|k| question(1 << k).ask().ok());
    let proof = proofs.into_iter().find(|proof| proof.parts.iter().any(by_walk)).unwrap();
    let written = certificate(&proof, EITHER, FIRST);
    let whole: Value = serde_json::from_str(&written).unwrap();
    assert_eq!(whole["proofs"].as_array().unwrap().len(), 2);
    let verdict = checked(&written, EITHER, FIRST);
    assert!(verdict.stands(), "{verdict}");
    let objects = |change: &dyn Fn(&mut Value), to: &str| {
        let mut json = whole.clone();
        change(&mut json);
        let verdict = checked(&json.to_string(), EITHER, FIRST);
        assert!(verdict.objections.iter().any(|o| o.contains(to)), "{to}: {verdict}");
    };
    let walked = |json: &Value| {
        json["proofs"]
            .as_array()
            .unwrap()
            .iter()
            .position(|p| !p["walk"].is_null() && p["walk"]["bits"][0] != json!([]))
    };
    let at = walked(&whole).unwrap();
    // a part is left out
    objects(&|json| drop(json["proofs"].as_array_mut().unwrap().remove(at)), "nothing is proved of contact 3");
    // a part without a proof
    objects(&|json| json["proofs"][at]["walk"] = Value::Null, "there is no proof");
    // the same part twice: one bit of the original can't explain two contacts by two runs
    objects(
        &|json| {
            let again = json["proofs"][at].clone();
            json["proofs"].as_array_mut().unwrap().push(again);
        },
        "two proofs hang on",
    );
    // a place of the table is missing
    objects(&|json| drop(json["proofs"][at]["walk"]["places"].as_array_mut().unwrap().pop()), "table");
    // a place whose original is in another state
    objects(
        &|json| {
            for place in json["proofs"][at]["walk"]["places"].as_array_mut().unwrap() {
                place[2] = json!(["000"]);
            }
        },
        "the table",
    );
}
