//! Which part of the drawer a device is: its maker's limits, fuses and figures take the place of the generic type's.
use std::borrow::Cow;

use super::JobError;
use super::emitted::Share;
use super::finding::{Finding, PartDoubt};
use gluewright_analysis::timing::GradeChoice;
use gluewright_devices::device::Device;
use gluewright_devices::drawer::{Drawer, Entry};
use gluewright_devices::fit::Fitted;

/// The kinds of this device that the drawer holds at least so many times, in the order of its file: kinds with the same
/// sheet and grade once.
fn kinds(drawer: &Drawer, device: &Device, needed: usize) -> Vec<Device> {
    let enough = |e: &&Entry| {
        e.is_there()
            && e.device.name == device.name
            && e.count.is_none_or(|n| usize::try_from(n).is_ok_and(|n| n >= needed))
    };
    let mut all: Vec<Device> = Vec::new();
    for kind in drawer.entries.iter().filter(enough).map(Entry::part) {
        let key = |d: &Device| {
            let limits = d.electrical.iter().map(|e| e.parts).collect::<Vec<_>>();
            (limits, d.part.as_ref().map(|p| (p.has_limits, p.has_grade)), d.grades.clone())
        };
        if !all.iter().any(|known| key(known) == key(&kind)) {
            all.push(kind);
        }
    }
    all
}

/// How good a choice of grades is: safe ones first, among them the slowest; else those with the fewest objections.
fn rank(times: &GradeChoice) -> (bool, usize, f64) {
    match times.chosen() {
        Some(safe) => (false, 0, -safe.propagation_ns.unwrap_or(0.0)),
        None => (true, times.best().map_or(usize::MAX, |g| g.why.len()), 0.0),
    }
}

fn best<T>(all: Vec<T>, times: impl Fn(&T) -> GradeChoice) -> Option<T> {
    if all.len() < 2 {
        return all.into_iter().next();
    }
    let ranked = all.into_iter().map(|one| (rank(&times(&one)), one));
    let least = ranked.reduce(|a, b| if b.0.partial_cmp(&a.0) == Some(std::cmp::Ordering::Less) { b } else { a });
    least.map(|(_, one)| one)
}

/// The kind in the drawer that holds the circuit, with its fit: of several the slowest that is safe.
///
/// # Errors
/// If no kind holds it, why the first doesn't.
pub(super) fn one(
    drawer: &Drawer,
    device: Cow<'static, Device>,
    fit: impl Fn(&Device) -> Result<Fitted, JobError>,
    times: impl Fn(&Device, &Fitted) -> GradeChoice,
) -> Result<(Cow<'static, Device>, Fitted), JobError> {
    let (mut held, mut refused) = (Vec::new(), None);
    for kind in kinds(drawer, &device, 1) {
        match fit(&kind) {
            Ok(fitted) => held.push((kind, fitted)),
            Err(e) => refused = refused.or(Some(e)),
        }
    }
    match (best(held, |(kind, fitted)| times(kind, fitted)), refused) {
        (Some((kind, fitted)), _) => Ok((Cow::Owned(kind), fitted)),
        (None, Some(e)) => Err(e),
        (None, None) => fit(&device).map(|fitted| (device, fitted)),
    }
}

/// The kinds that the shares of a split are: all shares of a type by one kind, of which there must be enough. Types for which
/// there is no such kind stay generic, and are named.
pub(super) fn several(drawer: &Drawer, shares: &mut [Share], times: impl Fn(&[Share]) -> GradeChoice) -> Vec<Finding> {
    let mut names: Vec<&'static str> = Vec::new();
    for share in shares.iter() {
        if !names.contains(&share.device.name) {
            names.push(share.device.name);
        }
    }
    let mut findings = Vec::new();
    for name in names {
        let needed = shares.iter().filter(|s| s.device.name == name).count();
        let Some(generic) = shares.iter().find(|s| s.device.name == name).map(|s| s.device.clone()) else { continue };
        // what its registers hold at power-up went into the fit already
        let mut all = kinds(drawer, &generic, needed);
        all.retain(|kind| kind.power_up == generic.power_up);
        let seat = |kind: &Device| -> Vec<Share> {
            let seated = shares.iter().cloned().map(|s| match s.device.name == name {
                true => Share { device: Cow::Owned(kind.clone()), ..s },
                false => s,
            });
            seated.collect()
        };
        match best(all, |kind| times(&seat(kind))) {
            Some(kind) => {
                shares.iter_mut().filter(|s| s.device.name == name).for_each(|s| s.device = Cow::Owned(kind.clone()))
            }
            None => {
                findings.push(Finding::Part { device: None, doubt: PartDoubt::NotOneKind { device: name, needed } })
            }
        }
    }
    findings
}

/// What is not known of the part that a device is.
pub(super) fn doubts(reference: Option<&str>, device: &Device) -> Vec<Finding> {
    let Some(part) = &device.part else { return Vec::new() };
    let finding = |doubt| Finding::Part { device: reference.map(str::to_owned), doubt };
    let mut all = Vec::new();
    if !part.has_limits {
        all.push(finding(PartDoubt::NoLimits(part.to_string())));
    }
    if !part.has_grade {
        all.push(finding(PartDoubt::NoGrade(part.to_string())));
    }
    all
}
