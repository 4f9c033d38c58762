//! What a drawer file says, and what is said of a wrong one.
use super::{Drawer, DrawerError, ProblemKind};

const GOOD: &str = "\u{feff}Count;maker;type;Grade;package;shelf\r\n# the left drawer\r\n4;a maker;XYZ22V10D-15LP;;DIP24;left\r\n\
                    0;;16V8;7;PLCC-20;\r\n;;22v10;;;\r\n";

#[test]
fn columns_come_in_any_order_and_a_printed_type_tells_device_and_grade() {
    let drawer = Drawer::from_csv("drawer.csv", GOOD).expect("sound");
    let said: Vec<_> =
        drawer.entries.iter().map(|e| (e.device.name, e.grade.as_str(), e.package, e.count, e.is_there())).collect();
    assert_eq!(
        said,
        [
            ("22V10", "-15", "DIP-24", Some(4), true),
            ("16V8", "-7", "PLCC-20", Some(0), false),
            ("22V10", "", "DIP-24", None, true)
        ]
    );
    assert_eq!(drawer.entries[0].part().grades.iter().map(|g| g.name).collect::<Vec<_>>(), ["-15"]);
    assert_eq!(drawer.entries[0].origin.to_string(), "drawer.csv:3");
    assert!(drawer.entries[2].part().grades.len() > 3, "any grade");
    assert_eq!(drawer.count(drawer.entries[0].device), None, "one entry is not counted");
    assert_eq!(drawer.count(drawer.entries[1].device), Some(0));
}

