//! Where a source can be changed, and into what: found in its syntax, written as text.
use std::ops::Range;

use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::{Attribute, BinOp, Block, Expr, Lit, Pat, ReturnType, Signature, Stmt, Type};

/// One change of one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Point {
    /// From 1.
    pub line: usize,
    /// From 0.
    pub column: usize,
    /// The bytes that the change is put around.
    pub at: Range<usize>,
    pub form: Form,
    /// What is written there instead.
    pub becomes: String,
    /// The change in words.
    pub what: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// An expression with another one in its place.
    Value,
    /// A function that returns at its start.
    Entry,
    /// A statement that is left out.
    Statement,
}

/// Names of constants that mean the opposite of each other.
const OPPOSITE: [(&str, &str); 7] = [
    ("High", "Low"),
    ("ActiveHigh", "ActiveLow"),
    ("Rising", "Falling"),
    ("Yes", "No"),
    ("TRUE", "FALSE"),
    ("Unknown", "No"),
    ("Greater", "Less"),
];

/// Methods that are taken for each other.
const METHODS: [(&str, &str); 7] = [
    ("all", "any"),
    ("min", "max"),
    ("is_some", "is_none"),
    ("is_ok", "is_err"),
    ("is_some_and", "is_none_or"),
    ("and", "or"),
    ("first", "last"),
];

/// All changes of a source.
pub fn all(source: &str) -> syn::Result<Vec<Point>> {
    let file = syn::parse_file(source)?;
    let mut finder = Finder { source, found: Vec::new() };
    finder.visit_file(&file);
    Ok(finder.found)
}

struct Finder<'a> {
    source: &'a str,
    found: Vec<Point>,
}

impl Finder<'_> {
    fn add(&mut self, of: &impl Spanned, form: Form, becomes: String, what: String) {
        let (span, mut at) = (of.span(), of.span().byte_range());
        if form == Form::Entry {
            // behind the brace
            at = at.start + 1..at.start + 1;
        }
        let start = span.start();
        self.found.push(Point { line: start.line, column: start.column, at, form, becomes, what });
    }

    fn replace(&mut self, of: &impl Spanned, becomes: &str) {
        let was = self.source[of.span().byte_range()].to_string();
        self.add(of, Form::Value, becomes.into(), format!("{} for {}", shortened(becomes), shortened(&was)));
    }

    /// The expression with a part of it written otherwise.
    fn exchange(&mut self, whole: &impl Spanned, part: &impl Spanned, becomes: &str) {
        let (all, inner) = (whole.span().byte_range(), part.span().byte_range());
        let s = self.source;
        let text = format!("{}{becomes}{}", &s[all.start..inner.start], &s[inner.end..all.end]);
        let what = format!("{} for {} in {}", becomes, &s[inner], shortened(&s[all]));
        self.add(whole, Form::Value, text, what);
    }

    fn condition(&mut self, condition: &Expr, values: &[&str]) {
        if !has_let(condition) {
            values.iter().for_each(|value| self.replace(condition, value));
        }
    }

    fn function(&mut self, attrs: &[Attribute], signature: &Signature, block: &Block) -> bool {
        let looked_at = signature.constness.is_none() && !only_for_tests(attrs);
        if looked_at && !block.stmts.is_empty() {
            let values = match &signature.output {
                ReturnType::Default => vec![String::new()],
                ReturnType::Type(_, of) => defaults(of),
            };
            for value in values {
                self.add(
                    block,
                    Form::Entry,
                    format!("return {value};"),
                    format!("{} returns {value}", signature.ident),
                );
            }
        }
        looked_at
    }
}

