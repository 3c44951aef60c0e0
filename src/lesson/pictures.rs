//! Pictures of a lesson's runs, as scenes: for the screen beside the text, and for paper.

use super::runs::Ran;
use super::text::{PictureKind, PictureWish};
use crate::analysis::{Unit, shown};
use crate::machine::inside::winding_of;
use crate::record::{Quantity, Sample, Tape};
use crate::scene::bridge::{BridgeView, Flows, Travel, bridge};
use crate::scene::machine::{MachineView, machine};
use crate::scene::plots::{Axis, PlotView, Row, plots};
use crate::scene::{Scene, TYPE_POINTS, Theme, Width};

/// A picture of a run.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// What is drawn.
    pub scene: Scene,
    /// Which part of the run it shows: `from 95.0 ms to 100 ms`; empty where that is all of it.
    pub span: String,
}

/// Rows of a picture of waveforms.
const STRIPS: [Row; 4] = [Row::LeadCurrents, Row::PhaseBackEmf, Row::Torque, Row::Legs];
/// Rows of a picture of the whole run.
const STORY: [Row; 2] = [Row::Speed, Row::SupplyCurrent];

/// Height over width that suits a picture.
#[must_use]
pub const fn height_share(what: PictureKind) -> f64 {
    match what {
        PictureKind::Strips => 0.63,
        PictureKind::Story => 0.40,
        PictureKind::Machine => 1.0,
        PictureKind::Bridge => 0.49,
    }
}

/// Draws a picture of a run that was recorded. Waveforms are laid out for a space of that size
/// in points; machine and bridge keep their own proportions.
#[must_use]
pub fn picture_scene(wish: &PictureWish, ran: &Ran, size_points: [f64; 2], theme: &Theme) -> Drawn {
    let time = |time_s| shown(time_s, Unit::SECOND, 4);
    match (wish.what, ran.sample(wish.at_s)) {
        (PictureKind::Strips, Some(now)) => {
            let [from, to] = strips_window(ran, &now);
            Drawn {
                scene: waves(ran, [from, to], &STRIPS, size_points, theme),
                span: format!("from {} to {}", time(from), time(to)),
            }
        }
        (PictureKind::Machine, Some(now)) => Drawn {
            scene: machine_scene(ran, &now, theme),
            span: instant(&now),
        },
        (PictureKind::Bridge, Some(now)) => Drawn {
            scene: bridge_scene(ran, &now, theme),
            span: instant(&now),
        },
        (PictureKind::Story, _) | (_, None) => {
            let (from, to) = ran.record.span_s().unwrap_or((0.0, 0.0));
            Drawn {
                scene: waves(ran, [from, to], &STORY, size_points, theme),
                span: String::new(),
            }
        }
    }
}

fn waves(ran: &Ran, ends: [f64; 2], rows: &[Row], size_points: [f64; 2], theme: &Theme) -> Scene {
    let [from, to] = ends;
    let tape = taped(ran, ends);
    let view = PlotView {
        tape: &tape,
        now_s: to,
        rows,
        axis: Axis::Time { from, to },
        cursors: [None; 2],
        kept: None,
        lit: None,
    };
    plots(&view, size_points, theme)
}

fn instant(now: &Sample) -> String {
    let degrees = now.theta_elec_rad.to_degrees().rem_euclid(360.0);
    format!(
        "at {}, electrical angle {degrees:.0}°",
        shown(now.time_s, Unit::SECOND, 4)
    )
}

/// The last two electrical turns before the instant, or all before it where there were not two.
fn strips_window(ran: &Ran, now: &Sample) -> [f64; 2] {
    let times = ran.record.channel(Quantity::Time).values();
    let angles = ran.record.channel(Quantity::ThetaElec).values();
    let end = times.partition_point(|time_s| *time_s <= now.time_s);
    let turns = 2.0 * std::f64::consts::TAU;
    let begin = angles[..end]
        .iter()
        .rposition(|angle| (now.theta_elec_rad - angle).abs() >= turns)
        .unwrap_or(0);
    [times.get(begin).copied().unwrap_or(0.0), now.time_s]
}

/// The samples and events of a window and one sample beyond each end, as a tape.
fn taped(ran: &Ran, [from_s, to_s]: [f64; 2]) -> Tape {
    let range = ran.record.between(from_s, to_s);
    let from = range.start.saturating_sub(1);
    let to = (range.end + 1).min(ran.record.n_samples());
    let mut tape = Tape::new(to - from, ran.setup.machine.connection);
    let mut events = ran.record.events().iter().peekable();
    for sample in (from..to).filter_map(|idx| ran.record.sample(idx)) {
        while let Some(event) = events.next_if(|event| event.time_s <= sample.time_s) {
            tape.push_event(*event);
        }
        tape.push(&sample);
    }
    tape
}

/// The largest lead current of the run's last part: what is shown at full size.
fn full_current_a(ran: &Ran, now: &Sample) -> f64 {
    let [from_s, to_s] = strips_window(ran, now);
    (0..3)
        .filter_map(|leg| {
            let range = ran
                .record
                .min_max(Quantity::LineCurrent(leg), from_s, to_s)?;
            Some(range.max.abs().max(range.min.abs()))
        })
        .fold(1e-3, f64::max)
}

fn machine_scene(ran: &Ran, now: &Sample, theme: &Theme) -> Scene {
    let setup = &ran.setup.machine;
    let sides: Vec<_> = winding_of(setup).map_or_else(
        || vec![[None; 2]; setup.slots as usize],
        |winding| {
            (0..setup.slots)
                .map(|slot| {
                    let sides = winding.sides_in_slot(slot);
                    [sides.first().copied(), sides.get(1).copied()]
                })
                .collect()
        },
    );
    let view = MachineView {
        construction: setup.construction,
        poles: setup.poles,
        sides: &sides,
        coil_span: setup
            .winding
            .as_ref()
            .map_or(1, |winding| winding.coil_span),
        connection: setup.connection,
        geometry: setup.geometry.as_ref(),
        theta_mech_rad: now.theta_mech_rad,
        phase_current_a: now.phase_current_a,
        full_current_a: full_current_a(ran, now),
    };
    machine(&view, theme)
}

fn bridge_scene(ran: &Ran, now: &Sample, theme: &Theme) -> Scene {
    let supply = &ran.setup.bench.supply;
    let source_a = supply
        .source
        .map(|source| (supply.voltage_v - now.supply_voltage_v) / source.resistance_ohm);
    let words = shown(supply.voltage_v, Unit::VOLT, 3).to_string();
    let view = BridgeView {
        legs: now.legs,
        flows: Flows::new(now.legs, now.line_current_a, source_a),
        travel: Travel::default(),
        capacitor: supply.source.is_some(),
        source_words: &words,
        full_current_a: full_current_a(ran, now),
        words: Width::Points(TYPE_POINTS[1]),
    };
    bridge(&view, theme)
}
