//! Which types an unknown package may be, from what a logic analyser saw on the nets around it while the board ran.
use std::collections::BTreeMap;
use std::io::BufRead;
use std::time::Duration;

use gluewright_kernel::board::{Behaviour, Library, Part};
use gluewright_kernel::circuit::{Circuit, Contact, Direction, Label, Landing, NetId, Origin, Polarity, Rail};
use gluewright_kernel::figures::OpenInput;

use super::Study;
use crate::capture::{self, CaptureError, Channels, Finding, Observed};

/// What a pin of an unknown package is on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum On {
    Rail(Rail),
    /// The net of this name.
    Net(String),
    /// Nothing else that was measured.
    Alone,
}

impl Study {
    /// Leaves of the types that unknown packages may be those of which some start explains this capture of the nets around
    /// them. A channel is named like its net in the trace, or like a pin of the package, `U3.5`; `channels` says it where it is
    /// not. A net without a channel may be at any level and change at any time: what depends on it is not
    /// compared, so no type goes for want of a channel.
    /// `skew` is how far apart in time the channels may show what happens at once.
    ///
    /// # Errors
    /// What is wrong with the capture or the list of channels; the study is then as it was.
    pub fn narrowed_by(
        &mut self,
        file: &str,
        content: impl BufRead,
        channels: &Channels,
        skew: Duration,
        library: &dyn Library,
    ) -> Result<(), CaptureError> {
        let around = self.around();
        let observed = capture::read(file, content, channels, [&around, &around], skew, |_| ())?;
        for narrowed in &mut self.narrowed {
            let is_excluded = |name: &String| {
                let part = library.part(name).filter(|part| *part.behaviour() == Behaviour::Logic);
                let run = part.map(|part| observed.explained_by(&alone(&part, &narrowed.wired, &observed)));
                matches!(run, Some(Ok(Finding::Unexplained { .. })))
            };
            let (excluded, types) = std::mem::take(&mut narrowed.types).into_iter().partition(is_excluded);
            narrowed.types = types;
            narrowed.excluded.extend::<Vec<String>>(excluded);
        }
        Ok(())
    }

    /// The nets around unknown packages, each with a contact that is called like it.
    fn around(&self) -> Circuit {
        let mut circuit = Circuit::new("the nets around unknown packages");
        for narrowed in &self.narrowed {
            for (pin, on) in &narrowed.wired {
                let On::Net(net) = on else { continue };
                if circuit.nets().iter().all(|n| n.name != *net) {
                    let id = circuit.add_net(net.clone(), Origin::Nowhere);
                    contact(&mut circuit, id, net, format!("{}.{pin}", narrowed.reference), Direction::InOut);
                }
            }
        }
        circuit
    }
}

fn contact(circuit: &mut Circuit, net: NetId, label: &str, name: String, direction: Direction) {
    let (label, polarity, origin) = (Label::new(label), Polarity::Data, Origin::Nowhere);
    circuit.add_contact(Contact { label, name, net, polarity, direction, origin });
}

/// A package of this type on the nets of an unknown one: those that were captured are contacts. Any other net may be at any
/// level, and change at any time: what depends on one is not compared.
fn alone(part: &Part, wired: &[(Label, On)], observed: &Observed) -> Circuit {
    let mut circuit = Circuit::new(part.name());
    let mut nets: BTreeMap<&str, NetId> = BTreeMap::new();
    let mut pins: BTreeMap<&Label, Landing> = BTreeMap::new();
    let mut apart: Vec<NetId> = Vec::new();
    for (label, _) in part.pins() {
        let on = wired.iter().find(|(pin, _)| pin == label).map_or(&On::Alone, |(_, on)| on);
        let mut open = |name: &str| {
            let id = circuit.add_net(name, Origin::Nowhere);
            if let Some(net) = circuit.net_mut(id) {
                net.open_read = OpenInput::Unknown;
            }
            id
        };
        let landing = match on {
            On::Rail(rail) => Landing::Tied(*rail == Rail::Vcc),
            On::Net(net) => Landing::Net(*nets.entry(net).or_insert_with(|| open(net))),
            On::Alone => {
                let net = open(label.as_str());
                apart.push(net);
                Landing::Net(net)
            }
        };
        pins.insert(label, landing);
    }
    circuit.place("it", part.circuit(), |label| pins.get(label).copied().unwrap_or(Landing::Open));
    let (seen, unseen): (Vec<_>, Vec<_>) =
        nets.into_iter().partition(|(name, _)| observed.has_level(&Label::new(name)));
    let unseen: Vec<NetId> = unseen.into_iter().map(|(_, net)| net).chain(apart).collect();
    let told = |net: &NetId| {
        let inputs = circuit.nets().get(net.index()).into_iter().flat_map(|n| n.inputs());
        let cone = circuit.cone(inputs, |_| true);
        !unseen.iter().any(|net| cone.contains(*net))
    };
    let told: Vec<bool> = seen.iter().map(|(_, net)| told(net)).collect();
    for ((name, net), told) in seen.into_iter().zip(told) {
        if let Some(net) = circuit.net_mut(net).filter(|_| !told) {
            net.drivers.clear();
        }
        let drives = circuit.nets().get(net.index()).is_some_and(|n| !n.drivers.is_empty());
        let direction = if drives { Direction::InOut } else { Direction::Input };
        contact(&mut circuit, net, name, name.to_owned(), direction);
    }
    circuit
}
