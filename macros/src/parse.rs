//! From tokens to what a user wrote about a circuit. Only the grammar is looked at here.
use proc_macro2::{Delimiter, Group, Ident, Punct, Span, TokenStream, TokenTree};
use syn::ext::IdentExt;
use syn::parse::{Parse, ParseStream};
use syn::{
    Attribute, DeriveInput, Expr, Fields, GenericArgument, Generics, LitFloat, LitInt, LitStr, Path, PathArguments,
    Token, Type, Visibility,
};

use crate::errors::Errors;

/// A struct with `#[derive(Circuit)]`, as it is written.
pub(crate) struct Source {
    pub(crate) ident: Ident,
    pub(crate) vis: Visibility,
    pub(crate) generics: Generics,
    pub(crate) krate: Path,
    pub(crate) part: Option<LitStr>,
    pub(crate) supplies: Vec<(Label, Rail)>,
    pub(crate) fields: Vec<Field>,
    /// The contacts stand in one table above the struct.
    pub(crate) has_table: bool,
}

impl Source {
    /// True if these tokens have one of the circuit's parameters in them.
    pub(crate) fn has_parameter(&self, tokens: &impl quote::ToTokens) -> bool {
        let constants = self.generics.const_params().map(|c| &c.ident);
        constants.chain(self.generics.type_params().map(|t| &t.ident)).any(|word| crate::check::mentions(tokens, word))
    }

