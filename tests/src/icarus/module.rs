//! One circuit as a Verilog module of its own kind: gates without delay, latches and gates that feed themselves move when
//! `lt` rises, registers act when `rt` rises on what changed since the last time.
use std::collections::BTreeMap;
use std::fmt::Write;

use gluewright::circuit::{Circuit, Expr, Kind, Label, Op, Pull, Stage};
use gluewright::figures::OpenInput;

use crate::walk::{alive, in_loops};

#[derive(Debug)]
pub(super) struct Module {
    pub(super) text: String,
    /// For each bit of memory its name, and whether it starts anyhow, low or high: elements, of which dead ones start low,
    /// and then nets that feed themselves.
    pub(super) starts: Vec<(String, Option<bool>)>,
}

impl Module {
    pub(super) fn new(circuit: &Circuit, name: &str, labels: &[Label]) -> Module {
        let (nets, elements) = alive(circuit);
        let looped: Vec<usize> =
            in_loops(circuit).iter().enumerate().filter(|(n, l)| **l && nets[*n]).map(|l| l.0).collect();
        let starts = circuit.elements().iter().zip(&elements);
        let starts = starts.map(|(e, live)| (e.name.clone(), if *live { e.start.level() } else { Some(false) }));
        let starts: Vec<_> = starts.chain(looped.iter().map(|&n| (circuit.nets()[n].name.clone(), None))).collect();
        let mut w = Writer { circuit, labels, looped, wires: BTreeMap::new(), body: String::new() };
        w.write(&nets, &elements);
        let text = w.whole(name, &elements);
        Module { text, starts }
    }

    /// The bits that may start either way.
    pub(super) fn free(&self) -> Vec<usize> {
        (0..self.starts.len()).filter(|&e| self.starts[e].1.is_none()).collect()
    }

    /// How each bit starts.
    pub(super) fn fixed(&self) -> Vec<Option<bool>> {
        self.starts.iter().map(|s| s.1).collect()
    }

    /// Bits of a vector of elements; never none, so that there is a vector.
    pub(super) fn width(&self) -> usize {
        self.starts.len().max(1)
    }
}

struct Writer<'c> {
    circuit: &'c Circuit,
    labels: &'c [Label],
    /// Nets that feed themselves; they are held behind the elements.
    looped: Vec<usize>,
    /// Expressions that have a wire.
    wires: BTreeMap<usize, ()>,
    body: String,
}

