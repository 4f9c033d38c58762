//! Names that both languages take: letters, digits and single underscores, no keyword, none twice in either case.
use std::collections::BTreeSet;

/// Words that mean something in Verilog (IEEE 1364-2001) or VHDL (IEEE 1076-1993 and 2008), and names of the packages
/// that the VHDL file uses. From memory.
const TAKEN: &str = "
abs access after alias all always and architecture array assert assign assume attribute automatic begin bit block body \
boolean buf buffer bufif0 bufif1 bus case casex casez character cmos component config configuration \
constant context cover deassign default defparam design disable disconnect downto edge else elsif end endcase \
endconfig endfunction endgenerate endmodule endprimitive endspecify endtable endtask entity error event exit failure \
fairness false file for force forever fork fs function generate generic genvar group guarded highz0 highz1 hr ieee if \
ifnone impure in incdir include inertial initial inout input instance integer is join label large liblist library \
linkage literal localparam loop macromodule map medium min mod module ms nand natural negedge new next nmos nor \
noshowcancelled not notif0 notif1 note ns null of on open or others out output package parameter pmos port posedge \
positive postponed primitive procedure process property protected ps pull0 pull1 pulldown pullup \
pulsestyle_ondetect pulsestyle_onevent pure range rcmos real realtime record reg register reject release rem repeat \
report restrict restrict_guarantee return rising_edge rnmos rol ror rpmos rtran rtranif0 rtranif1 scalared sec select \
sequence severity shared showcancelled signal signed sla sll small specify specparam sra srl standard std std_logic \
std_logic_1164 std_logic_vector std_ulogic string strong strong0 strong1 subtype supply0 supply1 table task then time \
to tran tranif0 tranif1 transport tri tri0 tri1 triand trior trireg true type unaffected units unsigned until us use \
variable vectored vmode vprop vunit wait wand warning weak0 weak1 when while wire with wor work xnor xor";

/// Hands out names.
#[derive(Debug)]
pub(super) struct Names {
    taken: BTreeSet<String>,
}

impl Names {
    pub(super) fn new() -> Self {
        Names { taken: TAKEN.split_whitespace().map(str::to_owned).collect() }
    }

    /// A name as near to the wanted one as both languages and the names given before allow.
    pub(super) fn fresh(&mut self, wanted: &str, instead: &str) -> String {
        let plain = legal(wanted);
        let second = format!("{plain}_{instead}");
        let numbered = (2..).map(|n| format!("{plain}_{n}"));
        let mut ways = [plain.clone(), second].into_iter().chain(numbered);
        let name = ways.find(|n| !self.taken.contains(&n.to_ascii_lowercase())).unwrap_or(plain);
        self.taken.insert(name.to_ascii_lowercase());
        name
    }
}

/// Letters, digits and single underscores between them, a letter first.
fn legal(wanted: &str) -> String {
    let mut name = String::new();
    for c in wanted.chars() {
        if c.is_ascii_alphanumeric() {
            name.push(c);
        } else if !name.is_empty() && !name.ends_with('_') {
            name.push('_');
        }
    }
    let name = name.trim_end_matches('_');
    match name.chars().next() {
        None => "unnamed".into(),
        Some(c) if c.is_ascii_digit() => format!("n{name}"),
        Some(_) => name.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_languages_take_every_name() {
        let mut names = Names::new();
        let given = ["wait", "Wait", "data[0]", "data_0_", "7seg", "¬x", "_", "a__b", "SIGNAL", "signal"];
        let got: Vec<String> = given.iter().map(|n| names.fresh(n, "pin")).collect();
        assert_eq!(
            got,
            ["wait_pin", "Wait_2", "data_0", "data_0_pin", "n7seg", "x", "unnamed", "a_b", "SIGNAL_pin", "signal_2"]
        );
    }
}
