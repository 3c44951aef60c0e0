//! `wyebench picture`: the bench at an instant, without a window.

use std::io::Write;

use super::Failure;
use super::arguments::{PictureArguments, What};
use super::files::{FileError, Format, OutputTarget, WholeFile};
use super::input::read_setup;
use super::progress::Progress;
use crate::export::sheet::{Sheet, SheetPart};
use crate::record::{Sample, Tape, Taping};
use crate::scene::bridge::{BridgeView, Flows, Travel, bridge};
use crate::scene::machine::{MachineView, machine};
use crate::scene::plots::{Axis, PlotView, Row, plots};
use crate::scene::{Align, GAP_POINTS, Scene, Shape, Shown, TYPE_POINTS, Theme, Width, at};
use crate::setup::Setup;
use crate::sim::{Piece, Simulator, Sink};

/// The longer side of a sheet in points: a picture of more pixels is the same picture, sharper.
const LONGER_SIDE: f64 = 1000.0;
/// Height of the line of words at the foot, in points.
const FOOT: f64 = 28.0;
/// Electrical turns that the waveforms reach back.
const TURNS: f64 = 2.0;

/// Draws the bench of a setup at an instant into a file.
pub(crate) fn command(arguments: &PictureArguments) -> Result<(), Failure> {
    let target = OutputTarget::check(&arguments.output, &[Format::Png, Format::Svg])?;
    let setup = read_setup(&arguments.setup)?;
    let shown = Shown::new(&setup)?;
    let end_s = setup.run.duration_s;
    let at_s = arguments.at.unwrap_or(end_s);
    if at_s > end_s {
        return Err(Failure::AfterTheEnd { at_s, end_s });
    }
    let theme = arguments.theme.theme();
    // Whether anything can paint is known before the run.
    let painter = match target.format() {
        Format::Png => Some(Painter::new()?),
        _ => None,
    };
    let moment = Moment::run(&setup, at_s)?;
    let size_px = arguments.size;
    let sheet = sheet(&shown, &moment, arguments.what, size_px, &theme);
    let bytes = match painter {
        Some(painter) => {
            let pixels = sheet.pixels(size_px, |scene, size_px, per_point, ground| {
                painter.paint(scene, size_px, per_point, ground)
            })?;
            Sheet::png(pixels, size_px)?
        }
        None => sheet.svg(size_px)?.into_bytes(),
    };
    let mut file = WholeFile::begin(&target)?;
    file.write_all(&bytes).map_err(|error| {
        Failure::File(FileError::Write {
            path: target.path().to_path_buf(),
            error,
        })
    })?;
    Ok(file.finish()?)
}

/// The painters, where this build has them.
struct Painter {
    #[cfg(feature = "window")]
    offscreen: crate::view::Offscreen,
}

#[cfg(feature = "window")]
impl Painter {
    fn new() -> Result<Self, Failure> {
        let offscreen = crate::view::Offscreen::new().map_err(Failure::Painting)?;
        Ok(Self { offscreen })
    }

    fn paint(
        &self,
        scene: &Scene,
        size_px: [u32; 2],
        pixels_per_point: f64,
        ground: crate::scene::Colour,
    ) -> Result<Vec<u8>, Failure> {
        self.offscreen
            .render(scene, size_px, pixels_per_point, ground)
            .map_err(Failure::Painting)
    }
}

#[cfg(not(feature = "window"))]
impl Painter {
    const fn new() -> Result<Self, Failure> {
        Err(Failure::NoPainters)
    }

    const fn paint(
        &self,
        _scene: &Scene,
        _size_px: [u32; 2],
        _pixels_per_point: f64,
        _ground: crate::scene::Colour,
    ) -> Result<Vec<u8>, Failure> {
        Err(Failure::NoPainters)
    }
}

/// The bench at an instant and what went before.
struct Moment {
    now: Sample,
    tape: Tape,
    axis: Axis,
    full_current_a: f64,
}

impl Moment {
    fn run(setup: &Setup, at_s: f64) -> Result<Self, Failure> {
        let mut progress = ShowProgress(Progress::new(at_s.max(1e-12)));
        let mut simulator = Simulator::new(setup);
        // The stretch that the waveforms show runs from a copy, when its length is known.
        let mut early = simulator.clone();
        simulator.run_until(at_s, &mut progress)?;
        let now = simulator.now();
        let turn_s = std::f64::consts::TAU * f64::from(setup.machine.poles / 2).recip()
            / now.speed_rad_s.abs();
        let length_s = (TURNS * turn_s).min(at_s.max(setup.run.sample_s));
        let from_s = (at_s - length_s).max(0.0);
        // An earlier turn shows where mean and ripple of the torque come from.
        early.run_until((from_s - length_s).max(0.0), &mut ())?;
        let spacing_s = (length_s / 2000.0).max(1e-9);
        let mut tape = Tape::new(1_000_000, setup.machine.connection);
        let mut sink = Taping {
            tape: &mut tape,
            spacing_s,
        };
        early.run_until(at_s, &mut sink)?;
        tape.push(&now);
        let full_current_a = tape
            .stretch(from_s, at_s)
            .iter()
            .flat_map(|sample| sample.line_current_a)
            .fold(0.1, |most, current_a| current_a.abs().max(most));
        Ok(Self {
            now,
            tape,
            axis: Axis::Time {
                from: from_s,
                to: at_s.max(from_s + spacing_s),
            },
            full_current_a,
        })
    }
}

struct ShowProgress(Progress);

impl Sink for ShowProgress {
    fn piece(&mut self, piece: &Piece<'_>) {
        self.0.at(piece.end_s());
    }
}

