//! What rustc says when a circuit is written wrong: one fixture for each rule, named after it, with the message that a
//! user reads beside it. To take over new messages after reading them: `TRYBUILD=overwrite cargo test --test checks compile_fail::`.

#[test]
fn each_mistake_has_its_message() {
    let cases = trybuild::TestCases::new();
    cases.compile_fail("tests/compile_fail/*.rs");
}
