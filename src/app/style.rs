//! The theme as egui wants it: one family of type, four sizes, gaps of whole fours.

use egui::{
    Color32, CornerRadius, FontFamily, FontId, Rect, RichText, Stroke, TextStyle, Ui, Visuals, pos2,
};

use crate::scene::{Colour, GAP_POINTS, LINE_THIN, TYPE_POINTS, Theme};

/// A colour of the theme.
pub(super) fn colour(colour: Colour) -> Color32 {
    Color32::from_rgba_unmultiplied(colour.r, colour.g, colour.b, colour.a)
}

/// A size of type of the theme, 0 to 3.
pub(super) fn type_size(idx: usize) -> FontId {
    #[expect(clippy::cast_possible_truncation, reason = "points")]
    FontId::new(TYPE_POINTS[idx] as f32, FontFamily::Proportional)
}

/// The same size in letters of one width: formulas and texts of files.
pub(super) fn mono(idx: usize) -> FontId {
    FontId::new(type_size(idx).size - 1.0, FontFamily::Monospace)
}

/// A whole number of the theme's gaps.
pub(super) fn gap(count: f32) -> f32 {
    #[expect(clippy::cast_possible_truncation, reason = "points")]
    let gap = GAP_POINTS as f32;
    gap * count
}

/// The strip of that height at the top of a place, and what is left below a gap.
pub(super) fn cut_top(rect: Rect, height: f32, gap: f32) -> (Rect, Rect) {
    let at = (rect.top() + height.max(0.0)).min(rect.bottom());
    let below = (at + gap).min(rect.bottom());
    (
        Rect::from_min_max(rect.min, pos2(rect.right(), at)),
        Rect::from_min_max(pos2(rect.left(), below), rect.max),
    )
}

/// What is left above a gap, and the strip of that height at the bottom.
pub(super) fn cut_bottom(rect: Rect, height: f32, gap: f32) -> (Rect, Rect) {
    cut_top(rect, (rect.height() - height - gap).max(0.0), gap)
}

/// A panel with its margins, and close lines in it.
pub(super) fn panel_ui(ui: &mut Ui, rect: Rect, theme: &Theme, contents: impl FnOnce(&mut Ui)) {
    ui.painter()
        .rect_filled(rect, gap(1.0), colour(theme.panel));
    let builder = egui::UiBuilder::new().max_rect(rect.shrink(gap(4.0)));
    ui.scope_builder(builder, |ui| {
        ui.spacing_mut().item_spacing.y = gap(1.0);
        contents(ui);
    });
}

/// Width of a form, in points.
const FORM: f32 = 372.0;
/// Narrower than this, in points, a form and what comes of it take turns.
const TURNS: f32 = 760.0;

/// A form on the left, what comes of it on the right, and whether the place is too narrow for both:
/// then each has all of it, in turns.
pub(super) fn form_and_results(place: Rect) -> (Rect, Rect, bool) {
    if place.width() < TURNS {
        return (place, place, true);
    }
    let split = place.left() + FORM;
    let form = Rect::from_min_max(place.min, pos2(split, place.bottom()));
    let results = Rect::from_min_max(pos2(split + gap(2.0), place.top()), place.max);
    (form, results, false)
}

/// A heading within a panel.
pub(super) fn heading_ui(ui: &mut Ui, words: &str, theme: &Theme) {
    ui.add_space(gap(1.0));
    ui.label(RichText::new(words).strong().color(colour(theme.ink)));
}

/// A quiet line of that colour.
#[expect(clippy::cast_possible_truncation, reason = "points")]
fn thin(colour: Color32) -> Stroke {
    Stroke::new(LINE_THIN as f32, colour)
}

/// Lets the letters of one width stand in for signs that the family of type lacks, arrows say.
pub(super) fn fonts(ctx: &egui::Context) {
    let mut fonts = egui::FontDefinitions::default();
    let reserve: Vec<String> = fonts
        .families
        .get(&FontFamily::Monospace)
        .cloned()
        .unwrap_or_default();
    if let Some(family) = fonts.families.get_mut(&FontFamily::Proportional) {
        family.extend(reserve);
    }
    ctx.set_fonts(fonts);
}

/// Draws what is ticked or picked with an edge round its box: without a letter on it nothing else tells it
/// from its ground.
pub(super) fn boxed_ui<T>(ui: &mut Ui, add: impl FnOnce(&mut Ui) -> T) -> T {
    ui.scope(|ui| {
        let edge = ui.visuals().widgets.noninteractive.fg_stroke;
        ui.visuals_mut().widgets.inactive.bg_stroke = edge;
        add(ui)
    })
    .inner
}

/// A word to tick.
pub(super) fn tick_ui(ui: &mut Ui, on: &mut bool, words: impl Into<RichText>) -> egui::Response {
    boxed_ui(ui, |ui| ui.checkbox(on, words.into()))
}

/// Gives egui the look of the theme.
pub(super) fn apply(ctx: &egui::Context, theme: &Theme) {
    let mut visuals = if theme.dark {
        Visuals::dark()
    } else {
        Visuals::light()
    };
    let line = thin(colour(theme.line));
    visuals.panel_fill = colour(theme.ground);
    visuals.window_fill = colour(theme.panel);
    visuals.extreme_bg_color = colour(theme.panel);
    visuals.faint_bg_color = colour(theme.panel);
    visuals.window_stroke = line;
    visuals.selection.bg_fill = colour(theme.line);
    visuals.selection.stroke = thin(colour(theme.ink));
    visuals.error_fg_color = colour(theme.caution);
    visuals.warn_fg_color = colour(theme.caution);
    let corner = CornerRadius::same(4);
    let widgets = &mut visuals.widgets;
    for (widget, fill, edge, ink) in [
        (
            &mut widgets.noninteractive,
            theme.panel,
            theme.line,
            theme.ink_soft,
        ),
        (&mut widgets.inactive, theme.plate, theme.plate, theme.ink),
        (&mut widgets.hovered, theme.line, theme.ink_soft, theme.ink),
        (&mut widgets.active, theme.line, theme.ink, theme.ink),
        (&mut widgets.open, theme.plate, theme.line, theme.ink),
    ] {
        widget.bg_fill = colour(fill);
        widget.weak_bg_fill = colour(fill);
        widget.bg_stroke = thin(colour(edge));
        widget.fg_stroke = thin(colour(ink));
        widget.corner_radius = corner;
        widget.expansion = 0.0;
    }
    ctx.set_theme(if theme.dark {
        egui::Theme::Dark
    } else {
        egui::Theme::Light
    });
    ctx.set_visuals(visuals);
    ctx.all_styles_mut(|style| {
        style.animation_time = 0.0;
        style.spacing.item_spacing = egui::vec2(gap(2.0), gap(2.0));
        style.spacing.interact_size.y = gap(6.5);
        style.spacing.button_padding = egui::vec2(gap(3.0), gap(1.5));
        style.text_styles = [
            (TextStyle::Small, type_size(0)),
            (TextStyle::Body, type_size(1)),
            (TextStyle::Button, type_size(1)),
            (TextStyle::Monospace, type_size(1)),
            (TextStyle::Heading, type_size(2)),
        ]
        .into();
    });
}
