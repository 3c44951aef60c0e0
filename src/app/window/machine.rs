//! Machine and bridge in their panels: drawn, enlarged, pointed at, turned by hand.

use egui::{Rect, Response, RichText, Ui, vec2};

use super::{App, caution_ui};
use crate::app::parts::{self, Pointed};
use crate::app::picture::{Zoom, picture_ui, zoom_with};
use crate::app::{Frame, style};
use crate::scene::bridge::{BridgeView, bridge, leg_at, mark_leg};
use crate::scene::machine::{KEY_TYPE, machine, mark, part_at, small_machine};
use crate::scene::{LEAST_TYPE_POINTS, Point, Scene, TYPE_POINTS, Width, at, hall, steps};

/// How far the machine steps aside for the table of steps, in points.
const TABLE_ASIDE: f32 = 140.0;
/// Height of the bridge's words for a projector, in its units: they grow with it.
const FAR_WORDS: f64 = 0.2;
/// Size of the table, in points.
const TABLE: egui::Vec2 = vec2(208.0, 125.0);
/// From this radius on, in outer radii of the machine, a corner of the table clears its dial.
const CLEAR: f64 = 1.08;
/// How small the machine may become for the table's sake, as a part of its size.
const LEAST_SHARE: f64 = 0.9;
/// Width of the machine with its dial as a part of its height.
const ROUND: f32 = 1.075;

impl App {
    pub(super) fn machine_ui(&mut self, ui: &mut Ui, rect: Rect, frame: &Frame) {
        let now = &frame.now;
        let view = self.shown.view(now, self.full_current_a);
        let mut scene = machine(&view, &self.theme);
        let fit = scene.fit_points(f64::from(rect.width()), f64::from(rect.height()));
        if fit * self.zoom.factor * KEY_TYPE < LEAST_TYPE_POINTS {
            scene = small_machine(&view, &self.theme);
        }
        for marked in self.marked() {
            if let Pointed::Part(part) = marked {
                mark(&mut scene, &view, part, &self.theme);
            }
        }
        let words = format!(
            "Machine in cross-section: {} slots, {} poles, rotor at {:.0}°, step {}",
            self.shown.sides.len(),
            self.shown.poles,
            now.theta_mech_rad.to_degrees().rem_euclid(360.0),
            now.step
        );
        // The table stands in a corner that the round machine leaves free when it makes room.
        let aside = (rect.width() - ROUND * rect.height()).clamp(0.0, TABLE_ASIDE);
        let mut zoom = self.zoom;
        zoom.offset = zoom.offset - at(f64::from(aside) / 2.0 / fit, 0.0);
        // It stands a little farther off where that is all the table lacks.
        let table = Rect::from_min_size(rect.min + vec2(8.0, 8.0), TABLE);
        let share = place_of(table.max, rect, &scene, fit, zoom).length() / CLEAR;
        if self.zoom == Zoom::default() && (LEAST_SHARE..1.0).contains(&share) {
            zoom.factor *= 0.999 * share;
        }
        let response = picture_ui(ui, "machine", rect, &scene, zoom, &words);
        let place_at = |pos: egui::Pos2| place_of(pos, rect, &scene, fit, zoom);
        let hovered = response
            .hover_pos()
            .and_then(|pos| part_at(&view, place_at(pos)))
            .map(Pointed::Part);
        if self.hand.is_some() {
            let middle = at(0.0, 0.0);
            // From the first touch on: a drag proper begins some points later.
            let turned = response.is_pointer_button_down_on().then(|| {
                let to = response.interact_pointer_pos().unwrap_or(rect.center());
                let from = to - ui.input(|input| input.pointer.delta());
                angle_between(place_at(from) - middle, place_at(to) - middle)
            });
            if let (Some(by_rad), Some(hand)) = (turned, &mut self.hand) {
                hand.turn(by_rad);
            }
            if response.hovered() {
                ui.set_cursor_icon(egui::CursorIcon::Grab);
            }
            if response.is_pointer_button_down_on() {
                // A hand on the rotor covers what is under it.
                self.hovered = None;
                return;
            }
        } else {
            zoom_with(ui, &response, &scene, &mut self.zoom);
        }
        self.tell(ui, &response, hovered, frame);
        let corner = place_of(table.max, rect, &scene, fit, zoom);
        let fits = rect.contains_rect(table);
        if fits && corner.length() > CLEAR && self.zoom.factor <= 1.0 {
            let scene = steps::table(now.step, &self.theme);
            let words = format!("Step {} of six", now.step);
            picture_ui(ui, "steps", table, &scene, Zoom::default(), &words);
        }
        if let (Some(stopped), None) = (self.live.stopped(), &self.hand) {
            let words = format!("The run cannot go on: {stopped}");
            caution_ui(ui, rect, &words, &self.theme);
        }
    }

