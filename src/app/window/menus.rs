//! The bar at the top: what is on the bench, and the menus.

use egui::{Align, Context, Layout, Rect, RichText, Ui};

use super::papers::Intent;
use super::sheets::Sheet;
use super::{App, ROOMY, sights};
use crate::app::keys::{Deed, KEYS};
use crate::app::{outside, shelf, style};
use crate::lesson::{Control, Sight};
use crate::scene::Theme;

/// Scales of the menu, as parts of the usual size.
const SCALES: [f32; 6] = [0.75, 1.0, 1.25, 1.5, 2.0, 2.5];

impl App {
    /// Draws the bar.
    pub(super) fn title_ui(&mut self, ui: &mut Ui, rect: Rect) {
        let builder = egui::UiBuilder::new()
            .max_rect(rect)
            .layout(Layout::right_to_left(Align::Center));
        ui.scope_builder(builder, |ui| {
            ui.spacing_mut().item_spacing.x = style::gap(1.0);
            self.buttons_ui(ui);
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                ui.set_clip_rect(ui.max_rect());
                self.name_ui(ui);
            });
        });
    }

    /// The name of the setup, its file, and the mark of changes.
    fn name_ui(&self, ui: &mut Ui) {
        let (ink, soft) = (
            style::colour(self.theme.ink),
            style::colour(self.theme.ink_soft),
        );
        ui.spacing_mut().item_spacing.x = style::gap(2.0);
        let changed = self.is_changed();
        let file = self.path().map(shelf::name_of);
        let words = match (&file, changed) {
            (Some(file), true) => format!("{file} · changed"),
            (Some(file), false) => file.clone(),
            (None, true) => "changed".to_owned(),
            (None, false) => String::new(),
        };
        let mark = if changed { "• " } else { "" };
        let name = format!("{mark}{}", self.setup_name());
        let name = RichText::new(name).font(style::type_size(2));
        ui.add(egui::Label::new(name.color(ink)).truncate());
        if !words.is_empty() {
            let label = egui::Label::new(RichText::new(words).color(soft)).truncate();
            let shown = ui.add(label);
            if let Some(path) = self.path() {
                shown.on_hover_text(path.display().to_string());
            }
        }
    }

    /// Whether what stands on the bench is shown.
    fn drawer_is_open(&self, ctx: &egui::Context) -> bool {
        let roomy = ctx.content_rect().width() >= ROOMY;
        self.drawer_open.unwrap_or(roomy)
    }

    /// From the right.
    fn buttons_ui(&mut self, ui: &mut Ui) {
        for (name, deed, hint, on) in [
            (
                "Bench",
                Deed::Bench,
                "Show or hide what stands on the bench · D",
                true,
            ),
            (
                "Redo",
                Deed::Redo,
                "Make the change again · Ctrl Y",
                self.bench.can_redo(),
            ),
            (
                "Undo",
                Deed::Undo,
                "Take the last change back · Ctrl Z",
                self.bench.can_undo(),
            ),
        ] {
            let lit = deed == Deed::Bench && self.drawer_is_open(ui.ctx());
            let button = ui.add_enabled(on, egui::Button::new(name).selected(lit));
            let button = button.on_hover_text(hint);
            if deed == Deed::Bench {
                sights::spot(ui.ctx(), sights::bench_button(), button.rect);
            }
            if button.clicked() {
                self.act(deed, ui.ctx());
            }
        }
        let lessons = egui::Button::new("Lessons").selected(self.course.open);
        if ui
            .add(lessons)
            .on_hover_text("The course, beside the bench · C")
            .clicked()
        {
            self.act(Deed::Lessons, ui.ctx());
        }
        let view = ui.menu_button("View", |ui| self.view_ui(ui));
        let hand = Sight::Control(Control::Hand);
        sights::spot(ui.ctx(), hand, view.response.rect);
        ui.menu_button("Setup", |ui| self.setup_ui(ui));
    }

    fn setup_ui(&mut self, ui: &mut Ui) {
        for (name, deed) in [
            ("Open…", Deed::Open),
            ("Save", Deed::Save),
            ("Save as…", Deed::SaveAs),
        ] {
            if item_ui(ui, name, Some(deed)) {
                self.act(deed, ui.ctx());
            }
        }
        if !outside::FILES {
            if item_ui(ui, "Download", None) {
                self.download();
            }
            if item_ui(ui, "Copy a link", None) {
                self.copy_link(ui.ctx());
            }
        }
        ui.separator();
        let back = egui::Button::new("Reset the bench");
        let back = ui.add_enabled(self.is_changed(), back);
        if back
            .on_hover_text("Put everything back as it stands in the file; Undo takes that back")
            .clicked()
        {
            self.reset();
        }
        if item_ui(ui, "Built-in setup", None) {
            self.want(Intent::BuiltIn, ui.ctx());
        }
        let recent = self.papers.memory.recent.clone();
        if recent.is_empty() {
            return;
        }
        ui.separator();
        ui.label(RichText::new("Recent").small());
        for path in recent {
            let button = ui.button(shelf::name_of(&path));
            if button.on_hover_text(path.display().to_string()).clicked() {
                self.want(Intent::Open(path), ui.ctx());
            }
        }
    }

    fn view_ui(&mut self, ui: &mut Ui) {
        let room = if self.theme.dark {
            "Light room"
        } else {
            "Dark room"
        };
        let hand = if self.hand.is_some() {
            "Back to the drive"
        } else {
            "Turn by hand"
        };
        for (name, deed) in [
            (room, Deed::Room),
            ("All figures", Deed::Figures),
            ("Parts", Deed::Parts),
            (hand, Deed::Hand),
            ("Winding by hand", Deed::Winding),
            ("Side by side", Deed::Beside),
            ("Before it is bought", Deed::Predict),
            ("Parts that would do", Deed::Choose),
            ("After it is measured", Deed::Readings),
            ("Read a capture", Deed::Capture),
            ("Full screen", Deed::FullScreen),
            ("Presenter", Deed::Presenter),
            ("Lessons", Deed::Lessons),
            ("Talk", Deed::Talk),
            ("Keys", Deed::Keys),
        ] {
            if item_ui(ui, name, Some(deed)) {
                self.act(deed, ui.ctx());
            }
        }
        ui.separator();
        ui.label(RichText::new("Size").small());
        let now = ui.ctx().zoom_factor();
        ui.horizontal(|ui| {
            for scale in SCALES {
                let here = (scale - now).abs() < 0.01;
                let words = format!("{:.0} %", scale * 100.0);
                if ui.selectable_label(here, words).clicked() {
                    ui.ctx().set_zoom_factor(scale);
                }
            }
        });
    }

    /// Obeys the keys that nothing else has asked for.
    pub(super) fn keys(&mut self, ui: &Ui) {
        let ctx = ui.ctx().clone();
        let focused = ctx.memory(|memory| memory.focused().is_some());
        let dialog = self.in_dialog();
        for line in KEYS {
            let Some(deed) = line.deed else { continue };
            // A control that has the keyboard keeps its letters; a field its own undo too.
            let free = match deed {
                // An open list or menu goes first.
                Deed::Leave => !egui::Popup::is_any_open(&ctx),
                Deed::Open | Deed::Save | Deed::SaveAs => !dialog,
                Deed::FullScreen => true,
                Deed::ReadOn | Deed::ReadBack => self.course.open && !dialog,
                _ => !focused && !dialog,
            };
            let shifted = line.key == egui::Key::Questionmark;
            let modifiers = if shifted && ctx.input(|input| input.modifiers.shift) {
                egui::Modifiers::SHIFT
            } else {
                line.modifiers
            };
            let pressed = free
                && ctx.input_mut(|input| match deed {
                    // A field hears it too, and gives up what was written.
                    Deed::Leave => input.key_pressed(line.key),
                    _ => input.consume_key(modifiers, line.key),
                });
            if pressed {
                self.act(deed, &ctx);
            }
        }
    }

    /// Does what a key, a button or a menu asks.
    pub(super) fn act(&mut self, deed: Deed, ctx: &Context) {
        // What stands in the room is asked for from the room.
        if matches!(
            deed,
            Deed::Lessons | Deed::Talk | Deed::Presenter | Deed::Hand | Deed::Bench | Deed::Parts
        ) {
            while self.leave_page() {}
        }
        match deed {
            Deed::Open => self.ask_open(),
            Deed::Save => self.save(ctx),
            Deed::SaveAs => self.ask_name(),
            Deed::Undo => {
                if self.bench.undo() {
                    self.drawer.forget();
                    self.take_up_bench();
                }
            }
            Deed::Redo => {
                if self.bench.redo() {
                    self.drawer.forget();
                    self.take_up_bench();
                }
            }
            Deed::Figures => self.turn_sheet(Sheet::Figures),
            Deed::Parts => self.turn_sheet(Sheet::Parts),
            Deed::Hand => self.turn_hand(),
            Deed::Winding => self.turn_winding(),
            Deed::Beside => self.turn_beside(),
            Deed::Predict => self.turn_prediction(),
            Deed::Readings => self.turn_readings(),
            Deed::Choose => self.turn_choosing(),
            Deed::Capture => self.turn_capturing(ctx),
            Deed::Presenter => self.turn_presenter(ctx),
            Deed::NextPicture => self.next_picture(),
            Deed::NextRow => self.next_row(),
            Deed::Lessons => self.turn_course(),
            Deed::Talk => self.turn_talk(ctx),
            Deed::ReadOn => self.scroll_lesson(ctx, true),
            Deed::ReadBack => self.scroll_lesson(ctx, false),
            Deed::Keys => self.turn_sheet(Sheet::Keys),
            Deed::Bench => {
                self.drawer_open = Some(!self.drawer_is_open(ctx));
            }
            Deed::Room => {
                self.set_room(ctx, !self.theme.dark);
                self.papers.memory.light = !self.theme.dark;
                self.papers.memory.keep();
            }
            Deed::FullScreen => outside::fill_screen(ctx, !outside::fills_screen(ctx)),
            Deed::Leave => {
                if self.in_dialog() {
                    self.forget_then();
                }
                if !self.take_sheet() && !self.leave_page() && self.presenter.is_some() {
                    self.turn_presenter(ctx);
                }
            }
        }
    }

    /// Gives the room its dark or its light face.
    pub(super) fn set_room(&mut self, ctx: &Context, dark: bool) {
        self.theme = if dark { Theme::DARK } else { Theme::LIGHT };
        style::apply(ctx, &self.theme);
    }

    /// Keeps the size of everything as a person has set it, or, where nobody has, as the window
    /// is wide: words that are read from a desk stay so on a wall.
    pub(super) fn scale(&mut self, ctx: &Context) {
        if self.presenter.is_some() {
            return;
        }
        let now = ctx.zoom_factor();
        let memory = &mut self.papers.memory;
        let before = memory.scale.unwrap_or(self.own_scale);
        if (before - now).abs() > 1e-3 {
            memory.scale = Some(now);
            memory.keep();
        } else if memory.scale.is_none() {
            self.own_scale = scale_for(ctx.content_rect().width() * now);
            if (self.own_scale - now).abs() > 1e-3 {
                ctx.set_zoom_factor(self.own_scale);
            }
        }
    }
}

