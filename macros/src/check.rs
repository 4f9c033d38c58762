//! The rules that a circuit's struct must keep, beyond its grammar.
use std::collections::HashMap;

use proc_macro2::{Ident, TokenStream, TokenTree};
use quote::ToTokens;
use syn::{GenericParam, Generics, WherePredicate};

use crate::errors::Errors;
use crate::parse::{Contacts, Field, Kind, Label, Rail, Source, Strange};

pub(crate) fn check(source: &Source, errors: &mut Errors) {
    for parameter in &source.generics.params {
        check_parameter(parameter, source, errors);
    }
    if let Some(part) = &source.part {
        let text = part.value();
        let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.' | ' ');
        if !text.starts_with(|c: char| c.is_ascii_alphanumeric()) || !text.chars().all(plain) {
            errors.at(part.span(), "a part's type number is made of letters and digits, like \"74LS138\"");
        }
    }
    let mut taken = Taken::default();
    for (label, rail) in &source.supplies {
        let whose = match rail {
            Rail::Vcc => "vcc",
            Rail::Gnd => "gnd",
        };
        taken.take(label, whose, errors);
    }
    for field in &source.fields {
        check_field(field, source, &mut taken, errors);
    }
}

/// A width is a constant, and a type can only be what contacts carry: then it says so. One that stands nowhere is rustc's
/// error, and one whose field is no signal is reported there.
fn check_parameter(parameter: &GenericParam, source: &Source, errors: &mut Errors) {
    let generics: &Generics = &source.generics;
    match parameter {
        GenericParam::Lifetime(lifetime) => {
            let name = &lifetime.lifetime.ident;
            if source.fields.iter().any(|f| f.kind.is_ok() && mentions(&f.ty, name)) {
                errors.on(lifetime, "a circuit borrows nothing, so it has no lifetimes: its signals are copied freely");
            }
        }
        GenericParam::Type(ty) => {
            let bounded =
                generics.where_clause.iter().flat_map(|clause| &clause.predicates).any(
                    |predicate| matches!(predicate, WherePredicate::Type(of) if mentions(&of.bounded_ty, &ty.ident)),
                );
            let stands = source.fields.iter().any(|f| mentions(&f.ty, &ty.ident));
            if stands && ty.bounds.is_empty() && !bounded {
                let name = &ty.ident;
                errors.on(
                    ty,
                    format!(
                        "this does not say what `{name}` stands for: write `{name}: Asserted` if it is ActiveLow or \
                         ActiveHigh, or `const {name}: usize` if it is a width"
                    ),
                );
            }
        }
        GenericParam::Const(_) => {}
    }
}

/// True if these tokens have this word in them.
pub(crate) fn mentions(tokens: &impl ToTokens, word: &Ident) -> bool {
    fn any(tokens: TokenStream, word: &Ident) -> bool {
        tokens.into_iter().any(|token| match token {
            TokenTree::Ident(ident) => ident == *word,
            TokenTree::Group(group) => any(group.stream(), word),
            _ => false,
        })
    }
    any(tokens.to_token_stream(), word)
}

/// Who has which contact.
#[derive(Default)]
struct Taken(HashMap<String, String>);

impl Taken {
    fn take(&mut self, label: &Label, whose: &str, errors: &mut Errors) {
        match self.0.insert(label.text.clone(), whose.to_owned()) {
            Some(other) if other == whose => {
                errors.at(label.span, format!("contact {} is used twice in `{whose}`", label.text));
            }
            Some(other) => {
                errors.at(label.span, format!("contact {} is used twice: `{other}` has it already", label.text));
            }
            None => {}
        }
    }
}

