//! What readings say of each other before any motor is fitted.

use super::reading::{Of, Pair, Reading};
use super::sheet::BenchSheet;
use super::variant::Read;
use crate::setup::Connection;

/// Frequency, speed (indices) and number of each driven row.
pub(super) fn driven(sheet: &BenchSheet) -> Vec<(usize, usize, usize)> {
    let readings = &sheet.readings;
    let mut found = Vec::new();
    for row in 1..=sheet.rows.driven {
        let name = format!("driven {row}");
        let of = |wanted: fn(&Of) -> bool| {
            readings
                .iter()
                .position(|reading| reading.row == name && wanted(&reading.of))
        };
        let frequency = of(|of| matches!(of, Of::Frequency { .. }));
        let speed = of(|of| matches!(of, Of::Speed { .. }));
        if let (Some(frequency), Some(speed)) = (frequency, speed) {
            found.push((frequency, speed, row));
        }
    }
    found
}

/// Pole pairs that each pair of a frequency and a speed says, p = 2π f / ω, with the standard
/// uncertainty: index of the frequency's reading, value, uncertainty.
pub(super) fn apparent_pole_pairs(
    sheet: &BenchSheet,
    reads: &[(usize, Read)],
) -> Vec<(usize, f64, f64)> {
    let corrected = |idx: usize| {
        let reading = &sheet.readings[idx];
        let read = reads.iter().find(|(other, _)| *other == idx);
        match read {
            Some((_, Read::Loose(_))) => None,
            Some((_, Read::Times(times))) => Some(reading.value / times),
            _ => Some(reading.value),
        }
    };
    let relative = |reading: &Reading| {
        let gain = reading.gain.map_or(0.0, |gain| sheet.gains[gain].standard);
        libm::hypot(reading.standard / reading.value, gain)
    };
    let mut found = Vec::new();
    for (idx, reading) in sheet.readings.iter().enumerate() {
        let Of::Frequency { latent } = reading.of else {
            continue;
        };
        let speed = sheet
            .readings
            .iter()
            .position(|other| matches!(other.of, Of::Speed { latent: at } if at == latent));
        let Some(speed) = speed else { continue };
        if let (Some(f), Some(omega)) = (corrected(idx), corrected(speed)) {
            let value = std::f64::consts::TAU * f / omega;
            let part = libm::hypot(relative(reading), relative(&sheet.readings[speed]));
            found.push((idx, value, value * part));
        }
    }
    found
}

/// Temperature noted for a row, in °C.
pub(super) fn temperature_of(sheet: &BenchSheet, latent: usize) -> Option<f64> {
    sheet.readings.iter().find_map(|reading| match reading.of {
        Of::Temperature { latent: at } if at == latent => Some(reading.value),
        _ => None,
    })
}

/// Line resistance of a pair over that of sound windings, one phase having 1 + d of its own.
///
/// Star: two of six halves change. Delta: winding U lies between the leads U and V, V between V and
/// W, W between W and U; one winding beside two in series.
pub(super) fn times_of_pair(connection: Connection, phase: u8, d: f64, pair: Pair) -> f64 {
    let (first, second) = match pair {
        Pair::UV => (0, 1),
        Pair::VW => (1, 2),
        Pair::WU => (2, 0),
    };
    match connection {
        Connection::Star => {
            if phase == first || phase == second {
                1.0 + 0.5 * d
            } else {
                1.0
            }
        }
        Connection::Delta => {
            if phase == first {
                3.0 * (1.0 + d) / (3.0 + d)
            } else {
                1.5 * (2.0 + d) / (3.0 + d)
            }
        }
    }
}

/// Line EMF of a pair in star over that of sound windings, one phase having 1 + d of its turns.
///
/// Two windings in series: 1 + d/2 of a trapezoid's flat top, and of a sine within d²/24.
pub(super) fn emf_of_pair(phase: u8, d: f64, pair: Pair) -> f64 {
    times_of_pair(Connection::Star, phase, d, pair)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Star with phases of 1, 1, 1.5; delta with windings of 1, 1, 2 between its leads.
    #[test]
    fn one_phase_shows_in_the_pairs_it_is_in() {
        assert_eq!(times_of_pair(Connection::Star, 2, 0.5, Pair::UV), 1.0);
        assert_eq!(times_of_pair(Connection::Star, 2, 0.5, Pair::VW), 1.25);
        // sound: 2/3; winding W of 2 beside 1 + 1: 1; winding U of 1 beside 1 + 2: 3/4
        let times = |pair| times_of_pair(Connection::Delta, 2, 1.0, pair) * 2.0 / 3.0;
        assert!((times(Pair::WU) - 1.0).abs() < 1e-15);
        assert!((times(Pair::UV) - 0.75).abs() < 1e-15);
    }
}
