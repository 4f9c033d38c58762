//! The code that the derive writes. After a mistake it still writes the types, so that one mistake is one error.
use proc_macro2::{Ident, Span, TokenStream};
use quote::{format_ident, quote, quote_spanned};
use syn::GenericParam;
use syn::ext::IdentExt;
use syn::spanned::Spanned;

use crate::check::mentions;
use crate::parse::{Field, Kind, Onwards, Pull, Rail, Source, Strange};

pub(crate) fn expand(source: &Source, broken: bool) -> TokenStream {
    let Source { ident, vis, krate, .. } = source;
    let is_defined = |f: &Field| is_defined(f) && !source.is_type_parameter(&f.element);
    let defined: Vec<&Field> = source.fields.iter().filter(|f| is_defined(f)).collect();
    let fed: Vec<&Field> = source.fields.iter().filter(|f| matches!(f.kind, Ok(Kind::Input | Kind::InOut))).collect();
    let parameters: Vec<&Field> = source.fields.iter().filter(|f| matches!(f.kind, Ok(Kind::Parameter))).collect();
    let wiring = Given::new(
        source,
        "Wiring",
        &format!(
            "What drives each output and each buried element of [`{ident}`]: one field for each, which its `wire` fills."
        ),
        &defined,
    );
    let inputs = Given::new(
        source,
        "Inputs",
        &format!("What an outer circuit puts on the inputs of a [`{ident}`] inside it: one field for each."),
        &fed,
    );
    let name = match &source.part {
        Some(part) => part.value(),
        None => snake_case(&ident.unraw().to_string()),
    };
    // a user's field may have any name: what is local here can't meet it
    let (declaration, given, definitions) = (local("declaration"), local("given"), local("definitions"));
    let nothing = quote!({ let _ = (#given, #definitions); });
    let (declare, define, feed) = if broken {
        (quote!({ let _ = #declaration; ::core::unreachable!() }), nothing.clone(), nothing)
    } else {
        let supplies = source.supplies.iter().map(|(label, rail)| supply(&label.text, *rail, krate, &declaration));
        let fields = source.fields.iter().map(|f| match f.kind {
            Ok(Kind::Parameter) => {
                let name = &f.name;
                quote!(#name: #given.#name)
            }
            _ => declared(f, krate, &declaration),
        });
        let takes = |f: &&Field| {
            let (name, method) = (&f.name, method(f));
            quote!(#definitions.#method(&self.#name, #given.#name);)
        };
        let (takes, feeds) = (defined.iter().map(takes), fed.iter().map(takes));
        // the board wires an input whether the circuit reads it or not
        let inputs = source.fields.iter().filter(|f| !is_defined(f)).map(|f| &f.name);
        let taken = parameters.iter().any(|_| true).then(|| quote!(let #given = #declaration.parameters::<Self>();));
        (
            quote!({ #(#supplies)* #taken Self { #(#fields),* } }),
            quote!({ #(let _ = &self.#inputs;)* let _ = (&#given, &#definitions); #(#takes)* }),
            quote!({ let _ = (&#given, &#definitions); #(#feeds)* }),
        )
    };
    let full_name = full_name(source);
    let lengths = source.fields.iter().filter_map(|f| length_check(f, source));
    let (impl_generics, type_generics, where_clause) = source.generics.split_for_impl();
    let (wiring_type, inputs_type) = (&wiring.ty, &inputs.ty);
    let (wiring, inputs) = (wiring.item(vis), inputs.item(vis));
    let (parameters_item, parameters_type) = parameters_of(source, &parameters);
    quote! {
        #parameters_item
        #wiring
        #[allow(dead_code)]
        #inputs
        #[automatically_derived]
        impl #impl_generics #krate::signals::Circuit for #ident #type_generics #where_clause {
            type Wiring = #wiring_type;
            type Inputs = #inputs_type;
            type Parameters = #parameters_type;
            const NAME: &'static str = #name;
            #full_name
            fn declare(#declaration: &mut #krate::signals::derived::Declaration) -> Self #declare
            fn define(&self, #given: Self::Wiring, #definitions: &mut #krate::signals::derived::Definitions) #define
            fn feed(&self, #given: Self::Inputs, #definitions: &mut #krate::signals::derived::Definitions) #feed
        }
        #(#lengths)*
    }
}

/// A struct that a user fills, one field for each definition.
struct Given {
    doc: String,
    name: Ident,
    parameters: Option<TokenStream>,
    ty: TokenStream,
    fields: Vec<TokenStream>,
    defines: TokenStream,
}

impl Given {
    fn new(source: &Source, what: &str, doc: &str, fields: &[&Field]) -> Self {
        let krate = &source.krate;
        let name = format_ident!("{}{what}", source.ident.unraw(), span = source.ident.span());
        let fields: Vec<TokenStream> = fields.iter().map(|f| wiring_field(f, krate)).collect();
        let (parameters, arguments) = wiring_generics(source, &fields);
        let defines = quote!(impl #parameters #krate::signals::Defines for #name #arguments {});
        Given { doc: doc.to_owned(), parameters, ty: quote!(#name #arguments), name, fields, defines }
    }

    fn item(&self, vis: &syn::Visibility) -> TokenStream {
        let Given { doc, name, parameters, fields, defines, .. } = self;
        quote! {
            #[doc = #doc]
            #[allow(missing_debug_implementations)]
            #vis struct #name #parameters { #(#fields),* }
            #defines
        }
    }
}

/// The struct of the values that the wiring is made with, if there are any, and its name.
fn parameters_of(source: &Source, parameters: &[&Field]) -> (Option<TokenStream>, TokenStream) {
    if parameters.is_empty() {
        return (None, quote!(()));
    }
    let Source { ident, vis, .. } = source;
    let name = format_ident!("{}Parameters", ident.unraw(), span = ident.span());
    let doc = format!("The values that the wiring of a [`{ident}`] is made with: one field for each `#[parameter]`.");
    let fields: Vec<TokenStream> = parameters
        .iter()
        .map(|f| {
            let Field { name, vis, docs, ty, .. } = f;
            let doc = format!("The parameter `{}`.", f.plain_name());
            let docs = if docs.is_empty() { quote!(#[doc = #doc]) } else { quote!(#(#docs)*) };
            quote!(#docs #vis #name: #ty)
        })
        .collect();
    let (generics, arguments) = wiring_generics(source, &fields);
    let item = quote! {
        #[doc = #doc]
        #[allow(missing_debug_implementations)]
        #[derive(Clone)]
        #vis struct #name #generics { #(#fields),* }
    };
    (Some(item), quote!(#name #arguments))
}

/// The wiring's parameters: all constants, and the types that stand in its fields.
fn wiring_generics(source: &Source, fields: &[TokenStream]) -> (Option<TokenStream>, Option<TokenStream>) {
    let (mut parameters, mut arguments) = (Vec::new(), Vec::new());
    for parameter in &source.generics.params {
        match parameter {
            GenericParam::Const(width) => {
                let (name, ty) = (&width.ident, &width.ty);
                parameters.push(quote!(const #name: #ty));
                arguments.push(quote!(#name));
            }
            GenericParam::Type(ty) if fields.iter().any(|f| mentions(f, &ty.ident)) => {
                let name = &ty.ident;
                parameters.push(quote!(#name));
                arguments.push(quote!(#name));
            }
            GenericParam::Type(_) | GenericParam::Lifetime(_) => {}
        }
    }
    let some = !parameters.is_empty();
    (some.then(|| quote!(<#(#parameters),*>)), some.then(|| quote!(<#(#arguments),*>)))
}

/// Two widths of one circuit have two names.
fn full_name(source: &Source) -> Option<TokenStream> {
    if source.part.is_some() || source.generics.const_params().next().is_none() {
        return None;
    }
    let widths = source.generics.const_params().map(|c| &c.ident);
    Some(quote! {
        fn full_name() -> ::std::string::String {
            let mut name = ::std::string::String::from(Self::NAME);
            #(name.push_str(&::std::format!("_{}", #widths));)*
            name
        }
    })
}

/// True if the wiring has a field for it. A field of a type that nobody knows is one if it could be meant as one, so that
/// a misspelt `Output` doesn't make its definition a second error.
fn is_defined(field: &Field) -> bool {
    let word = || match innermost(&field.ty) {
        syn::Type::Path(path) => path.path.segments.last().map(|last| last.ident.to_string()).unwrap_or_default(),
        _ => String::new(),
    };
    match &field.kind {
        Ok(kind) => !matches!(kind, Kind::Input | Kind::Parameter),
        Err(Strange::BuriedDriver(_) | Strange::BuriedPolarity(..)) => true,
        Err(Strange::Miscounted) => word() != "Input",
        Err(Strange::Wrapped) => false,
        Err(Strange::Nested) => word() != "Input",
        Err(Strange::Unknown) if field.contacts.is_empty() => {
            let word = word();
            // the language's own types begin small; these are the rest of what is no signal for certain
            word.starts_with(|c: char| c.is_uppercase())
                && !["String", "Vec", "Option", "PhantomData"].contains(&word.as_str())
        }
        Err(Strange::Unknown) => ["O", "InO", "B"].iter().any(|begin| word().starts_with(begin)),
    }
}

/// What an array of arrays is made of.
fn innermost(ty: &syn::Type) -> &syn::Type {
    match ty {
        syn::Type::Array(array) => innermost(&array.elem),
        other => other,
    }
}

fn local(name: &str) -> Ident {
    Ident::new(name, Span::mixed_site())
}

/// At the field's type, for errors, but with the hygiene of the derive.
fn method(field: &Field) -> Ident {
    let name = match (&field.kind, &field.length) {
        (Ok(Kind::Inside), None) => "inside",
        (Ok(Kind::Inside), Some(_)) => "inside_each",
        (_, None) => "one",
        (_, Some(_)) => "many",
    };
    Ident::new(name, Span::call_site().located_at(field.element.span()))
}

fn wiring_field(field: &Field, krate: &syn::Path) -> TokenStream {
    let Field { name, vis, docs, element, .. } = field;
    let docs = if docs.is_empty() {
        let doc = format!("What drives `{}`.", field.plain_name());
        quote!(#[doc = #doc])
    } else {
        quote!(#(#docs)*)
    };
    let ty = match (&field.kind, &field.length) {
        (Err(_), _) => unknown(&field.ty, krate),
        (Ok(Kind::Inside), None) => quote!(<#element as #krate::signals::Circuit>::Inputs),
        (Ok(Kind::Inside), Some(length)) => quote!([<#element as #krate::signals::Circuit>::Inputs; #length]),
        (Ok(_), None) => quote!(#krate::signals::Definition<#element>),
        (Ok(_), Some(length)) => quote!([#krate::signals::Definition<#element>; #length]),
    };
    quote!(#docs #vis #name: #ty)
}

/// A definition of what could not be read, in as many arrays as stand there.
fn unknown(ty: &syn::Type, krate: &syn::Path) -> TokenStream {
    match ty {
        syn::Type::Array(array) => {
            let (inner, length) = (unknown(&array.elem, krate), &array.len);
            quote!([#inner; #length])
        }
        _ => quote!(#krate::signals::Definition<#krate::signals::derived::Unknown>),
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
    let onwards = match field.contacts.iter().find_map(|c| c.onwards.as_ref()) {
        Some(Onwards { prefix, first }) => quote!(::core::option::Option::Some((#prefix, #first))),
        None => quote!(::core::option::Option::None),
    };
    // with the user's own span these two are the field's file and line
    let (file, line) = (quote_spanned!(name.span()=> ::core::file!()), quote_spanned!(name.span()=> ::core::line!()));
    quote! {
        #name: #declaration.#method(#krate::signals::derived::Place {
            name: #plain,
            labels: &[#(#labels),*],
            onwards: #onwards,
            pull: #krate::circuit::Pull::#pull,
            file: #file,
            line: #line,
        })
    }
}

/// Compares the number of contacts with an array's length that is not written as a number.
fn length_check(field: &Field, source: &Source) -> Option<TokenStream> {
    let length = field.length.as_ref().filter(|_| field.kind.is_ok() && field.literal_length().is_none())?;
    let contacts = field.contacts.first().filter(|c| c.onwards.is_none() && !source.has_parameter(length))?;
    let (given, name, krate) = (contacts.labels.len(), field.plain_name(), &source.krate);
    // rustc marks from the first token to the last: all contacts
    let mut tokens = contacts.tokens.clone().into_iter();
    let first = tokens.next()?.span();
    let last = tokens.last().map_or(first, |token| token.span());
    let assert = quote_spanned!(first=> ::core::assert!);
    let mut group = proc_macro2::Group::new(
        proc_macro2::Delimiter::Parenthesis,
        quote!(#length == #given, "{}", #krate::signals::derived::Counted::new(#name, #given, #length).text()),
    );
    group.set_span(last);
    Some(quote!(const _: () = #assert #group;))
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
