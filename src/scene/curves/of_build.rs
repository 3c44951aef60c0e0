//! The curves of a build: against load torque, and against duty.

use super::{CurvesView, Mark, PANEL_POINTS, Panel, Sample, Strip};
use crate::predict::{
    Build, Confirmed, Point, PredictError, Prediction, Regime, duty_curve_in_slices,
    load_curve_in_slices,
};
use crate::slices::through;

/// rpm of one rad/s.
const RPM: f64 = 30.0 / std::f64::consts::PI;

/// Points of a curve.
const N_POINTS: u32 = 90;

/// Both panels of a build in one picture.
///
/// # Errors
/// [`PredictError`] where the motor does not even turn itself.
pub fn build_curves(
    build: &Build,
    prediction: &Prediction,
    confirmed: Option<&Confirmed>,
) -> Result<CurvesView, PredictError> {
    let title = if build.title.is_empty() {
        "Curves"
    } else {
        &build.title
    };
    Ok(CurvesView {
        title: title.to_owned(),
        panels: panels_of_build(build, prediction, confirmed)?.into(),
        panel_points: PANEL_POINTS,
    })
}

/// Speed, motor current, efficiency and shaft power of a build: against load torque at its duty,
/// whatever its load, and against duty with its load.
///
/// # Errors
/// [`PredictError`] where the motor does not even turn itself.
pub fn panels_of_build(
    build: &Build,
    prediction: &Prediction,
    confirmed: Option<&Confirmed>,
) -> Result<[Panel; 2], PredictError> {
    through(panels_of_build_in_slices(build, prediction, confirmed))
}

/// The same, with rests.
///
/// # Errors
/// [`PredictError`].
pub async fn panels_of_build_in_slices(
    build: &Build,
    prediction: &Prediction,
    confirmed: Option<&Confirmed>,
) -> Result<[Panel; 2], PredictError> {
    Ok([
        against_torque(build, prediction, confirmed).await?,
        against_duty(build, prediction, confirmed).await,
    ])
}

/// The four quantities of a point, as the strips show them.
fn values(point: &Point) -> [f64; 4] {
    [
        point.speed_rad_s * RPM,
        point.motor_current_a,
        100.0 * point.efficiency,
        point.shaft_w.max(0.0),
    ]
}

fn strips(build: &Build, points: &[(f64, Option<Point>)]) -> Vec<Strip> {
    let (motor, controller) = (&build.motor, &build.controller);
    let limit = [
        (motor.current_limit_a, "the motor's limit"),
        (controller.current_limit_a, "the controller's limit"),
    ]
    .into_iter()
    .filter_map(|(limit_a, whose)| limit_a.map(|limit_a| (limit_a, whose)))
    .min_by(|a, b| a.0.total_cmp(&b.0))
    .map(|(limit_a, whose)| (limit_a, format!("{limit_a} A, {whose}")));
    [
        ("speed, rpm", "rpm"),
        ("motor current, A", "A"),
        ("efficiency, %", "%"),
        ("shaft power, W", "W"),
    ]
    .into_iter()
    .enumerate()
    .map(|(at, (name, unit))| Strip {
        name: name.to_owned(),
        unit,
        curve: points
            .iter()
            .map(|(x, point)| {
                point.as_ref().map(|point| Sample {
                    x: *x,
                    y: values(point)[at],
                    about: point.regime != Regime::Continuous,
                })
            })
            .collect(),
        top: (unit == "%").then_some(100.0),
        limit: limit.clone().filter(|_| at == 1),
    })
    .collect()
}

fn mark(name: &'static str, x: f64, point: &Point) -> Mark {
    Mark {
        name,
        simulated: false,
        x,
        values: values(point).to_vec(),
    }
}

/// The simulated point; the simulation has no heat of switching, which the prediction adds.
fn simulated(build: &Build, point: &Point, confirmed: &Confirmed) -> (f64, Mark) {
    let shaft_nm = confirmed.torque_nm - build.motor.no_load_torque_nm();
    let shaft_w = shaft_nm * point.speed_rad_s;
    let input_w = point.bridge_v * confirmed.supply_current_a + point.heat.switching_w;
    let mark = Mark {
        name: "simulated",
        simulated: true,
        x: 0.0,
        values: vec![
            point.speed_rad_s * RPM,
            confirmed.motor_current_a,
            100.0 * shaft_w / input_w,
            shaft_w,
        ],
    };
    (shaft_nm, mark)
}

async fn against_torque(
    build: &Build,
    prediction: &Prediction,
    confirmed: Option<&Confirmed>,
) -> Result<Panel, PredictError> {
    // most of the points of a curve to standstill lie beyond what is drawn
    let curve = load_curve_in_slices(build, 3 * N_POINTS).await?;
    let loaded = &prediction.loaded;
    let named = [
        ("operating point", loaded),
        ("best efficiency", &curve.best_efficiency),
        ("most power", &curve.most_power),
    ];
    let most_nm = named.iter().map(|(_, p)| p.shaft_nm).fold(0.0, f64::max);
    let (unit, per_nm) = if most_nm < 1.0 {
        ("mNm", 1e3)
    } else {
        ("Nm", 1.0)
    };
    let most = 1.12 * most_nm * per_nm;
    let shown: Vec<(f64, Option<Point>)> = curve
        .points
        .iter()
        .map(|point| (point.shaft_nm.max(0.0) * per_nm, Some(*point)))
        .take_while(|(x, _)| *x <= most)
        .collect();
    let mut marks: Vec<Mark> = named
        .iter()
        .map(|(name, point)| mark(name, point.shaft_nm * per_nm, point))
        .collect();
    if let Some(confirmed) = confirmed {
        let (shaft_nm, mark) = simulated(build, loaded, confirmed);
        marks.push(Mark {
            x: shaft_nm * per_nm,
            ..mark
        });
    }
    Ok(Panel {
        heading: format!("Against load torque, at duty {:.2}", build.controller.duty),
        gap: String::new(),
        axis: format!("torque on the motor's shaft, {unit}"),
        range: [0.0, most],
        strips: strips(build, &shown),
        marks,
    })
}

async fn against_duty(
    build: &Build,
    prediction: &Prediction,
    confirmed: Option<&Confirmed>,
) -> Panel {
    let duties: Vec<f64> = (1..=N_POINTS)
        .map(|n| f64::from(n) / f64::from(N_POINTS))
        .collect();
    let points = duty_curve_in_slices(build, &duties).await;
    let duty = build.controller.duty;
    let loaded = &prediction.loaded;
    let mut marks = vec![mark("operating point", duty, loaded)];
    if let Some(confirmed) = confirmed {
        let (_, mark) = simulated(build, loaded, confirmed);
        marks.push(Mark { x: duty, ..mark });
    }
    let first = points.iter().find(|(_, point)| point.is_some());
    let gap = match first {
        None => "it does not turn its load".to_owned(),
        Some((duty, _)) if *duty > 1.5 / f64::from(N_POINTS) => {
            format!("below duty {duty:.2} it does not turn its load")
        }
        Some(_) => String::new(),
    };
    Panel {
        heading: "Against duty, with its load".to_owned(),
        gap,
        axis: "duty".to_owned(),
        range: [0.0, 1.0],
        strips: strips(build, &points),
        marks,
    }
}
