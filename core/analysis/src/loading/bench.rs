//! What to use and what to read at a contact while the replacement stands alone on a bench supply: resistors and levels,
//! computed from the contact's own currents.
//!
//! A contact takes current while it is held low, and a resistor to ground that carries this current is no longer a low: 10 kΩ
//! with the 0.4 mA of one LS input stand at 4 V. So the resistor follows from the current.
use super::Side;

/// The least supply in the commercial range, in volts; common to the data sheets of TTL and of 5 V programmable devices.
const SUPPLY: f64 = 4.75;
/// A level that a resistor holds low is at most so many volts: half of the 0.8 V that an input still takes as low.
const LOW: f64 = 0.4;
/// A level that a resistor holds high is at least so many volts, as an output's: 2.4, while an input is content with 2.0.
const HIGH: f64 = 2.4;
/// No larger resistor is asked for: a meter of 10 MΩ and stray leakage stay without effect.
const LARGEST: f64 = 10_000.0;
/// No smaller one: a driver that is on by mistake still carries no more than 5 V through it, some 23 mA, for the moment of a
/// reading. Common practice, no source.
const SMALLEST: f64 = 220.0;

/// The steps of a decade of the E6 series (IEC 60063).
const E6: [f64; 6] = [1.0, 1.5, 2.2, 3.3, 4.7, 6.8];

/// Resistors for one contact, in ohms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnBench {
    /// To ground: holds the contact low while nobody drives it. None if the current is not known, or takes more than a
    /// resistor can give.
    pub to_ground: Option<f64>,
    /// To the supply: holds the contact high while nobody drives it.
    pub to_supply: Option<f64>,
    /// What the contact then reads at most, in volts, through the resistor to ground.
    pub low_at_most: Option<f64>,
    /// What it reads at least, in volts, through the resistor to a supply of 4.75 V.
    pub high_at_least: Option<f64>,
}

impl Side {
    /// What to use at this side's contact on the bench.
    pub fn on_bench(&self) -> OnBench {
        let to_ground = self.load_low_ma.and_then(|ma| resistor(LOW, ma));
        let to_supply = self.load_high_ma.and_then(|ma| resistor(SUPPLY - HIGH, ma));
        let drop = |ohms: Option<f64>, ma: Option<f64>| Some(ohms? * ma? * 1e-3);
        OnBench {
            to_ground,
            to_supply,
            low_at_most: drop(to_ground, self.load_low_ma),
            high_at_least: drop(to_supply, self.load_high_ma).map(|drop| SUPPLY - drop),
        }
    }
}

/// The largest resistor of the series at which this current drops no more than so many volts.
fn resistor(volts: f64, ma: f64) -> Option<f64> {
    let most = if ma > 0.0 { volts / ma * 1e3 } else { LARGEST };
    let series = [100.0, 1_000.0, 10_000.0].into_iter().flat_map(|decade| E6.map(|step| step * decade));
    series.filter(|r| (SMALLEST..=LARGEST).contains(r) && *r <= most + 1e-9).reduce(f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loading::Drives;

    fn loaded(low: Option<f64>, high: Option<f64>) -> OnBench {
        let side = Side {
            drives: Drives::Never,
            sinks_ma: None,
            sources_ma: None,
            load_low_ma: low,
            load_high_ma: high,
            pulls: Vec::new(),
            missing: Vec::new(),
        };
        side.on_bench()
    }

    #[test]
    fn a_resistor_carries_the_contact_to_a_level_that_an_input_takes() {
        // one pin of a CMOS device with pull-ups: 0.1 mA
        let bench = loaded(Some(0.1), Some(0.01));
        assert_eq!((bench.to_ground, bench.to_supply), (Some(3_300.0), Some(10_000.0)));
        assert!(bench.low_at_most.is_some_and(|v| v <= 0.4) && bench.high_at_least.is_some_and(|v| v >= 2.4));
        // an LS input, 0.4 mA: 10 kΩ would stand at 4 V
        assert_eq!(loaded(Some(0.4), Some(0.02)).to_ground, Some(1_000.0));
        // four standard TTL inputs, 6.4 mA: no resistor that spares a driver carries that
        assert_eq!(loaded(Some(6.4), Some(0.16)).to_ground, None);
        assert_eq!(loaded(None, None).to_ground, None);
        // nothing flows: the largest that is asked for
        assert_eq!(loaded(Some(0.0), Some(0.0)).to_ground, Some(10_000.0));
    }

    #[test]
    fn no_larger_step_of_the_series_would_do() {
        for k in 1..60 {
            let ma = f64::from(k) * 0.03;
            if let Some(ohms) = loaded(Some(ma), None).to_ground {
                assert!(ohms * ma * 1e-3 <= 0.4 + 1e-9, "{ma} mA through {ohms} Ω");
                assert!(ohms >= 10_000.0 || ohms * 1.6 * ma * 1e-3 > 0.4, "{ma} mA would bear more than {ohms} Ω");
            }
        }
    }
}
