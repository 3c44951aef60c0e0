//! What a lesson points at, marked where it stands.
//!
//! Parts of machine and bridge are marked in their pictures. Panels, rows, figures and controls
//! say each frame where they are, and a line is drawn round the one that is meant.

use std::collections::BTreeMap;

use egui::{Context, Id, Rect, Stroke, Ui};

use super::App;
use crate::app::parts::Pointed;
use crate::app::style;
use crate::lesson::Sight;
use crate::scene::LINE_BOLD;
use crate::scene::machine::Part;
use crate::scene::plots::Row;

/// Where everything stands in this frame.
#[derive(Clone, Debug, Default)]
struct Spots(BTreeMap<Sight, Rect>);

fn spots_id() -> Id {
    Id::unique("sights of the bench")
}

/// Says where a thing stands in this frame; of what stands in two places, both are meant.
pub(in crate::app) fn spot(ctx: &Context, sight: Sight, rect: Rect) {
    ctx.data_mut(|data| {
        let spots: &mut Spots = data.get_temp_mut_or_default(spots_id());
        let place = spots.0.entry(sight).or_insert(rect);
        *place = place.union(rect);
    });
}

/// Where the controls of the bench are asked for while they are not open.
pub(super) fn bench_button() -> Sight {
    Sight::Set(String::new())
}

impl App {
    /// Forgets where everything stood.
    pub(super) fn clear_spots(ctx: &Context) {
        ctx.data_mut(|data| data.insert_temp(spots_id(), Spots::default()));
    }

    /// Draws a line round what is pointed at, where it is no part of a picture.
    pub(super) fn sight_ui(&self, ui: &Ui) {
        let Some(sight) = self.course.sight() else {
            return;
        };
        let place = ui.data(|data| {
            let spots: Spots = data.get_temp(spots_id()).unwrap_or_default();
            let hidden = matches!(sight, Sight::Set(_)).then(bench_button);
            let found = spots.0.get(sight).or_else(|| spots.0.get(&hidden?));
            found.copied()
        });
        let Some(place) = place else { return };
        #[expect(clippy::cast_possible_truncation, reason = "points")]
        let width = LINE_BOLD as f32;
        let stroke = Stroke::new(width, style::colour(self.theme.ink));
        let place = place.expand(2.0).intersect(ui.max_rect().shrink(1.0));
        ui.painter()
            .rect_stroke(place, style::gap(1.0), stroke, egui::StrokeKind::Outside);
    }

    /// The row of waveforms that is pointed at.
    pub(super) fn marked_row(&self) -> Option<Row> {
        self.course.sight().and_then(Sight::row)
    }

    /// The curve of it that is pointed at, by its place in the row.
    pub(super) fn lit_curve(&self) -> Option<usize> {
        match self.course.sight() {
            Some(Sight::Trace(_, curve)) => Some(*curve),
            _ => None,
        }
    }

    /// The parts of machine and bridge that are to be marked: those that a lesson points at, or
    /// the one under the pointer.
    pub(super) fn marked(&self) -> Vec<Pointed> {
        let hovered = self.pointed().into_iter();
        let Some(sight) = self.course.sight() else {
            return hovered.collect();
        };
        let sides = || {
            let slots = self.shown.sides.iter().enumerate();
            slots.flat_map(|(slot, layers)| {
                let there = layers.iter().enumerate();
                there.filter_map(move |(layer, side)| Some((slot, layer, (*side)?)))
            })
        };
        let side = |(slot, layer, _)| Pointed::Part(Part::CoilSide { slot, layer });
        let of_lesson: Vec<Pointed> = match sight {
            Sight::Coil(phase) => sides()
                .filter(|(_, _, side)| side.phase.idx() == *phase)
                .map(side)
                .collect(),
            Sight::Slot(slot) => sides().filter(|(at, ..)| at == slot).map(side).collect(),
            Sight::Magnet(pole) => vec![Pointed::Part(Part::Magnet { pole: *pole })],
            Sight::Magnets => (0..self.shown.poles)
                .map(|pole| Pointed::Part(Part::Magnet { pole }))
                .collect(),
            Sight::Leg(leg) => vec![Pointed::Leg(*leg)],
            _ => Vec::new(),
        };
        of_lesson.into_iter().chain(hovered).collect()
    }
}
