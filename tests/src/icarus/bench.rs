//! The bench around a pair: it starts the original in every way, runs both over the same events, and compares what every
//! contact showed over each, without repetitions.
use std::fmt::Write;

use super::{Counted, Pair, Run};

fn bits(values: impl DoubleEndedIterator<Item = bool>) -> String {
    let text: String = values.rev().map(|b| if b { '1' } else { '0' }).collect();
    if text.is_empty() { "0".to_owned() } else { text }
}

/// File names and contents.
pub(super) fn files(pair: &Pair, runs: &[Run], all: bool) -> Vec<(&'static str, String)> {
    let [original, replacement] = &pair.modules;
    let (mut events, mut firsts, mut counts) = (String::new(), String::new(), String::new());
    let (mut levels, mut starts) = (String::new(), String::new());
    let mut total = 0;
    for run in runs {
        let at = |l| pair.labels.iter().position(|x| x == l);
        let _ = writeln!(firsts, "{total:x}");
        let before = total;
        for event in &run.sequence.events {
            let changes: Vec<(usize, bool)> = event.iter().filter_map(|(l, high)| Some((at(l)?, *high))).collect();
            for (k, &(contact, high)) in changes.iter().enumerate() {
                let more = k + 1 < changes.len();
                let _ = writeln!(events, "{:x}", usize::from(more) << 15 | usize::from(high) << 14 | contact);
                total += 1;
            }
        }
        let _ = writeln!(counts, "{:x}", total - before);
        let of = |list: &[(gluewright::circuit::Label, bool)], l| list.iter().any(|(x, high)| x == l && *high);
        let _ = writeln!(levels, "{}", bits(pair.labels.iter().map(|l| of(&run.sequence.levels, l))));
        let held = |name: &str| run.start.iter().any(|(n, high)| n == name && *high);
        let start = replacement.starts.iter().map(|(name, start)| start.unwrap_or_else(|| held(name)));
        let _ = writeln!(starts, "{}", bits(start));
    }
    let free = original.free();
    let start: Vec<String> = (0..original.width())
        .rev()
        .map(|e| match (free.iter().position(|&f| f == e), original.starts.get(e)) {
            (Some(k), _) => format!("s[{k}]"),
            (None, Some((_, Some(true)))) => "1'b1".to_owned(),
            (None, _) => "1'b0".to_owned(),
        })
        .collect();
    let text = BENCH
        .replace("$C", &(pair.labels.len().max(1) - 1).to_string())
        .replace("$O", &(original.width() - 1).to_string())
        .replace("$R", &(replacement.width() - 1).to_string())
        .replace("$N", &runs.len().to_string())
        .replace("$T", &total.max(1).to_string())
        .replace("$PULLS", &format!("{}'b{}", pair.labels.len().max(1), bits(pair.pulls_differ.iter().copied())))
        .replace("$STARTS", &(1u64 << free.len()).to_string())
        .replace("$START", &format!("{{{}}}", start.join(", ")))
        .replace("$ALL", if all { "1" } else { "0" });
    let stamp = "`timescale 1 ns / 1 ns\n";
    let mut list = pair.modules.iter().map(|m| format!("{stamp}{}", m.text));
    vec![
        ("original.v", list.next().unwrap_or_default()),
        ("replacement.v", list.next().unwrap_or_default()),
        ("bench.v", format!("{stamp}{text}")),
        ("events.hex", if total == 0 { "0\n".to_owned() } else { events }),
        ("firsts.hex", firsts),
        ("counts.hex", counts),
        ("levels.bin", levels),
        ("starts.bin", starts),
    ]
}

/// A line of what the bench prints.
pub(super) fn counted(line: &str) -> Option<Counted> {
    let numbers: Vec<u64> = line.strip_prefix("run ")?.split(' ').filter_map(|n| n.parse().ok()).collect();
    let [alive, open, dead, events, guessed, neither] = numbers.as_slice() else { return None };
    let (alive, open, dead, events) = (*alive, *open, *dead, *events);
    Some(Counted { alive, open, dead, events, guessed: *guessed == 1, neither: *neither == 1 })
}

