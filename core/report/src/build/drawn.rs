//! The adapter from above and from below: contacts, packages and wires at their places.
use std::collections::HashMap;

use super::places::{Layout, Point, SOCKET};
use crate::drawing::{Hold, Look, Pen};

/// From which side one looks at the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// From the side on which the packages are.
    Components,
    /// From the side on which the wires are: left and right are exchanged.
    Wires,
}

/// So many units of the drawing are a millimetre, to the right and upwards: what is written at the pins needs room.
const SCALE: (f64, f64) = (7.5, 18.0);
/// Around everything, and around a part.
const MARGIN: f64 = 44.0;
const OUTLINE: f64 = 7.0;
/// Under the socket, for the names of its nets; so many characters are written.
const NAMES: f64 = 72.0;
const NAME: usize = 11;

/// The drawing.
pub fn drawing(layout: &Layout, side: Side) -> String {
    let over = |of: fn(f64, f64) -> f64, axis: fn((f64, f64)) -> f64| {
        layout.points.iter().map(|p| axis(p.at)).reduce(of).unwrap_or(0.0)
    };
    let (width, height) = (over(f64::max, |at| at.0) * SCALE.0, over(f64::max, |at| at.1) * SCALE.1);
    let place = |at: (f64, f64)| {
        let x = at.0 * SCALE.0;
        (MARGIN + if side == Side::Components { x } else { width - x }, MARGIN + height - at.1 * SCALE.1)
    };
    let mut pen = Pen::over_lines();
    let mut references: Vec<&str> = layout.points.iter().map(|p| p.reference.as_str()).collect();
    references.dedup();
    let its = |reference: &str| -> Vec<(usize, &Point, (f64, f64))> {
        let points = layout.points.iter().enumerate().filter(|(_, p)| p.reference == reference);
        points.map(|(index, p)| (index, p, place(p.at))).collect()
    };
    // outlines first: wires run over them, and what is written stands over the wires
    let mut names: Vec<((f64, f64), &str)> = Vec::new();
    for reference in &references {
        let all = its(reference);
        let over = |of: fn(f64, f64) -> f64, from: f64, axis: fn((f64, f64)) -> f64| {
            all.iter().map(|(.., at)| axis(*at)).fold(from, of)
        };
        let left = over(f64::min, f64::INFINITY, |at| at.0) - OUTLINE;
        let top = over(f64::min, f64::INFINITY, |at| at.1) - OUTLINE;
        let right = over(f64::max, f64::NEG_INFINITY, |at| at.0) + OUTLINE;
        let bottom = over(f64::max, f64::NEG_INFINITY, |at| at.1) + OUTLINE;
        pen.rectangle((left, top), (right - left, bottom - top), 2.0, true);
        let y = match all.len() {
            _ if *reference == SOCKET => bottom + NAMES + 29.0,
            // a row
            _ if bottom - top < 3.0 * OUTLINE => top - 18.0,
            _ => (top + bottom) / 2.0 + 4.0,
        };
        names.push((((left + right) / 2.0, y), reference));
    }
    let points: Vec<(f64, f64)> = layout.points.iter().map(|p| place(p.at)).collect();
    // of wires along the same rows each is bent a little further than the one before
    let mut bent: HashMap<[i64; 2], u32> = HashMap::new();
    for wire in layout.wires() {
        let [from, to] = wire.ends.map(|end| points.get(end).copied().unwrap_or((0.0, 0.0)));
        let along = bent.entry([from.1, to.1].map(|y| y as i64)).or_default();
        match bend(from, to, &points, *along) {
            Some(by) => {
                pen.curve(from, by, to);
                *along += 1;
            }
            None => pen.line(from, to),
        }
    }
    for reference in references {
        let all = its(reference);
        let (low, high) = all.iter().fold((f64::INFINITY, 0.0_f64), |(l, h), (.., at)| (l.min(at.1), h.max(at.1)));
        let is_upright = matches!(all.as_slice(), [(.., a), (.., b)] if a.0 == b.0);
        for (index, point, at) in all {
            pen.dot(at, 2.5);
            if is_upright {
                pen.text((at.0 + 4.0, at.1 + 4.0), Hold::Start, Look::Small, point.pin.as_str(), 1);
                continue;
            }
            // the pin's name away from the package, the net's name inside; in a row the other way round
            let is_lower = reference == SOCKET || (at.1 > low && at.1 == high);
            pen.text(
                (at.0, at.1 + if is_lower { 18.0 } else { -9.0 }),
                Hold::Middle,
                Look::Small,
                point.pin.as_str(),
                4,
            );
            let (start, hold) = match is_lower {
                _ if reference == SOCKET => (26.0, Hold::End),
                true => (-8.0, Hold::Start),
                false => (8.0, Hold::End),
            };
            pen.open((at.0 + 4.0, at.1 + start), -90.0);
            pen.text((0.0, 0.0), hold, Look::Small, &layout.said_at(index), NAME);
            pen.close();
        }
    }
    for (at, name) in names {
        pen.text(at, Hold::Middle, Look::Strong, name, 8);
    }
    let title = match side {
        Side::Components => "The adapter from the component side",
        Side::Wires => "The adapter from the wiring side: left and right exchanged",
    };
    pen.finish(width + 2.0 * MARGIN, height + NAMES + 2.0 * MARGIN, title)
}

