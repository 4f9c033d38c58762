//! A circuit has contacts.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card;

fn main() {}
