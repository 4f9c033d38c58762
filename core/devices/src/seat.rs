//! Devices in their socket: the circuits lifted from fuses, wired to the contacts and to each other by the adapter.
use crate::fit::Fitted;
use gluewright_kernel::circuit::{Circuit, Contact, Direction, Label, Landing, NetId, Origin, Polarity, Rail};

/// The socket's circuit with the device in it: the contacts of `replacement`, each wired to the device's pins as
/// the fit says, and pins tied to a rail where it says so. The pull resistors that the replacement declares sit on the adapter.
pub fn seat(device: &Circuit, fitted: &Fitted, replacement: &Circuit) -> Circuit {
    seat_all(&[(device, fitted)], replacement)
}

/// The same with several devices, D1 first. A label that is no contact of the replacement is a wire between devices.
pub fn seat_all(devices: &[(&Circuit, &Fitted)], replacement: &Circuit) -> Circuit {
    seated(devices, replacement).0
}

/// The same with a contact on each wire between devices, named like it: for whoever has to know what is on them.
pub fn seat_probed(devices: &[(&Circuit, &Fitted)], replacement: &Circuit) -> Circuit {
    let (socket, nets) = seated(devices, replacement);
    probed(socket, &nets)
}

/// A circuit with a contact on each of these nets that has none.
pub fn probed(mut circuit: Circuit, nets: &[(Label, NetId)]) -> Circuit {
    for (label, net) in nets {
        if circuit.nets().get(net.index()).is_some_and(|n| n.contact.is_none()) {
            let (name, polarity, direction) = (label.to_string(), Polarity::Data, Direction::Output);
            let (label, net, origin) = (label.clone(), *net, Origin::Nowhere);
            circuit.add_contact(Contact { label, name, net, polarity, direction, origin });
        }
    }
    circuit
}

fn seated(devices: &[(&Circuit, &Fitted)], replacement: &Circuit) -> (Circuit, Vec<(Label, NetId)>) {
    let names: Vec<&str> = devices.iter().map(|(d, _)| d.name.as_str()).collect();
    let mut socket = Circuit::new(format!("{} in {}", replacement.name, names.join(", ")));
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
    for wire in devices.iter().flat_map(|(_, fitted)| &fitted.wires) {
        if !nets.iter().any(|(label, _)| *label == wire.label) {
            let net = socket.add_net(format!("{} {}", wire.label, wire.signal), Origin::Nowhere);
            nets.push((wire.label.clone(), net));
        }
    }
    for (index, (device, fitted)) in devices.iter().enumerate() {
        socket.place(&format!("D{}", index + 1), device, |pin| landing(pin, fitted, &nets));
    }
    (socket, nets)
}

/// Where a pin of a device goes, given the nets by label.
pub fn landing(pin: &Label, fitted: &Fitted, nets: &[(Label, NetId)]) -> Landing {
    if let Some((_, rail)) = fitted.ties.iter().find(|(tied, _)| Label::from(*tied) == *pin) {
        return Landing::Tied(*rail == Rail::Vcc);
    }
    let wire = fitted.wires.iter().find(|w| Label::from(w.pin) == *pin);
    let net = wire.and_then(|w| nets.iter().find(|(label, _)| *label == w.label));
    net.map_or(Landing::Open, |&(_, net)| Landing::Net(net))
}
