//! The mistakes found so far: all of them are reported, each at its place.
use proc_macro2::{Span, TokenStream};
use quote::ToTokens;

#[derive(Default)]
pub(crate) struct Errors(Option<syn::Error>);

impl Errors {
    pub(crate) fn add(&mut self, error: syn::Error) {
        match &mut self.0 {
            Some(errors) => errors.combine(error),
            None => self.0 = Some(error),
        }
    }

    pub(crate) fn at(&mut self, span: Span, message: impl std::fmt::Display) {
        self.add(syn::Error::new(span, message));
    }

    pub(crate) fn on(&mut self, tokens: impl ToTokens, message: impl std::fmt::Display) {
        self.add(syn::Error::new_spanned(tokens, message));
    }

    pub(crate) fn any(&self) -> bool {
        self.0.is_some()
    }

    pub(crate) fn into_compile_errors(self) -> TokenStream {
        self.0.map(syn::Error::into_compile_error).unwrap_or_default()
    }
}
