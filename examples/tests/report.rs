//! The report pages of the examples: everything that is in the folder is told, and nothing reaches outside the page.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use gluewright::job::{JobError, Made};
use gluewright::mend::Mending;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use gluewright::board::Board;
use gluewright::prelude::*;
use gluewright_examples::{organ_memory, organ_pistons, sample_card};
use roxmltree::{Document, ParsingOptions};

/// Strict XML: what opens is closed, and no name has become markup.
fn read(page: &str) -> Document<'_> {
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    Document::parse_with_options(page, options).unwrap_or_else(|e| panic!("not well-formed: {e}"))
}

fn text(document: &Document<'_>) -> String {
    document.descendants().filter(|n| n.is_text()).filter_map(|n| n.text()).collect()
}

fn reaches_nothing(page: &str) {
    let bare = ["http://www.w3.org/1999/xhtml", "http://www.w3.org/2000/svg"]
        .iter()
        .fold(page.to_owned(), |p, space| p.replace(&format!("xmlns=\"{space}\""), ""));
    for word in ["http:", "https:", "src=", "href=", "url(", "@import", "<script"] {
        assert!(!bare.contains(word), "{word}");
    }
}

/// Every other file of the folder by name and digest, every contact of the wiring list, every equation.
fn tells_all(folder: &Path) {
    let page = fs::read_to_string(folder.join("report.html")).expect("written");
    reaches_nothing(&page);
    let document = read(&page);
    let told = text(&document);
    let mut others = 0;
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("readable").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        if name == "report.html" {
            continue;
        }
        others += 1;
        assert!(told.contains(&name), "{name} is told");
        let bytes = fs::read(&path).expect("readable");
        assert!(told.contains(&digest(&bytes)), "the digest of {name}");
    }
    assert!(others >= 4);
    let wiring = fs::read_to_string(folder.join("wiring.csv")).expect("written");
    let drawn: BTreeSet<String> = document
        .descendants()
        .filter(|n| n.has_tag_name(("http://www.w3.org/2000/svg", "text")))
        .filter_map(|n| n.text().map(str::to_owned))
        .collect();
    for row in wiring.lines().skip(1) {
        let [contact, signal, _, pin]: [&str; 4] =
            row.split(',').collect::<Vec<_>>().try_into().expect("four columns without commas");
        assert!(drawn.contains(contact) && drawn.contains(pin), "{row} is drawn");
        assert!(told.contains(signal), "{row} is told");
    }
    let equations = fs::read_to_string(folder.join("equations.txt")).expect("written");
    let lines = equations.lines().filter(|line| line.contains(" = ") || line.trim_start().starts_with('∨'));
    for line in lines {
        assert!(told.contains(line.trim()), "{line}");
    }
}

/// SHA-256 by the published algorithm (FIPS 180-4, section 6.2), written anew for this check.
fn digest(bytes: &[u8]) -> String {
    let primes: Vec<u32> = (2..312).filter(|n| (2..*n).take_while(|d| d * d <= *n).all(|d| n % d != 0)).collect();
    let fraction = |root: f64| ((root.fract()) * 4_294_967_296.0) as u32;
    let k: Vec<u32> = primes.iter().take(64).map(|&p| fraction(f64::from(p).cbrt())).collect();
    let mut h: Vec<u32> = primes.iter().take(8).map(|&p| fraction(f64::from(p).sqrt())).collect();
    let mut message = bytes.to_vec();
    message.push(0x80);
    while message.len() % 64 != 56 {
        message.push(0);
    }
    message.extend((bytes.len() as u64 * 8).to_be_bytes());
    for block in message.chunks(64) {
        let mut w: Vec<u32> =
            block.chunks(4).map(|c| c.iter().fold(0, |word, &byte| word << 8 | u32::from(byte))).collect();
        for t in 16..64 {
            let s0 = w[t - 15].rotate_right(7) ^ w[t - 15].rotate_right(18) ^ (w[t - 15] >> 3);
            let s1 = w[t - 2].rotate_right(17) ^ w[t - 2].rotate_right(19) ^ (w[t - 2] >> 10);
            w.push(w[t - 16].wrapping_add(s0).wrapping_add(w[t - 7]).wrapping_add(s1));
        }
        let mut v = h.clone();
        for t in 0..64 {
            let s1 = v[4].rotate_right(6) ^ v[4].rotate_right(11) ^ v[4].rotate_right(25);
            let choose = (v[4] & v[5]) ^ (!v[4] & v[6]);
            let one = v[7].wrapping_add(s1).wrapping_add(choose).wrapping_add(k[t]).wrapping_add(w[t]);
            let s0 = v[0].rotate_right(2) ^ v[0].rotate_right(13) ^ v[0].rotate_right(22);
            let most = (v[0] & v[1]) ^ (v[0] & v[2]) ^ (v[1] & v[2]);
            v.rotate_right(1);
            v[4] = v[4].wrapping_add(one);
            v[0] = one.wrapping_add(s0.wrapping_add(most));
        }
        h.iter_mut().zip(&v).for_each(|(h, v)| *h = h.wrapping_add(*v));
    }
    h.iter().map(|word| format!("{word:08x}")).collect()
}

