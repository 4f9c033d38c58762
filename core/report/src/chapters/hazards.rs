//! The report's chapter on hazards: what was searched, what was found, and what can't be seen in this way.
use gluewright_analysis::hazard::Hazards;

use crate::Chapter;

/// What the search of the device, and of the original if there was one, has to say.
pub fn hazards(device: &Hazards, original: Option<&Hazards>) -> Chapter {
    let words = |of: &Hazards| -> Vec<String> {
        of.list.iter().map(ToString::to_string).chain(of.left_out.iter().cloned()).collect()
    };
    let (own, theirs) = (words(device), original.map(words));
    let mut chapter = Chapter::new("What may shake for a moment").paragraph(
        "Every settling step was searched on the device's product terms, as they are and not simplified: where is a level \
         uncertain on the way although it is the same before and after?",
    );
    chapter = match device.logic().count() {
        0 if device.left_out.is_empty() => {
            chapter.paragraph("No product term is missing: no level of the device shakes for want of one.")
        }
        0 => chapter.paragraph("No product term is missing in what was searched; what was not stands below."),
        n => chapter.paragraph(format!("Product terms are missing at {n} places.")),
    };
    chapter = if own.is_empty() {
        chapter.paragraph("Nothing else of the device depends on which of two changes is the faster.")
    } else {
        chapter.paragraph("On the device, to look at:").list(own)
    };
    chapter = match theirs {
        None => chapter.paragraph("The original was not searched."),
        Some(list) if list.is_empty() => chapter.paragraph("The original has no such place on its gates either."),
        Some(list) => chapter.paragraph("On the original, which worked with them:").list(list),
    };
    chapter.paragraph(
        "Not seen in this way: a clock made of product terms that is to change once and may do so twice. Probe such clocks \
         with a fast scope.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Block;

    #[test]
    fn the_chapter_says_what_was_and_what_was_not_searched() {
        let nothing = Hazards::default();
        let said = |c: &Chapter| -> String {
            let text = |b: &Block| match b {
                Block::Paragraph(text) => text.clone(),
                Block::List(items) => items.join(" "),
                _ => String::new(),
            };
            c.blocks.iter().map(text).collect()
        };
        let clean = said(&hazards(&nothing, Some(&nothing)));
        assert!(clean.contains("No product term is missing") && clean.contains("no such place"), "{clean}");
        assert!(said(&hazards(&nothing, None)).contains("was not searched"));
        let odd = Hazards { left_out: vec!["`x` is beyond the search".to_owned()], ..Hazards::default() };
        let told = said(&hazards(&odd, None));
        assert!(told.contains("`x` is beyond the search") && told.contains("in what was searched"), "{told}");
    }
}