/// Lays out what was asked for.
fn sheet(shown: &Shown, moment: &Moment, what: What, size_px: [u32; 2], theme: &Theme) -> Sheet {
    let longer = f64::from(size_px[0].max(size_px[1]));
    let [width, height] = size_px.map(|side| f64::from(side) * LONGER_SIDE / longer);
    let (gap, foot) = (2.0 * GAP_POINTS, FOOT.min(0.2 * height));
    let [w, h] = [width - 2.0 * gap, height - foot - gap];
    let mut parts = Vec::new();
    let mut push = |place: [f64; 4], scene, ground| {
        parts.push(SheetPart {
            place,
            scene,
            ground,
        });
    };
    let whole = [gap, gap, w, h];
    match what {
        What::Machine => push(whole, machine_scene(shown, moment, theme), theme.ground),
        What::Bridge => push(whole, bridge_scene(shown, moment, theme), theme.panel),
        What::Plots => push(whole, plots_scene(moment, [w, h], theme), theme.panel),
        What::All => {
            // Two columns, or one on an upright sheet, as in the window.
            let (machine, bridge, plots) = if width > height {
                let (left, high) = (0.56 * w, 0.4 * h);
                let (x, right) = (2.0 * gap + left, w - left - gap);
                (
                    [gap, gap, left, h],
                    [x, gap, right, high],
                    [x, 2.0 * gap + high, right, h - high - gap],
                )
            } else {
                let (a, b) = (0.48 * h, 0.2 * h);
                (
                    [gap, gap, w, a],
                    [gap, 2.0 * gap + a, w, b],
                    [gap, 3.0 * gap + a + b, w, h - a - b - 2.0 * gap],
                )
            };
            push(machine, machine_scene(shown, moment, theme), theme.ground);
            push(bridge, bridge_scene(shown, moment, theme), theme.panel);
            let plots_size = [plots[2], plots[3]];
            push(plots, plots_scene(moment, plots_size, theme), theme.panel);
        }
    }
    let title = if shown.title.is_empty() {
        "Untitled setup"
    } else {
        &shown.title
    };
    let facts = format!(
        "{:.3} ms · {:.0} rpm · step {}",
        moment.now.time_s * 1e3,
        moment.now.speed_rad_s * 30.0 / std::f64::consts::PI,
        moment.now.step
    );
    let place = [gap, height - foot, w, foot];
    push(
        place,
        foot_scene(title, &facts, [w, foot], theme),
        theme.ground,
    );
    Sheet {
        size_points: [width, height],
        ground: theme.ground,
        parts,
        title: title.to_owned(),
        description: format!("The bench at {facts}."),
    }
}

fn machine_scene(shown: &Shown, moment: &Moment, theme: &Theme) -> Scene {
    let view = MachineView {
        construction: shown.construction,
        poles: shown.poles,
        sides: &shown.sides,
        coil_span: shown.coil_span,
        connection: shown.connection,
        geometry: shown.geometry.as_ref(),
        theta_mech_rad: moment.now.theta_mech_rad,
        phase_current_a: moment.now.phase_current_a,
        full_current_a: moment.full_current_a,
    };
    with_margin(machine(&view, theme))
}

fn bridge_scene(shown: &Shown, moment: &Moment, theme: &Theme) -> Scene {
    let now = &moment.now;
    let source_a = shown
        .source_ohm
        .map(|ohm| (shown.source_v - now.supply_voltage_v) / ohm);
    let source_words = format!("{:.1} V", now.supply_voltage_v);
    let view = BridgeView {
        legs: now.legs,
        flows: Flows::new(now.legs, now.line_current_a, source_a),
        travel: Travel::default(),
        capacitor: shown.source_ohm.is_some(),
        source_words: &source_words,
        full_current_a: moment.full_current_a,
        words: Width::Points(TYPE_POINTS[1]),
    };
    with_margin(bridge(&view, theme))
}

/// Room round a picture, so that no letter touches the edge.
fn with_margin(mut scene: Scene) -> Scene {
    let margin = at(
        0.03 * (scene.high.x - scene.low.x),
        0.03 * (scene.high.y - scene.low.y),
    );
    scene.low = scene.low - margin;
    scene.high = scene.high + margin;
    scene
}

fn plots_scene(moment: &Moment, size_points: [f64; 2], theme: &Theme) -> Scene {
    let size = size_points.map(|side| (side - 4.0 * GAP_POINTS).max(1.0));
    let view = PlotView {
        tape: &moment.tape,
        now_s: moment.now.time_s,
        rows: &[Row::LeadCurrents, Row::PhaseBackEmf, Row::Torque, Row::Legs],
        axis: moment.axis,
        cursors: [None; 2],
        kept: None,
        lit: None,
    };
    let mut scene = plots(&view, size, theme);
    let margin = at(2.0 * GAP_POINTS, 2.0 * GAP_POINTS);
    scene.low = scene.low - margin;
    scene.high = scene.high + margin;
    scene
}

/// The setup's name on the left, the instant on the right.
fn foot_scene(title: &str, facts: &str, [width, height]: [f64; 2], theme: &Theme) -> Scene {
    let mut scene = Scene::new(at(0.0, 0.0), at(width, height));
    let size = Width::Points(TYPE_POINTS[1]);
    let middle = height / 2.0;
    scene.push(Shape::text(
        at(GAP_POINTS, middle),
        title,
        size,
        Align::Left,
        theme.ink,
    ));
    scene.push(Shape::text(
        at(width - GAP_POINTS, middle),
        facts,
        size,
        Align::Right,
        theme.ink_soft,
    ));
    scene
}