#[test]
fn the_pages_of_the_examples_tell_all() {
    let room = tempfile::tempdir().expect("a folder");
    let written = |made: Result<Made, JobError>| {
        let made = made.unwrap_or_else(|e| panic!("{e}"));
        let folder = room.path().join(&made.circuit);
        made.write(&folder).expect("written");
        folder
    };
    let card = gluewright::job::<sample_card::SampleCard>(sample_card::lost_card()).testing(None);
    tells_all(&written(card.make()));
    let memory = gluewright::job::<organ_memory::OrganMemory>(organ_memory::lost_card()).testing(None);
    tells_all(&written(memory.fitting("16V8").make()));
    let pistons = gluewright::job::<organ_pistons::OrganPistons>(organ_pistons::lost_card())
        .assuming(organ_pistons::breaks_before_it_makes)
        .fitting("16V8");
    tells_all(&written(pistons.make()));
}

#[test]
fn contacts_of_packages_that_stay_are_wired_and_not_left_open() {
    let room = tempfile::tempdir().expect("a folder");
    let job = gluewright::job::<sample_card::SampleCard>(sample_card::lost_card());
    let kept = job.keeping(["U1"]).make().unwrap_or_else(|e| panic!("{e}"));
    let folder = room.path().join("kept");
    kept.write(&folder).expect("written");
    tells_all(&folder);
    let page = fs::read_to_string(folder.join("report.html")).expect("written");
    let document = read(&page);
    let rows: Vec<String> = document
        .descendants()
        .filter(|n| n.tag_name().name() == "tr")
        .map(|row| row.descendants().filter(|n| n.is_text()).filter_map(|n| n.text()).collect())
        .collect();
    // contact 8 is g0, on pin 14 of the kept package by the trace
    assert!(rows.iter().any(|row| row == "8g0package that staysU1 pin 14"), "{rows:#?}");
    assert!(rows.iter().any(|row| row.starts_with("1clk") && row.contains("D1 pin 1; U1 pin 7")), "{rows:#?}");
    assert!(!page.contains("not used: leave open"));
}

#[test]
fn a_refutation_has_a_page_of_its_own() {
    let trace = include_str!("../src/sample_card.csv");
    let crossed = trace.replace("U1,74LS173,14,g0", "U1,74LS173,14,g1").replace("U1,74LS173,13,g1", "U1,74LS173,13,g0");
    let card = Board::from_csv("<crossed>.csv", crossed, gluewright_parts::ttl()).expect("sound");
    let failure = prove::<sample_card::SampleCard>().against(&card).run().expect_err("the bits are crossed");
    let Failure::Refuted(refutation) = failure else { panic!("{failure}") };
    let mends = refutation.mend_with_trace(&card, std::time::Duration::from_secs(120));
    let page = gluewright::report::refutation_page(&refutation.explain(), Some(&mends));
    reaches_nothing(&page);
    let document = read(&page);
    let told = text(&document);
    for words in ["sample_card is refuted", "<crossed>", "data[", "are exchanged", "Nothing was written"] {
        assert!(told.contains(words), "{words}");
    }
    assert!(document.descendants().any(|n| n.has_tag_name(("http://www.w3.org/2000/svg", "svg"))));
}
