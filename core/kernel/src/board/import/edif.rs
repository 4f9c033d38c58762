//! EDIF 2.0.0, the flat netlist view of a design (IEC 61690-1 describes its successor; the forms used here are from
//! memory): instances of cells, and nets that join ports of instances.
use std::collections::HashMap;
use std::sync::Arc;

use super::{ImportedPin, NetlistError, at, form, text, too_many};

/// The deepest that forms may nest.
const DEEPEST: usize = 400;
/// The most forms, words and strings that are read.
const MOST_NODES: usize = 4_000_000;

/// A form, a word or a string.
#[derive(Debug)]
struct Node {
    line: usize,
    what: What,
}

#[derive(Debug)]
enum What {
    Form(Vec<Node>),
    Word(String),
    Text(String),
}

impl Node {
    fn forms(&self) -> &[Node] {
        match &self.what {
            What::Form(all) => all,
            _ => &[],
        }
    }

    /// The keyword of a form.
    fn keyword(&self) -> &str {
        match self.forms().first().map(|node| &node.what) {
            Some(What::Word(word)) => word,
            _ => "",
        }
    }

    fn is(&self, keyword: &str) -> bool {
        self.keyword().eq_ignore_ascii_case(keyword)
    }

    /// The first form in it with this keyword.
    fn child(&self, keyword: &str) -> Option<&Node> {
        self.forms().iter().find(|node| node.is(keyword))
    }

    fn children<'n>(&'n self, keyword: &'n str) -> impl Iterator<Item = &'n Node> {
        self.forms().iter().filter(move |node| node.is(keyword))
    }

    /// The name that it is referred to by, and the name that a person gave it: what follows its keyword.
    fn name(&self) -> Option<(String, String)> {
        let second = self.forms().get(1)?;
        match &second.what {
            What::Word(word) => Some((word.clone(), plain(word))),
            What::Text(text) => Some((text.clone(), text.clone())),
            What::Form(inner) if second.is("rename") || second.is("array") || second.is("name") => {
                let word = |at: usize| match inner.get(at).map(|node| &node.what) {
                    Some(What::Word(word) | What::Text(word)) => Some(word.clone()),
                    // (stringDisplay "…") and (rename … ) within
                    Some(What::Form(form)) => form.iter().find_map(|node| match &node.what {
                        What::Text(text) => Some(text.clone()),
                        _ => None,
                    }),
                    None => None,
                };
                let first = word(1)?;
                Some((first.clone(), word(2).filter(|_| second.is("rename")).unwrap_or_else(|| plain(&first))))
            }
            What::Form(_) => None,
        }
    }

    /// The text of a `(designator "U1")` in it.
    fn designator(&self) -> Option<String> {
        self.child("designator")?.forms().get(1).and_then(|node| match &node.what {
            What::Text(text) | What::Word(text) => Some(text.clone()),
            What::Form(inner) => inner.iter().find_map(|node| match &node.what {
                What::Text(text) => Some(text.clone()),
                _ => None,
            }),
        })
    }
}

/// A name of EDIF that starts with a digit has an ampersand before it.
fn plain(word: &str) -> String {
    word.strip_prefix('&').unwrap_or(word).to_owned()
}

pub(super) fn read(file: &str, content: &[u8]) -> Result<Vec<ImportedPin>, NetlistError> {
    let root = parse(file, text(file, content)?)?;
    let name: Arc<str> = file.into();
    if !root.is("edif") {
        return Err(form(file, root.line, "the file does not start with `(edif`", "is this the right file?"));
    }
    if let Some(version) = root.child("edifVersion") {
        let said: Vec<&str> = version.forms().iter().skip(1).filter_map(word).collect();
        if said != ["2", "0", "0"] {
            let wrong = format!("this is EDIF {}, and 2.0.0 is read", said.join("."));
            return Err(form(file, version.line, wrong, "export EDIF 2.0.0"));
        }
    }
    let libraries = root.forms().iter().filter(|node| node.is("library") || node.is("external"));
    let cells: Vec<&Node> = libraries.flat_map(|library| library.children("cell")).collect();
    let with_contents = |cell: &&&Node| contents(cell).is_some();
    let chosen = root.child("design").and_then(|design| design.child("cellRef")).and_then(Node::name);
    let top = cells
        .iter()
        .filter(with_contents)
        .rfind(|cell| chosen.is_none() || cell.name().map(|n| n.0) == chosen.as_ref().map(|c| c.0.clone()))
        .ok_or_else(|| form(file, root.line, "no cell of the design has contents", "export the netlist view, flat"))?;
    let by_name: HashMap<String, &Node> = cells.iter().filter_map(|cell| Some((cell.name()?.0, *cell))).collect();
    let Some(inside) = contents(top) else { return Ok(Vec::new()) };
    let mut instances: HashMap<String, Instance> = HashMap::new();
    for node in inside.children("instance") {
        let (id, instance) = instance(file, node, &by_name)?;
        instances.insert(id, instance);
    }
    let own_ports = ports(top);
    let mut pins = Vec::new();
    for net in inside.children("net") {
        let Some((_, net_name)) = net.name() else {
            return Err(form(file, net.line, "a net has no name", "write the file again"));
        };
        for joined in net.children("joined") {
            for port in joined.children("portRef") {
                too_many(file, port.line, pins.len())?;
                pins.push(pin(file, &name, port, &net_name, &instances, &own_ports)?);
            }
        }
    }
    Ok(pins)
}

