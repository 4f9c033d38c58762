//! A stand-in with a mistake, and a drawer given in code: `cargo run --bin first_try` shows a refutation and what would
//! mend it.
use std::process::ExitCode;

use gluewright::drawer::Drawer;
use gluewright_examples::first_try::SampleCard;
use gluewright_examples::sample_card::lost_card;

/// What there is to choose from.
const DRAWER: &str = "type,grade,count\n22V10,-25,1\n16V8,-15,3\n";

fn main() -> ExitCode {
    match Drawer::from_csv("drawer of the workshop", DRAWER) {
        Ok(drawer) => gluewright::job::<SampleCard>(lost_card()).having(drawer).run(),
        Err(e) => {
            eprintln!("{e}");
            ExitCode::from(2)
        }
    }
}
