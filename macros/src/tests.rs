//! The derive on tokens, outside the compiler: what it writes for good input, and what it says about bad.
use proc_macro2::{Delimiter, Group, TokenStream, TokenTree};
use quote::quote;

use crate::derive;

/// The messages of all errors in the derive's output, in order.
fn messages(input: TokenStream) -> Vec<String> {
    let out = derive(input);
    let file: syn::File = syn::parse2(out).expect("the output is Rust, also after a mistake");
    let mut messages = Vec::new();
    for item in file.items {
        if let syn::Item::Macro(item) = item
            && item.mac.path.segments.last().is_some_and(|s| s.ident == "compile_error")
        {
            let text: syn::LitStr = item.mac.parse_body().expect("a message");
            messages.push(text.value());
        }
    }
    messages
}

#[test]
fn a_circuit_expands_to_its_wiring_and_its_trait() {
    let out = derive(quote! {
        #[circuit(part = "74X1", vcc = 4, gnd = ["G"])]
        pub(crate) struct Small {
            #[contact(1, pull_up)]
            a: Input<ActiveLow>,
            /// Two of them.
            #[contact("B3"..="B2")]
            pub y: [Output<Data, ThreeState>; 2],
            r#in: Buried<Register>,
        }
    });
    let expected = quote! {
        #[doc = "What drives each output and each buried element of [`Small`]: one field for each, which its `wire` fills."]
        #[allow(missing_debug_implementations)]
        pub(crate) struct SmallWiring {
            #[doc = r" Two of them."]
            pub y: [::gluewright::signals::Definition<Output<Data, ThreeState> >; 2],
            #[doc = "What drives `in`."]
            r#in: ::gluewright::signals::Definition<Buried<Register> >
        }
        impl ::gluewright::signals::Defines for SmallWiring {}
        #[allow(dead_code)]
        #[doc = "What an outer circuit puts on the inputs of a [`Small`] inside it: one field for each."]
        #[allow(missing_debug_implementations)]
        pub(crate) struct SmallInputs {
            #[doc = "What drives `a`."]
            a: ::gluewright::signals::Definition<Input<ActiveLow> >
        }
        impl ::gluewright::signals::Defines for SmallInputs {}
        #[automatically_derived]
        impl ::gluewright::signals::Circuit for Small {
            type Wiring = SmallWiring;
            type Inputs = SmallInputs;
            type Parameters = ();
            const NAME: &'static str = "74X1";
            fn declare(declaration: &mut ::gluewright::signals::derived::Declaration) -> Self {
                declaration.supply("4", ::gluewright::circuit::Rail::Vcc);
                declaration.supply("G", ::gluewright::circuit::Rail::Gnd);
                Self {
                    a: declaration.one(::gluewright::signals::derived::Place {
                        name: "a",
                        labels: &["1"],
                        onwards: ::core::option::Option::None,
                        pull: ::gluewright::circuit::Pull::Up,
                        file: ::core::file!(),
                        line: ::core::line!(),
                    }),
                    y: declaration.many(::gluewright::signals::derived::Place {
                        name: "y",
                        labels: &["B3", "B2"],
                        onwards: ::core::option::Option::None,
                        pull: ::gluewright::circuit::Pull::None,
                        file: ::core::file!(),
                        line: ::core::line!(),
                    }),
                    r#in: declaration.one(::gluewright::signals::derived::Place {
                        name: "in",
                        labels: &[],
                        onwards: ::core::option::Option::None,
                        pull: ::gluewright::circuit::Pull::None,
                        file: ::core::file!(),
                        line: ::core::line!(),
                    })
                }
            }
            fn define(
                &self,
                given: Self::Wiring,
                definitions: &mut ::gluewright::signals::derived::Definitions
            ) {
                let _ = &self.a;
                let _ = (&given, &definitions);
                definitions.many(&self.y, given.y);
                definitions.one(&self.r#in, given.r#in);
            }
            fn feed(
                &self,
                given: Self::Inputs,
                definitions: &mut ::gluewright::signals::derived::Definitions
            ) {
                let _ = (&given, &definitions);
                definitions.one(&self.a, given.a);
            }
        }
    };
    assert_eq!(normal(out), normal(expected));
}

