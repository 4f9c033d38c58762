//! The report page: whole, well-formed, without any reference to the outside, whatever names it is given.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::sync::Arc;

use gluewright::board::{Board, Library, Part};
use gluewright::circuit::{By, Circuit, Contact, Direction, Driver, Expr, Label, Origin, Polarity, Rail, Stage};
use gluewright::device;
use gluewright::fit::{Fitted, Wishes, fit};
use gluewright::loading::loading_together;
use gluewright::prove::{Proof, Question};
use gluewright::report::adapter::Adapter;
use gluewright::report::{Chapter, Probing, Report, Seated, drawing};
use roxmltree::{Document, ParsingOptions};

/// Names that a spreadsheet can hold and a page must not believe.
const NAMES: [&str; 4] = [
    "<script>alert(\"1\")</script>",
    "a'b\"c&amp;\u{202E}evil\u{0007}",
    "a_very_long_name_a_very_long_name_a_very_long_name_a_very_long_name_a_very_long_name",
    "\u{5E9}\u{5DC}\u{5D5}\u{5DD}",
];

/// A library with one part, an inverter of sorts: contact 1 in, 2 out.
struct OnePart;

impl Library for OnePart {
    fn part(&self, type_number: &str) -> Option<Part> {
        let mut inverter = circuit("part", ["a", "y"]);
        inverter.add_supply(Label::from(3), Rail::Gnd);
        inverter.add_supply(Label::from(4), Rail::Vcc);
        (type_number == "INV").then(|| Part::logic("INV", Arc::new(inverter)))
    }

    fn names(&self) -> Vec<String> {
        vec!["INV".to_owned()]
    }
}

/// Contact 2 is the complement of contact 1.
fn circuit(name: &str, [read, shown]: [&str; 2]) -> Circuit {
    let mut c = Circuit::new(name);
    let (a, y) = (c.add_net(read, Origin::Nowhere), c.add_net(shown, Origin::Nowhere));
    let value = c.net(a);
    let level = c.not(value);
    let driver =
        Driver { enable: Expr::HIGH, level, stage: Stage::PushPull, by: By::signal(shown), origin: Origin::Nowhere };
    c.drive(y, driver);
    for (number, net, name, direction) in [(1, a, read, Direction::Input), (2, y, shown, Direction::Output)] {
        let (label, name) = (Label::from(number), name.to_owned());
        c.add_contact(Contact { label, name, net, polarity: Polarity::Data, direction, origin: Origin::Nowhere });
    }
    c
}

struct Bench {
    board: Board,
    original: Circuit,
    fitted: Fitted,
    proof: Proof,
    probing: Probing,
    files: Vec<(String, Vec<u8>)>,
}

impl Bench {
    fn new(names: [&str; 2], circuit_name: &str) -> Bench {
        let [a, y] = names;
        let builder = Board::builder(circuit_name).contacts("J1", [("1", a), ("2", y), ("7", "GND"), ("14", "VCC")]);
        let board =
            builder.chip(circuit_name, "INV", [("1", a), ("2", y), ("3", "GND"), ("4", "VCC")]).finish(&OnePart);
        let board = board.unwrap_or_else(|e| panic!("{e}"));
        let original = board.circuit().expect("a circuit");
        let replacement = circuit(circuit_name, names);
        let question = Question::new(original.clone(), replacement.clone());
        let proof = question.ask().unwrap_or_else(|e| panic!("{e}"));
        let fitted = fit(&replacement, device::find("22V10").expect("known"), &Wishes::none()).expect("fits");
        let probing = Probing::new(&question, &replacement);
        Bench { board, original, fitted, proof, probing, files: vec![("x.jed".to_owned(), b"abc".to_vec())] }
    }

    fn page(&self, findings: &[String], chapters: &[Chapter]) -> String {
        self.page_in(device::find("22V10").expect("known"), findings, chapters)
    }

