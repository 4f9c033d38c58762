//! Whether a field of a part's logic is called after its pin.
use std::collections::BTreeMap;

use gluewright::circuit::{Circuit, Contact};

use super::{Pin, Sheet};

/// True if a contact is called after its pin: `clr` after CLR, `y[1]` after the second of 1Y, 2Y, `abc[1]` after the second of
/// A, B, C.
pub(super) fn is_called(sheet: &Sheet, pin: &Pin, logic: &Circuit, contact: &Contact) -> bool {
    if let Some(field) = &pin.field {
        return field == &contact.name;
    }
    let name = spelled(&pin.name);
    let Some((field, index)) = element(&contact.name) else {
        return contact.name.replace('_', "") == name;
    };
    let mut members: BTreeMap<usize, String> = BTreeMap::new();
    for other in logic.contacts() {
        if let (Some((f, i)), Some(p)) = (element(&other.name), sheet.pin(&other.label))
            && f == field
        {
            members.insert(i, spelled(&p.name));
        }
    }
    let field = field.replace('_', "");
    let digits_after = field.trim_start_matches(|c: char| c.is_ascii_lowercase());
    let together: String = members.values().map(|m| m.trim_end_matches(digits_after)).collect();
    if format!("{together}{digits_after}") == field {
        return true;
    }
    // counted from 0, from 1 or from A: as most of them are
    let fits =
        |zero: u32, i: usize, name: &str| u32::try_from(i).is_ok_and(|i| counts(&field, name).contains(&(zero + i)));
    let zeros = [0, 1, u32::from(b'a')];
    let best = zeros.into_iter().max_by_key(|&zero| members.iter().filter(|(i, name)| fits(zero, **i, name)).count());
    best.is_some_and(|zero| fits(zero, index, &name))
}

/// A pin's name as a field would spell it: small letters, a leading number behind them, `'` as `prime`.
fn spelled(name: &str) -> String {
    let name = name.to_ascii_lowercase().replace('\'', "prime");
    let name: String = name.chars().filter(char::is_ascii_alphanumeric).collect();
    let digits = name.bytes().take_while(u8::is_ascii_digit).count();
    let (number, rest) = name.split_at(digits);
    format!("{rest}{number}")
}

/// What the name counts to if it is the field's name with a number or a letter put in.
fn counts(field: &str, name: &str) -> Vec<u32> {
    let mut found = Vec::new();
    for (at, _) in name.char_indices() {
        for length in 1..=2 {
            let (Some(before), Some(taken), Some(after)) =
                (name.get(..at), name.get(at..at + length), name.get(at + length..))
            else {
                continue;
            };
            if format!("{before}{after}") != field {
                continue;
            }
            let letter = taken.bytes().next().filter(|b| length == 1 && b.is_ascii_lowercase());
            found.extend(letter.map(u32::from).or_else(|| taken.parse().ok()));
        }
    }
    found
}

/// `y[3]` is the fourth element of `y`.
fn element(name: &str) -> Option<(&str, usize)> {
    let (field, rest) = name.split_once('[')?;
    Some((field, rest.strip_suffix(']')?.parse().ok()?))
}