impl<'ast> Visit<'ast> for Finder<'_> {
    fn visit_expr_binary(&mut self, e: &'ast syn::ExprBinary) {
        if !has_let(&e.left) && !has_let(&e.right) {
            operators(&e.op).iter().for_each(|other| self.exchange(e, &e.op, other));
        }
        visit::visit_expr_binary(self, e);
    }

    fn visit_expr_unary(&mut self, e: &'ast syn::ExprUnary) {
        if !matches!(e.op, syn::UnOp::Deref(_)) {
            self.exchange(e, &e.op, "");
        }
        visit::visit_expr_unary(self, e);
    }

    fn visit_expr_if(&mut self, e: &'ast syn::ExprIf) {
        self.condition(&e.cond, &["true", "false"]);
        visit::visit_expr_if(self, e);
    }

    fn visit_expr_while(&mut self, e: &'ast syn::ExprWhile) {
        // with `true` it would only hang
        self.condition(&e.cond, &["false"]);
        visit::visit_expr_while(self, e);
    }

    fn visit_expr_lit(&mut self, e: &'ast syn::ExprLit) {
        match &e.lit {
            Lit::Bool(value) => self.replace(e, if value.value { "false" } else { "true" }),
            Lit::Int(value) => {
                if let Ok(number) = value.base10_parse::<u128>() {
                    // what may be the largest of its type goes down
                    let other = if number > 100 { number - 1 } else { number + 1 };
                    self.replace(e, &format!("{other}{}", value.suffix()));
                }
            }
            _ => {}
        }
    }

    fn visit_expr_path(&mut self, e: &'ast syn::ExprPath) {
        if let Some(last) = e.path.segments.last().filter(|_| e.path.segments.len() > 1) {
            for (one, other) in OPPOSITE {
                if last.ident == one {
                    self.exchange(e, &last.ident, other);
                } else if last.ident == other && one != "Unknown" {
                    self.exchange(e, &last.ident, one);
                }
            }
        }
    }

    fn visit_expr_method_call(&mut self, e: &'ast syn::ExprMethodCall) {
        for (one, other) in METHODS {
            if e.method == one {
                self.exchange(e, &e.method, other);
            } else if e.method == other {
                self.exchange(e, &e.method, one);
            }
        }
        if e.method == "is_empty" {
            self.replace(e, &format!("!{}", &self.source[e.span().byte_range()]));
        }
        visit::visit_expr_method_call(self, e);
    }

    fn visit_expr_macro(&mut self, e: &'ast syn::ExprMacro) {
        if e.mac.path.is_ident("matches") {
            self.replace(e, &format!("!{}", &self.source[e.span().byte_range()]));
        }
    }

    fn visit_stmt(&mut self, s: &'ast Stmt) {
        if let Stmt::Expr(e @ (Expr::Call(_) | Expr::MethodCall(_) | Expr::Try(_) | Expr::Assign(_)), Some(_)) = s {
            let what = format!("without {}", shortened(&self.source[e.span().byte_range()]));
            self.add(s, Form::Statement, String::new(), what);
        }
        visit::visit_stmt(self, s);
    }

    fn visit_pat(&mut self, p: &'ast Pat) {
        // of a pattern nothing can be computed but its guard
        if let Pat::Guard(guarded) = p {
            self.condition(&guarded.guard, &["true", "false"]);
            self.visit_expr(&guarded.guard);
        }
    }

    fn visit_item_fn(&mut self, f: &'ast syn::ItemFn) {
        if self.function(&f.attrs, &f.sig, &f.block) {
            self.visit_block(&f.block);
        }
    }

    fn visit_impl_item_fn(&mut self, f: &'ast syn::ImplItemFn) {
        if self.function(&f.attrs, &f.sig, &f.block) {
            self.visit_block(&f.block);
        }
    }

    fn visit_trait_item_fn(&mut self, f: &'ast syn::TraitItemFn) {
        if let Some(block) = f.default.as_ref().filter(|block| self.function(&f.attrs, &f.sig, block)) {
            self.visit_block(block);
        }
    }

    fn visit_item_mod(&mut self, m: &'ast syn::ItemMod) {
        if !only_for_tests(&m.attrs) {
            visit::visit_item_mod(self, m);
        }
    }

    fn visit_item_impl(&mut self, i: &'ast syn::ItemImpl) {
        let of_debug = |path: &syn::Path| path.segments.last().is_some_and(|last| last.ident == "Debug");
        if !i.trait_.as_ref().is_some_and(|t| of_debug(&t.0)) && !only_for_tests(&i.attrs) {
            visit::visit_item_impl(self, i);
        }
    }

    fn visit_expr_repeat(&mut self, e: &'ast syn::ExprRepeat) {
        self.visit_expr(&e.expr);
    }

    // what the compiler computes can't ask which change is on
    fn visit_type(&mut self, _: &'ast Type) {}
    fn visit_generic_argument(&mut self, _: &'ast syn::GenericArgument) {}
    fn visit_attribute(&mut self, _: &'ast Attribute) {}
    fn visit_expr_const(&mut self, _: &'ast syn::ExprConst) {}
    fn visit_item_const(&mut self, _: &'ast syn::ItemConst) {}
    fn visit_impl_item_const(&mut self, _: &'ast syn::ImplItemConst) {}
    fn visit_trait_item_const(&mut self, _: &'ast syn::TraitItemConst) {}
    fn visit_item_static(&mut self, _: &'ast syn::ItemStatic) {}
    fn visit_item_enum(&mut self, _: &'ast syn::ItemEnum) {}
}

fn only_for_tests(attrs: &[Attribute]) -> bool {
    attrs.iter().any(|a| {
        a.path().is_ident("test")
            || a.path().is_ident("cfg") && a.parse_args::<syn::Ident>().is_ok_and(|what| what == "test")
    })
}

fn has_let(e: &Expr) -> bool {
    match e {
        Expr::Let(_) => true,
        Expr::Binary(b) => has_let(&b.left) || has_let(&b.right),
        Expr::Paren(p) => has_let(&p.expr),
        _ => false,
    }
}

fn operators(op: &BinOp) -> &'static [&'static str] {
    match op {
        BinOp::Add(_) => &["-"],
        BinOp::Sub(_) => &["+"],
        BinOp::Mul(_) => &["+"],
        BinOp::Div(_) => &["*"],
        BinOp::Rem(_) => &["/"],
        BinOp::And(_) => &["||"],
        BinOp::Or(_) => &["&&"],
        BinOp::BitXor(_) => &["|"],
        BinOp::BitAnd(_) => &["|"],
        BinOp::BitOr(_) => &["&"],
        BinOp::Shl(_) => &[">>"],
        BinOp::Shr(_) => &["<<"],
        BinOp::Eq(_) => &["!="],
        BinOp::Ne(_) => &["=="],
        BinOp::Lt(_) => &["<=", ">"],
        BinOp::Le(_) => &["<", ">"],
        BinOp::Gt(_) => &[">=", "<"],
        BinOp::Ge(_) => &[">", "<"],
        BinOp::AddAssign(_) => &["-="],
        BinOp::SubAssign(_) => &["+="],
        BinOp::BitXorAssign(_) => &["|="],
        BinOp::BitAndAssign(_) => &["|="],
        BinOp::BitOrAssign(_) => &["&="],
        _ => &[],
    }
}

/// What a function of this type may return instead.
fn defaults(of: &Type) -> Vec<String> {
    let Type::Path(path) = of else { return Vec::new() };
    let Some(last) = path.path.segments.last() else { return Vec::new() };
    let first_argument = || match &last.arguments {
        syn::PathArguments::AngleBracketed(list) => match list.args.first() {
            Some(syn::GenericArgument::Type(Type::Tuple(unit))) if unit.elems.is_empty() => vec!["()".into()],
            Some(syn::GenericArgument::Type(of)) => defaults(of),
            _ => Vec::new(),
        },
        _ => Vec::new(),
    };
    match last.ident.to_string().as_str() {
        "bool" => vec!["false".into(), "true".into()],
        "u8" | "u16" | "u32" | "u64" | "u128" | "usize" | "i32" | "i64" | "isize" => vec!["0".into(), "1".into()],
        "Option" => vec!["None".into()],
        "Vec" | "String" | "BTreeMap" | "BTreeSet" | "HashMap" | "HashSet" => vec!["Default::default()".into()],
        "Result" => first_argument().into_iter().map(|value| format!("Ok({value})")).collect(),
        _ => Vec::new(),
    }
}

fn shortened(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let line = words.join(" ");
    if line.chars().count() > 60 { format!("{}…", line.chars().take(59).collect::<String>()) } else { line }
}
