//! The macrocells of one block: who gets which, with the neighbours whose terms it borrows, and a pin where it drives one.
use super::Site;
use super::pins::Pins;

/// The most steps of one search.
const STEPS: usize = 20_000;

/// Where a need is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Place {
    /// Its macrocell, counted from 1.
    pub(super) macrocell: u16,
    /// The macrocells just before it whose terms it takes.
    pub(super) borrowed: Vec<u16>,
}

/// What has to go into a block.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    /// Index of the need.
    pub(super) need: usize,
    /// Macrocells that it takes.
    pub(super) span: usize,
    /// Whether it drives a pin.
    pub(super) output: bool,
    /// The pin that would need no crossing wire.
    pub(super) number: Option<u16>,
}

/// Finds a macrocell for every piece in the block that begins after macrocell `first`; `None` if there is none, or none
/// was found within the steps.
pub(super) fn arrange(site: Site<'_>, pins: &Pins, first: u16, pieces: &[Piece]) -> Option<Vec<(usize, Place)>> {
    let size = site.blocks.block.value;
    let mut order: Vec<Piece> = pieces.to_vec();
    order.sort_by_key(|p| (pins.lock(site, p.need).is_none(), std::cmp::Reverse(p.span), !p.output, p.need));
    let mut search = Search { site, pins, first, order, taken: vec![false; size], at: Vec::new(), steps: STEPS };
    search.go(0).then(|| {
        let places = search.order.iter().zip(&search.at);
        places
            .map(|(piece, &slot)| {
                let macrocell = first + slot as u16 + 1;
                let borrowed = (macrocell + 1 - piece.span as u16..macrocell).collect();
                (piece.need, Place { macrocell, borrowed })
            })
            .collect()
    })
}

struct Search<'a> {
    site: Site<'a>,
    pins: &'a Pins,
    first: u16,
    order: Vec<Piece>,
    taken: Vec<bool>,
    at: Vec<usize>,
    steps: usize,
}

impl Search<'_> {
    fn go(&mut self, index: usize) -> bool {
        let Some(&piece) = self.order.get(index) else { return true };
        for slot in self.slots(piece) {
            if self.steps == 0 {
                return false;
            }
            self.steps -= 1;
            self.mark(slot, piece.span, true);
            self.at.push(slot);
            if self.go(index + 1) {
                return true;
            }
            self.at.pop();
            self.mark(slot, piece.span, false);
        }
        false
    }

    fn mark(&mut self, slot: usize, span: usize, taken: bool) {
        self.taken.iter_mut().take(slot + 1).skip(slot + 1 - span).for_each(|t| *t = taken);
    }

    /// The places of a piece, the best first: an output takes a pin, a buried one rather a macrocell without.
    fn slots(&self, piece: Piece) -> Vec<usize> {
        let blocks = self.site.blocks;
        let lock = self.pins.lock(self.site, piece.need);
        let pin = |slot: usize| blocks.macrocells.get(usize::from(self.first) + slot).copied().flatten();
        let fits = |&slot: &usize| {
            let macrocell = self.first + slot as u16 + 1;
            let inside = (slot % blocks.chain.value.max(1)) + 1 >= piece.span;
            let free = inside && self.taken.iter().take(slot + 1).skip(slot + 1 - piece.span).all(|t| !t);
            free && lock.is_none_or(|l| l == macrocell)
                && (!piece.output || self.pins.can_drive(self.site, macrocell, piece.need))
        };
        let mut slots: Vec<usize> = (0..self.taken.len()).filter(fits).collect();
        let useful = |slot: usize| self.pins.can_drive(self.site, self.first + slot as u16 + 1, piece.need);
        slots.sort_by_key(|&slot| {
            let key = if piece.output { pin(slot) != piece.number } else { useful(slot) };
            (key, slot)
        });
        slots
    }
}
