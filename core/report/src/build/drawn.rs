//! The adapter from above and from below: contacts, packages and wires at their places.
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

/// So many units of the drawing are a millimetre.
const SCALE: f64 = 7.5;
/// Around everything, and around a part.
const MARGIN: f64 = 44.0;
const OUTLINE: f64 = 7.0;

/// The drawing.
pub fn drawing(layout: &Layout, side: Side) -> String {
    let over = |of: fn(f64, f64) -> f64, axis: fn((f64, f64)) -> f64| {
        layout.points.iter().map(|p| axis(p.at)).reduce(of).unwrap_or(0.0)
    };
    let (width, height) = (over(f64::max, |at| at.0) * SCALE, over(f64::max, |at| at.1) * SCALE);
    let place = |at: (f64, f64)| {
        let x = at.0 * SCALE;
        (MARGIN + if side == Side::Components { x } else { width - x }, MARGIN + height - at.1 * SCALE)
    };
    let mut pen = Pen::default();
    let mut references: Vec<&str> = layout.points.iter().map(|p| p.reference.as_str()).collect();
    references.dedup();
    let its = |reference: &str| -> Vec<(&Point, (f64, f64))> {
        layout.points.iter().filter(|p| p.reference == reference).map(|p| (p, place(p.at))).collect()
    };
    // outlines first: wires run over them
    for reference in &references {
        let all = its(reference);
        let over = |of: fn(f64, f64) -> f64, from: f64, axis: fn((f64, f64)) -> f64| {
            all.iter().map(|(_, at)| axis(*at)).fold(from, of)
        };
        let left = over(f64::min, f64::INFINITY, |at| at.0) - OUTLINE;
        let top = over(f64::min, f64::INFINITY, |at| at.1) - OUTLINE;
        let right = over(f64::max, f64::NEG_INFINITY, |at| at.0) + OUTLINE;
        let bottom = over(f64::max, f64::NEG_INFINITY, |at| at.1) + OUTLINE;
        pen.rectangle((left, top), (right - left, bottom - top), 2.0, true);
        let y = match all.len() {
            _ if *reference == SOCKET => bottom + 22.0,
            0..=2 => top - 18.0,
            _ => (top + bottom) / 2.0 + 4.0,
        };
        pen.text(((left + right) / 2.0, y), Hold::Middle, Look::Strong, reference, 8);
    }
    for wire in layout.wires() {
        let [from, to] = wire.ends.map(|end| layout.points.get(end).map_or((0.0, 0.0), |p| place(p.at)));
        pen.line(from, to);
    }
    for reference in references {
        let all = its(reference);
        for (point, at) in all {
            pen.dot(at, 2.5);
            let y = if reference == SOCKET { at.1 + 18.0 } else { at.1 - 9.0 };
            pen.text((at.0, y), Hold::Middle, Look::Small, point.pin.as_str(), 4);
        }
    }
    let title = match side {
        Side::Components => "The adapter from the component side",
        Side::Wires => "The adapter from the wiring side: left and right exchanged",
    };
    pen.finish(width + 2.0 * MARGIN, height + 2.0 * MARGIN, title)
}
