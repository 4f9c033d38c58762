//! The longest way through a fitted device from one contact to another, in nanoseconds of a speed grade.
use serde::Serialize;

use crate::timing::{Kind, replacement};
use gluewright_devices::device::{Device, Grade};
use gluewright_devices::fit::Fitted;

/// The worst delay of a fit by the figures of one speed grade.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Delay {
    /// The grade's name.
    pub grade: &'static str,
    /// The longest delay in nanoseconds, over what is known; nothing if nothing is known.
    pub nanoseconds: Option<f64>,
    /// From where to where.
    pub path: String,
    /// False if a figure that another way would need is not known: the worst may be worse.
    pub complete: bool,
    /// Whether a figure that it is made of was not looked up in a data sheet.
    pub from_memory: bool,
}

/// The longest delay from a contact or a clock edge to a contact: through the array, from the clock, to a driver turned
/// on or off, through the reset. What several passes through the array take is added up.
pub fn worst_delay(fitted: &Fitted, device: &Device, grade: &Grade) -> Delay {
    let times = replacement(fitted, device, grade);
    let outward = |k: Kind| matches!(k, Kind::Propagation | Kind::ClockToOutput | Kind::Enable | Kind::Disable);
    let rows = times.rows.iter().filter(|r| outward(r.kind));
    let worst = rows.clone().max_by(|a, b| a.time.ns.total_cmp(&b.time.ns)).filter(|r| r.time.ns > 0.0);
    Delay {
        grade: grade.name,
        nanoseconds: worst.map(|r| (r.time.ns * 10.0).round() / 10.0),
        path: worst.map_or_else(String::new, |r| format!("{}, {} to {}", r.kind, r.from.name, r.to.name)),
        complete: times.gap.is_none() && rows.clone().all(|r| r.time.is_complete()),
        from_memory: worst.is_some_and(|r| r.time.path.iter().any(|step| step.from_memory)),
    }
}
