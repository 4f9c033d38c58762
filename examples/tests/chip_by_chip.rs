//! The examples both ways: written by hand, and chip by chip from the library, each proved against the trace and fitted into
//! one device. `cargo test -p gluewright-examples --test checks chip_by_chip:: -- --nocapture` prints them side by side.
#![allow(clippy::expect_used, clippy::panic, reason = "a check stops at what it did not expect")]
use std::time::Instant;

use gluewright::board::Board;
use gluewright::device::find;
use gluewright::fit::{Wishes, fit};
use gluewright::prelude::*;
use gluewright::prove::Claim;
use gluewright_examples::{loom_bridge, organ_memory, organ_pistons, sample_card};
use gluewright_parts::chips::{
    Ls00, Ls00Inputs, Ls02, Ls02Inputs, Ls04, Ls04Inputs, Ls05, Ls05Inputs, Ls08, Ls08Inputs, Ls10, Ls10Inputs, Ls32,
    Ls32Inputs, Ls74, Ls74Inputs, Ls109, Ls109Inputs, Ls125, Ls125Inputs, Ls138, Ls138Inputs, Ls163, Ls163Inputs,
    Ls173, Ls173Inputs, Ls373, Ls373Inputs,
};

/// The organ's memory decoder, as its board has it.
#[derive(Circuit)]
#[circuit(vcc = 16, gnd = 9)]
#[contacts(
    clock: 1, address: 2..=4, memory: 5, refresh: 6, write: 7, lock: 8, rom: 10, ram_a: 11,
    ram_b: 12, knobs: 13, wait: 14, ram_write: 15,
)]
struct OrganChips {
    clock: Input<Clock>,
    address: [Input<Data>; 3],
    memory: Input<ActiveLow>,
    refresh: Input<ActiveHigh>,
    write: Input<Data>,
    lock: Input<Data>,
    rom: Output<ActiveLow>,
    ram_a: Output<ActiveLow>,
    ram_b: Output<ActiveLow>,
    knobs: Output<ActiveLow>,
    wait: Output<Data>,
    ram_write: Output<Data>,
    #[circuit]
    decoder: Ls138,
    #[circuit]
    nand: Ls00,
    #[circuit]
    counter: Ls163,
    #[circuit]
    or: Ls32,
    #[circuit]
    not: Ls04,
}

impl Wiring for OrganChips {
    fn wire(&self) -> OrganChipsWiring {
        let low = Level::LOW;
        let (slow, done_n, wait_n) = (self.nand.y[0].level(), self.nand.y[1].level(), self.nand.y[2]);
        let (locked_n, late_we_n) = (self.or.y[0].level(), self.or.y[1].level());
        let slow_n = self.not.y[0].level();
        let [rom, .., knobs] = self.decoder.y;
        let (ram_a, ram_b) = (self.decoder.y[4], self.decoder.y[5]);
        let on_wire = |y: Output<ActiveLow>| low_while(y.asserted());
        let nand = [
            [on_wire(ram_a), on_wire(ram_b)],
            [self.counter.q[0].level(), self.counter.q[1].level()],
            [slow, done_n],
            [low, low],
        ];
        let or = [[self.write.level(), self.lock.level()], [locked_n, done_n], [late_we_n, slow_n], [low, low]];
        OrganChipsWiring {
            decoder: Ls138Inputs {
                abc: each(|i| wired_to(self.address[i])),
                g2a: wired_to(self.memory),
                g2b: assert_while(Assertion::ALWAYS),
                g1: wired_to(self.refresh),
            },
            nand: Ls00Inputs { a: each(|i| follow(nand[i][0])), b: each(|i| follow(nand[i][1])) },
            counter: Ls163Inputs {
                clr: assert_while(slow.is_low()),
                clk: wired_to(self.clock),
                abcd: each(|_| follow(low)),
                enp: assert_while(done_n.is_high()),
                ent: assert_while(Assertion::ALWAYS),
                load: assert_while(Assertion::NEVER),
            },
            or: Ls32Inputs { a: each(|i| follow(or[i][0])), b: each(|i| follow(or[i][1])) },
            not: Ls04Inputs { a: each(|i| follow(if i == 0 { slow } else { low })) },
            rom: wired_to(rom),
            ram_a: wired_to(ram_a),
            ram_b: wired_to(ram_b),
            knobs: wired_to(knobs),
            wait: wired_to(wait_n),
            ram_write: wired_to(self.or.y[2]),
        }
    }
}

