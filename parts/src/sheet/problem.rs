//! What can be missing from a sheet, or wrong in it, and the mend.
use gluewright::circuit::Label;
use thiserror::Error;

/// Something that is missing from a sheet, or can't be right in it.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum Problem {
    /// A number without a pin, or with two.
    #[error("pin {pin} stands {count} times in `pins`: a package of {package} has each pin once")]
    PinCount {
        /// The number.
        pin: u16,
        /// How many rows it has.
        count: usize,
        /// Pins of the package.
        package: u16,
    },
    /// A supply rail without a pin.
    #[error("no pin carries {0}: give the supply pin `is = \"vcc\"` or `is = \"gnd\"`")]
    NoRail(&'static str),
    /// The sheet and the logic have different supply pins.
    #[error("the supply pins are {sheet} in `pins` and {logic} in #[circuit(…)] of its logic")]
    Supply {
        /// Those of the sheet.
        sheet: String,
        /// Those of the logic.
        logic: String,
    },
    /// A pin that the logic does not have.
    #[error("pin {pin} ({name}) has no #[contact({pin})] in its logic")]
    NoContact {
        /// The pin.
        pin: Label,
        /// Its name.
        name: String,
    },
    /// A contact that the sheet does not have.
    #[error("#[contact({pin})] `{field}` of its logic is no input or output in `pins`")]
    NoPin {
        /// The contact.
        pin: Label,
        /// Its field.
        field: String,
    },
    /// The two disagree about a pin.
    #[error("pin {pin} ({name}) {what} is {sheet} in `pins` and {logic} in its logic")]
    Disagree {
        /// The pin.
        pin: Label,
        /// Its name.
        name: String,
        /// What differs.
        what: &'static str,
        /// On the sheet.
        sheet: String,
        /// In the logic.
        logic: String,
    },
    /// A field that is not called after its pin.
    #[error(
        "pin {pin} is called {name} in `pins` and `{field}` in its logic: is it another pin? If not, add `field = \"{field}\"` to its row"
    )]
    Called {
        /// The pin.
        pin: Label,
        /// Its name.
        name: String,
        /// The contact's name.
        field: String,
    },
    /// A path without a delay.
    #[error(
        "no delay from {from} to {to}: add a [[delay]] or [[enable]], or a [[no_delay]] that says why there is none"
    )]
    NoDelay {
        /// The input.
        from: String,
        /// The output.
        to: String,
    },
    /// A delay for pins that have no path.
    #[error(
        "a delay from {from} to {to}, but {to} doesn't depend on {from} in its logic: are the pins the right ones?"
    )]
    NoPath {
        /// The input.
        from: String,
        /// The output.
        to: String,
    },
    /// A pin without a current.
    #[error("pin {name} has no {what}: add it to an [[{table}]]")]
    NoCurrent {
        /// The pin.
        name: String,
        /// What is missing.
        what: &'static str,
        /// Where it belongs.
        table: &'static str,
    },
    /// A part without a supply current, and no note about it.
    #[error("no supply current: add [[supply]], or a sentence about it to `notes`")]
    NoSupplyCurrent,
    /// A figure that no part of this kind has.
    #[error("{what} of {name} is {value}: it should lie between {least} and {most}")]
    Implausible {
        /// What it is.
        what: &'static str,
        /// Of what.
        name: String,
        /// Its value.
        value: String,
        /// The least that is plausible.
        least: f64,
        /// The most that is plausible.
        most: f64,
    },
    /// A figure from a sheet, and no sheet.
    #[error("{what} is not marked `from_memory`, and `sheets` names no sheet")]
    NoSource {
        /// What it is.
        what: String,
    },
}
