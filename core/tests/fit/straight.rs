//! A device in the socket without an adapter.
use super::bench::{Bench, run_beside};
use gluewright::circuit::{
    By, Circuit, Contact, Direction, Driver, Element, Expr, Kind, NetId, Origin, Polarity, Rail, Stage, Start,
};
use gluewright::device::find;
use gluewright::fit::{NoFit, Wishes, fit};

fn contact(c: &mut Circuit, label: u16, direction: Direction) -> NetId {
    let name = format!("c{label}");
    let net = c.add_net(name.clone(), Origin::Nowhere);
    let label = label.into();
    c.add_contact(Contact { label, name, net, polarity: Polarity::Data, direction, origin: Origin::Nowhere });
    net
}

/// A latch behind contact 22 that floats at times, with the supplies of a 22V10.
fn latched(output: u16, vcc: u16) -> Circuit {
    let mut c = Circuit::new("straight");
    let [data, open, on] = [2, 3, 4].map(|n| {
        let net = contact(&mut c, n, Direction::Input);
        c.net(net)
    });
    let latch = c.add_element(Element {
        name: "held".into(),
        kind: Kind::Latch { open, data },
        clear: Expr::LOW,
        unknown_load: Expr::LOW,
        preset: Expr::LOW,
        start: Start::Any,
        origin: Origin::Nowhere,
    });
    let (level, out) = (c.q(latch), contact(&mut c, output, Direction::InOut));
    let (name, origin) = ("out", Origin::Nowhere);
    c.drive(out, Driver { enable: on, level, stage: Stage::ThreeState, by: By::signal(name), origin });
    c.add_supply(vcc.into(), Rail::Vcc);
    c.add_supply(12.into(), Rail::Gnd);
    c
}

#[test]
fn what_is_driven_inside_needs_an_open_contact() {
    let (c, device) = (latched(22, 24), find("22V10").unwrap());
    let no = fit(&c, device, &Wishes::none().straight_through()).unwrap_err();
    assert!(no.to_string().contains("`held` needs a macrocell whose pin the board leaves open"), "{no}");
    let fitted = fit(&c, device, &Wishes::none().straight_through().open(18)).unwrap();
    for contact in c.contacts() {
        let pins: Vec<String> = fitted.pins_of(&contact.label).iter().map(u16::to_string).collect();
        assert_eq!(pins.join(" "), contact.label.as_str());
    }
    assert_eq!(fitted.cells.iter().find(|c| c.name == "held").map(|c| c.macrocell), Some(18));
    assert!(run_beside(&c, &fitted, device, 500) > 0);
}

#[test]
fn a_buried_register_may_sit_on_a_contact_that_the_board_drives() {
    let mut b = Bench::new();
    let (clock, d) = (b.input("clock"), b.input("d"));
    let r = b.register("r", clock, d, Expr::LOW, Start::Low);
    let mut c = b.c;
    let out = contact(&mut c, 23, Direction::Output);
    let q = c.q(r);
    let level = c.and(q, d);
    let (name, origin) = ("out", Origin::Nowhere);
    c.drive(out, Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal(name), origin });
    let device = find("22V10").unwrap();
    let fitted = fit(&c, device, &Wishes::none().straight_through()).unwrap();
    assert!(run_beside(&c, &fitted, device, 500) > 0);
    // on a 16V8 the enable pin would drive it
    let mut short = c.clone();
    short.contact_mut(short.find_contact(&23.into()).unwrap()).unwrap().label = 19.into();
    let no = fit(&short, find("16V8").unwrap(), &Wishes::none().straight_through()).unwrap_err();
    assert!(matches!(no, NoFit::NotStraight { .. }), "{no}");
}

#[test]
fn what_the_device_has_elsewhere_is_said() {
    let device = find("22V10").unwrap();
    let said = |c: &Circuit, words: &str| {
        let no = fit(c, device, &Wishes::none().straight_through()).unwrap_err().to_string();
        assert!(no.contains(words), "`{words}` is missing in: {no}");
    };
    said(&latched(22, 23), "contact 23: the device doesn't have that supply there");
    said(&latched(12, 24), "`c12` is where the device has its ground");
    said(&latched(40, 24), "no pin 40");
    said(&latched(11, 24), "pin 11");
}
