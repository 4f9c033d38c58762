//! The drawer: which types there are, and how a printed type number finds its logic and its figures.
use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use gluewright::board::{Library, Part, PinRole};
use gluewright::circuit::{Circuit, Contact, Direction, Label, Origin, Polarity};
use gluewright::figures::PartFigures;
use thiserror::Error;

use crate::hand_over::{hand_over, levels};
use crate::sheet::{Memory, NotShared, Sheet};
use crate::ttl::{PROMS, TIMING_PARTS, models};
use crate::type_number::{Family, TypeNumber, TypeNumberError};

/// The TTL that this crate knows.
#[derive(Debug)]
pub struct Ttl {
    types: BTreeMap<String, TtlType>,
    faults: Vec<String>,
}

/// All types with one function, `138` for instance: they share logic and pins.
#[derive(Debug)]
pub struct TtlType {
    function: String,
    sheets: Vec<Sheet>,
    /// The same figures as a board takes them, sheet by sheet.
    handed: Vec<Arc<PartFigures>>,
    /// Nothing for timing parts and PROMs.
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
        let mut ttl = Ttl { types: BTreeMap::new(), faults: Vec::new() };
        for model in models() {
            match (model.build)() {
                Ok(circuit) => ttl.add(model.sheets, Some(circuit)),
                Err(error) => ttl.faults.push(error.to_string()),
            }
        }
        for &file in TIMING_PARTS.iter().chain(PROMS) {
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
        match first.type_number.parse::<TypeNumber>() {
            Ok(number) => {
                let pinout = Arc::new(pinout(first));
                let function = number.function;
                let family = |s: &Sheet| s.type_number.parse::<TypeNumber>().map_or(number.family, |n| n.family);
                let handed = sheets.iter().map(|s| Arc::new(hand_over(s, family(s)))).collect();
                let kind = TtlType { function: function.clone(), sheets, handed, logic: logic.map(Arc::new), pinout };
                self.types.insert(function, kind);
            }
            Err(error) => self.faults.push(error.to_string()),
        }
    }

    /// What is wrong with the crate's own data: nothing, as its tests make sure.
    pub fn faults(&self) -> &[String] {
        &self.faults
    }

    /// The types, ordered by their function.
    pub fn types(&self) -> impl Iterator<Item = &TtlType> {
        let mut types: Vec<&TtlType> = self.types.values().collect();
        types.sort_by_key(|t| t.function.parse::<u32>().unwrap_or(u32::MAX));
        types.into_iter()
    }

    /// The types with this function: `138`.
    pub fn function(&self, function: &str) -> Option<&TtlType> {
        self.types.get(function)
    }

    /// What a type number stands for, as it is printed on a package: `SN74LS138N`, `74F138`.
    ///
    /// # Errors
    /// If it is no type number, if the drawer doesn't have its function, or if the type of this number in its family has
    /// other pins.
    pub fn find(&self, type_number: &str) -> Result<Found<'_>, NotFound> {
        let number: TypeNumber = type_number.parse()?;
        let kind = self.types.get(&number.function).ok_or_else(|| NotFound::Function(number.clone()))?;
        let refusal = match kind.exception(number.family) {
            Some(exception) if !exception.same_pins => {
                let (listed, why) = (kind.type_number().to_owned(), exception.why.clone());
                return Err(NotFound::OtherPins { number, listed, why });
            }
            Some(exception) => Some(Refusal {
                why: exception.why.clone(),
                mend: "leave it on the card and make its outputs contacts".to_owned(),
            }),
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

    /// Its logic. Timing parts and PROMs have none of their own.
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
        Some(match self.memory() {
            Some(_) => Refusal {
                why: "its logic is its contents".to_owned(),
                mend: "read it out, make a part of what it holds with `prom`, and write that part's name in the trace"
                    .to_owned(),
            },
            None => Refusal {
                why: "the length of its pulse comes from a resistor and a capacitor, not from logic".to_owned(),
                mend: "leave it on the card and make its outputs contacts".to_owned(),
            },
        })
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
                let schmitt = self.handed.first().is_some_and(|f| f.schmitt);
                Arc::new(PartFigures { schmitt, levels: levels(number.family), ..PartFigures::default() })
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
    fn part(&self, type_number: &str) -> Option<Part> {
        self.find(type_number).ok().map(|found| found.kind.part(&found))
    }

    fn names(&self) -> Vec<String> {
        self.types().flat_map(TtlType::sheets).map(|s| s.type_number.clone()).collect()
    }
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
