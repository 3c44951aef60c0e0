//! A page with a form on the left and what comes of it on the right, and what such pages say alike.

use egui::{Rect, RichText, Ui, vec2};

use super::figures;
use super::style;
use crate::analysis::{Figure, Value};
use crate::readings::Estimate;
use crate::scene::Theme;

/// Where the parts of such a page lie.
#[derive(Clone, Copy)]
pub(super) struct FormPage<'a> {
    theme: &'a Theme,
    title: Rect,
    form: Rect,
    results: Rect,
    /// Form and results take turns.
    narrow: bool,
}

impl<'a> FormPage<'a> {
    /// Parts the place of a page.
    pub(super) fn new(all: Rect, theme: &'a Theme) -> Self {
        let gap = style::gap(2.0);
        let (title, rest) = style::cut_top(all.shrink(gap), style::gap(8.0), gap);
        let (form, results, narrow) = style::form_and_results(rest);
        Self {
            theme,
            title,
            form,
            results,
            narrow,
        }
    }

    /// The row at the top: the name, buttons from the right, and in a narrow window the one that
    /// changes between form and results (their names in `turns`). True where a person leaves.
    pub(super) fn title_ui(
        &self,
        ui: &mut Ui,
        name: &str,
        at_form: &mut bool,
        turns: [&str; 2],
        buttons: impl FnOnce(&mut Ui),
    ) -> bool {
        let layout = egui::Layout::right_to_left(egui::Align::Center);
        let builder = egui::UiBuilder::new().max_rect(self.title).layout(layout);
        ui.scope_builder(builder, |ui| {
            let leave = ui
                .button("Back to the bench")
                .on_hover_text("Leave this page · Esc")
                .clicked();
            buttons(ui);
            if self.narrow {
                let words = turns[usize::from(*at_form)];
                if ui.button(words).clicked() {
                    *at_form = !*at_form;
                }
            }
            ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                let words = RichText::new(name).font(style::type_size(2));
                let words = words.color(style::colour(self.theme.ink));
                ui.add(egui::Label::new(words).truncate());
            });
            leave
        })
        .inner
    }

    /// The form, where it is shown. What it says comes back.
    pub(super) fn form_ui<T>(
        &self,
        ui: &mut Ui,
        at_form: bool,
        contents: impl FnOnce(&mut Ui) -> T,
    ) -> Option<T> {
        if self.narrow && !at_form {
            return None;
        }
        let mut said = None;
        style::panel_ui(ui, self.form, self.theme, |ui| {
            let area = egui::ScrollArea::vertical()
                .id_salt("form")
                .auto_shrink(false);
            said = Some(area.show(ui, contents).inner);
        });
        said
    }

    /// What comes of it, where it is shown.
    pub(super) fn results_ui(&self, ui: &mut Ui, at_form: bool, contents: impl FnOnce(&mut Ui)) {
        if !self.narrow || !at_form {
            style::panel_ui(ui, self.results, self.theme, contents);
        }
    }
}

/// A part of the results that scrolls.
pub(super) fn scroll_ui<T>(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui) -> T) -> T {
    egui::ScrollArea::vertical()
        .id_salt(name)
        .auto_shrink(false)
        .show(ui, contents)
        .inner
}

/// A warning.
pub(super) fn caution_ui(ui: &mut Ui, words: &str, theme: &Theme) {
    let words = RichText::new(format!("! {words}")).color(style::colour(theme.caution));
    ui.add(egui::Label::new(words).wrap());
}

/// A sentence.
pub(super) fn say_ui(ui: &mut Ui, words: &str, theme: &Theme) {
    let words = RichText::new(words).color(style::colour(theme.ink));
    ui.add(egui::Label::new(words).wrap());
}

/// A quiet sentence under another.
pub(super) fn under_ui(ui: &mut Ui, words: &str) {
    ui.add(egui::Label::new(RichText::new(words).small()).wrap());
}

/// What can hurt somebody.
pub(super) fn on_a_real_bench_ui<'a>(
    ui: &mut Ui,
    cautions: impl IntoIterator<Item = &'a str>,
    theme: &Theme,
) {
    let mut cautions = cautions.into_iter().peekable();
    if cautions.peek().is_none() {
        return;
    }
    style::heading_ui(ui, "On a real bench", theme);
    for words in cautions {
        caution_ui(ui, words, theme);
    }
}

/// The formula of a figure in the place of the results, and the way back, which is called so. True
/// where a person takes that.
pub(super) fn formula_ui(ui: &mut Ui, figure: &Figure, back: &str, theme: &Theme) -> bool {
    let left = ui
        .horizontal(|ui| {
            let words = RichText::new(figure.name).font(style::type_size(2));
            ui.label(words.color(style::colour(theme.ink)));
            ui.button(back).on_hover_text("Esc").clicked()
        })
        .inner;
    scroll_ui(ui, "formula", |ui| figures::why_ui(ui, figure, theme));
    left
}

/// Figures with their ranges, one a row. The key of one that was asked about.
pub(super) fn estimates_ui(
    ui: &mut Ui,
    name: &str,
    estimates: &[Estimate],
    theme: &Theme,
) -> Option<&'static str> {
    let mut asked = None;
    let ink = style::colour(theme.ink);
    egui::Grid::new(name)
        .num_columns(2)
        .spacing(vec2(style::gap(4.0), style::gap(0.5)))
        .show(ui, |ui| {
            ui.spacing_mut().interact_size.y = style::gap(5.0);
            ui.spacing_mut().button_padding = vec2(style::gap(1.0), 0.0);
            for estimate in estimates {
                let figure = &estimate.figure;
                ui.label(figure.name);
                let words = match figure.value {
                    Value::Absent(why) => format!("open: {why}"),
                    _ => estimate.words(),
                };
                let button = egui::Button::new(RichText::new(&words).color(ink)).truncate();
                let button = ui.add(button);
                let name = format!("{}: {words}", figure.name);
                button.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &name));
                if button.on_hover_text("Click for the formula").clicked() {
                    asked = Some(figure.key);
                }
                ui.end_row();
            }
        });
    ui.add_space(style::gap(1.0));
    asked
}
