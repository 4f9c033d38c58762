//! Hazards of traced cards: what the original has, and what the device that replaces it has.
use gluewright::board::Board;
use gluewright::circuit::Circuit;
use gluewright::device::find;
use gluewright::fit::{Wishes, fit};
use gluewright::hazard::{Cause, Hazard, Kind, Role, of_device, of_original};
use gluewright::order::{Role as At, Rule};
use gluewright::prove::{Failure, Of, Question, Why};

fn board(file: &str, content: &str) -> Circuit {
    Board::from_csv(file, content, gluewright_parts::ttl()).unwrap().circuit().unwrap()
}

/// Turning the bridge closes one pair of latches while their own bus is handed over, on the original as on the device.
/// By the trace: the gate of U1 waits for an inverter and an AND, its bus for a NAND and the driver; the gate of U2 for
/// an AND, its bus for an inverter, a NAND and the driver.
#[test]
fn the_loom_bridge_turns_its_buses_while_its_latches_close() {
    let bridge = board("loom_bridge.csv", include_str!("../../examples/src/loom_bridge.csv"));
    let turned = |h: &&Hazard| h.cause == Cause::Contact("to_loom".into()) && h.role == Role::Latch;
    let original = of_original(&bridge).unwrap();
    let found: Vec<&Hazard> = original.list.iter().filter(turned).collect();
    let latches: usize = found.iter().map(|h| h.signals.len()).sum();
    assert_eq!(latches, 16, "{:?}", original.list);
    for hazard in found {
        assert_eq!(hazard.kind, Kind::Function);
        let margin = hazard.margin.unwrap();
        let of = if hazard.signals[0].starts_with("U1") { (2, 2, 2) } else { (1, 1, 3) };
        assert_eq!((margin.closes.0, margin.closes.1, margin.moves.0), of, "{hazard}");
    }
    let fitted = fit(&bridge, find("CPLD-32").unwrap(), &Wishes::none()).unwrap();
    let device = of_device(&fitted);
    assert_eq!(device.logic().count(), 0);
    let found: Vec<&Hazard> = device.list.iter().filter(turned).collect();
    assert_eq!(found.iter().map(|h| h.signals.len()).sum::<usize>(), 16, "{:?}", device.list);
    assert!(found.iter().all(|h| h.margin.is_some_and(|m| m.closes.1 < m.moves.0)));
}

#[test]
fn the_sample_card_has_none_that_a_device_of_ours_brings() {
    let card = board("sample_card.csv", include_str!("../../examples/src/sample_card.csv"));
    for device in ["22V10", "CPLD-32"] {
        let fitted = fit(&card, find(device).unwrap(), &Wishes::none()).unwrap();
        assert_eq!(of_device(&fitted).logic().count(), 0, "{device}");
    }
}

/// A flip-flop whose clock is an input, ANDed with itself behind so many inverters, with parts as the trade sells them.
/// After one inverter the AND is a pulse former; after two it passes the rise on, later, and no more.
#[test]
fn a_pulse_former_before_a_clock_withholds_the_proof_by_the_name_of_its_net() {
    let card = |inverters: usize| {
        let mut rows =
            "ref,part,pin,net\nJ1,contacts,1,a\nJ1,contacts,2,q\nU1,74LS04,14,VCC\nU1,74LS04,7,GND\n".to_owned();
        let net = |k: usize| if k == 0 { "a".to_owned() } else { format!("late{k}") };
        for k in 0..inverters {
            rows += &format!("U1,74LS04,{},{}\nU1,74LS04,{},{}\n", 2 * k + 1, net(k), 2 * k + 2, net(k + 1));
        }
        rows += &format!(
            "U2,74LS08,14,VCC\nU2,74LS08,7,GND\nU2,74LS08,1,a\nU2,74LS08,2,{}\nU2,74LS08,3,ck\n",
            net(inverters)
        );
        let flip_flop = [(14, "VCC"), (7, "GND"), (1, "VCC"), (4, "VCC"), (3, "ck"), (2, "q_n"), (6, "q_n"), (5, "q")];
        rows.extend(flip_flop.map(|(pin, net)| format!("U3,74LS74,{pin},{net}\n")));
        board("chain.csv", &rows)
    };
    let ask = |inverters| Question::new(card(inverters), card(0)).ask();
    assert!(ask(2).is_ok(), "a copy that moves the same way makes no pulse");
    match Question::new(card(1), card(1)).ask() {
        Err(Failure::Withheld(w)) => {
            let h = w.hidden.iter().find(|h| h.of == Of::Original).unwrap();
            assert_eq!(h.name, "ck");
            assert!(matches!(&h.why, Why::Order { rule: Rule::Pulse(At::Clock), .. }), "{w}");
            assert_eq!(h.reaches, ["the clock of `U3.state[0]`"]);
        }
        other => panic!("{other:?}"),
    }
    assert!(ask(0).is_ok(), "without the chain there is nothing to say");
}
