// The lost sample card once more, written by hand from its trace and from the function tables of the 74LS00, 02, 05, 74,
// 109 and 173 (function tables from memory), with delays of about the typical ones, for a simulator that knows nothing of
// this project. SLIP_n breaks one thing.
`timescale 1ns/1ns
module card(input clk, select_n, read_n, reset_n, strobe, g0, g1, g2, g3,
            output d0, d1, d2, d3, wait_n, irq_n, missed_n);
  wire ended_n, reset, reading_n, reading, ended, again;
  reg [3:0] held; reg seen, was, fresh, missed;
  wire clear_u2a =
`ifdef SLIP_2
    1'b1;                                            // U2 pin 1 has no contact in its socket: an open input reads high
`else
    reset_n;
`endif
  initial begin held = $random; seen = $random; was = $random; fresh = $random; missed = $random; end
  // U5, 74LS02
  assign #10 reading = ~(select_n | read_n);
  assign #10 ended = ~(~was | seen);
  assign #10 again = ~(ended_n | ~fresh);
  // U4, 74LS00
  assign #9 ended_n = ~(ended & ended);
  assign #9 reset = ~(reset_n & reset_n);
  assign #9 reading_n = ~(reading & reading);
`ifdef SLIP_1
  assign wait_n = 1'b1;                              // U4 pin 8 is stuck high
`else
  assign #9 wait_n = ~(reading & strobe);
`endif
  // U6, 74LS05
  assign #16 irq_n = fresh ? 1'b0 : 1'bz;
  // U2, 74LS74
  always @(posedge clk or negedge clear_u2a) if (!clear_u2a) seen <= #18 0; else seen <= #18 strobe;
  always @(posedge clk or negedge reset_n) if (!reset_n) was <= #18 0; else was <= #18 seen;
  // U3, 74LS109: J, and K active low
  always @(posedge clk or negedge reset_n)
    if (!reset_n) fresh <= #18 0;
    else case ({ended, reading_n}) 2'b00: fresh <= #18 0; 2'b10: fresh <= #18 ~fresh; 2'b11: fresh <= #18 1; endcase
`ifdef SLIP_3
  wire j = ended;                                    // pins 14 of U3 wired to `ended` instead of `again`
`else
  wire j = again;
`endif
  always @(posedge clk or negedge reset_n)
    if (!reset_n) missed <= #18 0;
    else case ({j, reading_n}) 2'b00: missed <= #18 0; 2'b10: missed <= #18 ~missed; 2'b11: missed <= #18 1; endcase
  assign missed_n = ~missed;
  // U1, 74LS173
  always @(posedge clk or posedge reset) if (reset) held <= #20 0; else if (!ended_n) held <= #20 {g3, g2, g1, g0};
  assign #15 d0 = (!select_n & !read_n) ? held[0] : 1'bz;
  assign #15 d1 = (!select_n & !read_n) ? held[1] : 1'bz;
  assign #15 d2 = (!select_n & !read_n) ? held[2] : 1'bz;
  assign #15 d3 = (!select_n & !read_n) ? held[3] : 1'bz;
endmodule

module bench;
  reg clk, select_n, read_n, reset_n, strobe, g0, g1, g2, g3;
  wire d0, d1, d2, d3, wait_n, irq_n, missed_n;
  integer k, what, seed, steps;
  card u(clk, select_n, read_n, reset_n, strobe, g0, g1, g2, g3, d0, d1, d2, d3, wait_n, irq_n, missed_n);
  initial begin
    seed = 1984; steps = 2000;
    if ($value$plusargs("steps=%d", steps)) ;
    $dumpfile("card.vcd"); $dumpvars(1, bench);
    {clk, select_n, read_n, reset_n, strobe, g0, g1, g2, g3} = 9'b011110101;
    for (k = 0; k < steps; k = k + 1) begin
      #200 what = $unsigned($random(seed)) % 24;
      case (what)
        0: select_n = ~select_n;
        1: read_n = ~read_n;
        2: if (k % 7 == 0 || !reset_n) reset_n = ~reset_n;
        3, 4: strobe = ~strobe;
        5: g0 = ~g0;
        6: g1 = ~g1;
        7: g2 = ~g2;
        8: g3 = ~g3;
        9: begin clk = ~clk; #3 g0 = ~g0; end        // two inputs within what an analyser can tell apart
        default: clk = ~clk;
      endcase
    end
    #200 $finish;
  end
endmodule
