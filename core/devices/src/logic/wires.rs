//! What reading a net means: the board's level, a pin, or a function of other things.
use super::LogicError;
use gluewright_kernel::circuit::{Circuit, Driver, Expr, Net, Pull, Stage};

/// What the level of a net is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Wire {
    /// What the board says: the circuit never drives it.
    Board,
    /// Driven at times: the level must be read at the pin.
    Pin,
    /// Always this level.
    Follows(Expr),
    /// Pulled low while any of these is true, else high: open collectors that meet inside.
    PulledLow(Vec<Expr>),
}

/// What reading a net means, or why that can't be inside a device.
pub(super) fn wire(circuit: &Circuit, net: &Net) -> Result<Wire, LogicError> {
    let drivers: Vec<&Driver> = net.drivers.iter().filter(|d| d.enable != Expr::LOW).collect();
    let collectors = drivers.iter().all(|d| d.stage == Stage::OpenCollector);
    let several = || LogicError::SeveralDrivers {
        net: net.name.clone(),
        drivers: drivers.iter().map(|d| d.by.to_string()).collect::<Vec<_>>().join(", "),
        origin: net.origin.clone(),
    };
    let outside = net.contact.is_some_and(|c| c.index() < circuit.contacts().len());
    match (drivers.as_slice(), outside) {
        ([], true) => Ok(Wire::Board),
        ([], false) => match net.pull {
            Pull::Up => Ok(Wire::Follows(Expr::HIGH)),
            Pull::Down => Ok(Wire::Follows(Expr::LOW)),
            Pull::None => Err(LogicError::Undriven { net: net.name.clone(), origin: net.origin.clone() }),
        },
        ([one], _) if one.enable == Expr::HIGH && one.stage != Stage::OpenCollector => Ok(Wire::Follows(one.level)),
        (_, true) if collectors || drivers.len() == 1 => Ok(Wire::Pin),
        (_, false) if collectors => Ok(Wire::PulledLow(drivers.iter().map(|d| d.enable).collect())),
        ([_], false) => Err(LogicError::FloatsInside { net: net.name.clone(), origin: net.origin.clone() }),
        _ => Err(several()),
    }
}

/// The expressions whose value the net's level is made of.
pub(super) fn sources(wire: &Wire) -> &[Expr] {
    match wire {
        Wire::Board | Wire::Pin => &[],
        Wire::Follows(level) => std::slice::from_ref(level),
        Wire::PulledLow(enables) => enables,
    }
}
