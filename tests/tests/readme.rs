//! The README against what it promises of the crate.
use gluewright::cautions::{CAUTIONS, Caution};

#[test]
fn it_has_every_caution_word_for_word() {
    let readme = include_str!("../../README.md").split_whitespace().collect::<Vec<_>>().join(" ");
    let bare = readme.replace("**", "");
    for Caution { rule, why } in CAUTIONS {
        assert!(bare.contains(&format!("- {rule} {why}")), "the README lacks: - **{rule}** {why}");
    }
}