    fn page_in(&self, device: &device::Device, findings: &[String], chapters: &[Chapter]) -> String {
        let seated = Seated {
            reference: "U1",
            fitted: &self.fitted,
            device,
            grade: None,
            file: "x.jed",
            checksum: Some(0xBEEF),
        };
        let currents = loading_together(&self.board, &[], &[(&self.fitted, device, None)], None);
        let report = Report {
            name: &self.fitted.circuit,
            board: &self.board,
            original: &self.original,
            devices: &[seated],
            kept: &[],
            kept_pins: &[],
            source: Some(&self.proof),
            fuses: &self.proof,
            properties: &[],
            currents: Some(&currents),
            safe_grade: None,
            probing: &self.probing,
            findings,
            chapters,
            files: &self.files,
            layout: None,
            date: None,
        };
        report.html()
    }
}

/// Strict XML, so that no name can have opened an element or an attribute.
fn read(page: &str) -> Document<'_> {
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    Document::parse_with_options(page, options).unwrap_or_else(|e| panic!("not well-formed: {e}"))
}

fn text(document: &Document<'_>) -> String {
    document.descendants().filter(|n| n.is_text()).filter_map(|n| n.text()).collect()
}

/// No element or attribute by which a browser would fetch something or run something.
fn fetches_nothing(document: &Document<'_>, page: &str) {
    let spaces = ["http://www.w3.org/1999/xhtml", "http://www.w3.org/2000/svg"];
    for node in document.descendants().filter(|n| n.is_element()) {
        let name = node.tag_name().name();
        assert!(
            !["script", "link", "img", "iframe", "object", "embed", "base", "image", "use"].contains(&name),
            "{name}"
        );
        for attribute in node.attributes() {
            let (name, value) = (attribute.name(), attribute.value());
            assert!(!name.starts_with("on") && !["src", "href", "srcset", "action"].contains(&name), "{name}={value}");
            assert!(!value.contains("url("), "{name}={value}");
        }
    }
    let bare = spaces.iter().fold(page.to_owned(), |p, space| p.replace(&format!("xmlns=\"{space}\""), ""));
    for word in ["http:", "https:", "src=", "url(", "@import"] {
        assert!(!bare.contains(word), "{word}");
    }
}

#[test]
fn hostile_names_stay_text() {
    for name in NAMES {
        for names in [[name, "y"], ["a", name]] {
            let bench = Bench::new(names, name);
            let chapter = Chapter::new(name).paragraph(name).list([name.to_owned()]).table(
                name,
                &[name],
                vec![vec![name.to_owned()]],
            );
            let page = bench.page(&[name.to_owned()], &[chapter]);
            let document = read(&page);
            fetches_nothing(&document, &page);
            let text = text(&document);
            let visible = name.replace('\u{202E}', "⟨U+202E⟩").replace('\u{0007}', "⟨U+0007⟩");
            assert!(text.matches(&visible).count() > 8, "{visible} is told");
            assert!(!page.contains('\u{202E}') && !page.contains('\u{0007}'));
        }
    }
}

#[test]
fn digests_are_those_of_the_standard() {
    // FIPS 180-4, the one-block example of SHA-256 that NIST publishes with it: "abc"
    let published = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert!(Bench::new(["a", "y"], "card").page(&[], &[]).contains(published));
}

#[test]
fn every_pin_contact_and_advice_is_there() {
    let bench = Bench::new(["a", "y"], "card");
    let page = bench.page(&["something was found".to_owned()], &[Chapter::new("Delays").paragraph("none")]);
    let document = read(&page);
    let cells: Vec<String> = document
        .descendants()
        .filter(|n| n.has_tag_name(("http://www.w3.org/1999/xhtml", "tr")))
        .map(|row| row.descendants().filter_map(|n| n.is_text().then(|| n.text()).flatten()).collect())
        .collect();
    for contact in ["1aaboard to device", "2yydevice to board", "7GND", "14VCC"] {
        assert!(cells.iter().any(|row| row.starts_with(contact)), "{contact} in {cells:#?}");
    }
    let drawings: Vec<_> =
        document.descendants().filter(|n| n.has_tag_name(("http://www.w3.org/2000/svg", "svg"))).collect();
    let words = |i: usize| -> Vec<&str> {
        drawings.get(i).map_or_else(Vec::new, |d| {
            d.descendants()
                .filter(|n| n.has_tag_name(("http://www.w3.org/2000/svg", "text")))
                .filter_map(|n| n.text())
                .collect()
        })
    };
    for pin in 1..=24 {
        assert!(words(0).contains(&pin.to_string().as_str()), "pin {pin} is drawn");
    }
    for label in 1..=14 {
        assert!(words(1).contains(&label.to_string().as_str()), "contact {label} is drawn, traced or not");
    }
    let text = text(&document);
    for told in ["something was found", "Delays", "BEEF", "tie inputs to ground", "100 nF", "y = ¬a"] {
        assert!(text.contains(told), "{told}");
    }
}

