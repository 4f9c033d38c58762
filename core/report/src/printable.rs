//! Text from anywhere, made fit to print: nothing invisible, nothing that turns the direction of what follows.
use std::fmt::{self, Write};

use maud::{Escaper, Render};

/// A text as it is written into the page: escaped, with control and direction characters made visible by their number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Printable<T>(pub(super) T);

/// A name in running text: printable, and isolated from the direction of what stands around it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Name<T>(pub(super) T);

/// A sentence: printable, with names between backquotes set as code.
#[derive(Clone, Copy, Debug)]
pub(super) struct Prose<T>(pub(super) T);

impl<T: fmt::Display> Render for Prose<T> {
    fn render_to(&self, page: &mut String) {
        let text = self.0.to_string();
        let pieces: Vec<&str> = text.split('`').collect();
        // an odd backquote is no pair
        if pieces.len().is_multiple_of(2) {
            return Printable(&text).render_to(page);
        }
        for (k, piece) in pieces.into_iter().enumerate() {
            let is_name = k % 2 == 1;
            if is_name {
                page.push_str("<code>");
            }
            Printable(piece).render_to(page);
            if is_name {
                page.push_str("</code>");
            }
        }
    }
}

impl<T: fmt::Display> Render for Printable<T> {
    fn render_to(&self, page: &mut String) {
        // writing into a text never fails
        let _ = write!(Escaper::new(page), "{}", visible(&self.0.to_string()));
    }
}

impl<T: fmt::Display> Render for Name<T> {
    fn render_to(&self, page: &mut String) {
        page.push_str(if is_long(&self.0.to_string()) { "<bdi class=\"long\">" } else { "<bdi>" });
        Printable(&self.0).render_to(page);
        page.push_str("</bdi>");
    }
}

/// Control characters, characters that turn the direction of text, and characters that no page may hold, as `⟨U+202E⟩`.
/// Line ends stay.
pub(super) fn visible(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        let turns = matches!(c, '\u{061C}' | '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FEFF}');
        if (c.is_control() && c != '\n') || turns || matches!(c, '\u{FFFE}' | '\u{FFFF}') {
            let _ = write!(shown, "⟨U+{:04X}⟩", u32::from(c));
        } else {
            shown.push(c);
        }
    }
    shown
}

/// Whether a word in it is so long that it may be broken anywhere.
pub(super) fn is_long(text: &str) -> bool {
    text.split_whitespace().any(|word| word.chars().count() > 24)
}

/// At most this many characters, the last one `…` if it was longer.
pub(super) fn short(text: &str, most: usize) -> String {
    let shown = visible(text);
    if shown.chars().count() <= most {
        return shown;
    }
    shown.chars().take(most.saturating_sub(1)).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_text_is_escaped_and_visible() {
        let page = Printable("<script>\"a\" & \u{202E}b\u{0}").render().into_string();
        assert_eq!(page, "&lt;script&gt;&quot;a&quot; &amp; ⟨U+202E⟩b⟨U+0000⟩");
        assert_eq!(Prose("a `<b>` c").render().into_string(), "a <code>&lt;b&gt;</code> c");
        assert_eq!(Prose("a `b c").render().into_string(), "a `b c");
        assert_eq!(Name("x").render().into_string(), "<bdi>x</bdi>");
    }

    #[test]
    fn long_text_is_cut_by_characters() {
        assert_eq!(short("äöü", 3), "äöü");
        assert_eq!(short("äöüß", 3), "äö…");
    }
}
