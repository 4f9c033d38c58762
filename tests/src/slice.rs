//! A pair of circuits cut down to what some contacts depend on, so that large pairs can be walked part by part.
//!
//! If no run of the original shows what the replacement shows at some contacts, none shows it at all of them. The other
//! way round says less: each contact may be explained by another start.
use std::collections::{BTreeSet, HashMap};

use gluewright::circuit::{Circuit, Driver, Element, ElementId, Expr, Kind, Label, NetId, Op};

use crate::walk::alive_behind;

/// Both circuits with these contacts, those that are read on the way, and the pure inputs.
pub fn slices(original: &Circuit, replacement: &Circuit, labels: impl IntoIterator<Item = Label>) -> [Circuit; 2] {
    let pair = [original, replacement];
    let mut shown: BTreeSet<Label> = labels.into_iter().collect();
    loop {
        // a contact that one side reads back is compared on both
        let more: BTreeSet<Label> = pair.iter().flat_map(|c| kept(c, &shown)).collect();
        if more == shown {
            return pair.map(|c| slice(c, &shown));
        }
        shown = more;
    }
}

/// The contacts of a slice.
fn kept(circuit: &Circuit, shown: &BTreeSet<Label>) -> BTreeSet<Label> {
    let (nets, _) = alive_behind(circuit, |l| shown.contains(l));
    let is_input = |n: NetId| circuit.nets()[n.index()].drivers.is_empty();
    let stays = circuit.contacts().iter().filter(|c| nets[c.net.index()] || is_input(c.net));
    stays.map(|c| c.label.clone()).chain(shown.iter().cloned()).collect()
}

fn slice(circuit: &Circuit, shown: &BTreeSet<Label>) -> Circuit {
    let (live_nets, live_elements) = alive_behind(circuit, |l| shown.contains(l));
    let mut c =
        Copy { from: circuit, to: Circuit::new(&circuit.name), nets: vec![], elements: vec![], known: HashMap::new() };
    for (net, live) in circuit.nets().iter().zip(&live_nets) {
        let stays = *live || net.contact.is_some_and(|k| shown.contains(&circuit.contacts()[k.index()].label));
        c.nets.push(stays.then(|| {
            let id = c.to.add_net(net.name.clone(), net.origin.clone());
            c.to.net_mut(id).expect("just added").pull = net.pull;
            id
        }));
    }
    for (e, live) in circuit.elements().iter().zip(&live_elements) {
        let empty = Element { clear: Expr::LOW, preset: Expr::LOW, unknown_load: Expr::LOW, ..e.clone() };
        c.elements.push(live.then(|| c.to.add_element(empty)));
    }
    for (k, e) in circuit.elements().iter().enumerate() {
        let Some(id) = c.elements[k] else { continue };
        let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
        let unknown = circuit.loads_unknown(circuit.find_element(&e.name).expect("its own"));
        let [clock, data, clear, preset, unknown] = [clock, data, e.clear, e.preset, unknown].map(|x| c.copy(x));
        let kind = match e.kind {
            Kind::Register { .. } => Kind::Register { clock, data },
            Kind::Latch { .. } => Kind::Latch { open: clock, data },
        };
        c.to.load_unknown_while(id, unknown);
        let new = c.to.element_mut(id).expect("just added");
        (new.kind, new.clear, new.preset) = (kind, clear, preset);
    }
    for (k, net) in circuit.nets().iter().enumerate().filter(|(k, _)| live_nets[*k]) {
        let Some(id) = c.nets[k] else { continue };
        for d in &net.drivers {
            let (enable, level) = (c.copy(d.enable), c.copy(d.level));
            c.to.drive(id, Driver { enable, level, ..d.clone() });
        }
    }
    for contact in circuit.contacts().iter().filter(|k| shown.contains(&k.label)) {
        let Some(net) = c.nets[contact.net.index()] else { continue };
        c.to.add_contact(gluewright::circuit::Contact { net, ..contact.clone() });
    }
    c.to
}

struct Copy<'c> {
    from: &'c Circuit,
    to: Circuit,
    nets: Vec<Option<NetId>>,
    elements: Vec<Option<ElementId>>,
    known: HashMap<Expr, Expr>,
}

impl Copy<'_> {
    fn copy(&mut self, e: Expr) -> Expr {
        if let Some(&known) = self.known.get(&e) {
            return known;
        }
        let new = match self.from.op(e) {
            Op::Constant(v) => Expr::constant(v),
            Op::Net(n) => self.nets[n.index()].map_or(Expr::LOW, |n| self.to.net(n)),
            Op::Q(x) => self.elements[x.index()].map_or(Expr::LOW, |x| self.to.q(x)),
            Op::QInverted(x) => self.elements[x.index()].map_or(Expr::LOW, |x| self.to.q_inverted(x)),
            Op::Not(a) => {
                let a = self.copy(a);
                self.to.not(a)
            }
            Op::And(a, b) => {
                let (a, b) = (self.copy(a), self.copy(b));
                self.to.and(a, b)
            }
            Op::Or(a, b) => {
                let (a, b) = (self.copy(a), self.copy(b));
                self.to.or(a, b)
            }
            Op::Xor(a, b) => {
                let (a, b) = (self.copy(a), self.copy(b));
                self.to.xor(a, b)
            }
            Op::Choose(w, a, b) => {
                let (w, a, b) = (self.copy(w), self.copy(a), self.copy(b));
                self.to.choose(w, a, b)
            }
        };
        self.known.insert(e, new);
        new
    }
}