impl Layout {
    /// What is written at a point, so that a wire's ends can be told: the contact, if the net has one, and the net's name.
    fn said_at(&self, point: usize) -> String {
        let at = self.net_at(point);
        let name = at.and_then(|net| self.nets.get(net)).map_or("", |net| net.name.as_str());
        match self.contact_of(at).filter(|contact| *contact != point).and_then(|contact| self.points.get(contact)) {
            Some(contact) => format!("{} {name}", contact.pin),
            None => name.to_owned(),
        }
    }
}

/// So far a wire keeps from pins that it does not end at, in units of the drawing.
const CLEAR: f64 = 5.0;
/// How far a wire is bent out of its way, the least first; a negative one to the other side.
const BENDS: [f64; 8] = [12.0, -12.0, 20.0, -20.0, 30.0, -30.0, 44.0, -44.0];

/// How much further the next wire along the same rows is bent, and how many are.
const APART: f64 = 4.0;
const MOST_APART: u32 = 12;

/// Where a wire that would run over other pins is drawn to instead: the control point of a quadratic curve. Nothing if it is
/// clear of all pins.
fn bend(from: (f64, f64), to: (f64, f64), pins: &[(f64, f64)], nth: u32) -> Option<(f64, f64)> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    if length < CLEAR {
        return None;
    }
    let far = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).hypot(a.1 - b.1);
    let others: Vec<(f64, f64)> =
        pins.iter().copied().filter(|&pin| far(pin, from) > CLEAR && far(pin, to) > CLEAR).collect();
    // a curve goes half as far as its control point
    let control = |by: f64| {
        let middle = ((from.0 + to.0) / 2.0, (from.1 + to.1) / 2.0);
        (middle.0 + 2.0 * by * dy / length, middle.1 - 2.0 * by * dx / length)
    };
    let steps = (length / CLEAR).clamp(8.0, 128.0) as u32;
    let clearance = |by: f64| {
        let c = control(by);
        let at = |t: f64| {
            let of = |a: f64, b: f64, c: f64| a * (1.0 - t) * (1.0 - t) + 2.0 * b * t * (1.0 - t) + c * t * t;
            (of(from.0, c.0, to.0), of(from.1, c.1, to.1))
        };
        let ways = (1..steps).map(|k| at(f64::from(k) / f64::from(steps)));
        ways.flat_map(|way| others.iter().map(move |&pin| far(way, pin))).fold(f64::INFINITY, f64::min)
    };
    if clearance(0.0) >= CLEAR {
        return None;
    }
    let bends = BENDS.map(|by| by + by.signum() * APART * f64::from(nth.min(MOST_APART)));
    let clear = bends.into_iter().find(|&by| clearance(by) >= CLEAR);
    let most = || bends.into_iter().max_by(|a, b| clearance(*a).total_cmp(&clearance(*b)));
    clear.or_else(most).map(control)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wire_along_a_row_of_pins_keeps_clear_of_them() {
        let row: Vec<(f64, f64)> = (0..8).map(|k| (f64::from(k) * 19.0, 100.0)).collect();
        let (first, last) = (row[0], row[7]);
        assert_eq!(bend(first, row[1], &row, 0), None, "nothing lies between neighbours");
        let by = bend(first, last, &row, 0).expect("six pins lie between");
        assert!((by.1 - 100.0).abs() >= 20.0, "{by:?}");
        let next = bend(first, last, &row, 1).expect("bent as well");
        assert!((next.1 - 100.0).abs() > (by.1 - 100.0).abs(), "{next:?} beside {by:?}");
        // down through the row, between two pins
        assert_eq!(bend((28.5, 0.0), (28.5, 200.0), &row, 0), None);
        // two rows: over one of them, not between, if that is clear
        let both: Vec<(f64, f64)> = row.iter().flat_map(|&(x, y)| [(x, y), (x, y + 20.0)]).collect();
        let by = bend(first, last, &both, 0).expect("six pins lie between");
        let top = 100.0 + (by.1 - 100.0) / 2.0;
        assert!(both.iter().all(|p| (p.1 - top).abs() >= CLEAR), "{by:?}");
    }
}