/// The tide-gauge recorder's sample card, as its board has it.
#[derive(Circuit)]
#[circuit(vcc = 24, gnd = 12)]
#[contacts(
    clock: 1, select: 2, read: 3, reset: 6, strobe: 7, gauge: 8..=11, data: 13..=16, wait: 17,
    irq: 18, missed: 19,
)]
struct SampleChips {
    clock: Input<Clock>,
    select: Input<ActiveLow>,
    read: Input<ActiveLow>,
    reset: Input<ActiveLow>,
    strobe: Input<Data>,
    gauge: [Input<Data>; 4],
    data: [Output<Data, ThreeState>; 4],
    wait: Output<Data>,
    irq: Output<Data, OpenCollector>,
    missed: Output<Data>,
    #[circuit]
    register: Ls173,
    #[circuit]
    d: Ls74,
    #[circuit]
    jk: Ls109,
    #[circuit]
    nand: Ls00,
    #[circuit]
    nor: Ls02,
    #[circuit]
    not: Ls05,
}

impl Wiring for SampleChips {
    fn wire(&self) -> SampleChipsWiring {
        let low = Level::LOW;
        let reset_n = low_while(self.reset.asserted());
        let (select_n, read_n) = (low_while(self.select.asserted()), low_while(self.read.asserted()));
        let seen = self.d.q[0];
        let was_n = self.d.q_n[1].level();
        let (fresh, fresh_n) = (self.jk.q[0].level(), self.jk.q_n[0].level());
        let [ended_n, reset, wait_n, reading_n] = self.nand.y;
        let [reading, ended, again, _] = self.nor.y.map(|y| y.level());
        let nand = [[ended, ended], [reset_n, reset_n], [reading, self.strobe.level()], [reading, reading]];
        let nor = [[select_n, read_n], [was_n, seen.level()], [ended_n.level(), fresh_n], [low, low]];
        let set = [ended, again];
        SampleChipsWiring {
            register: Ls173Inputs {
                m: wired_to(self.select),
                n: wired_to(self.read),
                clk: wired_to(self.clock),
                g: each(|i| assert_while(if i == 0 { ended_n.level().is_low() } else { Assertion::ALWAYS })),
                d: each(|i| wired_to(self.gauge[i])),
                clr: assert_while(reset.level().is_high()),
            },
            d: Ls74Inputs {
                clk: each(|_| wired_to(self.clock)),
                d: each(|i| if i == 0 { wired_to(self.strobe) } else { wired_to(seen) }),
                pre: each(|_| assert_while(Assertion::NEVER)),
                clr: each(|_| wired_to(self.reset)),
            },
            jk: Ls109Inputs {
                clk: each(|_| wired_to(self.clock)),
                j: each(|i| assert_while(set[i].is_high())),
                k_n: each(|_| assert_while(reading_n.level().is_low())),
                pre: each(|_| assert_while(Assertion::NEVER)),
                clr: each(|_| wired_to(self.reset)),
            },
            nand: Ls00Inputs { a: each(|i| follow(nand[i][0])), b: each(|i| follow(nand[i][1])) },
            nor: Ls02Inputs { a: each(|i| follow(nor[i][0])), b: each(|i| follow(nor[i][1])) },
            not: Ls05Inputs { a: each(|i| follow(if i == 0 { fresh } else { low })) },
            data: each(|i| wired_to(self.register.q[i])),
            wait: wired_to(wait_n),
            irq: wired_to(self.not.y[0]),
            missed: wired_to(self.jk.q_n[1]),
        }
    }
}

