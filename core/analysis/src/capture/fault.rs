//! Single faults: what one dead pin, one bridge or one slip of the trace makes of a circuit.
use crate::edit::edits_by_line;
use gluewright_kernel::board::Board;
use gluewright_kernel::circuit::{By, Circuit, ContactId, Direction, Driver, Expr, NetId, Origin, Stage};

/// A circuit with one fault.
pub(super) struct Faulty {
    /// The fault in words: `contact 17 wait is stuck high`.
    pub(super) words: String,
    /// Where the thing stands that has it.
    pub(super) origin: Origin,
    pub(super) circuit: Circuit,
}

fn constant(name: &str, level: Expr, origin: &Origin) -> Driver {
    let (name, origin) = (name.to_owned(), origin.clone());
    Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal(name), origin }
}

/// The faults of a circuit at its contacts and drivers, one by one.
pub(super) fn faults(circuit: &Circuit) -> impl Iterator<Item = Faulty> + '_ {
    pins(circuit).chain(contacts(circuit)).chain(shorts(circuit))
}

/// A contact behind which something else is.
fn apart(circuit: &Circuit, contact: usize, driver: Option<Driver>) -> Option<Circuit> {
    let mut c = circuit.clone();
    let (label, net, origin) = circuit.contacts().get(contact).map(|c| (c.label.clone(), c.net, c.origin.clone()))?;
    let fresh = c.add_net(format!("contact {label} alone"), origin);
    if let Some(driver) = driver {
        c.drive(fresh, driver);
    }
    c.net_mut(net)?.contact = None;
    let id = c.find_contact(&label)?;
    c.net_mut(fresh)?.contact = Some(id);
    c.contact_mut(id)?.net = fresh;
    Some(c)
}

/// Whether a contact's net has one driver, and that is always on: then nobody else drives the contact, or they would fight.
fn drives_alone(circuit: &Circuit, net: NetId) -> bool {
    let Some(net) = circuit.nets().get(net.index()) else { return false };
    let always = |d: &Driver| d.enable == Expr::HIGH && d.stage == Stage::PushPull;
    let is_contact = net.contact.is_some();
    is_contact && matches!(net.drivers.as_slice(), [only] if always(only))
}

fn contacts(circuit: &Circuit) -> impl Iterator<Item = Faulty> + '_ {
    circuit.contacts().iter().enumerate().flat_map(move |(i, contact)| {
        let called = format!("contact {} {}", contact.label, contact.name);
        let mut all = Vec::new();
        let mut add = |words: String, c: Option<Circuit>| {
            all.extend(c.map(|circuit| Faulty { words, origin: contact.origin.clone(), circuit }));
        };
        if contact.direction == Direction::Input {
            for (level, word) in [
                (Expr::HIGH, "reads high whatever the board does (open?)"),
                (Expr::LOW, "reads low whatever the board does"),
            ] {
                let mut c = apart(circuit, i, None);
                if let Some(net) = c.as_mut().and_then(|c| c.net_mut(contact.net)) {
                    net.drivers.push(constant(&contact.name, level, &contact.origin));
                }
                add(format!("{called} {word}"), c);
            }
        } else {
            for (level, word) in [(Expr::LOW, "low"), (Expr::HIGH, "high")] {
                let driver = constant(&contact.name, level, &contact.origin);
                add(format!("{called} is stuck {word} outside the chips"), apart(circuit, i, Some(driver)));
            }
            // where others may drive, nobody knows what is seen then; else an open TTL input reads high (common practice, no
            // source)
            let alone = drives_alone(circuit, contact.net);
            let driver = alone.then(|| constant(&contact.name, Expr::HIGH, &contact.origin));
            let words = if alone { "is open: what reads it reads high" } else { "floats: nothing reaches it" };
            add(format!("{called} {words}"), apart(circuit, i, driver));
        }
        all
    })
}

fn pins(circuit: &Circuit) -> impl Iterator<Item = Faulty> + '_ {
    // on a board, chips have pins; what is inside them can't be told from outside
    let has_pins = circuit.nets().iter().flat_map(|n| &n.drivers).any(|d| d.by.is_pin());
    circuit.nets().iter().enumerate().flat_map(move |(n, net)| {
        let told = net.drivers.iter().enumerate().filter(move |(_, d)| !has_pins || d.by.is_pin());
        told.flat_map(move |(k, d)| {
            let called = d.by.quoted();
            let set = |enable: Expr, level: Expr, word: &str| {
                let mut c = circuit.clone();
                let driver = c.net_mut(NetId::at(n)).and_then(|net| net.drivers.get_mut(k))?;
                (driver.enable, driver.level) = (enable, level);
                Some(Faulty { words: format!("{called} {word}"), origin: d.origin.clone(), circuit: c })
            };
            [
                set(Expr::HIGH, Expr::LOW, "is stuck low"),
                set(Expr::HIGH, Expr::HIGH, "is stuck high"),
                match drives_alone(circuit, NetId::at(n)) {
                    true => set(Expr::HIGH, Expr::HIGH, "never drives: what reads it reads high"),
                    false => set(Expr::LOW, d.level, "never drives"),
                },
                (d.enable != Expr::HIGH).then(|| set(Expr::HIGH, d.level, "always drives")).flatten(),
            ]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
        })
    })
}

/// Two contacts shorted: low wins (common practice for TTL, no source).
fn shorts(circuit: &Circuit) -> impl Iterator<Item = Faulty> + '_ {
    let contacts = circuit.contacts();
    (0..contacts.len()).flat_map(move |i| {
        (i + 1..contacts.len()).filter_map(move |j| {
            let (a, b) = (contacts.get(i)?, contacts.get(j)?);
            if a.direction == Direction::Input && b.direction == Direction::Input {
                return None;
            }
            let mut c = circuit.clone();
            let (x, y) = (c.net(a.net), c.net(b.net));
            let low = c.and(x, y);
            let origin = a.origin.clone();
            for (k, contact) in [(i, a), (j, b)] {
                if contact.direction == Direction::Input {
                    continue;
                }
                let fresh = c.add_net(format!("contact {} shorted", contact.label), origin.clone());
                c.drive(fresh, constant(&contact.name, low, &origin));
                c.net_mut(contact.net)?.contact = None;
                let id = ContactId::at(k);
                c.net_mut(fresh)?.contact = Some(id);
                c.contact_mut(id)?.net = fresh;
            }
            let words = format!("contacts {} {} and {} {} are shorted", a.label, a.name, b.label, b.name);
            Some(Faulty { words, origin, circuit: c })
        })
    })
}

/// Slips: single changes of the trace if there is one, of the circuit itself if not.
pub(super) fn slips<'c>(circuit: &'c Circuit, board: Option<&'c Board>) -> Box<dyn Iterator<Item = Faulty> + 'c> {
    match board {
        Some(board) => Box::new(board.alterations().into_iter().filter_map(move |a| {
            let circuit = board.altered(&a)?.circuit().ok()?;
            Some(Faulty { words: a.words, origin: a.origin, circuit })
        })),
        None => Box::new(edits_by_line(circuit).into_iter().map(move |e| Faulty {
            words: e.words().to_owned(),
            origin: e.origin.clone(),
            circuit: e.apply(circuit),
        })),
    }
}
