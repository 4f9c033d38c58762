//! Cones of influence: what a place of a circuit depends on (fan-in), and what depends on it (fan-out).
use super::{Circuit, ElementId, Expr, NetId, Op};
use crate::graph::Graph;

/// A place of a circuit that has a level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Vertex {
    /// An expression.
    Expression(Expr),
    /// A net.
    Net(NetId),
    /// A register or latch.
    Element(ElementId),
}

impl Vertex {
    /// Whether it is a register or latch.
    pub fn is_element(self) -> bool {
        matches!(self, Vertex::Element(_))
    }

    /// Whether it is an expression.
    pub fn is_expression(self) -> bool {
        matches!(self, Vertex::Expression(_))
    }
}

impl From<Expr> for Vertex {
    fn from(e: Expr) -> Vertex {
        Vertex::Expression(e)
    }
}

impl From<NetId> for Vertex {
    fn from(net: NetId) -> Vertex {
        Vertex::Net(net)
    }
}

impl From<ElementId> for Vertex {
    fn from(element: ElementId) -> Vertex {
        Vertex::Element(element)
    }
}

/// Some places of one circuit.
#[derive(Clone, Debug, Default)]
pub struct Cone {
    expressions: Vec<bool>,
    nets: Vec<bool>,
    elements: Vec<bool>,
}

impl Cone {
    /// Whether this place is among them.
    pub fn contains(&self, vertex: impl Into<Vertex>) -> bool {
        let (marks, i) = match vertex.into() {
            Vertex::Expression(e) => (&self.expressions, e.index()),
            Vertex::Net(n) => (&self.nets, n.index()),
            Vertex::Element(e) => (&self.elements, e.index()),
        };
        marks.get(i) == Some(&true)
    }

    /// The expressions among them, operands first.
    pub fn expressions(&self) -> impl DoubleEndedIterator<Item = Expr> + '_ {
        marked(&self.expressions).map(Expr::at)
    }

    /// The nets among them.
    pub fn nets(&self) -> impl Iterator<Item = NetId> + '_ {
        marked(&self.nets).map(NetId::at)
    }

    /// The registers and latches among them.
    pub fn elements(&self) -> impl Iterator<Item = ElementId> + '_ {
        marked(&self.elements).map(ElementId::at)
    }

    /// Adds a place; false if it was there.
    fn insert(&mut self, vertex: Vertex) -> bool {
        let (marks, i) = match vertex {
            Vertex::Expression(e) => (&mut self.expressions, e.index()),
            Vertex::Net(n) => (&mut self.nets, n.index()),
            Vertex::Element(e) => (&mut self.elements, e.index()),
        };
        if marks.len() <= i {
            marks.resize(i + 1, false);
        }
        marks.get_mut(i).is_some_and(|mark| !std::mem::replace(mark, true))
    }
}

impl FromIterator<Vertex> for Cone {
    fn from_iter<I: IntoIterator<Item = Vertex>>(vertices: I) -> Cone {
        let mut cone = Cone::default();
        for vertex in vertices {
            cone.insert(vertex);
        }
        cone
    }
}

fn marked(marks: &[bool]) -> impl DoubleEndedIterator<Item = usize> + '_ {
    marks.iter().enumerate().filter(|(_, marked)| **marked).map(|(i, _)| i)
}

impl Circuit {
    /// What the level of a place is made of at once: operands, the net or element that an expression reads, all that the
    /// drivers of a net read, all that an element reads.
    pub fn each_input(&self, of: Vertex, mut each: impl FnMut(Vertex)) {
        match of {
            Vertex::Expression(e) => match self.op(e) {
                Op::Net(net) => each(net.into()),
                Op::Q(element) | Op::QInverted(element) => each(element.into()),
                op => op.operands().for_each(|e| each(e.into())),
            },
            Vertex::Net(net) => {
                self.nets.get(net.index()).into_iter().flat_map(|n| n.inputs()).for_each(|e| each(e.into()));
            }
            Vertex::Element(element) => {
                self.elements.get(element.index()).into_iter().flat_map(|e| e.inputs()).for_each(|e| each(e.into()));
            }
        }
    }

    /// The cone of influence of `roots`: they and all on which they hang. It is followed beyond a place only if
    /// `through` says so.
    pub fn cone<V: Into<Vertex>>(
        &self,
        roots: impl IntoIterator<Item = V>,
        mut through: impl FnMut(Vertex) -> bool,
    ) -> Cone {
        let mut cone = Cone::default();
        let mut open: Vec<Vertex> = roots.into_iter().map(Into::into).filter(|&v| self.has(v)).collect();
        while let Some(vertex) = open.pop() {
            if cone.insert(vertex) && through(vertex) {
                self.each_input(vertex, |v| {
                    if self.has(v) {
                        open.push(v)
                    }
                });
            }
        }
        cone
    }

    /// The fan-out of `roots`: they and all that depends on them. It is followed beyond a place only if `through` says so.
    pub fn fan_out<V: Into<Vertex>>(
        &self,
        roots: impl IntoIterator<Item = V>,
        mut through: impl FnMut(Vertex) -> bool,
    ) -> Cone {
        let users = self.graph().reversed();
        let mut cone = Cone::default();
        let mut open: Vec<Vertex> = roots.into_iter().map(Into::into).filter(|&v| self.has(v)).collect();
        while let Some(vertex) = open.pop() {
            if cone.insert(vertex) && through(vertex) {
                open.extend(users.successors(self.number(vertex)).iter().map(|&n| self.vertex(n)));
            }
        }
        cone
    }

    /// What each place is made of at once, as a graph: expressions first, then nets, then elements.
    fn graph(&self) -> Graph {
        Graph::new((0..self.vertices()).map(|n| {
            let mut inputs = Vec::new();
            self.each_input(self.vertex(n), |v| {
                if self.has(v) {
                    inputs.push(self.number(v))
                }
            });
            inputs
        }))
    }

    /// How many places there are.
    pub(super) fn vertices(&self) -> usize {
        self.ops.len() + self.nets.len() + self.elements.len()
    }

    pub(super) fn number(&self, vertex: Vertex) -> usize {
        match vertex {
            Vertex::Expression(e) => e.index(),
            Vertex::Net(n) => self.ops.len() + n.index(),
            Vertex::Element(e) => self.ops.len() + self.nets.len() + e.index(),
        }
    }

    pub(super) fn vertex(&self, number: usize) -> Vertex {
        let (expressions, nets) = (self.ops.len(), self.nets.len());
        match number {
            n if n < expressions => Expr::at(n).into(),
            n if n < expressions + nets => NetId::at(n - expressions).into(),
            n => ElementId::at(n - expressions - nets).into(),
        }
    }

    fn has(&self, vertex: Vertex) -> bool {
        match vertex {
            Vertex::Expression(e) => e.index() < self.ops.len(),
            Vertex::Net(n) => n.index() < self.nets.len(),
            Vertex::Element(e) => e.index() < self.elements.len(),
        }
    }
}