fn check_field(field: &Field, source: &Source, taken: &mut Taken, errors: &mut Errors) {
    let name = field.plain_name();
    if let Err(strange) = &field.kind
        && !source.is_type_parameter(&field.element)
    {
        check_strange(field, strange, &name, errors);
    }
    let Some((contacts, more)) = field.contacts.split_first() else {
        if !field.unreadable
            && field.kind.as_ref().is_ok_and(|kind| !matches!(kind, Kind::Buried | Kind::Inside | Kind::Parameter))
        {
            let mend = match source.has_table {
                true => format!("write `{name}: …` in #[contacts(…)]"),
                false => "write #[contact(…)] above it".to_owned(),
            };
            errors.on(&field.name, format!("`{name}` needs its contact: {mend}, with its number on the socket"));
        }
        return;
    };
    if matches!(field.kind, Ok(Kind::Buried) | Err(Strange::BuriedDriver(_) | Strange::BuriedPolarity(..))) {
        errors.on(&contacts.tokens, format!("`{name}` is buried: it has no pin, so it can't have a contact"));
        return;
    }
    if matches!(field.kind, Ok(Kind::Inside)) {
        errors.on(
            &contacts.tokens,
            format!("`{name}` is a circuit inside: its contacts are wired in the wiring, not to the socket"),
        );
        return;
    }
    if matches!(field.kind, Ok(Kind::Parameter)) {
        errors.on(&contacts.tokens, format!("`{name}` is a parameter: it is no signal, so it can't have a contact"));
        return;
    }
    for again in more {
        errors.on(&again.tokens, format!("`{name}` has its contacts already: write all of them in one place"));
    }
    for label in &contacts.labels {
        taken.take(label, &name, errors);
    }
    if let [_, (_, again), ..] = contacts.pulls.as_slice() {
        errors.at(*again, format!("`{name}` has its resistor already"));
    }
    if field.kind.is_ok() {
        count(field, source, &name, contacts, errors);
    }
}

fn check_strange(field: &Field, strange: &Strange, name: &str, errors: &mut Errors) {
    match strange {
        Strange::Unknown => errors.on(
            &field.element,
            format!(
                "`{name}` is not part of a circuit: write Input<…>, Output<…>, InOut<…> or Buried<…>, or an array of one; \
                 it must stand here itself, not behind a name of your own; a circuit inside this one stands below #[circuit], and a \
                 value that the wiring is made with below #[parameter]"
            ),
        ),
        Strange::Nested => errors.on(
            &field.ty,
            format!("`{name}` is an array of arrays: write one array, [Input<…>; 8] for instance, or several fields"),
        ),
        Strange::Wrapped => errors.on(
            &field.ty,
            format!("`{name}` is not part of a circuit: a contact is there or it isn't, write its type alone or an array"),
        ),
        Strange::Miscounted => {}
        Strange::BuriedPolarity(carried, what) => {
            let mend = match what {
                Some(what) => format!("write Buried<{what}, {carried}>"),
                None => format!("write Buried<Register, {carried}>, or Latch or Node in its place"),
            };
            errors.on(
                carried,
                format!("`{name}` begins with what it carries, but what it is comes first: {mend}"),
            );
        }
        Strange::BuriedDriver(drive) => errors.on(
            drive,
            format!(
                "`{name}` is buried: it has no pin, so nothing can be {drive} there; write Buried<Register> without it, \
                 or give the field a contact and make it Output<…, {drive}>"
            ),
        ),
    }
}

/// As many contacts as elements. A length that is not written as a number is compared in the derive's code.
fn count(field: &Field, source: &Source, name: &str, contacts: &Contacts, errors: &mut Errors) {
    let given = contacts.labels.len();
    let wanted = match (&field.length, field.literal_length()) {
        (None, _) => 1,
        (Some(_), Some(length)) => length,
        (Some(length), None) => {
            if contacts.onwards.is_none() && source.has_parameter(length) {
                errors.on(
                    &contacts.tokens,
                    format!("`{name}` is as wide as the circuit's parameter says: give its first contact, \"Q0\".. for instance"),
                );
            }
            return;
        }
    };
    if field.length.is_none() && contacts.onwards.is_some() {
        errors.on(&contacts.tokens, format!("`{name}` is one contact: write its label alone"));
    } else if field.length.is_none() && given > 1 {
        errors.on(
            &contacts.tokens,
            format!("`{name}` is one contact, but {given} are given: write an array, [Input<…>; {given}] for instance"),
        );
    } else if wanted != given && (contacts.onwards.is_none() || wanted < given) {
        let (elements, are) = (plural(wanted, "element", "elements"), plural(given, "contact is", "contacts are"));
        errors.on(&contacts.tokens, format!("`{name}` has {wanted} {elements}, but {given} {are} given"));
    }
}

fn plural<'a>(n: usize, one: &'a str, many: &'a str) -> &'a str {
    if n == 1 { one } else { many }
}
