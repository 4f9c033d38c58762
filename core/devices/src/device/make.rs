//! What one maker's sheet says of a device: its figures, its limits, its fuses; and the device narrowed to that part.
use std::ops::Range;

use super::{Device, Electrical, Figure, Grade, Provenance, Termination};
use gluewright_kernel::circuit::Start;

/// A maker's type of a device.
#[derive(Clone, Debug, PartialEq)]
pub struct Make {
    /// Who made it, by every name under which it was sold.
    pub makers: &'static [&'static str],
    /// What is printed on the package before the grade, capitals, the most particular first: `GAL22V10D`, `GAL22V10`.
    pub types: &'static [&'static str],
    /// Its speed grades.
    pub grades: Vec<Grade>,
    /// Its limits, as far as they are known.
    pub electrical: Electrical,
    /// How many fuses a fuse file for it holds.
    pub fuses: usize,
    /// The fuses of its user signature, if it has one.
    pub signature: Option<Range<usize>>,
    /// The fuse beyond [`fuses`](Make::fuses) that turns powering down by a pin on, if it has one.
    pub power_down: Option<usize>,
    /// What its registers hold at power-up.
    pub power_up: Start,
    /// What its sheet says beside figures, in whole sentences.
    pub notes: &'static [&'static str],
}

/// The part that a narrowed device is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// Its maker, as the drawer has it, or as the sheet does if the drawer names none.
    pub maker: String,
    /// Its type as it is printed on the package.
    pub full_type: String,
    /// Whether limits, fuses and power-up are those of this part's own sheet.
    pub has_limits: bool,
    /// Whether its grade's figures are.
    pub has_grade: bool,
    /// What the sheet says beside figures.
    pub notes: Vec<&'static str>,
}

impl std::fmt::Display for Part {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.maker.as_str() {
            "" => f.write_str(&self.full_type),
            maker => write!(f, "{maker} {}", self.full_type),
        }
    }
}

impl Device {
    /// The makes that a part with this type on its package may be: those with the longest type that it begins with; if the
    /// package names no more than the generic type, those of this maker.
    pub fn makes_of(&self, maker: &str, full_type: &str) -> Vec<&Make> {
        let printed = full_type.trim().to_uppercase();
        let length = |make: &Make| make.types.iter().filter(|t| begins(&printed, t).is_some()).map(|t| t.len()).max();
        if let Some(longest) = self.makes.iter().filter_map(length).max() {
            return self.makes.iter().filter(|m| length(m) == Some(longest)).collect();
        }
        let is_generic = begins(&printed, self.name).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric));
        let of_maker = |make: &&Make| make.makers.iter().any(|m| m.eq_ignore_ascii_case(maker.trim()));
        if is_generic { self.makes.iter().filter(of_maker).collect() } else { Vec::new() }
    }

    /// The device as it is in these makes, with these grades: of several, limits and power-up are those that hold for each.
    /// Without any it is the generic type.
    #[must_use]
    pub fn made_as(&self, makes: &[&Make], grades: Vec<Grade>, part: Part) -> Device {
        let Some((first, others)) = makes.split_first() else { return Device { grades, ..self.clone() } };
        let electrical = others.iter().fold(first.electrical.clone(), |all, m| weaker(&all, &m.electrical));
        let power_up = if others.iter().all(|m| m.power_up == first.power_up) { first.power_up } else { Start::Any };
        // a file that is too short is filled up by the programmer, one that is too long is refused
        let smallest = others.iter().copied().fold(*first, |a, b| if b.fuses < a.fuses { b } else { a });
        let sizes = std::iter::once(self.fuses).chain(self.other_sizes.iter().copied());
        Device {
            grades,
            electrical: vec![electrical],
            fuses: smallest.fuses,
            other_sizes: sizes.filter(|n| *n != smallest.fuses).collect(),
            signature: smallest.signature.clone(),
            power_down: makes.iter().find_map(|m| m.power_down),
            power_up,
            makes: Vec::new(),
            part: Some(part),
            ..self.clone()
        }
    }

    /// The device as a part of which no sheet is known: the times are those of the generic type, the limits are not known.
    #[must_use]
    pub fn made_unknown(&self, grades: Vec<Grade>, part: Part) -> Device {
        let grades = grades.into_iter().map(|g| Grade { supply_current: None, ..g }).collect();
        Device { grades, electrical: Vec::new(), makes: Vec::new(), part: Some(part), ..self.clone() }
    }

    /// What keeps a pin that nothing drives at a level: of the parts that these figures speak of.
    pub fn open_pin(&self) -> OpenPin {
        let (held, bare): (Vec<&Electrical>, Vec<&Electrical>) =
            self.electrical.iter().partition(|e| matches!(e.termination.0, Termination::PullUp | Termination::Keeper));
        let current = self.electrical.iter().filter_map(|e| e.iil).map(|f| f.value.abs()).reduce(f64::max);
        // the largest that is usual, at which the pin stands at half of what an input takes as low, 0.8 V
        let fits = |ohms: &f64| current.is_none_or(|ua| ohms * ua * 1e-6 <= 0.4);
        OpenPin {
            some_hold: !held.is_empty(),
            // another maker's, of whom no figures are here, may not
            all_hold: !held.is_empty() && bare.is_empty() && self.part.as_ref().is_some_and(|p| p.has_limits),
            ohms: [10_000.0, 3_300.0].into_iter().find(fits).unwrap_or(1_000.0),
        }
    }

    /// The largest supply current in this grade, in milliamperes; of no grade the largest of all, if each is known.
    pub fn supply_current(&self, grade: Option<&Grade>) -> Option<Figure> {
        let sheet = self.electrical.first().and_then(|e| e.icc_max);
        let of = |g: &Grade| g.supply_current.or(sheet);
        match grade {
            Some(grade) => of(grade),
            None if self.grades.is_empty() => sheet,
            None => {
                let all: Option<Vec<Figure>> = self.grades.iter().map(of).collect();
                all?.into_iter().max_by(|a, b| a.value.total_cmp(&b.value))
            }
        }
    }
}

