//! Three quiet hints for the first minute, one at a time, until each is put away.

use egui::{Align, Layout, Rect, RichText, Ui};

use super::App;
use crate::app::style;

/// Smaller than this, in points, either way, a window has no hints.
const LEAST: f32 = 430.0;

/// A hint: the name under which it is remembered, and its words.
const HINTS: [(&str, &str); 3] = [
    (
        "time",
        "Space lets time run or stops it; ← and → go from step to step, ↑ and ↓ show it faster or slower.",
    ),
    (
        "figures",
        "Click a figure to see its formula; point at a coil, a magnet or a leg to see its values.",
    ),
    (
        "bench",
        "D opens what stands on the bench, to be changed while the motor runs; H gives you the rotor; C opens the course; ? lists all keys.",
    ),
];

impl App {
    /// The hint whose turn it is.
    pub(super) fn hint(&self, room: Rect) -> Option<(&'static str, &'static str)> {
        // on a phone there are no keys to hint at, and no room for it
        if room.width().min(room.height()) < LEAST {
            return None;
        }
        let gone = &self.papers.memory.hints_gone;
        let left = HINTS
            .iter()
            .find(|(name, _)| !gone.iter().any(|other| other == name));
        left.copied()
    }

    /// Draws it in one line.
    pub(super) fn hint_ui(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        (name, words): (&'static str, &'static str),
    ) {
        let layout = Layout::right_to_left(Align::Center);
        let builder = egui::UiBuilder::new().max_rect(rect).layout(layout);
        let soft = style::colour(self.theme.ink_soft);
        let mut gone = Vec::new();
        ui.scope_builder(builder, |ui| {
            ui.spacing_mut().button_padding = egui::vec2(style::gap(2.0), style::gap(0.5));
            if ui.button("No hints").clicked() {
                gone.extend(HINTS.map(|(name, _)| name));
            }
            if ui.button("Got it").clicked() {
                gone.push(name);
            }
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                ui.add(egui::Label::new(RichText::new(words).color(soft)).truncate());
            });
        });
        if !gone.is_empty() {
            let memory = &mut self.papers.memory;
            memory
                .hints_gone
                .extend(gone.into_iter().map(str::to_owned));
            memory.hints_gone.sort();
            memory.hints_gone.dedup();
            memory.keep();
        }
    }
}