fn wrong(text: &str) -> Vec<(String, ProblemKind)> {
    match Drawer::from_csv("drawer.csv", text) {
        Err(DrawerError::Wrong(all)) => all.into_iter().map(|p| (p.to_string(), p.kind)).collect(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn every_mistake_is_named_with_line_field_and_mend() {
    let found = wrong("type,package,count\nXX22V01,,1\n22V10,DIP-20,many\n,,\n\"16V8,,\n26CV12,,\n,DIP-24,2\n");
    let texts: Vec<&str> = found.iter().map(|(t, _)| t.as_str()).collect();
    assert_eq!(texts.len(), 6, "{texts:#?}");
    assert!(texts[0].starts_with("drawer.csv:2: type: `XX22V01` is no type"), "{}", texts[0]);
    assert!(texts[0].contains("did you mean 22V10?"), "{}", texts[0]);
    assert_eq!(found[1].1, ProblemKind::Count("many".into()));
    assert!(texts[1].starts_with("drawer.csv:3: count:"));
    assert!(texts[2].starts_with("drawer.csv:3: package: a 22V10 doesn't come in `DIP-20`: write one of DIP-24"));
    assert_eq!(found[3].1, ProblemKind::Quotation);
    assert!(texts[4].starts_with("drawer.csv:6: type: `26CV12`"));
    assert_eq!(found[5].1, ProblemKind::Missing);
}

#[test]
fn a_file_without_rows_without_its_column_or_without_text_is_refused() {
    assert_eq!(wrong("")[0].1, ProblemKind::NoRows);
    assert_eq!(wrong("type\n# nothing\n")[0].1, ProblemKind::NoRows);
    assert_eq!(wrong("maker,count\nx,1\n")[0].1, ProblemKind::NoColumn("type"));
    assert_eq!(wrong("type,type\n22V10,\n")[0].1, ProblemKind::ColumnTwice("type"));
    let Err(DrawerError::Wrong(all)) = Drawer::from_csv("d", b"type\n\xff\n") else { panic!("refused") };
    assert_eq!((&all[0].kind, all[0].origin.to_string().as_str()), (&ProblemKind::NotText, "d:2"));
    assert!(matches!(Drawer::from_file(std::path::Path::new("no/such.csv")), Err(DrawerError::Unreadable { .. })));
}

#[test]
fn the_default_drawer_holds_every_device_of_today() {
    let drawer = Drawer::generic();
    let of_today = crate::device::all().iter().filter(|d| d.burned_today);
    assert_eq!(
        drawer.entries.iter().map(|e| e.device.name).collect::<Vec<_>>(),
        of_today.map(|d| d.name).collect::<Vec<_>>()
    );
    assert!(drawer.entries.iter().all(|e| e.device.replacement.is_none()));
    assert!(drawer.entries.iter().all(|e| !e.package.is_empty() && e.is_there()));
}

#[test]
fn types_without_a_description_are_left_out_and_named() {
    let drawer = Drawer::from_csv("drawer.csv", "type,count\nXYZ22V10D-15LP,2\nXYZ9,4\n").unwrap();
    assert_eq!(drawer.entries.len(), 1);
    let unknown: Vec<String> = drawer.unknown.iter().map(ToString::to_string).collect();
    assert_eq!(unknown.len(), 1);
    assert!(unknown[0].starts_with("drawer.csv:3: type: `XYZ9` is no type that has a description here"), "{unknown:?}");
    assert!(Drawer::from_csv("drawer.csv", "type\nXYZ9\n").is_err(), "nothing is left");
    assert_eq!(super::printed("XYZ22V10").map(|d| d.name), Some("22V10"));
}

/// A file of anything else with a column `type`: a screenful of complaints says it, a million would fill the memory.
#[test]
fn bad_rows_count_as_rows_too() {
    for row in ["Z80,1\n", "22V10,many\n", "\"22V10,1\n"] {
        let sheet = format!("type,count\n{}", row.repeat(30_000));
        let Err(DrawerError::Wrong(problems)) = Drawer::from_csv("wrong.csv", sheet) else { panic!("too long") };
        assert!(problems.len() <= 10_002, "{}", problems.len());
        assert!(matches!(problems.last().map(|p| &p.kind), Some(ProblemKind::TooMany(10_000))), "{row}");
    }
}

fn part(maker: &str, full_type: &str, grade: &str) -> crate::device::Device {
    let row = format!("maker,type,grade\n{maker},{full_type},{grade}\n");
    Drawer::from_csv("d", row).expect("sound").entries[0].part()
}

/// What lies in the drawer is burned: its limits, fuses and figures, and nobody else's.
#[test]
fn a_part_is_what_its_own_makers_sheet_says() {
    // Philips ABT22V10A5/A7 p.4: 48 mA, 200 mA; no signature from memory
    let abt = part("", "ABT22V10A7", "");
    let limits = &abt.electrical[0];
    assert_eq!((limits.iol.unwrap().value, limits.icc_max.unwrap().value, abt.electrical.len()), (48.0, 200.0, 1));
    assert_eq!((abt.fuses, &abt.signature, abt.supply_current(None).map(|f| f.value)), (5828, &None, Some(200.0)));
    assert_eq!(abt.grades.iter().map(|g| g.name).collect::<Vec<_>>(), ["-7"]);
    assert_eq!(limits.termination.0, crate::device::Termination::Unknown);
    // Lattice "Specifications GAL22V10" p.7: least delays of 1 ns
    let gal = part("Lattice", "GAL22V10D-7LP", "");
    assert_eq!((gal.fuses, gal.grades.len(), gal.grades[0].name), (5892, 1, "-7"));
    assert_eq!(gal.grades[0].shortest.propagation.unwrap().value, 1.0);
    assert_eq!(gal.electrical[0].termination.0, crate::device::Termination::PullUp);
    let atf = part("", "ATF22V10C-15PU", "");
    assert_eq!(atf.electrical[0].termination.0, crate::device::Termination::Keeper);
    assert_eq!((atf.electrical[0].iil.unwrap().value, atf.power_down), (-10.0, Some(5892)));
    // TI SRPS011D and SRPS059 p.1: two generations of one maker come up opposite
    use gluewright_kernel::circuit::Start;
    assert_eq!(part("", "TIBPAL16R8-5CN", "").power_up, Start::Low);
    assert_eq!(part("", "TIBPAL16R8-25CN", "").power_up, Start::High);
    assert_eq!(part("", "TIBPAL16R8", "").power_up, Start::Any, "the grade decides, and nobody says it");
    assert_eq!(part("TI", "16R8", "-25").power_up, Start::High, "by maker and grade alone");
    // AMD PAL16R8 Family p.2-17 prints a best case, which is no promise
    let amd = part("AMD", "16L8", "7");
    assert_eq!((amd.grades[0].propagation.unwrap().value, amd.grades[0].shortest.propagation), (7.5, None));
    let quarter = part("", "PALCE22V10H-25PC", "");
    assert_eq!((quarter.fuses, quarter.grades[0].name, quarter.grades[0].setup), (5828, "-25", None));
    let zero = part("", "PALCE22V10Z-25PC", "");
    assert_eq!(zero.electrical[0].voh_min.unwrap().value, 3.84);
}

#[test]
fn of_a_part_without_a_sheet_the_limits_are_not_known() {
    let strange = part("a maker", "XYZ22V10D-15LP", "");
    assert!(strange.electrical.is_empty() && strange.grades[0].supply_current.is_none());
    assert!(strange.part.as_ref().is_some_and(|p| !p.has_limits && !p.has_grade), "{:?}", strange.part);
    let generic = part("", "22V10", "-15");
    assert!(generic.part.is_none() && !generic.electrical.is_empty());
    // a grade that the maker's sheet here doesn't have keeps that maker's limits
    let gal = part("", "GAL22V10-30", "");
    assert!(gal.part.as_ref().is_some_and(|p| p.has_limits && !p.has_grade), "{:?}", gal.part);
}

#[test]
fn a_longer_number_is_another_type() {
    for (printed, device) in
        [("22V100", None), ("122V10", None), ("GAL22V10D-15LP", Some("22V10")), ("ABT22V10A7", Some("22V10"))]
    {
        assert_eq!(super::printed(printed).map(|d| d.name), device, "{printed}");
    }
}
