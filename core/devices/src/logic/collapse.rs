//! From nets and shared expressions to one function for each macrocell.
use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::loops::{kept, operands};
use super::wires::{Wire, sources, wire};
use super::{
    Diagram, Diagrams, Input, Latch, Logic, LogicError, Node, Output, Register, Signal, SignalInfo, StandsFor,
};
use gluewright_kernel::circuit::{
    Circuit, Contact, ContactId, Element, ElementId, Expr, Kind, Label, NetId, Op, Polarity, Stage,
};

/// Collapses a circuit. Nets in `keep` stay signals of their own; others are dissolved where that is possible.
pub fn collapse(circuit: &Circuit, keep: &BTreeSet<NetId>) -> Result<Logic, LogicError> {
    circuit.check()?;
    let wires: Vec<_> = circuit.nets().iter().map(|n| wire(circuit, n)).collect();
    let kept = kept(circuit, &wires, keep);
    let mut collapse = Collapse {
        circuit,
        wires,
        kept,
        diagrams: Diagrams::default(),
        signals: Vec::new(),
        variables: BTreeMap::new(),
        values: HashMap::new(),
    };
    let logic = collapse.run()?;
    if logic.diagrams.overflowed() {
        return Err(LogicError::TooLarge { circuit: circuit.name.clone() });
    }
    Ok(logic)
}

struct Collapse<'a> {
    circuit: &'a Circuit,
    wires: Vec<Result<Wire, LogicError>>,
    kept: BTreeSet<NetId>,
    diagrams: Diagrams,
    signals: Vec<SignalInfo>,
    variables: BTreeMap<Signal, usize>,
    values: HashMap<Expr, Diagram>,
}

