//! Where the search for the motor begins: one reading after the other, roughly.

use std::f64::consts::TAU;

use super::model::{COPPER_ZERO_DEG_C, Main, Model, REFERENCE_DEG_C, no_load_scale};
use super::reading::Of;
use super::sheet::Shape;
use super::variant::Read;

/// A first value of every unknown.
pub(super) fn start(model: &Model<'_>) -> Vec<f64> {
    let sheet = model.sheet;
    let n = model.n_unknowns();
    let mut theta = vec![0.0; n];
    let mut speeds = vec![None; sheet.n_latents];
    // readings as they would be without the fault
    let used: Vec<(usize, Of, f64)> = (sheet.readings.iter().enumerate())
        .filter_map(|(idx, reading)| {
            let read = model.variant.reads.iter().find(|(other, _)| *other == idx);
            match read {
                Some((_, Read::Loose(_))) => None,
                Some((_, Read::Times(times))) => Some((idx, reading.of, reading.value / times)),
                _ => Some((idx, reading.of, reading.value)),
            }
        })
        .collect();
    let log = |value: f64| libm::log(value.max(1e-12));
    for &(_, of, value) in &used {
        match of {
            Of::Speed { latent } => speeds[latent] = Some(value),
            Of::Frequency { latent } if speeds[latent].is_none() => {
                speeds[latent] = Some(TAU * value / model.variant.pole_pairs);
            }
            Of::StallCurrent { latent } => speeds[latent] = Some(value),
            Of::Temperature { latent } => theta[latent] = value,
            _ => {}
        }
    }
    let k = emf_constant(model, &used, &speeds);
    theta[model.main(Main::Emf)] = log(k);
    let mean = |wanted: &dyn Fn(&Of, f64) -> Option<f64>| {
        let found: Vec<f64> = used
            .iter()
            .filter_map(|(_, of, v)| wanted(of, *v))
            .collect();
        #[expect(clippy::cast_precision_loss, reason = "a number of readings")]
        let n = found.len() as f64;
        (!found.is_empty()).then(|| found.iter().sum::<f64>() / n)
    };
    let cold = |of: &Of, warm_ohm: f64| match of {
        Of::Resistance { latent, .. } => {
            let rise = (COPPER_ZERO_DEG_C + theta[*latent]) / (COPPER_ZERO_DEG_C + REFERENCE_DEG_C);
            Some(warm_ohm / rise)
        }
        _ => None,
    };
    let ohm = mean(&cold).or_else(|| {
        let volts = mean(&|of, v| matches!(of, Of::StallVoltage { .. }).then_some(v))?;
        let amperes = mean(&|of, v| matches!(of, Of::StallCurrent { .. }).then_some(v))?;
        Some(volts / amperes)
    });
    theta[model.main(Main::Resistance)] = log(ohm.unwrap_or(0.1));
    let henry = mean(&|of, v| matches!(of, Of::Inductance).then_some(v));
    theta[model.main(Main::Inductance)] = log(henry.unwrap_or(1e-4));
    let no_load = mean(&|of, v| matches!(of, Of::NoLoadCurrent { .. }).then_some(v));
    let no_load = no_load.unwrap_or(no_load_scale(sheet).0);
    theta[model.main(Main::Constant)] = no_load;
    theta[model.main(Main::Shape)] = match sheet.motor.shape {
        Shape::Trapezoid => 1.0,
        Shape::Sine => -1.0,
        Shape::Unknown => 0.0,
    };
    let inertia = mean(&|of, time_s| match of {
        Of::RunDown { from, to, .. } => {
            Some(time_s * k * no_load / (speeds[*from]? - speeds[*to]?).abs())
        }
        _ => None,
    });
    theta[model.main(Main::Inertia)] = log(inertia.unwrap_or(1e-5));
    for &(_, of, value) in &used {
        if let Of::NoLoadVoltage { latent } = of
            && speeds[latent].is_none()
        {
            speeds[latent] = Some(value / k);
        }
    }
    for (latent, value) in speeds.iter().enumerate() {
        if let Some(value) = value {
            theta[latent] = log(*value);
        }
    }
    theta
}

/// Peak line EMF per speed by the first reading that tells it.
fn emf_constant(model: &Model<'_>, used: &[(usize, Of, f64)], speeds: &[Option<f64>]) -> f64 {
    let connection = model
        .variant
        .connection
        .unwrap_or(model.sheet.motor.connection);
    let by_emf = used.iter().find_map(|&(idx, of, value)| {
        let Of::Emf {
            latent,
            kind,
            between,
            ..
        } = of
        else {
            return None;
        };
        let read = model.variant.reads.iter().find(|(other, _)| *other == idx);
        let (kind, between) = match read {
            Some((_, Read::Emf(kind, between))) => (*kind, *between),
            _ => (kind, between),
        };
        let (trapezoid, sine) = kind.over_line_peak(between, connection);
        Some(value / (0.5 * (trapezoid + sine) * speeds[latent]?))
    });
    let by_speed = || {
        used.iter().find_map(|&(_, of, value)| match of {
            Of::NoLoadVoltage { latent } => Some(0.95 * value / speeds[latent]?),
            _ => None,
        })
    };
    let by_torque = || {
        used.iter().find_map(|&(_, of, value)| match of {
            Of::StallTorque { latent } => Some(value / speeds[latent]?),
            _ => None,
        })
    };
    by_emf
        .or_else(by_speed)
        .or_else(by_torque)
        .unwrap_or_else(|| model.sheet.label.kv_rad_per_v_s.map_or(0.01, |kv| 1.0 / kv))
}