impl Writer<'_> {
    fn line(&mut self, text: std::fmt::Arguments<'_>) {
        let _ = writeln!(self.body, "{text}");
    }

    fn wire(&mut self, e: Expr) -> String {
        let i = e.index();
        if self.wires.insert(i, ()).is_none() {
            let text = match self.circuit.op(e) {
                Op::Constant(v) => format!("1'b{}", u8::from(v)),
                Op::Net(n) => match self.looped.iter().position(|&l| l == n.index()) {
                    Some(k) => format!("q[{}]", self.circuit.elements().len() + k),
                    None => format!("n{}", n.index()),
                },
                // both outputs are high while clear and preset are asserted
                Op::Q(x) => format!("q[{0}] | both[{0}]", x.index()),
                Op::QInverted(x) => format!("~q[{0}] | both[{0}]", x.index()),
                Op::Not(a) => format!("~{}", self.wire(a)),
                Op::And(a, b) => format!("{} & {}", self.wire(a), self.wire(b)),
                Op::Or(a, b) => format!("{} | {}", self.wire(a), self.wire(b)),
                Op::Xor(a, b) => format!("{} ^ {}", self.wire(a), self.wire(b)),
                Op::Choose(w, a, b) => format!("{} ? {} : {}", self.wire(w), self.wire(a), self.wire(b)),
            };
            self.line(format_args!("assign x{i} = {text};"));
        }
        format!("x{i}")
    }

    fn write(&mut self, nets: &[bool], elements: &[bool]) {
        let circuit = self.circuit;
        for (i, net) in circuit.nets().iter().enumerate().filter(|(i, _)| nets[*i]) {
            let (mut any, mut low) = ("1'b0".to_owned(), "1'b0".to_owned());
            for d in &net.drivers {
                let (enable, level) = (self.wire(d.enable), self.wire(d.level));
                let _ = write!(any, " | {enable}");
                let _ = write!(low, " | ({enable} & ~{level})");
            }
            let outside = net.contact.map(|c| {
                let label = &circuit.contacts()[c.index()].label;
                self.labels.iter().position(|l| l == label).expect("all labels are there")
            });
            let opens = net.open_read == OpenInput::High && net.drivers.iter().all(|d| d.stage == Stage::OpenCollector);
            let otherwise = match (outside, net.pull) {
                (Some(c), _) => format!("outside[{c}]"),
                (None, Pull::Up) => "1'b1".to_owned(),
                (None, Pull::Down) => "1'b0".to_owned(),
                (None, Pull::None) if opens => "1'b1".to_owned(),
                (None, Pull::None) => "1'bx".to_owned(),
            };
            self.line(format_args!("assign a{i} = {any};\nassign l{i} = {low};"));
            match net.drivers.iter().any(|d| d.enable == Expr::HIGH) {
                true => self.line(format_args!("assign n{i} = ~l{i};")),
                false => self.line(format_args!("assign n{i} = a{i} ? ~l{i} : {otherwise};")),
            }
        }
        // what feeds itself follows itself, a step later
        for (k, n) in self.looped.clone().into_iter().enumerate().map(|(k, n)| (circuit.elements().len() + k, n)) {
            self.line(format_args!("assign clk[{k}] = 1'b1;\nassign data[{k}] = n{n};"));
            self.line(format_args!("assign clr[{k}] = 1'b0;\nassign pre[{k}] = 1'b0;\nassign unk[{k}] = 1'b0;"));
        }
        for (k, label) in self.labels.iter().enumerate() {
            let net = circuit.contacts().iter().find(|c| c.label == *label).map(|c| c.net.index());
            match net.filter(|&n| nets[n]) {
                Some(n) => self.line(format_args!("assign driven[{k}] = a{n};\nassign level[{k}] = ~l{n};")),
                None => self.line(format_args!("assign driven[{k}] = 1'b0;\nassign level[{k}] = 1'b0;")),
            }
        }
        for (k, e) in circuit.elements().iter().enumerate() {
            let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
            let unknown = circuit.loads_unknown(circuit.find_element(&e.name).expect("its own"));
            let lines = [("clk", clock), ("data", data), ("clr", e.clear), ("pre", e.preset), ("unk", unknown)];
            for (name, x) in lines {
                let x = if elements[k] { self.wire(x) } else { "1'b0".to_owned() };
                self.line(format_args!("assign {name}[{k}] = {x};"));
            }
        }
    }

    fn whole(self, name: &str, elements: &[bool]) -> String {
        let circuit = self.circuit;
        let bits = elements.len() + self.looped.len();
        let wide = bits.max(1);
        let mask = |keep: &dyn Fn(usize) -> bool| -> String {
            (0..wide).rev().map(|e| if e < bits && keep(e) { '1' } else { '0' }).collect()
        };
        let live = |e: usize| elements.get(e).is_none_or(|live| *live);
        let is_register = |e: usize| circuit.elements().get(e).is_some_and(|e| matches!(e.kind, Kind::Register { .. }));
        let registers = mask(&|e| live(e) && is_register(e));
        let latches = mask(&|e| live(e) && !is_register(e));
        let mut wires = String::new();
        for i in self.wires.keys() {
            let _ = writeln!(wires, "wire x{i};");
        }
        for i in 0..circuit.nets().len() {
            let _ = writeln!(wires, "wire a{i}, l{i}, n{i};");
        }
        let (e, c) = (wide - 1, self.labels.len().max(1) - 1);
        format!(
            "module {name}(lt, rt, init, load, start, outside, driven, level, moved, busy, unknown, neither);
input lt, rt, init, load; input [{e}:0] start; input [{c}:0] outside;
output [{c}:0] driven, level; output moved, busy, unknown, neither; reg moved, busy, unknown, neither;
parameter HIGHEST = {e};
parameter [{e}:0] REGISTERS = {wide}'b{registers}, LATCHES = {wide}'b{latches};
reg [{e}:0] q, both, clk_was, data_was, clr_was, pre_was, unk_was;
wire [{e}:0] clk, data, clr, pre, unk;
reg next, joint; integer e;
{wires}{body}{BEHAVIOUR}endmodule\n",
            body = self.body
        )
    }
}

/// What elements do, by the rules of the semantics.
const BEHAVIOUR: &str = "\
always @(posedge load) begin q <= start; both <= 0; moved = 0; busy = 0; unknown = 0; neither = 0; end
// what stood at the last settled point
always @(posedge init) begin
  moved = 0;
  both <= (both & ~REGISTERS) | (clr & pre & REGISTERS);
  if ((((clr & pre) ^ both) & REGISTERS) != 0) moved = 1;
  clk_was <= clk; data_was <= data; clr_was <= clr; pre_was <= pre; unk_was <= unk;
end
always @(posedge lt) begin
  moved = 0;
  for (e = 0; e <= HIGHEST; e = e + 1) if (LATCHES[e]) begin
    joint = clr[e] & pre[e];
    next = clr[e] ? 1'b0 : pre[e] ? 1'b1 : clk[e] ? data[e] : q[e];
    if (next !== q[e] || joint !== both[e]) moved = 1;
    if ((next ^ joint) === 1'bx) neither = 1;
    q[e] <= next; both[e] <= joint;
  end
end
always @(posedge rt) begin
  busy = 0;
  for (e = 0; e <= HIGHEST; e = e + 1) begin
    if (LATCHES[e] && clr_was[e] && pre_was[e] && !clr[e] && !pre[e] && !clk[e]) unknown = 1;
    if (REGISTERS[e]) begin
      joint = clr[e] & pre[e];
      next = q[e];
      if (clr[e]) next = 0;
      else if (pre[e]) next = 1;
      else if (clr_was[e] & pre_was[e]) unknown = 1;
      else if (clk[e] & ~clk_was[e]) begin
        next = data_was[e];
        // data that move with the edge, a clear that the edge itself releases, what no sheet says
        if (data_was[e] !== data[e] || unk_was[e]) unknown = 1;
        if ((clr_was[e] | pre_was[e]) && next !== q[e]) unknown = 1;
      end
      if ((next ^ joint ^ clk[e] ^ clr[e] ^ pre[e]) === 1'bx) neither = 1;
      if (next !== q[e] || joint !== both[e]) busy = 1;
      q[e] <= next; both[e] <= joint;
    end
  end
  clk_was <= clk; data_was <= data; clr_was <= clr; pre_was <= pre; unk_was <= unk;
end
";
