//! Draws the pieces of a page one under the other.

use egui::{Color32, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::blocks::{Block, Span, plain};
use super::pictures::Pictures;
use super::words::{Heard, Setting};
use crate::app::style;
use crate::lesson::Made;

/// Heading over running text.
const HEADING: [f32; 2] = [1.55, 1.3];
/// Width of a list's mark, in letters of the text's size.
const MARK: f32 = 1.5;

/// A page in the making.
pub(crate) struct Page<'a> {
    /// How words are set.
    pub(crate) setting: Setting<'a>,
    /// Pictures that were drawn.
    pub(crate) pictures: &'a mut Pictures,
    /// Runs that were made.
    pub(crate) made: &'a Made,
    /// What the reader did.
    pub(crate) heard: Vec<Heard>,
}

impl Page<'_> {
    /// Draws pieces.
    pub(crate) fn blocks_ui(&mut self, ui: &mut Ui, blocks: &[Block]) {
        let size = self.setting.size;
        for (idx, block) in blocks.iter().enumerate() {
            let after_point = idx > 0 && matches!(blocks[idx - 1], Block::Point { .. });
            let gap = match block {
                _ if idx == 0 => 0.0,
                Block::Heading(..) => 1.0,
                Block::Point { .. } if after_point => 0.1,
                _ => 0.45,
            };
            ui.add_space(gap * size);
            self.block_ui(ui, block);
        }
    }

    fn block_ui(&mut self, ui: &mut Ui, block: &Block) {
        let size = self.setting.size;
        let ink = Some(style::colour(self.setting.theme.ink));
        match block {
            Block::Heading(level, spans) => {
                let larger = HEADING[usize::from(*level > 1)];
                let heard = &mut self.heard;
                self.setting.set_ui(
                    ui,
                    spans,
                    (size * larger).round(),
                    ink,
                    Role::Heading,
                    heard,
                );
            }
            Block::Paragraph(spans) if is_formula(spans) => self.formula_ui(ui, spans),
            Block::Paragraph(spans) => {
                self.setting.words_ui(ui, spans, &mut self.heard);
            }
            Block::Point { mark, depth, spans } => self.point_ui(ui, mark, *depth, spans),
            Block::Caution(paragraphs) => self.caution_ui(ui, paragraphs),
            Block::Code(words) => self.code_ui(ui, words),
            Block::Table(rows) => super::table::table_ui(ui, rows, &self.setting, &mut self.heard),
            Block::Picture(wish, words) => {
                self.pictures
                    .picture_ui(ui, wish, words, self.made, &self.setting, None);
            }
            Block::Rule => {
                let width = ui.available_width();
                let (rect, _) = ui.allocate_exact_size(vec2(width, 1.0), Sense::hover());
                let line = Stroke::new(1.0, style::colour(self.setting.theme.line));
                ui.painter().hline(rect.x_range(), rect.center().y, line);
            }
        }
    }

    /// A line that is all weight is a formula: on a plate of its own.
    fn formula_ui(&mut self, ui: &mut Ui, spans: &[Span]) {
        let plate = egui::Frame::new()
            .fill(style::colour(self.setting.theme.plate))
            .corner_radius(style::gap(1.0))
            .inner_margin(vec2(style::gap(3.0), style::gap(1.5)));
        plate.show(ui, |ui| {
            let size = (self.setting.size * 1.1).round();
            self.setting
                .set_ui(ui, spans, size, None, Role::Label, &mut self.heard);
        });
    }

    fn point_ui(&mut self, ui: &mut Ui, mark: &str, depth: usize, spans: &[Span]) {
        let size = self.setting.size;
        #[expect(clippy::cast_precision_loss, reason = "a few")]
        let left = size * (0.4 + MARK * depth as f32);
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            ui.add_space(left);
            let mark = [Span {
                words: mark.to_owned(),
                ..Span::default()
            }];
            let galley = self.setting.galley(ui, &mark, size, size * 4.0, None);
            let wide = (MARK * size).max(galley.rect.width() + 0.3 * size);
            let (rect, _) =
                ui.allocate_exact_size(vec2(wide, galley.rect.height()), Sense::hover());
            ui.painter().galley(rect.min, galley, Color32::WHITE);
            ui.vertical(|ui| self.setting.words_ui(ui, spans, &mut self.heard));
        });
    }

    /// Where hands meet machines: the one colour that nothing else has, a bar, a sign, words.
    fn caution_ui(&mut self, ui: &mut Ui, paragraphs: &[Vec<Span>]) {
        let colour = style::colour(self.setting.theme.caution);
        let left = ui.cursor().left();
        let inner = ui.horizontal_top(|ui| {
            ui.add_space(style::gap(4.0));
            ui.vertical(|ui| {
                for spans in paragraphs {
                    // the sign stands before the word itself
                    let mut spans = spans.clone();
                    if let Some(first) = spans.first_mut().filter(|first| first.strong) {
                        first.words = format!("! {}", first.words);
                    }
                    let heard = &mut self.heard;
                    self.setting.set_ui(
                        ui,
                        &spans,
                        self.setting.size,
                        Some(colour),
                        Role::Label,
                        heard,
                    );
                }
            });
        });
        let rect = inner.response.rect;
        let bar = Rect::from_min_max(pos2(left, rect.top()), pos2(left + 3.0, rect.bottom()));
        ui.painter().rect_filled(bar, 1.5, colour);
    }

    fn code_ui(&self, ui: &mut Ui, words: &str) {
        let plate = egui::Frame::new()
            .fill(style::colour(self.setting.theme.plate))
            .corner_radius(style::gap(1.0))
            .inner_margin(style::gap(2.0));
        plate.show(ui, |ui| {
            let id = ui.next_auto_id();
            egui::ScrollArea::horizontal().id_salt(id).show(ui, |ui| {
                let font = egui::FontId::monospace(self.setting.size - 1.0);
                let colour = style::colour(self.setting.theme.ink);
                let galley = ui.painter().layout_no_wrap(words.to_owned(), font, colour);
                let (rect, response) = ui.allocate_exact_size(galley.rect.size(), Sense::hover());
                response.widget_info(|| WidgetInfo::labeled(Role::Code, true, words));
                ui.painter().galley(rect.min, galley, colour);
            });
        });
    }
}

/// A paragraph that is weighty from end to end and short.
fn is_formula(spans: &[Span]) -> bool {
    let words = plain(spans);
    words.chars().count() < 60
        && spans
            .iter()
            .all(|span| span.strong || span.words.trim_matches([' ', ',', '.']).is_empty())
}
