//! What the derive accepts: names that its own code might have used, labels of all kinds, supplies, another crate name.
use gluewright::circuit::{self, Label, Pull, Rail};
use gluewright::prelude::{Buried, Circuit, Data, Definition, Input, Node, Output, Wiring, each, follow};

const TWO: usize = 2;

// names that the derive's code must not meet
#[expect(dead_code)]
struct Option;
#[expect(dead_code)]
struct Vec;
#[expect(dead_code)]
struct String;

#[derive(Circuit)]
struct Awkward {
    #[contact(1)]
    declaration: Input<Data>,
    #[contact(2)]
    definitions: Output<Data>,
    #[contact(3)]
    given: Output<Data>,
    #[contact(4)]
    r#in: Input<Data>,
    #[contact(5)]
    r#type: Output<Data>,
    #[contact(7, 6)]
    _spare: [Input<Data>; 2],
    #[contact(8..=9)]
    core: [gluewright::Output<Data>; TWO],
    gluewright: Buried<Node>,
}

impl Wiring for Awkward {
    fn wire(&self) -> AwkwardWiring {
        AwkwardWiring {
            definitions: follow(self.declaration.level()),
            given: follow(self.r#in.level()),
            r#type: follow(self.given.level()),
            core: each(|_| follow(self.r#in.level())),
            gluewright: follow(self.r#in.level()),
        }
    }
}

fn contacts(c: &circuit::Circuit) -> std::vec::Vec<(&str, std::string::String)> {
    c.contacts().iter().map(|c| (c.name.as_str(), c.label.to_string())).collect()
}

#[test]
fn awkward_names_build() {
    let c = gluewright::circuit_of::<Awkward>().unwrap();
    assert_eq!(c.name, "awkward");
    assert!(c.find_net("in").is_some() && c.find_net("type").is_some(), "no r# in names");
    assert_eq!(contacts(&c)[5..7], [("_spare[0]", "7".into()), ("_spare[1]", "6".into())]);
}

/// The public name of a definition, for functions that make some.
fn copied(from: Input<Data>) -> Definition<Output<Data>> {
    follow(from.level())
}

/// An invented part with several supply pins and labels of all kinds.
#[derive(Circuit)]
#[circuit(part = "74X1", vcc = [14, "V"], gnd = 7)]
struct Part {
    #[contact("A12", pull_up)]
    a: Input<Data>,
    #[contact("B1"..="B3", "C", pull_down)]
    b: [Input<Data>; 4],
    #[contact(11..=9, 3)]
    y: [Output<Data>; 4],
}

impl Wiring for Part {
    fn wire(&self) -> PartWiring {
        PartWiring { y: each(|i| if i == 0 { copied(self.a) } else { copied(self.b[i]) }) }
    }
}

#[test]
fn labels_may_be_letters_ranges_and_lists() {
    let c = gluewright::circuit_of::<Part>().unwrap();
    let labels: std::vec::Vec<_> = contacts(&c).into_iter().map(|(_, label)| label).collect();
    assert_eq!(labels, ["A12", "B1", "B2", "B3", "C", "11", "10", "9", "3"]);
}

#[test]
fn a_part_has_its_number_and_its_supply_pins() {
    let c = gluewright::circuit_of::<Part>().unwrap();
    assert_eq!(c.name, "74X1");
    let supply = |label: &str, rail| (Label::new(label), rail);
    assert_eq!(c.supplies(), [supply("14", Rail::Vcc), supply("V", Rail::Vcc), supply("7", Rail::Gnd)]);
}

#[test]
fn a_resistor_of_the_circuits_own_is_on_its_net() {
    let c = gluewright::circuit_of::<Part>().unwrap();
    let pull = |name: &str| c.nets()[c.find_net(name).unwrap().index()].pull;
    assert_eq!([pull("a"), pull("b[0]"), pull("b[3]"), pull("y[0]")], [Pull::Up, Pull::Down, Pull::Down, Pull::None]);
}

mod tide {
    pub(crate) use ::gluewright::{circuit, signals};
}

/// Another name for the crate, and one that has its circuit and signals alone.
#[derive(Circuit)]
#[circuit(crate = crate::signals::names::tide)]
struct Renamed {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    y: Output<Data>,
}

impl Wiring for Renamed {
    fn wire(&self) -> RenamedWiring {
        RenamedWiring { y: follow(self.a.level()) }
    }
}

#[test]
fn the_crate_may_have_another_name() {
    assert_eq!(gluewright::circuit_of::<Renamed>().unwrap().contacts().len(), 2);
}

/// Builds another circuit while it is built itself.
#[derive(Circuit)]
struct Outer {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    y: Output<Data>,
}

impl Wiring for Outer {
    fn wire(&self) -> OuterWiring {
        let before = self.a.level();
        let inner = gluewright::circuit_of::<Renamed>().unwrap();
        OuterWiring { y: if inner.contacts().len() == 2 { follow(!before) } else { follow(before) } }
    }
}

#[test]
fn builds_nest() {
    let c = gluewright::circuit_of::<Outer>().unwrap();
    assert_eq!((c.name.as_str(), c.contacts().len()), ("outer", 2));
}

#[test]
fn a_panic_in_a_wiring_leaves_nothing_behind() {
    #[derive(Circuit)]
    struct Panics {
        #[contact(1)]
        y: Output<Data>,
    }
    impl Wiring for Panics {
        fn wire(&self) -> PanicsWiring {
            panic!("on purpose")
        }
    }
    let refused = gluewright::circuit_of::<Panics>().expect_err("it panics");
    let [gluewright::signals::Mistake::Stopped { said, .. }] = refused.mistakes() else { panic!("{refused}") };
    assert_eq!(said, "on purpose");
    awkward_names_build();
}

#[test]
fn conditions_can_be_built_with_a_circuit() {
    let (c, e) = gluewright::signals::build_with::<Part, _>(|p| p.a.level().is_low().expression()).unwrap();
    super::evaluate::means(&c, e, &["a"], |of| !of("a"));
}
