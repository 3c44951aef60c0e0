//! Pictures of a lesson's runs, sized for paper.

use std::fmt::Write as _;

use base64::Engine as _;

use crate::analysis::{Unit, shown};
use crate::export::page::escaped;
use crate::export::picture::{Picture, PictureError};
use crate::lesson::Ran;
use crate::lesson::text::{PictureKind, PictureWish};
use crate::machine::inside::winding_of;
use crate::record::{Quantity, Sample, Tape};
use crate::scene::bridge::{BridgeView, Flows, Travel, bridge};
use crate::scene::machine::{MachineView, machine};
use crate::scene::plots::{Axis, PlotView, Row as PlotRow, plots};
use crate::scene::{Colour, Theme, to_svg};

/// Paper is white, whatever the light theme's ground.
const PAPER: Colour = Colour::hex(0xFFFFFF);

/// A picture as an `img` with its data in it, and what is seen in words.
pub(super) struct Drawn {
    pub(super) html: String,
    /// Which part of the run it shows: `from 95.0 ms to 100 ms`.
    pub(super) span: String,
}

/// Draws a picture of a run.
pub(super) fn draw(wish: &PictureWish, ran: &Ran, words: &str) -> Result<Drawn, PictureError> {
    let theme = Theme {
        ground: PAPER,
        panel: PAPER,
        lamp: Colour::CLEAR,
        ..Theme::LIGHT
    };
    let now = ran.sample(wish.at_s);
    let (svg, size, span) = match (wish.what, now) {
        (PictureKind::Story, _) => (story(ran, &theme), STORY, String::new()),
        (PictureKind::Strips, Some(now)) => {
            let [from, to] = strips_window(ran, &now);
            let tape = taped(ran, [from, to]);
            let view = PlotView {
                tape: &tape,
                now_s: now.time_s,
                rows: &[
                    PlotRow::LeadCurrents,
                    PlotRow::PhaseBackEmf,
                    PlotRow::Torque,
                    PlotRow::Legs,
                ],
                axis: Axis::Time { from, to },
                cursors: [None; 2],
                kept: None,
            };
            let scene = plots(&view, STRIPS, &theme);
            let time = |time_s| shown(time_s, Unit::SECOND, 4);
            let span = format!("from {} to {}", time(from), time(to));
            (to_svg(&scene, STRIPS, PAPER, true), STRIPS, span)
        }
        (PictureKind::Machine, Some(now)) => {
            (machine_svg(ran, &now, &theme), MACHINE, instant(&now))
        }
        (PictureKind::Bridge, Some(now)) => (bridge_svg(ran, &now, &theme), BRIDGE, instant(&now)),
        (_, None) => (story(ran, &theme), STORY, String::new()),
    };
    let picture = Picture::new(svg, words.to_owned(), span.clone()).svg()?;
    let data = base64::engine::general_purpose::STANDARD.encode(picture);
    let [width, height] = size;
    let html = format!(
        "<img src=\"data:image/svg+xml;base64,{data}\" width=\"{width:.0}\" height=\"{height:.0}\" alt=\"{}\">",
        escaped(words)
    );
    Ok(Drawn { html, span })
}

const STRIPS: [f64; 2] = [640.0, 400.0];
const STORY: [f64; 2] = [640.0, 250.0];
const MACHINE: [f64; 2] = [316.0, 316.0];
const BRIDGE: [f64; 2] = [500.0, 245.0];

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

fn machine_svg(ran: &Ran, now: &Sample, theme: &Theme) -> String {
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
    to_svg(&machine(&view, theme), MACHINE, PAPER, true)
}

fn bridge_svg(ran: &Ran, now: &Sample, theme: &Theme) -> String {
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
    };
    to_svg(&bridge(&view, theme), BRIDGE, PAPER, true)
}

/// One row of the story: speed, or the current from the supply.
struct Row {
    name: &'static str,
    unit: Unit,
    quantity: Quantity,
}

