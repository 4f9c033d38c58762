//! What a user's own code does while a circuit is described may panic, an index out of range above all: it becomes a mistake
//! with its place.
use std::any::Any;
use std::cell::RefCell;
use std::panic::{self, AssertUnwindSafe};
use std::sync::Once;

use super::error::Mistake;
use crate::circuit::Origin;

thread_local! {
    /// Where the last panic of this thread stood, for each description that is under way.
    static WATCHING: RefCell<Vec<Option<Origin>>> = const { RefCell::new(Vec::new()) };
}

/// Runs a user's description.
pub(super) fn caught<T>(describe: impl FnOnce() -> T) -> Result<T, Mistake> {
    install();
    let _ = WATCHING.try_with(|w| w.borrow_mut().push(None));
    let came = panic::catch_unwind(AssertUnwindSafe(describe));
    let at = WATCHING.try_with(|w| w.borrow_mut().pop()).ok().flatten().flatten();
    came.map_err(|said| Mistake::Stopped { said: text(&*said), origin: at.unwrap_or(Origin::Nowhere) })
}

fn text(said: &(dyn Any + Send)) -> String {
    let text = said.downcast_ref::<&str>().map(|text| (*text).to_owned());
    text.or_else(|| said.downcast_ref::<String>().cloned()).unwrap_or_else(|| "it panicked".to_owned())
}

/// The place of a panic is told to the process's hook and nobody else: ours keeps it while a description is under way on
/// the thread, and leaves all other panics to the hook that was there.
fn install() {
    static ONCE: Once = Once::new();
    if std::thread::panicking() {
        return;
    }
    ONCE.call_once(|| {
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            let kept = WATCHING.try_with(|w| {
                let mut w = w.try_borrow_mut().ok()?;
                let last = w.last_mut()?;
                *last = info.location().map(|at| Origin::line(&at.file().into(), at.line()));
                Some(())
            });
            if kept.ok().flatten().is_none() {
                before(info);
            }
        }));
    });
}

#[cfg(test)]
mod tests {
    use crate::prelude::*;
    use crate::signals::{Mistake, build};

    /// Shifts, and reaches over its end.
    #[derive(Circuit)]
    struct Shifter {
        #[contact(1)]
        clock: Input<Clock>,
        #[contact(2..=5)]
        q: [Output<Data>; 4],
    }

    impl Wiring for Shifter {
        fn wire(&self) -> ShifterWiring {
            ShifterWiring { q: each(|i| on(self.clock.rises()).load(self.q[i + 1].level())) }
        }
    }

    #[test]
    fn an_index_out_of_range_is_a_mistake_with_its_place() {
        for _ in 0..2 {
            let refused = build::<Shifter>().expect_err("q[4] isn't there");
            let [Mistake::Stopped { origin: Origin::Line { file, line }, .. }] = refused.mistakes() else {
                panic!("{refused}")
            };
            assert!(file.ends_with("stopped.rs"), "{file}");
            let written = include_str!("stopped.rs").lines().nth(*line as usize - 1).expect("a line");
            assert!(written.ends_with("load(self.q[i + 1].level())) }"), "{written}");
            let said = refused.to_string();
            assert!(said.ends_with("the index is 4"), "{said}");
        }
    }

    #[test]
    fn other_panics_go_where_they_went() {
        let _ = build::<Shifter>();
        let other = std::panic::catch_unwind(|| assert!(std::hint::black_box(false), "not a circuit"));
        assert!(other.is_err());
    }

    use crate::circuit::Origin;
}
