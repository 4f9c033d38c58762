//! Vectors as others read them: in the fuse file, in tables, in the report.
mod chapter;
mod table;

pub use chapter::{chapter, chapter_of};