/// Speed and supply current over the whole run.
fn story(ran: &Ran, theme: &Theme) -> String {
    let [width, height] = STORY;
    let (left, right, top, bottom) = (64.0, width - 10.0, 18.0, height - 34.0);
    let ink = hex(theme.ink);
    let soft = hex(theme.ink_soft);
    let line = hex(theme.line);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} \
         {height}\"><rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>"
    );
    let Some((first_s, last_s)) = ran.record.span_s().filter(|(a, b)| b > a) else {
        return svg + "</svg>";
    };
    let words = |svg: &mut String, x: f64, y: f64, anchor: &str, colour: &str, text: &str| {
        let _ = write!(
            svg,
            "<text x=\"{x:.1}\" y=\"{y:.1}\" font-family=\"sans-serif\" font-size=\"11\" text-anchor=\"{anchor}\" \
             fill=\"{colour}\">{}</text>",
            super::escaped(text)
        );
    };
    let rows = [
        Row {
            name: "speed",
            unit: Unit {
                per_si: 30.0 / std::f64::consts::PI,
                ..Unit::RPM
            },
            quantity: Quantity::Speed,
        },
        Row {
            name: "current from the supply",
            unit: Unit::AMPERE,
            quantity: Quantity::SupplyCurrent,
        },
    ];
    let gap = 24.0;
    let row_height = (bottom - top - gap) / 2.0;
    let n_columns = 280_u32;
    for (row, at) in rows.iter().zip([top, top + row_height + gap]) {
        let Some(all) = ran.record.min_max(row.quantity, first_s, last_s) else {
            continue;
        };
        let (low, high) = (all.min.min(0.0), all.max.max(0.0));
        let size = (high - low).max(1e-12);
        let y = |value: f64| at + row_height * (1.0 - (value - low) / size);
        let _ = write!(
            svg,
            "<rect x=\"{left}\" y=\"{at:.1}\" width=\"{:.1}\" height=\"{row_height:.1}\" fill=\"none\" \
             stroke=\"{line}\"/><line x1=\"{left}\" x2=\"{right}\" y1=\"{zero:.1}\" y2=\"{zero:.1}\" stroke=\"{soft}\"/>",
            right - left,
            zero = y(0.0)
        );
        words(&mut svg, left, at - 5.0, "start", &ink, row.name);
        for value in [low, high] {
            if value != 0.0 || low == 0.0 {
                let text = shown(value, row.unit, 3).to_string();
                words(&mut svg, left - 6.0, y(value) + 4.0, "end", &soft, &text);
            }
        }
        // there along the upper edge and back along the lower one
        let (mut there, mut back) = (String::new(), String::new());
        for column in 0..n_columns {
            let share = |column: u32| f64::from(column) / f64::from(n_columns);
            let (from, to) = (share(column), share(column + 1));
            let time = |share: f64| first_s + share * (last_s - first_s);
            let Some(found) = ran.record.min_max(row.quantity, time(from), time(to)) else {
                continue;
            };
            let x = left + (right - left) * (from + to) / 2.0;
            let letter = if there.is_empty() { 'M' } else { 'L' };
            let _ = write!(there, "{letter}{x:.1} {:.1}", y(found.max));
            back.insert_str(0, &format!("L{x:.1} {:.1}", y(found.min)));
        }
        let _ = write!(
            svg,
            "<path d=\"{there}{back}Z\" fill=\"{line}\" stroke=\"{ink}\" stroke-width=\"1.2\" \
             stroke-linejoin=\"round\"/>"
        );
    }
    for share in [0.0, 0.25, 0.5, 0.75, 1.0] {
        let x = left + (right - left) * share;
        let _ = write!(
            svg,
            "<line x1=\"{x:.1}\" x2=\"{x:.1}\" y1=\"{bottom}\" y2=\"{:.1}\" stroke=\"{soft}\"/>",
            bottom + 4.0
        );
        let text = shown(first_s + share * (last_s - first_s), Unit::SECOND, 3).to_string();
        let anchor = match share {
            0.0 => "start",
            1.0 => "end",
            _ => "middle",
        };
        words(&mut svg, x, bottom + 17.0, anchor, &soft, &text);
    }
    svg + "</svg>"
}

fn hex(colour: Colour) -> String {
    format!("#{:02x}{:02x}{:02x}", colour.r, colour.g, colour.b)
}
