//! The fuses of one device, and their checksum.

/// The states of all fuses of a device, fuse 0 first. `false` (0 in the file) is a low-resistance link, `true` (1) a
/// high-resistance one.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Default)]
pub struct Fuses(Vec<bool>);

/// `{"count": …, "checksum": "C0DE", "states": "0110…"}`, fuse 0 first.
impl serde::Serialize for Fuses {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct;
        let mut to = to.serialize_struct("Fuses", 3)?;
        to.serialize_field("count", &self.len())?;
        to.serialize_field("checksum", &format!("{:04X}", self.checksum()))?;
        let states: String = self.0.iter().map(|&state| if state { '1' } else { '0' }).collect();
        to.serialize_field("states", &states)?;
        to.end()
    }
}

impl Fuses {
    /// A fuse map of `count` fuses, all in one state.
    pub fn new(count: usize, state: bool) -> Self {
        Fuses(vec![state; count])
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The state of one fuse, if there is such a fuse.
    pub fn get(&self, fuse: usize) -> Option<bool> {
        self.0.get(fuse).copied()
    }

    /// Sets one fuse; `false` if there is no such fuse.
    pub fn set(&mut self, fuse: usize, state: bool) -> bool {
        match self.0.get_mut(fuse) {
            Some(f) => *f = state,
            None => return false,
        }
        true
    }

    /// The states, fuse 0 first.
    pub fn states(&self) -> &[bool] {
        &self.0
    }

    /// The fuse checksum: the fuses as words of eight, the lowest-numbered fuse the least significant bit, summed in 16
    /// bits (JEDEC Standard No. 3-A).
    pub fn checksum(&self) -> u16 {
        checksum(&self.0)
    }
}

impl From<Vec<bool>> for Fuses {
    fn from(states: Vec<bool>) -> Self {
        Fuses(states)
    }
}

/// The 16-bit sum of fuses as words of eight, the first fuse the least significant bit.
pub(super) fn checksum(states: &[bool]) -> u16 {
    (sum(states) & 0xFFFF) as u16
}

/// The whole sum.
pub(super) fn sum(states: &[bool]) -> u64 {
    states.iter().enumerate().filter(|&(_, &state)| state).map(|(i, _)| 1 << (i % 8)).sum()
}
