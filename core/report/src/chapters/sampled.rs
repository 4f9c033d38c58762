//! The chapter about contacts that are sampled without a declared relation to their clock.
use gluewright_analysis::synchronisers::Habit;

use crate::Chapter;

/// The chapter about sampled contacts.
pub fn sampled(habits: &[Habit]) -> Chapter {
    let chapter = Chapter::new("Signals that are sampled").paragraph(
        "A register that samples a signal while it changes may hesitate, for a time that no logic bounds; two registers \
         that sample the same signal may see different levels. The proof says nothing about either. Nothing ties these \
         contacts to the clock that samples them, as far as was declared; this is each side's habit.",
    );
    if habits.is_empty() {
        return chapter.paragraph("No register samples a contact.");
    }
    chapter.list(habits.iter().map(ToString::to_string))
}
