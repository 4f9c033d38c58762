//! Looks at circuits: what drives a net, and what an expression is for given levels. Written for these tests alone, so
//! that nothing of the crate's own evaluation is believed.
use std::collections::HashMap;

use gluewright::circuit::{Circuit, Driver, Element, Expr, Op};

/// The level of an expression when nets and elements have these levels, by name; an element's complement is its inverse.
pub(crate) fn level(c: &Circuit, e: Expr, of: &HashMap<String, bool>) -> bool {
    let read = |name: &str| *of.get(name).unwrap_or_else(|| panic!("no level for {name}"));
    match c.op(e) {
        Op::Constant(high) => high,
        Op::Net(n) => read(&c.nets()[n.index()].name),
        Op::Q(x) => read(&c.elements()[x.index()].name),
        Op::QInverted(x) => !read(&c.elements()[x.index()].name),
        Op::Not(a) => !level(c, a, of),
        Op::And(a, b) => level(c, a, of) & level(c, b, of),
        Op::Or(a, b) => level(c, a, of) | level(c, b, of),
        Op::Xor(a, b) => level(c, a, of) ^ level(c, b, of),
        Op::Choose(w, a, b) => level(c, if level(c, w, of) { a } else { b }, of),
    }
}

/// The levels for each combination of the nets and elements that an expression may read.
pub(crate) fn table(names: &[&str]) -> impl Iterator<Item = HashMap<String, bool>> {
    let names: Vec<String> = names.iter().map(|n| (*n).to_owned()).collect();
    (0..1u32 << names.len())
        .map(move |row| names.iter().enumerate().map(|(i, n)| (n.clone(), row >> i & 1 == 1)).collect())
}

/// Checks an expression against its meaning, for all levels of what it reads.
#[track_caller]
pub(crate) fn means(c: &Circuit, e: Expr, names: &[&str], meaning: impl Fn(&dyn Fn(&str) -> bool) -> bool) {
    for of in table(names) {
        assert_eq!(level(c, e, &of), meaning(&|name| of[name]), "for {of:?}");
    }
}

/// The only driver of a net.
#[track_caller]
pub(crate) fn driver<'a>(c: &'a Circuit, net: &str) -> &'a Driver {
    let id = c.find_net(net).unwrap_or_else(|| panic!("no net {net}"));
    match c.nets()[id.index()].drivers.as_slice() {
        [driver] => driver,
        drivers => panic!("{net} has {} drivers", drivers.len()),
    }
}

#[track_caller]
pub(crate) fn element<'a>(c: &'a Circuit, name: &str) -> &'a Element {
    let id = c.find_element(name).unwrap_or_else(|| panic!("no element {name}"));
    &c.elements()[id.index()]
}
