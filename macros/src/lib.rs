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
pub fn derive_circuit(input: proc_macro::TokenStream) -> proc_macro::TokenStream {
    derive(input.into()).into()
}

/// Says that the derive is missing, where the table of contacts stands without it.
///
/// Below `#[derive(Circuit)]` the name is the derive's own, and this is never called.
#[proc_macro_attribute]
pub fn contacts(table: proc_macro::TokenStream, item: proc_macro::TokenStream) -> proc_macro::TokenStream {
    let table = TokenStream::from(table);
    underived(syn::parse_quote!(#[contacts(#table)]), item.into()).into()
}

/// Says that the derive is missing, where a contact stands without it. Above a field, where no such macro may stand, it is
/// there for what rustc says: without it, rustc would take the word for a misspelt `contacts`.
#[proc_macro_attribute]
pub fn contact(label: proc_macro::TokenStream, item: proc_macro::TokenStream) -> proc_macro::TokenStream {
    let label = TokenStream::from(label);
    underived(syn::parse_quote!(#[contact(#label)]), item.into()).into()
}

/// Says that the derive is missing, where a circuit's settings stand without it.
///
/// Below `#[derive(Circuit)]` the name is the derive's own, and this is never called.
#[proc_macro_attribute]
pub fn circuit(settings: proc_macro::TokenStream, item: proc_macro::TokenStream) -> proc_macro::TokenStream {
    let settings = TokenStream::from(settings);
    underived(syn::parse_quote!(#[circuit(#settings)]), item.into()).into()
}

/// A struct without the derive: what the derive would write of it, so that its absence is one error.
fn underived(own: syn::Attribute, item: TokenStream) -> TokenStream {
    const MEND: &str = "this is not a circuit yet: write #[derive(Circuit)] above it";
    let missing = syn::Error::new(proc_macro2::Span::call_site(), MEND).into_compile_error();
    let Ok(mut input) = syn::parse2::<syn::DeriveInput>(item.clone()) else {
        return quote::quote!(#item #missing);
    };
    let mut source = input.clone();
    source.attrs.push(own);
    let derived = derive(quote::quote!(#source));
    // what only the derive knows
    let is_helper = |attr: &syn::Attribute| HELPERS.iter().any(|name| attr.path().is_ident(name));
    input.attrs.retain(|attr| !is_helper(attr));
    if let syn::Data::Struct(data) = &mut input.data {
        data.fields.iter_mut().for_each(|field| field.attrs.retain(|attr| !is_helper(attr)));
    }
    quote::quote!(#input #derived #missing)
}

/// The attributes that the derive reads.
const HELPERS: [&str; 4] = ["contact", "contacts", "circuit", "parameter"];

/// The derive on tokens that tests can make.
fn derive(input: TokenStream) -> TokenStream {
    let (input, misspelt) = match syn::parse2::<syn::DeriveInput>(input.clone()) {
        Ok(read) => (read, false),
        // rustc has shown the comma already, and goes on with an array as well
        Err(error) => match syn::parse2::<syn::DeriveInput>(parse::arrays(input)) {
            Ok(read) => (read, true),
            Err(_) => return error.into_compile_error(),
        },
    };
    let mut errors = errors::Errors::default();
    let source = parse::read(&input, &mut errors);
    check::check(&source, &mut errors);
    let miscounted = |f: &parse::Field| matches!(f.kind, Err(parse::Strange::Miscounted));
    let mut out = expand::expand(&source, misspelt || errors.any() || source.fields.iter().any(miscounted));
    out.extend(errors.into_compile_errors());
    out
}
