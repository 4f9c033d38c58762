//! How a pin that carries no signal is held: decided here once, for what the report says and for what the lists have.
use super::rail_name;
use crate::page::resistance;
use gluewright_devices::device::{Device, OpenPin, PortRest, Termination};
use gluewright_kernel::circuit::Rail;

/// What a pin without a signal gets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rest {
    /// Nothing.
    Open,
    /// A wire.
    Wire(Rail),
    /// A resistor.
    Through {
        /// How large, in ohms.
        ohms: f64,
        /// Where its other end is.
        to: Rail,
        /// It is left out where the type of the part has a pull-up or a keeper; which it is, nobody said.
        unless_held: bool,
    },
}

/// At the programming port, in ohms (common practice, no source).
const PORT: f64 = 10_000.0;

impl Rest {
    /// At an input (`dedicated`) or a macrocell's pin without a signal.
    pub(super) fn spare(device: &Device, dedicated: bool) -> Rest {
        let known = device.part.as_ref().zip(device.electrical.first()).filter(|(part, _)| part.has_limits);
        match known {
            Some((_, its)) if its.termination.0 == Termination::PullUp => Rest::Open,
            _ if dedicated => Rest::Wire(Rail::Gnd),
            // the maker's fitter may drive it
            _ if device.blocks.is_some() => Rest::Open,
            _ => match device.open_pin() {
                OpenPin { all_hold: true, .. } => Rest::Open,
                OpenPin { ohms, some_hold, .. } => Rest::Through { ohms, to: Rail::Gnd, unless_held: some_hold },
            },
        }
    }

    /// At a pin of the programming port, once the plug is gone.
    pub(super) fn port(rest: PortRest) -> Rest {
        let to = match rest {
            PortRest::High => Rail::Vcc,
            PortRest::Low => Rail::Gnd,
            PortRest::Output => return Rest::Open,
        };
        Rest::Through { ohms: PORT, to, unless_held: false }
    }

    /// In words: `3.3 kΩ to GND`.
    pub fn words(self) -> String {
        match self {
            Rest::Open => "leave open".to_owned(),
            Rest::Wire(rail) => format!("wire to {}", rail_name(rail)),
            Rest::Through { ohms, to, .. } => format!("{} to {}", resistance(ohms), rail_name(to)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::advice;
    use super::*;
    use gluewright_devices::device;

    /// What the words ask for is what the lists have.
    #[test]
    fn the_advice_names_the_resistor_that_is_listed() {
        for device in device::all().iter().filter(|d| d.blocks.is_none()) {
            let said = advice(device, false, true).join(" ");
            match Rest::spare(device, false) {
                Rest::Through { ohms, unless_held, .. } => {
                    assert!(said.contains(&format!("ground through {}", resistance(ohms))), "{said}");
                    assert_eq!(unless_held, said.contains("open where the type has a pull-up or a keeper"), "{said}");
                }
                rest => assert!(rest == Rest::Open && said.contains("Leave it open"), "{rest:?}: {said}"),
            }
            assert_eq!(Rest::spare(device, true), Rest::Wire(Rail::Gnd), "nobody said which part it is");
        }
    }
}
