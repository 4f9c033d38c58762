//! What other rooms add to the report: a chapter of paragraphs, lists, tables and drawings, as data.

/// A chapter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chapter {
    /// Its heading.
    pub title: String,
    /// Its content, in order.
    pub blocks: Vec<Block>,
}

/// A piece of a chapter. All texts are escaped when the page is written.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Block {
    /// A paragraph.
    Paragraph(String),
    /// A list of remarks.
    List(Vec<String>),
    /// A table: its head, and rows of as many cells.
    Table {
        /// What the table shows.
        caption: String,
        /// Heads of the columns.
        head: Vec<String>,
        /// The rows.
        rows: Vec<Vec<String>>,
    },
    /// A drawing of this project's own making: a whole `<svg>` element. It is written as it is, so whoever makes it
    /// escapes what is not its own.
    Drawing(String),
}

impl Chapter {
    /// A chapter without content.
    pub fn new(title: impl Into<String>) -> Self {
        Chapter { title: title.into(), blocks: Vec::new() }
    }

    /// The same with a paragraph more.
    #[must_use]
    pub fn paragraph(mut self, text: impl Into<String>) -> Self {
        self.blocks.push(Block::Paragraph(text.into()));
        self
    }

    /// The same with a list more, unless it is empty.
    #[must_use]
    pub fn list(mut self, items: impl IntoIterator<Item = String>) -> Self {
        let items: Vec<String> = items.into_iter().collect();
        if !items.is_empty() {
            self.blocks.push(Block::List(items));
        }
        self
    }

    /// The same with a table more.
    #[must_use]
    pub fn table(mut self, caption: impl Into<String>, head: &[&str], rows: Vec<Vec<String>>) -> Self {
        let head = head.iter().map(|&h| h.to_owned()).collect();
        self.blocks.push(Block::Table { caption: caption.into(), head, rows });
        self
    }
}