/// With `$` before what is filled in.
const BENCH: &str = "\
module bench;
reg [15:0] events [0:$T-1]; reg [31:0] firsts [0:$N-1], counts [0:$N-1];
reg [$C:0] levels [0:$N-1]; reg [$R:0] starts [0:$N-1];
reg lt, rt, init, load; reg [$C:0] outside; reg [31:0] s; reg [$R:0] start_r;
wire [$O:0] start_o = $START;
wire [$C:0] driven_o, level_o, driven_r, level_r;
wire moved_o, busy_o, unknown_o, neither_o, moved_r, busy_r, unknown_r, neither_r;
original o(lt, rt, init, load, start_o, outside, driven_o, level_o, moved_o, busy_o, unknown_o, neither_o);
replacement r(lt, rt, init, load, start_r, outside, driven_r, level_r, moved_r, busy_r, unknown_r, neither_r);
reg [127:0] seen_o [0:$C], seen_r [0:$C];
reg [$C:0] pulls; reg [1:0] show_o, show_r;
reg differs, restless_o, restless_r, x_o, x_r, ended, guessed, neither;
integer n, c, k, p, at, last, reached, longest, alive, open, dead;

task settle; begin
  k = 0; #1 lt = 1; #1 lt = 0; #1;
  while ((moved_o === 1 || moved_r === 1) && k < 64) begin lt = 1; #1 lt = 0; #1; k = k + 1; end
  if (k == 64) begin if (moved_o) restless_o = 1; if (moved_r) restless_r = 1; end
end endtask

task look(input first); begin
  for (c = 0; c <= $C; c = c + 1) begin
    show_o = driven_o[c] ? {1'b1, level_o[c]} : 2'b00;
    show_r = driven_r[c] ? {1'b1, level_r[c]} : {1'b0, pulls[c]};
    if ((^show_o) === 1'bx) x_o = 1;
    if ((^show_r) === 1'bx) x_r = 1;
    if (first) begin seen_o[c] = {126'd1, show_o}; seen_r[c] = {126'd1, show_r}; end
    else begin
      if (seen_o[c][1:0] !== show_o) seen_o[c] = {seen_o[c][125:0], show_o};
      if (seen_r[c][1:0] !== show_r) seen_r[c] = {seen_r[c][125:0], show_r};
    end
  end
end endtask

// phase after phase until nothing changes
task phases; begin
  p = 0; settle; look(0);
  rt = 1; #1 rt = 0; #1;
  while ((busy_o === 1 || busy_r === 1) && p < 100) begin
    settle; look(0);
    rt = 1; #1 rt = 0; #1; p = p + 1;
  end
  if (p == 100) begin if (busy_o) restless_o = 1; if (busy_r) restless_r = 1; end
end endtask

task compare; begin
  differs = 0;
  for (c = 0; c <= $C; c = c + 1) if (seen_o[c] !== seen_r[c]) differs = 1;
end endtask

// one start of the original over one run
task try; begin
  outside = levels[n]; start_r = starts[n];
  restless_o = 0; restless_r = 0; x_o = 0; x_r = 0;
  #1 load = 1; #1 load = 0; settle;
  init = 1; #1 init = 0; #1;
  for (p = 0; p < 8 && (moved_o === 1 || moved_r === 1); p = p + 1) begin settle; init = 1; #1 init = 0; #1; end
  look(1); phases; look(1);
  compare; at = firsts[n]; last = firsts[n] + counts[n]; reached = 0;
  ended = differs || restless_o || restless_r;
  while (!ended && at < last) begin
    look(1);
    outside[events[at][13:0]] = events[at][14];
    while (events[at][15]) begin at = at + 1; outside[events[at][13:0]] = events[at][14]; end
    at = at + 1;
    phases; compare;
    ended = differs || restless_o || restless_r;
    if (!restless_r) reached = reached + 1;
  end
  x_o = x_o | (neither_o === 1); x_r = x_r | (neither_r === 1);
end endtask

initial begin
  $readmemh(\"events.hex\", events); $readmemh(\"firsts.hex\", firsts); $readmemh(\"counts.hex\", counts);
  $readmemb(\"levels.bin\", levels); $readmemb(\"starts.bin\", starts);
  lt = 0; rt = 0; init = 0; load = 0; pulls = $PULLS;
  for (n = 0; n < $N; n = n + 1) begin
    alive = 0; open = 0; dead = 0; longest = 0; guessed = 0; neither = 0;
    for (s = 0; s < $STARTS && ($ALL || alive == 0); s = s + 1) begin
      try;
      if (reached > longest) longest = reached;
      if (unknown_r === 1) guessed = 1;
      if (x_r) neither = 1;
      if (restless_r || !(differs || restless_o)) begin
        if (x_o || x_r) begin neither = 1; open = open + 1; end else alive = alive + 1;
      end
      else if (restless_o || x_o || unknown_o !== 0) open = open + 1;
      else dead = dead + 1;
    end
    $display(\"run %0d %0d %0d %0d %0d %0d\", alive, open, dead, longest, guessed, neither);
  end
  $finish;
end
endmodule
";
