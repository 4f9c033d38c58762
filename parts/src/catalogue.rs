//! The drawer: which types there are, and how a printed type number finds its logic and its figures.
use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use gluewright::board::{Library, Part, PinRole};
use gluewright::circuit::{Circuit, Contact, Direction, Label, Origin, Polarity};
use gluewright::figures::PartFigures;
use thiserror::Error;

use crate::family::Family;
use crate::hand_over::hand_over;
use crate::sheet::{FamilyFigures, Memory, NoLogic, NotShared, Sheet, read_families};
use crate::ttl::{NO_LOGIC, PROMS, models};
use crate::type_number::{Series, TypeNumber, TypeNumberError, is_suffix};

/// The TTL that this crate knows.
#[derive(Debug)]
pub struct Ttl {
    types: BTreeMap<String, TtlType>,
    /// Numbers of makers' own, and the type number that each stands for.
    own: BTreeMap<String, TypeNumber>,
    families: BTreeMap<Family, FamilyFigures>,
    faults: Vec<String>,
}

/// All types with one function, `138` for instance: they share logic and pins.
#[derive(Debug)]
pub struct TtlType {
    function: String,
    sheets: Vec<Sheet>,
    /// The same figures as a board takes them, sheet by sheet.
    handed: Vec<Arc<PartFigures>>,
    /// Nothing for PROMs and parts that are no logic.
    logic: Option<Arc<Circuit>>,
    pinout: Arc<Circuit>,
}

/// What a type number stands for.
#[derive(Clone, Debug)]
pub struct Found<'a> {
    /// The number, taken apart.
    pub number: TypeNumber,
    /// The types with its function.
    pub kind: &'a TtlType,
    /// Its figures. Absent if the drawer has none for this family and series, whatever it has for others.
    pub sheet: Option<&'a Sheet>,
    /// Where its behaviour is doubtful, and what the logic does there.
    pub doubts: Vec<&'a str>,
    /// Why no logic of the drawer stands for it, if none does.
    pub refusal: Option<Refusal>,
}

/// Why settled logic can't stand for a part, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// Why not.
    pub why: String,
    /// What to do instead.
    pub mend: String,
}

/// A type number that finds nothing.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum NotFound {
    /// It is no type number.
    #[error(transparent)]
    Number(#[from] TypeNumberError),
    /// The drawer has no such function.
    #[error(
        "{0} is not in the drawer: describe it yourself (DEVELOPERS.md, Adding a part), or read it out into a dump"
    )]
    Function(TypeNumber),
    /// The family is not known to have had a type with this function.
    #[error("{0} is not known to have been made: is a letter missing, as in 74LS{function}?", function = .0.function)]
    NotMade(TypeNumber),
    /// The type of this number in this family has other pins.
    #[error("{number} is another thing than {listed}: {why}")]
    OtherPins {
        /// The number.
        number: TypeNumber,
        /// The type whose pins are known.
        listed: String,
        /// Why.
        why: String,
    },
}

/// The TTL drawer. Reading the data happens once, at the first call.
pub fn ttl() -> &'static Ttl {
    static TTL: LazyLock<Ttl> = LazyLock::new(Ttl::load);
    &TTL
}

/// The types in the drawer, ordered by their function.
pub fn parts() -> impl Iterator<Item = &'static TtlType> {
    ttl().types()
}

impl Ttl {
    fn load() -> Self {
        let mut ttl =
            Ttl { types: BTreeMap::new(), own: BTreeMap::new(), families: BTreeMap::new(), faults: Vec::new() };
        match read_families(include_str!("../data/families.toml")) {
            Ok(families) => ttl.families = families,
            Err(error) => ttl.faults.push(error.to_string()),
        }
        for model in models() {
            match (model.build)() {
                Ok(circuit) => ttl.add(model.sheets, Some(circuit)),
                Err(error) => ttl.faults.push(error.to_string()),
            }
        }
        for &file in NO_LOGIC.iter().chain(PROMS) {
            ttl.add(&[file], None);
        }
        ttl
    }

