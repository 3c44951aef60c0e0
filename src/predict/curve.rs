//! What a build does from no load to a standstill, and from little duty to full.

use super::build::Build;
use super::point::{Bench, Point, PredictError};
use crate::slices::{rest, through};

/// A curve with its marked points.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadCurve {
    /// Points from no load to a near standstill, evenly spaced in speed.
    pub points: Vec<Point>,
    /// Of the best efficiency.
    pub best_efficiency: Point,
    /// Of the largest shaft power.
    pub most_power: Point,
}

/// Speeds looked at for the marked points.
const FINE: u32 = 200;

/// The motor against load torque, at the build's duty, whatever its own load.
///
/// # Errors
/// [`PredictError`] where the motor does not even turn itself.
pub fn load_curve(build: &Build, n_points: u32) -> Result<LoadCurve, PredictError> {
    through(load_curve_in_slices(build, n_points))
}

/// The same, with rests.
///
/// # Errors
/// [`PredictError`].
pub async fn load_curve_in_slices(build: &Build, n_points: u32) -> Result<LoadCurve, PredictError> {
    let bench = Bench::new(build, 1.0, true);
    let no_load = bench.point(bench.balance(&|_| 0.0)?);
    let at = |part: f64| bench.point(part * no_load.speed_rad_s);
    let mut best = no_load;
    let mut most = no_load;
    for n in 1..FINE {
        rest().await;
        let point = at(f64::from(n) / f64::from(FINE));
        if point.efficiency > best.efficiency {
            best = point;
        }
        if point.shaft_w > most.shaft_w {
            most = point;
        }
    }
    let last = n_points.max(2) - 1;
    // the last one a tenth above standstill: at rest a step lasts for ever
    let mut points = Vec::new();
    for n in 0..=last {
        rest().await;
        points.push(at(1.0 - 0.9 * f64::from(n) / f64::from(last)));
    }
    Ok(LoadCurve {
        points,
        best_efficiency: best,
        most_power: most,
    })
}

/// The loaded point at each of some duties; `None` where the motor stalls there.
#[must_use]
pub fn duty_curve(build: &Build, duties: &[f64]) -> Vec<(f64, Option<Point>)> {
    through(duty_curve_in_slices(build, duties))
}

/// The same, with rests.
pub async fn duty_curve_in_slices(build: &Build, duties: &[f64]) -> Vec<(f64, Option<Point>)> {
    let mut build = build.clone();
    let mut points = Vec::new();
    for &duty in duties {
        rest().await;
        build.controller.duty = duty;
        let bench = Bench::new(&build, 1.0, true);
        let speed = bench.balance(&|speed| bench.load_nm(speed));
        points.push((duty, speed.ok().map(|speed| bench.point(speed))));
    }
    points
}
