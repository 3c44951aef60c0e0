//! Sheets that lie over the room, one on the other, until Esc or their button takes them away.

use egui::{Rect, RichText, Ui};

use super::papers::Intent;
use super::{App, menus};
use crate::app::shelf::Refusal;
use crate::app::{figures, style};
use crate::scene::Theme;

/// A sheet that lies over the room.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Sheet {
    /// Every figure of the run.
    Figures,
    /// Where the figure with this key comes from.
    Why(&'static str),
    /// Every part that can be pointed at.
    Parts,
    /// The keys.
    Keys,
    /// Which setup to open.
    Open,
    /// Under which name to save.
    SaveAs,
    /// What to do with changes before something that loses them.
    Ask(Intent),
    /// What was wrong with a file.
    Bad(Refusal),
}

impl Sheet {
    const fn title(&self) -> &'static str {
        match self {
            Self::Figures => "All figures",
            Self::Why(_) => "Where it comes from",
            Self::Parts => "Parts",
            Self::Keys => "Keys",
            Self::Open | Self::SaveAs | Self::Ask(_) | Self::Bad(_) => "",
        }
    }

    /// True where nothing else is heard until it is answered.
    pub(super) const fn is_dialog(&self) -> bool {
        matches!(
            self,
            Self::Open | Self::SaveAs | Self::Ask(_) | Self::Bad(_)
        )
    }
}

impl App {
    /// Lays a sheet over the room, unless it lies there already.
    pub(super) fn lay(&mut self, sheet: Sheet) {
        if !self.sheets.contains(&sheet) {
            self.sheets.push(sheet);
            self.fresh_sheet = true;
        }
    }

    /// Lays a sheet, or takes it away where it lies on top.
    pub(super) fn turn_sheet(&mut self, sheet: Sheet) {
        if self.sheets.last() == Some(&sheet) {
            self.take_sheet();
        } else {
            self.sheets.retain(|other| *other != sheet);
            self.lay(sheet);
        }
    }

    /// Takes the topmost sheet away. False where there is none.
    pub(super) fn take_sheet(&mut self) -> bool {
        self.listed = None;
        self.sheets.pop().is_some()
    }

    /// Draws the topmost sheet over the machine, or over the waveforms where it speaks of the
    /// machine.
    pub(super) fn sheets_ui(&mut self, ui: &Ui, [machine, plots]: [Rect; 2]) {
        let Some(sheet) = self.sheets.last().cloned() else {
            return;
        };
        if sheet.is_dialog() {
            return self.dialog_ui(ui.ctx(), &sheet);
        }
        let rect = if sheet == Sheet::Parts {
            plots
        } else {
            machine
        };
        let theme = self.theme;
        let title = match &sheet {
            Sheet::Why(key) => self
                .figures
                .iter()
                .find(|figure| figure.key == *key)
                .map_or(sheet.title(), |figure| figure.name),
            _ => sheet.title(),
        };
        let scrolls = sheet != Sheet::Parts;
        let close = sheet_ui(ui, rect, title, scrolls, &theme, |ui| match &sheet {
            Sheet::Figures => {
                if let Some(key) = figures::all_ui(ui, &self.figures, &theme) {
                    self.lay(Sheet::Why(key));
                }
            }
            Sheet::Why(key) => {
                if let Some(figure) = self.figures.iter().find(|figure| figure.key == *key) {
                    figures::why_ui(ui, figure, &theme);
                } else {
                    ui.label("There is no such figure at this instant.");
                }
            }
            Sheet::Parts => self.parts_ui(ui),
            Sheet::Keys => menus::keys_ui(ui, &theme),
            _ => {}
        });
        if close {
            self.take_sheet();
        }
    }
}

/// A plate over a part of the room, with a title and a way to take it away. True where that was
/// asked.
fn sheet_ui(
    ui: &Ui,
    rect: Rect,
    title: &str,
    scrolls: bool,
    theme: &Theme,
    contents: impl FnOnce(&mut Ui),
) -> bool {
    let mut close = false;
    let area = egui::Area::new(egui::Id::unique(("sheet", title)))
        .fixed_pos(rect.min)
        .order(egui::Order::Middle)
        .accessible_name(title.to_owned());
    area.show(ui.ctx(), |ui| {
        ui.set_clip_rect(rect);
        let edge = egui::Stroke::new(1.0, style::colour(theme.line));
        let ground = style::colour(theme.panel);
        ui.painter().rect(
            rect,
            style::gap(1.0),
            ground,
            edge,
            egui::StrokeKind::Inside,
        );
        // What lies under the sheet hears nothing.
        ui.interact(rect, ui.scope_id().with("ground"), egui::Sense::hover());
        let inside = rect.shrink(style::gap(4.0));
        let builder = egui::UiBuilder::new().max_rect(inside);
        ui.scope_builder(builder, |ui| {
            ui.horizontal(|ui| {
                let words = RichText::new(title).font(style::type_size(2));
                ui.label(words.color(style::colour(theme.ink)));
                ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                    close = ui.button("Close").on_hover_text("Esc").clicked();
                });
            });
            ui.add_space(style::gap(1.0));
            if scrolls {
                egui::ScrollArea::vertical()
                    .id_salt(title)
                    .auto_shrink(false)
                    .show(ui, contents);
            } else {
                contents(ui);
            }
        });
    });
    close
}
