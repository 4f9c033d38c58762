//! The place that a circuit is fitted into: one mode of one device.
use crate::device::{
    Configuration, Device, Enable, EnableSource, Feedback, Function, Macrocell, Mode, PinNumber, Role, Source,
};

/// A mode of a device.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place<'a> {
    pub(super) device: &'a Device,
    pub(super) index: usize,
    pub(super) mode: &'a Mode,
}

impl<'a> Place<'a> {
    /// Pins that can carry a level into the array and do nothing else, in order.
    pub(super) fn dedicated(self) -> Vec<PinNumber> {
        let is_input = |r: Role| matches!(r, Role::Input | Role::ClockInput | Role::EnableInput);
        let reads = |n: PinNumber| matches!(self.mode.reads(n), Some(Source::Pin(_)));
        self.device.pins.iter().filter(|p| is_input(p.role) && reads(p.number)).map(|p| p.number).collect()
    }

    /// The pin that enables the drivers of all registers while it is low, if the mode has one.
    pub(super) fn enable_pin(self) -> Option<PinNumber> {
        self.mode.macrocells.iter().find_map(|m| match m.configuration(Function::Registered)?.enable {
            EnableSource::Pin(pin) => Some(pin),
            EnableSource::Row(_) | EnableSource::Always | EnableSource::Never => None,
        })
    }

    /// Whether an unused macrocell's pin can be an input.
    pub(super) fn can_be_input(self, macrocell: &Macrocell) -> bool {
        self.mode.pair(Source::Feedback(macrocell.pin)).is_some()
            && macrocell.configurations.iter().any(|c| {
                let undriven = matches!(c.enable, EnableSource::Never | EnableSource::Row(_));
                c.feedback == Feedback::Pin && c.function != Function::Registered && undriven
            })
    }

    /// Whether the driver of an unused macrocell can be kept off.
    pub(super) fn can_be_silent(self, macrocell: &Macrocell) -> bool {
        let silent = |e: EnableSource| matches!(e, EnableSource::Never | EnableSource::Row(_));
        macrocell.configurations.iter().any(|c| silent(c.enable))
    }

    /// The configuration of a macrocell that does this, with its feedback reaching the array if it is read.
    pub(super) fn configuration(
        self,
        macrocell: &'a Macrocell,
        function: Function,
        read: bool,
    ) -> Option<&'a Configuration> {
        let configuration = macrocell.configuration(function)?;
        let reaches = self.mode.pair(Source::Feedback(macrocell.pin)).is_some();
        let right = match function {
            Function::Registered => configuration.feedback == Feedback::InvertedQ,
            Function::Combinational | Function::Latch | Function::Input => configuration.feedback == Feedback::Pin,
        };
        (!read || (reaches && right)).then_some(configuration)
    }
}

/// Whether a macrocell set up so can drive as asked; for a buried register, that its driver can't be kept off doesn't
/// matter on a pin that nobody connects.
pub(super) fn can_enable(configuration: &Configuration, asked: &Enable, isolated: bool) -> bool {
    match (configuration.enable, asked) {
        (EnableSource::Row(_), Enable::Always | Enable::Never | Enable::While(_)) => true,
        (EnableSource::Always, Enable::Always) | (EnableSource::Never, Enable::Never) => true,
        (EnableSource::Pin(_), Enable::Pin) => true,
        (EnableSource::Always | EnableSource::Pin(_), Enable::Never) => isolated,
        _ => false,
    }
}