/// The scale of a window of that width, in points of the usual size.
const fn scale_for(width: f32) -> f32 {
    if width >= 3200.0 {
        1.75
    } else if width >= 2400.0 {
        1.25
    } else {
        1.0
    }
}

/// A line of a menu with its key. True where it was chosen.
fn item_ui(ui: &mut Ui, name: &str, deed: Option<Deed>) -> bool {
    let key = KEYS.iter().find(|line| deed.is_some() && line.deed == deed);
    let button = match key {
        Some(line) => egui::Button::new(name).shortcut_text(line.shown),
        None => egui::Button::new(name),
    };
    let response = ui.add(button);
    let label = name.to_owned();
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &label));
    if response.clicked() {
        ui.close();
    }
    response.clicked()
}

/// What the pointer does, beside the keys.
const POINTER: [(&str, &str); 4] = [
    (
        "wheel",
        "on the machine: enlarge what lies under the pointer",
    ),
    (
        "drag",
        "an enlarged machine: move it; the time rail: go anywhere in time",
    ),
    ("double click", "on the machine: all of it again"),
    ("drop", "a setup file into the window: open it"),
];

/// The list of keys, in as many columns as fit.
pub(super) fn keys_ui(ui: &mut Ui, theme: &Theme) {
    let lines: Vec<(&str, &str)> = KEYS.iter().map(|line| (line.shown, line.does)).collect();
    lines_ui(ui, &lines, theme);
    ui.add_space(style::gap(2.0));
    let heading = RichText::new("With the pointer").strong();
    ui.label(heading.color(style::colour(theme.ink)));
    lines_ui(ui, &POINTER, theme);
}

