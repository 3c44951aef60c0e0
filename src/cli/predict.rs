//! `wyebench predict`: what a build will do, before anything is bought.

use std::io;

use super::arguments::{PredictArguments, ThemeName};
use super::files::{Format, OutputTarget, write_new, write_whole};
use super::{Failure, Terminal, input, table};
use crate::analysis::{Figure, TABLE_DIGITS, Unit, Value, shown, shown_ends, signed_percent};
use crate::export::picture::Picture;
use crate::export::report::{PredictionPage, prediction_report};
use crate::predict::{
    Build, Confirmed, Point, Prediction, Regime, Spread, bench_cautions, beside_words, confirm,
    doubts, duty_curve, example_build, figures, load_curve, predict, setup_text, spread,
};
use crate::scene::curves::{build_curves, curves as scene_of_curves, panels_of_build};
use crate::scene::to_svg;

/// rpm of one rad/s.
const RPM: f64 = 30.0 / std::f64::consts::PI;

/// What goes with the figures: where they stop being true, and what can hurt somebody.
struct Words {
    doubts: Vec<String>,
    cautions: Vec<String>,
}

/// Predicts a build.
pub(crate) fn command(
    arguments: &PredictArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let Some(path) = &arguments.build else {
        write!(terminal.out, "{}", example_build())?;
        return Ok(());
    };
    let plot = OutputTarget::asked(arguments.plot.as_deref(), &[Format::Svg, Format::Png])?;
    let report = OutputTarget::asked(arguments.report.as_deref(), &[Format::Html])?;
    let (build, text) = input::read_build(path)?;
    let prediction = predict(&build).map_err(Failure::Predict)?;
    let list = figures(&build, &prediction);
    if let Some(path) = &arguments.setup {
        build
            .checked_setup(&prediction.loaded)
            .map_err(|errors| Failure::Setup(Box::new(errors)))?;
        write_new(path, setup_text(&build, &prediction.loaded).as_bytes())?;
    }
    let trials = usize::try_from(arguments.trials).unwrap_or(usize::MAX);
    let wants_spread = arguments.why.is_empty() || report.is_some();
    let ranges = wants_spread
        .then(|| spread(&build, trials, arguments.seed))
        .flatten();
    let confirmed = arguments
        .confirm
        .then(|| confirm(&build, &prediction.loaded))
        .flatten();
    if let Some(target) = &plot {
        draw(
            &build,
            &prediction,
            confirmed.as_ref(),
            arguments.theme,
            target,
        )?;
    }
    let found = Words {
        doubts: doubts(&build, &prediction),
        cautions: bench_cautions(&build, &prediction.loaded, prediction.no_load.speed_rad_s),
    };
    if let Some(target) = &report {
        let panels =
            panels_of_build(&build, &prediction, confirmed.as_ref()).map_err(Failure::Predict)?;
        let page = prediction_report(&PredictionPage {
            text: &text,
            build: &build,
            prediction: &prediction,
            figures: &list,
            spread: ranges.as_ref(),
            confirmed: confirmed.as_ref(),
            panels: &panels,
            doubts: &found.doubts,
            cautions: &found.cautions,
        })?;
        write_whole(target.path(), page.as_bytes())?;
    }
    if arguments.json {
        return json(
            &list,
            &prediction,
            ranges.as_ref(),
            confirmed.as_ref(),
            &found,
            terminal,
        );
    }
    if !arguments.why.is_empty() {
        return terminal.explain(&list, &arguments.why);
    }
    terminal.title(&build.title, "")?;
    table::groups(&list, terminal)?;
    limits(&prediction, terminal)?;
    if let Some(spread) = &ranges {
        print_ranges(&list, spread, terminal)?;
    }
    if arguments.curves {
        curves(&build, terminal)?;
    }
    if arguments.confirm {
        side_by_side(&build, confirmed.as_ref(), &prediction.loaded, terminal)?;
    }
    last_words(&found, terminal)?;
    if let Some(path) = &arguments.setup {
        writeln!(
            terminal.out,
            "\nWhat no label tells of the setup is assumed: the top of {} names it.",
            path.display()
        )?;
    }
    let written = [&arguments.setup, &arguments.plot, &arguments.report];
    Ok(terminal.wrote(written.map(Option::as_deref))?)
}