/// The loom's bus bridge, as its board has it.
#[derive(Circuit)]
#[circuit(vcc = 40, gnd = 18)]
#[contacts(
    clock: 1, reset: 2, to_loom: 3, request: 4, strobe: 5, ready: 6, fault: 7, a: 10..=17,
    b: 20..=27,
)]
struct BridgeChips {
    clock: Input<Clock>,
    reset: Input<ActiveLow>,
    to_loom: Input<Data>,
    request: Input<Data>,
    strobe: Input<Data>,
    ready: Output<Data>,
    fault: Output<Data>,
    a: [InOut<Data, ThreeState>; 8],
    b: [InOut<Data, ThreeState>; 8],
    #[circuit]
    to_b: Ls373,
    #[circuit]
    to_a: Ls373,
    #[circuit]
    grant: Ls74,
    #[circuit]
    not: Ls04,
    #[circuit]
    nand: Ls10,
    #[circuit]
    and: Ls08,
    #[circuit]
    late: Ls74,
    #[circuit]
    early: Ls08,
}

impl Wiring for BridgeChips {
    fn wire(&self) -> BridgeChipsWiring {
        let (low, high) = (Level::LOW, Level::HIGH);
        let [request, strobe, to_ctrl, drive_b, drive_a, _] = self.not.y.map(|y| y.level());
        let (asked, granted, granted_n) = (self.grant.q[0], self.grant.q[1].level(), self.grant.q_n[1].level());
        let [drive_b_n, drive_a_n, clash_n] = self.nand.y.map(|y| y.level());
        let [hold_a, hold_b, ready, fault] = self.and.y;
        let to_loom = self.to_loom.level();
        let inverted = [self.request.level(), self.strobe.level(), to_loom, drive_b_n, drive_a_n, low];
        let nand = [[granted, to_ctrl, request], [granted, to_loom, request], [drive_a, drive_b, high]];
        let and = [[strobe, to_ctrl], [strobe, to_loom], [granted, request], [clash_n, self.late.q_n[1].level()]];
        let early = [self.late.q[0].level(), granted_n];
        BridgeChipsWiring {
            to_b: Ls373Inputs {
                oe: assert_while(drive_b_n.is_low()),
                le: assert_while(hold_a.level().is_high()),
                d: each(|i| wired_to(self.a[i])),
            },
            to_a: Ls373Inputs {
                oe: assert_while(drive_a_n.is_low()),
                le: assert_while(hold_b.level().is_high()),
                d: each(|i| wired_to(self.b[i])),
            },
            grant: Ls74Inputs {
                clk: each(|_| wired_to(self.clock)),
                d: each(|i| if i == 0 { follow(request) } else { wired_to(asked) }),
                pre: each(|_| assert_while(Assertion::NEVER)),
                clr: each(|_| wired_to(self.reset)),
            },
            not: Ls04Inputs { a: each(|i| follow(inverted[i])) },
            nand: Ls10Inputs {
                a: each(|i| follow(nand[i][0])),
                b: each(|i| follow(nand[i][1])),
                c: each(|i| follow(nand[i][2])),
            },
            and: Ls08Inputs { a: each(|i| follow(and[i][0])), b: each(|i| follow(and[i][1])) },
            late: Ls74Inputs {
                clk: each(|_| wired_to(self.clock)),
                d: each(|i| if i == 0 { follow(strobe) } else { wired_to(self.early.y[0]) }),
                pre: each(|_| assert_while(Assertion::NEVER)),
                clr: each(|_| wired_to(self.reset)),
            },
            early: Ls08Inputs {
                a: each(|i| follow(if i == 0 { early[0] } else { low })),
                b: each(|i| follow(if i == 0 { early[1] } else { low })),
            },
            ready: wired_to(ready),
            fault: wired_to(fault),
            a: each(|i| wired_to(self.to_a.q[i])),
            b: each(|i| wired_to(self.to_b.q[i])),
        }
    }
}