impl Collapse<'_> {
    fn run(&mut self) -> Result<Logic, LogicError> {
        let mut outputs = Vec::new();
        for (id, contact) in self.circuit.numbered_contacts() {
            outputs.extend(self.output(id, contact)?);
        }
        let mut roots: Vec<Diagram> = outputs.iter().flat_map(|o| [o.level, o.enable]).collect();
        let (mut registers, mut latches, mut nodes) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
        let mut live = BTreeSet::new();
        // everything that an output needs, directly or through registers, latches and kept nodes
        while let Some(root) = roots.pop() {
            for variable in self.diagrams.support(root) {
                if !live.insert(variable) {
                    continue;
                }
                match self.signals.get(variable).map(|s| s.signal) {
                    Some(Signal::Held(e)) => {
                        let circuit = self.circuit;
                        let Some(element) = circuit.elements().get(e.index()) else { continue };
                        match element.kind {
                            Kind::Register { clock, data } => {
                                let register = self.register(e, element, clock, data)?;
                                roots.extend([register.clock, register.data, register.clear, register.preset]);
                                registers.insert(e, register);
                            }
                            Kind::Latch { open, data } => {
                                let latch = self.latch(e, element, open, data)?;
                                roots.push(latch.follow);
                                latches.insert(e, latch);
                            }
                        }
                    }
                    Some(Signal::Wire(net)) => {
                        if let Some(node) = self.node(net, variable)? {
                            roots.push(node.level);
                            nodes.insert(net, node);
                        }
                    }
                    Some(Signal::Added(_)) | None => {}
                }
            }
        }
        for output in &mut outputs {
            output.read_as = self.variables.get(&Signal::Wire(output.net)).copied().filter(|v| live.contains(v));
        }
        let (inputs, idle) = self.others(&outputs, &live);
        let is_live = |e: ElementId| registers.contains_key(&e) || latches.contains_key(&e);
        let named = self.circuit.numbered_elements();
        let unread = named.filter(|&(id, _)| !is_live(id)).map(|(_, e)| e.name.clone()).collect();
        Ok(Logic {
            name: self.circuit.name.clone(),
            diagrams: std::mem::take(&mut self.diagrams),
            signals: std::mem::take(&mut self.signals),
            inputs,
            outputs,
            registers: registers.into_values().collect(),
            latches: latches.into_values().collect(),
            nodes: nodes.into_values().collect(),
            idle,
            unread,
            together: Vec::new(),
        })
    }

    /// The driven contact, or nothing if the circuit never drives it.
    fn output(&mut self, id: ContactId, contact: &Contact) -> Result<Option<Output>, LogicError> {
        let Some(net) = self.circuit.nets().get(contact.net.index()) else { return Ok(None) };
        let wire = self.wires.get(contact.net.index()).cloned().unwrap_or(Ok(Wire::Board))?;
        if wire == Wire::Board {
            return Ok(None);
        }
        let drivers: Vec<_> = net.drivers.iter().filter(|d| d.enable != Expr::LOW).cloned().collect();
        let Some(first) = drivers.first() else { return Ok(None) };
        let mut enable = Diagram::LOW;
        for driver in &drivers {
            let one = self.value(driver.enable)?;
            enable = self.diagrams.or(enable, one);
        }
        let level = if first.stage == Stage::OpenCollector { Diagram::LOW } else { self.value(first.level)? };
        if enable == Diagram::LOW {
            return Ok(None);
        }
        let shows = self.diagrams.as_literal(level).map(|(variable, value)| (variable, !value));
        Ok(Some(Output {
            contact: id,
            net: contact.net,
            label: contact.label.clone(),
            name: contact.name.clone(),
            polarity: contact.polarity,
            stage: first.stage,
            level,
            enable,
            shows,
            read_as: None,
            pull: net.pull,
            origin: first.origin.clone(),
        }))
    }

    fn register(&mut self, element: ElementId, e: &Element, clock: Expr, data: Expr) -> Result<Register, LogicError> {
        Ok(Register {
            element,
            name: e.name.clone(),
            variable: self.variable(Signal::Held(element)),
            clock: self.value(clock)?,
            data: self.value(data)?,
            clear: self.value(e.clear)?,
            preset: self.value(e.preset)?,
            start: e.start,
            origin: e.origin.clone(),
        })
    }

    fn latch(&mut self, element: ElementId, e: &Element, open: Expr, data: Expr) -> Result<Latch, LogicError> {
        let variable = self.variable(Signal::Held(element));
        let (open, data) = (self.value(open)?, self.value(data)?);
        let (clear, preset) = (self.value(e.clear)?, self.value(e.preset)?);
        let own = self.diagrams.variable(variable);
        let follow = self.diagrams.choose(open, data, own);
        let uncleared = self.diagrams.choose(clear, Diagram::LOW, follow);
        let follow = self.diagrams.or(preset, uncleared);
        Ok(Latch {
            element,
            name: e.name.clone(),
            variable,
            open,
            data,
            clear,
            preset,
            start: e.start,
            follow,
            origin: e.origin.clone(),
        })
    }

    /// The kept node behind a wire, unless the wire is a contact's.
    fn node(&mut self, net: NetId, variable: usize) -> Result<Option<Node>, LogicError> {
        let Some(n) = self.circuit.nets().get(net.index()) else { return Ok(None) };
        if n.contact.is_some() {
            return Ok(None);
        }
        let origin = n.drivers.first().map_or_else(|| n.origin.clone(), |d| d.origin.clone());
        let (name, wire) = (n.name.clone(), self.wires.get(net.index()).cloned().unwrap_or(Ok(Wire::Board))?);
        Ok(Some(Node { net: Some(net), name, variable, level: self.level(&wire)?, origin }))
    }

    /// Contacts that are only read, and contacts that nobody uses.
    fn others(&self, outputs: &[Output], live: &BTreeSet<usize>) -> (Vec<Input>, Vec<(Label, String)>) {
        let (mut inputs, mut idle) = (Vec::new(), Vec::new());
        for (id, contact) in self.circuit.numbered_contacts() {
            if outputs.iter().any(|o| o.contact == id) {
                continue;
            }
            match self.variables.get(&Signal::Wire(contact.net)).filter(|v| live.contains(v)) {
                Some(&variable) => inputs.push(Input {
                    contact: id,
                    label: contact.label.clone(),
                    name: contact.name.clone(),
                    variable,
                    origin: contact.origin.clone(),
                }),
                None => idle.push((contact.label.clone(), contact.name.clone())),
            }
        }
        (inputs, idle)
    }

    /// The variable of a signal, new if need be.
    fn variable(&mut self, signal: Signal) -> usize {
        if let Some(&known) = self.variables.get(&signal) {
            return known;
        }
        let variable = self.signals.len();
        let plain = |name: String| SignalInfo { signal, name, stands_for: None, label: None, polarity: Polarity::Data };
        let info = match signal {
            Signal::Held(e) => {
                plain(self.circuit.elements().get(e.index()).map_or_else(String::new, |e| e.name.clone()))
            }
            Signal::Added(_) => plain(String::new()),
            Signal::Wire(net) => {
                let id = net;
                let net = self.circuit.nets().get(net.index());
                match net.and_then(|n| n.contact).and_then(|c| self.circuit.contacts().get(c.index())) {
                    Some(c) => {
                        let (name, label) = (c.name.clone(), Some(c.label.clone()));
                        SignalInfo { signal, name, stands_for: None, label, polarity: c.polarity }
                    }
                    None => {
                        let output = net.and_then(|n| n.value_of).map(|_| self.circuit.called(id).to_owned());
                        let info = plain(net.map_or_else(String::new, |n| n.name.clone()));
                        SignalInfo { stands_for: output.map(StandsFor::ReadBack), ..info }
                    }
                }
            }
        };
        self.signals.push(info);
        self.variables.insert(signal, variable);
        variable
    }

    /// The level of a net that is a function, from expressions that are already done or can be.
    fn level(&mut self, wire: &Wire) -> Result<Diagram, LogicError> {
        match wire {
            Wire::Board | Wire::Pin => Ok(Diagram::LOW),
            Wire::Follows(level) => self.value(*level),
            Wire::PulledLow(enables) => {
                let mut pulled = Diagram::LOW;
                for &enable in enables {
                    let one = self.value(enable)?;
                    pulled = self.diagrams.or(pulled, one);
                }
                Ok(self.diagrams.not(pulled))
            }
        }
    }

    /// The function of an expression. Depth is the user's to choose, so nothing here recurses.
    fn value(&mut self, root: Expr) -> Result<Diagram, LogicError> {
        let mut open: Vec<(Expr, bool)> = vec![(root, false)];
        let mut on_path = BTreeSet::new();
        while let Some((e, ready)) = open.pop() {
            if self.values.contains_key(&e) {
                continue;
            }
            if ready {
                on_path.remove(&e);
                let value = self.combine(e);
                self.values.insert(e, value);
                continue;
            }
            if !on_path.insert(e) {
                return Err(self.complement_loop(e));
            }
            open.push((e, true));
            let mut below = operands(self.circuit, e);
            if let Op::Net(net) = self.circuit.op(e) {
                let wire = self.wires.get(net.index()).cloned().unwrap_or(Ok(Wire::Board))?;
                if !self.kept.contains(&net) {
                    below.extend(sources(&wire));
                }
            }
            open.extend(below.into_iter().filter(|b| !self.values.contains_key(b)).map(|b| (b, false)));
        }
        Ok(self.values.get(&root).copied().unwrap_or(Diagram::LOW))
    }

    /// The function of an expression whose operands are done.
    fn combine(&mut self, e: Expr) -> Diagram {
        let done = |me: &Self, e: Expr| me.values.get(&e).copied().unwrap_or(Diagram::LOW);
        match self.circuit.op(e) {
            Op::Constant(value) => Diagram::constant(value),
            Op::Net(net) => self.net_value(net),
            Op::Q(x) => {
                let variable = self.variable(Signal::Held(x));
                self.diagrams.variable(variable)
            }
            Op::QInverted(x) => {
                let variable = self.variable(Signal::Held(x));
                let inverted = self.diagrams.literal(variable, false);
                let both = match operands(self.circuit, e).as_slice() {
                    [clear, preset] => {
                        let (clear, preset) = (done(self, *clear), done(self, *preset));
                        self.diagrams.and(clear, preset)
                    }
                    _ => Diagram::LOW,
                };
                self.diagrams.or(inverted, both)
            }
            Op::Not(a) => {
                let a = done(self, a);
                self.diagrams.not(a)
            }
            Op::And(a, b) => {
                let (a, b) = (done(self, a), done(self, b));
                self.diagrams.and(a, b)
            }
            Op::Or(a, b) => {
                let (a, b) = (done(self, a), done(self, b));
                self.diagrams.or(a, b)
            }
            Op::Xor(a, b) => {
                let (a, b) = (done(self, a), done(self, b));
                self.diagrams.xor(a, b)
            }
            Op::Choose(c, a, b) => {
                let (c, a, b) = (done(self, c), done(self, a), done(self, b));
                self.diagrams.choose(c, a, b)
            }
        }
    }

    /// What reading a net yields: its own variable, or the function that it is dissolved into.
    fn net_value(&mut self, net: NetId) -> Diagram {
        let done = |me: &Self, e: &Expr| me.values.get(e).copied().unwrap_or(Diagram::LOW);
        match self.wires.get(net.index()).cloned() {
            Some(Ok(Wire::Follows(level))) if !self.kept.contains(&net) => done(self, &level),
            Some(Ok(Wire::PulledLow(enables))) if !self.kept.contains(&net) => {
                let mut pulled = Diagram::LOW;
                for enable in &enables {
                    let one = done(self, enable);
                    pulled = self.diagrams.or(pulled, one);
                }
                self.diagrams.not(pulled)
            }
            _ => {
                let variable = self.variable(Signal::Wire(net));
                self.diagrams.variable(variable)
            }
        }
    }

    fn complement_loop(&self, e: Expr) -> LogicError {
        // nets on a loop are kept, so what is left is an element that reads itself
        let element = match self.circuit.op(e) {
            Op::QInverted(x) => self.circuit.elements().get(x.index()),
            _ => self.circuit.elements().iter().find(|x| x.clear != Expr::LOW && x.preset != Expr::LOW),
        };
        LogicError::ComplementLoop {
            element: element.map_or_else(String::new, |x| x.name.clone()),
            origin: element.map(|x| x.origin.clone()).unwrap_or_default(),
        }
    }
}
