//! The drawer of the bench in its place, over the cautions that go with its values.

use egui::{Rect, RichText, Ui, pos2};

use super::App;
use super::sheets::Sheet;
use crate::analysis::caution::{Hazards, STANDING_RPM, Told, cautions};
use crate::app::style;
use crate::record::Sample;
use crate::setup::Gates;

/// The worst of what was shown since the bench was last changed.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Worst {
    line_back_emf_v: f64,
    current_a: f64,
    speed_rad_s: f64,
    bridge_v: f64,
}

impl Worst {
    /// Takes a sample into account.
    pub(super) fn see(&mut self, sample: &Sample) {
        let emf = sample.back_emf_v;
        for k in 0..3 {
            let line = (emf[k] - emf[(k + 1) % 3]).abs();
            self.line_back_emf_v = self.line_back_emf_v.max(line);
            self.current_a = self.current_a.max(sample.phase_current_a[k].abs());
        }
        self.speed_rad_s = self.speed_rad_s.max(sample.speed_rad_s.abs());
        self.bridge_v = self.bridge_v.max(sample.supply_voltage_v);
    }
}

/// From so long before the end of the record on, in s, and in s of the show (by which the run may be
/// ahead), a person looks back.
const LOOKS_BACK_S: f64 = 1e-3;
const LOOKS_BACK_SHOW_S: f64 = 0.1;
/// Most of the drawer that cautions take, and of one that is lower than so many points, where its
/// values would have no room left: there they scroll.
const CAUTION_SHARE: f32 = 0.4;
const CAUTION_SHARE_LOW: f32 = 0.22;
const LOW: f32 = 420.0;

impl App {
    /// Draws the drawer with the cautions under it.
    pub(super) fn drawer_ui(&mut self, ui: &mut Ui, rect: Rect) {
        let theme = self.theme;
        let ground = style::colour(theme.panel);
        ui.painter().rect_filled(rect, style::gap(1.0), ground);
        let inside = rect.shrink(style::gap(3.0));
        let words = cautions(&self.hazards());
        let share = if inside.height() < LOW {
            CAUTION_SHARE_LOW
        } else {
            CAUTION_SHARE
        };
        let most = inside.height() * share;
        let foot_h = if words.is_empty() {
            0.0
        } else {
            self.cautions_h.min(most) + style::gap(2.0)
        };
        let split = inside.bottom() - foot_h;
        let title_h = style::gap(8.0);
        let title = Rect::from_min_size(inside.min, egui::vec2(inside.width(), title_h));
        let head = Rect::from_min_max(
            pos2(inside.left(), title.bottom()),
            pos2(inside.right(), split - style::gap(1.0)),
        );
        let foot = Rect::from_min_max(pos2(inside.left(), split), inside.max);
        self.bench_title_ui(ui, title);
        let near_s = LOOKS_BACK_S + LOOKS_BACK_SHOW_S * self.time.pace();
        let looks_back = self
            .live
            .record()
            .range_s()
            .is_some_and(|[_, end_s]| self.time.cursor_s < end_s - near_s);
        let head = if looks_back {
            let words = "You look back: a change takes effect at the end of what is recorded.";
            let (line, rest) = style::cut_top(head, style::gap(8.0), 0.0);
            ui.put(line, egui::Label::new(RichText::new(words).small()).wrap());
            rest
        } else {
            head
        };
        let (drawer, bench) = (&mut self.drawer, &mut self.bench);
        let changed = ui
            .scope_builder(egui::UiBuilder::new().max_rect(head), |ui| {
                let area = egui::ScrollArea::vertical()
                    .id_salt("bench")
                    .auto_shrink(false);
                area.show(ui, |ui| drawer.ui(ui, bench, &theme)).inner
            })
            .inner;
        if changed {
            self.take_up_bench();
        }
        if !words.is_empty() {
            self.cautions_ui(ui, foot, &words);
        }
    }

    fn bench_title_ui(&mut self, ui: &mut Ui, rect: Rect) {
        let layout = egui::Layout::left_to_right(egui::Align::Center);
        let builder = egui::UiBuilder::new().max_rect(rect).layout(layout);
        ui.scope_builder(builder, |ui| {
            let words = RichText::new("On the bench").font(style::type_size(2));
            ui.label(words.color(style::colour(self.theme.ink)));
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let reset = ui.add_enabled(self.is_changed(), egui::Button::new("Reset"));
                let reset = reset.on_hover_text(
                    "Put everything back as it stands in the file; Undo takes that back",
                );
                if reset.clicked() {
                    self.reset();
                }
            });
        });
    }

    /// The cautions stay under the drawer, whatever is scrolled.
    fn cautions_ui(&mut self, ui: &mut Ui, rect: Rect, words: &[String]) {
        let line = egui::Stroke::new(1.0, style::colour(self.theme.line));
        ui.painter()
            .hline(rect.x_range(), rect.top() - style::gap(0.5), line);
        let colour = style::colour(self.theme.caution);
        let inside = Rect::from_min_max(rect.min + egui::vec2(0.0, style::gap(1.0)), rect.max);
        let builder = egui::UiBuilder::new().max_rect(inside);
        let area = egui::ScrollArea::vertical()
            .id_salt("cautions")
            .auto_shrink([false, true]);
        let shown = ui.scope_builder(builder, |ui| {
            area.show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = style::gap(0.5);
                for caution in words {
                    let text = RichText::new(format!("! {caution}")).small();
                    ui.add(egui::Label::new(text.color(colour)).wrap());
                }
            })
            .content_size
        });
        self.cautions_h = shown.inner.y + style::gap(1.0);
    }

    /// What a real bench with these values could do, from the worst of the run so far.
    fn hazards(&self) -> Hazards {
        let figure = |key: &str| {
            let found = self.figures.iter().find(|figure| figure.key == key);
            found
                .and_then(crate::analysis::Figure::number)
                .unwrap_or(0.0)
        };
        let bench = &self.bench.setup().bench;
        let mean_rpm = figure("mean_speed_rpm");
        Hazards {
            told: Told::Run,
            // what flows back lifts the bridge above the source
            supply_voltage_v: bench.supply.voltage_v.max(self.worst.bridge_v),
            line_back_emf_v: self.worst.line_back_emf_v,
            current_peak_a: self.worst.current_a,
            returned_a: -figure("supply_current_mean_a"),
            returned_w: -figure("supply_power_w"),
            heat_w: figure("copper_loss_w") + figure("bridge_loss_w"),
            stands: bench.drive.gates == Gates::Stepping && mean_rpm.abs() < STANDING_RPM,
            speed_rpm: self.worst.speed_rad_s * 30.0 / std::f64::consts::PI,
        }
    }

    /// True while a dialog waits for an answer.
    pub(super) fn in_dialog(&self) -> bool {
        self.sheets.last().is_some_and(Sheet::is_dialog)
    }
}
