//! Where a check of the trace says that a slip may lie, and which changes of the trace it speaks for.
use std::collections::HashSet;

use super::Board;
use super::alter::Change;
use super::finding::{Finding, FindingKind, Subject};
use super::library::PinRole;
use super::package::Pin;
use super::vocabulary::Wire;
use crate::circuit::Label;

/// Findings that name a pin or a net where a slip may lie.
const STRANGE: [FindingKind; 8] = [
    FindingKind::NoDriver,
    FindingKind::FloatingInput,
    FindingKind::PinLeftOut,
    FindingKind::MixedDrivers,
    FindingKind::ShortedOutput,
    FindingKind::MissingPullUp,
    FindingKind::PullUndecided,
    FindingKind::SinglePin,
];

/// Where a slip may lie: pins by their packages, nets by their positions.
#[derive(Default)]
pub(super) struct Suspects {
    pins: HashSet<(usize, Label)>,
    nets: HashSet<usize>,
}

/// How much speaks for a change, the most first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Suspicion {
    /// A finding names the very pin that has no row.
    Named,
    /// A finding names a pin or a net that it changes.
    Near,
    None,
}

impl Board {
    /// What a check of the trace found strange: nets, and single pins.
    pub(super) fn suspects(&self) -> Suspects {
        let mut suspects = Suspects::default();
        for subject in self.findings.iter().filter(|f| STRANGE.contains(&f.kind)).flat_map(|f| &f.about) {
            match subject {
                Subject::Net(name) => suspects.nets.extend(self.nets.find(name)),
                Subject::Pin { reference, pin } => {
                    let package = self.packages.iter().position(|p| p.reference == *reference);
                    suspects.pins.extend(package.map(|at| (at, pin.clone())));
                }
                Subject::Package(_) | Subject::Contact(_) => {}
            }
        }
        suspects
    }

    pub(super) fn suspicion(&self, change: &Change, suspects: &Suspects) -> Suspicion {
        let is_net = |name: &str| self.nets.find(name).is_some_and(|net| suspects.nets.contains(&net));
        let is_wire = |wire: &Wire| matches!(wire, Wire::Net(name) if is_net(name));
        let is_pin = |p: usize, pin: &Pin| is_wire(&pin.wire) || suspects.pins.contains(&(p, pin.label.clone()));
        let near = match change {
            Change::Wires(wires) => wires
                .iter()
                .any(|&((p, k), ref wire)| is_wire(wire) || self.pin_at((p, k)).is_some_and(|pin| is_pin(p, pin))),
            Change::Join(a, b) => is_net(a) || is_net(b),
            Change::Part(p, _) => self.packages.get(*p).is_some_and(|of| of.pins.iter().any(|pin| is_pin(*p, pin))),
            Change::Pin(p, label, net) => {
                let is_named = suspects.pins.contains(&(*p, label.clone()));
                let role = self.packages.get(*p).and_then(|of| of.chip()?.pin(label));
                // many an output leads nowhere; one whose net waits for a driver does not
                if is_named && (role == Some(PinRole::Input) || is_net(net)) {
                    return Suspicion::Named;
                }
                is_named || is_net(net)
            }
        };
        if near { Suspicion::Near } else { Suspicion::None }
    }

    /// The findings that speak for a change of this trace: each names where a slip may lie, and a check of `altered`, the
    /// trace with the change, finds it no longer. Nothing if that check finds something strange that this trace has not.
    pub fn answered_by(&self, altered: &Board) -> Vec<&Finding> {
        let is_strange = |f: &&Finding| STRANGE.contains(&f.kind) && self.may_be_slip(f);
        let alike = |a: &Finding, b: &Finding| a.kind == b.kind && a.about == b.about;
        let has = |board: &Board, f: &Finding| board.findings.iter().any(|other| alike(other, f));
        if altered.findings.iter().filter(is_strange).any(|f| !has(self, f)) {
            return Vec::new();
        }
        self.findings.iter().filter(is_strange).filter(|f| !has(altered, f)).collect()
    }

    /// Whether a finding is of more than outputs that lead nowhere: many do.
    fn may_be_slip(&self, finding: &Finding) -> bool {
        finding.kind != FindingKind::PinLeftOut
            || finding.about.iter().any(|subject| match subject {
                Subject::Pin { reference, pin } => {
                    let package = self.packages.iter().find(|p| p.reference == *reference);
                    package.and_then(|p| p.chip()?.pin(pin)) == Some(PinRole::Input)
                }
                Subject::Package(_) | Subject::Contact(_) | Subject::Net(_) => false,
            })
    }
}
