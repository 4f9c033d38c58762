//! Fuse maps made by literal fuse numbers.
use gluewright::fusefile::Fuses;

/// A fuse map from nothing but numbers: all 0 but what is listed.
pub(crate) struct Map(pub(crate) Fuses);

impl Map {
    pub(crate) fn new(count: usize) -> Self {
        Map(Fuses::new(count, false))
    }

    /// These fuses are 1.
    pub(crate) fn ones(mut self, fuses: impl IntoIterator<Item = usize>) -> Self {
        for f in fuses {
            assert!(self.0.set(f, true), "no fuse {f}");
        }
        self
    }

    /// The row from the first to the last fuse is 1 but for the links at these offsets.
    pub(crate) fn row(mut self, range: std::ops::RangeInclusive<usize>, links: &[usize]) -> Self {
        let first = *range.start();
        for f in range {
            assert!(self.0.set(f, !links.contains(&(f - first))), "no fuse {f}");
        }
        self
    }
}
