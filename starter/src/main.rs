//! A card of your own to begin with: it stops a telephone exchange's bell when the called party has answered.
//!
//! `cargo test` proves it against the trace in `answer_card.csv`; `cargo run` proves it, fits it and writes the files for
//! the programmer and the workbench to `out/answer_card/`. Change the contacts, the wiring and the trace to your card's.
//! What the compiler says of a slip is explained on the page `gluewright::signals::messages` of the crate's documentation.
use std::process::ExitCode;

use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;

/// The replacement: the contacts of the socket, and what stays inside.
#[derive(Circuit)]
#[circuit(vcc = 8, gnd = 5)]
#[contacts(
    pulse: 1, reset: 2, ringing: 3, hook: 4, bell: 6, answered: 7,
)]
pub struct AnswerCard {
    pulse: Input<Clock>,
    reset: Input<ActiveLow>,
    ringing: Input<ActiveHigh>,
    hook: Input<ActiveLow>,
    bell: Output<ActiveLow>,
    answered: Output<ActiveHigh>,
}

impl Wiring for AnswerCard {
    fn wire(&self) -> AnswerCardWiring {
        let answered = self.answered.asserted();
        AnswerCardWiring {
            answered: on(self.pulse.rises()).load(self.hook.asserted()).release_while(self.reset.asserted()),
            bell: assert_while(self.ringing.asserted() & !answered),
        }
    }
}

/// The lost card, as traced from its sister.
fn lost_card() -> Result<Board, TraceError> {
    Board::from_csv("answer_card.csv", include_str!("answer_card.csv"), gluewright_parts::ttl())
}

fn main() -> ExitCode {
    gluewright::job::<AnswerCard>(lost_card()).fitting("22V10").run()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stand_in_matches_the_lost_card() -> Result<(), Failure> {
        let lost_card = lost_card().expect("the trace is sound");
        // what the trace leaves open; `cargo run` names the changes that would mend a refutation too
        lost_card.findings().iter().for_each(|finding| println!("{finding}"));
        println!("{}", prove::<AnswerCard>().against(&lost_card).run()?);
        Ok(())
    }
}
