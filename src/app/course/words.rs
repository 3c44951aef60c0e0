//! Words of a page: one galley to a paragraph, its links to be pointed at, clicked and reached
//! with the keyboard.

use std::sync::Arc;

use egui::text::{LayoutJob, TextFormat};
use egui::{
    Align, Color32, FontFamily, FontId, Galley, Rect, Response, Role, Sense, Stroke, Ui,
    WidgetInfo, vec2,
};

use super::blocks::{Span, plain};
use crate::app::style;
use crate::lesson::text::Target;
use crate::lesson::{Sight, course};
use crate::scene::Theme;

/// Height of a line of running text as a part of its letters' size.
const LINE: f32 = 1.42;
/// Width of the plate that explains a term, in letters of its size.
const TERM_WIDTH: f32 = 26.0;

/// What a reader did with a page.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Heard {
    /// A link to another lesson was followed.
    Lesson(String),
    /// A pointer was clicked: to be held, or let go.
    Hold(Sight),
    /// A pointer has the mouse or the keyboard.
    Point(Sight),
}

/// How words are set.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Setting<'a> {
    /// Colours.
    pub(crate) theme: &'a Theme,
    /// Size of running text, in points.
    pub(crate) size: f32,
    /// The pointer that is held.
    pub(crate) held: Option<&'a Sight>,
    /// False where links are only words: a slide that is gone through by one key.
    pub(crate) links: bool,
}