    /// True if this type is one of the circuit's parameters and nothing more.
    pub(crate) fn is_type_parameter(&self, ty: &Type) -> bool {
        let word = match ty {
            Type::Path(path) => path.path.get_ident(),
            _ => None,
        };
        word.is_some_and(|word| self.generics.type_params().any(|t| t.ident == *word))
    }
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Rail {
    Vcc,
    Gnd,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Kind {
    Input,
    Output,
    InOut,
    Buried,
    /// A circuit inside this one, below `#[circuit]`.
    Inside,
    /// A value that the wiring is made with, below `#[parameter]`.
    Parameter,
}

/// What keeps a field's type from being one of a circuit.
pub(crate) enum Strange {
    /// No word that a circuit knows.
    Unknown,
    /// An array of arrays.
    Nested,
    /// A signal within another type: `Option`, `Vec`, a reference.
    Wrapped,
    /// A buried element with a way to drive a pin, and where that is written.
    BuriedDriver(Ident),
    /// A buried element that begins with what it carries, and that word; what it is stands behind it, or nowhere.
    BuriedPolarity(Ident, Option<Ident>),
    /// A word that has too few or too many words of its own: rustc says so where it stands.
    Miscounted,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Pull {
    Up,
    Down,
}

pub(crate) struct Field {
    pub(crate) name: Ident,
    pub(crate) vis: Visibility,
    pub(crate) docs: Vec<Attribute>,
    /// What the last word of the type says, or why it can't be one of a circuit.
    pub(crate) kind: Result<Kind, Strange>,
    /// The whole type, as it is written.
    pub(crate) ty: Type,
    pub(crate) element: Type,
    pub(crate) length: Option<Expr>,
    pub(crate) contacts: Vec<Contacts>,
    /// A `#[contact]` that could not be read, and is reported already.
    pub(crate) unreadable: bool,
}

impl Field {
    /// The name as it appears in messages and in the circuit: without `r#`.
    pub(crate) fn plain_name(&self) -> String {
        self.name.unraw().to_string()
    }

    /// The array's length, if it is written as a number.
    pub(crate) fn literal_length(&self) -> Option<usize> {
        match &self.length {
            Some(Expr::Lit(lit)) => match &lit.lit {
                syn::Lit::Int(int) => int.base10_parse().ok(),
                _ => None,
            },
            _ => None,
        }
    }
}

/// What stands in one `#[contact(…)]`.
pub(crate) struct Contacts {
    pub(crate) tokens: TokenStream,
    pub(crate) labels: Vec<Label>,
    /// The first of as many contacts as it takes, counted upwards.
    pub(crate) onwards: Option<Onwards>,
    pub(crate) pulls: Vec<(Pull, Span)>,
}

/// A range without its end: letters, and the number that counts upwards behind them.
pub(crate) struct Onwards {
    pub(crate) prefix: String,
    pub(crate) first: u16,
}

/// A contact's label, and where it is written.
#[derive(Clone)]
pub(crate) struct Label {
    pub(crate) text: String,
    pub(crate) span: Span,
}

/// A label as it stands at one end of a range: letters, then a number.
struct End {
    prefix: String,
    number: Option<u16>,
    label: Label,
}

impl Parse for End {
    fn parse(input: ParseStream<'_>) -> syn::Result<Self> {
        if input.peek(LitFloat) {
            let lit: LitFloat = input.parse()?;
            Err(syn::Error::new(
                lit.span(),
                "this is the number of a contact or a supply pin, a whole one: not a voltage",
            ))
        } else if input.peek(LitInt) {
            let lit: LitInt = input.parse()?;
            let number: u16 = lit
                .base10_parse()
                .map_err(|_| syn::Error::new(lit.span(), "a contact's number is a plain number up to 65535"))?;
            if number == 0 {
                return Err(syn::Error::new(lit.span(), "contacts are counted from 1"));
            }
            let label = Label { text: number.to_string(), span: lit.span() };
            Ok(End { prefix: String::new(), number: Some(number), label })
        } else if input.peek(LitStr) {
            let lit: LitStr = input.parse()?;
            let text = lit.value().trim().to_owned();
            if text.is_empty() {
                return Err(syn::Error::new(lit.span(), "a contact's label can't be empty"));
            }
            let prefix = text.trim_end_matches(|c: char| c.is_ascii_digit()).to_owned();
            let number = text.strip_prefix(prefix.as_str()).and_then(|digits| digits.parse().ok());
            Ok(End { prefix, number, label: Label { text, span: lit.span() } })
        } else {
            Err(syn::Error::new(
                input.span(),
                "a contact is its number on the socket, or its label in quotes: 7, \"A12\", 8..=11 or \"A1\"..=\"A8\"",
            ))
        }
    }
}

impl Parse for Contacts {
    fn parse(input: ParseStream<'_>) -> syn::Result<Self> {
        let mut contacts =
            Contacts { tokens: TokenStream::new(), labels: Vec::new(), onwards: None, pulls: Vec::new() };
        while !input.is_empty() {
            if input.peek(Ident::peek_any) {
                let word = input.call(Ident::parse_any)?;
                let pull = match word.to_string().as_str() {
                    "pull_up" => Pull::Up,
                    "pull_down" => Pull::Down,
                    _ => {
                        return Err(syn::Error::new(
                            word.span(),
                            format!(
                                "a label that is not a number stands in quotes: \"{word}\"; the only words here are \
                                 `pull_up` and `pull_down`"
                            ),
                        ));
                    }
                };
                contacts.pulls.push((pull, word.span()));
            } else {
                let first: End = input.parse()?;
                if input.peek(Token![..=]) {
                    input.parse::<Token![..=]>()?;
                    let last: End = input.parse()?;
                    range(&first, &last, &mut contacts.labels)?;
                } else if input.peek(Token![..]) {
                    let dots: Token![..] = input.parse()?;
                    if !input.is_empty() && !input.peek(Token![,]) {
                        return Err(syn::Error::new_spanned(
                            dots,
                            "write ..= here: contacts are counted with both ends, as on the socket",
                        ));
                    }
                    let Some(number) = first.number else {
                        return Err(syn::Error::new(first.label.span, "the first label of a range ends in a number"));
                    };
                    contacts.onwards = Some(Onwards { prefix: first.prefix, first: number });
                } else {
                    contacts.labels.push(first.label);
                }
            }
            if contacts.onwards.is_some() && input.peek(Token![,]) && !input.peek2(Ident::peek_any) {
                return Err(input.error("a range without an end takes all that is left: nothing comes after it"));
            }
            if input.is_empty() {
                break;
            }
            input.parse::<Token![,]>()?;
        }
        Ok(contacts)
    }
}

/// All labels from one end to the other, upwards or downwards.
fn range(first: &End, last: &End, labels: &mut Vec<Label>) -> syn::Result<()> {
    let (Some(a), Some(b)) = (first.number, last.number) else {
        let end = if first.number.is_none() { first } else { last };
        return Err(syn::Error::new(end.label.span, "both ends of a range end in a number"));
    };
    if first.prefix != last.prefix {
        return Err(syn::Error::new(last.label.span, "both ends of a range begin with the same letters"));
    }
    let up = a.min(b)..=a.max(b);
    let mut push = |n: u16| labels.push(Label { text: format!("{}{n}", first.prefix), span: first.label.span });
    if a <= b {
        up.for_each(&mut push)
    } else {
        up.rev().for_each(&mut push)
    }
    Ok(())
}

/// The same tokens with `[Input<Data>, 4]` as the array that is meant.
pub(crate) fn arrays(tokens: TokenStream) -> TokenStream {
    let mut is_attribute = false;
    let mut mended = TokenStream::new();
    for token in tokens {
        let was_hash =
            std::mem::replace(&mut is_attribute, matches!(&token, TokenTree::Punct(p) if p.as_char() == '#'));
        mended.extend([match token {
            TokenTree::Group(group) if !was_hash => {
                let is_array = group.delimiter() == Delimiter::Bracket;
                let inside =
                    if is_array { group.stream().into_iter().map(separator).collect() } else { arrays(group.stream()) };
                let mut whole = Group::new(group.delimiter(), inside);
                whole.set_span(group.span());
                TokenTree::Group(whole)
            }
            other => other,
        }]);
    }
    mended
}

/// A comma as the semicolon before an array's length. One between angle brackets stands where there is none for the length,
/// and then the tokens still can't be read.
fn separator(token: TokenTree) -> TokenTree {
    match token {
        TokenTree::Punct(comma) if comma.as_char() == ',' => {
            let mut semicolon = Punct::new(';', comma.spacing());
            semicolon.set_span(comma.span());
            TokenTree::Punct(semicolon)
        }
        other => other,
    }
}

/// Reads what is written; what can't be read is reported and left out.
pub(crate) fn read(input: &DeriveInput, errors: &mut Errors) -> Source {
    let mut source = Source {
        ident: input.ident.clone(),
        vis: input.vis.clone(),
        generics: input.generics.clone(),
        krate: syn::parse_quote!(::gluewright),
        part: None,
        supplies: Vec::new(),
        fields: Vec::new(),
        has_table: false,
    };
    for attr in input.attrs.iter().filter(|a| a.path().is_ident("circuit")) {
        if let Err(error) = settings(attr, &mut source) {
            errors.add(error);
        }
    }
    const A_STRUCT: &str = "a circuit is a struct: one field for each contact and each buried element";
    match &input.data {
        syn::Data::Struct(data) => match &data.fields {
            Fields::Named(named) => {
                source.fields = named.named.iter().filter_map(|f| field(f, errors)).collect();
            }
            Fields::Unnamed(unnamed) => {
                errors.on(unnamed, "a circuit's contacts have names: write a struct with named fields");
            }
            Fields::Unit => errors.on(&input.ident, "this circuit has no contacts: write a struct with named fields"),
        },
        syn::Data::Enum(data) => errors.on(data.enum_token, A_STRUCT),
        syn::Data::Union(data) => errors.on(data.union_token, A_STRUCT),
    }
    if let Some(attr) = input.attrs.iter().find(|a| a.path().is_ident("contact")) {
        source.fields.iter_mut().for_each(|field| field.unreadable = true);
        errors.on(
            attr.path(),
            "a table of all contacts is written #[contacts(…)]; #[contact(…)] stands above a field and has its contact",
        );
    }
    for attr in input.attrs.iter().filter(|a| a.path().is_ident("contacts")) {
        source.has_table = true;
        if let Err(error) = table(attr, &mut source, errors) {
            // what stands behind it is not read either: that is no mistake of its own
            source.fields.iter_mut().for_each(|field| field.unreadable = true);
            errors.add(error);
        }
    }
    source
}

/// One line of a table of contacts: a field's name, and what else would stand in its `#[contact(…)]`.
struct Line {
    name: Ident,
    value: TokenStream,
}

impl Parse for Line {
    fn parse(input: ParseStream<'_>) -> syn::Result<Self> {
        let name = input.call(Ident::parse_any).map_err(|error| {
            syn::Error::new(error.span(), "a table of contacts names a field, then its contact: clock: 1, data: 8..=11")
        })?;
        if !input.peek(Token![:]) {
            return Err(syn::Error::new(
                name.span(),
                format!("which contact has `{name}`? write `{name}: 7`, or `{name}: 8..=11` for an array"),
            ));
        }
        input.parse::<Token![:]>()?;
        let value = if input.peek(syn::token::Paren) {
            let several;
            syn::parenthesized!(several in input);
            several.parse()?
        } else {
            let mut value = TokenStream::new();
            while !input.is_empty() && !input.peek(Token![,]) {
                if input.peek(Token![;]) {
                    return Err(input.error("the lines of a table of contacts end in a comma"));
                }
                value.extend([input.parse::<proc_macro2::TokenTree>()?]);
            }
            value
        };
        if value.is_empty() {
            return Err(syn::Error::new(
                name.span(),
                format!("which contact has `{name}`? write `{name}: 7`, or `{name}: 8..=11` for an array"),
            ));
        }
        Ok(Line { name, value })
    }
}

/// Reads `#[contacts(clock: 1, data: 8..=11, sum: (15..=9, 7))]`, and gives each field its own.
fn table(attr: &Attribute, source: &mut Source, errors: &mut Errors) -> syn::Result<()> {
    let syn::Meta::List(list) = &attr.meta else {
        return Err(syn::Error::new_spanned(attr, "write all contacts here: #[contacts(clock: 1, data: 8..=11)]"));
    };
    let lines = list.parse_args_with(syn::punctuated::Punctuated::<Line, Token![,]>::parse_terminated)?;
    for Line { name, value } in lines {
        let Some(field) = source.fields.iter_mut().find(|f| f.name.unraw() == name.unraw()) else {
            errors.on(&name, format!("`{name}` is none of the circuit's fields"));
            continue;
        };
        match syn::parse2::<Contacts>(value.clone()) {
            Ok(contacts) => field.contacts.push(Contacts { tokens: value, ..contacts }),
            Err(error) => {
                field.unreadable = true;
                errors.add(error);
            }
        }
    }
    Ok(())
}

/// Reads `#[circuit(…)]`.
fn settings(attr: &Attribute, source: &mut Source) -> syn::Result<()> {
    attr.parse_nested_meta(|meta| {
        let twice = |given: bool, how: &str| if given { Err(meta.error(how)) } else { Ok(()) };
        if meta.path.is_ident("crate") {
            source.krate = meta.value()?.call(Path::parse_mod_style)?;
        } else if meta.path.is_ident("part") {
            twice(source.part.is_some(), "the part's type number is given already")?;
            source.part = Some(meta.value()?.parse()?);
        } else if let Some((rail, name)) = rail(&meta.path) {
            let given = source.supplies.iter().any(|(_, r)| *r == rail);
            twice(given, &format!("`{name}` is given already: several pins are written `{name} = [3, 15]`"))?;
            let value = meta.value()?;
            if value.peek(syn::token::Bracket) {
                let list;
                syn::bracketed!(list in value);
                let pins = list.parse_terminated(End::parse, Token![,])?;
                source.supplies.extend(pins.into_iter().map(|end| (end.label, rail)));
            } else {
                source.supplies.push((value.parse::<End>()?.label, rail));
            }
        } else {
            return Err(meta.error("this is not known here: `part`, `vcc`, `gnd` and `crate` are"));
        }
        Ok(())
    })
}

fn rail(path: &Path) -> Option<(Rail, &'static str)> {
    if path.is_ident("vcc") {
        Some((Rail::Vcc, "vcc"))
    } else if path.is_ident("gnd") {
        Some((Rail::Gnd, "gnd"))
    } else {
        None
    }
}

fn field(field: &syn::Field, errors: &mut Errors) -> Option<Field> {
    let name = field.ident.clone()?;
    let (element, length) = match bare(&field.ty) {
        Type::Array(array) => (bare(&array.elem).clone(), Some(array.len.clone())),
        other => (other.clone(), None),
    };
    let mut contacts = Vec::new();
    let mut unreadable = false;
    for attr in field.attrs.iter().filter(|a| a.path().is_ident("contact")) {
        match read_contacts(attr) {
            Ok(read) => contacts.push(read),
            Err(error) => {
                unreadable = true;
                errors.add(error);
            }
        }
    }
    let inside = field.attrs.iter().find(|a| a.path().is_ident("circuit"));
    if let Some(attr) = inside
        && !matches!(attr.meta, syn::Meta::Path(_))
    {
        errors.on(
            attr,
            "write #[circuit] alone above a circuit inside: its supply and type number stand above its struct",
        );
    }
    let parameter = field.attrs.iter().find(|a| a.path().is_ident("parameter"));
    if let Some(attr) = parameter
        && !matches!(attr.meta, syn::Meta::Path(_))
    {
        errors.on(attr, "write #[parameter] alone: its value is given where the circuit is built or proved");
    }
    let kind = match (inside, kind(&element)) {
        (None, Err(_)) if parameter.is_some() => Ok(Kind::Parameter),
        (_, kind) if parameter.is_some() => {
            errors.on(
                parameter,
                format!("`{name}` is a contact or an element: #[parameter] stands above a value that is no signal"),
            );
            kind
        }
        (Some(_), Err(Strange::Unknown)) if matches!(element, Type::Path(_)) => Ok(Kind::Inside),
        (Some(attr), Ok(_)) => {
            errors.on(attr, format!("`{name}` is a contact or an element: #[circuit] stands above a circuit inside"));
            kind(&element)
        }
        (_, kind) => kind,
    };
    Some(Field {
        kind,
        ty: bare(&field.ty).clone(),
        vis: field.vis.clone(),
        docs: field.attrs.iter().filter(|a| a.path().is_ident("doc")).cloned().collect(),
        name,
        element,
        length,
        contacts,
        unreadable,
    })
}

fn read_contacts(attr: &Attribute) -> syn::Result<Contacts> {
    const WHICH: &str = "which contact? write its number: #[contact(7)], or #[contact(8..=11)] for an array";
    let list = match &attr.meta {
        syn::Meta::List(list) if !list.tokens.is_empty() => list,
        _ => return Err(syn::Error::new_spanned(attr, WHICH)),
    };
    let mut contacts: Contacts = attr.parse_args()?;
    if contacts.labels.is_empty() && contacts.onwards.is_none() {
        return Err(syn::Error::new_spanned(attr, WHICH));
    }
    contacts.tokens = list.tokens.clone();
    Ok(contacts)
}

/// A type without the invisible groups and the parentheses that macros leave around it.
fn bare(mut ty: &Type) -> &Type {
    loop {
        ty = match ty {
            Type::Group(group) => &group.elem,
            Type::Paren(paren) => &paren.elem,
            _ => return ty,
        };
    }
}

/// What the last word of a type says.
fn kind(element: &Type) -> Result<Kind, Strange> {
    let last = match element {
        Type::Path(path) => path.path.segments.last(),
        Type::Array(_) => return Err(Strange::Nested),
        _ => None,
    };
    let Some(last) = last else { return Err(Strange::Unknown) };
    let kind = match word(&last.ident) {
        Some(kind) => kind,
        None if arguments(last).any(|inner| kind(inner).is_ok()) => return Err(Strange::Wrapped),
        None => return Err(Strange::Unknown),
    };
    if kind == Kind::Buried
        && let Some(drive) = arguments(last).find_map(drive)
    {
        return Err(Strange::BuriedDriver(drive));
    }
    if kind == Kind::Buried
        && let Some(carried) =
            arguments(last).next().and_then(|ty| one_of(ty, &["ActiveLow", "ActiveHigh", "Data", "Clock"]))
    {
        let what = arguments(last).find_map(|ty| one_of(ty, &["Register", "Latch", "Node"]));
        return Err(Strange::BuriedPolarity(carried, what));
    }
    // as many as the type itself has: else rustc would say nothing, and the derive makes nothing of it
    let most = match kind {
        Kind::Input => 1,
        Kind::Buried => 3,
        _ => 2,
    };
    match arguments(last).count() {
        given if (1..=most).contains(&given) => Ok(kind),
        _ => Err(Strange::Miscounted),
    }
}

fn word(ident: &Ident) -> Option<Kind> {
    match ident.to_string().as_str() {
        "Input" => Some(Kind::Input),
        "Output" => Some(Kind::Output),
        "InOut" => Some(Kind::InOut),
        "Buried" => Some(Kind::Buried),
        _ => None,
    }
}

/// The types between a word's angle brackets.
fn arguments(segment: &syn::PathSegment) -> impl Iterator<Item = &Type> {
    let given = match &segment.arguments {
        PathArguments::AngleBracketed(list) => Some(list.args.iter()),
        _ => None,
    };
    given.into_iter().flatten().filter_map(|argument| match argument {
        GenericArgument::Type(ty) => Some(bare(ty)),
        _ => None,
    })
}

/// The word, if it is a way to drive a pin.
fn drive(ty: &Type) -> Option<Ident> {
    one_of(ty, &["ThreeState", "OpenCollector", "PushPull"])
}

/// The type's last word, if it is one of these.
fn one_of(ty: &Type, words: &[&str]) -> Option<Ident> {
    let Type::Path(path) = ty else { return None };
    let last = &path.path.segments.last()?.ident;
    words.contains(&last.to_string().as_str()).then(|| last.clone())
}
