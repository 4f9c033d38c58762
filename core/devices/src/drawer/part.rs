//! The part that lies in a drawer, as a device: by its own maker's sheet where there is one here.
use super::Entry;
use crate::device::{Device, Grade, Make, Part, begins};

impl Entry {
    /// The device that this part is: with the limits, the fuses, the power-up levels and the figures of its own maker's sheet
    /// and grade. Of a part that names neither maker nor type it is the generic device in that grade. Of a part whose sheet
    /// is not here it says so ([`Part`]): its limits are not known, and its times are those of the generic type.
    pub fn part(&self) -> Device {
        let device = self.device;
        let makes = device.makes_of(&self.maker, &self.full_type);
        let part = |has_limits, has_grade, notes| Part {
            maker: self.maker_of(&makes),
            full_type: self.full_type.clone(),
            has_limits,
            has_grade,
            notes,
        };
        let printed = self.full_type.trim().to_uppercase();
        let is_generic = self.maker.is_empty()
            && begins(&printed, device.name).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric));
        if makes.is_empty() {
            let grades = self.among(&device.grades, &printed);
            // a generic description has a row for some makes: those are not this part's
            let plain: Vec<Grade> = grades.iter().filter(|g| !g.name.contains(',')).cloned().collect();
            let grades = if plain.is_empty() { grades } else { plain };
            return match is_generic {
                true => Device { grades, ..device.clone() },
                false => device.made_unknown(grades, part(false, false, Vec::new())),
            };
        }
        // one maker's types can differ from grade to grade
        let fitting: Vec<(&Make, Vec<Grade>)> = makes
            .iter()
            .map(|make| (*make, self.among(&make.grades, self.behind(make, &printed))))
            .filter(|(_, grades)| !grades.is_empty())
            .collect();
        let mut notes: Vec<&'static str> = Vec::new();
        let of: Vec<&Make> = if fitting.is_empty() { makes.clone() } else { fitting.iter().map(|(m, _)| *m).collect() };
        for note in of.iter().flat_map(|m| m.notes) {
            if !notes.contains(note) {
                notes.push(note);
            }
        }
        let its: Vec<Grade> = fitting.into_iter().flat_map(|(_, grades)| grades).collect();
        let has_grade = !its.is_empty();
        let grades = if has_grade {
            its
        } else {
            let grades = self.among(&device.grades, &printed).into_iter();
            grades.filter(|g| !g.name.contains(',')).map(|g| Grade { supply_current: None, ..g }).collect()
        };
        device.made_as(&of, grades, part(true, has_grade, notes))
    }

    /// The maker that the drawer names, or the first that made this type.
    fn maker_of(&self, makes: &[&Make]) -> String {
        match (self.maker.as_str(), makes.first().and_then(|m| m.makers.first())) {
            ("", Some(maker)) => (*maker).to_owned(),
            (maker, _) => maker.to_owned(),
        }
    }

    /// What is printed behind the type of this make.
    fn behind<'p>(&self, make: &Make, printed: &'p str) -> &'p str {
        let mut types: Vec<&&str> = make.types.iter().collect();
        types.sort_by_key(|t| std::cmp::Reverse(t.len()));
        types.into_iter().find_map(|of| begins(printed, of)).unwrap_or(printed)
    }

    /// The grades that the part may be: those of its suffix, of several those that are printed on it; all if nobody says. A
    /// sheet's `-10C` is meant by `-10`.
    fn among(&self, grades: &[Grade], printed: &str) -> Vec<Grade> {
        let base = |g: &Grade| g.name.split(',').next().unwrap_or_default().trim().to_uppercase();
        let bare = |name: String| name.trim_start_matches('-').to_owned();
        let wanted = self.grade.to_uppercase();
        if wanted.is_empty() {
            let begun = |g: &&Grade| printed.trim_start_matches('-').starts_with(&bare(base(g)));
            let longest = grades.iter().filter(begun).map(|g| base(g).len()).max();
            let of_it = |g: &&Grade| longest.is_none_or(|n| base(g).len() == n && begun(g));
            return grades.iter().filter(of_it).cloned().collect();
        }
        let same = |g: &&Grade| {
            let name = base(g);
            name == wanted
                || name.strip_prefix(&wanted).is_some_and(|rest| rest.chars().all(|c| c.is_ascii_alphabetic()))
        };
        let found: Vec<&Grade> = grades.iter().filter(same).collect();
        let exact = |g: &&&Grade| base(g) == wanted || printed.contains(&base(g));
        let printed_so: Vec<&Grade> = found.iter().filter(exact).copied().collect();
        let chosen = if printed_so.is_empty() { found } else { printed_so };
        chosen.into_iter().cloned().collect()
    }
}
