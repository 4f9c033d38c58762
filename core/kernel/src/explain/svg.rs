//! An explanation's waveform as SVG: black lines on nothing, no identifiers, so that a page can hold several.
use std::fmt::Write;

use crate::simulate::Shown;

use super::{Explanation, Side, Waveform};

const LEFT: usize = 236;
const STEP: usize = 60;
const ROW: usize = 34;
const HEAD: usize = 30;
const RIGHT: usize = 76;
/// The legend's width.
const NARROWEST: usize = 500;

impl Explanation {
    /// The waveform as an SVG picture of its own, with a title.
    pub fn svg(&self) -> String {
        let title = format!("Where {} differs from {}", self.replacement, self.original);
        self.waveform.svg(&title)
    }
}

impl Waveform {
    /// The waveform as an SVG picture. A row is dashed where only a resistor holds its level and dotted where nothing
    /// does; a box stands around what differs.
    pub fn svg(&self, title: &str) -> String {
        let (columns, rows) = (self.columns.len(), self.rows.len());
        let (width, height) = ((LEFT + columns * STEP + RIGHT).max(NARROWEST), HEAD + rows * ROW + 34);
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
             role=\"img\" font-family=\"sans-serif\" font-size=\"13\" fill=\"none\" stroke=\"none\">\n<title>{}</title>\n",
            escape(title)
        );
        let text = |out: &mut String, x: usize, y: usize, anchor: &str, extra: &str, of: &str| {
            let _ = writeln!(
                out,
                "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\" fill=\"#000\"{extra}>{}</text>",
                escape(of)
            );
        };
        let bottom = HEAD + rows * ROW;
        let mut before = None;
        for (k, c) in self.columns.iter().enumerate() {
            let x = LEFT + k * STEP;
            if before != Some(c.step) {
                let _ = writeln!(out, "<path d=\"M{x} {HEAD}V{bottom}\" stroke=\"#999\" stroke-width=\"0.7\"/>");
                let label = if c.step == 0 { "power on".to_owned() } else { c.step.to_string() };
                text(&mut out, x + 4, 18, "start", "", &label);
            }
            before = Some(c.step);
        }
        text(&mut out, 8, 18, "start", " font-style=\"italic\"", "contact");
        let mut last = None;
        for (i, r) in self.rows.iter().enumerate() {
            let top = HEAD + i * ROW;
            let fresh = last != Some(&r.label);
            last = Some(&r.label);
            if fresh {
                let _ = writeln!(out, "<path d=\"M8 {top}H{}\" stroke=\"#ccc\" stroke-width=\"0.7\"/>", width - 8);
                text(&mut out, 36, top + 16, "end", " font-weight=\"bold\"", r.label.as_str());
                text(&mut out, 44, top + 16, "start", "", &shorten(&r.name, 14));
            }
            let side = match r.side {
                Side::Board => "board",
                Side::Original => "original",
                Side::Replacement => "replacement",
                Side::Card => "card",
                Side::Both => "both",
            };
            text(&mut out, LEFT - 8, top + 15, "end", " font-size=\"11\"", side);
            if !r.pins.is_empty() {
                text(&mut out, LEFT - 8, top + 28, "end", " font-size=\"10\"", &shorten(&r.pins.join(", "), 24));
            }
            self.line(&mut out, top, &r.shown, &r.either);
            if r.side == Side::Original {
                self.boxes(&mut out, top, &r.differs);
            }
        }
        let _ = writeln!(out, "<path d=\"M8 {bottom}H{}\" stroke=\"#ccc\" stroke-width=\"0.7\"/>", width - 8);
        text(&mut out, 8, bottom + 20, "start", " font-size=\"11\"", &self.legend());
        out.push_str("</svg>\n");
        out
    }

    /// What the lines mean; only of those that are there.
    fn legend(&self) -> String {
        let shown = |wanted: &[Shown]| self.rows.iter().flat_map(|r| &r.shown).any(|s| wanted.contains(s));
        let mut legend = "upper line high, lower line low".to_owned();
        if self.rows.iter().any(|r| r.either.contains(&true)) {
            legend.push_str(", both: either");
        }
        if shown(&[Shown::Floating]) {
            legend.push_str(", dotted in the middle: not driven");
        }
        if shown(&[Shown::PulledHigh, Shown::PulledLow]) {
            legend.push_str(", dashed: held by a resistor only");
        }
        legend
    }

    fn line(&self, out: &mut String, top: usize, shown: &[Shown], either: &[bool]) {
        let y = |s: Shown| match s {
            Shown::High | Shown::PulledHigh => top + 8,
            Shown::Low | Shown::PulledLow => top + 26,
            Shown::Floating => top + 17,
        };
        for (k, &now) in shown.iter().enumerate() {
            let x = LEFT + k * STEP;
            let before = k.checked_sub(1).and_then(|b| shown.get(b)).copied();
            if either.get(k) == Some(&true) {
                for y in [y(Shown::High), y(Shown::Low)] {
                    let _ = writeln!(out, "<path d=\"M{x} {y}H{}\" stroke=\"#000\" stroke-width=\"1.6\"/>", x + STEP);
                }
                continue;
            }
            let dash = match now {
                Shown::High | Shown::Low => "",
                Shown::Floating => " stroke-dasharray=\"2 4\"",
                Shown::PulledHigh | Shown::PulledLow => " stroke-dasharray=\"8 4\"",
            };
            let edge = match before {
                Some(b) if y(b) != y(now) => 6,
                _ => 0,
            };
            if let Some(b) = before.filter(|_| edge > 0) {
                let _ = writeln!(
                    out,
                    "<path d=\"M{x} {}L{} {}\" stroke=\"#000\" stroke-width=\"1.6\"/>",
                    y(b),
                    x + edge,
                    y(now)
                );
            }
            let _ = writeln!(
                out,
                "<path d=\"M{} {}H{}\" stroke=\"#000\" stroke-width=\"1.6\"{dash}/>",
                x + edge,
                y(now),
                x + STEP
            );
        }
    }

    /// A box over the row of the original and that of the replacement below it, around each stretch that differs.
    fn boxes(&self, out: &mut String, top: usize, differs: &[bool]) {
        let mut k = 0;
        while k < differs.len() {
            let run = differs.iter().skip(k).take_while(|&&d| d).count();
            if run > 0 {
                let (x, w) = (LEFT + k * STEP + 2, run * STEP - 1);
                let (y, h) = (top + 2, 2 * ROW - 4);
                let _ = writeln!(
                    out,
                    "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" stroke=\"#000\" stroke-width=\"1.2\" stroke-dasharray=\"4 2\"/>"
                );
                if k + run == differs.len() {
                    let _ = writeln!(
                        out,
                        "<text x=\"{}\" y=\"{}\" fill=\"#000\" font-weight=\"bold\">differs</text>",
                        x + w + 8,
                        top + ROW + 5
                    );
                }
            }
            k += run.max(1);
        }
    }
}

fn shorten(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most.saturating_sub(1)).chain(['…']).collect()
}

fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // what XML can't hold at all
            c if c.is_control() => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}
