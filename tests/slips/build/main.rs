//! Writes the examples' sources with slips in them, each as a module of its own, before the check is built.
//!
//! The slips are made of the text alone: nothing here knows circuits, or the changes that a search for a mend tries.
mod names;
mod reach;
mod slips;
mod tokens;

use std::fmt::Write;
use std::path::{Path, PathBuf};

use slips::Slip;

/// File, and type of the circuit.
const EXAMPLES: [(&str, &str); 4] = [
    ("sample_card", "SampleCard"),
    ("loom_bridge", "LoomBridge"),
    ("organ_memory", "OrganMemory"),
    ("organ_pistons", "OrganPistons"),
];

/// Slips of one kind in one example; of one example, pairs at any lines and pairs in different cones.
const WHOLE: (usize, usize, usize) = (7, 30, 125);
const SAMPLE: (usize, usize, usize) = (1, 3, 3);

fn main() {
    let sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/src");
    let out = PathBuf::from(std::env::var_os("OUT_DIR").expect("cargo gives it"));
    let (most, pairs, apart) = if std::env::var_os("CARGO_FEATURE_WHOLE").is_some() { WHOLE } else { SAMPLE };
    println!("cargo::rerun-if-changed=build");
    let (mut modules, mut table) = (String::new(), String::new());
    let mut count = 0;
    for (name, circuit) in EXAMPLES {
        let file = sources.join(format!("{name}.rs"));
        println!("cargo::rerun-if-changed={}", file.display());
        let source = std::fs::read_to_string(&file).expect("an example");
        let source = slips::circuit_alone(&source);
        std::fs::write(out.join(format!("{name}.rs")), &source).expect("a file in the folder for it");
        write_module(&mut modules, name);
        let singles = slips::all(&source);
        let mut chosen = slips::some_of_each_kind(&singles, most);
        chosen.extend(slips::pairs(&singles, &source, pairs));
        chosen.extend(slips::pairs_apart(&singles, &source, apart));
        for Slip { kind, line, words, text } in chosen.into_iter().map(|made| made.write(&source)) {
            let module = format!("slip_{count}");
            std::fs::write(out.join(format!("{module}.rs")), text).expect("a file in the folder for it");
            write_module(&mut modules, &module);
            writeln!(
                table,
                "Slip {{ example: {name:?}, kind: {kind:?}, line: {line}, words: {words:?}, build: || built::<{module}::{circuit}>(), \
                 run: |card| claims::{name}!({module}).against(card).run() }},"
            )
            .expect("text");
            count += 1;
        }
    }
    let all = format!("{modules}\n/// The sources with slips.\npub static SLIPS: [Slip; {count}] = [\n{table}];\n");
    std::fs::write(out.join("slips.rs"), all).expect("a file in the folder for it");
}

fn write_module(modules: &mut String, name: &str) {
    let include = format!("include!(concat!(env!(\"OUT_DIR\"), \"/{name}.rs\"));");
    writeln!(modules, "#[allow(warnings, clippy::all)]\npub(crate) mod {name} {{ {include} }}").expect("text");
}
