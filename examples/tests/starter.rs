//! The package that a user copies: it proves, and what is written from it is what it says.
#![allow(clippy::expect_used)] // a check stops at what it did not expect

#[path = "../../starter/src/main.rs"]
#[allow(dead_code, unreachable_pub)]
mod copied;

/// Its manifest names the crates that it needs, and nothing of this workspace.
#[test]
fn the_manifest_stands_alone() {
    let manifest = include_str!("../../starter/Cargo.toml");
    assert!(manifest.contains("[workspace]"));
    assert!(!manifest.contains("workspace = true"));
    for crate_path in ["../core", "../parts"] {
        assert!(manifest.contains(crate_path));
    }
}
