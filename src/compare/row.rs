//! One line of a comparison.

use serde::{Deserialize, Serialize};

use crate::setup::Connection;

/// A candidate and what it comes to. Figures are SI, null where not known; the same keys stand in
/// JSON and CSV.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// Place in the order of candidates, from 0.
    pub candidate: u64,
    /// Slots.
    pub slots: u32,
    /// Poles.
    pub poles: u32,
    /// Coil sides in a slot.
    pub layers: u32,
    /// Coil span in slots.
    pub coil_span: u32,
    /// Star or delta.
    pub connection: Connection,
    /// Turns of a coil.
    pub turns: Option<u32>,
    /// Bare diameter of one strand.
    pub wire_diameter_m: Option<f64>,
    /// Part of the pole pitch.
    pub magnet_arc: Option<f64>,
    /// Why it cannot be built; null where it can.
    pub infeasible: Option<String>,
    /// Winding factor of the fundamental.
    pub winding_factor: Option<f64>,
    /// Cogging periods in a mechanical turn.
    pub cogging_per_turn: Option<u32>,
    /// Speed over peak line-to-line EMF.
    pub kv_rpm_per_v: Option<f64>,
    /// Between two terminals.
    pub line_resistance_ohm: Option<f64>,
    /// Between two terminals.
    pub line_inductance_h: Option<f64>,
    /// Largest cogging torque.
    pub cogging_peak_nm: Option<f64>,
    /// Bare copper over slot area.
    pub slot_fill: Option<f64>,
    /// All copper.
    pub copper_mass_kg: Option<f64>,
    /// Kt over the root of the line resistance: torque per root of copper loss.
    pub motor_constant_nm_per_sqrt_w: Option<f64>,
    /// Copper loss at the torque that was asked for.
    pub copper_loss_w: Option<f64>,
    /// True where the rotor is pulled sideways under load.
    pub unbalanced_pull: Option<bool>,
    /// Of a run of the base setup with this machine.
    pub mean_speed_rpm: Option<f64>,
    /// Of that run, peak to peak.
    pub torque_ripple_pp_nm: Option<f64>,
    /// What its builder should know.
    pub notes: Vec<String>,
}

/// A figure by which rows are sorted and drawn.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// The key in JSON and CSV.
    pub key: &'static str,
    /// Heading of the table, with the unit that is shown.
    pub heading: &'static str,
    /// What is shown per SI unit.
    pub per_si: f64,
    /// Its value in SI.
    pub value: fn(&Row) -> Option<f64>,
    /// True where more is better, so that the table begins with the largest.
    pub falling: bool,
}

const fn column(
    key: &'static str,
    heading: &'static str,
    per_si: f64,
    falling: bool,
    value: fn(&Row) -> Option<f64>,
) -> Column {
    Column {
        key,
        heading,
        per_si,
        value,
        falling,
    }
}

/// Every column with a number.
pub const COLUMNS: &[Column] = &[
    column("slots", "slots", 1.0, false, |r| Some(f64::from(r.slots))),
    column("poles", "poles", 1.0, false, |r| Some(f64::from(r.poles))),
    column("layers", "layers", 1.0, false, |r| {
        Some(f64::from(r.layers))
    }),
    column("coil_span", "span", 1.0, false, |r| {
        Some(f64::from(r.coil_span))
    }),
    column("turns", "turns", 1.0, false, |r| r.turns.map(f64::from)),
    column("wire_diameter_m", "wire mm", 1e3, false, |r| {
        r.wire_diameter_m
    }),
    column("magnet_arc", "arc", 1.0, false, |r| r.magnet_arc),
    column("winding_factor", "factor", 1.0, true, |r| r.winding_factor),
    column("kv_rpm_per_v", "Kv rpm/V", 1.0, false, |r| r.kv_rpm_per_v),
    column("line_resistance_ohm", "R mΩ", 1e3, false, |r| {
        r.line_resistance_ohm
    }),
    column("line_inductance_h", "L µH", 1e6, false, |r| {
        r.line_inductance_h
    }),
    column("cogging_per_turn", "cogs/turn", 1.0, true, |r| {
        r.cogging_per_turn.map(f64::from)
    }),
    column("cogging_peak_nm", "cog mNm", 1e3, false, |r| {
        r.cogging_peak_nm
    }),
    column("slot_fill", "fill %", 1e2, false, |r| r.slot_fill),
    column("copper_mass_kg", "Cu g", 1e3, false, |r| r.copper_mass_kg),
    column(
        "motor_constant_nm_per_sqrt_w",
        "Km mNm/√W",
        1e3,
        true,
        |r| r.motor_constant_nm_per_sqrt_w,
    ),
    column("copper_loss_w", "Cu loss W", 1.0, false, |r| {
        r.copper_loss_w
    }),
    column("mean_speed_rpm", "rpm", 1.0, true, |r| r.mean_speed_rpm),
    column("torque_ripple_pp_nm", "ripple mNm", 1e3, false, |r| {
        r.torque_ripple_pp_nm
    }),
];

/// What a picture of rows shows where nobody chose: cogging and motor constant, which a builder
/// weighs against each other, or what tells of them where there are no dimensions.
#[must_use]
pub fn picture_columns(rows: &[Row]) -> [&'static Column; 2] {
    let of = |key: &str| COLUMNS.iter().find(|column| column.key == key);
    let known =
        |key: &str| of(key).filter(|column| rows.iter().any(|row| (column.value)(row).is_some()));
    let slots = &COLUMNS[0];
    [
        known("cogging_peak_nm")
            .or_else(|| of("cogging_per_turn"))
            .unwrap_or(slots),
        known("motor_constant_nm_per_sqrt_w")
            .or_else(|| of("winding_factor"))
            .unwrap_or(slots),
    ]
}

/// A figure to ten digits: what a file keeps, so that parts put together are the whole.
#[must_use]
pub fn canonical(value: f64) -> f64 {
    format!("{value:.9e}").parse().unwrap_or(value)
}

/// A value of a table: four digits, or fewer where the number is whole; a dash where there is none.
#[must_use]
pub fn four_digits(value: Option<f64>) -> String {
    let Some(value) = value else {
        return "–".to_owned();
    };
    if value.fract() == 0.0 && value.abs() < 1e9 {
        return format!("{value:.0}");
    }
    match value.abs() {
        size if size >= 1000.0 => format!("{value:.0}"),
        size if size >= 100.0 => format!("{value:.1}"),
        size if size >= 10.0 => format!("{value:.2}"),
        size if size >= 0.01 => format!("{value:.3}"),
        _ => format!("{value:.2e}"),
    }
}

impl Row {
    /// Every figure to ten digits, and nothing that is no number.
    #[must_use]
    pub fn canonical(mut self) -> Self {
        for figure in [
            &mut self.wire_diameter_m,
            &mut self.magnet_arc,
            &mut self.winding_factor,
            &mut self.kv_rpm_per_v,
            &mut self.line_resistance_ohm,
            &mut self.line_inductance_h,
            &mut self.cogging_peak_nm,
            &mut self.slot_fill,
            &mut self.copper_mass_kg,
            &mut self.motor_constant_nm_per_sqrt_w,
            &mut self.copper_loss_w,
            &mut self.mean_speed_rpm,
            &mut self.torque_ripple_pp_nm,
        ] {
            *figure = figure.filter(|value| value.is_finite()).map(canonical);
        }
        self
    }
}
