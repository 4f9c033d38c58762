//! A line on the terminal that says how far a long proof has got.
use std::io::IsTerminal;
use std::sync::OnceLock;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressFinish};

use gluewright_kernel::prove::Step;

/// Shows on standard error what a proof is at, if it takes more than the usual way.
pub(super) fn shown() -> impl Fn(&Step) + Send + Sync + 'static {
    let bar: OnceLock<ProgressBar> = OnceLock::new();
    move |step| {
        if matches!(step, Step::Matching { attempt: 1 }) && bar.get().is_none() {
            return;
        }
        let bar = bar.get_or_init(|| {
            let bar = ProgressBar::new_spinner().with_finish(ProgressFinish::AndClear);
            bar.enable_steady_tick(Duration::from_millis(100));
            bar
        });
        bar.set_message(step.to_string());
    }
}

/// Whether somebody watches standard error.
pub(super) fn is_watched() -> bool {
    std::io::stderr().is_terminal()
}
