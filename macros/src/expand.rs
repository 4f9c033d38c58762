//! The code that the derive writes. After a mistake it still writes the types, so that one mistake is one error.
use proc_macro2::{Ident, Span, TokenStream};
use quote::{format_ident, quote, quote_spanned};
use syn::ext::IdentExt;
use syn::spanned::Spanned;

use crate::parse::{Field, Kind, Pull, Rail, Source};

pub(crate) fn expand(source: &Source, broken: bool) -> TokenStream {
    let Source { ident, vis, krate, .. } = source;
    let wiring = format_ident!("{}Wiring", ident.unraw(), span = ident.span());
    let defined: Vec<&Field> = source.fields.iter().filter(|f| is_defined(f)).collect();
    let doc = format!(
        "What drives each output and each buried element of [`{ident}`]: one field for each, which its `wire` fills."
    );
    let wiring_fields = defined.iter().map(|f| wiring_field(f, krate));
    let name = match &source.part {
        Some(part) => part.value(),
        None => snake_case(&ident.unraw().to_string()),
    };
    // a user's field may have any name: what is local here can't meet it
    let (declaration, given, definitions) = (local("declaration"), local("given"), local("definitions"));
    let (declare, define) = if broken {
        (quote!({ let _ = #declaration; ::core::unreachable!() }), quote!({ let _ = (#given, #definitions); }))
    } else {
        let supplies = source.supplies.iter().map(|(label, rail)| supply(&label.text, *rail, krate, &declaration));
        let fields = source.fields.iter().map(|f| declared(f, krate, &declaration));
        let takes = defined.iter().map(|f| {
            let (name, method) = (&f.name, method(f));
            quote!(#definitions.#method(&self.#name, #given.#name);)
        });
        (quote!({ #(#supplies)* Self { #(#fields),* } }), quote!({ #(#takes)* }))
    };
    let lengths = source.fields.iter().filter_map(length_check);
    let (impl_generics, type_generics, where_clause) = source.generics.split_for_impl();
    quote! {
        #[doc = #doc]
        #[allow(missing_debug_implementations)]
        #vis struct #wiring { #(#wiring_fields),* }
        #[automatically_derived]
        impl #impl_generics #krate::signals::Circuit for #ident #type_generics #where_clause {
            type Wiring = #wiring;
            const NAME: &'static str = #name;
            fn declare(#declaration: &mut #krate::signals::derived::Declaration) -> Self #declare
            fn define(&self, #given: #wiring, #definitions: &mut #krate::signals::derived::Definitions) #define
        }
        #(#lengths)*
    }
}

/// True if the wiring has a field for it. A field of a type that nobody knows is one if it has no contact, or if its type
/// begins like one, so that a misspelt `Output` doesn't make its definition a second error.
fn is_defined(field: &Field) -> bool {
    let misspelt = || match &field.element {
        syn::Type::Path(path) => path.path.segments.last().is_some_and(|last| {
            let word = last.ident.to_string();
            ["O", "InO", "B"].iter().any(|begin| word.starts_with(begin))
        }),
        _ => false,
    };
    field.kind.map_or_else(|| field.contacts.is_empty() || misspelt(), |kind| kind != Kind::Input)
}

fn local(name: &str) -> Ident {
    Ident::new(name, Span::mixed_site())
}

/// At the field's type, for errors, but with the hygiene of the derive.
fn method(field: &Field) -> Ident {
    let name = if field.length.is_some() { "many" } else { "one" };
    Ident::new(name, Span::call_site().located_at(field.element.span()))
}

fn wiring_field(field: &Field, krate: &syn::Path) -> TokenStream {
    let Field { name, vis, docs, element, .. } = field;
    let element = if field.kind.is_none() { quote!(#krate::signals::derived::Unknown) } else { quote!(#element) };
    let docs = if docs.is_empty() {
        let doc = format!("What drives `{}`.", field.plain_name());
        quote!(#[doc = #doc])
    } else {
        quote!(#(#docs)*)
    };
    match &field.length {
        None => quote!(#docs #vis #name: #krate::signals::Definition<#element>),
        Some(length) => quote!(#docs #vis #name: [#krate::signals::Definition<#element>; #length]),
    }
}

fn supply(label: &str, rail: Rail, krate: &syn::Path, declaration: &Ident) -> TokenStream {
    let rail = match rail {
        Rail::Vcc => quote!(Vcc),
        Rail::Gnd => quote!(Gnd),
    };
    quote!(#declaration.supply(#label, #krate::circuit::Rail::#rail);)
}

fn declared(field: &Field, krate: &syn::Path, declaration: &Ident) -> TokenStream {
    let (name, plain, method) = (&field.name, field.plain_name(), method(field));
    let labels = field.contacts.iter().flat_map(|c| &c.labels).map(|l| &l.text);
    let pull = match field.contacts.iter().flat_map(|c| &c.pulls).next() {
        None => quote!(None),
        Some((Pull::Up, _)) => quote!(Up),
        Some((Pull::Down, _)) => quote!(Down),
    };
    // with the user's own span these two are the field's file and line
    let (file, line) = (quote_spanned!(name.span()=> ::core::file!()), quote_spanned!(name.span()=> ::core::line!()));
    quote! {
        #name: #declaration.#method(#krate::signals::derived::Place {
            name: #plain,
            labels: &[#(#labels),*],
            pull: #krate::circuit::Pull::#pull,
            file: #file,
            line: #line,
        })
    }
}

/// Compares the number of contacts with an array's length that is not written as a number.
fn length_check(field: &Field) -> Option<TokenStream> {
    let length = field.length.as_ref().filter(|_| field.literal_length().is_none())?;
    let contacts = field.contacts.first()?;
    let given = contacts.labels.len();
    let message = format!("`{}`: {given} contacts are given, but the array has another length", field.plain_name());
    Some(quote_spanned!(contacts.tokens.span()=> const _: () = ::core::assert!(#length == #given, #message);))
}

/// `SampleCard` becomes `sample_card`.
fn snake_case(name: &str) -> String {
    let letters: Vec<char> = name.chars().collect();
    let mut out = String::new();
    for (i, &c) in letters.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|i| letters.get(i)).copied().unwrap_or('_');
        let after = letters.get(i + 1).copied().unwrap_or('_');
        let word = before.is_lowercase() || before.is_numeric() || (before.is_uppercase() && after.is_lowercase());
        if c.is_uppercase() && word {
            out.push('_');
        }
        out.extend(c.to_lowercase());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::snake_case;

    #[test]
    fn struct_names_become_file_names() {
        for (name, file) in
            [("SampleCard", "sample_card"), ("Ls138", "ls138"), ("VMEBridge", "vme_bridge"), ("ABC", "abc"), ("A", "a")]
        {
            assert_eq!(snake_case(name), file);
        }
    }
}
