//! Repeats a refuted proof from the power-up levels of the device, so that the counterexample can be run on a bench.
use gluewright_devices::device::Function;
use gluewright_devices::fit::Fitted;
use gluewright_devices::logic::Signal;
use gluewright_kernel::circuit::{Circuit, Start};
use gluewright_kernel::explain::Explanation;
use gluewright_kernel::prove::{Failure, Refutation};

use super::JobError;
use super::error::Of;
use super::lay::Begun;

/// Why nothing was made.
pub(super) struct NotMade {
    pub(super) error: JobError,
    /// Of a refuted source: what its device shows from its own power-up.
    pub(super) powered: Option<Powered>,
}

/// A refuted source, from the power-up of the device that would hold it.
pub(super) struct Powered {
    /// The device's type number.
    device: &'static str,
    seen: Seen,
}

/// Whether the difference can be seen from there.
enum Seen {
    /// By this run.
    Yes(Box<Refutation>),
    /// From there it is proved.
    Never,
    NotKnown,
}

impl<E: Into<JobError>> From<E> for NotMade {
    fn from(error: E) -> Self {
        NotMade { error: error.into(), powered: None }
    }
}

impl NotMade {
    /// A source that was not proved. If it is refuted from levels that its registers had to have, and fits, it is asked about
    /// from those that its device gives them.
    pub(super) fn of_source(begun: &mut Begun, error: JobError) -> Self {
        let powered = match &error {
            JobError::Proof { of: Of::Source | Of::Boundary(_), failure: Failure::Refuted(r) }
                if !r.start.is_empty() =>
            {
                Powered::of(begun)
            }
            _ => None,
        };
        NotMade { error, powered }
    }
}

impl Powered {
    fn of(begun: &mut Begun) -> Option<Self> {
        let (placed, _) = begun.placed().ok()?;
        let mut circuit = begun.replacement.clone();
        for share in &placed.shares {
            power_up(&mut circuit, &share.fitted);
        }
        let [first, ..] = placed.shares.as_slice() else { return None };
        if circuit.elements() == begun.replacement.elements() {
            return None;
        }
        let seen = match begun.question.clone().about(circuit).in_another_form().ask() {
            Err(Failure::Refuted(r)) => Seen::Yes(r),
            Ok(_) | Err(Failure::Withheld(_)) => Seen::Never,
            Err(_) => Seen::NotKnown,
        };
        Some(Powered { device: first.fitted.device, seen })
    }

    /// What is shown of a refutation: its own run, or the one from the device's power-up.
    pub(super) fn explained(&self, refutation: &Refutation) -> Explanation {
        let device = self.device;
        match &self.seen {
            Seen::Yes(from_there) => {
                let begins = format!("The run begins as a {device} with this source in it powers up.");
                from_there.explain().beginning(begins)
            }
            Seen::Never => refutation.explain().beginning(format!(
                "From what a {device} with this source in it holds at power-up no difference can be seen. This run begins with \
                 other levels in its registers, because the proof asks for every start."
            )),
            Seen::NotKnown => refutation.explain().beginning(format!(
                "Whether it can be seen from what a {device} with this source in it holds at power-up is not known: this run \
                 begins with levels in its registers that the device may not have then."
            )),
        }
    }
}

/// Gives the registers of a circuit the levels that a device which holds it has at power-up, where it promises them.
fn power_up(circuit: &mut Circuit, fitted: &Fitted) {
    for cell in fitted.cells.iter().filter(|cell| cell.function == Function::Registered) {
        let Some(shown) = fitted.power_up[usize::from(cell.inverted)] else { continue };
        for &(variable, is_complement) in &cell.holds {
            let Some(Signal::Held(id)) = fitted.logic.signals.get(variable).map(|s| s.signal) else { continue };
            if let Some(element) = circuit.element_mut(id).filter(|e| e.start == Start::Any) {
                element.start = if shown != is_complement { Start::High } else { Start::Low };
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use gluewright_devices::device;
    use gluewright_devices::fit::{Wishes, fit};
    use gluewright_devices::seat::seat_all;
    use gluewright_kernel::circuit::ElementId;
    use gluewright_kernel::circuit_of;
    use gluewright_kernel::prelude::*;
    use gluewright_kernel::prove::Question;

    /// A key of an organ: what it was, and a lamp that shows what it was before.
    #[derive(Circuit)]
    struct Key {
        #[contact(1)]
        clock: Input<Clock>,
        #[contact(2)]
        key: Input<Data>,
        #[contact(3)]
        held: Output<Data>,
        #[contact(4)]
        lamp: Output<ActiveLow>,
        was: Buried<Register>,
    }

    impl Wiring for Key {
        fn wire(&self) -> KeyWiring {
            let clock = self.clock.rises();
            KeyWiring {
                held: on(clock).load(!self.key.level()),
                lamp: on(clock).load(self.was.q().is_high()),
                was: on(clock).load(self.key.level()),
            }
        }
    }

    /// From the levels that are taken for the device's power-up, the source shows what the device does that is lifted from its
    /// fuses; with one of them the other way round it does not.
    #[test]
    fn the_registers_begin_as_those_of_the_device_do() {
        let source = circuit_of::<Key>().unwrap();
        let device = device::find("22V10").unwrap();
        let fitted = fit(&source, device, &Wishes::none()).unwrap();
        let lifted = device.lift(&device.encode(&fitted.plan).unwrap()).unwrap();
        let seated = seat_all(&[(&lifted, &fitted)], &source);
        let mut powered = source.clone();
        power_up(&mut powered, &fitted);
        assert!(powered.elements().iter().all(|e| e.start != Start::Any));
        Question::new(seated.clone(), powered.clone()).ask().unwrap_or_else(|e| panic!("{e}"));
        for k in 0..powered.elements().len() {
            let mut other = powered.clone();
            let element = other.element_mut(ElementId::at(k)).unwrap();
            element.start = if element.start == Start::Low { Start::High } else { Start::Low };
            let name = element.name.clone();
            assert!(matches!(Question::new(seated.clone(), other).ask(), Err(Failure::Refuted(_))), "{name}");
        }
    }
}