    fn add(&mut self, files: &[(&str, &str)], logic: Option<Circuit>) {
        let mut sheets = Vec::new();
        for (file, text) in files {
            match Sheet::from_toml(file, text) {
                Ok(sheet) => sheets.push(sheet),
                Err(error) => self.faults.push(error.to_string()),
            }
        }
        let Some(first) = sheets.first() else { return };
        let function = number_of(first).function;
        for sheet in &sheets {
            let number = number_of(sheet);
            let printed = (number.series == Series::Own).then(|| sheet.type_number.clone());
            for name in printed.into_iter().chain(sheet.also.iter().cloned()) {
                if self.own.insert(name.clone(), number.clone()).is_some() {
                    self.faults.push(format!("{name} stands for two types"));
                }
            }
        }
        let pinout = Arc::new(pinout(first));
        let handed = sheets.iter().map(|s| Arc::new(hand_over(s))).collect();
        let kind = TtlType { function: function.clone(), sheets, handed, logic: logic.map(Arc::new), pinout };
        if self.types.insert(function.clone(), kind).is_some() {
            self.faults.push(format!("{function} stands twice in the drawer"));
        }
    }

    /// What is wrong with the crate's own data: nothing, as its tests make sure.
    pub fn faults(&self) -> &[String] {
        &self.faults
    }

    /// The types, ordered by their function.
    pub fn types(&self) -> impl Iterator<Item = &TtlType> {
        let mut types: Vec<&TtlType> = self.types.values().collect();
        types.sort_by_key(|t| (t.function.parse::<u32>().unwrap_or(u32::MAX), &t.function));
        types.into_iter()
    }

    /// The types with this function: `138`.
    pub fn function(&self, function: &str) -> Option<&TtlType> {
        self.types.get(function)
    }

    /// The typical limits of a family.
    pub fn family(&self, family: Family) -> Option<&FamilyFigures> {
        self.families.get(&family)
    }

    /// What a number of its maker's stands for: `8T26A`, or `82S123`, which is a 74S288.
    fn own_number(&self, text: &str) -> Option<TypeNumber> {
        let text: String = text.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_ascii_uppercase();
        let name = text.rsplit(':').next().unwrap_or(&text);
        let name = name.split('/').next().unwrap_or(name);
        let known = |name: &str| {
            let fits = self.own.iter().filter(|(own, _)| {
                name.strip_prefix(own.as_str()).is_some_and(|rest| {
                    // a row of digits behind makes a house number of it
                    let digits = rest.trim_start_matches('-').bytes().take_while(u8::is_ascii_digit).count();
                    is_suffix(rest) && !rest.starts_with(|c: char| c.is_ascii_digit()) && digits < 3
                })
            });
            fits.max_by_key(|(own, _)| own.len()).map(|(_, number)| number.clone())
        };
        known(name).or_else(|| MAKERS.iter().find_map(|maker| known(name.strip_prefix(maker)?)))
    }

    /// What a type number stands for, as it is printed on a package: `SN74LS138N`, `74F138`, `CD4011BE`, `N82S123N`.
    ///
    /// # Errors
    /// If it is no type number, if the drawer doesn't have its function, or if the type of this number in its family has
    /// other pins.
    pub fn find(&self, type_number: &str) -> Result<Found<'_>, NotFound> {
        let parsed = type_number.parse::<TypeNumber>();
        let known = parsed.as_ref().is_ok_and(|n| self.types.contains_key(&n.function));
        let number = if known { parsed? } else { self.own_number(type_number).map_or(parsed, Ok)? };
        let kind = self.types.get(&number.function).ok_or_else(|| NotFound::Function(number.clone()))?;
        if !number.family.is_known_to_have(&number.function) {
            return Err(NotFound::NotMade(number));
        }
        let refusal = match kind.exception(number.family) {
            Some(exception) if !exception.same_pins => {
                let (listed, why) = (kind.type_number().to_owned(), exception.why.clone());
                return Err(NotFound::OtherPins { number, listed, why });
            }
            Some(exception) => Some(Refusal { why: exception.why.clone(), mend: kind.cut() }),
            None => kind.refusal(),
        };
        Ok(Found { sheet: kind.sheet(&number), doubts: kind.doubts(number.family).collect(), number, kind, refusal })
    }
}

