//! The rotor in a person's hand: the drive is off, and the EMF is what the hand makes it.

use egui::{Align, Context, Key, Layout, Rect, RichText, Ui};

use super::App;
use crate::app::hand::{Hand, KEY_RAD_S};
use crate::app::keys::Deed;
use crate::app::style;
use crate::drive::hall::{hall_code, hall_states};
use crate::machine::Machine;

impl App {
    /// Takes the rotor into the hand, with the drive off, or gives it back.
    pub(super) fn turn_hand(&mut self) {
        self.hand = match self.hand.take() {
            Some(_) => None,
            None => {
                self.time.running = false;
                let now = self.live.record().at(self.time.cursor_s);
                let machine = Machine::new(&self.bench.setup().machine);
                Some(Hand::new(
                    machine,
                    now.map_or(0.0, |now| now.theta_mech_rad),
                ))
            }
        };
    }

    /// The hand goes on with another machine, where one stands there now.
    pub(super) fn rehand(&mut self) {
        if let Some(hand) = &self.hand {
            let now = hand.record().at(hand.time_s());
            let machine = Machine::new(&self.bench.setup().machine);
            self.hand = Some(Hand::new(
                machine,
                now.map_or(0.0, |now| now.theta_mech_rad),
            ));
        }
    }

    /// Lets the hand go on: its keys, and the time since the last frame.
    pub(super) fn advance_hand(&mut self, ctx: &Context, wall_s: f64) {
        let free = ctx.memory(|memory| memory.focused().is_none()) && !self.in_dialog();
        let Some(hand) = &mut self.hand else { return };
        if free {
            ctx.input(|input| {
                let down = |key| f64::from(u8::from(input.key_down(key)));
                let way = down(Key::ArrowRight) - down(Key::ArrowLeft);
                let fast = if input.modifiers.shift { 4.0 } else { 1.0 };
                // On the screen the right arrow turns clockwise, as a hand on a knob does.
                hand.turn(-way * fast * KEY_RAD_S * wall_s);
            });
        }
        hand.advance(wall_s);
        if hand.is_moving() {
            ctx.request_repaint();
        }
    }

    /// In the place of the figures: what a meter on the leads would show.
    pub(super) fn hand_figures_ui(&self, ui: &mut Ui, rect: Rect) {
        let Some(now) = self.frame().map(|frame| frame.now) else {
            return;
        };
        let soft = style::colour(self.theme.ink_soft);
        let ink = style::colour(self.theme.ink);
        let degrees = now.theta_elec_rad.to_degrees().rem_euclid(360.0);
        let volts = |v: f64| crate::analysis::shown(v, crate::analysis::Unit::VOLT, 3).to_string();
        let code = hall_code(hall_states(now.theta_elec_rad));
        let rpm = now.speed_rad_s * 30.0 / std::f64::consts::PI;
        let minus = if rpm <= -0.5 { "−" } else { "" };
        let values = [
            ("speed by hand", format!("{minus}{:.0} rpm", rpm.abs())),
            ("EMF U", volts(now.back_emf_v[0])),
            ("EMF V", volts(now.back_emf_v[1])),
            ("EMF W", volts(now.back_emf_v[2])),
            ("elec. angle", format!("{degrees:.0}°")),
            ("Hall", code),
        ];
        let width = rect.width() / values.len() as f32;
        for (idx, (name, value)) in values.into_iter().enumerate() {
            let left = rect.left() + width * idx as f32;
            let place = Rect::from_min_size(
                egui::pos2(left, rect.top()),
                egui::vec2(width, rect.height()),
            )
            .shrink2(egui::vec2(style::gap(2.0), style::gap(1.5)));
            let builder = egui::UiBuilder::new().max_rect(place);
            ui.scope_builder(builder, |ui| {
                ui.label(RichText::new(name).small().color(soft));
                let value = RichText::new(value).font(style::type_size(2)).color(ink);
                ui.add(egui::Label::new(value).extend());
            });
        }
    }

    /// In the place of the time rail: how to turn, and the way back.
    pub(super) fn hand_rail_ui(&mut self, ui: &mut Ui, rect: Rect) {
        let layout = Layout::left_to_right(Align::Center);
        let builder = egui::UiBuilder::new().max_rect(rect).layout(layout);
        ui.scope_builder(builder, |ui| {
            let back = ui.button("Back to the drive");
            if back.on_hover_text("Let go of the rotor · H").clicked() {
                self.act(Deed::Hand, ui.ctx());
            }
            let words = "The drive is off and the leads hang free. Drag the rotor round, or hold ← or → \
                 (with Shift four times as fast): the faster, the higher the EMF.";
            ui.add(egui::Label::new(words).wrap());
        });
    }
}
