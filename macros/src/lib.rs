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
/// - `#[contacts(clock: 1, data: 8..=11, sum: (15..=9, 7), irq: ("A12", pull_up))]` on the struct has all contacts in one
///   table instead: what stands in the brackets of a `#[contact]` stands behind the field's name, in brackets if it is more
///   than one thing. rustfmt leaves it as it is written, and keeps each field on one line.
/// - `#[parameter]` stands above a field that is no signal: a value that the wiring is made with. The derive adds a struct
///   `…Parameters` with all of them, which is given where the circuit is built or proved.
/// - `#[circuit(part = "74LS138", vcc = 16, gnd = 8)]` on the struct gives a part its type number and its supply pins;
///   several are written `gnd = [4, 12]`. `crate = some::path` serves a crate that renames `gluewright`.
#[proc_macro_derive(Circuit, attributes(contact, contacts, circuit, parameter))]
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
    let miscounted = |f: &parse::Field| matches!(f.kind, Err(parse::Strange::Miscounted));
    let mut out = expand::expand(&source, errors.any() || source.fields.iter().any(miscounted));
    out.extend(errors.into_compile_errors());
    out
}
