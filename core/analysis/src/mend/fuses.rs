//! Single changes of a fuse map: what one slip in it, or in what made it, would have blown otherwise.
use gluewright_devices::device::{Device, EnableSource, Function, Literal, Macrocell, Mode};
use gluewright_devices::fusefile::Fuses;

/// A fuse map with one change.
pub(super) struct FuseChange {
    /// What kind of change it is, in words.
    pub(super) kind: &'static str,
    /// The change in words, as it reads after it was made.
    pub(super) words: String,
    pub(super) fuses: Fuses,
}

/// The changes of whole terms and macrocells: drivers first, then how macrocells are set up, then terms.
pub(super) fn whole(device: &Device, fuses: &Fuses) -> Vec<FuseChange> {
    let Ok((_, mode)) = device.mode_of(fuses) else { return Vec::new() };
    let mut lister = Lister { device, mode, fuses, all: Vec::new() };
    for macrocell in &mode.macrocells {
        lister.driver(macrocell);
    }
    for macrocell in &mode.macrocells {
        lister.macrocell(macrocell);
    }
    for (row, what) in
        [(mode.reset, "the term that resets all registers"), (mode.preset, "the term that sets all registers")]
    {
        if let Some(row) = row {
            lister.dropped(row, what);
        }
    }
    if let Some(first) = device.term_enables {
        for (row, what) in lister.used_rows() {
            let state = fuses.get(first + row) == Some(true);
            let words = format!("{what} is {}", if state { "switched off" } else { "usable" });
            lister.set("a term switched", words, [first + row], |_| !state);
        }
    }
    lister.all
}

/// The changes of single links, a signal at its other level first.
pub(super) fn single(device: &Device, fuses: &Fuses) -> Vec<FuseChange> {
    let Ok((_, mode)) = device.mode_of(fuses) else { return Vec::new() };
    let mut lister = Lister { device, mode, fuses, all: Vec::new() };
    let rows = lister.used_rows();
    for (row, what) in &rows {
        lister.turned(*row, what);
    }
    for (row, what) in &rows {
        lister.links(*row, what);
    }
    lister.all
}

struct Lister<'d> {
    device: &'d Device,
    mode: &'d Mode,
    fuses: &'d Fuses,
    all: Vec<FuseChange>,
}

impl Lister<'_> {
    /// Sets these fuses, if that changes anything.
    fn set(
        &mut self,
        kind: &'static str,
        words: String,
        at: impl IntoIterator<Item = usize>,
        state: impl Fn(usize) -> bool,
    ) {
        let mut fuses = self.fuses.clone();
        let mut changed: Vec<usize> = Vec::new();
        let mut ends = (usize::MAX, 0);
        for fuse in at {
            ends = (ends.0.min(fuse), ends.1.max(fuse));
            if fuses.get(fuse).is_some_and(|was| was != state(fuse)) {
                fuses.set(fuse, state(fuse));
                changed.push(fuse);
            }
        }
        let said = match changed.as_slice() {
            [] => return,
            [one] => format!("fuse {one} at {} instead of {}", u8::from(state(*one)), u8::from(!state(*one))),
            many if many.iter().all(|&f| state(f) == state(many[0])) && many.len() > 4 => {
                format!("all of fuses {} to {} at {}", ends.0, ends.1, u8::from(state(many[0])))
            }
            many => {
                let each: Vec<String> = many.iter().map(|&f| format!("{f} at {}", u8::from(state(f)))).collect();
                format!("fuses {}", each.join(", "))
            }
        };
        self.all.push(FuseChange { kind, words: format!("{words}: {said}"), fuses });
    }

    fn row(&self, row: usize) -> std::ops::Range<usize> {
        self.device.array_fuse(row, 0)..self.device.array_fuse(row + 1, 0)
    }

    fn driver(&mut self, macrocell: &Macrocell) {
        let Ok(configuration) = self.device.configuration_of(self.mode, macrocell, self.fuses) else { return };
        let EnableSource::Row(row) = configuration.enable else { return };
        let pin = macrocell.pin;
        let fuses = self.row(row);
        let kind = "a driver turned off, or always on";
        self.set(kind, format!("the driver of pin {pin} is off"), fuses.clone(), |_| false);
        self.set(kind, format!("the driver of pin {pin} is always on"), fuses, |_| true);
    }

    fn macrocell(&mut self, macrocell: &Macrocell) {
        let Ok(now) = self.device.configuration_of(self.mode, macrocell, self.fuses) else { return };
        let pin = macrocell.pin;
        if let Some(fuse) = macrocell.polarity {
            let state = self.fuses.get(fuse) == Some(true);
            self.set("the other polarity of a pin", format!("pin {pin} shows its other level"), [fuse], |_| !state);
        }
        for other in macrocell.configurations.iter().filter(|c| c.function != now.function) {
            let words = format!("the macrocell at pin {pin} is {} instead of {}", other.function, now.function);
            let state = |fuse: usize| other.fuses.iter().any(|&(f, high)| f == fuse && high);
            self.set("a macrocell set up otherwise", words, other.fuses.iter().map(|f| f.0), state);
        }
        if now.function != Function::Input {
            let first = now.rows.start;
            for row in now.rows.clone() {
                self.dropped(row, &format!("product term {} of pin {pin}", row - first + 1));
            }
        }
    }

    fn dropped(&mut self, row: usize, what: &str) {
        let fuses = self.row(row);
        self.set("a product term dropped", format!("{what} is never true"), fuses, |_| false);
    }

    /// The rows whose terms can be true, with their names.
    fn used_rows(&self) -> Vec<(usize, String)> {
        let is_used = |row: usize| self.row(row).any(|fuse| self.fuses.get(fuse) == Some(true));
        let named = |row: usize| {
            let fuse = self.device.array_fuse(row, 0);
            match self.device.meaning(self.fuses, fuse) {
                gluewright_devices::device::Meaning::Link { term, .. }
                    if term != gluewright_devices::device::TermUse::Nothing =>
                {
                    Some((row, term.to_string()))
                }
                _ => None,
            }
        };
        (0..self.device.rows).filter(|&row| is_used(row)).filter_map(named).collect()
    }

    /// A signal of a term at its other level.
    fn turned(&mut self, row: usize, what: &str) {
        for (pair, &source) in self.mode.columns.iter().enumerate() {
            let [plain, complement] = [0, 1].map(|side| self.device.array_fuse(row, 2 * pair + side));
            let linked = [plain, complement].map(|fuse| self.fuses.get(fuse) == Some(false));
            if linked[0] == linked[1] {
                continue;
            }
            let [now, then] = [linked[1], linked[0]].map(|complement| Literal { source, complement });
            let words = format!("{what} reads {then} instead of {now}");
            self.set("a signal of a term at its other level", words, [plain, complement], |fuse| {
                linked[usize::from(fuse == complement)]
            });
        }
    }

    /// Single links.
    fn links(&mut self, row: usize, what: &str) {
        for (pair, &source) in self.mode.columns.iter().enumerate() {
            for complement in [false, true] {
                let fuse = self.device.array_fuse(row, 2 * pair + usize::from(complement));
                let is_linked = self.fuses.get(fuse) == Some(false);
                let verb = if is_linked { "does not read" } else { "also reads" };
                let words = format!("{what} {verb} {}", Literal { source, complement });
                self.set("a single fuse of a term", words, [fuse], |_| is_linked);
            }
        }
    }
}
