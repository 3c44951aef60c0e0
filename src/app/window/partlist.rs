//! The list of parts: for those who point with the keyboard.

use egui::{RichText, Ui};

use super::App;
use crate::app::{parts, style};

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
            .show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                for pointed in parts::all(&self.shown) {
                    let here = self.listed == Some(pointed);
                    let name = parts::name(pointed, &self.shown);
                    let line = ui.selectable_label(here, name);
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
