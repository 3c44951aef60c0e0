//! Backwards: the duty at which a build turns its load just so fast.

use super::build::Build;
use super::point::{Bench, Junction, Point, PredictError, root, settled};

/// A build brought to a speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Met {
    /// Duty at which it turns so fast.
    pub duty: f64,
    /// What happens there.
    pub point: Point,
}

/// Why a build cannot be brought to a speed.
#[derive(Clone, Debug, PartialEq)]
pub enum MeetError {
    /// The largest duty is not enough: what it comes to.
    Short(Box<Result<Point, PredictError>>),
    /// At that speed the load drives the motor, with this torque at the motor's shaft in N m.
    Driven(f64),
    /// Even at the least duty it gives more than the load takes.
    TooMuch,
}

/// Least duty that is looked at.
const LEAST_DUTY: f64 = 1e-4;

/// Finds the duty, at most `most`, at which the motor of a build turns at a speed in rad/s with
/// its load; the duty of the build itself does not count.
///
/// The torque that is asked follows from the speed, and the machine's torque at that speed grows
/// with the duty: one root, found to 1e-11, again for each temperature of the junction until both
/// agree. [`predict`](super::predict) of the build at that duty comes to the same point. Switching
/// heat comes all at once with the first chop, so that the last 1e-5 of the speed may be had fully
/// on alone: then that is the answer, a little faster than asked.
///
/// # Errors
/// [`MeetError`].
pub fn duty_for(build: &Build, speed_rad_s: f64, most: f64) -> Result<Met, MeetError> {
    let mut trial = build.clone();
    let own_nm = build.motor.no_load_torque_nm();
    let load_nm = build.load_nm(speed_rad_s);
    if own_nm + load_nm <= 0.0 {
        return Err(MeetError::Driven(load_nm));
    }
    let mut factor = 1.0;
    let mut near: Option<f64> = None;
    let mut at_most: Option<Point> = None;
    let mut junction = Junction::default();
    loop {
        let mut left_nm = |duty: f64| {
            trial.controller.duty = duty;
            let bench = Bench::new(&trial, factor, true);
            bench.at(speed_rad_s).state.torque_nm - own_nm - load_nm
        };
        if left_nm(most) < 0.0 {
            if let Some(point) = at_most {
                return Ok(Met { duty: most, point });
            }
            // with the junction's temperature at that duty, which may also be below 25 °C
            trial.controller.duty = most;
            match settled(&trial) {
                Ok((point, there)) if point.speed_rad_s >= speed_rad_s => {
                    at_most = Some(point);
                    factor = there;
                    continue;
                }
                found => return Err(MeetError::Short(Box::new(found.map(|(point, _)| point)))),
            }
        }
        if left_nm(LEAST_DUTY) >= 0.0 {
            return Err(MeetError::TooMuch);
        }
        // a warmer junction moves it by little
        let close = near.map(|duty| [0.98 * duty, (1.02 * duty).min(most)]);
        let [low, high] = match close {
            Some([low, high]) if left_nm(low) < 0.0 && left_nm(high) >= 0.0 => [low, high],
            _ => [LEAST_DUTY, most],
        };
        let duty = root(low, high, &mut left_nm);
        trial.controller.duty = duty;
        let point = Bench::new(&trial, factor, true).point(speed_rad_s);
        near = Some(duty);
        match junction.next(factor, point.heat.resistance_factor()) {
            Some(next) => factor = next,
            None => return Ok(Met { duty, point }),
        }
    }
}
