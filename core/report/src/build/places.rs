//! Places of contacts and pins on a plain board, and the shortest wires that join them.
//!
//! Where the contacts of a socket sit is in no trace: they stand in one row here, in the order of their labels, and a number
//! that carries nothing keeps its place. A package has
//! pin 1 next to the contacts at its left end, as a dual in-line package is counted.
use crate::adapter::{Beside, End, rail_name};
use gluewright_devices::emit;
use gluewright_kernel::circuit::Label;

/// Between neighbours, in mm (JEDEC MS-001 and MS-011, dual in-line packages: 0.1 inch).
const PITCH: f64 = 2.54;
/// Between the rows of a package of up to 24 pins, and of a larger one, in mm: 0.3 inch (MS-001) and 0.6 inch (MS-011).
const ROWS: [f64; 2] = [7.62, 15.24];
/// From the contacts to the packages, and between these, in mm.
const GAP: f64 = 10.16;
/// What a wire needs beyond the way, for both its ends, in mm (common practice, no source).
const ENDS: f64 = 10.0;

/// A contact of the socket, or a pin of a package.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// `J1` for the socket, else the package.
    pub reference: String,
    /// Contact or pin.
    pub pin: Label,
    /// To the right and upwards, in mm, seen from the component side.
    pub at: (f64, f64),
}

/// What is joined.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Net {
    /// The signal; no two nets have the same.
    pub name: String,
    /// Places in [`Layout::points`].
    pub points: Vec<usize>,
}

/// A piece of wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wire {
    /// Place in [`Layout::nets`].
    pub net: usize,
    /// Places in [`Layout::points`].
    pub ends: [usize; 2],
    /// How long to cut it, in mm: along the board's sides, with what the ends need.
    pub mm: f64,
}

/// The adapter laid out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Layout {
    /// Contacts first, then packages.
    pub points: Vec<Point>,
    /// The nets, in the order of their first points.
    pub nets: Vec<Net>,
}

/// The socket's reference.
pub(super) const SOCKET: &str = "J1";

impl Layout {
    /// Of a wiring list; `pins` says how many pins a package has (of others, as many as its wires need), and `is_contact` which
    /// labels are contacts of the socket and no wires between packages.
    pub fn new(
        wires: &[emit::Wire],
        pins: impl Fn(&str) -> Option<usize>,
        is_contact: impl Fn(&Label) -> bool,
        beside: &[Beside],
    ) -> Layout {
        let mut layout = Layout::default();
        let mut contacts: Vec<&Label> = wires.iter().map(|w| &w.contact).filter(|l| is_contact(l)).collect();
        contacts.sort();
        contacts.dedup();
        // a row with as many places as its numbers say, unless that would be mostly gaps
        let numbers: Option<Vec<usize>> = contacts.iter().map(|l| l.number().map(usize::from)).collect();
        let numbers = numbers.filter(|n| match n.as_slice() {
            [first, .., last] => last - first < 2 * n.len(),
            _ => false,
        });
        for (nth, label) in contacts.into_iter().enumerate() {
            let place = numbers.as_ref().and_then(|n| Some(n.get(nth)? - n.first()?)).unwrap_or(nth);
            layout.points.push(Point {
                reference: SOCKET.to_owned(),
                pin: label.clone(),
                at: (PITCH * number(place), 0.0),
            });
        }
        let mut packages: Vec<&str> = wires.iter().map(|w| w.device.as_str()).collect();
        packages.sort_by_key(|name| Label::new(*name));
        packages.dedup();
        let mut left = 0.0;
        for package in packages {
            let of = || wires.iter().filter(|w| w.device == package);
            let highest = of().filter_map(|w| w.pin.number()).max().map_or(0, usize::from);
            let count = pins(package).unwrap_or(highest).max(highest).next_multiple_of(2);
            let rows = ROWS[usize::from(count > 24)];
            let mut its: Vec<&Label> = of().map(|w| &w.pin).collect();
            its.sort();
            its.dedup();
            for pin in its {
                let place = usize::from(pin.number().unwrap_or(1)).saturating_sub(1);
                let half = count / 2;
                let (column, above) = if place < half { (place, 0.0) } else { (count.saturating_sub(1 + place), rows) };
                let at = (left + PITCH * number(column), GAP + above);
                layout.points.push(Point { reference: package.to_owned(), pin: pin.clone(), at });
            }
            left += PITCH * number(count / 2) + GAP;
        }
        layout.join(wires);
        layout.add(beside);
        layout
    }

    /// Parts with two leads, in a row above the packages.
    fn add(&mut self, beside: &[Beside]) {
        let top = self.points.iter().map(|p| p.at.1).fold(GAP, f64::max) + GAP;
        let mut left = 0.0;
        for part in beside {
            let Some(ends) = &part.ends else { continue };
            let nets = ends.each_ref().map(|end| self.net_of(end));
            for (lead, (net, shift)) in nets.into_iter().zip([0.0, 2.0 * PITCH]).enumerate() {
                let pin = Label::new((lead + 1).to_string());
                let at = (left + shift, top);
                if let Some(net) = net.and_then(|net| self.nets.get_mut(net)) {
                    net.points.push(self.points.len());
                }
                self.points.push(Point { reference: part.reference.clone(), pin, at });
            }
            left += 4.0 * PITCH;
        }
    }

    fn net_of(&self, end: &End) -> Option<usize> {
        let point = match end {
            End::Pin(reference, pin) => self.find(reference, pin),
            End::Contact(label) => self.find(SOCKET, label),
            End::Rail(rail) => return self.nets.iter().position(|n| n.name == rail_name(*rail)),
        };
        self.nets.iter().position(|n| point.is_some_and(|p| n.points.contains(&p)))
    }

