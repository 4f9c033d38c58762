//! What defines each field of a draft.
use std::collections::{BTreeSet, HashMap};

use gluewright_kernel::circuit::{Circuit, Element, ElementId, Expr, Kind, Op, Start};

use super::fields::{Drive, Field, Fields, Sense, Sort};
use super::found::{Stepping, decoders, packages};
use super::texts::{Let, Texts, package};

/// The body of a wiring.
pub(super) struct Wiring {
    pub(super) lets: Vec<Let>,
    /// One for each field that is defined.
    pub(super) definitions: Vec<Definition>,
    /// The idioms that they use.
    pub(super) idioms: BTreeSet<&'static str>,
}

/// What defines a field.
pub(super) struct Definition {
    /// The place of the field.
    pub(super) field: usize,
    pub(super) text: String,
    /// The same with `i` for its own number in its array, and whether that stands anywhere in it.
    pub(super) by_number: (String, bool),
    /// The packages that it stands for.
    pub(super) packages: BTreeSet<String>,
}

impl Wiring {
    /// The definitions of all fields.
    pub(super) fn of(circuit: &Circuit, fields: &Fields, steppings: &[Stepping]) -> Self {
        let decoders = decoders(circuit);
        let mut texts = Texts::new(circuit, fields, (steppings, &decoders));
        let packages = packages(circuit);
        let mut steps = Stepped::new();
        for s in steppings {
            let name = texts.steps(s);
            steps.extend(s.bits.iter().enumerate().map(|(place, bit)| (*bit, (name.clone(), place))));
        }
        let defined: Vec<(usize, &Field)> =
            fields.all.iter().enumerate().filter(|(_, f)| f.sort != Sort::Input).collect();
        let written = defined.iter().map(|(_, f)| {
            let mut of: BTreeSet<String> = f.element.and_then(|e| packages.get(&e).cloned()).into_iter().collect();
            if f.element.is_none() {
                let net = f.net.and_then(|n| circuit.nets().get(n.index()));
                of.extend(net.iter().flat_map(|n| &n.drivers).filter_map(|d| package(&d.by)));
            }
            let text = defined_by(circuit, &mut texts, &steps, f);
            of.extend(texts.packages());
            (text, of)
        });
        let written: Vec<(String, BTreeSet<String>)> = written.collect();
        let definitions = defined.iter().zip(written).map(|(&(field, f), (text, packages))| {
            texts.within(f.index);
            let by_number = (defined_by(circuit, &mut texts, &steps, f), texts.is_numbered());
            Definition { field, text, by_number, packages }
        });
        let definitions = definitions.collect();
        Wiring { lets: texts.lets, definitions, idioms: texts.idioms }
    }
}

/// The next states of registers that step together: the name of their word, and the place in it.
type Stepped = HashMap<ElementId, (String, usize)>;

fn defined_by(circuit: &Circuit, texts: &mut Texts<'_>, steps: &Stepped, f: &Field) -> String {
    let element = f.element.and_then(|e| circuit.elements().get(e.index()).map(|x| (e, x)));
    let mut text = match element {
        Some((id, e)) => stored(circuit, texts, f, (id, steps.get(&id), e)),
        None => gates(circuit, texts, f),
    };
    if let Some((_, net)) = element.zip(f.net.and_then(|n| circuit.nets().get(n.index())))
        && f.drive == Drive::ThreeState
    {
        let enable = net.drivers.first().map_or(Expr::HIGH, |d| d.enable);
        text += &format!(".drive_while({})", texts.condition(enable, true));
    }
    text
}