/// The organ's piston port, as its board has it.
#[derive(Circuit)]
#[circuit(vcc = 18, gnd = 11)]
#[contacts(
    address: 1..=4, port: 5, read: 6, piston: (7, 8), set: 9, rest: 10, state: (12, 13), setter: 14,
    wait: 15, lamp: 16, next: 17,
)]
struct PistonChips {
    address: [Input<Data>; 4],
    port: Input<ActiveLow>,
    read: Input<Data>,
    piston: [Input<Data>; 2],
    set: Input<Data>,
    rest: Input<Data>,
    state: [Output<Data, ThreeState>; 2],
    setter: Output<Data, ThreeState>,
    wait: Output<Data, OpenCollector>,
    lamp: Output<Data>,
    next: Output<ActiveLow>,
    #[circuit]
    decoder: Ls138,
    #[circuit]
    or: Ls32,
    #[circuit]
    bus: Ls125,
    #[circuit]
    nand: Ls00,
    #[circuit]
    pull: Ls05,
    #[circuit]
    not: Ls04,
}

impl Wiring for PistonChips {
    fn wire(&self) -> PistonChipsWiring {
        let low = Level::LOW;
        let own_n = low_while(self.decoder.y[3].asserted());
        let read_n = self.or.y[0].level();
        let [pressed, released, ..] = self.nand.y.map(|y| y.level());
        let nand = [[self.set.level(), released], [self.rest.level(), pressed], [low, low], [low, low]];
        PistonChipsWiring {
            decoder: Ls138Inputs {
                abc: each(|i| wired_to(self.address[i])),
                g2a: wired_to(self.port),
                g2b: assert_while(Assertion::ALWAYS),
                g1: assert_while(self.address[3].level().is_high()),
            },
            or: Ls32Inputs {
                a: each(|i| follow(if i == 0 { own_n } else { low })),
                b: each(|i| if i == 0 { wired_to(self.read) } else { follow(low) }),
            },
            bus: Ls125Inputs {
                g: each(|i| assert_while(if i < 3 { read_n.is_low() } else { Assertion::NEVER })),
                a: each(|i| match i {
                    0 | 1 => wired_to(self.piston[i]),
                    2 => follow(pressed),
                    _ => follow(low),
                }),
            },
            nand: Ls00Inputs { a: each(|i| follow(nand[i][0])), b: each(|i| follow(nand[i][1])) },
            pull: Ls05Inputs { a: each(|i| follow(if i == 0 { self.not.y[0].level() } else { low })) },
            not: Ls04Inputs {
                a: each(|i| match i {
                    0 => follow(read_n),
                    1 => follow(pressed),
                    _ => follow(low),
                }),
            },
            state: each(|i| wired_to(self.bus.y[i])),
            setter: wired_to(self.bus.y[2]),
            wait: wired_to(self.pull.y[0]),
            lamp: wired_to(self.not.y[1]),
            next: wired_to(self.decoder.y[4]),
        }
    }
}

/// How long the proof takes in milliseconds, macrocells and product terms.
fn measured<C: Wiring>(card: &Board, device: &str, claim: Claim<C>) -> (f64, usize, usize) {
    let began = Instant::now();
    if let Err(failure) = claim.against(card).run() {
        panic!("{failure}");
    }
    let time = began.elapsed().as_secs_f64() * 1e3;
    let circuit = gluewright::circuit_of::<C>().expect("a circuit");
    let device = find(device).expect("a device");
    let fitted = fit(&circuit, device, &Wishes::none()).unwrap_or_else(|e| panic!("{e}"));
    (time, fitted.cells.len(), fitted.term_count())
}

fn side_by_side(card: &str, hand: (f64, usize, usize), chips: (f64, usize, usize)) {
    println!("| card | written | proof, ms | macrocells | terms |\n|---|---|---|---|---|");
    for (how, (time, cells, terms)) in [("by hand", hand), ("chip by chip", chips)] {
        println!("| {card} | {how} | {time:.0} | {cells} | {terms} |");
    }
    assert!(chips.1 <= hand.1, "{card}: {} macrocells by hand, {} chip by chip", hand.1, chips.1);
    assert!(chips.2 <= hand.2, "{card}: {} terms by hand, {} chip by chip", hand.2, chips.2);
}

