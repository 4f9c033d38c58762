//! Typical limits of each family, from one data file for all.
use std::collections::BTreeMap;

use serde::Deserialize;

use super::error::{Fault, SheetError};
use super::figures::{Figure, Source};
use super::rows::FamilyRow;
use crate::family::Family;

/// What a family's types usually hold to, at 5 V; a single type may differ.
#[derive(Clone, Debug)]
pub struct FamilyFigures {
    /// The most at which an input counts as low, in V.
    pub vil_max_v: Option<Figure>,
    /// The least at which an input counts as high, in V.
    pub vih_min_v: Option<Figure>,
    /// What an input draws at a low level, in mA.
    pub iil_ma: Option<Figure>,
    /// What an input draws at a high level, in µA.
    pub iih_ua: Option<Figure>,
    /// The most at which an output is low, in V, while it takes `iol_ma`.
    pub vol_max_v: Option<Figure>,
    /// What an output takes while low, in mA.
    pub iol_ma: Option<Figure>,
    /// The least at which an output is high, in V, while it gives `ioh_ma`.
    pub voh_min_v: Option<Figure>,
    /// What an output gives while high, in mA.
    pub ioh_ma: Option<Figure>,
    /// What an output of a bus driver takes while low, in mA.
    pub bus_iol_ma: Option<Figure>,
    /// What an output of a bus driver gives while high, in mA.
    pub bus_ioh_ma: Option<Figure>,
    /// The longest delay of a gate, in ns.
    pub delay_max_ns: Option<Figure>,
    /// Of which type that delay is, and under what load.
    pub delay_of: Option<String>,
    /// The least supply, in V.
    pub vcc_min_v: Option<Figure>,
    /// The largest supply, in V.
    pub vcc_max_v: Option<Figure>,
    /// The supply at which a part may be destroyed, in V.
    pub vcc_absolute_max_v: Option<Figure>,
    /// What else a reader should know.
    pub note: Option<String>,
    /// The data sheets that were seen.
    pub sheets: Vec<String>,
}

impl FamilyFigures {
    /// Where a figure of it comes from, in words.
    pub fn source_of(&self, figure: &Figure) -> String {
        match figure.source {
            Source::Memory => "from memory".to_owned(),
            Source::Sheets => self.sheets.join("; "),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    family: Vec<FamilyRow>,
}

/// Reads the file.
pub(crate) fn read(text: &str) -> Result<BTreeMap<Family, FamilyFigures>, SheetError> {
    let at = |what| SheetError { file: "families.toml".to_owned(), what };
    let file: File = toml::from_str(text).map_err(|e| at(Fault::Shape(e.to_string())))?;
    let mut families = BTreeMap::new();
    for row in file.family {
        let family = Family::named(&row.name).ok_or_else(|| at(Fault::NoFamily(row.name.clone())))?;
        let [
            vil_max_v,
            vih_min_v,
            iil_ma,
            iih_ua,
            vol_max_v,
            iol_ma,
            voh_min_v,
            ioh_ma,
            bus_iol_ma,
            bus_ioh_ma,
            delay_max_ns,
            vcc_min_v,
            vcc_max_v,
            vcc_absolute_max_v,
        ] = row.figures("family").map_err(at)?;
        let figures = FamilyFigures {
            vil_max_v,
            vih_min_v,
            iil_ma,
            iih_ua,
            vol_max_v,
            iol_ma,
            voh_min_v,
            ioh_ma,
            bus_iol_ma,
            bus_ioh_ma,
            delay_max_ns,
            delay_of: row.delay_of,
            vcc_min_v,
            vcc_max_v,
            vcc_absolute_max_v,
            note: row.note,
            sheets: row.sheets,
        };
        families.insert(family, figures);
    }
    Ok(families)
}
