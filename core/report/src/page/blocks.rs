//! Chapters that other rooms wrote.
use maud::{Markup, PreEscaped, html};

use crate::printable::{Printable as P, Prose, is_long};
use crate::{Block, Chapter};

pub(super) fn chapter(chapter: &Chapter) -> Markup {
    html! {
        section {
            h2 { (P(&chapter.title)) }
            @for block in &chapter.blocks {
                @match block {
                    Block::Paragraph(text) => p { (Prose(text)) },
                    Block::List(items) => ul { @for item in items { li { (Prose(item)) } } },
                    Block::Table { caption, head, rows } => table {
                        @if !caption.is_empty() { caption { (P(caption)) } }
                        thead { tr { @for cell in head { th { (P(cell)) } } } }
                        tbody { @for row in rows { tr { @for cell in row { td class=(class(cell)) { (P(cell)) } } } } }
                    },
                    Block::Drawing(svg) => figure { (PreEscaped(svg)) },
                }
            }
        }
    }
}

/// How a cell may be broken: a long word anywhere, a few words not at all.
fn class(cell: &str) -> &'static str {
    const FEW: usize = 16;
    match (is_long(cell), cell.chars().count() <= FEW) {
        (true, _) => "long",
        (false, true) => "short",
        (false, false) => "",
    }
}
