//! A capture to start from: the motor of the Tidemill evening workshop's pond aerator, spun by a drill.

use std::f64::consts::{FRAC_PI_3, PI, TAU};
use std::fmt::Write as _;

use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

/// The invented capture as a file: three voltages between leads and a mark once a turn, eight bits,
/// seven pole pairs at 1204 rpm, a peak of 1.31 V (Kv 920 rpm/V); one magnet in fourteen is weak.
#[must_use]
pub fn example_capture() -> String {
    const SPACING_S: f64 = 4e-5;
    const ROWS: u32 = 5000;
    const POLE_PAIRS: f64 = 7.0;
    const SPEED_RAD_S: f64 = 1204.0 * TAU / 60.0;
    const PEAK_V: f64 = 1204.0 / 920.0;
    /// A converter of eight bits over 4 V.
    const STEP_V: f64 = 4.0 / 256.0;
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let mut digitised = |volts: f64| {
        let noise = random.random_range(-0.7..0.7);
        (volts / STEP_V + noise).round() * STEP_V
    };
    let mut text = String::from(
        "Tidemill evening workshop\nmotor from the spares box, drill\n\nTime (s),CH1 (V),CH2 (V),CH3 (V),CH4 (V)\n",
    );
    for row in 0..ROWS {
        let time_s = f64::from(row) * SPACING_S;
        let theta = 0.4 + SPEED_RAD_S * time_s;
        let volts = [0.0, 1.0, 2.0].map(|k| {
            let angle = POLE_PAIRS * theta - 2.0 * FRAC_PI_3 * k;
            // each half wave is one magnet's
            let half_wave = libm::floor(angle / PI).rem_euclid(2.0 * POLE_PAIRS);
            let size = if half_wave == 4.0 { 0.94 } else { 1.0 };
            digitised(size * PEAK_V * shape(angle))
        });
        let mark = if theta.rem_euclid(TAU) < 0.12 {
            3.3
        } else {
            0.0
        };
        let _ = writeln!(
            text,
            "{time_s:.5},{:.4},{:.4},{:.4},{mark:.1}",
            volts[0], volts[1], volts[2]
        );
    }
    text
}

/// Between a sine and a trapezoid: flat at the top, its largest value 1.
fn shape(angle: f64) -> f64 {
    const FIFTH: f64 = 0.03;
    (libm::sin(angle) + FIFTH * libm::sin(5.0 * angle)) / (1.0 + FIFTH)
}