impl TtlType {
    /// The function's number: `138`.
    pub fn function(&self) -> &str {
        &self.function
    }

    /// The type number under which it is listed: that of the LS family where there is one.
    pub fn type_number(&self) -> &str {
        self.sheets.first().map_or("", |s| s.type_number.as_str())
    }

    /// The data sheets, the LS type's first.
    pub fn sheets(&self) -> &[Sheet] {
        &self.sheets
    }

    /// Its logic. PROMs and parts that are no logic have none of their own.
    pub fn logic(&self) -> Option<&Arc<Circuit>> {
        self.logic.as_ref()
    }

    /// Where the sheets don't say how the type of this family behaves, and what its logic does there.
    pub fn doubts(&self, family: Family) -> impl Iterator<Item = &str> {
        let of_family = self.sheets.iter().flat_map(|s| &s.family_doubts).filter(move |(f, _)| f.contains(&family));
        let common = self.sheets.iter().flat_map(|s| &s.doubts);
        common.chain(of_family.map(|(_, what)| what)).map(String::as_str)
    }

    /// Why no settled logic stands for it, if none does.
    pub fn refusal(&self) -> Option<Refusal> {
        if self.logic.is_some() {
            return None;
        }
        Some(match (self.memory(), self.no_logic()) {
            (Some(_), _) => Refusal {
                why: "its logic is its contents".to_owned(),
                mend: "read it out, make a part of what it holds with `prom`, and write that part's name in the trace"
                    .to_owned(),
            },
            (None, Some(reason)) => Refusal { why: reason.why().to_owned(), mend: self.cut() },
            (None, None) => Refusal { why: "it has no logic in this drawer".to_owned(), mend: self.cut() },
        })
    }

    /// Why no logic that settles can stand for it, if none can.
    pub fn no_logic(&self) -> Option<NoLogic> {
        self.sheets.first().and_then(|s| s.no_logic)
    }

    /// The cut around a part that stays: which of its pins become contacts of what is replaced.
    fn cut(&self) -> String {
        let pins = self.sheets.first().map_or(&[][..], |s| s.pins.as_slice());
        let named = |fits: fn(PinRole) -> bool| -> Vec<String> {
            pins.iter().filter(|p| fits(p.role)).map(|p| format!("{} ({})", p.label, p.name)).collect()
        };
        let outputs = named(|role| matches!(role, PinRole::Output(_) | PinRole::InOut(_)));
        let inputs = named(|role| matches!(role, PinRole::Input));
        let mut text = "leave it on the card and make its outputs contacts".to_owned();
        if !outputs.is_empty() {
            text += &format!(": pins {}", outputs.join(", "));
        }
        if !inputs.is_empty() {
            text +=
                &format!("; its inputs too, where something drives them that is replaced: pins {}", inputs.join(", "));
        }
        text
    }

    /// How much it holds, if it is a PROM.
    pub fn memory(&self) -> Option<Memory> {
        self.sheets.first().and_then(|s| s.memory)
    }

    fn exception(&self, family: Family) -> Option<&NotShared> {
        self.sheets.iter().flat_map(|s| &s.not_shared).find(|e| e.families.contains(&family))
    }

    fn sheet(&self, number: &TypeNumber) -> Option<&Sheet> {
        let printed = number.to_string();
        self.sheets.iter().find(|s| s.type_number == printed)
    }

