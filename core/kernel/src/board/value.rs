//! Resistances as they are written on a schematic, and which way two resistors pull a net.

use crate::circuit::Pull;

/// The most resistors that a network may have.
const MOST_RESISTORS: u16 = 64;

/// A resistance in ohms: `4k7`, `4.7k`, `330`, `330R`, `1M`, `0`, with or without the word ohm.
///
/// Letters may stand in the place of the decimal point as in IEC 60062 (R, K, M), in upper or lower case: no card has a
/// resistor of milliohms.
pub fn ohms(text: &str) -> Option<f64> {
    let text = text.trim();
    let lower = text.to_lowercase();
    let bare = ["ohms", "ohm", "ω", "Ω"].iter().find_map(|unit| lower.strip_suffix(unit)).unwrap_or(&lower).trim();
    let bare = bare.replace(',', ".");
    let letter = bare.find(|c: char| c.is_ascii_alphabetic());
    let (number, factor) = match letter {
        None => (bare.clone(), 1.0),
        Some(at) => {
            let (whole, rest) = bare.split_at(at);
            let (unit, part) = rest.split_at(1);
            let factor = match unit {
                "r" => 1.0,
                "k" => 1e3,
                "m" => 1e6,
                _ => return None,
            };
            let number = match (whole.contains('.'), part) {
                (_, "") => whole.to_owned(),
                (false, _) => format!("{whole}.{part}"),
                (true, _) => return None,
            };
            (number, factor)
        }
    };
    let plain = number.len() <= 12 && number.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let value = number.parse::<f64>().ok().filter(|_| plain)? * factor;
    (value.is_finite() && value <= 1e9).then_some(value)
}

/// A capacitance in F: `100n`, `4.7u`, `4u7`, `22p`, with or without an F.
pub(super) fn farads(text: &str) -> Option<f64> {
    let lower = text.trim().to_lowercase().replace(',', ".").replace(['µ', 'μ'], "u");
    let bare = lower.strip_suffix('f').unwrap_or(&lower);
    let at = bare.find(|c: char| c.is_ascii_alphabetic())?;
    let (whole, rest) = bare.split_at(at);
    let factor = match rest.chars().next()? {
        'm' => 1e-3,
        'u' => 1e-6,
        'n' => 1e-9,
        'p' => 1e-12,
        _ => return None,
    };
    let number = match (whole.contains('.'), rest.get(1..)?) {
        (_, "") => whole.to_owned(),
        (false, part) => format!("{whole}.{part}"),
        (true, _) => return None,
    };
    let plain = number.len() <= 12 && number.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    number.parse::<f64>().ok().filter(|_| plain).map(|n| n * factor).filter(|f| *f > 0.0)
}

/// Number and resistance of a network: `8x4k7`.
pub(super) fn counted_ohms(text: &str) -> Option<(u16, f64)> {
    let (count, each) = text.split_once(['x', '×'])?;
    let count = count.parse::<u16>().ok().filter(|n| (1..=MOST_RESISTORS).contains(n))?;
    Some((count, ohms(each)?))
}

/// Which way resistors pull a net: nothing if they pull it both ways to a voltage between the levels, or if a value is
/// missing. `up` and `down` hold the resistances to VCC (5 V) and to GND.
///
/// A net that they hold at 2.0 V or more reads high, at 0.8 V or less low (VIH and VIL of TTL, from memory).
pub(super) fn pulled(up: &[Option<f64>], down: &[Option<f64>]) -> Option<Pull> {
    match (up, down) {
        ([], []) => return Some(Pull::None),
        (_, []) => return Some(Pull::Up),
        ([], _) => return Some(Pull::Down),
        _ => {}
    }
    let conductance = |of: &[Option<f64>]| of.iter().map(|r| r.map(|ohms| 1.0 / ohms)).sum::<Option<f64>>();
    let (up, down) = (conductance(up)?, conductance(down)?);
    let volts = 5.0 * up / (up + down);
    if volts >= 2.0 {
        Some(Pull::Up)
    } else if volts <= 0.8 {
        Some(Pull::Down)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn capacitances_read_as_on_a_schematic() {
        let table = [("100n", 1e-7), ("4u7", 4.7e-6), ("4.7uF", 4.7e-6), ("10µ", 1e-5), ("22pF", 2.2e-11)];
        for (text, value) in table {
            let read = farads(text).unwrap_or(0.0);
            assert!((read / value - 1.0).abs() < 1e-12, "{text}: {read}");
        }
        for text in ["", "100", "ignored", "n", "16v", "4.7u7", "-1n", "0n"] {
            assert_eq!(farads(text), None, "{text}");
        }
    }

    #[test]
    fn resistances_read_as_on_a_schematic() {
        let table = [
            ("4k7", 4700.0),
            ("4.7k", 4700.0),
            ("4,7 k", 4700.0),
            ("330", 330.0),
            ("330R", 330.0),
            ("4R7", 4.7),
            ("R47", 0.47),
            ("1M", 1e6),
            ("1 MOhm", 1e6),
            ("10kΩ", 10e3),
            ("0", 0.0),
        ];
        for (text, value) in table {
            let text = text.replace(' ', "");
            let read = ohms(&text).unwrap_or_else(|| panic!("{text}"));
            assert!((read - value).abs() <= value * 1e-12, "{text} reads as {read}");
        }
        for text in ["", "k", "4k7k", "4.7.1", "1.5k3", "-3", "5%", "1e9", "inf", "nan", "99999999999999M", "é"] {
            assert_eq!(ohms(text), None, "{text}");
        }
    }

    #[test]
    fn a_bus_terminator_pulls_up() {
        // 220 ohm to VCC and 330 ohm to GND: 3.0 V, the bus terminator of the time (common practice, no source)
        assert_eq!(pulled(&[Some(220.0)], &[Some(330.0)]), Some(Pull::Up));
        assert_eq!(pulled(&[Some(10e3)], &[Some(330.0)]), Some(Pull::Down));
        assert_eq!(pulled(&[Some(1e3)], &[Some(330.0)]), None, "1.24 V is neither level");
        assert_eq!(pulled(&[None], &[Some(330.0)]), None);
        assert_eq!(pulled(&[None], &[]), Some(Pull::Up));
        assert_eq!(pulled(&[Some(2e3), Some(220.0)], &[Some(330.0)]), Some(Pull::Up));
    }
}