    /// The bridge, or, while a hand turns the rotor, the Hall sensors.
    pub(super) fn bridge_ui(&mut self, ui: &mut Ui, rect: Rect, frame: &Frame) {
        let rect = rect.shrink(style::gap(1.0));
        if self.hand.is_some() {
            let theta = frame.now.theta_elec_rad;
            let scene = hall::hall(theta, &self.theme);
            let code = crate::drive::hall::hall_code(crate::drive::hall::hall_states(theta));
            let words = format!("Hall sensors: {code}");
            picture_ui(ui, "hall", rect, &scene, Zoom::default(), &words);
            return;
        }
        let source_words = format!("{:.1} V", frame.now.supply_voltage_v);
        let view = BridgeView {
            legs: frame.now.legs,
            flows: self.flows(&frame.now),
            travel: self.travel,
            capacitor: self.shown.source_ohm.is_some(),
            source_words: &source_words,
            full_current_a: self.full_current_a,
            // from the back of a room
            words: if self.presenter.is_some() {
                Width::Bench(FAR_WORDS)
            } else {
                Width::Points(TYPE_POINTS[1])
            },
        };
        let legs = frame.now.legs.map(crate::drive::LegState::character);
        let words = format!("Bridge: U {}, V {}, W {}", legs[0], legs[1], legs[2]);
        let mut scene = bridge(&view, &self.theme);
        for marked in self.marked() {
            if let Pointed::Leg(leg) = marked {
                mark_leg(&mut scene, leg, &self.theme);
            }
        }
        let zoom = Zoom::default();
        let response = picture_ui(ui, "bridge", rect, &scene, zoom, &words);
        let fit = scene.fit_points(f64::from(rect.width()), f64::from(rect.height()));
        let hovered = response
            .hover_pos()
            .and_then(|pos| leg_at(place_of(pos, rect, &scene, fit, zoom)))
            .map(Pointed::Leg);
        self.tell(ui, &response, hovered, frame);
    }

    /// What is pointed at, by the list or by the pointer.
    pub(super) fn pointed(&self) -> Option<Pointed> {
        self.listed.or(self.hovered)
    }

    /// Names what the pointer is on, beside it.
    fn tell(&mut self, ui: &Ui, response: &Response, found: Option<Pointed>, frame: &Frame) {
        if !response.hovered() {
            return;
        }
        if self.hovered != found {
            self.hovered = found;
            ui.ctx().request_repaint();
        }
        if let Some(pointed) = found {
            // At once: whoever points at a part asks for its name.
            let anchor = egui::PopupAnchor::Pointer;
            let ctx = ui.ctx().clone();
            egui::Tooltip::always_open(ctx, response.layer_id, response.id, anchor)
                .gap(style::gap(4.0))
                .show(|ui| self.values_ui(ui, pointed, frame));
        }
    }

    /// The name of a part and its present values.
    pub(super) fn values_ui(&self, ui: &mut Ui, pointed: Pointed, frame: &Frame) {
        ui.spacing_mut().item_spacing.y = style::gap(0.5);
        ui.spacing_mut().interact_size.y = style::gap(4.5);
        let ink = style::colour(self.theme.ink);
        let name = parts::name(pointed, &self.shown);
        ui.label(RichText::new(name).strong().color(ink));
        let machine = &self.bench.setup().machine;
        for (what, value) in parts::values(pointed, &self.shown, machine, &frame.now) {
            ui.horizontal(|ui| {
                let size = vec2(132.0, style::gap(4.0));
                let left = egui::Layout::left_to_right(egui::Align::Center);
                ui.allocate_ui_with_layout(size, left, |ui| {
                    ui.set_min_width(size.x);
                    ui.label(what);
                });
                ui.label(RichText::new(value).color(ink));
            });
        }
    }
}

/// The place of a picture under a point of the screen.
fn place_of(pos: egui::Pos2, rect: Rect, scene: &Scene, fit: f64, zoom: Zoom) -> Point {
    let from_middle = pos - rect.center();
    let per_unit = fit * zoom.factor;
    let place = at(f64::from(from_middle.x), -f64::from(from_middle.y)) * (1.0 / per_unit);
    scene.centre() + zoom.offset + place
}

/// The angle from one direction to another, in rad, −π to π.
fn angle_between(from: Point, to: Point) -> f64 {
    let dot = from.x * to.x + from.y * to.y;
    from.cross(to).atan2(dot)
}