/// Draws the curves.
fn draw(
    build: &Build,
    prediction: &Prediction,
    confirmed: Option<&Confirmed>,
    theme: ThemeName,
    target: &OutputTarget,
) -> Result<(), Failure> {
    let view = build_curves(build, prediction, confirmed).map_err(Failure::Predict)?;
    let theme = theme.theme();
    let scene = scene_of_curves(&view, &theme);
    let size = scene.high - scene.low;
    let drawing = to_svg(&scene, [size.x, size.y], theme.panel, true);
    let words = view
        .panels
        .iter()
        .map(|panel| panel.heading.as_str())
        .collect::<Vec<_>>()
        .join("; ");
    let picture = Picture::new(drawing, view.title.clone(), words);
    let bytes = match target.format() {
        Format::Png => picture.png(2.0)?,
        _ => picture.svg()?.into_bytes(),
    };
    Ok(write_whole(target.path(), &bytes)?)
}

fn json(
    list: &[Figure],
    prediction: &Prediction,
    ranges: Option<&Spread>,
    confirmed: Option<&Confirmed>,
    words: &Words,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let mut object = serde_json::Map::new();
    for figure in list {
        let value = match &figure.value {
            Value::Words(words) => words.as_str().into(),
            _ => figure.number().into(),
        };
        object.insert(figure.key.to_owned(), value);
    }
    object.insert(
        "regime".into(),
        regime_word(prediction.loaded.regime).into(),
    );
    object.insert(
        "inductance_estimated".into(),
        prediction.inductance_estimated.into(),
    );
    let limits = prediction.limits.iter().map(|limit| {
        serde_json::json!({
            "name": limit.name, "unit": limit.unit, "used": finite(limit.used),
            "allowed": limit.allowed, "from": limit.from, "part": finite(limit.part()),
        })
    });
    object.insert("limits".into(), limits.collect());
    object.insert("warnings".into(), words.doubts.clone().into());
    object.insert("cautions".into(), words.cautions.clone().into());
    if let Some(spread) = ranges {
        let ranges = spread.ranges.iter().map(|range| {
            let influences: serde_json::Map<_, _> = range
                .influences
                .iter()
                .map(|influence| (influence.key.to_owned(), influence.share.into()))
                .collect();
            let value = serde_json::json!({
                "low": range.low, "middle": range.middle, "high": range.high, "influences": influences,
            });
            (range.key.to_owned(), value)
        });
        let ranges: serde_json::Map<_, _> = ranges.collect();
        object.insert(
            "spread".into(),
            serde_json::json!({
                "trials": spread.n_trials, "without_point": spread.n_without_point, "ranges": ranges,
            }),
        );
    }
    if let Some(c) = confirmed {
        object.insert(
            "simulated".into(),
            serde_json::json!({
                "torque_nm": c.torque_nm, "motor_current_a": c.motor_current_a,
                "phase_current_rms_a": c.phase_rms_a, "supply_current_a": c.supply_current_a,
                "copper_loss_w": c.copper_w, "bridge_loss_w": c.bridge_w,
            }),
        );
    }
    terminal.json(&object)
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

const fn regime_word(regime: Regime) -> &'static str {
    match regime {
        Regime::Continuous => "continuous",
        Regime::CommutationFills => "commutation-fills",
        Regime::Discontinuous => "discontinuous",
        Regime::Ceases => "ceases",
        Regime::FloatingLegConducts => "floating-leg-conducts",
    }
}

/// What limits first.
fn limits(prediction: &Prediction, terminal: &mut Terminal<'_>) -> io::Result<()> {
    if prediction.limits.is_empty() {
        return Ok(());
    }
    let (red, plain) = terminal.red();
    writeln!(terminal.out, "\nLimits, the fullest first")?;
    for limit in &prediction.limits {
        let unit = if limit.unit == "degC" {
            "°C"
        } else {
            limit.unit
        };
        let used = if limit.used.is_finite() {
            format!("{:.4} {unit}", Short(limit.used))
        } else {
            "runs away".to_owned()
        };
        let (mark, end) = if limit.part() > 1.0 {
            (format!("{red}⚠ over "), plain)
        } else {
            (String::new(), "")
        };
        writeln!(
            terminal.out,
            "  {:<22}  {mark}{used} of {:.4} {unit} ({}){end}",
            limit.name,
            Short(limit.allowed),
            limit.part_in_words()
        )?;
    }
    Ok(())
}

