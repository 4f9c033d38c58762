//! Chapters that other rooms wrote.
use maud::{Markup, PreEscaped, html};

use crate::report::printable::{Printable as P, is_long};
use crate::report::{Block, Chapter};

pub(super) fn chapter(chapter: &Chapter) -> Markup {
    html! {
        section {
            h2 { (P(&chapter.title)) }
            @for block in &chapter.blocks {
                @match block {
                    Block::Paragraph(text) => p { (P(text)) },
                    Block::List(items) => ul { @for item in items { li { (P(item)) } } },
                    Block::Table { caption, head, rows } => table {
                        @if !caption.is_empty() { caption { (P(caption)) } }
                        thead { tr { @for cell in head { th { (P(cell)) } } } }
                        tbody { @for row in rows { tr { @for cell in row { td class=(if is_long(cell) { "long" } else { "" }) { (P(cell)) } } } } }
                    },
                    Block::Drawing(svg) => figure { (PreEscaped(svg)) },
                }
            }
        }
    }
}
