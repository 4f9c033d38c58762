//! The report's chapter on test vectors: how many, what they would find, and what they can't.
use gluewright_analysis::vectors::Vectors;

use crate::Chapter;

/// What there is to say of the vectors; the vectors themselves stand in their own file.
pub fn vectors(vectors: &Vectors) -> Chapter {
    about("Test vectors".to_owned(), "", vectors)
}

/// The same for one of several devices, by its reference; its files carry it in their names.
pub fn vectors_of(reference: &str, vectors: &Vectors) -> Chapter {
    about(format!("Test vectors of {reference}"), &format!("{}_", reference.to_lowercase()), vectors)
}

fn about(title: String, files: &str, vectors: &Vectors) -> Chapter {
    let untested: Vec<String> = vectors.untested.iter().map(ToString::to_string).collect();
    let coverage = &vectors.coverage;
    let mut chapter = Chapter::new(title).paragraph(format!(
        "The fuse file carries {} test vectors, which a device programmer applies after it has programmed the part; \
         {files}vectors.csv lists them pin by pin. What they would find, were a single fuse in the wrong state: {coverage}.",
        vectors.list.len(),
    ));
    if !coverage.missed.is_empty() {
        chapter = chapter.paragraph(format!(
            "What no vector can find for certain, and why: a tester only sees levels at rest, and of a pin that floats where \
             it ought to have a level it reads what its own open input reads; a pin that comes to depend on itself swings, or \
             settles as delays will have it; and a pin that the device may drive at some moment of a vector is never driven \
             from outside, so what shows only then stays unseen. {files}missed.csv lists these fuses one by one.",
        ));
    }
    let chapter = if untested.is_empty() {
        chapter
    } else {
        chapter.paragraph(format!("No vector tests pins {}: what they show never becomes known.", untested.join(", ")))
    };
    chapter.paragraph("They test levels at rest, slowly: a part that passes may still be too slow or weak.")
}
