//! One program of all checks against the outside world, so that they share the machine: `cargo test --test checks jury::` runs one room.

mod apart;
mod at_rest;
mod beside;
mod compile_fail;
mod cover_hazards;
mod cover_properties;
mod cover_published;
mod cover_small;
#[path = "drafts/main.rs"]
mod drafts;
mod every_type;
#[path = "function_tables/main.rs"]
mod function_tables;
#[path = "fuse_files/main.rs"]
mod fuse_files;
mod fuzz_readers;
mod hazards;
mod host;
mod jury;
mod liar;
mod loading;
mod machine_rules;
mod model_checker;
mod mutants;
mod no_lint_bites;
mod open_successors;
#[path = "outside_simulators/main.rs"]
mod outside_simulators;
mod power_up;
mod readme;
mod replayed_times;
mod resets;
mod rooms;
#[path = "sample_card/main.rs"]
mod sample_card;
mod sampling;
mod second_opinion;
#[path = "semantics/main.rs"]
mod semantics;
mod shown_times;
mod time_findings;
mod timed_jury;
mod timing;
mod typical_delays;
mod verdicts;
mod words_decide_nothing;