struct Instance {
    reference: String,
    part: String,
    /// The pin of each port.
    pins: HashMap<String, String>,
}

fn word(node: &Node) -> Option<&str> {
    match &node.what {
        What::Word(word) => Some(word),
        _ => None,
    }
}

fn contents(cell: &Node) -> Option<&Node> {
    cell.children("view").find_map(|view| view.child("contents"))
}

/// The pin of each port of a cell: its designator, or its name.
fn ports(cell: &Node) -> HashMap<String, String> {
    let interfaces = cell.children("view").filter_map(|view| view.child("interface"));
    let ports = interfaces.flat_map(|interface| interface.children("port"));
    ports
        .filter_map(|port| {
            let (id, said) = port.name()?;
            Some((id, port.designator().unwrap_or(said)))
        })
        .collect()
}

fn instance(file: &str, node: &Node, cells: &HashMap<String, &Node>) -> Result<(String, Instance), NetlistError> {
    let (id, said) =
        node.name().ok_or_else(|| form(file, node.line, "an instance has no name", "write the file again"))?;
    let cell_ref = node.child("viewRef").and_then(|view| view.child("cellRef")).or_else(|| node.child("cellRef"));
    let cell_name = cell_ref.and_then(Node::name).ok_or_else(|| {
        form(file, node.line, format!("the instance `{said}` names no cell"), "export the netlist view, flat")
    })?;
    let cell = cells.get(&cell_name.0).copied();
    if cell.and_then(contents).is_some() {
        let wrong = format!("the instance `{said}` is a drawing of its own, with parts in it");
        return Err(form(file, node.line, wrong, "export the netlist flat"));
    }
    let mut pins = cell.map(ports).unwrap_or_default();
    for port in node.children("portInstance") {
        if let (Some((id, _)), Some(pin)) = (port.name(), port.designator()) {
            pins.insert(id, pin);
        }
    }
    let part = cell.and_then(Node::name).unwrap_or(cell_name).1;
    Ok((id, Instance { reference: node.designator().unwrap_or(said), part, pins }))
}

fn pin(
    file: &str,
    name: &Arc<str>,
    port: &Node,
    net: &str,
    instances: &HashMap<String, Instance>,
    own: &HashMap<String, String>,
) -> Result<ImportedPin, NetlistError> {
    let (id, said) = port
        .name()
        .ok_or_else(|| form(file, port.line, "a reference to a port names none", "export single ports, no buses"))?;
    let origin = at(name, port.line);
    let Some(of) = port.child("instanceRef") else {
        let label = own.get(&id).cloned().unwrap_or(said);
        let (reference, net) = ("contacts".to_owned(), net.to_owned());
        return Ok(ImportedPin { reference, part: None, pin: label, net, is_contact: true, origin });
    };
    let found = of.name().and_then(|(id, _)| instances.get(&id));
    let instance = found.ok_or_else(|| {
        let called = of.name().map_or_else(String::new, |(id, _)| id);
        form(file, of.line, format!("there is no instance `{called}`"), "export the netlist flat, in one file")
    })?;
    Ok(ImportedPin {
        reference: instance.reference.clone(),
        part: Some(instance.part.clone()),
        pin: instance.pins.get(&id).cloned().unwrap_or(said),
        net: net.to_owned(),
        is_contact: false,
        origin,
    })
}

/// The one form that the file is.
fn parse(file: &str, text: &str) -> Result<Node, NetlistError> {
    let mut open: Vec<Node> = Vec::new();
    let (mut line, mut count) = (1, 0usize);
    let mut rest = text.char_indices().peekable();
    let unclosed = "close it: is the file whole?";
    while let Some((start, c)) = rest.next() {
        let node = match c {
            '\n' => {
                line += 1;
                continue;
            }
            c if c.is_whitespace() => continue,
            '(' => {
                if open.len() == DEEPEST {
                    let wrong = format!("forms are nested more than {DEEPEST} deep");
                    return Err(form(file, line, wrong, "is this the right file?"));
                }
                open.push(Node { line, what: What::Form(Vec::new()) });
                continue;
            }
            ')' => match open.pop() {
                Some(node) if open.is_empty() => return Ok(node),
                Some(node) => node,
                None => return Err(form(file, line, "a parenthesis closes that none opened", "is the file whole?")),
            },
            '"' => {
                let (began, mut end) = (line, None);
                for (at, c) in rest.by_ref() {
                    line += usize::from(c == '\n');
                    if c == '"' {
                        end = Some(at);
                        break;
                    }
                }
                let end = end.ok_or_else(|| form(file, began, "a quotation mark is never closed", unclosed))?;
                Node { line: began, what: What::Text(text.get(start + 1..end).unwrap_or_default().to_owned()) }
            }
            _ => {
                let mut end = start + c.len_utf8();
                while let Some(&(at, c)) = rest.peek() {
                    if c.is_whitespace() || matches!(c, '(' | ')' | '"') {
                        break;
                    }
                    end = at + c.len_utf8();
                    rest.next();
                }
                Node { line, what: What::Word(text.get(start..end).unwrap_or_default().to_owned()) }
            }
        };
        count += 1;
        if count > MOST_NODES {
            return Err(form(file, line, "the file is too large for a netlist", "is this the right file?"));
        }
        match open.last_mut() {
            Some(Node { what: What::Form(inner), .. }) => inner.push(node),
            _ => return Err(form(file, line, "the file does not start with `(edif`", "is this the right file?")),
        }
    }
    Err(form(file, line, "the file ends before its last parenthesis", unclosed))
}
