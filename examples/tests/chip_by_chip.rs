//! The examples both ways: written by hand, and chip by chip from the library, each proved against the trace and fitted into
//! one device. `cargo test -p gluewright-examples --test chip_by_chip -- --nocapture` prints them side by side.
#![allow(clippy::expect_used, clippy::panic, reason = "a check stops at what it did not expect")]
use std::time::Instant;

use gluewright::board::Board;
use gluewright::device::find;
use gluewright::fit::{Wishes, fit};
use gluewright::prelude::*;
use gluewright_examples::{organ_memory, sample_card};
use gluewright_parts::chips::{
    Ls00, Ls00Inputs, Ls02, Ls02Inputs, Ls04, Ls04Inputs, Ls05, Ls05Inputs, Ls32, Ls32Inputs, Ls74, Ls74Inputs, Ls109,
    Ls109Inputs, Ls138, Ls138Inputs, Ls163, Ls163Inputs, Ls173, Ls173Inputs,
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

/// How long the proof takes in milliseconds, macrocells and product terms.
fn measured<C: Wiring>(card: &Board) -> (f64, usize, usize) {
    let began = Instant::now();
    if let Err(failure) = prove::<C>().against(card).run() {
        panic!("{failure}");
    }
    let time = began.elapsed().as_secs_f64() * 1e3;
    let circuit = gluewright::circuit_of::<C>().expect("a circuit");
    let device = find("22V10").expect("a device");
    let fitted = fit(&circuit, device, &Wishes::none()).unwrap_or_else(|e| panic!("{e}"));
    (time, fitted.cells.len(), fitted.term_count())
}

#[test]
fn chips_inside_cost_no_macrocell_and_no_term() {
    println!("| card | written | proof, ms | macrocells | terms |");
    println!("|---|---|---|---|---|");
    let both = |card: &str, hand: (f64, usize, usize), chips: (f64, usize, usize)| {
        for (how, (time, cells, terms)) in [("by hand", hand), ("chip by chip", chips)] {
            println!("| {card} | {how} | {time:.0} | {cells} | {terms} |");
        }
        assert!(chips.1 <= hand.1, "{card}: {} macrocells by hand, {} chip by chip", hand.1, chips.1);
        assert!(chips.2 <= hand.2, "{card}: {} terms by hand, {} chip by chip", hand.2, chips.2);
    };
    let card = organ_memory::lost_card().expect("the trace is sound");
    both("organ memory", measured::<organ_memory::OrganMemory>(&card), measured::<OrganChips>(&card));
    let card = sample_card::lost_card().expect("the trace is sound");
    both("sample card", measured::<sample_card::SampleCard>(&card), measured::<SampleChips>(&card));
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
