//! Lines, boxes and words of a drawing. Everything that is written is escaped, everything drawn is black on white.
use std::fmt::Write;

use super::super::printable::{Printable, short};
use maud::Render;

/// A drawing as it grows.
#[derive(Debug, Default)]
pub(crate) struct Pen {
    body: String,
    /// What every text has around it, as attributes.
    around: &'static str,
}

/// Where a text is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Hold {
    Start,
    Middle,
    End,
}

/// How a text looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Look {
    /// A name.
    Plain,
    /// What must be seen first.
    Strong,
    /// A remark.
    Small,
}

impl Pen {
    /// One whose texts keep lines behind them at a distance.
    pub(crate) fn over_lines() -> Pen {
        let around = r#" stroke="white" stroke-width="3" stroke-linejoin="round" paint-order="stroke""#;
        Pen { around, ..Pen::default() }
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64)) {
        let ((x1, y1), (x2, y2)) = (from, to);
        let _ =
            write!(self.body, r#"<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="black" stroke-width="1.2"/>"#);
    }

    /// A curve that is drawn towards a point (a quadratic Bézier curve).
    pub(crate) fn curve(&mut self, from: (f64, f64), by: (f64, f64), to: (f64, f64)) {
        let rounded = |v: f64| (v * 100.0).round() / 100.0;
        let [x1, y1, bx, by, x2, y2] = [from.0, from.1, by.0, by.1, to.0, to.1].map(rounded);
        self.path(&format!("M{x1} {y1} Q{bx} {by} {x2} {y2}"), false);
    }

    pub(crate) fn thick(&mut self, from: (f64, f64), to: (f64, f64)) {
        let ((x1, y1), (x2, y2)) = (from, to);
        let _ =
            write!(self.body, r#"<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="black" stroke-width="2.4"/>"#);
    }

    pub(crate) fn rectangle(&mut self, at: (f64, f64), size: (f64, f64), round: f64, dashed: bool) {
        let ((x, y), (w, h)) = (at, size);
        let dash = if dashed { r#" stroke-dasharray="3 3""# } else { "" };
        let _ = write!(
            self.body,
            r#"<rect x="{x}" y="{y}" width="{w}" height="{h}" rx="{round}" fill="white" stroke="black" stroke-width="1.2"{dash}/>"#
        );
    }

    /// A path by its data: moves, lines and arcs.
    pub(crate) fn path(&mut self, data: &str, filled: bool) {
        let fill = if filled { "black" } else { "none" };
        let _ = write!(self.body, r#"<path d="{data}" fill="{fill}" stroke="black" stroke-width="1.2"/>"#);
    }

    /// What is drawn until [`close`](Pen::close) is shifted and turned: to this place, by so many degrees.
    pub(crate) fn open(&mut self, to: (f64, f64), degrees: f64) {
        let _ = write!(self.body, r#"<g transform="translate({} {}) rotate({degrees})">"#, to.0, to.1);
    }

    pub(crate) fn close(&mut self) {
        self.body.push_str("</g>");
    }

    pub(crate) fn dot(&mut self, at: (f64, f64), radius: f64) {
        let _ = write!(self.body, r#"<circle cx="{}" cy="{}" r="{radius}" fill="black"/>"#, at.0, at.1);
    }

    /// A filled arrow head that points along the x axis: to the right, or to the left.
    pub(crate) fn arrow(&mut self, tip: (f64, f64), right: bool) {
        let (x, y) = tip;
        let back = if right { x - 7.0 } else { x + 7.0 };
        self.path(&format!("M{x} {y} L{back} {} L{back} {} Z", y - 3.5, y + 3.5), true);
    }

    /// A text of at most `most` characters; a longer one is cut, and whole in its title.
    pub(crate) fn text(&mut self, at: (f64, f64), hold: Hold, look: Look, text: &str, most: usize) {
        let anchor = match hold {
            Hold::Start => "start",
            Hold::Middle => "middle",
            Hold::End => "end",
        };
        let (size, weight, style) = match look {
            Look::Plain => (13, "normal", "normal"),
            Look::Strong => (13, "bold", "normal"),
            Look::Small => (11, "normal", "italic"),
        };
        let cut = short(text, most);
        let _ = write!(
            self.body,
            r#"<text x="{}" y="{}" text-anchor="{anchor}" font-size="{size}" font-weight="{weight}" font-style="{style}" direction="ltr" unicode-bidi="isolate"{}>"#,
            at.0, at.1, self.around
        );
        if cut.ends_with('…') {
            self.body.push_str("<title>");
            Printable(text).render_to(&mut self.body);
            self.body.push_str("</title>");
        }
        Printable(&cut).render_to(&mut self.body);
        self.body.push_str("</text>");
    }

    /// A contact's label in its box, around this middle.
    pub(crate) fn contact(&mut self, middle: (f64, f64), label: &str, dashed: bool) {
        let (x, y) = middle;
        let width = box_width(label);
        self.rectangle((x - width / 2.0, y - 8.5), (width, 17.0), 3.0, dashed);
        self.text((x, y + 4.5), Hold::Middle, Look::Strong, label, 8);
    }

    /// The whole drawing.
    pub(crate) fn finish(self, width: f64, height: f64, title: &str) -> String {
        let mut svg = String::new();
        let _ = write!(
            svg,
            r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" font-family="'Liberation Sans', Arial, Helvetica, sans-serif"><title>"#
        );
        Printable(title).render_to(&mut svg);
        svg.push_str("</title>");
        svg.push_str(&self.body);
        svg.push_str("</svg>");
        svg
    }
}

/// How wide the box around a contact's label is.
pub(super) fn box_width(label: &str) -> f64 {
    let characters = label.chars().count().clamp(2, 8);
    8.0 + 8.5 * f64::from(u8::try_from(characters).unwrap_or(8))
}