#[test]
fn the_organs_memory_costs_no_macrocell_and_no_term() {
    let card = organ_memory::lost_card().expect("the trace is sound");
    let hand = measured(&card, "22V10", prove::<organ_memory::OrganMemory>());
    side_by_side("organ memory", hand, measured(&card, "22V10", prove::<OrganChips>()));
}

#[test]
fn the_sample_card_costs_no_macrocell_and_no_term() {
    let card = sample_card::lost_card().expect("the trace is sound");
    let hand = measured(&card, "22V10", prove::<sample_card::SampleCard>());
    side_by_side("sample card", hand, measured(&card, "22V10", prove::<SampleChips>()));
}

#[test]
fn the_looms_bridge_costs_no_macrocell_and_no_term() {
    fn bridge<C: Wiring>(own: [&str; 2]) -> Claim<C> {
        let late = |what: String| format!("data of {what} when 3 to_loom changes");
        ["U1.q", "U2.q"]
            .iter()
            .map(|q| late(format!("{q}[0] and 7 others of the original")))
            .chain(own.iter().map(|q| late(format!("{q}[0] and 7 others of the replacement"))))
            .fold(prove::<C>().acknowledging("clash_n"), Claim::acknowledging)
    }
    let card = loom_bridge::lost_bridge().expect("the trace is sound");
    let hand = measured(&card, "CPLD-32", bridge::<loom_bridge::LoomBridge>(["a", "b"]));
    side_by_side(
        "loom bridge",
        hand,
        measured(&card, "CPLD-32", bridge::<BridgeChips>(["to_a.q", "to_b.q"]).acknowledging("nand.y[2] (value)")),
    );
}

#[test]
fn the_organs_pistons_cost_no_macrocell_and_no_term() {
    let card = organ_pistons::lost_card().expect("the trace is sound");
    let claim = prove::<organ_pistons::OrganPistons>().assuming(organ_pistons::breaks_before_it_makes);
    let hand = measured(&card, "22V10", claim);
    let claim = prove::<PistonChips>().assuming(|c| never(c.set.level().is_low() & c.rest.level().is_low()));
    side_by_side("organ pistons", hand, measured(&card, "22V10", claim));
}

/// The sample card with the second flip-flop on the strobe instead of the first one's output.
#[test]
fn a_slip_between_chips_is_refuted() {
    #[derive(Circuit)]
    #[contacts(clock: 1, reset: 6, strobe: 7, was: 13)]
    struct Slip {
        clock: Input<Clock>,
        reset: Input<ActiveLow>,
        strobe: Input<Data>,
        was: Output<Data>,
        #[circuit]
        d: Ls74,
    }
    impl Wiring for Slip {
        fn wire(&self) -> SlipWiring {
            SlipWiring {
                d: Ls74Inputs {
                    clk: each(|_| wired_to(self.clock)),
                    d: each(|_| wired_to(self.strobe)),
                    pre: each(|_| assert_while(Assertion::NEVER)),
                    clr: each(|_| wired_to(self.reset)),
                },
                was: wired_to(self.d.q[1]),
            }
        }
    }
    #[derive(Circuit)]
    #[contacts(clock: 1, reset: 6, strobe: 7, was: 13)]
    struct Right {
        clock: Input<Clock>,
        reset: Input<ActiveLow>,
        strobe: Input<Data>,
        was: Output<Data>,
        seen: Buried<Register>,
    }
    impl Wiring for Right {
        fn wire(&self) -> RightWiring {
            let (clock, reset) = (self.clock.rises(), self.reset.asserted());
            RightWiring {
                seen: on(clock).load(self.strobe.level()).clear_while(reset),
                was: on(clock).load(self.seen.q()).clear_while(reset),
            }
        }
    }
    let right = gluewright::circuit_of::<Right>().expect("a circuit");
    assert!(matches!(prove::<Slip>().against(&right).run(), Err(Failure::Refuted(_))));
}
