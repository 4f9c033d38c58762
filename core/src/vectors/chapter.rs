//! The report's chapter on test vectors: how many, what they would find, and what they can't.
use crate::report::Chapter;

use super::Vectors;

/// What there is to say of the vectors; the vectors themselves stand in their own file.
pub fn chapter(vectors: &Vectors) -> Chapter {
    let untested: Vec<String> = vectors.untested.iter().map(ToString::to_string).collect();
    let chapter = Chapter::new("Test vectors").paragraph(format!(
        "The fuse file carries {} test vectors, which a device programmer applies after it has programmed the part; \
         vectors.csv lists them pin by pin. In what they would find, {}.",
        vectors.list.len(),
        vectors.coverage
    ));
    let chapter = if untested.is_empty() {
        chapter
    } else {
        chapter.paragraph(format!("No vector tests pins {}: what they show never becomes known.", untested.join(", ")))
    };
    chapter.paragraph("They test levels at rest, slowly: a part that passes may still be too slow or weak.")
}