impl Setting<'_> {
    /// Colour of running text: a little less than ink, so that weighty words stand out.
    fn body(&self) -> Color32 {
        let theme = self.theme;
        style::colour(theme.ink.towards(theme.ink_soft, 0.28))
    }

    fn format(&self, span: &Span, size: f32, colour: Color32) -> TextFormat {
        let theme = self.theme;
        let ink = style::colour(theme.ink);
        let family = if span.code {
            FontFamily::Monospace
        } else {
            FontFamily::Proportional
        };
        let size_here = if span.code { size - 1.0 } else { size };
        let mut format = TextFormat {
            font_id: FontId::new(size_here, family),
            color: if span.strong || span.code {
                ink
            } else {
                colour
            },
            italics: span.slanted,
            line_height: Some((size * LINE).round()),
            valign: Align::BOTTOM,
            ..TextFormat::default()
        };
        if self.links && span.link.is_some() {
            format.color = ink;
        }
        format
    }

    /// Lays words out.
    pub(crate) fn galley(
        &self,
        ui: &Ui,
        spans: &[Span],
        size: f32,
        width: f32,
        colour: Option<Color32>,
    ) -> Arc<Galley> {
        let colour = colour.unwrap_or_else(|| self.body());
        let mut job = LayoutJob::default();
        job.wrap.max_width = width.max(8.0);
        for span in spans {
            job.append(&span.words, 0.0, self.format(span, size, colour));
        }
        ui.painter().layout_job(job)
    }

    /// Draws words as wide as there is place.
    pub(crate) fn words_ui(&self, ui: &mut Ui, spans: &[Span], heard: &mut Vec<Heard>) -> Response {
        self.set_ui(ui, spans, self.size, None, Role::Label, heard)
    }

    /// The same in another size, colour and role.
    pub(crate) fn set_ui(
        &self,
        ui: &mut Ui,
        spans: &[Span],
        size: f32,
        colour: Option<Color32>,
        role: Role,
        heard: &mut Vec<Heard>,
    ) -> Response {
        let galley = self.galley(ui, spans, size, ui.available_width(), colour);
        let (rect, response) = ui.allocate_exact_size(
            vec2(galley.rect.width(), galley.rect.height()),
            Sense::hover(),
        );
        let words = plain(spans);
        response.widget_info(|| WidgetInfo::labeled(role, true, &words));
        if ui.is_rect_visible(rect) {
            if self.links {
                self.under_links(ui, spans, &galley, rect);
            }
            ui.painter()
                .galley(rect.min, Arc::clone(&galley), self.body());
        }
        if self.links {
            self.links_ui(ui, spans, &galley, rect, &response, heard);
        }
        response
    }

    /// What lies under the words of a link: a line for a term or a lesson, a plate for what is
    /// shown on the bench.
    fn under_links(&self, ui: &Ui, spans: &[Span], galley: &Galley, rect: Rect) {
        let theme = self.theme;
        let mut at = 0;
        for span in spans {
            let n = span.words.chars().count();
            let places = places(galley, at, at + n);
            at += n;
            let Some(target) = &span.link else { continue };
            for place in places {
                let place = place.translate(rect.min.to_vec2());
                if let Target::See(sight) = target {
                    let held = self.held == Some(sight);
                    let fill = if held { theme.line } else { theme.plate };
                    let plate = place.expand2(vec2(2.0, 0.0));
                    ui.painter().rect_filled(plate, 3.0, style::colour(fill));
                } else {
                    let line = Stroke::new(1.0, style::colour(theme.ink_soft));
                    ui.painter()
                        .hline(place.x_range(), place.bottom() - 0.5, line);
                }
            }
        }
    }

    fn links_ui(
        &self,
        ui: &mut Ui,
        spans: &[Span],
        galley: &Galley,
        rect: Rect,
        whole: &Response,
        heard: &mut Vec<Heard>,
    ) {
        let mut at = 0;
        for (idx, span) in spans.iter().enumerate() {
            let n = span.words.chars().count();
            let Some(target) = &span.link else {
                at += n;
                continue;
            };
            let places = places(galley, at, at + n);
            at += n;
            let Some(first) = places.first() else {
                continue;
            };
            // all lines of the link hear as one
            let first = first.translate(rect.min.to_vec2());
            let id = whole.id.with(("link", idx));
            let mut response = ui.interact(first, id, Sense::click());
            for (line, place) in places.iter().enumerate().skip(1) {
                let place = place.translate(rect.min.to_vec2());
                response |= ui.interact(place, id.with(line), Sense::CLICK);
            }
            let words = match target {
                Target::See(sight) => format!("{}: shows {}", span.words, sight.words()),
                Target::Term(_) | Target::Lesson(_) => span.words.clone(),
            };
            response.widget_info(|| WidgetInfo::labeled(Role::Link, true, &words));
            if response.gained_focus() {
                response.scroll_to_me(None);
            }
            if response.has_focus() || response.hovered() {
                ui.set_cursor_icon(egui::CursorIcon::PointingHand);
            }
            if response.has_focus() {
                let stroke = Stroke::new(1.0, style::colour(self.theme.ink));
                for place in &places {
                    let place = place.translate(rect.min.to_vec2()).expand(1.0);
                    ui.painter()
                        .rect_stroke(place, 2.0, stroke, egui::StrokeKind::Outside);
                }
            }
            self.link_heard(target, &response, heard);
        }
    }

    fn link_heard(&self, target: &Target, response: &Response, heard: &mut Vec<Heard>) {
        match target {
            Target::See(sight) => {
                if response.clicked() {
                    heard.push(Heard::Hold(sight.clone()));
                } else if response.hovered() || response.has_focus() {
                    heard.push(Heard::Point(sight.clone()));
                }
            }
            Target::Lesson(name) => {
                if response.clicked() {
                    heard.push(Heard::Lesson(name.clone()));
                }
            }
            Target::Term(name) => self.term_ui(name, response),
        }
    }

    /// What a term means: on hover, and on a click until the next.
    fn term_ui(&self, name: &str, response: &Response) {
        let Some(term) = course::glossary().term(name) else {
            return;
        };
        let contents = |ui: &mut Ui| {
            let width = (TERM_WIDTH * self.size).min(ui.ctx().content_rect().width() * 0.8);
            ui.set_max_width(width);
            let setting = Setting {
                links: false,
                held: None,
                ..*self
            };
            let heading = [Span {
                words: term.heading.clone(),
                strong: true,
                ..Span::default()
            }];
            setting.words_ui(ui, &heading, &mut Vec::new());
            for block in super::blocks::blocks(&term.text) {
                if let super::blocks::Block::Paragraph(spans) = block {
                    setting.words_ui(ui, &spans, &mut Vec::new());
                }
            }
        };
        let popup = egui::Popup::from_toggle_button_response(response)
            .accessible_name(term.heading.clone())
            .gap(style::gap(1.0));
        let open = popup.is_open();
        popup.show(contents);
        if !open {
            response.clone().on_hover_ui(contents);
        }
    }
}

/// Where the letters from one place to another stand, line by line, from the galley's corner: as
/// high as letters are, not as lines.
fn places(galley: &Galley, from: usize, to: usize) -> Vec<Rect> {
    let mut found = Vec::new();
    let mut begin = 0;
    for row in &galley.rows {
        let n = row.glyphs.len();
        let (first, last) = (from.max(begin), to.min(begin + n));
        if first < last {
            let left = row.glyphs[first - begin].pos.x;
            let end = &row.glyphs[last - begin - 1];
            let right = end.max_x();
            let (base, size) = (end.pos.y, end.font_height);
            found.push(Rect::from_min_max(
                row.pos + vec2(left, base - 0.8 * size),
                row.pos + vec2(right, base + 0.24 * size),
            ));
        }
        begin += n + usize::from(row.ends_with_newline);
    }
    found
}