/// Width of a key with what it does, in points.
const KEY_COLUMN: f32 = 270.0;

fn lines_ui(ui: &mut Ui, all: &[(&str, &str)], theme: &Theme) {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a few"
    )]
    let columns = ((ui.available_width() / KEY_COLUMN).floor() as usize).clamp(1, 3);
    let rows = all.len().div_ceil(columns);
    ui.columns(columns, |columns| {
        for (ui, lines) in columns.iter_mut().zip(all.chunks(rows)) {
            ui.spacing_mut().item_spacing.y = style::gap(0.5);
            ui.spacing_mut().interact_size.y = style::gap(5.0);
            for (shown, does) in lines {
                ui.horizontal(|ui| {
                    let size = egui::vec2(96.0, style::gap(5.0));
                    ui.allocate_ui_with_layout(size, Layout::left_to_right(Align::Center), |ui| {
                        ui.set_min_width(size.x);
                        let key = RichText::new(*shown).color(style::colour(theme.ink));
                        let plate = egui::Frame::new()
                            .fill(style::colour(theme.plate))
                            .corner_radius(style::gap(1.0))
                            .inner_margin(egui::vec2(style::gap(1.5), style::gap(0.5)));
                        plate.show(ui, |ui| ui.label(key));
                    });
                    ui.add(egui::Label::new(*does).wrap());
                });
            }
        }
    });
}
