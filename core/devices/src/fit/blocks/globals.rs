//! Which contacts go to the global pins: those that save the most product terms there.
use std::collections::{BTreeMap, BTreeSet};

use super::Site;
use super::locks::Locks;
use super::needs::{Need, Needs};
use crate::device::PinNumber;
use crate::fit::Drive;
use crate::logic::Product;

/// Contacts on global pins, by variable, and what the device offers.
#[derive(Clone, Debug, Default)]
pub(super) struct Globals {
    pins: BTreeMap<usize, PinNumber>,
    clocks: Vec<PinNumber>,
    clear: Option<PinNumber>,
    enables: Vec<PinNumber>,
    terms: usize,
}

impl Globals {
    /// The global pin of a contact.
    pub(super) fn pin_of(&self, variable: usize) -> Option<PinNumber> {
        self.pins.get(&variable).copied()
    }

    /// All global pins in use.
    pub(super) fn used(&self) -> impl Iterator<Item = PinNumber> {
        self.pins.values().copied()
    }

    fn carried(&self, literal: Option<(usize, bool)>, level: bool, on: &[PinNumber]) -> Option<PinNumber> {
        let (variable, value) = literal?;
        self.pin_of(variable).filter(|pin| value == level && on.contains(pin))
    }

    /// The global pin of its clock or latch gate.
    pub(super) fn gate(&self, need: &Need) -> Option<PinNumber> {
        self.carried(literal(need.gate.as_ref()), true, &self.clocks)
    }

    /// The global pin of its clear.
    pub(super) fn clear(&self, need: &Need) -> Option<PinNumber> {
        self.carried(literal(need.clear.as_ref()), false, self.clear.as_slice())
    }

    /// The global pin of its drive condition.
    pub(super) fn enable(&self, need: &Need) -> Option<PinNumber> {
        self.carried(enable(need), false, &self.enables)
    }

    /// The product terms that its lines take.
    pub(super) fn terms_taken(&self, need: &Need) -> usize {
        let gate = need.gate.is_some() && self.gate(need).is_none();
        let clear = need.clear.is_some() && self.clear(need).is_none();
        let enable = matches!(need.drive, Drive::While(_)) && self.enable(need).is_none();
        [gate, clear, need.preset.is_some(), enable].into_iter().filter(|&taken| taken).count()
    }

    /// How many macrocells it takes, with those whose terms it borrows.
    pub(super) fn span(&self, need: &Need) -> usize {
        (self.terms_taken(need) + need.terms.len()).div_ceil(self.terms.max(1)).max(1)
    }

    /// The variables that its terms read in their block; what a global pin carries doesn't count.
    pub(super) fn block_reads(&self, need: &Need) -> BTreeSet<usize> {
        let mut reads: BTreeSet<usize> = need.terms.iter().flat_map(|t| &t.product).map(|(v, _)| *v).collect();
        let line = |product: Option<&Product>| product.into_iter().flatten().map(|(v, _)| *v).collect::<Vec<_>>();
        if self.gate(need).is_none() {
            reads.extend(line(need.gate.as_ref()));
        }
        if self.clear(need).is_none() {
            reads.extend(line(need.clear.as_ref()));
        }
        reads.extend(line(need.preset.as_ref()));
        if let (Drive::While(product), None) = (&need.drive, self.enable(need)) {
            reads.extend(line(Some(product)));
        }
        reads
    }
}

fn literal(product: Option<&Product>) -> Option<(usize, bool)> {
    match product?.as_slice() {
        [one] => Some(*one),
        _ => None,
    }
}

fn enable(need: &Need) -> Option<(usize, bool)> {
    match &need.drive {
        Drive::While(product) => literal(Some(product)),
        Drive::Always | Drive::Never => None,
    }
}

/// Puts contacts on global pins, the one that saves most terms first.
pub(super) fn globals(needs: &Needs, site: Site<'_>, locks: &Locks) -> Globals {
    let blocks = site.blocks;
    let mut globals = Globals {
        pins: BTreeMap::new(),
        clocks: blocks.clocks.clone(),
        clear: blocks.clear,
        enables: blocks.enables.clone(),
        terms: blocks.terms.value,
    };
    let inputs: BTreeSet<usize> = needs.logic.inputs.iter().map(|i| i.variable).collect();
    // contact and kind of use, with how many terms it saves
    let mut uses: BTreeMap<(usize, u8), usize> = BTreeMap::new();
    for need in &needs.list {
        let of = [(literal(need.gate.as_ref()), true), (literal(need.clear.as_ref()), false), (enable(need), false)];
        for (kind, (literal, level)) in (0..).zip(of) {
            if let Some((variable, value)) = literal
                && value == level
                && inputs.contains(&variable)
            {
                *uses.entry((variable, kind)).or_default() += 1;
            }
        }
    }
    let mut uses: Vec<((usize, u8), usize)> = uses.into_iter().collect();
    uses.sort_by_key(|&((variable, kind), saved)| (std::cmp::Reverse(saved), kind, variable));
    for ((variable, kind), _) in uses {
        let offered: Vec<PinNumber> = match kind {
            0 => blocks.clocks.clone(),
            1 => blocks.clear.into_iter().collect(),
            _ => blocks.enables.clone(),
        };
        if globals.pins.contains_key(&variable) {
            continue;
        }
        let lock = locks.input(variable);
        let free = |pin: &PinNumber| {
            !globals.pins.values().any(|p| p == pin) && !site.keeps(*pin) && locks.free_for_input(*pin, variable)
        };
        let chosen = offered.into_iter().filter(|p| lock.is_none_or(|l| l == *p)).find(free);
        if let Some(pin) = chosen {
            globals.pins.insert(variable, pin);
        }
    }
    globals
}
