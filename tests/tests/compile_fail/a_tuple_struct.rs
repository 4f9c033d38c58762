//! Contacts have names.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card(Input<Data>, Output<Data>);

fn main() {}
