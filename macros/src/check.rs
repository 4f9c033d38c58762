//! The rules that a circuit's struct must keep, beyond its grammar.
use std::collections::HashMap;

use crate::errors::Errors;
use crate::parse::{Contacts, Field, Kind, Label, Rail, Source};

pub(crate) fn check(source: &Source, errors: &mut Errors) {
    if !source.generics.params.is_empty() {
        errors.on(&source.generics, "a circuit has no parameters: its contacts are real ones");
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
        check_field(field, &mut taken, errors);
    }
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

fn check_field(field: &Field, taken: &mut Taken, errors: &mut Errors) {
    let name = field.plain_name();
    if field.kind.is_none() {
        errors.on(
            &field.element,
            format!(
                "`{name}` is not part of a circuit: write Input<…>, Output<…>, InOut<…> or Buried<…>, or an array of one"
            ),
        );
    }
    let Some((contacts, more)) = field.contacts.split_first() else {
        if !field.unreadable && field.kind.is_some_and(|kind| kind != Kind::Buried) {
            errors.on(
                &field.name,
                format!("`{name}` needs its contact: write #[contact(…)] above it, with its number on the socket"),
            );
        }
        return;
    };
    if field.kind == Some(Kind::Buried) {
        errors.on(&contacts.tokens, format!("`{name}` is buried: it has no pin, so it can't have a contact"));
        return;
    }
    for again in more {
        errors.on(&again.tokens, format!("`{name}` has its contacts already: write all of them in one #[contact(…)]"));
    }
    for label in &contacts.labels {
        taken.take(label, &name, errors);
    }
    if let [_, (_, again), ..] = contacts.pulls.as_slice() {
        errors.at(*again, format!("`{name}` has its resistor already"));
    }
    count(field, &name, contacts, errors);
}

/// As many contacts as elements. A length that is not written as a number is compared in the derive's code.
fn count(field: &Field, name: &str, contacts: &Contacts, errors: &mut Errors) {
    let given = contacts.labels.len();
    let wanted = match (&field.length, field.literal_length()) {
        (None, _) => 1,
        (Some(_), Some(length)) => length,
        (Some(_), None) => return,
    };
    if field.length.is_none() && given > 1 {
        errors.on(
            &contacts.tokens,
            format!("`{name}` is one contact, but {given} are given: write an array, [Input<…>; {given}] for instance"),
        );
    } else if wanted != given {
        let (elements, are) = (plural(wanted, "element", "elements"), plural(given, "contact is", "contacts are"));
        errors.on(&contacts.tokens, format!("`{name}` has {wanted} {elements}, but {given} {are} given"));
    }
}

fn plural<'a>(n: usize, one: &'a str, many: &'a str) -> &'a str {
    if n == 1 { one } else { many }
}
