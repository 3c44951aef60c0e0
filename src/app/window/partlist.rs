//! The list of parts: for those who point with the keyboard.

use egui::{Rect, RichText, Ui, pos2, vec2};

use super::App;
use crate::app::{parts, style};

/// Lines of the list that are there beyond those in sight.
const LINES_BEYOND: usize = 3;

impl App {
    /// Legs, coil sides and magnets, one a line; the one with the keyboard or the pointer is
    /// marked in its picture and tells its values.
    pub(super) fn parts_ui(&mut self, ui: &mut Ui) {
        let Some(frame) = self.frame() else { return };
        let values_h = style::gap(44.0).min(ui.available_height() * 0.5);
        let mut listed = None;
        let list_h = ui.available_height() - values_h - style::gap(4.0);
        egui::ScrollArea::vertical()
            .id_salt("parts")
            .max_height(list_h)
            .auto_shrink(false)
            .show_viewport(ui, |ui, sight| {
                ui.spacing_mut().item_spacing.y = 0.0;
                // Only the lines in sight are laid out, and a few more on either side, so that
                // the keyboard finds the next one: a machine may have a thousand parts.
                let all = parts::all(&self.shown);
                let line_h = ui.spacing().interact_size.y;
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "lines of a list"
                )]
                let line_at = |y: f32| (y / line_h).max(0.0) as usize;
                let first = line_at(sight.top()).saturating_sub(LINES_BEYOND);
                let end = (line_at(sight.bottom()) + 1 + LINES_BEYOND).min(all.len());
                ui.set_height(line_h * all.len() as f32);
                let (left, top, width) = (
                    ui.max_rect().left(),
                    ui.max_rect().top(),
                    ui.available_width(),
                );
                // The list scrolls softly: the line with the keyboard may be ahead of it.
                let listed_idx = all.iter().position(|part| Some(*part) == self.listed);
                let is_there = |idx: usize| {
                    let near = |listed: usize| idx.abs_diff(listed) <= LINES_BEYOND;
                    (first..end).contains(&idx) || listed_idx.is_some_and(near)
                };
                let mut next_idx = 0;
                for (idx, pointed) in all
                    .iter()
                    .copied()
                    .enumerate()
                    .filter(|(idx, _)| is_there(*idx))
                {
                    // A line has the same identity whichever lines are there before it.
                    ui.skip_ahead_auto_ids(idx - next_idx);
                    next_idx = idx + 1;
                    let here = self.listed == Some(pointed);
                    let name = parts::name(pointed, &self.shown);
                    let place = Rect::from_min_size(
                        pos2(left, top + line_h * idx as f32),
                        vec2(width, line_h),
                    );
                    let line = egui::Button::selectable(here, name).min_size(place.size());
                    let builder = egui::UiBuilder::new().id_salt(idx).max_rect(place);
                    let line = ui.scope_builder(builder, |ui| ui.add(line)).inner;
                    if line.hovered() || line.has_focus() {
                        listed = Some(pointed);
                    }
                    if line.gained_focus() {
                        line.scroll_to_me(None);
                    }
                }
            });
        ui.separator();
        if listed.is_some() && listed != self.listed {
            self.listed = listed;
            ui.ctx().request_repaint();
        }
        match self.listed {
            Some(pointed) => self.values_ui(ui, pointed, &frame),
            None => {
                ui.label(RichText::new("Point at a line, or go through them with Tab.").small());
            }
        }
    }
}
