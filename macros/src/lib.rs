//! Implementation detail of the `gluewright` crate: the derive of a circuit.
#![deny(missing_docs)]

mod check;
mod errors;
mod expand;
mod parse;
#[cfg(test)]
mod tests;

use proc_macro2::TokenStream;

/// Derives `gluewright::Circuit` and the struct that its wiring fills.
///
/// The struct has named fields: `Input<…>`, `Output<…>` and `InOut<…>` with `#[contact(…)]`, and `Buried<…>` without;
/// or arrays of one of them.
///
/// - `#[contact(7)]`, `#[contact("A12")]` on a field; `#[contact(8..=11)]`, `#[contact(15..=9, 7)]` or
///   `#[contact("A1"..="A8")]` on an array. `pull_up` or `pull_down` beside the label says that the circuit itself has
///   such a resistor on the contact.
/// - `#[circuit(part = "74LS138", vcc = 16, gnd = 8)]` on the struct gives a part its type number and its supply pins;
///   several are written `gnd = [4, 12]`. `crate = some::path` serves a crate that renames `gluewright`.
#[proc_macro_derive(Circuit, attributes(contact, circuit))]
pub fn circuit(input: proc_macro::TokenStream) -> proc_macro::TokenStream {
    derive(input.into()).into()
}

/// The derive on tokens that tests can make.
fn derive(input: TokenStream) -> TokenStream {
    let input = match syn::parse2::<syn::DeriveInput>(input) {
        Ok(input) => input,
        Err(error) => return error.into_compile_error(),
    };
    let mut errors = errors::Errors::default();
    let source = parse::read(&input, &mut errors);
    check::check(&source, &mut errors);
    let mut out = expand::expand(&source, errors.any());
    out.extend(errors.into_compile_errors());
    out
}