/// What keeps a pin that nothing drives at a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OpenPin {
    /// Some types have a pull-up or a keeper inside: they may stay open.
    pub some_hold: bool,
    /// All have.
    pub all_hold: bool,
    /// The resistor to ground for the others, in ohms: 10 kΩ, or less where the input current would lift it above a low.
    pub ohms: f64,
}

/// What follows this type in a printed one, if that begins with it: a grade or a package, not a longer number. A `*` in the
/// type stands for any one character.
pub(crate) fn begins<'p>(printed: &'p str, of: &str) -> Option<&'p str> {
    let mut rest = printed.chars();
    let is_it = of.chars().all(|c| rest.next().is_some_and(|p| c == '*' || c == p));
    let rest = rest.as_str();
    let goes_on = of.ends_with(|c: char| c.is_ascii_digit()) && rest.starts_with(|c: char| c.is_ascii_digit());
    (is_it && !goes_on).then_some(rest)
}

/// The limits that hold for parts by either sheet.
fn weaker(a: &Electrical, b: &Electrical) -> Electrical {
    let pick = |a: Option<Figure>, b: Option<Figure>, first: fn(f64, f64) -> bool| {
        a.zip(b).map(|(a, b)| if first(a.value, b.value) { a } else { b })
    };
    let least = |a, b| pick(a, b, |a, b| a.abs() <= b.abs());
    let most = |a, b| pick(a, b, |a, b| a.abs() >= b.abs());
    Electrical {
        parts: if a.parts == b.parts { a.parts } else { "several sheets of its maker, the weaker limit of each" },
        vil_max: least(a.vil_max, b.vil_max),
        vih_min: most(a.vih_min, b.vih_min),
        iil: most(a.iil, b.iil),
        iih: most(a.iih, b.iih),
        vol_max: most(a.vol_max, b.vol_max),
        iol: least(a.iol, b.iol),
        voh_min: least(a.voh_min, b.voh_min),
        ioh: least(a.ioh, b.ioh),
        icc_max: most(a.icc_max, b.icc_max),
        vcc_min: most(a.vcc_min, b.vcc_min),
        vcc_max: least(a.vcc_max, b.vcc_max),
        input_capacitance: most(a.input_capacitance, b.input_capacitance),
        termination: if a.termination.0 == b.termination.0 {
            a.termination
        } else {
            (Termination::Unknown, Provenance::Memory)
        },
    }
}