    /// The figures of the very type; for a family without any, what is known of the function and of the family.
    fn figures(&self, number: &TypeNumber) -> Arc<PartFigures> {
        let printed = number.to_string();
        let own = self.sheets.iter().zip(&self.handed).find(|(s, _)| s.type_number == printed);
        own.map_or_else(
            || {
                let (schmitt, family) = (self.handed.first().is_some_and(|f| f.schmitt), number.family);
                Arc::new(PartFigures {
                    schmitt,
                    levels: family.levels(),
                    open_input: family.open_input(),
                    ..PartFigures::default()
                })
            },
            |(_, figures)| Arc::clone(figures),
        )
    }

    fn part(&self, found: &Found<'_>) -> Part {
        let name = found.number.to_string();
        let part = match (&found.refusal, &self.logic) {
            (None, Some(logic)) => Part::logic(name, Arc::clone(logic)),
            (Some(refusal), _) => Part::refused(name, Arc::clone(&self.pinout), &refusal.why, &refusal.mend),
            (None, None) => {
                Part::refused(name, Arc::clone(&self.pinout), "it has no logic", "make its outputs contacts")
            }
        };
        let unconnected = self.sheets.first().into_iter().flat_map(|s| &s.pins);
        let part = part.with_doubts(found.doubts.iter().copied()).with_figures(self.figures(&found.number));
        part.with_unconnected(unconnected.filter(|p| p.role == PinRole::Unconnected).map(|p| p.label.clone()))
    }
}

impl Library for Ttl {
    fn lasting(&self) -> Option<&'static (dyn Library + Send + Sync)> {
        Some(ttl())
    }

    fn part(&self, type_number: &str) -> Option<Part> {
        self.find(type_number).ok().map(|found| found.kind.part(&found))
    }

    fn names(&self) -> Vec<String> {
        // one digit more or less makes another thing of a maker's bare number: nobody meant a 555 by a 558
        let said = |name: &&String, own: bool| !own || name.bytes().any(|b| b.is_ascii_alphabetic());
        let sheets = self.types().flat_map(TtlType::sheets);
        let names = sheets.flat_map(|s| {
            let own = number_of(s).series == Series::Own;
            [&s.type_number]
                .into_iter()
                .filter(move |n| said(n, own))
                .chain(s.also.iter().filter(move |n| said(n, true)))
        });
        names.cloned().collect()
    }
}

/// What makers print before numbers of their own. Other letters make another thing of them: a BC556 is a transistor.
const MAKERS: [&str; 29] = [
    "SN", "DM", "DS", "NE", "SE", "N", "S", "LM", "MC", "AM", "MMI", "HM", "HA", "CA", "RC", "XR", "KA", "UA", "UPC",
    "UPB", "TBP", "TB", "ICM", "F", "IM", "M", "P", "D", "TI",
];

/// The number of a sheet, taken apart.
fn number_of(sheet: &Sheet) -> TypeNumber {
    sheet.type_number.parse().unwrap_or_else(|_| TypeNumber {
        series: Series::Own,
        family: sheet.family,
        function: sheet.type_number.clone(),
    })
}

/// The pins of a type as a circuit that drives nothing.
fn pinout(sheet: &Sheet) -> Circuit {
    let mut circuit = Circuit::new(&sheet.type_number);
    for pin in &sheet.pins {
        let direction = match pin.role {
            PinRole::Supply(rail) => {
                circuit.add_supply(pin.label.clone(), rail);
                continue;
            }
            PinRole::Unconnected => continue,
            PinRole::Input => Direction::Input,
            PinRole::Output(_) => Direction::Output,
            PinRole::InOut(_) | PinRole::Analog => Direction::InOut,
        };
        add_contact(&mut circuit, pin.label.clone(), &pin.name, pin.polarity, direction);
    }
    circuit
}

/// A contact on a net of its own.
pub(crate) fn add_contact(
    circuit: &mut Circuit,
    label: Label,
    name: &str,
    polarity: Polarity,
    direction: Direction,
) -> gluewright::circuit::NetId {
    let net = circuit.add_net(name, Origin::Nowhere);
    circuit.add_contact(Contact { label, name: name.to_owned(), net, polarity, direction, origin: Origin::Nowhere });
    net
}