/// 95 % ranges, and the inputs they come from.
fn print_ranges(list: &[Figure], spread: &Spread, terminal: &mut Terminal<'_>) -> io::Result<()> {
    /// Inputs that are named for a figure, and the share below which none is.
    const MOST: usize = 3;
    const LEAST_SHARE: f64 = 0.02;
    writeln!(
        terminal.out,
        "\n95 % ranges of {} trials, and the inputs they come from",
        spread.n_trials
    )?;
    for range in &spread.ranges {
        let Some(figure) = list.iter().find(|figure| figure.key == range.key) else {
            continue;
        };
        let [low, high] = shown_ends(
            [range.low, range.high].map(|end| figure.without_dust(end)),
            figure.unit,
            TABLE_DIGITS,
        );
        let from: Vec<String> = range
            .influences
            .iter()
            .filter(|influence| influence.share >= LEAST_SHARE)
            .take(MOST)
            .map(|influence| format!("{} {:.0} %", influence.key, 100.0 * influence.share))
            .collect();
        writeln!(
            terminal.out,
            "  {:<32}  {:>11} to {:<11}  {}",
            figure.name,
            low.to_string(),
            high.to_string(),
            from.join(", ")
        )?;
    }
    if spread.n_without_point > 0 {
        writeln!(
            terminal.out,
            "  in {} more trials the motor did not turn its load",
            spread.n_without_point
        )?;
    }
    Ok(())
}

/// A number with so many significant digits, without a prefix.
struct Short(f64);

impl std::fmt::Display for Short {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let digits = f.precision().unwrap_or(4);
        let plain = Unit {
            symbol: "",
            per_si: 1.0,
            prefixed: false,
        };
        f.write_str(&shown(self.0, plain, digits).number)
    }
}

fn row(point: &Point, first: &str, terminal: &mut Terminal<'_>, mark: &str) -> io::Result<()> {
    let about = if point.regime == Regime::Continuous {
        ' '
    } else {
        '~'
    };
    // no minus before a zero
    let plain = |value: f64| if value.abs() < 0.05 { 0.0 } else { value };
    writeln!(
        terminal.out,
        "{about} {first:>9}  {:>9.0}  {:>9.1}  {:>9.1}  {:>9.1}  {:>9.1}  {:>8.1} %{mark}",
        point.speed_rad_s * RPM,
        plain(1e3 * point.shaft_nm),
        plain(point.motor_current_a),
        plain(point.pack_current_a),
        plain(point.shaft_w),
        100.0 * point.efficiency,
    )
}

fn curves(build: &Build, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    const HEADING: &str = "        rpm        mNm    motor A     pack A    shaft W  efficiency";
    let curve = load_curve(build, 11).map_err(Failure::Predict)?;
    writeln!(terminal.out, "\nAgainst load torque, at this duty")?;
    writeln!(terminal.out, "             {HEADING}")?;
    for point in &curve.points {
        row(point, "", terminal, "")?;
    }
    row(
        &curve.best_efficiency,
        "best",
        terminal,
        "  best efficiency",
    )?;
    row(&curve.most_power, "most", terminal, "  most power")?;
    writeln!(terminal.out, "\nAgainst duty, with this load")?;
    writeln!(terminal.out, "       duty  {HEADING}")?;
    let duties: Vec<f64> = (1..=10_u32).map(|n| f64::from(n) / 10.0).collect();
    for (duty, point) in duty_curve(build, &duties) {
        match point {
            Some(point) => row(&point, &format!("{duty:.1}"), terminal, "")?,
            None => writeln!(terminal.out, "  {duty:>9.1}  it does not turn")?,
        }
    }
    writeln!(
        terminal.out,
        "  ~ only about: the current ceases, commutation fills the step, or the floating leg conducts"
    )?;
    Ok(())
}

fn side_by_side(
    build: &Build,
    simulated: Option<&Confirmed>,
    point: &Point,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let Some(simulated) = simulated else {
        writeln!(
            terminal.out,
            "\nThe simulation of this point did not come to its end."
        )?;
        return Ok(());
    };
    writeln!(
        terminal.out,
        "\nThe same point, simulated in full with the shaft held at {:.0} rpm\n  {:<28}  {:>10}  {:>10}  {:>8}",
        point.speed_rad_s * RPM,
        "",
        "predicted",
        "simulated",
        "differs"
    )?;
    for (name, unit, predicted, got) in simulated.beside(point) {
        // torques of small motors are read in mNm
        let (symbol, per_si) = match unit.symbol {
            "Nm" => ("mNm", 1e3),
            symbol => (symbol, 1.0),
        };
        writeln!(
            terminal.out,
            "  {:<28}  {:>10}  {:>10}  {:>9}",
            format!("{name}, {symbol}"),
            Short(per_si * predicted).to_string(),
            Short(per_si * got).to_string(),
            signed_percent(predicted / got - 1.0)
        )?;
    }
    writeln!(terminal.out, "  {}", beside_words(build, point))?;
    Ok(())
}

/// What the figures rest on, and the cautions.
fn last_words(words: &Words, terminal: &mut Terminal<'_>) -> io::Result<()> {
    if !words.doubts.is_empty() {
        writeln!(terminal.out, "\n{}", words.doubts.join("\n"))?;
    }
    terminal.cautions(&words.cautions)
}
