//! Many short lists of numbers in one piece of memory.

/// Lists of numbers, addressed by position.
#[derive(Clone, Debug)]
pub(crate) struct Lists {
    ends: Vec<u32>,
    items: Vec<u32>,
}

impl Default for Lists {
    fn default() -> Lists {
        Lists { ends: vec![0], items: Vec::new() }
    }
}

impl Lists {
    /// The number of lists.
    pub(crate) fn len(&self) -> usize {
        self.ends.len() - 1
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The number of items of all lists together.
    pub(crate) fn total(&self) -> usize {
        self.items.len()
    }

    #[inline]
    pub(crate) fn at(&self, list: usize) -> &[u32] {
        &self.items[self.ends[list] as usize..self.ends[list + 1] as usize]
    }

    #[inline]
    pub(crate) fn size(&self, list: usize) -> usize {
        (self.ends[list + 1] - self.ends[list]) as usize
    }

    /// Appends a list.
    pub(crate) fn push(&mut self, list: impl IntoIterator<Item = u32>) {
        self.items.extend(list);
        self.ends.push(self.items.len() as u32);
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = &[u32]> {
        self.ends.windows(2).map(|w| &self.items[w[0] as usize..w[1] as usize])
    }

    /// For each number below `count`, the lists that hold it.
    pub(crate) fn turned(&self, count: usize) -> Lists {
        let mut ends = vec![0u32; count + 1];
        for &i in &self.items {
            ends[i as usize + 1] += 1;
        }
        for i in 0..count {
            ends[i + 1] += ends[i];
        }
        let mut next = ends.clone();
        let mut items = vec![0u32; self.items.len()];
        for (number, list) in self.iter().enumerate() {
            for &i in list {
                let slot = &mut next[i as usize];
                items[*slot as usize] = number as u32;
                *slot += 1;
            }
        }
        Lists { ends, items }
    }
}

impl<L: IntoIterator<Item = u32>> FromIterator<L> for Lists {
    fn from_iter<I: IntoIterator<Item = L>>(lists: I) -> Lists {
        let mut all = Lists::default();
        for list in lists {
            all.push(list);
        }
        all
    }
}