/// A net that gates drive.
fn gates(circuit: &Circuit, texts: &mut Texts<'_>, f: &Field) -> String {
    let Some(net) = f.net.and_then(|n| circuit.nets().get(n.index())) else { return String::new() };
    let drivers: Vec<_> = net.drivers.iter().filter(|d| d.enable != Expr::LOW).cloned().collect();
    let value = |texts: &mut Texts<'_>| {
        if let [d] = &drivers[..]
            && (d.enable == Expr::HIGH || f.drive == Drive::ThreeState)
        {
            return match f.sense {
                Sense::Low => format!("assert_while({})", texts.condition(d.level, false)),
                Sense::High => format!("assert_while({})", texts.condition(d.level, true)),
                Sense::Data | Sense::Clock => format!("follow({})", texts.level(d.level, false)),
            };
        }
        let (_, low) = texts.driven(&drivers);
        match f.sense {
            Sense::Low => format!("assert_while({low})"),
            Sense::High => format!("assert_while(!({low}))"),
            Sense::Data | Sense::Clock => format!("follow(low_while({low}))"),
        }
    };
    let mut text = value(texts);
    if f.drive == Drive::ThreeState
        && let (Some(on), _) = texts.driven(&drivers)
    {
        text += &format!(".drive_while({on})");
    }
    text
}

/// A stored bit.
fn stored(
    circuit: &Circuit,
    texts: &mut Texts<'_>,
    f: &Field,
    (id, steps, e): (ElementId, Option<&(String, usize)>, &Element),
) -> String {
    let toggles = circuit.op(e.data()) == Op::QInverted(id);
    let is_data = matches!(f.sense, Sense::Data | Sense::Clock);
    let high = f.asserted_high();
    let value = |texts: &mut Texts<'_>, data: Expr| {
        if is_data { texts.level(data, f.inverted) } else { texts.condition(data, high) }
    };
    let mut text = match e.kind {
        Kind::Register { clock, data } => {
            let edge = texts.edge(clock);
            let holds = |x: Expr| matches!(circuit.op(x), Op::Q(id) if circuit.elements().get(id.index()).is_some_and(|o| std::ptr::eq(o, e)));
            let step = match circuit.op(data) {
                _ if let Some((word, place)) = steps => {
                    let bit = format!("{word}[{}]", texts.number(f, *place));
                    match (is_data, if is_data { f.inverted } else { !high }) {
                        (true, false) => format!("load({bit})"),
                        (true, true) => format!("load(!{bit})"),
                        (false, false) => format!("load({bit}.is_high())"),
                        (false, true) => format!("load({bit}.is_low())"),
                    }
                }
                _ if toggles => "toggle()".to_owned(),
                Op::Not(a) if holds(a) => "toggle()".to_owned(),
                Op::Choose(c, a, b) if holds(b) => {
                    format!("load_if({}, {})", texts.condition(c, true), value(texts, a))
                }
                Op::Choose(c, a, b) if holds(a) => {
                    format!("load_if({}, {})", texts.condition(c, false), value(texts, b))
                }
                Op::Xor(a, b) if holds(a) => format!("toggle_if({})", texts.condition(b, true)),
                Op::Xor(a, b) if holds(b) => format!("toggle_if({})", texts.condition(a, true)),
                _ => format!("load({})", value(texts, data)),
            };
            format!("on({edge}).{step}")
        }
        Kind::Latch { open, data } => {
            format!("open_while({}).follow({})", texts.condition(open, true), value(texts, data))
        }
    };
    for (when, low) in [(e.clear, true), (e.preset, false)] {
        if when == Expr::LOW {
            continue;
        }
        let word = match (is_data, low != if is_data { f.inverted } else { !high }) {
            (true, true) => "clear_while",
            (true, false) => "preset_while",
            (false, true) => "release_while",
            (false, false) => "assert_while",
        };
        text += &format!(".{word}({})", texts.condition(when, true));
    }
    let starts = match e.start {
        Start::Any => None,
        Start::Low => Some(false),
        Start::High => Some(true),
    };
    if let Some(level) = starts {
        text += match (is_data, level == if is_data { !f.inverted } else { high }) {
            (true, true) => ".starts_high()",
            (true, false) => ".starts_low()",
            (false, true) => ".starts_asserted()",
            (false, false) => ".starts_released()",
        };
    }
    text
}
