//! Waveforms as CSV (RFC 4180): one line per sample, the columns of the setup format.
//!
//! Numbers are written with the fewest digits that read back to the same bits. In delta the
//! currents of the three leads stand in three more columns at the end, `line_i_u_a` and so on:
//! there `i_u_a` is the current of winding U, and a lead carries the difference of two.

use std::io::Write;

use crate::record::Sample;
use crate::setup::Connection;

/// The columns of the setup format, in order.
pub const COLUMNS: [&str; 20] = [
    "time_s",
    "angle_mech_rad",
    "angle_elec_rad",
    "speed_rad_s",
    "i_u_a",
    "i_v_a",
    "i_w_a",
    "e_u_v",
    "e_v_v",
    "e_w_v",
    "v_u_v",
    "v_v_v",
    "v_w_v",
    "torque_nm",
    "supply_current_a",
    "supply_voltage_v",
    "step",
    "state_u",
    "state_v",
    "state_w",
];

/// What a delta machine has behind them.
pub const DELTA_COLUMNS: [&str; 3] = ["line_i_u_a", "line_i_v_a", "line_i_w_a"];

/// Why waveforms could not be written.
#[derive(Debug)]
pub enum WaveformError {
    /// The writer failed.
    Write(std::io::Error),
    /// A value is not a finite number: an error of the program that made the sample.
    NotFinite {
        /// The column.
        column: &'static str,
        /// The instant in s.
        time_s: f64,
    },
}

impl std::fmt::Display for WaveformError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Write(error) => write!(f, "{error}"),
            Self::NotFinite { column, time_s } => {
                write!(
                    f,
                    "`{column}` is not a finite number at {time_s} s; this is an error of wyebench, not of the setup"
                )
            }
        }
    }
}

impl std::error::Error for WaveformError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Write(error) => Some(error),
            Self::NotFinite { .. } => None,
        }
    }
}

impl From<csv::Error> for WaveformError {
    fn from(error: csv::Error) -> Self {
        Self::Write(error.into())
    }
}

/// Writes samples as they come.
#[derive(Debug)]
pub struct WaveformWriter<W: Write> {
    lines: csv::Writer<W>,
    delta: bool,
}

impl<W: Write> WaveformWriter<W> {
    /// Writes the line of column names.
    ///
    /// # Errors
    /// [`WaveformError::Write`].
    pub fn new(writer: W, connection: Connection) -> Result<Self, WaveformError> {
        let delta = connection == Connection::Delta;
        let mut lines = csv::Writer::from_writer(writer);
        let more: &[&str] = if delta { &DELTA_COLUMNS } else { &[] };
        lines.write_record(COLUMNS.iter().chain(more))?;
        Ok(Self { lines, delta })
    }

    /// Writes one sample.
    ///
    /// # Errors
    /// [`WaveformError`]; nothing of the sample is written when a value is not finite.
    pub fn sample(&mut self, sample: &Sample) -> Result<(), WaveformError> {
        let mut fields: Vec<String> = Vec::with_capacity(COLUMNS.len() + DELTA_COLUMNS.len());
        let numbers = [
            sample.time_s,
            sample.theta_mech_rad,
            sample.theta_elec_rad,
            sample.speed_rad_s,
        ]
        .into_iter()
        .chain(sample.phase_current_a)
        .chain(sample.back_emf_v)
        .chain(sample.terminal_v)
        .chain([
            sample.torque_nm,
            sample.supply_current_a,
            sample.supply_voltage_v,
        ]);
        for (value, column) in numbers.zip(COLUMNS) {
            fields.push(number(value, column, sample.time_s)?);
        }
        fields.push(sample.step.to_string());
        fields.extend(sample.legs.iter().map(|leg| leg.character().to_string()));
        if self.delta {
            for (value, column) in sample.line_current_a.into_iter().zip(DELTA_COLUMNS) {
                fields.push(number(value, column, sample.time_s)?);
            }
        }
        Ok(self.lines.write_record(&fields)?)
    }

    /// Writes what is still held back and gives the writer back.
    ///
    /// # Errors
    /// [`WaveformError::Write`].
    pub fn finish(self) -> Result<W, WaveformError> {
        self.lines
            .into_inner()
            .map_err(|error| WaveformError::Write(std::io::Error::other(error.error().to_string())))
    }
}

/// The fewest digits that read back to the same bits; a zero has no sign.
fn number(value: f64, column: &'static str, time_s: f64) -> Result<String, WaveformError> {
    if !value.is_finite() {
        return Err(WaveformError::NotFinite { column, time_s });
    }
    let unsigned_zero = if value == 0.0 { 0.0 } else { value };
    let text = format!("{unsigned_zero:?}");
    Ok(text.strip_suffix(".0").map_or(text.clone(), str::to_owned))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::synthetic;

    fn written(connection: Connection) -> String {
        let mut writer = WaveformWriter::new(Vec::new(), connection).unwrap();
        for sample in synthetic::run().samples().take(50) {
            writer.sample(&sample).unwrap();
        }
        String::from_utf8(writer.finish().unwrap()).unwrap()
    }

    #[test]
    fn the_first_line_is_the_contracts() {
        let text = written(Connection::Star);
        assert_eq!(
            text.lines().next().unwrap(),
            "time_s,angle_mech_rad,angle_elec_rad,speed_rad_s,i_u_a,i_v_a,i_w_a,e_u_v,e_v_v,\
             e_w_v,v_u_v,v_v_v,v_w_v,torque_nm,supply_current_a,supply_voltage_v,step,state_u,\
             state_v,state_w"
        );
        assert_eq!(text.lines().count(), 51);
        let delta = written(Connection::Delta);
        assert!(
            delta
                .lines()
                .next()
                .unwrap()
                .ends_with("state_w,line_i_u_a,line_i_v_a,line_i_w_a")
        );
    }

    /// Every number reads back to the very bits that went in.
    #[test]
    fn numbers_read_back_to_the_same_bits() {
        let text = written(Connection::Star);
        for (line, sample) in text.lines().skip(1).zip(synthetic::run().samples()) {
            let fields: Vec<&str> = line.split(',').collect();
            let read = |idx: usize| fields[idx].parse::<f64>().unwrap();
            assert_eq!(read(0), sample.time_s);
            assert_eq!(read(4), sample.phase_current_a[0]);
            assert_eq!(read(9), sample.back_emf_v[2]);
            assert_eq!(read(13), sample.torque_nm);
            assert_eq!(fields[16], sample.step.to_string());
            assert!(["0", "1", "z"].contains(&fields[17]));
        }
        assert_eq!(number(1e-300, "", 0.0).unwrap(), "1e-300");
        assert_eq!(number(-0.0, "", 0.0).unwrap(), "0");
    }

    #[test]
    fn what_is_not_a_number_is_refused_with_its_place() {
        let mut writer = WaveformWriter::new(Vec::new(), Connection::Star).unwrap();
        let mut sample = synthetic::run().sample(3).unwrap();
        sample.torque_nm = f64::NAN;
        let error = writer.sample(&sample).unwrap_err();
        assert!(matches!(
            error,
            WaveformError::NotFinite {
                column: "torque_nm",
                ..
            }
        ));
    }
}