    fn find(&self, reference: &str, pin: &Label) -> Option<usize> {
        self.points.iter().position(|p| p.reference == reference && p.pin == *pin)
    }

    /// What has the same label or the same pin is one net.
    fn join(&mut self, wires: &[emit::Wire]) {
        let mut groups: Vec<(Vec<&Label>, &str, Vec<usize>)> = Vec::new();
        for wire in wires {
            let ends = [self.find(SOCKET, &wire.contact), self.find(&wire.device, &wire.pin)];
            let ends: Vec<usize> = ends.into_iter().flatten().collect();
            let touches = |(labels, _, points): &(Vec<&Label>, &str, Vec<usize>)| {
                labels.contains(&&wire.contact) || ends.iter().any(|end| points.contains(end))
            };
            let (mut joined, apart): (Vec<_>, Vec<_>) = groups.into_iter().partition(touches);
            groups = apart;
            let mut whole = (vec![&wire.contact], wire.signal.as_str(), ends);
            if let Some((_, name, _)) = joined.first() {
                whole.1 = *name;
            }
            for (labels, _, points) in joined.drain(..) {
                whole.0.extend(labels);
                whole.2.extend(points);
            }
            groups.push(whole);
        }
        for (_, name, points) in &mut groups {
            points.sort_unstable();
            points.dedup();
            if name.is_empty() {
                *name = "net";
            }
        }
        groups.sort_by(|a, b| a.2.cmp(&b.2));
        for (_, name, points) in groups {
            let numbered = (2..).map(|n| format!("{name}~{n}"));
            let mut names = std::iter::once(name.to_owned()).chain(numbered);
            let free = names.find(|name| self.nets.iter().all(|n| n.name != *name));
            self.nets.push(Net { name: free.unwrap_or_default(), points });
        }
    }

    /// From one point to another along the board's sides, in mm.
    fn way(&self, a: usize, b: usize) -> f64 {
        let at = |p: usize| self.points.get(p).map_or((0.0, 0.0), |p| p.at);
        let ((ax, ay), (bx, by)) = (at(a), at(b));
        (ax - bx).abs() + (ay - by).abs()
    }

    /// The wires, the longest first: of each net as few and as short as join all its points (R. C. Prim 1957).
    pub fn wires(&self) -> Vec<Wire> {
        let mut all = Vec::new();
        for (net, points) in self.nets.iter().map(|n| &n.points).enumerate() {
            let mut joined: Vec<usize> = points.iter().take(1).copied().collect();
            let mut left: Vec<usize> = points.iter().skip(1).copied().collect();
            while !left.is_empty() {
                let ways = left.iter().flat_map(|&to| joined.iter().map(move |&from| (from, to)));
                let shortest = ways.min_by(|a, b| self.way(a.0, a.1).total_cmp(&self.way(b.0, b.1)));
                let Some((from, to)) = shortest else { break };
                left.retain(|p| *p != to);
                joined.push(to);
                all.push(Wire { net, ends: [from, to], mm: self.way(from, to) + ENDS });
            }
        }
        all.sort_by(|a, b| b.mm.total_cmp(&a.mm).then(a.ends.cmp(&b.ends)));
        all
    }
}

/// A count as a factor.
fn number(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in super::super) fn wire(contact: &str, signal: &str, device: &str, pin: u16) -> emit::Wire {
        emit::Wire {
            contact: Label::new(contact),
            signal: signal.to_owned(),
            device: device.to_owned(),
            pin: Label::from(pin),
        }
    }

    /// Two devices, a wire between them, a contact at two pins.
    pub(in super::super) fn two() -> Layout {
        let wires = [
            wire("1", "clock", "D1", 1),
            wire("1", "clock", "D2", 1),
            wire("2", "q", "D1", 14),
            wire("w1", "carry", "D1", 13),
            wire("w1", "carry", "D2", 2),
            wire("3", "VCC", "D1", 24),
            wire("4", "VCC", "D1", 24),
        ];
        Layout::new(&wires, |_| Some(24), |label| label.number().is_some(), &[])
    }

    #[test]
    fn every_net_is_joined_by_one_wire_less_than_it_has_points() {
        let layout = two();
        let nets: Vec<(&str, usize)> = layout.nets.iter().map(|n| (n.name.as_str(), n.points.len())).collect();
        assert_eq!(nets, [("clock", 3), ("q", 2), ("VCC", 3), ("carry", 2)]);
        let wires = layout.wires();
        assert_eq!(wires.len(), 2 + 1 + 2 + 1);
        assert!(wires.windows(2).all(|w| w[0].mm >= w[1].mm));
    }

    #[test]
    fn a_package_is_counted_round_and_the_way_is_along_the_sides() {
        let layout = two();
        let at = |reference: &str, pin: u16| layout.points[layout.find(reference, &Label::from(pin)).unwrap()].at;
        // pin 24 is opposite pin 1, 0.3 inch away; pin 13 opposite pin 12 (JEDEC MS-001)
        assert_eq!(at("D1", 24).0, at("D1", 1).0);
        assert!((at("D1", 24).1 - at("D1", 1).1 - 7.62).abs() < 1e-9);
        assert!((at("D1", 13).0 - at("D1", 1).0 - 11.0 * 2.54).abs() < 1e-9);
        let carry = layout.nets.iter().position(|n| n.name == "carry").unwrap();
        let wire = layout.wires().into_iter().find(|w| w.net == carry).unwrap();
        // from column 11 of D1 to column 1 of D2, which begins 12 pitches and a gap to the right; rows 7.62 apart; 10 mm for ends
        let way = (12.0 * 2.54 + 10.16 + 2.54 - 11.0 * 2.54) + 7.62;
        assert!((wire.mm - way - 10.0).abs() < 1e-9, "{}", wire.mm);
    }
}
