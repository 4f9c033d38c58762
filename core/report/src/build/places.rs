//! Places of contacts and pins on a plain board, and the shortest wires that join them.
//!
//! Where the contacts of a socket sit is in no trace: they stand in one row here, in the order of their labels, and a number
//! that carries nothing keeps its place. A package has
//! pin 1 next to the contacts at its left end, as a dual in-line package is counted.
use crate::adapter::{Beside, End, Joins, rail_name};
use gluewright_devices::emit;
use gluewright_kernel::circuit::{Label, Rail};

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
    /// The nets: those of the wiring list in the order of their first points, then what is beside.
    pub nets: Vec<Net>,
    /// Leads that go to a pin themselves, whatever else is on the net: the pin, and the lead.
    leads: Vec<[usize; 2]>,
    /// Points that hang on a rail and carry no supply: they are joined to it once all others are.
    late: Vec<usize>,
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
        let mut on: Vec<(&str, &Label)> = wires.iter().map(|w| (w.device.as_str(), &w.pin)).collect();
        on.extend(beside.iter().flat_map(Beside::pins));
        let mut packages: Vec<&str> = on.iter().map(|(package, _)| *package).collect();
        packages.sort_by_key(|name| Label::new(*name));
        packages.dedup();
        let mut left = 0.0;
        for package in packages {
            let mut its: Vec<&Label> = on.iter().filter(|(of, _)| *of == package).map(|(_, pin)| *pin).collect();
            let highest = its.iter().filter_map(|pin| pin.number()).max().map_or(0, usize::from);
            let count = pins(package).unwrap_or(highest).max(highest).next_multiple_of(2);
            let rows = ROWS[usize::from(count > 24)];
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

    /// Parts beside the devices, and wires to the rails: a part at a pin stands next to it, others in a row above the packages.
    fn add(&mut self, beside: &[Beside]) {
        if beside.is_empty() {
            return;
        }
        let top = self.points.iter().map(|p| p.at.1).fold(GAP, f64::max) + GAP + 2.0 * PITCH;
        let rails = [Rail::Vcc, Rail::Gnd].map(|rail| (rail, self.rail(beside, rail)));
        let mut left = 0.0;
        for part in beside {
            match &part.joins {
                Joins::Listed => {}
                Joins::Wires(ends, rail) => {
                    for end in ends {
                        if let Some(point) = self.point(end) {
                            self.late.push(point);
                            self.connect(point, net_of(&rails, *rail));
                        }
                    }
                }
                Joins::Decouples { reference, pins } => {
                    let at = pins.each_ref().map(|pin| self.find(reference, pin));
                    let [Some(supply), _] = at else { continue };
                    for ((lead, place), (rail, pin)) in (1..).zip(self.beside(supply)).zip(rails.into_iter().zip(at)) {
                        let point = self.place(&part.reference, Label::from(lead), place);
                        self.connect(point, Some(rail.1));
                        self.leads.extend(pin.map(|pin| [pin, point]));
                    }
                }
                Joins::Leads(leads) => {
                    // at its pin, or between the contacts of the rails
                    let at: Vec<Option<usize>> = match leads.as_slice() {
                        [(_, end @ End::Pin(..)), _] => vec![self.point(end)],
                        [(_, End::Rail(one)), (_, End::Rail(other))] => {
                            [one, other].map(|rail| self.contact_of(net_of(&rails, *rail))).to_vec()
                        }
                        _ => Vec::new(),
                    };
                    let row = left;
                    let places: Vec<(f64, f64)> = match at.first().copied().flatten() {
                        Some(at) => self.beside(at).to_vec(),
                        None => {
                            left += 2.0 * PITCH * number(leads.len() + 1);
                            (0..leads.len()).map(|n| (row + 2.0 * PITCH * number(n), top)).collect()
                        }
                    };
                    for (nth, ((name, end), place)) in leads.iter().zip(places).enumerate() {
                        let net = match end {
                            End::Rail(rail) => net_of(&rails, *rail),
                            other => self.point(other).map(|point| self.net_from(point, name)),
                        };
                        let point = self.place(&part.reference, name.clone(), place);
                        self.connect(point, net);
                        match (end, at.get(nth).copied().flatten()) {
                            (End::Rail(_), Some(contact)) if at.len() == leads.len() => {
                                self.leads.push([contact, point])
                            }
                            (End::Rail(_), _) => self.late.push(point),
                            _ => {}
                        }
                    }
                }
            }
        }
    }

    /// Two places for the leads of a part at a pin or contact: outside the package, and away from all that stands there.
    fn beside(&self, pin: usize) -> [(f64, f64); 2] {
        let (x, y) = self.points.get(pin).map_or((0.0, 0.0), |p| p.at);
        let is_lower_row = (y - GAP).abs() < PITCH / 2.0;
        let out = if is_lower_row { -PITCH } else { PITCH };
        let at = |column: f64| [1.0, 2.0].map(|n| (x + PITCH * column, y + out * n));
        let is_free = |places: &[(f64, f64); 2]| {
            let near = |place: &(f64, f64)| {
                self.points.iter().any(|p| (p.at.0 - place.0).hypot(p.at.1 - place.1) < PITCH * 0.9)
            };
            !places.iter().any(near)
        };
        let columns = (0..).map(number).flat_map(|n| [n, -n]);
        columns.take(2 * self.points.len() + 2).map(at).find(is_free).unwrap_or_else(|| at(0.0))
    }

    fn place(&mut self, reference: &str, pin: Label, at: (f64, f64)) -> usize {
        self.points.push(Point { reference: reference.to_owned(), pin, at });
        self.points.len() - 1
    }

    /// Puts a point on a net, unless it is on one.
    fn connect(&mut self, point: usize, net: Option<usize>) {
        if self.net_at(point).is_some() {
            return;
        }
        if let Some(net) = net.and_then(|net| self.nets.get_mut(net)) {
            net.points.push(point);
        }
    }

    /// A rail's net: of all the pins that a capacitor says are on it.
    fn rail(&mut self, beside: &[Beside], rail: Rail) -> usize {
        let pins = beside.iter().filter_map(|part| match &part.joins {
            Joins::Decouples { reference, pins: [supply, ground] } => {
                self.find(reference, if rail == Rail::Vcc { supply } else { ground })
            }
            _ => None,
        });
        let pins: Vec<usize> = pins.collect();
        let net = pins.iter().find_map(|pin| self.net_at(*pin));
        let net = net.unwrap_or_else(|| self.name(rail_name(rail), Vec::new()));
        for pin in pins {
            self.connect(pin, Some(net));
        }
        net
    }

    /// The first contact on a net.
    pub(super) fn contact_of(&self, net: Option<usize>) -> Option<usize> {
        let is_contact = |p: &&usize| self.points.get(**p).is_some_and(|p| p.reference == SOCKET);
        self.nets.get(net?)?.points.iter().find(is_contact).copied()
    }

    pub(super) fn net_at(&self, point: usize) -> Option<usize> {
        self.nets.iter().position(|n| n.points.contains(&point))
    }

    /// The net of a point; one that has none gets one, called by the lead that comes to it, or by the pin if that has only a
    /// number.
    fn net_from(&mut self, point: usize, lead: &Label) -> usize {
        let pin = self.points.get(point).map_or_else(String::new, |p| format!("{}-{}", p.reference, p.pin));
        let name = if lead.number().is_some() { pin } else { lead.to_string() };
        self.net_at(point).unwrap_or_else(|| self.name(&name, vec![point]))
    }

    fn point(&self, end: &End) -> Option<usize> {
        match end {
            End::Pin(reference, pin) => self.find(reference, pin),
            End::Contact(label) => self.find(SOCKET, label),
            End::Rail(_) => None,
        }
    }

    fn find(&self, reference: &str, pin: &Label) -> Option<usize> {
        self.points.iter().position(|p| p.reference == reference && p.pin == *pin)
    }

    /// Adds a net, under a name that no other has.
    fn name(&mut self, name: &str, points: Vec<usize>) -> usize {
        let mut names = std::iter::once(name.to_owned()).chain((2..).map(|n| format!("{name}~{n}")));
        let free = names.find(|name| self.nets.iter().all(|n| n.name != *name));
        self.nets.push(Net { name: free.unwrap_or_default(), points });
        self.nets.len() - 1
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
            self.name(name, points);
        }
    }

    /// From one point to another along the board's sides, in mm.
    fn way(&self, a: usize, b: usize) -> f64 {
        let at = |p: usize| self.points.get(p).map_or((0.0, 0.0), |p| p.at);
        let ((ax, ay), (bx, by)) = (at(a), at(b));
        (ax - bx).abs() + (ay - by).abs()
    }

    /// The wires, the longest first: of each net as few and as short as join all its points (R. C. Prim 1957), but for leads
    /// that go to a pin themselves.
    pub fn wires(&self) -> Vec<Wire> {
        let mut all = Vec::new();
        for (net, points) in self.nets.iter().map(|n| &n.points).enumerate() {
            let (leads, mut left): (Vec<usize>, Vec<usize>) =
                points.iter().partition(|&&point| self.leads.iter().any(|[_, lead]| *lead == point));
            for &[pin, lead] in self.leads.iter().filter(|[_, lead]| leads.contains(lead)) {
                all.push(Wire { net, ends: [pin, lead], mm: self.way(pin, lead) + ENDS });
            }
            let mut joined: Vec<usize> = left.drain(..left.len().min(1)).collect();
            while !left.is_empty() {
                let ways = left.iter().flat_map(|&to| joined.iter().map(move |&from| (from, to)));
                let is_late = |to: usize| self.late.contains(&to);
                let shortest = ways.min_by(|a, b| {
                    is_late(a.1).cmp(&is_late(b.1)).then(self.way(a.0, a.1).total_cmp(&self.way(b.0, b.1)))
                });
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

fn net_of(rails: &[(Rail, usize)], rail: Rail) -> Option<usize> {
    rails.iter().find(|(r, _)| *r == rail).map(|(_, net)| *net)
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

    fn part(reference: &str, joins: Joins) -> Beside {
        Beside { reference: reference.to_owned(), part: String::new(), between: String::new(), joins, why: "" }
    }

    fn pin(reference: &str, pin: u16) -> End {
        End::Pin(reference.to_owned(), Label::from(pin))
    }

    /// Capacitors at both devices, one at the contacts, ties, and a resistor at a pin that no wire of the list is on.
    fn held() -> Layout {
        let decoupling = |reference: &str, of: &str| {
            let pins = [24, 12].map(Label::from);
            part(reference, Joins::Decouples { reference: of.to_owned(), pins })
        };
        let leads = |ends: [End; 2]| Joins::Leads([1, 2].map(Label::from).into_iter().zip(ends).collect());
        let beside = [
            decoupling("C1", "D1"),
            decoupling("C2", "D2"),
            part("C3", leads([End::Rail(Rail::Vcc), End::Rail(Rail::Gnd)])),
            part("T1", Joins::Wires(vec![pin("D1", 10), pin("D1", 11)], Rail::Gnd)),
            part("R1", leads([pin("D2", 20), End::Rail(Rail::Gnd)])),
        ];
        let rail = |contact, signal, pin| ["D1", "D2"].map(|device| wire(contact, signal, device, pin));
        let wires = [rail("3", "VCC", 24), rail("9", "GND", 12)].concat();
        Layout::new(&wires, |_| Some(24), |_| true, &beside)
    }

    #[test]
    fn a_capacitor_stands_at_its_pin_and_no_supply_runs_over_its_leads() {
        let layout = held();
        let name = |p: usize| format!("{}-{}", layout.points[p].reference, layout.points[p].pin);
        let wires: Vec<[String; 2]> = layout.wires().iter().map(|w| w.ends.map(name)).collect();
        for (lead, to) in [
            ("C1-1", "D1-24"),
            ("C1-2", "D1-12"),
            ("C2-1", "D2-24"),
            ("C2-2", "D2-12"),
            ("C3-1", "J1-3"),
            ("C3-2", "J1-9"),
        ] {
            let at: Vec<&[String; 2]> = wires.iter().filter(|ends| ends.iter().any(|end| end == lead)).collect();
            assert!(matches!(at.as_slice(), [ends] if ends.iter().any(|end| end == to)), "{lead}: {at:?}");
        }
        for (lead, pin) in [("C1", ("D1", 24)), ("C2", ("D2", 24)), ("R1", ("D2", 20))] {
            let [lead, pin] = [layout.find(lead, &Label::from(1)), layout.find(pin.0, &Label::from(pin.1))];
            assert!(layout.way(lead.unwrap(), pin.unwrap()) <= 2.0 * PITCH, "{lead:?} {pin:?}");
        }
        // the ground of D2 comes from the contact or from the ground of D1, not over inputs that are tied to it
        let supply = |end: &String| ["J1-9", "D1-12", "D2-12"].contains(&end.as_str());
        assert_eq!(wires.iter().filter(|ends| ends.iter().all(supply)).count(), 2, "{wires:?}");
    }

    #[test]
    fn ties_and_resistors_are_on_nets() {
        let layout = held();
        let nets: Vec<Vec<String>> = layout
            .nets
            .iter()
            .map(|n| {
                n.points.iter().map(|&p| format!("{}-{}", layout.points[p].reference, layout.points[p].pin)).collect()
            })
            .collect();
        let on = |point: &str| nets.iter().position(|n| n.iter().any(|p| p == point));
        assert!(on("D1-10").is_some() && on("D1-10") == on("J1-9") && on("D1-11") == on("J1-9"), "{nets:?}");
        assert!(on("R1-2") == on("J1-9") && on("R1-1").is_some() && on("R1-1") == on("D2-20"), "{nets:?}");
        assert_ne!(on("R1-1"), on("J1-9"));
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
