//! A device in its socket: the circuit lifted from fuses, wired to the contacts by the adapter.
use crate::circuit::{Circuit, Contact, Label, Landing, NetId, Origin, Rail};
use crate::fit::Fitted;

/// The socket's circuit with the device in it: the contacts of `replacement`, each wired to the device's pins as
/// the fit says, and pins tied to a rail where it says so. The pull resistors that the replacement declares sit on the adapter.
pub fn seat(device: &Circuit, fitted: &Fitted, replacement: &Circuit) -> Circuit {
    let mut socket = Circuit::new(format!("{} in {}", replacement.name, device.name));
    let mut nets: Vec<(Label, NetId)> = Vec::new();
    for contact in replacement.contacts() {
        let net = socket.add_net(contact.name.clone(), Origin::Nowhere);
        let pull = replacement.nets().get(contact.net.index()).map(|n| n.pull);
        if let (Some(n), Some(pull)) = (socket.net_mut(net), pull) {
            n.pull = pull;
        }
        socket.add_contact(Contact { net, ..contact.clone() });
        nets.push((contact.label.clone(), net));
    }
    for (label, rail) in replacement.supplies() {
        socket.add_supply(label.clone(), *rail);
    }
    socket.place("U1", device, |pin| {
        if let Some((_, rail)) = fitted.ties.iter().find(|(tied, _)| Label::from(*tied) == *pin) {
            return Landing::Tied(*rail == Rail::Vcc);
        }
        let wire = fitted.wires.iter().find(|w| Label::from(w.pin) == *pin);
        let net = wire.and_then(|w| nets.iter().find(|(label, _)| *label == w.label));
        net.map_or(Landing::Open, |&(_, net)| Landing::Net(net))
    });
    socket
}