/// Tokens as text, without what only the writer of a test sees.
fn normal(tokens: TokenStream) -> String {
    tokens.to_string().replace("> >", ">>").replace(", }", "}").replace(",}", "}").replace(' ', "")
}

/// The list of labels that the derive writes for a field.
fn labels(contact: TokenStream, length: usize) -> String {
    let out = derive(quote!(struct Card { #[contact(#contact)] a: [Input<Data>; #length] }));
    let text = normal(out);
    let begin = text.find("labels:&[").map_or(0, |i| i + "labels:&[".len());
    text[begin..].split(']').next().unwrap_or_default().replace('"', "")
}

#[test]
fn contacts_are_counted_both_ways_and_listed() {
    assert_eq!(labels(quote!(8..=11), 4usize), "8,9,10,11");
    assert_eq!(labels(quote!(15..=9, 7), 8), "15,14,13,12,11,10,9,7");
    assert_eq!(labels(quote!(5..=5), 1), "5");
    assert_eq!(labels(quote!("A9"..="A11", "C", " D "), 5), "A9,A10,A11,C,D");
    assert_eq!(labels(quote!("3"..=5,), 3), "3,4,5");
    assert_eq!(labels(quote!(65534..=65535), 2), "65534,65535");
}

#[test]
fn another_crate_name_is_used_throughout() {
    let out = derive(quote! {
        #[circuit(crate = crate::tide)]
        struct Card { #[contact(1)] a: Input<Data>, #[contact(2..=3)] y: [Output<Data>; N] }
    });
    assert!(!out.to_string().contains("gluewright"), "{out}");
}

#[test]
fn a_length_that_is_no_number_is_compared_later() {
    let out = derive(quote!(
        struct Card {
            #[contact(2..=3)]
            y: [Output<Data>; N],
        }
    ));
    assert!(normal(out).contains("const_:()=::core::assert!(N==2usize,"), "the constant is compared");
}

#[test]
fn types_may_come_from_macros_and_paths() {
    let group = TokenTree::Group(Group::new(Delimiter::None, quote!(Input<Data>)));
    let input = quote! {
        struct Card {
            #[contact(1)] a: #group,
            #[contact(2)] b: (Output<Data>),
            #[contact(3)] c: [gluewright::InOut<Data>; 1],
        }
    };
    assert_eq!(messages(input), Vec::<String>::new());
}

#[test]
fn each_mistake_is_said_once() {
    const ONE: &str = "is not part of a circuit: write Input<…>, Output<…>, InOut<…> or Buried<…>, or an array of one; \
                       it must stand here itself, not behind a name of your own; a circuit inside this one stands below #[circuit], and a value that the wiring is made with below #[parameter]";
    let unknown = |name: &str| format!("`{name}` {ONE}");
    let cases = [
        (quote!(#[contact(1)] a: u8), unknown("a")),
        (
            quote!(a: [[Input<Data>; 2]; 2]),
            "`a` is an array of arrays: write one array, [Input<…>; 8] for instance, or several fields".into(),
        ),
        (
            quote!(a: Option<Buried<Register>>),
            "`a` is not part of a circuit: a contact is there or it isn't, write its type alone or an array".into(),
        ),
        (
            quote!(a: Buried<Latch, Data, gluewright::ThreeState>),
            "`a` is buried: it has no pin, so nothing can be ThreeState there; write Buried<Register> without it, \
             or give the field a contact and make it Output<…, ThreeState>"
                .into(),
        ),
        (
            quote!(#[circuit] #[contact(1)] a: Input<Data>),
            "`a` is a contact or an element: #[circuit] stands above a circuit inside".into(),
        ),
        (
            quote!(#[circuit(part = "74LS00")] a: Ls00),
            "write #[circuit] alone above a circuit inside: its supply and type number stand above its struct".into(),
        ),
        (
            quote!(#[circuit] #[contact(1)] a: Ls00),
            "`a` is a circuit inside: its contacts are wired in the wiring, not to the socket".into(),
        ),
        (quote!(#[contact(1..)] a: Input<Data>), "`a` is one contact: write its label alone".into()),
        (quote!(#[contact("Q"..)] a: [Input<Data>; 2]), "the first label of a range ends in a number".into()),
        (
            quote!(#[contact(1.., 7)] a: [Input<Data>; 2]),
            "a range without an end takes all that is left: nothing comes after it".into(),
        ),
        (quote!(#[contact(1)] a: &'static Input<Data>), unknown("a")),
        (quote!(a: Inputs), unknown("a")),
        (
            quote!(a: Input<Data>),
            "`a` needs its contact: write #[contact(…)] above it, with its number on the socket".into(),
        ),
        (quote!(#[contact(-1)] a: Input<Data>), "a contact's number is a plain number up to 65535".into()),
        (
            quote!(#[contact(*)] a: Input<Data>),
            "a contact is its number on the socket, or its label in quotes: 7, \"A12\", 8..=11 or \"A1\"..=\"A8\""
                .into(),
        ),
        (quote!(#[contact(70000)] a: Input<Data>), "a contact's number is a plain number up to 65535".into()),
        (quote!(#[contact("")] a: Input<Data>), "a contact's label can't be empty".into()),
        (quote!(#[contact("A"..="B")] a: Input<Data>), "both ends of a range end in a number".into()),
        (
            quote!(#[contact(pull_up)] a: Input<Data>),
            "which contact? write its number: #[contact(7)], or #[contact(8..=11)] for an array".into(),
        ),
        (
            quote!(#[contact = 7] a: Input<Data>),
            "which contact? write its number: #[contact(7)], or #[contact(8..=11)] for an array".into(),
        ),
        (
            quote!(#[contact(1)] a: [Input<Data>; 1], #[contact(1)] b: Output<Data>),
            "contact 1 is used twice: `a` has it already".into(),
        ),
        (
            quote!(#[contact(1)] a: Input<Data>, #[contact("1")] b: Output<Data>),
            "contact 1 is used twice: `a` has it already".into(),
        ),
        (quote!(#[contact(1)] a: [Input<Data>; 2]), "`a` has 2 elements, but 1 contact is given".into()),
        (quote!(#[contact(1, 2)] a: [Input<Data>; 1]), "`a` has 1 element, but 2 contacts are given".into()),
        (quote!(#[contact(1)] r#in: Buried<Node>), "`in` is buried: it has no pin, so it can't have a contact".into()),
    ];
    for (fields, message) in cases {
        assert_eq!(messages(quote!(struct Card { #fields })), [message], "{fields}");
    }
}

#[test]
fn parameters_are_widths_or_polarities() {
    let said = |input| messages(input);
    let none = Vec::<String>::new();
    assert_eq!(
        said(quote!(
            struct Card<const N: usize> {
                #[contact("Q0"..)]
                q: [Output<Data>; N],
            }
        )),
        none
    );
    assert_eq!(
        said(quote!(
            struct Card<P: Asserted> {
                #[contact(1)]
                a: Input<P>,
            }
        )),
        none
    );
    assert_eq!(
        said(quote!(
            struct Card<P>
            where
                P: Asserted,
            {
                #[contact(1)]
                a: Input<P>,
            }
        )),
        none
    );
    let what = "this does not say what `P` stands for: write `P: Asserted` if it is ActiveLow or ActiveHigh, or \
                `const P: usize` if it is a width";
    assert_eq!(
        said(quote!(
            struct Card<P> {
                #[contact(1)]
                a: Input<P>,
            }
        )),
        [what]
    );
    assert_eq!(
        said(quote!(
            struct Card<P> {
                a: P,
            }
        )),
        [what],
        "one error for both"
    );
    assert_eq!(
        said(quote!(
            struct Card<const N: usize> {
                #[contact(1..=4)]
                q: [Output<Data>; N],
            }
        )),
        ["`q` is as wide as the circuit's parameter says: give its first contact, \"Q0\".. for instance"]
    );
    let out = normal(derive(quote!(
        struct Card<const N: usize, P: Asserted, R: Asserted> {
            #[contact(1)]
            a: Input<P>,
            #[contact("Q2"..)]
            q: [Output<R>; N],
        }
    )));
    assert!(out.contains("structCardWiring<constN:usize,R>{"), "{out}");
    assert!(out.contains("onwards:::core::option::Option::Some((\"Q\",2u16)),"), "{out}");
}

#[test]
fn settings_are_checked() {
    let cases = [
        (quote!(part = 74), "expected string literal"),
        (quote!(part = ""), "a part's type number is made of letters and digits, like \"74LS138\""),
        (quote!(part = "a/b"), "a part's type number is made of letters and digits, like \"74LS138\""),
        (quote!(part = "a", part = "b"), "the part's type number is given already"),
        (quote!(vcc = 5.0), "this is the number of a contact or a supply pin, a whole one: not a voltage"),
        (quote!(vcc = 0), "contacts are counted from 1"),
        (quote!(vcc = [1, 1]), "contact 1 is used twice in `vcc`"),
        (quote!(vcc = 1, gnd = 1), "contact 1 is used twice: `vcc` has it already"),
        (quote!(name = "x"), "this is not known here: `part`, `vcc`, `gnd` and `crate` are"),
    ];
    for (setting, message) in cases {
        assert_eq!(
            messages(quote!(
                #[circuit(#setting)]
                struct Card {
                    a: Buried<Node>,
                }
            )),
            [message],
            "{setting}"
        );
    }
}

#[test]
fn after_a_mistake_the_types_are_still_there() {
    let out = derive(quote! {
        struct Card { #[contact(1)] a: Input<Data>, #[contact(1)] y: Output<Data>, z: Registr, v: bool, #[contact(3)] w: Ouput<Data> }
    });
    let text = normal(out);
    assert!(text.contains("structCardWiring{"), "{text}");
    assert!(text.contains("y:::gluewright::signals::Definition<Output<Data>>"), "{text}");
    for unknown in ["z", "w"] {
        let field = format!("{unknown}:::gluewright::signals::Definition<::gluewright::signals::derived::Unknown>");
        assert!(text.contains(&field), "{text}");
    }
    assert!(!text.contains("v:::gluewright"), "nobody defines a plain field: {text}");
    assert!(text.contains("impl::gluewright::signals::CircuitforCard{"), "{text}");
    assert!(!text.contains("declaration.one"), "what is wrong is not built");
}

#[test]
fn whatever_is_written_is_answered() {
    for input in [
        quote!(),
        quote!(
            fn card() {}
        ),
        quote!(
            enum Card {}
        ),
        quote!(union Card { a: u8 }),
        quote!(
            struct Card;
        ),
        quote!(
            struct Card();
        ),
        quote!(
            struct Card<'a, T>
            where
                T: Copy,
            {
                a: &'a T,
            }
        ),
        quote!(
            #[circuit]
            struct Card {}
        ),
        quote!(
            #[circuit = 7]
            struct Card {}
        ),
        quote!(
            #[circuit(crate = 7)]
            struct Card {}
        ),
        quote!(
            #[circuit(vcc)]
            struct Card {}
        ),
        quote!(
            #[circuit(vcc = [1 2])]
            struct Card {}
        ),
        quote!(
            struct Card {
                #[contact(1..=)]
                a: Input<Data>,
            }
        ),
        quote!(
            struct Card {
                #[contact(..=1)]
                a: Input<Data>,
            }
        ),
        quote!(
            struct Card {
                #[contact(1 2)]
                a: Input<Data>,
            }
        ),
        quote!(
            struct Card {
                #[contact(1, , 2)]
                a: Input<Data>,
            }
        ),
        quote!(
            struct Card {
                #[contact("A99999"..="A1")]
                a: Input<Data>,
            }
        ),
        quote!(
            struct Card {
                #[contact(1.5)]
                a: Input<Data>,
            }
        ),
        quote!(
            struct Card {
                #[contact(b"x")]
                a: Input<Data>,
            }
        ),
        quote!(
            struct Card {
                #[contact(self)]
                a: Input<Data>,
            }
        ),
    ] {
        assert!(!messages(input.clone()).is_empty(), "no answer to {input}");
    }
}

#[test]
fn a_table_of_contacts_says_what_the_fields_would() {
    let one_by_one = derive(quote! {
        struct Card {
            #[contact(1)]
            clock: Input<Clock>,
            #[contact(15..=9, 7)]
            sum: [Output<Data>; 8],
            #[contact("A12", pull_up)]
            irq: Output<ActiveLow, OpenCollector>,
            #[contact("B1"..)]
            wide: [Input<Data>; 3],
            seen: Buried<Register>,
        }
    });
    let in_a_table = derive(quote! {
        #[contacts(clock: 1, sum: (15..=9, 7), irq: ("A12", pull_up), wide: "B1"..)]
        struct Card {
            clock: Input<Clock>,
            sum: [Output<Data>; 8],
            irq: Output<ActiveLow, OpenCollector>,
            wide: [Input<Data>; 3],
            seen: Buried<Register>,
        }
    });
    assert_eq!(in_a_table.to_string(), one_by_one.to_string());
}

#[test]
fn a_mistake_in_a_table_is_one_error() {
    let card = |table: TokenStream| {
        messages(quote! {
            #table
            struct Card {
                clock: Input<Clock>,
                data: [Output<Data>; 2],
                seen: Buried<Register>,
            }
        })
    };
    for (table, said) in [
        (quote!(#[contacts(clock: 1, data: 2..=3, clok: 4)]), "`clok` is none of the circuit's fields"),
        (
            quote!(#[contacts(clock: 1)]),
            "`data` needs its contact: write `data: …` in #[contacts(…)], with its number on the socket",
        ),
        (quote!(#[contacts(clock: 1, data: 2..=4)]), "`data` has 2 elements, but 3 contacts are given"),
        (quote!(#[contacts(clock: 1, data: 1..=2)]), "contact 1 is used twice: `clock` has it already"),
        (
            quote!(#[contacts(clock: 1, data: 2..=3, seen: 4)]),
            "`seen` is buried: it has no pin, so it can't have a contact",
        ),
        (
            quote!(#[contacts(clock: 1, data: 2..=3, clock: 4)]),
            "`clock` has its contacts already: write all of them in one place",
        ),
        (
            quote!(#[contacts(clock, data: 2..=3)]),
            "which contact has `clock`? write `clock: 7`, or `clock: 8..=11` for an array",
        ),
        (
            quote!(#[contacts(clock = 1, data: 2..=3)]),
            "which contact has `clock`? write `clock: 7`, or `clock: 8..=11` for an array",
        ),
        (
            quote!(#[contacts(1: clock, data: 2..=3)]),
            "a table of contacts names a field, then its contact: clock: 1, data: 8..=11",
        ),
        (quote!(#[contacts(clock: 0, data: 2..=3)]), "contacts are counted from 1"),
        (quote!(#[contacts(clock: 1; data: 2..=3)]), "the lines of a table of contacts end in a comma"),
        (
            quote!(#[contact(clock: 1, data: 2..=3)]),
            "a table of all contacts is written #[contacts(…)]; #[contact(…)] stands above a field and has its contact",
        ),
        (quote!(#[contacts]), "write all contacts here: #[contacts(clock: 1, data: 8..=11)]"),
    ] {
        assert_eq!(card(table.clone()), [said], "{table}");
    }
}

#[test]
fn a_parameter_is_no_signal() {
    let out = derive(quote! {
        struct Divider {
            #[contact(1)]
            clock: Input<Clock>,
            /// How far.
            #[parameter]
            pub count: u64,
        }
    })
    .to_string();
    let item = quote! {
        #[doc = "The values that the wiring of a [`Divider`] is made with: one field for each `#[parameter]`."]
        #[allow(missing_debug_implementations)]
        #[derive(Clone)]
        struct DividerParameters {
            #[doc = r" How far."]
            pub count: u64
        }
    };
    assert!(out.starts_with(&item.to_string()), "{out}");
    assert!(out.contains("type Parameters = DividerParameters ;"), "{out}");
    for (field, said) in [
        (
            quote!(#[parameter] a: Input<Data>),
            "`a` is a contact or an element: #[parameter] stands above a value that is no signal",
        ),
        (
            quote!(#[parameter(4)] a: u8),
            "write #[parameter] alone: its value is given where the circuit is built or proved",
        ),
        (quote!(#[parameter] #[contact(2)] a: u8), "`a` is a parameter: it is no signal, so it can't have a contact"),
    ] {
        let said_here = messages(quote! { struct Card { #[contact(1)] b: Input<Data>, #field } });
        assert_eq!(said_here.first().map(String::as_str), Some(said), "{said_here:?}");
    }
}

#[test]
fn a_word_with_too_few_or_too_many_is_left_to_rustc() {
    for field in [quote!(a: Input), quote!(a: Input<ActiveLow, ThreeState>), quote!(a: Output), quote!(a: Buried)] {
        let out = derive(quote! { #[contacts(a: 1, b: 2)] struct Card { #field, b: Input<Data> } }).to_string();
        assert!(!out.contains("compile_error") || field.to_string().contains("Buried"), "{out}");
        // the type itself stands in no code of the derive's, so that it is one error
        assert!(!out.contains(&quote!(#field).to_string()), "{out}");
    }
}

#[test]
fn a_buried_element_says_first_what_it_is() {
    for (field, said) in [
        (
            quote!(Buried<ActiveHigh, Register>),
            "`a` begins with what it carries, but what it is comes first: write Buried<Register, ActiveHigh>",
        ),
        (
            quote!([Buried<signals::Data>; 4]),
            "`a` begins with what it carries, but what it is comes first: write Buried<Register, Data>, or Latch or Node in \
             its place",
        ),
    ] {
        assert_eq!(messages(quote! { struct Card { a: #field } }), [said]);
    }
}

#[test]
fn an_array_with_a_comma_is_rustcs_own_error_alone() {
    let out = derive(quote! {
        #[contacts(a: 1..=4, y: 5)]
        struct Card { a: [Input<Data>, 4], y: Output<Data> }
    });
    let text = normal(out);
    assert!(text.contains("impl::gluewright::signals::CircuitforCard{"), "{text}");
    assert!(!text.contains("compile_error"), "{text}");
    // rustc stops there, so nothing is built of what it means
    assert!(!text.contains("declaration.many"), "{text}");
    assert!(!messages(quote! { struct Card { a: [Input<Data>, 4, 5], } }).is_empty());
}

#[test]
fn without_the_derive_its_absence_is_the_one_error() {
    let out = normal(crate::underived(
        syn::parse_quote!(#[contacts(a: 1, y: 2)]),
        quote! {
            #[doc = "kept"]
            #[circuit(vcc = 14, gnd = 7)]
            struct Card { a: Input<Data>, y: Output<Data>, #[parameter] count: u64 }
        },
    ));
    assert!(out.contains("write#[derive(Circuit)]aboveit"), "{out}");
    assert!(out.starts_with("#[doc=\"kept\"]structCard{a:Input<Data>,y:Output<Data>,count:u64}"), "{out}");
    assert!(out.contains("structCardWiring{"), "{out}");
    assert_eq!(out.matches("compile_error").count(), 1, "{out}");
    // what is no struct stays what it is
    let out = normal(crate::underived(
        syn::parse_quote!(#[circuit()]),
        quote!(
            fn card() {}
        ),
    ));
    assert!(out.starts_with("fncard(){}"), "{out}");
    assert_eq!(out.matches("compile_error").count(), 1, "{out}");
}