#[test]
fn a_chip_carrier_is_drawn_with_pin_one_in_the_middle_of_its_upper_side() {
    let carrier = |d: &&device::Device| d.packages.first().is_some_and(|p| p.name == "PLCC-44");
    let device = device::all().iter().find(carrier).expect("a device in a chip carrier");
    let replacement = circuit("card", ["a", "y"]);
    let fitted = fit(&replacement, device, &Wishes::none()).expect("fits");
    let seated = Seated { reference: "U1", fitted: &fitted, device, grade: None, file: "x.v", checksum: None };
    let adapter = Adapter::new(&[seated], &replacement, &[]);
    let svg = drawing::device(&adapter.devices[0], device.name, device.packages.first());
    let document = read(&svg);
    let numbers: Vec<(u16, String)> = document
        .descendants()
        .filter(|n| n.tag_name().name() == "text" && n.attribute("font-weight") == Some("bold"))
        .filter_map(|n| Some((n.text()?.parse().ok()?, n.parent()?.attribute("transform").unwrap_or("").to_owned())))
        .collect();
    let x = |pin: u16| -> f64 {
        let (_, transform) = numbers.iter().find(|(n, t)| *n == pin && !t.is_empty()).expect("turned");
        let inside = transform.trim_start_matches("translate(").split(' ').next().expect("a place");
        inside.parse().expect("a number")
    };
    let middle = f64::midpoint(x(6), x(40));
    assert!((x(1) - middle).abs() < 1e-6 && x(6) < x(1) && x(1) < x(44) && x(44) < x(40));
    assert!(x(18) < x(28), "the lower side counts from the left");
    for pin in 1..=44 {
        assert!(numbers.iter().any(|(n, _)| *n == pin), "pin {pin}");
    }
}

#[test]
fn a_proof_in_part_says_so_on_the_first_sheet() {
    let mut bench = Bench::new(["a", "y"], "card");
    let whole = bench.page(&[], &[]);
    assert!(!whole.contains("in part"));
    let replacement = circuit("card", ["a", "y"]);
    let question = Question::new(bench.original.clone(), replacement);
    let question = question.untraced(Some("a".to_owned()), "U9 pin 3 was not reached").in_part();
    bench.proof = question.ask().unwrap_or_else(|e| panic!("{e}"));
    let page = bench.page(&[], &[]);
    let text = text(&read(&page));
    let first = text.split("Before anything else").next().expect("a first sheet");
    for told in ["proved in part only", "U9 pin 3 was not reached", "contact 2"] {
        assert!(first.contains(told), "{told} in {first}");
    }
}

/// A supply current that nobody looked up is no sheet's: the first power-up is limited by it.
#[test]
fn a_supply_current_from_memory_is_said_to_be() {
    let bench = Bench::new(["a", "y"], "card");
    let says = |from| {
        let mut device = device::find("22V10").expect("known").clone();
        let grades = device.grades.iter_mut();
        grades.for_each(|grade| grade.supply_current = Some(device::Figure { value: 90.0, from }));
        let page = bench.page_in(&device, &[], &[]);
        let text = text(&read(&page));
        let first = text.find("at most 90 mA").expect("the current");
        text[first..].split('.').next().map(str::to_owned).expect("a sentence")
    };
    let memory = says(device::Provenance::Memory);
    assert_eq!(
        memory,
        "at most 90 mA (from memory); what is from memory is to be looked up in the sheet of the very part"
    );
    let sheet = says(device::Provenance::Sheet("a sheet"));
    assert_eq!(sheet, "at most 90 mA");
}
