//! A line on the terminal that says how far a long proof has got.
use std::io::IsTerminal;
use std::sync::OnceLock;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressFinish};

use gluewright_kernel::prove::{Question, Step};

/// Shows the progress of a question's proofs if standard error is a terminal and they take more than the usual way.
pub(super) fn shown(question: Question) -> Question {
    if !std::io::stderr().is_terminal() {
        return question;
    }
    let bar: OnceLock<ProgressBar> = OnceLock::new();
    question.watched(move |step| {
        if matches!(step, Step::Matching { attempt: 1 }) && bar.get().is_none() {
            return;
        }
        let bar = bar.get_or_init(|| {
            let bar = ProgressBar::new_spinner().with_finish(ProgressFinish::AndClear);
            bar.enable_steady_tick(Duration::from_millis(100));
            bar
        });
        bar.set_message(step.to_string());
    })
}
