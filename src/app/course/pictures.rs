//! Pictures of a lesson's runs beside its text, each drawn once for its size and face.

use egui::{Sense, Ui, vec2};

use super::words::Setting;
use crate::app::picture::{Zoom, picture_ui};
use crate::app::style;
use crate::lesson::text::{PictureKind, PictureWish};
use crate::lesson::{Drawn, Made, height_share, picture_scene};

/// Most pictures of a lesson that have a place of their own on the device.
const NAMES: [&str; 16] = [
    "figure 1",
    "figure 2",
    "figure 3",
    "figure 4",
    "figure 5",
    "figure 6",
    "figure 7",
    "figure 8",
    "figure 9",
    "figure 10",
    "figure 11",
    "figure 12",
    "figure 13",
    "figure 14",
    "figure 15",
    "figure 16",
];

/// Below this height, in points, a picture of waveforms has no room for all of its rows.
const fn least_height(what: PictureKind) -> f32 {
    match what {
        PictureKind::Strips => 292.0,
        PictureKind::Story => 168.0,
        PictureKind::Machine | PictureKind::Bridge => 0.0,
    }
}

/// A picture that was drawn.
#[derive(Debug)]
struct Kept {
    wish: PictureWish,
    size: [f32; 2],
    dark: bool,
    drawn: Drawn,
}

/// The pictures of the open lesson, in the order in which they were first seen.
#[derive(Debug, Default)]
pub(crate) struct Pictures {
    wishes: Vec<PictureWish>,
    kept: Vec<Kept>,
}

impl Pictures {
    /// Draws a picture with its caption, as wide as there is place or as high as `most` lets it.
    pub(crate) fn picture_ui(
        &mut self,
        ui: &mut Ui,
        wish: &PictureWish,
        words: &str,
        made: &Made,
        setting: &Setting<'_>,
        most: Option<f32>,
    ) {
        let theme = setting.theme;
        #[expect(clippy::cast_possible_truncation, reason = "points")]
        let share = height_share(wish.what) as f32;
        // a machine as wide as a page would be most of it
        let widest = match wish.what {
            PictureKind::Machine if most.is_none() => 0.78,
            _ => 1.0,
        };
        let mut width = ui.available_width() * widest;
        if let Some(most) = most {
            width = width.min(most / share);
        }
        let high = (width * share).max(least_height(wish.what));
        let size = [width, most.map_or(high, |most| high.min(most)).round()];
        let idx = self.idx(wish);
        let aside = ((ui.available_width() - width) * 0.5).max(0.0);
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            ui.add_space(aside);
            let (rect, _) = ui.allocate_exact_size(vec2(size[0], size[1]), Sense::hover());
            let ground = style::colour(theme.ground);
            ui.painter().rect_filled(rect, style::gap(1.0), ground);
            if !ui.is_rect_visible(rect) {
                return;
            }
            let inside = rect.shrink(style::gap(1.0));
            match (made.run(&wish.run, true), NAMES.get(idx)) {
                (Some(ran), Some(name)) => {
                    let at = self.drawn(wish, ran, [inside.width(), inside.height()], setting);
                    picture_ui(
                        ui,
                        name,
                        inside,
                        &self.kept[at].drawn.scene,
                        Zoom::default(),
                        words,
                    );
                }
                _ => {
                    let words = format!("The run “{}” is being made", wish.run);
                    ui.put(inside, egui::Label::new(words));
                }
            }
        });
        let span = self.kept.iter().find(|kept| kept.wish == *wish);
        let span = span.map_or("", |kept| kept.drawn.span.as_str());
        let caption = if span.is_empty() {
            words.to_owned()
        } else {
            format!("{words} ({span})")
        };
        let caption = egui::RichText::new(caption).size((setting.size * 0.86).max(11.0));
        ui.add(egui::Label::new(caption.color(style::colour(theme.ink_soft))).wrap());
    }

    fn idx(&mut self, wish: &PictureWish) -> usize {
        self.wishes
            .iter()
            .position(|known| known == wish)
            .unwrap_or_else(|| {
                self.wishes.push(wish.clone());
                self.wishes.len() - 1
            })
    }

    fn drawn(
        &mut self,
        wish: &PictureWish,
        ran: &crate::lesson::Ran,
        size: [f32; 2],
        setting: &Setting<'_>,
    ) -> usize {
        let theme = setting.theme;
        let same = |kept: &Kept| kept.wish == *wish && kept.size == size && kept.dark == theme.dark;
        if let Some(at) = self.kept.iter().position(same) {
            return at;
        }
        self.kept.retain(|kept| kept.wish != *wish);
        let drawn = picture_scene(wish, ran, size.map(f64::from), theme);
        self.kept.push(Kept {
            wish: wish.clone(),
            size,
            dark: theme.dark,
            drawn,
        });
        self.kept.len() - 1
    }
}
